"""What Windows has not or does otherwise, tried on whichever system this is.

There nobody replaces or renames a file that a program holds open, signals and calls of POSIX are
missing, and a process starts anew instead of being copied. (Documentation of Python's `os`,
`signal` and `multiprocessing`; from memory.)
"""

import ast
import os
import signal
import sys
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library import atomic, stall_log
from converter_match.library.stall_log import append_rows, read_log
from converter_match.present.report import study_folder
from converter_match.tasks import workers
from tests.faults.test_surroundings import log_row
from tests.properties.command_lines import PAIR
from tests.study_examples import study_file

PACKAGE = Path(workers.__file__).resolve().parents[1]
STALL = ("stall", *PAIR, "--reading", "gear=3 speed=1600 oil=85degC brakes=held", "--name", "4")
# Names of `os` and `signal` that the documentation marks "Availability: Unix" and that are used
# here somewhere, or would be missed soonest.
NOT_IN_OS = (
    "geteuid",
    "getuid",
    "fork",
    "mkfifo",
    "fchmod",
    "chown",
    "killpg",
    "setsid",
    "getpgid",
)
NOT_IN_SIGNAL = ("SIGHUP", "SIGKILL", "SIGALRM", "SIGPIPE", "SIGUSR1", "alarm", "setitimer")
MODULES = ("fcntl", "resource", "pwd", "grp", "termios", "pty", "syslog")


def held_open(monkeypatch, where, name="replace", which=None):
    """Let renaming onto a file fail as it does where another program has it open."""
    rename = getattr(where, name)

    def refused(source, target, *more):
        if which is None or which in str(target):
            raise PermissionError(13, "Permission denied", str(target))
        return rename(source, target, *more)

    monkeypatch.setattr(where, name, refused)


# --- locks ---------------------------------------------------------------------------------------


