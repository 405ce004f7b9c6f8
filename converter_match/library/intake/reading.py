"""The front door of intake: a sheet in, a draft out."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from converter_match.errors import InputError
from converter_match.library.files import FilePath, read_bytes
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.answers_file import with_saved
from converter_match.library.intake.columns import gather
from converter_match.library.intake.converter_sheet import read_converter_sheet
from converter_match.library.intake.draft import Draft, draft_of, on_saved
from converter_match.library.intake.engine_sheet import read_engine_sheet
from converter_match.library.intake.facts import facts_of
from converter_match.library.intake.grid import Grid
from converter_match.library.intake.image_file import read_image
from converter_match.library.intake.layout import lay_out
from converter_match.library.intake.motor_sheet import read_motor_sheet
from converter_match.library.intake.ocr import Reader
from converter_match.library.intake.opendocument import read_opendocument
from converter_match.library.intake.problem import error
from converter_match.library.intake.rating_line import intake_rating
from converter_match.library.intake.scan import Scan, scan_of
from converter_match.library.intake.sheet import Reading
from converter_match.library.intake.spec_line import LONGEST_LINE
from converter_match.library.intake.stall_line import intake_stall, tells_a_stall
from converter_match.library.intake.table import SheetTable
from converter_match.library.intake.text_table import decoded, read_text_table, text_grid
from converter_match.library.intake.workbook import SIZE_LIMIT, read_workbook

_REFUSED = {
    ".xlsm": "is a workbook with macros, which are not taken",
    ".xltm": "is a template with macros, which are not taken",
    ".xlam": "is an add-in with macros, which is not taken",
    ".xlsb": "is a binary workbook, which cannot be read here",
    ".xls": "is an old binary workbook, which cannot be read here",
}
_READ = {
    "converter": read_converter_sheet,
    "engine": read_engine_sheet,
    "motor": read_motor_sheet,
}
_OPEN_DOCUMENT = b"opendocument.spreadsheet"  # the first part of such a file says what it is
_DESCRIBE = (
    "a chart: describe it by a small TOML file, and give that; a table: --ocr reads it, with the "
    "extra of that name (docs/intake.md)"
)
_SIGNATURES = (
    (b"\xd0\xcf\x11\xe0", "is an old or a protected office file", "save it as XLSX or CSV"),
    (b"%PDF", "is a PDF", f"copy its table as text; or {_DESCRIBE}"),
    (b"\x89PNG", "is a picture", _DESCRIBE),
    (b"\xff\xd8\xff", "is a picture", _DESCRIBE),
    (b"\x1f\x8b", "is a packed file", "unpack it first"),
    (b"7z\xbc\xaf", "is a packed file", "unpack it first"),
)


def intake(
    path: FilePath, answers: Answers | None = None, *, fresh: bool = False, **more: Any
) -> Draft:
    r"""Read a dealer's sheet as it comes.

    Parameters
    ----------
    path : str or path-like
        CSV, TSV, XLSX, or text copied from a document.
    answers : Answers, optional
        What is known beside the sheet.
    fresh : bool
        Whether to leave answers aside that were saved beside the sheet.
    **more
        Fields of `Answers`, or facts by name (a text with its unit, or a number in SI):
        ``profile_diameter="345 mm"``, ``stator="one-way"``, ``units={"K": "rpm/sqrt(lbf.ft)"}``.

    Returns
    -------
    Draft
        Ask it for `preview`, `problems`, `rejected`; `Draft.accept` makes the component when
        nothing is open.

    Raises
    ------
    InputError
        If the file cannot be read at all: no such file, too large, binary, with macros, packed to
        bursting, or without anything like a table; for a key to confirm that no question has.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> sheet = "SR;TR;K [rpm/sqrt(Nm)]\n0;2,20;62,0\n0,5;1,52;63,0\n0,86;1;68,0\n0,95;1;110\n"
    >>> path = pathlib.Path(tempfile.mkdtemp()) / "sheet.csv"
    >>> _ = path.write_text(sheet, encoding="utf-8")
    >>> draft = intake(path)
    >>> [problem.code for problem in draft.open]
    ['stator-inferred']
    >>> draft.accept(confirm="stator").coupling
    0.86
    """
    known = (answers or Answers()).plus(**more)
    known = known if fresh else with_saved(known, path)
    stall = _told(path, known)
    if stall:
        return intake_stall(stall, os.fspath(path), **_fields(known))
    return _chosen(_grids(path, known), known).with_known_keys()


def intake_text(text: str, name: str = "clipboard", **more: Any) -> Draft:
    """Read a table from text, such as the clipboard's; the parameters are those of `intake`."""
    if tells_a_stall(text):
        return intake_stall(text, name, **more)
    return _chosen((text_grid(text, name),), Answers().plus(**more)).with_known_keys()


def intake_line(line: str, **more: Any) -> Draft:
    """Read a spec line: an engine's rating, or how a converter stalls.

    Parameters
    ----------
    line : str
    **more
        As in `intake`; ``kind`` settles what the line is about.
    """
    kind = more.get("kind")
    if kind == "converter" or (kind is None and tells_a_stall(line)):
        return intake_stall(line, **more)
    return intake_rating(line, **more)


