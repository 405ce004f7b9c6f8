"""The fast run is smaller than the whole one, and leaves out no floor and no test file."""

import importlib
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.speed import SLOW, SLOW_EXAMPLES, is_slow

ROOT = Path(__file__).resolve().parents[1]
TESTS = ROOT / "tests"
# Floors that have no folder and no file of tests of their own, and what looks at them.
LOOKED_AT_BY = {
    "constants": "test_house_rules.py",
    "notes": "test_measured_notes.py",
    "study": "judgement/verdict/test_criteria.py",
    "version": "test_release_facts.py",
}


@pytest.fixture(scope="module")
def drawn(request):
    """Every test of the fast run, as pytest collects it."""
    if request.config.args_source is pytest.Config.ArgsSource.TESTPATHS:
        # This run has collected every test already.
        return [item.nodeid for item in request.session.items if item.get_closest_marker("fast")]
    command = ["-m", "pytest", "--collect-only", "-q", "-m", "fast", "-p", "no:cacheprovider"]
    done = subprocess.run(
        [sys.executable, *command], cwd=ROOT, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return [line for line in done.stdout.splitlines() if "::" in line]


def floors():
    contract = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = contract["tool"]["importlinter"]["contracts"]
    [layers] = [item["layers"] for item in contracts if item["id"] == "rooms"]
    return [floor.strip() for layer in layers for floor in layer.split("|")]


def of(floor):
    """Return the folder or the files of tests of a floor."""
    if floor in LOOKED_AT_BY:
        return [f"tests/{LOOKED_AT_BY[floor]}::"]
    if (TESTS / floor).is_dir():
        return [f"tests/{floor}/"]
    return [f"tests/{path.name}::" for path in TESTS.glob(f"test_{floor}*.py")]


@pytest.mark.slow
def test_fast_run_reaches_every_floor_and_every_file_of_tests(drawn):
    by_floor = {floor: [test for test in drawn if test.startswith(tuple(of(floor)))]
                for floor in floors()}  # fmt: skip
    assert [floor for floor, tests in by_floor.items() if not tests] == []
    files = {test.partition("::")[0] for test in drawn}
    wanted = {path for path in TESTS.rglob("test_*.py") if not is_slow(path)}
    assert sorted(path.relative_to(ROOT).as_posix() for path in wanted) == sorted(
        file for file in files if file.startswith("tests/")
    )


def test_what_is_slow_by_its_place_is_there():
    assert [name for name in SLOW if not (TESTS / name).exists()] == []


@pytest.mark.slow
def test_examples_that_are_slow_are_examples(drawn):
    for name in SLOW_EXAMPLES:
        module, _, function = name.rpartition(".")
        assert ">>> " in (getattr(importlib.import_module(module), function).__doc__ or "")
        assert not [test for test in drawn if test.endswith(f"::{name}")]
