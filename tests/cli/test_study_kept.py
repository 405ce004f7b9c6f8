"""A study run again from what is kept: the same report byte by byte, and nothing done twice."""

import filecmp
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from converter_match.cli import main
from converter_match.judgement.decision import run as study_run
from converter_match.library.kept import KeptResults
from converter_match.library.shipped import find
from tests.study_examples import study_file

TOLERANCE = """
[[tolerance]]
quantity = "engine-torque"
half_width = { unit = "percent", value = 3 }

[[candidate]]
id = "own-converter"
name = "New engine, another converter"
engine = "six-cylinder-7l-185kw"
converter = "mine.toml"
"""
ENGINE = 'engine = "six-cylinder-7l-185kw"\n'

pytestmark = pytest.mark.slow


@pytest.fixture
def made(tmp_path):
    """A study beside a converter's file of its own; run with few draws, in this process."""
    text = Path(find("converters", "single-stage-345mm-tight")).read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    return study_file(tmp_path, more=TOLERANCE)


def words(made, *more, kept=None, draws=32):
    where = str(made.parent / "kept") if kept is None else kept
    return ["study", str(made), "--draws", str(draws), "--jobs", "1", "--kept", where, *more]


def run(capsys, made, *more, **asked):
    status = main(words(made, *more, **asked))
    said = capsys.readouterr()
    assert said.err == ""
    assert status in (0, 3)
    return said.out


@pytest.fixture
def worked_on(monkeypatch):
    """The combinations that are worked out, one a condition."""
    names = []
    outcome = study_run.outcome

    def told(item, *rest):
        names.append(item.id)
        return outcome(item, *rest)

    monkeypatch.setattr(study_run, "outcome", told)
    return names


def all_files(folder):
    return sorted(path.relative_to(folder) for path in folder.rglob("*") if path.is_file())


def test_a_report_from_what_is_kept_is_the_same_byte_by_byte(
    capsys, made, worked_on, without_pictures
):
    folders = [made.parent / name for name in ("off", "first", "again")]
    told = []
    for folder, kept in zip(folders, ("off", None, None), strict=True):
        told.append(run(capsys, made, "--out", str(folder), "--json", kept=kept))
    assert told[0] == told[1] == told[2]
    assert len(worked_on) == 6  # three combinations, and none of them the third time
    names = all_files(folders[0])
    assert len(names) > 20
    for other in folders[1:]:
        assert all_files(other) == names
        assert filecmp.cmpfiles(folders[0], other, names, shallow=False)[1:] == ([], [])


def test_a_changed_file_has_its_candidate_worked_out_again_and_no_other(capsys, made, worked_on):
    run(capsys, made)
    mine = made.parent / "mine.toml"
    text = mine.read_text(encoding="utf-8")
    assert text.count("2.20") == 1
    worked_on.clear()
    mine.write_text(text.replace("2.20", "2.21"), encoding="utf-8")
    changed = json.loads(run(capsys, made, "--json"))
    assert worked_on == ["own-converter"]
    assert changed == json.loads(run(capsys, made, "--json", kept="off"))


def test_a_remark_in_a_file_changes_its_checksum_and_has_nothing_worked_out(
    capsys, made, worked_on
):
    first = json.loads(run(capsys, made, "--json"))
    worked_on.clear()
    with (made.parent / "mine.toml").open("a", encoding="utf-8") as file:
        file.write("# a remark\n")
    second = json.loads(run(capsys, made, "--json"))
    assert not worked_on
    assert first.pop("inputs") != second.pop("inputs")
    assert first == second


def test_fresh_works_everything_out_and_keeps_it(capsys, made, worked_on):
    first = run(capsys, made, "--json")
    worked_on.clear()
    assert run(capsys, made, "--json", "--fresh") == first
    assert len(worked_on) == 3


def start(made, *more, **asked):
    """Start a run of its own."""
    root = Path(__file__).resolve().parents[2]
    return subprocess.Popen(
        [sys.executable, "-m", "converter_match", *words(made, *more, **asked)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8",
        env=os.environ | {"PYTHONPATH": str(root)},
    )  # fmt: skip


def entries(made):
    return len(list((made.parent / "kept").glob("??/" + "?" * 64)))


def test_a_run_that_was_killed_goes_on_where_it_stopped(capsys, made, worked_on):
    # So many draws that it is killed in the midst of them.
    killed = start(made, draws=200_000)
    while entries(made) < 3:
        assert killed.poll() is None
        time.sleep(0.01)
    killed.kill()
    killed.communicate()
    done = entries(made)
    assert done < 6
    run(capsys, made)
    assert not worked_on  # all conditions were looked at before it was killed
    assert entries(made) == done + 3  # the draws, of which it asked for others


def test_two_runs_at_once_share_what_is_kept_and_say_the_same(capsys, made):
    both = [start(made, "--json") for _ in range(2)]
    said = [each.communicate() for each in both]
    assert both[0].returncode == both[1].returncode
    assert both[0].returncode in (0, 3)
    assert said[0] == said[1]
    assert said[0][0] == run(capsys, made, "--json", kept="off")
    store = KeptResults(made.parent / "kept")
    assert store.held().entries == 6
    assert run(capsys, made, "--json") == said[0][0]
    assert not store.spoilt


@pytest.mark.parametrize("verb", ["study", "audit"])
def test_a_folder_of_something_else_is_refused(capsys, tmp_path, verb):
    (tmp_path / "letter.txt").write_text("mine", encoding="utf-8")
    assert main([verb, "quarry-loader-repower", "--kept", str(tmp_path)]) == 2
    said = capsys.readouterr().err
    assert "--kept: is a folder of something else" in said
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_a_candidate_too_large_is_named_and_the_rest_is_finished_and_kept(
    capsys, made, worked_on, monkeypatch
):
    told = study_run.outcome

    def too_large(item, *rest):
        if item.id == "new-engine":
            raise MemoryError
        return told(item, *rest)

    with monkeypatch.context() as patched:
        patched.setattr(study_run, "outcome", too_large)
        assert main(words(made)) == 4
    said = capsys.readouterr()
    assert said.out == ""
    assert "not calculated: New engine: " in said.err
    assert "out of memory; fewer processes at once, more memory for each" in said.err
    worked_on.clear()
    run(capsys, made)
    assert worked_on == ["new-engine"]


def test_a_motor_study_takes_what_was_kept(capsys, tmp_path, monkeypatch):
    def told(kept):
        asked = ["study", "lift-truck-electric", "--draws", "2", "--json", "--jobs", "1"]
        assert main([*asked, "--kept", kept]) in (0, 3)
        return capsys.readouterr().out

    here = str(tmp_path / "kept")
    first = told(here)
    assert told("off") == first
    for name in ("study._judged", "study.solve", "study_draws.findings_of"):
        monkeypatch.setattr(f"converter_match.judgement.motor.{name}", None)
    assert told(here) == first
