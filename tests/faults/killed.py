"""Do a thing again and again, each time killed (kill -9) before another step in the file system.

Run as a program with the name of a thing and an empty folder: prints, as JSON, what the folder held
after each death, and what doing it once more after that came to. The steps are those that the
interpreter announces (opening to write, renaming, removing, making); the work is forked from a
process that has everything loaded.
"""

from __future__ import annotations

import functools
import json
import os
import shutil
import signal
import sys
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

_STEPS = ("os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.link", "os.truncate", "os.chmod")
_MOST = 400


def studies(folder: Path, *, before: bool) -> tuple[Callable[[], None], Callable[[], None]]:
    """Return what prepares and what is killed: a report written, over an earlier one or not."""
    from converter_match.judgement.decision.run import run_study
    from converter_match.library.study_file import read_study
    from converter_match.present.report import study_folder
    from tests.study_examples import study_file

    work = folder.parent / "study"
    work.mkdir(exist_ok=True)
    result = run_study(read_study(study_file(work)))
    # What is drawn is the same each time: only the writing is of interest.
    pages = study_folder.moving_pages
    study_folder.moving_pages = functools.cache(lambda *given: tuple(pages(*given)))
    for name in ("report_of", "replace", "report_html", "report_pdf"):
        setattr(study_folder, name, functools.cache(getattr(study_folder, name)))
    target = folder / "report"
    study_folder.write_study(result, work / "warm")

    def prepare() -> None:
        if before:
            shutil.copytree(work / "warm", target)
            (target / "report.html").write_text("the earlier report", encoding="utf-8")

    def act() -> None:
        study_folder.write_study(result, target, overwrite=before)

    return prepare, act


def log(folder: Path, *, before: bool) -> tuple[Callable[[], None], Callable[[], None]]:
    from converter_match.library.stall_log import append_rows
    from converter_match.library.stall_log_table import LogRow

    path = folder / "log.csv"

    def rows(day: int) -> list[LogRow]:
        return [
            LogRow(
                time=datetime(2031, 5, day, 12, tzinfo=UTC), machine=f"loader {k}", engine="e",
                converter="c", test="converter", gear="3", brakes="held", engine_speed_rpm=1750.0,
                oil_temperature_degc=85.0, expected_low_rpm=1700.0, expected_high_rpm=1850.0,
                coverage=0.95, place="inside", finding="nothing-to-see", share=0.7,
            )
            for k in range(3)
        ]  # fmt: skip

    def prepare() -> None:
        if before:
            append_rows(path, rows(1))

    return prepare, lambda: append_rows(path, rows(2))


def intake(folder: Path, *, before: bool) -> tuple[Callable[[], None], Callable[[], None]]:
    from converter_match.library.intake.reading import intake as read

    sheet = Path(__file__).resolve().parents[1] / "data" / "sheets" / "plain.csv"
    draft = read(sheet, stator="one-way", profile_diameter="345 mm")
    assert not draft.open, draft.open
    path = folder / "converter.toml"

    def prepare() -> None:
        if before:
            path.write_text("the earlier file", encoding="utf-8")

    return prepare, lambda: draft.write(path, overwrite=before)


def figure(folder: Path, *, before: bool) -> tuple[Callable[[], None], Callable[[], None]]:
    from matplotlib.figure import Figure

    from converter_match.present.drawing.style import save

    path, drawn = folder / "figure.svg", Figure(figsize=(2, 2))

    def prepare() -> None:
        if before:
            path.write_text("the earlier figure", encoding="utf-8")

    def act() -> None:
        save(drawn, path, before)

    return prepare, act


THINGS = {"study": studies, "log": log, "intake": intake, "figure": figure}


def seen(folder: Path) -> dict[str, str]:
    """Return every file but drafts, with a digest of it."""
    import hashlib

    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        hidden = name.endswith(".part") or any(part.startswith(".") for part in name.split("/"))
        if path.is_file() and not hidden:
            found[name] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


def child(act: Callable[[], None], step: int) -> int:
    """Fork, do it, die before the given step; return 9 if killed, 0 if it got to the end."""
    number = os.fork()
    if number == 0:
        count = 0

        def watch(event: str, arguments: tuple[object, ...]) -> None:
            nonlocal count
            writes = event == "open" and isinstance(arguments[2], int) and arguments[2] & (
                os.O_WRONLY | os.O_RDWR | os.O_CREAT)  # fmt: skip
            if writes or event in _STEPS:
                count += 1
                if count > step:
                    os.kill(os.getpid(), signal.SIGKILL)

        try:
            sys.addaudithook(watch)
            act()
        except BaseException:
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    _, status = os.waitpid(number, 0)
    return os.WTERMSIG(status) if os.WIFSIGNALED(status) else os.WEXITSTATUS(status)


def main(name: str, before: bool, folder: Path) -> None:
    prepare, act = THINGS[name](folder, before=before)

    def fresh() -> None:
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        prepare()

    fresh()
    old = seen(folder)
    assert child(act, _MOST) == 0
    new = seen(folder)
    deaths = []
    for step in range(_MOST):
        fresh()
        end = child(act, step)
        after = seen(folder)
        if end == 0 or sum(death["after"] == new for death in deaths) == 3:
            break  # done, or in place and only clearing up
        again = None
        if after == old and (step < 2 or step % 4 == 0):
            again = child(act, _MOST)
        deaths.append({"end": end, "after": after, "again": again, "then": seen(folder)})
    json.dump({"old": old, "new": new, "deaths": deaths}, sys.stdout)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2] == "before", Path(sys.argv[3]))
