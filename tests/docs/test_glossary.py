"""The glossary gives the units that the code keeps and shows, and every key of an answer."""

import re

import pytest

from converter_match import read, solve
from converter_match.units import DIMENSIONS, display_unit, label, si_unit
from tests.docs.formats import ROOT, _anchor

PAGE = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
_BY_ANCHOR = {_anchor(dimension): dimension for dimension in DIMENSIONS}
_ROWS = re.findall(
    r"^\| ([^|]+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$", PAGE, re.MULTILINE
)
WITH_UNIT = [row for row in _ROWS if row[3].startswith("[")]


@pytest.mark.parametrize("row", WITH_UNIT, ids=lambda row: row[0])
def test_units_of_a_word_are_those_of_the_code(row):
    kept, anchor = re.fullmatch(r"\[(.+)\]\(formats/units\.md#([a-z-]+)\)", row[3]).groups()
    dimension = _BY_ANCHOR[anchor]
    assert kept == label(si_unit(dimension))
    shown = dict.fromkeys(label(display_unit(dimension, system)) for system in ("si", "us"))
    assert row[4] == " or ".join(shown)


def test_no_word_is_explained_twice():
    words = [word.strip() for row in _ROWS if row[0] != "word" for word in row[0].split(",")]
    assert len(words) == len(set(words))


@pytest.mark.parametrize(
    "word",
    ["speed ratio", "torque ratio", "efficiency", "capacity", "K-factor", "stall", "coupling point",
     "lug", "low idle, high idle", "governor droop line", "torque divider", "lock-up clutch",
     "grade", "tractive effort, rimpull", "rolling resistance", "charge pressure"],
)  # fmt: skip
def test_word_of_the_trade_is_there(word):
    assert f"\n| {word} |" in PAGE


def keys_of(data):
    if isinstance(data, dict):
        yield from data
        for value in data.values():
            yield from keys_of(value)
    elif isinstance(data, list):
        for value in data:
            yield from keys_of(value)


def test_every_key_of_an_answer_is_explained():
    engine, converter = read("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    known_by_name = {"id", "name", "source", "kind"}
    keys = set(keys_of(solve(engine, converter).to_dict())) - known_by_name
    by_word = {"rating_basis", "rating_standard", "stator"}  # keys of the files: docs/formats
    missing = [key for key in keys - by_word if f"`{key}`" not in PAGE]
    assert missing == []
