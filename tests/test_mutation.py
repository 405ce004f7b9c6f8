"""`benchmarks/mutation.py` goes on where it stopped, or says why it cannot."""

from __future__ import annotations

import json
import math
import sys
from importlib import import_module
from pathlib import Path

import pytest

TEXT = """
def x_half__mutmut_orig(x):
    return x / 2

def x_half__mutmut_1(x):
    return x * 2

def x_half__mutmut_2(x):
    return x / 3
"""


@pytest.fixture
def mutation(monkeypatch):
    monkeypatch.syspath_prepend(str(Path(__file__).resolve().parents[1] / "benchmarks"))
    return import_module("mutation")


def written(clone, codes):
    """Write what mutmut leaves behind: one module with its changes, and the record of them."""
    folder = clone / "mutants" / "converter_match" / "physics"
    folder.mkdir(parents=True)
    (folder / "halves.py").write_text(TEXT, encoding="utf-8")
    names = {f"converter_match.physics.halves.x_half__mutmut_{n}": c for n, c in codes.items()}
    record = folder / "halves.py.meta"
    record.write_text(json.dumps({"exit_code_by_key": names}), encoding="utf-8")
    return record


def codes_in(record):
    return list(json.loads(record.read_text(encoding="utf-8"))["exit_code_by_key"].values())


@pytest.fixture
def asked(mutation, monkeypatch, tmp_path):
    """Run the benchmark with everything but the preparation left out; return what was prepared."""
    prepared = []

    def prepare(clone, floors, tests):
        assert not clone.exists()
        prepared.append(tests)
        (clone / mutation.PREPARED).parent.mkdir(parents=True)
        (clone / mutation.PREPARED).touch()

    monkeypatch.setattr(mutation, "prepare", prepare)
    for name in ("draw", "run", "report"):
        monkeypatch.setattr(mutation, name, lambda *given: None)
    monkeypatch.setattr(sys, "argv", ["mutation.py", str(tmp_path), "--floors", "judgement"])
    return prepared


def test_clone_of_a_run_that_ended_on_the_way_is_made_anew(mutation, asked, tmp_path):
    (tmp_path / "clone" / "mutants").mkdir(parents=True)
    assert mutation.main() == 0
    assert asked == [["tests/judgement", "tests/cli"]]
    assert mutation.main() == 0  # and a whole one stays
    assert len(asked) == 1


def test_tests_that_fail_over_the_changes_are_said_at_once(mutation, monkeypatch, tmp_path):
    monkeypatch.setattr(mutation, "run", lambda command, folder: None)
    monkeypatch.setattr(
        mutation.subprocess, "run", lambda command, **others: Path(command[-1]).mkdir()
    )
    clone = tmp_path / "clone"
    with pytest.raises(SystemExit, match="could not be run over the changes"):
        mutation.prepare(clone, ["physics"], ["tests/physics"])
    assert not (clone / mutation.PREPARED).exists()


def test_drawing_from_nothing_is_an_error(mutation, tmp_path):
    written(tmp_path, {1: None, 2: None})
    for only, kind in ((["wheels/*"], "code"), (["*"], "layout")):
        with pytest.raises(SystemExit, match=f"no change of kind {kind}"):
            mutation.draw(tmp_path, 1, 1, only, kind)


def test_what_is_not_drawn_is_skipped_and_what_was_tried_stays(mutation, tmp_path):
    record = written(tmp_path, {1: None, 2: None})
    mutation.draw(tmp_path, 1, 1, ["*"], "code")
    assert sorted(codes_in(record), key=str) == [mutation.NOT_DRAWN, None]
    mutation.draw(tmp_path, 2, 1, ["physics/*"], "code")  # a larger sample opens the other
    assert codes_in(record) == [None, None]
    other = written(tmp_path / "tried", {1: 1, 2: 0})
    mutation.draw(tmp_path / "tried", 1, 1, ["*"], "code")
    assert codes_in(other) == [1, 0]


def test_interval_is_that_of_wilson(mutation):
    # 81 of 263: R. G. Newcombe, Statistics in Medicine 17 (1998) 857, table I (from memory):
    # 0.2553 to 0.3662. None of 15: 0 to z^2 / (15 + z^2).
    assert mutation.wilson(81, 263) == pytest.approx((0.2553, 0.3662), abs=5e-5)
    z = 1.959964
    assert mutation.wilson(0, 15) == pytest.approx((0.0, z * z / (15 + z * z)), abs=1e-12)
    assert mutation.wilson(0, 0) == (0.0, 1.0)
    low, high = mutation.wilson(30, 60)
    assert math.isclose(low + high, 1.0)
