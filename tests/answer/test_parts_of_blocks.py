"""Cells with an amount of their own, closed sets of words, lists, and sentences in sentences."""

from __future__ import annotations

import pytest

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.answer.catalogue import Catalogue
from converter_match.answer.console import console
from converter_match.answer.html import html
from converter_match.notes import Note
from converter_match.units import note_text

CELL = Heading("cell", "cell")
# 1 lbf.ft = 1.3558179 N.m, 1 mi = 1609.344 m (NIST SP 811)
TORQUE = Quantity(135.58179483, "torque", ".0f", change=0.256)
SPEEDS = Quantity((10.0, 20.0), "velocity")
WORDS = Catalogue(
    {
        "outer": ("warning", "{title}: {inner}; {title} again"),
        "inner": ("warning", "from {value:torque .0f} to {other:torque .0f}"),
        "value": ("warning", "{title} is {value}"),
    }
)


@pytest.mark.parametrize(
    ("value", "si", "us"),
    [
        (TORQUE, "136 N·m (+26 %)", "100 lbf·ft (+26 %)"),
        (SPEEDS, "36.0 .. 72.0 km/h", "22.4 .. 44.7 mph"),
        (Quantity(2.2, None, ".4g"), "2.2", "2.2"),
        (Note("a", "at {v:velocity .0f}", values=(("v", 10.0),)), "at 36 km/h", "at 22 mph"),
    ],
)
def test_cell_brings_its_own_amount(value, si, us):
    assert (CELL.text(value, "si"), CELL.text(value, "us")) == (si, us)


def test_plain_data_hold_the_number_or_the_words_in_metric_trade_units():
    assert CELL.plain(SPEEDS) == [36.0, 72.0]
    assert CELL.plain(TORQUE) == pytest.approx(135.58179483)
    assert CELL.plain([Note("a", "at {v:velocity .0f}", values=(("v", 10.0),))]) == ["at 36 km/h"]


def test_choices_are_read_and_their_codes_kept_in_plain_data():
    weight = Heading("weight", "requirement", choices={"must": "mandatory"})
    assert (weight.text("must", "si"), weight.plain("must")) == ("mandatory", "must")
    assert weight.text("off", "si") == "off"


def test_list_stands_below_the_title_in_every_medium():
    block = Block("why", title="Why", items=(Note("a", "one"), Note("b", "two < three")))
    assert console([block], []).splitlines() == ["Why", "  - one", "  - two < three"]
    assert "<ul><li>one</li><li>two &lt; three</li></ul>" in html([block], [])
    folded = console([Block("", title="Why", items=(Note("a", "word " * 20),))], [], width=40)
    assert all(len(line) <= 40 for line in folded.splitlines())
    assert all(line.startswith("    ") for line in folded.splitlines()[2:])


def test_sentence_in_a_sentence_keeps_its_values_typed():
    inner = WORDS.note("inner", value=135.58179483, other=271.16358966)
    note = WORDS.note("outer", title="pull", inner=inner)
    assert note_text(note, "us") == "pull: from 100 lbf·ft to 200 lbf·ft; pull again"
    assert note_text(note, "si") == "pull: from 136 N·m to 271 N·m; pull again"


def test_several_sentences_are_set_off_and_do_not_share_values():
    notes = [WORDS.note("inner", value=float(v), other=0.0) for v in (1, 2)]
    text = note_text(WORDS.note("outer", title="t", inner=notes), "si")
    assert text == "t: from 1 N·m to 0 N·m; from 2 N·m to 0 N·m; t again"


def test_value_in_a_sentence_brings_its_amount_and_its_change():
    assert note_text(WORDS.note("value", title="it", value=TORQUE), "us") == (
        "it is 100 lbf·ft (+26 %)"
    )
    speeds = WORDS.note("value", title="it", value=SPEEDS)
    assert note_text(speeds, "si") == "it is 36.0 km/h to 72.0 km/h"


@pytest.mark.parametrize("text", ["{x}", "{0.__class__}", "100 %", "a } b {", "{{"])
def test_text_of_a_user_is_no_template(text):
    inner = Note("own", text)
    assert note_text(WORDS.note("outer", title=text, inner=inner), "si") == (
        f"{text}: {text}; {text} again"
    )


def test_a_sentence_is_not_made_without_what_it_has_a_place_for():
    with pytest.raises(TypeError, match="'inner' needs other, value"):
        WORDS.note("inner")
    with pytest.raises(TypeError, match="'outer' needs title"):
        WORDS.note("outer", inner=Note("a", "b"))
