"""The benchmarks run and say what they found; how fast anything is, no test asserts."""

from __future__ import annotations

import json
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"


def run(*arguments):
    command = [sys.executable, str(BENCHMARKS / "run.py"), *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture
def measuring(monkeypatch):
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    return import_module("measuring")


def test_one_command_prints_a_table_and_writes_json(tmp_path):
    done = run("--quick", "--only", "matching", "--json", tmp_path / "found.json")
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "found.json").read_text(encoding="utf-8")
    found = json.loads(text)
    rows = {row["figure"]: row for row in found["rows"]}
    ratio = rows["match / evaluating both curves"]
    assert ratio["at_most"] == 3.0
    assert ratio["least"] <= ratio["value"] <= ratio["greatest"]
    # That the loop and the match agree is no matter of speed, and holds on any machine.
    assert rows["largest difference from the loop"]["kept"]
    assert all(row["figure"].strip() in done.stdout for row in found["rows"])
    assert {"python", "numpy", "processors"} <= set(found["machine"])
    assert str(Path.home()) not in text
    assert str(BENCHMARKS.parent) not in text


def test_what_cannot_be_measured_says_why():
    done = run("--quick", "--only", "latency")
    assert done.returncode == 0, done.stderr
    assert "not measured: left out of a quick run" in done.stdout


def test_a_file_that_exists_is_not_overwritten_unasked(tmp_path):
    kept = tmp_path / "found.json"
    kept.write_text("mine", encoding="utf-8")
    done = run("--quick", "--only", "latency", "--json", kept)
    assert done.returncode == 2
    assert "--overwrite" in done.stderr
    assert kept.read_text(encoding="utf-8") == "mine"


def test_a_benchmark_that_fails_is_said_and_fails_the_command(measuring, monkeypatch, capsys):
    command = import_module("run")
    monkeypatch.setattr(command, "BENCHES", {"that_is_not_there": "none"})
    assert command.main([]) == 1
    said = capsys.readouterr()
    assert "not measured: ModuleNotFoundError" in said.out
    assert "bench_that_is_not_there" in said.err


def test_a_ratio_is_taken_turn_by_turn_and_judged_by_its_median(measuring):
    # A machine that is busy in the second turn is busy for both.
    above = measuring.Times((2.0, 8.0, 3.0), (2.0, 80.0, 3.0))
    below = measuring.Times((1.0, 4.0, 1.0), (1.0, 40.0, 1.0))
    row = measuring.ratio("a", above, below, most=2.5)
    assert row.values == (2.0, 2.0, 3.0)
    assert (row.value, row.kept) == (2.0, True)
    assert measuring.ratio("a", above, below, least=2.5).kept is False
    assert measuring.ratio("a", above, below).kept is None


def test_the_page_is_a_table_of_whole_rows(measuring):
    command = import_module("run")
    rows = [
        measuring.Row("a ratio", "x", (1.0, 2.0, 4.0), most=3.0),
        measuring.Row("a size", "MB", (2000.0,), least=3000.0),
        measuring.Row("a wish", why_not="no browser"),
    ]
    text = command.page({"start": rows}, {"processors": 2, "load_average": 0.3})
    table = [line for line in text.splitlines() if line.startswith("|")]
    assert {line.count("|") for line in table} == {8}
    assert table[2] == "| a ratio | 2 | 1 .. 4 |  | x | <= 3 | yes |"
    assert table[3] == "| a size | 2000 |  |  | MB | >= 3000 | NO |"
    assert "not measured: no browser" in table[4]
    assert "processors 2" in text


def test_a_time_is_judged_by_the_least(measuring):
    row = measuring.seconds("a", measuring.Times((5.0, 2.0, 9.0), (6.0, 3.0, 9.0)), most=2.0)
    assert (row.value, row.kept) == (2.0, True)


def test_what_is_measured_in_turns_runs_in_turns(measuring):
    seen = []
    times = measuring.in_turns({name: lambda n=name: seen.append(n) for name in "ab"}, 3)
    assert seen == ["a", "b"] * 3
    assert len(times["a"].processor) == len(times["b"].wall) == 3


def test_every_figure_of_the_page_is_explained_in_a_line_below_its_table(measuring):
    command, words = import_module("run"), import_module("words")
    page = (BENCHMARKS.parent / "docs" / "benchmarks.md").read_text(encoding="utf-8")
    names = {title.capitalize(): name for name, title in command.BENCHES.items()}
    sections = page.split("\n## ")[1:]
    assert [names[part.partition("\n")[0]] for part in sections] == list(command.BENCHES)
    for part in sections:
        name = names[part.partition("\n")[0]]
        rows = [line for line in part.splitlines() if line.startswith("| ")][1:]
        figures = [row.split("|")[1].strip() for row in rows]
        assert [figure for figure in figures if not words.words_of(name, figure)] == []
        # As the command would write it.
        said = [line for line in part.splitlines() if line.startswith("- **")]
        assert said == words.explained(name, figures)
    assert page.startswith(command.page({}, {}).partition("Measured bench by bench")[0])


def test_the_page_explains_what_it_measured_and_nothing_else(measuring):
    command = import_module("run")
    found = {"matching": [measuring.Row("  leanest loop", "x", (1000.0,))]}
    text = command.page(found, {})
    assert text.count("- **") == 1
    assert text.splitlines()[-1].startswith("- **leanest loop**: ")