def intake_scan(
    path: FilePath, answers: Answers | None = None, *, fresh: bool = False, **more: Any
) -> Draft:
    """Read a table off a picture: PNG, JPEG, or a page of a PDF.

    The parameters are those of `intake`, and ``page``. Every cell is asked about: the table as a
    whole, and what is in doubt by itself. `Draft.scan` holds each cell with its snippet.

    Raises
    ------
    InputError
        As `intake`; if the package that reads words off pictures is not installed, or no table was
        read.
    """
    known = (answers or Answers()).plus(**more)
    known = known if fresh else with_saved(known, path)
    source = os.fspath(path)
    image = read_image(path, known.page or 1)
    reader = Reader(source)
    image, words = reader.words(image)
    return draft_of_scan(scan_of(source, image, words, reader), known).with_known_keys()


def draft_of_scan(scan: Scan, answers: Answers) -> Draft:
    """Return the draft of a table that was read off a picture."""

    def again(answers: Answers) -> Draft:
        return draft_of_scan(scan, answers)

    grid = scan.grid(answers)
    try:
        draft = _draft(grid, answers)
    except InputError as refusal:  # the cells are shown all the same: one of them may be read wrong
        why = str(refusal.changed(source=None))
        problems = [*grid.notes, error("scan-not-understood", why=why)]
        kind = answers.kind or "converter"
        reading = Reading(None, SheetTable(grid.source, kind, (), ()), problems)
        draft = draft_of(reading, kind, grid.source, answers, again)
        draft = replace(draft, grid=grid, sheet=None)
    return replace(draft, scan=scan, _again=again)


def sheet_names(path: FilePath) -> tuple[str, ...]:
    """Return the names of the sheets of a workbook that hold something; one empty name otherwise.

    Raises
    ------
    InputError
        If the file cannot be read.
    """
    if not read_bytes(path, SIZE_LIMIT, "a table").startswith(b"PK"):
        return ("",)
    grids = _grids(path, Answers())
    return tuple(grid.source.split(", sheet ", 1)[1].strip("'") for grid in grids)


def _told(path: FilePath, known: Answers) -> str:
    """Return the text of a file that says how a converter stalls; empty for any other file."""
    if known.kind in ("engine", "motor") or known.sheet is not None:
        return ""
    raw = read_bytes(path, SIZE_LIMIT, "a table")
    if len(raw) > 4 * LONGEST_LINE or raw[:1] in (b"", b"\0") or raw.startswith(b"PK"):
        return ""
    try:
        text, _ = decoded(raw, os.fspath(path), known.encoding)
    except InputError:  # no text: said where it is read as a table
        return ""
    return text if tells_a_stall(text) else ""


def _fields(known: Answers) -> dict[str, Any]:
    return {each.name: getattr(known, each.name) for each in fields(known)}


def _grids(path: FilePath, known: Answers) -> tuple[Grid, ...]:
    source, sheet = os.fspath(path), known.sheet
    ending = os.path.splitext(source)[1].casefold()
    start = read_bytes(path, SIZE_LIMIT, "a table")[:200]
    if ending in _REFUSED:
        raise InputError(_REFUSED[ending], source=source, hint="save it as XLSX or CSV")
    for signature, what, hint in _SIGNATURES:
        if start.startswith(signature):
            raise InputError(what, source=source, expected="CSV, text or XLSX", hint=hint)
    if start.startswith(b"PK"):
        open_document = ending == ".ods" or _OPEN_DOCUMENT in start
        return read_opendocument(path, sheet) if open_document else read_workbook(path, sheet)
    if sheet is not None:
        raise InputError("only a workbook has sheets", source=source, field="--sheet", found=sheet)
    return (read_text_table(path, known.encoding),)


def _chosen(grids: Sequence[Grid], answers: Answers) -> Draft:
    """Return the draft of the one sheet that holds a table."""
    found: list[tuple[Grid, Draft]] = []
    refusals: list[InputError] = []
    for grid in grids:
        try:
            found.append((grid, _draft(grid, answers)))
        except InputError as refusal:
            refusals.append(refusal)
    if not found:
        raise refusals[0]
    if len(found) > 1:
        raise InputError(
            "several sheets hold a table",
            source=found[0][0].source.split(", sheet ")[0],
            field="--sheet",
            expected="the name of one of them: "
            + ", ".join(grid.source.split(", sheet ")[1] for grid, _ in found),
        )
    return found[0][1]


def _draft(grid: Grid, answers: Answers) -> Draft:
    layout = lay_out(grid, answers)
    gathered = gather(layout, answers)
    facts, noticed = facts_of(layout, answers)
    gathered.problems += [*noticed, *on_saved(answers)]
    read = _READ[layout.kind]
    # Absurd numbers may overflow on their way to being questioned.
    with np.errstate(all="ignore"):
        reading = read(gathered, facts, answers)
    draft = draft_of(
        reading,
        layout.kind,
        grid.source,
        answers,
        lambda answers: _draft(grid, answers),
        remarks=tuple(gathered.remarks),
    )
    return replace(draft, grid=grid)
