"""`benchmarks/mutation.py` goes on where it stopped, or says why it cannot."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from converter_match.tasks.workers import Workers

BENCHMARKS = Path(__file__).resolve().parents[1] / "benchmarks"

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
    monkeypatch.syspath_prepend(str(BENCHMARKS))
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
    for name in ("draw", "try_all", "report"):
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
    monkeypatch.setattr(mutation, "tests_of", lambda clone: ["tests/physics"])
    monkeypatch.setattr(
        mutation.subprocess, "run", lambda command, **others: CompletedProcess(command, 1)
    )
    (tmp_path / mutation.PREPARED).parent.mkdir()
    (tmp_path / mutation.PREPARED).touch()
    with pytest.raises(SystemExit, match="could not be run over the changes"):
        mutation.reached(tmp_path, "fast")
    assert not (tmp_path / "reach-fast").exists()


def test_what_is_left_out_is_there(mutation):
    assert all((mutation.ROOT / file).is_file() for file in mutation.LEFT_OUT)


def test_compiled_functions_stay_compiled_where_they_are_not_changed(mutation, tmp_path):
    march = tmp_path / "physics" / "march.py"
    march.parent.mkdir()
    march.write_text("import x\n@compiled\ndef march(): ...\n")
    assert not mutation.without_compiler(tmp_path, ["present"])
    assert "@compiled" in march.read_text()
    assert mutation.without_compiler(tmp_path, ["present", "physics"])
    assert "@compiled" not in march.read_text()


def test_quickest_files_that_reach_a_change_are_asked_first(mutation):
    half = "converter_match.physics.halves.x_half"
    files = {
        "tests/a.py": {"seconds": 9.0, "functions": [half]},
        "tests/b.py": {"seconds": 2.0, "functions": [half, "x"]},
        "tests/c.py": {"seconds": 1.0, "functions": ["x"]},
    }
    name = f"{half}__mutmut_1"
    assert mutation.asked(files, name, None) == (["tests/b.py", "tests/a.py"], 11.0)
    assert mutation.asked(files, name, 5.0) == (["tests/b.py"], 2.0)
    assert mutation.asked(files, "converter_match.y.x_y__mutmut_1", None) == ([], 0.0)


def test_what_passes_the_fast_tests_is_left_for_the_others(mutation, monkeypatch, tmp_path):
    record = written(tmp_path, {1: None, 2: None})
    half = "converter_match.physics.halves.x_half"
    runs = []

    def reached(clone, marked):
        runs.append(marked)
        return {f"tests/{marked}.py": {"seconds": 1.0, "functions": [half]}}

    def tried(shared, changes):
        return {name: int(shared[1] == "slow" and name.endswith("_2")) for name, *_ in changes}

    monkeypatch.setattr(mutation, "reached", reached)
    monkeypatch.setattr(mutation, "tried", tried)
    mutation.try_all(tmp_path, True, None, Workers(jobs=1))
    assert codes_in(record) == [mutation.PASSED_FAST] * 2
    mutation.try_all(tmp_path, False, None, Workers(jobs=1))
    assert codes_in(record) == [0, 1]
    assert runs == ["fast", "fast", "slow"]


def test_tests_that_fail_over_no_change_at_all_count_for_nothing(mutation, monkeypatch, tmp_path):
    monkeypatch.setattr(mutation, "tried", lambda shared, changes: {changes[0][0]: 3})
    with pytest.raises(SystemExit, match=r"tests/a\.py end with 3 where nothing is changed"):
        mutation.control(tmp_path, "fast", ["tests/a.py"])


@pytest.mark.slow
def test_tests_of_a_change_fail_pass_or_are_ended(tmp_path):
    (tmp_path / "test_one.py").write_text(
        "import os, time\n\ndef test_one():\n    name = os.environ['MUTANT_UNDER_TEST']\n"
        "    assert name != 'seen'\n    time.sleep(100 if name == 'hangs' else 0)\n",
        encoding="utf-8",
    )
    changes = [[name, ["test_one.py"], 20.0] for name in ("seen", "unseen")]
    ended = subprocess.run(
        [sys.executable, str(BENCHMARKS / "mutation_tried.py")],
        cwd=tmp_path,
        input=json.dumps([*changes, ["hangs", ["test_one.py"], 2.0]]),
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert json.loads(ended.stdout) == {"seen": 1, "unseen": 0, "hangs": 36}


def test_a_changed_class_method_goes_with_its_decorator(mutation, tmp_path):
    text = (
        "class Half:\n"
        "    @classmethod\n    def x_of__mutmut_orig(cls, x):\n        return x / 2\n\n"
        "    @classmethod\n    def x_of__mutmut_1(cls, x):\n        return x * 2\n\n"
        "    @classmethod\n    def x_of__mutmut_2(cls, x):\n        return x / 3\n"
    )
    path = tmp_path / "halves.py"
    path.write_text(text, encoding="utf-8")
    alone, owners = mutation.Changes("halves", path).with_only({"halves.x_of__mutmut_1"})
    compile(alone, "halves.py", "exec")
    assert "mutmut_2" not in alone
    assert owners[alone.splitlines().index("        return x * 2") + 1] == "x_of__mutmut_1"


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
