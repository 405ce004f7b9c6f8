"""Spoilt command lines: answered or refused in one message, never a traceback."""

import importlib.util
import io
import random
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.cli import VERBS, build_parser, main
from tests.properties.command_lines import LINES, NEEDS, WITH_MORE
from tests.properties.depth import depth

FILES = ("--figure", "--csv", "--out", "--sheet", "--log", "--trend", "--fleet", "--export")
WORDS = (
    "", " ", "nan", "inf", "-inf", "-1", "0", "-0.0", "1e400", "1e308", "1e-320", "1,5", "1.5.5",
    "1e5 rpm", "100 furlong", "20 %", "20%", "-273.16", "-300 degC", "6500 ft", "Nm", "rpm", "ü",
    "💥", "٣", "a\x00b", "a\nb", "--", "-", "--json", "--units", "us", "x" * 300, ".", "..",
    "no/such",
    "no/such/x.csv", "x.exe", "x.png", "x.svg", "x.csv", "1..2", "3..1", "1,2", "2,1", "none",
    "all",
    "single-stage-345mm-tight", "six-cylinder-7l-185kw", "wheel-loader-17t", "four-speed-loader",
    "gear=3", "speed=0", "speed=1e9 gear=9", "gear=", "=", "stall speed=", "stall speed=-1 rpm",
    "stall speed=nan", "2031-13-01", "2031-05-04", "%s %d {0}", "$(ls)", "\ud800",
)  # fmt: skip


def spoilt(line: tuple[str, ...], chance: random.Random) -> list[str]:
    """Change a command line in one to three places."""
    found = list(line)
    if chance.random() < 0.2:
        found += [chance.choice(FILES), chance.choice(WORDS)]
    for _ in range(chance.choice([1, 1, 1, 2, 3])):
        if len(found) < 2:
            break
        at = chance.randrange(1, len(found))
        what = chance.randrange(10)
        if what < 7:  # a value: half of them numbers, which get further
            values = [i for i, word in enumerate(found) if i and not word.startswith("--")]
            if values:
                number = f"{chance.choice([1, 1, 1, -1]) * 10 ** chance.uniform(-3, 5):.4g}"
                found[chance.choice(values)] = chance.choice([number, chance.choice(WORDS)])
        elif what == 7:
            del found[at]
        elif what == 8:
            found.insert(at, chance.choice(WORDS))
        else:
            other = chance.randrange(1, len(found))
            found[at], found[other] = found[other], found[at]
    return found


def run(words, monkeypatch, capsys):
    """Return the exit status, and what was said on standard error."""
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO()))
    try:
        status = main(words)
    except SystemExit as stop:  # argparse's own way to end
        status = 0 if stop.code is None else stop.code
    return status, capsys.readouterr().err


@depth(120, 10_000)
@given(name=st.sampled_from(sorted(LINES | WITH_MORE)), chance=st.randoms(use_true_random=False))
def test_spoilt_command_line_is_answered_or_refused(tmp_path, monkeypatch, capsys, name, chance):
    monkeypatch.chdir(tmp_path)
    status, error = run(spoilt((LINES | WITH_MORE)[name], chance), monkeypatch, capsys)
    assert status in (0, 2, 3)
    assert "Traceback" not in error
    if status == 2:
        assert error.strip()


@pytest.mark.parametrize("name", LINES)
def test_line_that_the_fuzz_spoils_works(name, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert run(LINES[name], monkeypatch, capsys)[0] in (0, 3)


@pytest.mark.parametrize("name", WITH_MORE)
def test_line_that_needs_more_works_or_says_what_to_install(name, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    status, error = run(WITH_MORE[name], monkeypatch, capsys)
    if importlib.util.find_spec(NEEDS[name]) is None:
        assert status == 2
        assert "pip install" in error
    else:
        assert status in (0, 3)


def test_every_verb_is_spoilt_but_those_that_open_or_write_much():
    left_out = {"accept", "demo", "lab", "lesson", "shortlist", "study"}
    assert {line[0] for line in LINES.values()} | left_out == set(VERBS)


@pytest.mark.parametrize("verb", VERBS)
def test_unknown_option_is_refused_by_every_verb(verb, capsys):
    with pytest.raises(SystemExit) as stop:
        build_parser().parse_args([verb, "--no-such-option"])
    assert stop.value.code == 2
    assert "Traceback" not in capsys.readouterr().err
