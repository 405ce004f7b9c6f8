"""Long lines and wide tables fit the terminal, and lose nothing of what they say."""

import io
import re
import sys

import pytest

from converter_match.cli.options import say
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter, read_engine
from converter_match.library.shipped import shipped
from converter_match.present.words.terminal import NARROWEST, fitted

NOTE = (
    "  [cannot-move-on] The machine stops in segment 3, 12 m into it, on 46.0 %: the "
    "ground lets the wheels pull no more than 202.7 kN; 208.1 kN are needed there."
)
TABLE = """\
            speed ratio  input torque  set by
                      -           N·m
stall               0.0           851  effort
coupling           0.86           808    grip"""


@pytest.fixture(scope="module")
def answer():
    engine = read_engine(shipped("engines")["six-cylinder-7l-185kw"])
    converter = read_converter(shipped("converters")["single-stage-345mm-tight"])
    return solve(engine, converter).text()


def words(text):
    return re.findall(r"\S+", text)


@pytest.mark.parametrize("width", [40, 80, 120])
def test_answer_fits_and_every_number_is_still_there(answer, width):
    shown = fitted(answer, width)
    assert max(len(line) for line in shown.split("\n")) <= width
    assert set(words(answer)) <= set(words(shown))


def test_what_fits_is_left_alone(answer):
    table = answer[: answer.index("Cautions")]
    assert table in fitted(answer, 400)
    assert fitted(TABLE, 80) == TABLE
    assert fitted("", 80) == ""


def test_note_hangs_below_its_code_and_keeps_numbers_with_their_units():
    lines = fitted(NOTE, 68).split("\n")
    assert lines[0].startswith("  [cannot-move-on] The machine")
    assert all(line.startswith("    ") for line in lines[1:])
    assert " ".join(line.strip() for line in lines) == NOTE.strip()
    for width in range(NARROWEST, 120):
        assert not re.search(r"\d\n\s*(kN|m|%)\b", fitted(NOTE, width))


def test_head_of_a_wide_table_stands_in_two_lines():
    assert fitted(TABLE, 40).split("\n") == [
        "          speed   input",
        "          ratio  torque  set by",
        "              -     N·m",
        "stall       0.0     851  effort",
        "coupling   0.86     808    grip",
    ]


def test_columns_that_do_not_fit_follow_beside_the_first_again():
    rows = [["gear", *(f"{n}00 rpm" for n in range(1, 9))], ["R1", *(f"{n}.25" for n in range(8))]]
    text = "\n".join(f"{row[0]:4}  " + "  ".join(f"{cell:>7}" for cell in row[1:]) for row in rows)
    shown = fitted(text, NARROWEST)
    assert max(map(len, shown.split("\n"))) <= NARROWEST
    assert shown.count("R1") == shown.count("gear") > 1
    assert [word for word in words(shown) if "." in word] == rows[1][1:]


def test_item_of_a_list_is_folded_anew():
    text = "Why:\n  - creep at idle (+95 %) is more than\n    was asked for\n  - nothing else"
    assert fitted(text, 400) == (
        "Why:\n  - creep at idle (+95 %) is more than was asked for\n  - nothing else"
    )


@pytest.mark.parametrize("terminal", [True, False])
def test_only_a_terminal_gets_the_folded_text(monkeypatch, terminal):
    out = io.StringIO()
    out.isatty = lambda: terminal
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setenv("COLUMNS", "60")
    say(NOTE)
    assert (out.getvalue() == NOTE + "\n") == (not terminal)
    assert (max(map(len, out.getvalue().splitlines())) <= 60) == terminal
