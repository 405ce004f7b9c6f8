"""Notes at the foot of a figure: words, not codes."""

import re
from pathlib import Path

import pytest

import converter_match
from converter_match.judgement.match.solve import solve
from converter_match.notes import Note
from converter_match.present.figures.overlay import overlay
from converter_match.present.words.note_words import WORDS, short_words
from tests.examples import converter, engine

PACKAGE = Path(converter_match.__file__).parent


@pytest.mark.slow
def test_every_code_in_the_table_is_one_that_a_note_has():
    source = "".join(
        path.read_text(encoding="utf-8")
        for path in PACKAGE.rglob("*.py")
        if path.name != "note_words.py"
    )
    assert [code for code in WORDS if f'"{code}"' not in source] == []


def test_words_are_few_and_no_codes():
    for words in WORDS.values():
        assert len(words) <= 52, words
        assert not re.search(r"[a-z]-[a-z]+-[a-z]", words), words
        assert not words.endswith("."), words


def test_each_is_said_once_and_a_code_without_a_row_of_its_own_loses_its_hyphens():
    notes = [Note(code, "x") for code in ("air-dry", "slip-not-given", "air-dry")]
    assert short_words(notes) == "air taken as dry; slip not given"
    assert short_words([Note("limit-turbine-speed", "x")]) == "turbine speed above its limit"
    assert short_words([]) == ""


@pytest.mark.parametrize("hydraulic_torque", [0.0, 80.0])
@pytest.mark.slow
def test_foot_of_the_figure_has_words_and_the_data_have_codes(hydraulic_torque):
    result = solve(engine(), converter(), hydraulic_torque=hydraulic_torque)
    figure = overlay(result).get_figure(root=True)
    foot = " ".join(
        " ".join(text.get_text().split()) for text in figure.texts if text.get_gid() == "footnote"
    )
    assert "governor droop line straight" in foot
    for note in result.notes:
        assert short_words([note]) in foot
        if note.code.count("-") > 1:
            assert note.code not in foot
    assert "run-out-straight" in [note["code"] for note in result.to_dict()["assumptions"]]
