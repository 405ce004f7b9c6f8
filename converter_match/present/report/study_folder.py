"""A study's result as a folder: whole or not at all, and in nobody's place without being asked."""

from __future__ import annotations

import json
import os
import shutil
import uuid
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from converter_match.errors import InputError
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.motor.study_result import MotorStudyResult
from converter_match.library.atomic import can_be_a_name, clear_drafts, exchange
from converter_match.library.interrupts import holding_stops
from converter_match.library.names import refuse_device
from converter_match.library.study_copies import (
    INDEX,
    INPUTS,
    Settings,
    copies_of,
    index_text,
    inputs_as_written,
)
from converter_match.present.report.content import report_of
from converter_match.present.report.html import report_html
from converter_match.present.report.model import Report
from converter_match.present.report.moving_pages import moving_pages
from converter_match.present.report.pdf import report_pdf
from converter_match.present.report.study_tables import study_tables
from converter_match.units import System

Progress = Callable[[int, int, str], None]

REPORT, PAGES, NUMBERS = "report.html", "report.pdf", "result.json"
TABLES, FIGURES, MOVING = "tables", "figures", "pages"
_OURS = (REPORT, PAGES, NUMBERS, TABLES, FIGURES, MOVING, INPUTS)
_SCHEMAS = ('"converter-match/study-result/1"', '"converter-match/motor-study-result/1"')


def check_target(target: Path, *, overwrite: bool = False) -> None:
    """Refuse a place for a report before any work is done.

    Parameters
    ----------
    target : path
    overwrite : bool
        Whether an earlier report may be replaced. Any other folder with something in it is never
        replaced.

    Raises
    ------
    InputError
        If something is there that may not be replaced, or there is no folder to make it in.
    """
    where = {"source": "--out", "found": str(target)}
    refuse_device(target, source=str(target), field="--out")
    if not os.path.lexists(target):
        _check_new(target, where)
        return
    if target.is_symlink() or not target.is_dir():
        raise InputError(
            "is there already and is not a folder",
            **where,
            expected="the name of a new folder",
        )
    here = Path.cwd()
    if any(target.samefile(folder) for folder in (here, *here.parents)):
        # The report takes the folder's place in one step, and would leave whoever stands in it
        # in one that is gone.
        raise InputError(
            "is the folder that you are in, or holds it",
            **where,
            expected="the name of a new folder",
            hint="for example: --out report",
        )
    entries = sorted(entry.name for entry in target.iterdir())
    if not entries:
        return
    if not overwrite:
        raise InputError(
            "the folder is there already and nothing is overwritten without being asked",
            **where,
            hint="give another name, or add --overwrite",
        )
    others = [name for name in entries if name not in _OURS] + _strangers(target)
    if others or not _is_report(target):
        raise InputError(
            "the folder holds what no report put there, and is left alone",
            **where,
            expected="a folder that holds an earlier report and nothing else",
            hint=f"for example {others[0]!r}" if others else None,
        )


def _check_new(target: Path, where: dict[str, str]) -> None:
    """Refuse a folder that could not be made."""
    if not can_be_a_name(str(target)):
        raise InputError("no folder can have this name", **where)
    try:
        if not target.parent.exists():
            os.lstat(target.absolute())  # a name that is too long is said so by the system
        else:
            os.lstat(_draft_of(target))
    except (FileNotFoundError, NotADirectoryError):
        pass
    except OSError as error:
        raise InputError(f"cannot be written ({error.strerror or error})", **where) from None
    above = next(folder for folder in target.absolute().parents if folder.exists())
    if not above.is_dir():
        raise InputError("lies inside a file", **where)
    if not os.access(above, os.W_OK):
        raise InputError(
            "the folder above cannot be written to: it is read-only, or permission is denied",
            **where,
        )


def _draft_of(folder: Path) -> Path:
    return folder.absolute().with_name(f".{folder.name}.{uuid.uuid4().hex[:12]}.part")


def _strangers(folder: Path) -> list[str]:
    """Return what lies among the parts of a report and is none, or was changed since."""
    kinds = {TABLES: (".csv",), FIGURES: (".svg", ".png"), MOVING: (".html",)}
    among_inputs = []
    if (folder / INPUTS).exists():
        ours = inputs_as_written(folder)
        files = (path for path in sorted((folder / INPUTS).rglob("*")) if not path.is_dir())
        places = (path.relative_to(folder).as_posix() for path in files)
        among_inputs = [INPUTS] if ours is None else [name for name in places if name not in ours]
    return among_inputs + [
        entry.relative_to(folder).as_posix()
        for name, suffixes in kinds.items()
        if (folder / name).is_dir()
        for entry in sorted((folder / name).iterdir())
        if entry.suffix not in suffixes or not entry.is_file()
    ]


def _is_report(folder: Path) -> bool:
    try:
        with (folder / NUMBERS).open(encoding="utf-8") as file:
            head = file.read(200)
            return any(schema in head for schema in _SCHEMAS)
    except (OSError, UnicodeDecodeError):
        return False


