"""An XLSX workbook becomes grids: stored values only, bounded, no macros.

A workbook is a ZIP archive of XML. It is looked at from outside first: how large it would unpack,
whether it carries macros or entity declarations. Formulas are never evaluated; where one stands,
the value that the spreadsheet stored last is taken, and said so.
"""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import islice
from typing import Any
from xml.etree import ElementTree  # entity declarations are refused before it is used

from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath, read_bytes
from converter_match.library.intake.grid import (
    MOST_COLUMNS,
    MOST_ROWS,
    Cell,
    Grid,
    Unusable,
    make_grid,
)
from converter_match.library.intake.problem import Problem, error, note

SIZE_LIMIT = 10_000_000
UNPACKED_LIMIT = 60_000_000
MOST_PARTS = 2000
LARGEST_RATIO = 200.0
_SMALL = 1_000_000  # below this unpacked size a high ratio is harmless
_ENTITIES = (b"<!DOCTYPE", b"<!ENTITY", "<!DOCTYPE".encode("utf-16-le"), "<!D".encode("utf-16-be"))
_ERRORS = ("#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!")


def read_workbook(path: FilePath, sheet: str | None = None) -> tuple[Grid, ...]:
    """Return the sheets of a workbook that hold something.

    Parameters
    ----------
    path : str or path-like
        XLSX.
    sheet : str, optional
        The one to take.

    Returns
    -------
    tuple of Grid

    Raises
    ------
    InputError
        If the file is too large, would unpack to too much, carries macros, is protected or
        damaged, or has no such sheet; also if openpyxl is not installed.
    """
    source = str(path)
    raw = read_bytes(path, SIZE_LIMIT, "a workbook")
    if "xl/workbook.xml" not in look_from_outside(raw, source):
        raise InputError("is a ZIP archive, not an XLSX workbook", source=source)
    try:
        import openpyxl
    except ImportError:
        raise InputError(
            "reading XLSX needs the package openpyxl",
            source=source,
            hint="python -m pip install openpyxl, or save the sheet as CSV",
        ) from None
    try:
        values = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
        formulas = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=False)
        names = [each.title for each in values.worksheets]
        refuse_unknown_sheet(sheet, names, source)
        grids = [
            _grid(values[name], formulas[name], f"{source}, sheet {name!r}", raw)
            for name in names
            if sheet in (None, name)
        ]
    except InputError:
        raise
    except Exception as damage:  # openpyxl raises whatever the damage makes it stumble over
        raise InputError(
            f"is not a workbook that can be read: {first_line(damage)}",
            source=source,
            expected="XLSX as a spreadsheet program saves it",
        ) from None
    return that_hold_something(grids, source)


def refuse_unknown_sheet(sheet: str | None, titles: Sequence[str], source: str) -> None:
    """Refuse the title of a sheet that is not there.

    Raises
    ------
    InputError
        With the titles that are.
    """
    if sheet is not None and sheet not in titles:
        raise InputError(
            "there is no such sheet",
            source=source,
            field="--sheet",
            found=sheet,
            expected=", ".join(repr(title) for title in titles),
            hint=did_you_mean(sheet, titles),
        )


def that_hold_something(grids: Iterable[Grid | None], source: str) -> tuple[Grid, ...]:
    """Return the sheets that are not empty.

    Raises
    ------
    InputError
        If all are.
    """
    found = tuple(grid for grid in grids if grid is not None)
    if not found:
        raise InputError("holds no cells", source=source, expected="a table with a heading row")
    return found


