"""Folders that cannot be written to and disks that are full: one message, nothing half-written."""

import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library.shipped import shipped
from converter_match.library.stall_log import append_rows, read_log
from converter_match.library.stall_log_table import LogRow
from tests.properties.command_lines import PAIR, SHEET

INTAKE = ("intake", str(SHEET), "--stator", "one-way", "--profile-diameter", "345 mm", "--accept")
STALL = ("stall", *PAIR, "--reading", "gear=3 speed=1600 oil=85degC brakes=held", "--name", "4")
# One for each part of the program that writes files.
WRITES = {
    "table": ("solve", *PAIR, "--csv", "out.csv"),
    "figure": ("solve", *PAIR, "--figure", "out.svg"),
    "sheet for a test": (*STALL, "--sheet", "out.html"),
    "log": (*STALL, "--log", "out.csv"),
    "intake": (*INTAKE, "--out", "out.toml"),
    "export": ("intake", str(shipped("converters")["single-stage-345mm-tight"]),
               "--export", "out.csv"),
    "handout": ("lesson", "--out", "out"),
    "report": ("study", "quarry-loader-repower", "--draws", "0", "--out", "out"),
}  # fmt: skip


def words_in(folder, name):
    *words, last = WRITES[name]
    return [*words, str(folder / last)]


@pytest.mark.parametrize("name", WRITES)
def test_read_only_folder_gives_one_message(name, read_only_folder, capsys):
    assert main(words_in(read_only_folder, name)) == 2
    error = capsys.readouterr().err.strip().splitlines()
    assert len(error) == 1, error
    assert "read-only file system" in error[0].casefold() or "denied" in error[0].casefold()
    assert [path.name for path in read_only_folder.iterdir()] == ["there.txt"]


@pytest.mark.parametrize(
    "name", [name for name in WRITES if name not in ("log", "handout", "report")]
)
def test_full_disk_gives_one_message_and_leaves_no_part_of_a_file(name, full_disk, capsys):
    with (full_disk / "more ballast").open("wb") as file:
        file.write(b"\0" * 4096)
    assert main(words_in(full_disk, name)) == 2
    error = capsys.readouterr().err.strip().splitlines()
    assert len(error) == 1, error
    assert "no space left" in error[0].casefold()
    files = [path.name for path in full_disk.rglob("*") if path.is_file()]
    assert sorted(files) == ["ballast", "more ballast"]


def test_log_on_a_full_disk_keeps_what_it_had(full_disk):
    path = full_disk / "log.csv"
    for day in range(1, 100):
        before = path.read_bytes() if path.exists() else b""
        row = LogRow(
            time=datetime(2031, 1, 1, tzinfo=UTC) + timedelta(days=day), machine="loader 4",
            engine="e", converter="c", test="converter", gear="3", brakes="held",
            engine_speed_rpm=1750.0, oil_temperature_degc=85.0, expected_low_rpm=1700.0,
            expected_high_rpm=1850.0, coverage=0.95, place="inside", finding="", share=None,
        )  # fmt: skip
        try:
            append_rows(path, [row])
        except InputError as error:
            refusal = error
            break
        assert len(read_log(path)) == day
    else:
        pytest.fail("the disk never filled up")
    assert "no space left" in str(refusal).casefold()
    assert day > 1
    assert path.read_bytes() == before
    names = sorted(item.name for item in full_disk.iterdir())
    assert names == [".log.csv.lock", "ballast", "log.csv"]


def test_file_on_a_full_disk_is_replaced_whole_or_stays(full_disk, capsys):
    path = full_disk / "out.csv"
    path.write_text("earlier", encoding="utf-8")
    assert main(["solve", *PAIR, "--csv", str(path), "--overwrite"]) == 2
    assert "no space left" in capsys.readouterr().err.casefold()
    assert path.read_text(encoding="utf-8") == "earlier"
    assert sorted(item.name for item in full_disk.iterdir()) == ["ballast", "out.csv"]


def test_report_on_a_full_disk_keeps_the_earlier_one(full_disk, capsys):
    target = full_disk / "report"
    target.mkdir()
    head = '{"schema": "converter-match/study-result/1"}'
    (target / "result.json").write_text(head, encoding="utf-8")
    words = ["study", "quarry-loader-repower", "--draws", "0", "--overwrite", "--out", str(target)]
    assert main(words) == 2
    error = capsys.readouterr().err.strip().splitlines()
    assert len(error) == 1
    assert "no space left" in error[0].casefold()
    assert (target / "result.json").read_text(encoding="utf-8") == head
    assert sorted(item.name for item in full_disk.iterdir()) == ["ballast", "report"]


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files there")
def test_file_that_may_not_grow_is_not_left_half_written(tmp_path):
    # A write that stops in the middle, for which no root and no mount is needed.
    code = (
        "import resource, signal, sys; signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096));"
        "from converter_match.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    words = ["solve", *PAIR, "--csv", "out.csv"]
    done = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=tmp_path, capture_output=True, text=True
    )
    assert done.returncode == 2
    assert done.stderr.strip().splitlines() == [
        "converter-match: out.csv: --csv: cannot be written: file too large"
    ]
    assert list(tmp_path.iterdir()) == []


def test_full_standard_output_is_no_traceback():
    # A redirection to a full disk: the answer cannot be delivered, and the status says so.
    if not sys.platform.startswith("linux"):
        pytest.skip("needs /dev/full")
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "converter_match", "solve", *PAIR],
            stdout=full, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "no space left" in done.stderr.casefold()
