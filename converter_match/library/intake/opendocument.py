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
        document = load(io.BytesIO(raw))
        tables = document.spreadsheet.getElementsByType(Table)
        struck = _striking(document)
        titles = [str(table.getAttribute("name") or "") for table in tables]
        refuse_unknown_sheet(sheet, titles, source)
        grids = [
            _grid(table, f"{source}, sheet {title!r}", struck)
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


def _striking(document: Any) -> frozenset[str]:
    """Return the names of the styles that strike text through, by themselves or by their parent."""
    from odf.style import Style, TextProperties

    own: dict[str, bool] = {}
    parent: dict[str, str] = {}
    for part in (document.styles, document.automaticstyles):
        for style in part.getElementsByType(Style):
            name = str(style.getAttribute("name") or "")
            parent[name] = str(style.getAttribute("parentstylename") or "")
            for properties in style.getElementsByType(TextProperties):
                line = properties.getAttribute("textlinethroughstyle")
                kind = properties.getAttribute("textlinethroughtype")
                if line is not None or kind is not None:
                    own[name] = any(each not in (None, "none") for each in (line, kind))
    found = set()
    for name in parent:
        at, seen = name, {""}
        while at not in seen and at not in own:
            seen.add(at)
            at = parent.get(at, "")
        if own.get(at, False):
            found.add(name)
    return frozenset(found)


def _columns(table: Any) -> tuple[list[bool], list[str]]:
    """Return of each column whether it is hidden, and the style of its cells."""
    from odf.table import TableColumn

    hidden: list[bool] = []
    styles: list[str] = []
    for column in table.getElementsByType(TableColumn):
        times = min(_times(column, "numbercolumnsrepeated"), MOST_COLUMNS + 1 - len(hidden))
        hidden += [column.getAttribute("visibility") in ("collapse", "filter")] * times
        styles += [str(column.getAttribute("defaultcellstylename") or "")] * times
    return hidden, styles


def _is_struck(cell: Any, usual: str, struck: frozenset[str]) -> bool:
    """Return whether a cell, or a piece of the text in it, is struck through."""
    from odf.text import P, Span

    if not struck:
        return False
    names = [str(cell.getAttribute("stylename") or usual)]
    for kind in (P, Span):
        names += [str(part.getAttribute("stylename")) for part in cell.getElementsByType(kind)]
    return any(name in struck for name in names)


def _grid(table: Any, source: str, struck: frozenset[str]) -> Grid | None:
    from odf.table import CoveredTableCell, TableCell, TableRow

    aside, usual = _columns(table)
    marks: list[tuple[int, int]] = []
    rows: list[list[Cell]] = []
    hidden: list[int] = []
    problems: list[Problem] = []
    calculated = 0
    for row in table.getElementsByType(TableRow):
        cells: list[Cell] = []
        own = str(row.getAttribute("defaultcellstylename") or "")
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
            times = min(times, MOST_COLUMNS + 1 - len(cells))
            at = len(cells)
            if content is not None and times > 0:
                style = own or (usual[at] if at < len(usual) else "")
                if _is_struck(cell, style, struck):
                    marks += [(len(rows), at + k) for k in range(times)]
            cells += [content] * times
        times = min(_times(row, "numberrowsrepeated"), MOST_ROWS + 1 - len(rows))
        if row.getAttribute("visibility") in ("collapse", "filter"):
            hidden += range(len(rows), len(rows) + times)
        again = [place for place in marks if place[0] == len(rows)]
        marks += [(row_at + k, at) for k in range(1, times) for row_at, at in again]
        rows += [list(cells) for _ in range(times)]
    if all(cell is None for row in rows for cell in row):
        return None
    if calculated:
        problems.append(note("formulas", count=calculated, cells="..."))
    return replace(
        make_grid(source, rows, problems),
        hidden_rows=tuple(hidden),
        hidden_columns=tuple(number for number, off in enumerate(aside) if off),
        struck=tuple(marks),
    )


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
