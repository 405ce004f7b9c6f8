"""Machine code of plain functions: kept where it can be, made anew where that is needed."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from converter_match.tasks import compiled

ROOT = Path(__file__).resolve().parents[2]
OUTER = """
import sys
import inner
from converter_match.tasks.compiled import MachineCode

def _of(source):
    def total(count, expected):
        if source != expected:
            raise RuntimeError("of another source")
        found = 0.0
        for k in range(count):
            found += inner.part(k)
        return found
    return total

_code = MachineCode(_of, [inner, sys.modules[__name__]])
print(_code(4, _code.source))
"""
INNER = """
from converter_match.tasks.compiled import compiled

FACTOR = 2.0

@compiled
def part(k):
    return FACTOR * k
"""
TOTAL = "12.0"  # 2 (0 + 1 + 2 + 3)


@pytest.fixture
def place(tmp_path):
    folder = tmp_path / "package"
    folder.mkdir()
    (folder / "outer.py").write_text(OUTER, encoding="utf-8")
    (folder / "inner.py").write_text(INNER, encoding="utf-8")
    return folder


def surroundings(folder, cache, **more):
    """Variables of a process that finds the package, and the user's cache in a folder."""
    return {
        **{name: value for name, value in os.environ.items() if not name.startswith("NUMBA_")},
        "PYTHONPATH": os.pathsep.join([str(folder), str(ROOT)]),
        "NUMBA_DEBUG_CACHE": "1", "XDG_CACHE_HOME": str(cache), "HOME": str(cache),
        "LOCALAPPDATA": str(cache), "PYTHONDONTWRITEBYTECODE": "1", **more,
    }  # fmt: skip


def run(folder, cache, **more):
    """Return the total that a new process finds, and whether it read kept machine code."""
    command = [sys.executable, "-c", "import outer"]
    variables = surroundings(folder, cache, **more)
    done = subprocess.run(command, env=variables, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    *told, total = done.stdout.splitlines()
    return total, any("data loaded" in line for line in told)


def kept_in(folder):
    return sorted(path.suffix for path in folder.rglob("*.nb?"))


def blocked(folder):
    """Put a file where numba would make a folder for what it keeps beside the source."""
    (folder / "__pycache__").write_text("in the way", encoding="utf-8")


@pytest.mark.slow
def test_machine_code_is_kept_beside_its_source_and_read_the_next_time(place, tmp_path):
    assert run(place, tmp_path) == (TOTAL, False)
    assert kept_in(place) == [".nbc", ".nbi"]
    assert run(place, tmp_path) == (TOTAL, True)


@pytest.mark.slow
def test_a_change_of_what_is_called_in_another_file_is_seen(place, tmp_path):
    run(place, tmp_path)
    (place / "inner.py").write_text(INNER.replace("2.0", "3.0"), encoding="utf-8")
    assert run(place, tmp_path) == ("18.0", False)


@pytest.mark.slow
def test_where_the_package_cannot_be_written_to_it_is_kept_in_the_users_cache(place, tmp_path):
    blocked(place)
    assert run(place, tmp_path / "cache") == (TOTAL, False)
    assert kept_in(tmp_path / "cache") == [".nbc", ".nbi"]
    assert run(place, tmp_path / "cache") == (TOTAL, True)


@pytest.mark.slow
def test_where_nothing_can_be_kept_it_is_made_each_time(place, tmp_path):
    blocked(place)
    cache = tmp_path / "cache"
    cache.write_text("in the way", encoding="utf-8")
    assert [run(place, cache) for _ in range(2)] == [(TOTAL, False)] * 2


@pytest.mark.slow
def test_kept_code_that_cannot_be_read_is_made_anew_and_kept(place, tmp_path):
    run(place, tmp_path)
    for path in place.rglob("*.nb?"):
        path.write_bytes(path.read_bytes()[:-40])
    assert run(place, tmp_path) == (TOTAL, False)
    assert run(place, tmp_path) == (TOTAL, True)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files there")
def test_where_the_disk_is_full_it_runs_all_the_same(place, tmp_path):
    code = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100)); import outer"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=surroundings(place, tmp_path), capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == TOTAL
    assert run(place, tmp_path) == (TOTAL, False)


@pytest.mark.slow
def test_processes_that_start_at_once_find_the_same(place, tmp_path):
    command = [sys.executable, "-c", "import outer"]
    started = [
        subprocess.Popen(
            command, env=surroundings(place, tmp_path), stdout=subprocess.PIPE, text=True
        )
        for _ in range(4)
    ]
    found = [process.communicate()[0].splitlines()[-1] for process in started]
    assert found == [TOTAL] * 4
    assert [process.returncode for process in started] == [0] * 4
    assert run(place, tmp_path) == (TOTAL, True)


def test_without_a_compiler_plain_python_runs(place, tmp_path):
    assert run(place, tmp_path, NUMBA_DISABLE_JIT="1") == (TOTAL, False)
    assert kept_in(place) == []


class Terminal:
    def __init__(self, yes):
        self.yes, self.said = yes, ""

    def isatty(self):
        return self.yes

    def write(self, text):
        self.said += text

    def flush(self):
        pass


@pytest.mark.slow
@pytest.mark.parametrize("terminal", [True, False])
def test_a_person_at_a_terminal_is_told_once_that_it_takes_a_while(monkeypatch, terminal):
    if compiled.numba.config.DISABLE_JIT:
        pytest.skip("nothing is compiled")
    stream = Terminal(terminal)
    monkeypatch.setattr(compiled.sys, "stderr", stream)
    monkeypatch.setattr(compiled, "PATIENCE", 0.0)

    def of(source):
        def double(x):
            return source * 0 + 2 * x

        return double

    code = compiled.MachineCode(of, [compiled])
    assert [code(2), code(3)] == [4, 6]
    assert stream.said.count("\n") == terminal
