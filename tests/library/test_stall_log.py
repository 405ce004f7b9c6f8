"""The log of tests: it only grows, and no crash hurts it."""

import csv
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
from converter_match.library.stall_log import append_rows, read_log, read_stall_log
from converter_match.library.stall_log_table import COLUMNS, LogRow, tidy_name

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


@pytest.mark.parametrize(
    ("old", "typed", "message"),
    [
        (b"1750", b"17x0", "line 2, engine_speed_rpm: not a number; found '17x0'"),
        (b"1750", b"1.750", "line 2, engine_speed_rpm: no engine of this kind"),
        (b"held", b"heldd", "line 2, brakes: "),
        (b"2031-03-01T08", b"2031-13-01T08", "line 2, time: not a time"),
        (b"2031-03-01T08:00:00+00:00", b"03/04/2031", "day and month cannot be told apart"),
        (b",0.95,", b",0,95,", "line 2: another number of cells than the head has"),
        (b",0.95,", b",,", "line 2, coverage: empty"),
        (b",0.95,", b",95,", "line 2, coverage: not a share"),
    ],
)
def test_row_with_a_typo_is_set_aside_and_named_and_the_log_goes_on(tmp_path, old, typed, message):
    path = tmp_path / "log.csv"
    append_rows(path, [row(), row(time=START + timedelta(days=1))])
    path.write_bytes(path.read_bytes().replace(old, typed, 1))
    log = append_rows(path, [row(time=START + timedelta(days=2))])
    assert len(log.rows) == 1
    [aside] = log.set_aside
    assert message in str(aside)
    assert str(path) in str(aside)
    assert len(read_stall_log(path).rows) == 2
    with pytest.raises(InputError, match="line 2"):
        read_log(path)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_each_value_goes_under_its_heading_wherever_that_stands(tmp_path, delimiter):
    path = tmp_path / "log.csv"
    head = ["Remark", *reversed([name.upper() for name in COLUMNS]), "hours"]
    path.write_text(delimiter.join(head) + "\n", encoding="utf-8")
    rows = [row(), row(machine="a, b; c", oil_temperature_degc=None)]
    append_rows(path, rows)
    assert list(read_log(path)) == rows
    cells = list(csv.DictReader(path.read_text("utf-8").splitlines(), delimiter=delimiter))
    assert [c["MACHINE"] for c in cells] == ["loader 1", "a, b; c"]
    assert {c["Remark"] for c in cells} == {c["hours"] for c in cells} == {""}


def test_columns_and_words_of_ones_own_stay_as_they_are(tmp_path):
    path = tmp_path / "log.csv"
    append_rows(path, [row()])
    head, line = path.read_text(encoding="utf-8").splitlines()
    path.write_text(f"hours,{head},remark\n812,{line},cold\n", encoding="utf-8")
    append_rows(path, [row(time=START + timedelta(days=1))])
    first, second = csv.DictReader(path.read_text("utf-8").splitlines())
    assert (first["hours"], first["remark"]) == ("812", "cold")
    assert (second["hours"], second["remark"], second["brakes"]) == ("", "", "held")


# What a spreadsheet writes into the time column; the same instant each time.
@pytest.mark.parametrize(
    "written",
    ["2031-03-21 08:00", "21.03.2031 08:00", "21/03/2031 8:00", "3/21/2031 8:00 AM",
     "21-03-2031 08:00:00", "2031-03-21T09:00:00+01:00"],
)  # fmt: skip
def test_dates_of_spreadsheets_are_read(tmp_path, written):
    when = datetime(2031, 3, 21, 8, tzinfo=UTC)
    path = tmp_path / "log.csv"
    append_rows(path, [row(time=when)])
    text = path.read_text(encoding="utf-8").replace("2031-03-21T08:00:00+00:00", written)
    path.write_text(text, encoding="utf-8")
    assert read_log(path) == (row(time=when),)