def write_study(
    result: StudyResult,
    target: str | os.PathLike[str],
    *,
    overwrite: bool = False,
    system: System = "si",
    tables: System | None = None,
    progress: Progress | None = None,
) -> Path:
    """Write report, tables, figures, numbers, and copies of what they were made from.

    Everything is made in a hidden folder beside the target, which takes its name at the very end:
    an interruption (ctrl-C, or a request to end the process) leaves nothing half-written.

    Parameters
    ----------
    result : StudyResult
    target : path
    overwrite : bool
        Whether an earlier report may be replaced.
    system : {"si", "us"}
    tables : {"si", "us"}, optional
        Units of the tables; those of the report without.
    progress : callable, optional
        Called with (done, all, what comes next).

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    InputError
        As `check_target`, or if it cannot be written.
    """
    said = progress or (lambda done, total, what: None)
    return _written_whole(
        Path(target),
        lambda draft: _fill(draft, result, system, tables or system, said),
        overwrite=overwrite,
    )


def write_motor_study(
    result: MotorStudyResult,
    target: str | os.PathLike[str],
    *,
    overwrite: bool = False,
    system: System = "si",
) -> Path:
    """Write report, figures and numbers of a motor study; otherwise as `write_study`.

    Parameters
    ----------
    result : MotorStudyResult
    target : path
    overwrite : bool
        Whether an earlier report may be replaced.
    system : {"si", "us"}

    Raises
    ------
    InputError
        As `check_target`, or if it cannot be written.
    """
    from converter_match.present.report.motor_study import motor_study_report

    def fill(draft: Path) -> None:
        _write_report(draft, motor_study_report(result, system))
        _write_numbers(draft, result.to_dict())

    return _written_whole(Path(target), fill, overwrite=overwrite)


def _written_whole(folder: Path, fill: Callable[[Path], None], *, overwrite: bool) -> Path:
    """Fill a hidden folder beside the place of a report, and put it there at the very end."""
    check_target(folder, overwrite=overwrite)
    try:
        folder.absolute().parent.mkdir(parents=True, exist_ok=True)
        clear_drafts(folder)
        draft = _draft_of(folder)
        with holding_stops() as stops:
            try:
                draft.mkdir()
                with stops.heeded():
                    fill(draft)
                _put_in_place(draft, folder)
            finally:  # whatever is left of it
                shutil.rmtree(draft, ignore_errors=True)
    except OSError as error:
        raise InputError(
            f"cannot be written ({error.strerror or error})", source="--out", found=str(folder)
        ) from None
    return folder


def _fill(
    draft: Path, result: StudyResult, system: System, tables: System, progress: Progress
) -> None:
    progress(0, 5, "drawing")
    report = report_of(result, system)
    progress(1, 5, "web pages")
    (draft / MOVING).mkdir()
    links = []
    for page in moving_pages(result, system):
        if page.name:
            _write(draft / MOVING / page.name, page.html.encode("utf-8"))
        links.append((page.title, f"{MOVING}/{page.name}" if page.name else "", page.html))
    _write_report(draft, replace(report, pages=tuple(links)), progress)
    progress(4, 5, "tables and numbers")
    (draft / TABLES).mkdir()
    for name, text in study_tables(result, tables).items():
        _write(draft / TABLES / name, text.encode("utf-8"))
    _write_numbers(draft, result.to_dict())
    _write_inputs(draft, result, system, tables)
    progress(5, 5, "done")


def _write_report(draft: Path, report: Report, progress: Progress | None = None) -> None:
    """Write a report as page, figures and PDF."""
    said = progress or (lambda done, total, what: None)
    _write(draft / REPORT, report_html(report).encode("utf-8"))
    said(2, 5, "figures")
    (draft / FIGURES).mkdir()
    for picture in report.pictures:
        _write(draft / FIGURES / f"{picture.name}.svg", picture.svg)
        _write(draft / FIGURES / f"{picture.name}.png", picture.png)
    said(3, 5, "PDF")
    _write(draft / PAGES, report_pdf(report))


def _write_numbers(draft: Path, numbers: dict[str, Any]) -> None:
    text = json.dumps(numbers, indent=2, allow_nan=False)
    _write(draft / NUMBERS, (text + "\n").encode("utf-8"))


def _write_inputs(draft: Path, result: StudyResult, system: System, tables: System) -> None:
    """Write what the study was read from; a study built by hand was read from nothing."""
    inputs, sure = result.study.inputs, result.uncertainty
    if not inputs:
        return
    for place, content in {place: item.content for item, place in copies_of(inputs)}.items():
        (draft / place).parent.mkdir(parents=True, exist_ok=True)
        _write(draft / place, content)
    draws, seed = (0, 0) if sure is None else (sure.draws, sure.seed)
    index = index_text(inputs, Settings(units=system, tables=tables, draws=draws, seed=seed))
    _write(draft / INPUTS / INDEX, index.encode("utf-8"))


def _write(path: Path, content: bytes) -> None:
    with path.open("xb") as file:
        file.write(content)


def _put_in_place(draft: Path, folder: Path) -> None:
    """Give the draft the name of the target; an earlier report goes only when it has it."""
    if not folder.exists():
        draft.rename(folder)
        return
    if exchange(draft, folder):  # the earlier report is the draft now, and goes with it
        return
    # Named as a draft, so that the next run clears it away where something in it is held open now.
    old = draft.with_name(f".{folder.name}.{uuid.uuid4().hex[:12]}.part")
    folder.rename(old)
    try:
        draft.rename(folder)
    except BaseException:
        old.rename(folder)
        raise
    shutil.rmtree(old, ignore_errors=True)
