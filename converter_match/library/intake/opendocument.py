"""An OpenDocument sheet (ODS) becomes grids: stored values only, bounded, no macros.

It is looked at from outside first, like an XLSX workbook (`workbook`). Formulas are never
evaluated; the value stored with them is taken, and said so. Attributes are those of OASIS Open
Document Format 1.2, part 1, chapters 9 and 19.
"""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

from converter_match.errors import InputError
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
from converter_match.library.intake.workbook import (
    SIZE_LIMIT,
    first_line,
    look_from_outside,
    refuse_unknown_sheet,
    that_hold_something,
)

_MACROS = ("basic/", "scripts/")
_DATE = "a date where a number is due: the spreadsheet has made a date of what was typed"


def read_opendocument(path: FilePath, sheet: str | None = None) -> tuple[Grid, ...]:
    """Return the sheets of an OpenDocument spreadsheet that hold something.

    Parameters
    ----------
    path : str or path-like
        ODS.
    sheet : str, optional
        The one to take.

    Raises
    ------
    InputError
        If the file is too large, would unpack to too much, carries macros, is protected or
        damaged, or has no such sheet; also if odfpy is not installed.
    """
    source = str(path)
    raw = read_bytes(path, SIZE_LIMIT, "a spreadsheet")
    names = look_from_outside(raw, source)
    if any(name.startswith(_MACROS) for name in names):
        raise InputError(
            "carries macros, which are not taken",
            source=source,
            hint="save it without macros, or as CSV",
        )
    try:
        from odf.opendocument import load
        from odf.table import Table
    except ImportError:
        raise InputError(
            "reading ODS needs the package odfpy",
            source=source,
            hint='python -m pip install "converter-match[intake]", or save the sheet as CSV',
        ) from None
    try:
        tables = load(io.BytesIO(raw)).spreadsheet.getElementsByType(Table)
        titles = [str(table.getAttribute("name") or "") for table in tables]
        refuse_unknown_sheet(sheet, titles, source)
        grids = [
            _grid(table, f"{source}, sheet {title!r}")
            for table, title in zip(tables, titles, strict=True)
            if sheet in (None, title)
        ]
    except InputError:
        raise
    except Exception as damage:  # odfpy raises whatever the damage makes it stumble over
        raise InputError(
            f"is not a spreadsheet that can be read: {first_line(damage)}",
            source=source,
            expected="ODS as a spreadsheet program saves it",
        ) from None
    return that_hold_something(grids, source)


def _grid(table: Any, source: str) -> Grid | None:
    from odf.table import CoveredTableCell, TableCell, TableRow

    rows: list[list[Cell]] = []
    hidden: list[int] = []
    problems: list[Problem] = []
    calculated = 0
    for row in table.getElementsByType(TableRow):
        cells: list[Cell] = []
        for cell in row.childNodes:
            if cell.qname not in (TableCell().qname, CoveredTableCell().qname):
                continue
            content = _cell(cell)
            if cell.getAttribute("formula"):
                calculated += content is not None
                if content is None:
                    place = f"row {len(rows) + 1}"
                    answer = "open the file in a spreadsheet program, save it, and try again"
                    problems.append(error("formula-without-value", place, answer=answer))
                    content = Unusable("(formula)", "a formula without a stored value")
            times = _times(cell, "numbercolumnsrepeated")
            cells += [content] * min(times, MOST_COLUMNS + 1 - len(cells))
        times = min(_times(row, "numberrowsrepeated"), MOST_ROWS + 1 - len(rows))
        if row.getAttribute("visibility") in ("collapse", "filter"):
            hidden += range(len(rows), len(rows) + times)
        rows += [list(cells) for _ in range(times)]
    if all(cell is None for row in rows for cell in row):
        return None
    if calculated:
        problems.append(note("formulas", count=calculated, cells="..."))
    return replace(make_grid(source, rows, problems), hidden_rows=tuple(hidden))


def _times(element: Any, attribute: str) -> int:
    text = str(element.getAttribute(attribute) or "1")
    return max(int(text), 1) if text.isdigit() else 1


def _cell(cell: Any) -> Cell:
    from odf import teletype
    from odf.text import P

    kind = cell.getAttribute("valuetype")
    value = cell.getAttribute("value")
    if kind in ("float", "currency") and value is not None:
        return float(value)
    if kind == "percentage" and value is not None:
        return f"{100.0 * float(value):.14g}%"
    words = " ".join(teletype.extractText(part) for part in cell.getElementsByType(P)).strip()
    if kind in ("date", "time"):
        return Unusable(words, _DATE)
    if kind == "boolean":
        return Unusable(words, "true or false where a number is due")
    return words or None