@pytest.mark.parametrize(("first", "month"), [("13/02/2031", 4), ("02/13/2031", 3)])
def test_one_date_tells_the_order_of_day_and_month_of_the_column(tmp_path, first, month):
    path = tmp_path / "log.csv"
    append_rows(path, [row(), row(time=START + timedelta(days=1), machine="other")])
    text = path.read_text(encoding="utf-8")
    text = text.replace("2031-03-01T08:00:00+00:00", first)
    text = text.replace("2031-03-02T08:00:00+00:00", "03/04/2031 08:00")
    path.write_text(text, encoding="utf-8")
    assert read_log(path)[-1].time == datetime(2031, month, 7 - month, 8, tzinfo=UTC)


def test_blank_rows_quotes_per_cent_and_cells_left_out_at_the_end_are_read(tmp_path):
    path = tmp_path / "log.csv"
    append_rows(path, [row(finding="", share=None)])
    head, line = path.read_text(encoding="utf-8").splitlines()
    quoted = ",".join(f'"{cell}"' for cell in line.rstrip(",").split(","))
    text = "\r\n".join(
        ["\ufeff" + head, ",,,,", quoted.replace("0.95", "95%"), "", ",," + "," * 30, ""]
    )
    path.write_bytes(text.encode())
    assert read_log(path) == (row(finding="", share=None),)
    append_rows(path, [row()])
    assert path.read_bytes().startswith(text.encode())
    assert path.read_bytes().endswith(b"\r\n")


def test_test_entered_late_is_taken_with_a_stated_time_only(tmp_path):
    path = tmp_path / "log.csv"
    append_rows(path, [row()])
    earlier = row(time=START - timedelta(days=1), engine_speed_rpm=1700.0)
    with pytest.raises(InputError, match=r"machine loader 1, line 2.*--date"):
        append_rows(path, [earlier])
    append_rows(path, [earlier], late=True)
    assert read_log(path) == (earlier, row())


def test_what_a_killed_process_left_is_removed_and_nothing_else(tmp_path):
    path = tmp_path / "log.csv"
    names = ["log.csv.123.part", "log.csv.part", "other.csv.123.part", "log.csv.1a.part"]
    for name in names:
        (tmp_path / name).write_text("x", encoding="utf-8")
    append_rows(path, [row()])
    assert sorted(p.name for p in tmp_path.iterdir() if p.name in names) == sorted(names[1:])


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
    assert "after" in {r.machine for r in read_log(path)}


@pytest.mark.slow
def test_two_writers_at_once_lose_nothing(tmp_path):
    path = tmp_path / "log.csv"
    both = [writer(path, name, 15) for name in ("a", "b")]
    for process in both:
        process.communicate(timeout=60)
        assert process.returncode == 0
    rows = read_log(path)
    assert sum(r.machine == "a" for r in rows) == sum(r.machine == "b" for r in rows) == 45


@pytest.mark.parametrize("year", [2062, 2150])
def test_one_row_dated_far_ahead_keeps_no_machine_out(tmp_path, year):
    path = tmp_path / "log.csv"
    append_rows(path, [row(), row(time=START + timedelta(days=20), machine="loader 2")])
    lines = path.read_text("utf-8").splitlines()
    lines[1:1] = [lines[1].replace("2031", str(year))]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    append_rows(path, [row(time=START + timedelta(days=30))])
    assert path.read_text("utf-8").splitlines()[-1].startswith("2031-03-31")
    # Refused all the same: a clock that has fallen back among the tests, and before all of them.
    for fallen in (START + timedelta(days=29), START - timedelta(days=9000)):
        with pytest.raises(InputError, match="the clock goes back"):
            append_rows(path, [row(time=fallen)])
    if year > 2099:
        assert "not the year of a stall test" in str(read_stall_log(path).set_aside[0])


@pytest.mark.parametrize("name", ["a\x85b", "a\x9bb", "a\u2028b", "a\x07b", "n" * 300])
def test_name_that_no_table_can_hold_is_made_one_that_can(name):
    with pytest.raises(InputError, match="not a name for a table"):
        row(machine=name)
    tidy = tidy_name(name)
    assert row(machine=tidy).machine == tidy
    assert tidy.isprintable()
    assert len(tidy) <= 80
