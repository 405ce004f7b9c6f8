"""Files that are asked for together, and names that are no files or are taken meanwhile."""

import os
import subprocess
import sys
import threading

import pytest

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library import atomic

PAIR = ("--engine", "six-cylinder-9l-240kw", "--converter", "single-stage-390mm-full-range")


def leftovers(folder):
    return sorted(path.name for path in folder.iterdir())


def test_of_six_writers_of_one_new_file_exactly_one_succeeds(tmp_path):
    target, start = tmp_path / "new.csv", threading.Barrier(6)
    refused, written = [], []

    def write(number):
        start.wait()
        try:
            atomic.write_text(f"{number}", target)
            written.append(number)
        except InputError as error:
            refused.append(str(error))

    writers = [threading.Thread(target=write, args=(number,)) for number in range(6)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert len(refused) == 5
    assert all("is there already" in words for words in refused)
    assert target.read_text() == f"{written[0]}"
    assert leftovers(tmp_path) == ["new.csv"]


def test_a_name_taken_between_the_look_and_the_end_is_not_overwritten(tmp_path):
    target = tmp_path / "new.csv"

    def writes():
        with atomic.all_or_none():
            atomic.write_text("ours", target)
            target.write_text("theirs")

    with pytest.raises(InputError, match="is there already"):
        writes()
    assert target.read_text() == "theirs"
    assert leftovers(tmp_path) == ["new.csv"]


@pytest.mark.parametrize("old", [None, "as it was"])
def test_no_file_is_there_when_a_later_one_fails(tmp_path, old):
    first = tmp_path / "first.csv"
    if old is not None:
        first.write_text(old)

    def writes():
        with atomic.all_or_none():
            atomic.write_text("new", first, overwrite=True)
            atomic.write_text("new", tmp_path / "second.csv")
            (tmp_path / "second.csv").mkdir()

    with pytest.raises(InputError, match="is there already"):
        writes()
    (tmp_path / "second.csv").rmdir()
    assert leftovers(tmp_path) == ([] if old is None else ["first.csv"])
    assert old is None or first.read_text() == old


@pytest.mark.slow
def test_a_figure_that_cannot_be_written_leaves_no_table(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    opened = open

    def full(path, *args, **options):
        if "picture" in str(path) and "x" in str(args):
            raise OSError(28, "No space left on device")
        return opened(path, *args, **options)

    monkeypatch.setattr("builtins.open", full)
    assert main(["solve", *PAIR, "--csv", "table.csv", "--figure", "picture.png"]) == 2
    assert "picture.png: cannot be written: no space left" in capsys.readouterr().err
    assert leftovers(tmp_path) == []


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="has no named pipes")
@pytest.mark.parametrize("option", ["--csv", "--figure"])
def test_overwriting_is_for_files_and_not_for_pipes_and_devices(tmp_path, capsys, option):
    os.mkfifo(tmp_path / "pipe.png")
    os.symlink("/dev/null", tmp_path / "null.png")
    for name in ("pipe.png", "null.png"):
        given = str(tmp_path / name)
        assert main(["solve", *PAIR, option, given, "--overwrite"]) == 2
        assert "is a device, a pipe or a socket; expected the name of a file" in (
            capsys.readouterr().err
        )
    with pytest.raises(InputError, match="a device, a pipe or a socket"):
        atomic.write_text("", tmp_path / "null.png", overwrite=True)
    assert leftovers(tmp_path) == ["null.png", "pipe.png"]


def test_a_folder_that_cannot_be_written_to_is_named_before_anything_is_computed(
    tmp_path, monkeypatch, capsys
):
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    monkeypatch.setattr("converter_match.cli.solve.run", lambda args: pytest.fail("computed"))
    assert main(["solve", *PAIR, "--csv", str(tmp_path / "a.csv")]) == 2
    assert "--csv: the folder cannot be written to" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="a shell of another kind")
def test_a_closed_standard_output_is_said_and_nothing_written(tmp_path):
    command = f'"{sys.executable}" -m converter_match solve {" ".join(PAIR)} --csv a.csv >&-'
    done = subprocess.run(
        ["sh", "-c", command], cwd=tmp_path, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 2
    assert done.stderr == (
        "converter-match: standard output is closed: nobody would see the answer\n"
    )
    assert leftovers(tmp_path) == []
