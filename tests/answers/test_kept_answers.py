"""Answers on shipped files are what they were when somebody last looked at them.

Whether an answer is right is held elsewhere (tests/published, docs/validation.md): this says that
it has changed, word for word and digit for digit, so that the change is seen before it is made.
After a change that is meant:

    python -m pytest tests/answers --write-answers

and read the difference.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from converter_match.cli import main
from converter_match.library.shipped import data_folder
from tests.adversarial.cases import CASES
from tests.adversarial.files import written
from tests.answers.calls import BOTH, DATA_TOO, LONG, TEXT
from tests.answers.holding import KEPT, compare, differs, lines_of

SHEETS = sorted(
    path
    for path in (Path(__file__).parents[1] / "data" / "sheets").iterdir()
    if path.suffix in (".csv", ".tsv", ".txt", ".xlsx")
)


def name_of(case):
    return re.sub(r"[^a-z0-9.-]+", "-", case.name.lower())


def answer_of(capsys, *words):
    """Return exit status and output of a command line, without places on this machine."""
    status = main(list(words))
    said = capsys.readouterr()
    return status, (said.out + said.err).replace(str(data_folder()), "data")


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[pytest.mark.slow] if name in LONG else [])
        for name in (*BOTH, *TEXT)
    ],
)
def test_answer_is_the_kept_one(name, capsys, request):
    words = (BOTH | TEXT)[name]
    status, text = answer_of(capsys, *words)
    lines = [f"exit status {status}", *text.splitlines()]
    if name in (*BOTH, *DATA_TOO):
        lines += ["", *lines_of(json.loads(answer_of(capsys, *words, "--json")[1]))]
    compare(name, lines, request)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.name)
def test_what_is_read_in_a_sheet_is_the_kept_answer(sheet, capsys, request, monkeypatch):
    monkeypatch.chdir(sheet.parent)  # so that the answer names no folder
    status, text = answer_of(capsys, "intake", sheet.name)
    compare(f"sheet-{sheet.name}", [f"exit status {status}", *text.splitlines()], request)


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_answer_to_a_nasty_study_is_the_kept_one(case, capsys, request, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    status, text = answer_of(capsys, "study", written(case, tmp_path).name, "--draws", "0")
    compare(f"nasty-{name_of(case)}", [f"exit status {status}", *text.splitlines()], request)


def test_every_kept_answer_is_asked_for():
    asked = {*BOTH, *TEXT, *(f"sheet-{path.name}" for path in SHEETS)}
    asked |= {f"nasty-{name_of(case)}" for case in CASES}
    kept = {path.name.removesuffix(".txt") for path in KEPT.iterdir()}
    others = tuple(
        "page- paper- figure- document- widget- folder- bench- inputs- small- read-".split()
    )
    assert {name for name in kept if not name.startswith(others)} == asked


def test_line_differs_by_words_and_by_more_than_its_last_digit():
    assert differs("stall 1806 rpm", "stall 1806 kW")
    assert differs("stall 1806 rpm", "stall 1808 rpm")
    assert not differs("stall 1806 rpm", "stall 1807 rpm")
    assert differs("7 of 64 draws", "8 of 64 draws")
    assert differs("ratio 2.14", "ratio 2.16")
    assert not differs("ratio 2.14", "ratio 2.15")
    assert not differs("x = 1806.12345", "x = 1806.12346")