def test_table_that_a_spreadsheet_holds_open_stays_and_one_line_says_why(
    tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "out.csv").write_text("as it was", encoding="utf-8")
    held_open(monkeypatch, atomic.os)
    assert main(["solve", *PAIR, "--csv", "out.csv", "--overwrite"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "out.csv: cannot be written: permission denied; is it open in another program?" in said
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]
    assert (tmp_path / "out.csv").read_text(encoding="utf-8") == "as it was"


def test_new_files_of_a_call_go_again_where_an_old_one_is_held_open(tmp_path, monkeypatch):
    old = tmp_path / "old.csv"
    old.write_text("as it was", encoding="utf-8")
    held_open(monkeypatch, atomic.os)

    def both():
        with atomic.all_or_none():
            atomic.write_text("new", tmp_path / "new.csv")
            atomic.write_text("new", old, overwrite=True)

    with pytest.raises(InputError, match="open in another program"):
        both()
    assert [path.name for path in tmp_path.iterdir()] == ["old.csv"]
    assert old.read_text(encoding="utf-8") == "as it was"


def test_reading_is_not_lost_where_the_log_is_held_open(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    append_rows("log.csv", [log_row(datetime(2031, 5, 4, tzinfo=UTC))])
    before = (tmp_path / "log.csv").read_bytes()
    held_open(monkeypatch, stall_log.os)
    assert main([*STALL, "--log", "log.csv"]) == 2
    said = capsys.readouterr()
    assert "open in another program" in said.err
    assert said.err.count("\n") == 1
    assert (tmp_path / "log.csv").read_bytes() == before
    assert {path.name for path in tmp_path.iterdir()} == {"log.csv", ".log.csv.lock"}


@pytest.mark.parametrize("held", ["the old one", "the new one"])
def test_report_that_is_read_meanwhile_stays_whole(held, tmp_path, monkeypatch):
    # Windows has no exchange of two names, and renames no folder in which a file is open.
    folder = tmp_path / "report"
    folder.mkdir()
    (folder / "result.json").write_text("{}", encoding="utf-8")
    draft = tmp_path / ".report.0123456789ab.part"
    draft.mkdir()
    monkeypatch.setattr(study_folder, "exchange", lambda one, other: False)
    rename = Path.rename

    def refused(self, target):
        if (self == folder) == (held == "the old one") and "back" not in seen:
            if held == "the new one":
                seen.append("back")
            raise PermissionError(13, "Permission denied", str(self))
        return rename(self, target)

    seen = []
    if held == "the new one":  # the old one goes, the new one cannot come: the old one comes back
        monkeypatch.setattr(Path, "rename", lambda self, target: (
            rename(self, target) if self != draft else refused(self, target)))  # fmt: skip
    else:
        monkeypatch.setattr(Path, "rename", refused)
    with pytest.raises(PermissionError):
        study_folder._put_in_place(draft, folder)
    assert (folder / "result.json").read_text(encoding="utf-8") == "{}"


# --- what is not there ---------------------------------------------------------------------------


@pytest.fixture
def no_posix(monkeypatch):
    """Take away what Windows has not, and give the one module that it has instead."""
    for module, names in ((os, NOT_IN_OS), (signal, NOT_IN_SIGNAL)):
        for name in names:
            monkeypatch.delattr(module, name, raising=False)
    for name in MODULES:
        monkeypatch.setitem(sys.modules, name, None)  # an import fails
    locked = []
    fake = SimpleNamespace(
        LK_LOCK=1, LK_UNLCK=0, locking=lambda handle, how, count: locked.append((how, count))
    )
    monkeypatch.setitem(sys.modules, "msvcrt", fake)
    monkeypatch.setattr(atomic.os, "link", no_links)
    return locked


def no_links(source, target, **options):
    raise OSError(1, "Incorrect function", source)  # on a stick in FAT


def test_log_is_locked_by_what_the_system_has(no_posix, tmp_path):
    path = tmp_path / "log.csv"
    for hour in (1, 2):
        append_rows(path, [log_row(datetime(2031, 5, 4, hour, tzinfo=UTC))])
    assert len(read_log(path)) == 2
    assert no_posix == [(1, 1), (0, 1)] * 2  # locked and let go, twice


def test_lock_that_somebody_keeps_is_said_in_one_line(no_posix, tmp_path, monkeypatch):
    def kept(handle, how, count):  # what LK_LOCK does after ten tries
        raise OSError(36, "Resource deadlock avoided")

    monkeypatch.setattr(sys.modules["msvcrt"], "locking", kept)
    with pytest.raises(InputError, match="cannot be written: resource deadlock avoided"):
        append_rows(tmp_path / "log.csv", [log_row(datetime(2031, 5, 4, tzinfo=UTC))])
    assert not (tmp_path / "log.csv").exists()


@pytest.mark.slow
def test_verbs_need_nothing_that_only_posix_has(no_posix, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    lines = (
        ("solve", *PAIR, "--csv", "out.csv", "--figure", "out.png"),
        (*STALL, "--log", "log.csv", "--sheet", "sheet.html"),
        ("check", str(study_file(tmp_path))),
    )
    for line in lines:
        assert main(list(line)) in (0, 3), line
    assert capsys.readouterr().err == ""
    for name in ("out.csv", "out.png", "log.csv", "sheet.html"):
        assert (tmp_path / name).stat().st_size, name
    assert not [path for path in tmp_path.iterdir() if path.name.endswith(".part")]


def test_folder_of_a_report_needs_nothing_that_only_posix_has(no_posix, tmp_path, monkeypatch):
    monkeypatch.setattr(study_folder, "exchange", lambda one, other: False)
    target = tmp_path / "report"
    for text in ("first", "second"):

        def fill(draft, text=text):
            (draft / "result.json").write_text(
                f'{{"schema": "converter-match/study-result/1", "is": "{text}"}}', encoding="utf-8"
            )

        study_folder._written_whole(target, fill, overwrite=True)
        assert text in (target / "result.json").read_text(encoding="utf-8")
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


def test_nobody_is_first_twice_where_there_are_no_hard_links(no_posix, tmp_path):
    atomic.write_text("one", tmp_path / "out.csv")
    with pytest.raises(InputError, match="is there already"):
        atomic.write_text("two", tmp_path / "out.csv")
    assert (tmp_path / "out.csv").read_text(encoding="utf-8") == "one"


def test_two_names_change_places_in_one_step_only_where_the_system_can(tmp_path, monkeypatch):
    def none(name, **options):  # what ctypes.CDLL(None) does there
        raise TypeError("argument of type 'NoneType' is not iterable")

    monkeypatch.setattr("ctypes.CDLL", none)
    assert not atomic.exchange(tmp_path / "a", tmp_path / "b")


# --- processes -----------------------------------------------------------------------------------


def calls(name):
    """Yield the calls of a function of that name in the package: file and arguments."""
    for path in sorted(PACKAGE.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)) if f"{name}(" in text else ():
            if isinstance(node, ast.Call):
                called = node.func
                if name == getattr(called, "attr", getattr(called, "id", "")):
                    yield path.name, [ast.unparse(each) for each in (*node.args, *node.keywords)]


def test_processes_are_spawned_and_never_copied():
    assert {tuple(words) for _, words in calls("get_context")} == {("'spawn'",)}
    for _, words in calls("ProcessPoolExecutor"):
        assert any("get_context" in word for word in words)
    assert not [*calls("fork"), *calls("Pool"), *calls("set_start_method")]


def test_module_that_a_spawned_process_loads_again_runs_nothing():
    # A spawned process loads the main module once more, under another name.
    main_module = (PACKAGE / "__main__.py").read_text(encoding="utf-8")
    code = compile(main_module, "__main__.py", "exec")
    exec(code, {"__name__": "__mp_main__"})