def look_from_outside(raw: bytes, source: str) -> tuple[str, ...]:
    """Return the names of the parts of a packed sheet, in small letters, if it may be opened.

    Parameters
    ----------
    raw : bytes
    source : str

    Raises
    ------
    InputError
        If it is damaged, protected, carries macros or entity declarations, or would unpack to too
        much.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(raw))
    except (zipfile.BadZipFile, ValueError, NotImplementedError) as damage:
        raise InputError(f"is a damaged workbook: {first_line(damage)}", source=source) from None
    parts = archive.infolist()
    if len(parts) > MOST_PARTS:
        raise InputError("has too many parts", source=source, found=f"{len(parts)} parts")
    unpacked = sum(part.file_size for part in parts)
    worst = max(
        (p.file_size / max(p.compress_size, 1) for p in parts if p.file_size > _SMALL), default=0.0
    )
    if unpacked > UNPACKED_LIMIT or worst > LARGEST_RATIO:
        raise InputError(
            "would unpack to too much (a packing bomb, or a sheet formatted to its last row)",
            source=source,
            found=f"{len(raw) / 1e6:.2f} MB that unpack to {unpacked / 1e6:.0f} MB",
            expected=f"at most {UNPACKED_LIMIT / 1e6:.0f} MB unpacked, no part packed more than "
            f"{LARGEST_RATIO:.0f} : 1",
            hint="copy the table into a new workbook, or save it as CSV",
        )
    for part in parts:
        name = part.filename.casefold()
        if "vbaproject" in name or name.endswith((".bas", ".xlm")) or "/macrosheets/" in name:
            raise InputError(
                "carries macros, which are not taken",
                source=source,
                found=part.filename,
                hint="save as XLSX without macros, or as CSV",
            )
        if part.flag_bits & 0x1:
            raise InputError("is protected by a password", source=source)
        if name.endswith((".xml", ".rels")):
            _refuse_entities(archive, part, source)
    return tuple(part.filename.casefold() for part in parts)


def _refuse_entities(archive: zipfile.ZipFile, part: zipfile.ZipInfo, source: str) -> None:
    try:
        text = archive.read(part)
    except Exception as damage:
        raise InputError(
            f"is a damaged workbook: {first_line(damage)}", source=source, field=part.filename
        ) from None
    if b"macroEnabled" in text and part.filename == "[Content_Types].xml":
        raise InputError(
            "is a workbook with macros, which are not taken",
            source=source,
            hint="save as XLSX without macros, or as CSV",
        )
    if any(mark in text for mark in _ENTITIES):
        raise InputError(
            "holds XML entity declarations, which no spreadsheet program writes",
            source=source,
            found=part.filename,
        )


def _hidden(raw: bytes, part: str) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the rows and columns (from 0) that a sheet hides: row by row, little in memory."""
    rows: list[int] = []
    columns: list[int] = []
    with zipfile.ZipFile(io.BytesIO(raw)).open(part) as stream:
        number = 0
        for _, element in ElementTree.iterparse(stream):
            tag = element.tag.rsplit("}", 1)[-1]
            off = element.get("hidden") in ("1", "true") or element.get("ht") == "0"
            if tag == "row":
                number = int(element.get("r") or number + 1)
                if off and number <= MOST_ROWS:
                    rows.append(number - 1)
            elif tag == "col" and (off or float(element.get("width") or 1.0) == 0.0):
                first, last = int(element.get("min") or 1), int(element.get("max") or 1)
                columns += range(first - 1, min(last, MOST_COLUMNS))
            if tag in ("row", "c"):
                element.clear()
    return tuple(rows), tuple(columns)


def _grid(values: Any, formulas: Any, source: str, raw: bytes) -> Grid | None:
    if not hasattr(values, "iter_rows"):  # a sheet that is only a chart
        return None
    # Sheets state their own size, often wrongly: do not believe it.
    values.reset_dimensions()
    formulas.reset_dimensions()
    rows: list[list[Cell]] = []
    calculated: list[str] = []
    struck: list[tuple[int, int]] = []
    problems: list[Problem] = []
    bound = {"max_row": MOST_ROWS + 1, "max_col": MOST_COLUMNS + 1}
    pairs = zip(values.iter_rows(**bound), formulas.iter_rows(**bound), strict=False)
    for stored_row, formula_row in islice(pairs, MOST_ROWS + 1):
        row: list[Cell] = []
        for stored, formula in zip(stored_row, formula_row, strict=False):
            content = _cell(stored.value, str(getattr(stored, "number_format", "") or ""))
            font = getattr(stored, "font", None)
            if content is not None and font is not None and font.strike:
                struck.append((len(rows), len(row)))
            if formula.data_type == "f":
                place = formula.coordinate
                if content is None:
                    problems.append(
                        error(
                            "formula-without-value",
                            place,
                            answer="open the file in a spreadsheet program, save it, and try again",
                        )
                    )
                    content = Unusable("(formula)", "a formula without a stored value")
                else:
                    calculated.append(place)
            row.append(content)
        rows.append(row)
    if all(cell is None for row in rows for cell in row):
        return None
    if calculated:
        listed = ", ".join(calculated[:5]) + (", ..." if len(calculated) > 5 else "")
        problems.append(note("formulas", count=len(calculated), cells=listed))
    if values.sheet_state != "visible":
        problems.append(note("hidden-sheet"))
    hidden_rows, hidden_columns = _hidden(raw, formulas._worksheet_path)
    return replace(
        make_grid(source, rows, problems),
        hidden_rows=hidden_rows,
        hidden_columns=hidden_columns,
        struck=tuple(struck),
    )


def _cell(value: Any, number_format: str) -> Cell:
    if value is None:
        return None
    if isinstance(value, bool):
        return Unusable(str(value).upper(), "true or false where a number is due")
    if isinstance(value, int | float):
        if abs(value) >= 1e300:
            return Unusable("(huge)", "a number too large")
        # Shown as 85 %, stored as 0.85: the heading speaks of what is shown.
        return f"{100.0 * value:.14g}%" if "%" in number_format else float(value)
    if isinstance(value, datetime.datetime | datetime.date | datetime.time | datetime.timedelta):
        why = "a date where a number is due: the spreadsheet has made a date of what was typed"
        return Unusable(str(value), why)
    text = str(value)
    return Unusable(text, "a spreadsheet error") if text in _ERRORS else text


def first_line(error: Exception) -> str:
    """Return the first line of what a library says of a damage, or of what kind it is."""
    return (str(error).strip().splitlines() or [type(error).__name__])[0][:120]
