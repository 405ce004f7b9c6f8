"""Long lines and wide tables fit the terminal, and lose nothing of what they say."""

import io
import re
import sys

import pytest

from converter_match.answer.block import Block, Heading
from converter_match.answer.console import NARROWEST, console, folded
from converter_match.cli.options import say, say_answer
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter, read_engine
from converter_match.library.shipped import shipped
from converter_match.notes import Note

NOTE = Note(
    "cannot-move-on",
    "The machine comes to a stand in segment 3, {way:distance .0f} into it, on "
    "{grade:weight_share .1f}: the ground lets the wheels pull no more than {pull:force .1f}; "
    "{needed:force .1f} are needed there.",
    "limit",
    (("way", 12.0), ("grade", 0.46), ("pull", 202.7e3), ("needed", 208.1e3)),
)
SAID = (
    "[cannot-move-on] The machine comes to a stand in segment 3, 12 m into it, on 46.0 %: the "
    "ground lets the wheels pull no more than 202.7 kN; 208.1 kN are needed there."
)
POINT, SET_BY = Heading("point", "point"), Heading("set_by", "set by")
RATIO = Heading("speed_ratio", "speed ratio", form=".2f")
TORQUE = Heading("input_torque", "input torque", "torque")
TABLE = Block(
    "",
    columns=(POINT, RATIO, TORQUE, SET_BY),
    rows=(("stall", 0.0, 851.0, "effort"), ("coupling point", 0.86, 808.0, "grip")),
)


@pytest.fixture(scope="module")
def answer():
    engine = read_engine(shipped("engines")["six-cylinder-7l-185kw"])
    converter = read_converter(shipped("converters")["single-stage-345mm-tight"])
    return solve(engine, converter)


def words(text):
    return re.findall(r"\S+", text)


@pytest.mark.parametrize("width", [40, 80, 120])
def test_answer_fits_and_every_number_is_still_there(answer, width):
    shown = answer.text("si", width)
    assert max(len(line) for line in shown.split("\n")) <= width
    assert set(words(answer.text())) <= set(words(shown))


def test_table_that_fits_is_left_alone():
    assert console([TABLE], [], width=80) == console([TABLE], [])


def test_note_hangs_below_its_code_and_keeps_numbers_with_their_units():
    head, first, *lines = console([], [NOTE], width=68).split("\n")[1:]
    assert head == "Warnings:"
    assert first.startswith("  [cannot-move-on] The machine")
    assert all(line.startswith("    ") for line in lines)
    assert " ".join(line.strip() for line in (first, *lines)) == SAID
    for width in range(NARROWEST, 120):
        assert not re.search(r"\d\n\s*(kN|m|%)\b", console([], [NOTE], width=width))


def test_head_of_a_wide_table_stands_in_two_lines():
    assert console([TABLE], [], width=44).split("\n") == [
        "                speed   input",
        "point           ratio  torque  set by",
        "                          N·m",
        "stall            0.00     851  effort",
        "coupling point   0.86     808  grip",
    ]


def test_columns_that_do_not_fit_follow_beside_the_first_again():
    heads = tuple(Heading(f"n{n}", f"{n}00 rpm", form=".2f") for n in range(1, 9))
    row = ("R1", *(n + 0.25 for n in range(8)))
    block = Block("", columns=(Heading("gear", "gear"), *heads), rows=(row,))
    shown = console([block], [], width=NARROWEST)
    assert max(map(len, shown.split("\n"))) <= NARROWEST
    assert shown.count("R1") == shown.count("gear") > 1
    assert [word for word in words(shown) if "." in word] == [f"{n}.25" for n in range(8)]


def test_words_beside_which_no_number_has_room_go_on_in_the_next_line():
    figure = ("net power absorbed in the working range", 90e3)
    block = Block(
        "",
        columns=(Heading("figure", "figure"), Heading("present", "present machine", "power")),
        rows=(figure, ("high idle", 1e3)),
    )
    assert console([block], [], width=NARROWEST).split("\n") == [
        "                           present",
        "figure                     machine",
        "                                kW",
        "net power absorbed in the     90.0",
        " working range",
        "high idle                      1.0",
    ]


def test_a_word_that_is_longer_than_the_line_is_not_broken():
    path = "a/folder/of/a/name/that/is/longer/than/any/terminal.html"
    assert folded(f"Written: {path}", 40) == ["Written:", f"  {path}"]


@pytest.mark.parametrize("terminal", [True, False])
def test_only_a_terminal_gets_the_folded_text(monkeypatch, answer, terminal):
    out = io.StringIO()
    out.isatty = lambda: terminal
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setenv("COLUMNS", "60")
    say(SAID)
    assert (out.getvalue() == SAID + "\n") == (not terminal)
    say_answer(answer, "si")
    assert (max(map(len, out.getvalue().splitlines())) <= 60) == terminal
