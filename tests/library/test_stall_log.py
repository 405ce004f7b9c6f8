"""The log of tests: it only grows, and no crash hurts it."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from converter_match.errors import InputError
from converter_match.library.stall_log import LogRow, append_rows, read_log

ROOT = Path(__file__).resolve().parents[2]
START = datetime(2031, 3, 1, 8, tzinfo=UTC)


def row(**changes):
    fields = {
        "time": START, "machine": "loader 1", "engine": "e", "converter": "c", "test": "converter",
        "gear": "3", "brakes": "held", "engine_speed_rpm": 1750.0, "oil_temperature_degc": 85.0,
        "expected_low_rpm": 1690.0, "expected_high_rpm": 1785.0, "coverage": 0.95,
        "place": "inside", "finding": "nothing-to-see", "share": 0.8,
    }  # fmt: skip
    return LogRow(**(fields | changes))


def test_rows_come_back_as_they_were(tmp_path):
    path = tmp_path / "log.csv"
    rows = [row(), row(machine='say "hi", all', gear="", oil_temperature_degc=None, share=None)]
    append_rows(path, rows)
    assert list(read_log(path)) == rows


def test_old_rows_are_carried_over_byte_for_byte(tmp_path):
    path = tmp_path / "log.csv"
    append_rows(path, [row()])
    before = path.read_bytes().replace(b"1750", b"1750.0000")  # as somebody's editor might write it
    path.write_bytes(before)
    append_rows(path, [row(time=START + timedelta(days=1))])
    assert path.read_bytes().startswith(before)
    assert len(read_log(path)) == 2


def test_a_last_line_without_its_end_is_not_run_into(tmp_path):
    path = tmp_path / "log.csv"
    append_rows(path, [row()])
    path.write_bytes(path.read_bytes().rstrip(b"\n"))
    append_rows(path, [row()])
    assert len(read_log(path)) == 2


def test_clock_that_goes_back_adds_nothing(tmp_path):
    path = tmp_path / "log.csv"
    append_rows(path, [row()])
    before = path.read_bytes()
    with pytest.raises(InputError, match="clock goes back; nothing was added"):
        append_rows(path, [row(machine="other"), row(time=START - timedelta(hours=1))])
    assert path.read_bytes() == before
    append_rows(path, [row(machine="other", time=START - timedelta(days=9))])  # its own clock


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "is empty; nothing was added"),
        (b"time,machine\n", "columns are missing"),
        (b"a;b\n1;2\n", "columns are missing"),
        (b"\xff\xfe\x00", "not UTF-8"),
    ],
)
def test_other_files_are_left_alone(tmp_path, content, message):
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    with pytest.raises(InputError, match=message):
        append_rows(path, [row()])
    assert path.read_bytes() == content


def test_broken_cell_is_named_and_nothing_added(tmp_path):
    path = tmp_path / "log.csv"
    append_rows(path, [row()])
    path.write_bytes(path.read_bytes().replace(b"1750", b"17x0"))
    before = path.read_bytes()
    with pytest.raises(InputError, match="line 2, engine_speed_rpm: not a number; found '17x0'"):
        append_rows(path, [row()])
    assert path.read_bytes() == before


@pytest.mark.parametrize("name", ["=1+1", "@x", "two\nlines", " "])
def test_names_that_a_spreadsheet_would_run_are_refused(name):
    with pytest.raises(InputError, match="machine"):
        row(machine=name)


def test_folder_is_refused(tmp_path):
    with pytest.raises(InputError, match="is a folder"):
        append_rows(tmp_path, [row()])


WRITER = """
import sys
from datetime import UTC, datetime, timedelta
from tests.library.test_stall_log import START, row
from converter_match.library.stall_log import append_rows
path, name = sys.argv[1:3]
for number in range(int(sys.argv[3])):
    when = START + timedelta(minutes=number)
    append_rows(path, [row(time=when, machine=name, engine_speed_rpm=1000.0 + number)] * 3)
    print(number, flush=True)
"""


def writer(path, name, count):
    return subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(WRITER), str(path), name, str(count)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
def test_killed_in_the_middle_nothing_acknowledged_is_lost(tmp_path):
    path = tmp_path / "log.csv"
    lost = 0
    for attempt in range(4):
        process = writer(path, f"m{attempt}", 100_000)
        process.stdout.readline()
        time.sleep(0.02 + 0.03 * attempt)
        process.kill()
        said = process.stdout.read().split()
        process.stdout.close()
        process.wait()
        rows = [r for r in read_log(path) if r.machine == f"m{attempt}"]
        # All three rows of an append or none; everything that was acknowledged is there.
        assert len(rows) % 3 == 0
        last = int(said[-1]) if said else 0
        lost += max(0, 3 * (last + 1) - len(rows))
    assert lost == 0
    append_rows(path, [replace(row(), machine="after")])
    assert read_log(path)[-1].machine == "after"


@pytest.mark.slow
def test_two_writers_at_once_lose_nothing(tmp_path):
    path = tmp_path / "log.csv"
    both = [writer(path, name, 15) for name in ("a", "b")]
    for process in both:
        process.communicate(timeout=60)
        assert process.returncode == 0
    rows = read_log(path)
    assert sum(r.machine == "a" for r in rows) == sum(r.machine == "b" for r in rows) == 45
