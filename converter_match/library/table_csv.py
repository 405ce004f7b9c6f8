"""A table in a CSV file whose head names the units: ``length [m],grade [%],surface``.

The units may stand in a line of their own below the names instead. Delimiters and decimals are
those of `library.delimited`; a row that has too many cells says so.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from converter_match.errors import InputError, did_you_mean
from converter_match.library.delimited import delimiter_of, with_point
from converter_match.library.files import FilePath, read_text
from converter_match.library.recognise import other_kind_hint
from converter_match.units import dimensions_of, to_si

_HEAD = re.compile(r"\s*(?P<name>[^\[\(]*?)\s*(?:[\[\(]\s*(?P<unit>[^\]\)]*)\s*[\]\)])?\s*")
_COMMENT = "#"


@dataclass(frozen=True)
class CsvColumn:
    """A column that may stand in the table.

    Parameters
    ----------
    name : str
        As in the head, without the unit; ``_`` and spaces are the same.
    dimension : str or None
        None for text.
    required : bool
        Whether the column has to be there.
    blank : float or None
        Value of an empty cell; None where a cell has to be filled.
    """

    name: str
    dimension: str | None = None
    required: bool = True
    blank: float | None = None


@dataclass(frozen=True)
class CsvTable:
    """What was read.

    Parameters
    ----------
    source : str
    lines : tuple of int
        Line of each row in the file, counted from 1.
    numbers : dict
        Name -> SI values, one a row; only columns that are there.
    texts : dict
        Name -> texts.
    remarks : dict
        ``# name: text`` lines before the head.
    """

    source: str
    lines: tuple[int, ...]
    numbers: Mapping[str, tuple[float, ...]]
    texts: Mapping[str, tuple[str, ...]]
    remarks: Mapping[str, str]

    def place(self, row: int, column: str) -> str:
        """Return where a cell stands, for a message."""
        return f"line {self.lines[row]}, {column}"


def read_table(path: FilePath, columns: Sequence[CsvColumn]) -> CsvTable:
    """Read a table.

    Parameters
    ----------
    path : str or path-like
    columns : sequence of CsvColumn

    Raises
    ------
    InputError
        Naming file, line and column: an unknown or missing column, a unit that is missing or of
        another kind, a row with too many or too few cells, a cell that is not a number.
    """
    source = str(path)
    lines = read_text(path, "a table (CSV)").splitlines()
    remarks: dict[str, str] = {}
    start = 0
    while start < len(lines) and (
        not lines[start].strip() or lines[start].lstrip().startswith(_COMMENT)
    ):
        name, colon, text = lines[start].lstrip(f"{_COMMENT} ").partition(":")
        if colon:
            remarks[name.strip().lower()] = text.strip()
        start += 1
    if start == len(lines):
        raise InputError("no table", source=source, expected=_wanted(columns))
    delimiter = delimiter_of(lines[start])
    head = next(csv.reader([lines[start]], delimiter=delimiter))
    units = _units_below(head, lines[start + 1 :], delimiter)
    if units is not None:
        head = [
            f"{name} [{unit}]" if unit else name for name, unit in zip(head, units, strict=True)
        ]
        start += 1
    known = _heads(head, columns, source, start + 1)
    numbers: dict[str, list[float]] = {c.name: [] for c, _ in known if c.dimension is not None}
    texts: dict[str, list[str]] = {c.name: [] for c, _ in known if c.dimension is None}
    at: list[int] = []
    reader = csv.reader(io.StringIO("\n".join(lines[start + 1 :])), delimiter=delimiter)
    for cells in reader:
        line = start + 1 + reader.line_num
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith(_COMMENT):
            continue
        if len(cells) != len(head):
            hint = None
            if len(cells) > len(head) and delimiter == ",":
                hint = "decimal commas? write 1.5, or separate the columns by semicolons"
            raise InputError(
                "another number of cells than the head has",
                source=source,
                field=f"line {line}",
                found=f"{len(cells)} cells",
                expected=f"{len(head)}: {', '.join(name.strip() for name in head)}",
                hint=hint,
            )
        at.append(line)
        for (column, unit), cell in zip(known, cells, strict=True):
            where = f"line {line}, {column.name}"
            if column.dimension is None:
                texts[column.name].append(cell.strip())
                continue
            numbers[column.name].append(_number(cell, column, unit, source, where, delimiter))
    if not at:
        raise InputError("the table has a head and no rows", source=source)
    return CsvTable(
        source,
        tuple(at),
        {name: tuple(values) for name, values in numbers.items()},
        {name: tuple(values) for name, values in texts.items()},
        remarks,
    )


def _units_below(head: Sequence[str], below: Sequence[str], delimiter: str) -> list[str] | None:
    """Return the units in the line below a head that names none; None where there are none."""
    if not below or any("[" in cell or "(" in cell for cell in head):
        return None
    cells = [cell.strip() for cell in next(csv.reader([below[0]], delimiter=delimiter), [])]
    if len(cells) != len(head) or not any(dimensions_of(cell) for cell in cells if cell):
        return None
    return cells if all(not cell or dimensions_of(cell) for cell in cells) else None


def _folded(name: str) -> str:
    return " ".join(name.replace("_", " ").casefold().split())


def _wanted(columns: Sequence[CsvColumn]) -> str:
    return "a head such as " + ", ".join(c.name for c in columns if c.required)


def _heads(
    head: Sequence[str], columns: Sequence[CsvColumn], source: str, line: int
) -> list[tuple[CsvColumn, str]]:
    by_name = {_folded(column.name): column for column in columns}
    found: list[tuple[CsvColumn, str]] = []
    for cell in head:
        match = _HEAD.fullmatch(cell)
        name = match["name"] if match else cell
        column = by_name.get(_folded(name))
        where = f"line {line}"
        if column is None:
            raise InputError(
                "unknown column",
                source=source,
                field=where,
                found=name.strip(),
                expected=", ".join(c.name for c in columns),
                hint=other_kind_hint(source, [c.name for c in columns])
                or did_you_mean(name.strip(), [c.name for c in columns]),
            )
        if any(column is other for other, _ in found):
            raise InputError("the column appears twice", source=source, field=where, found=name)
        unit = (match["unit"] or "").strip() if match else ""
        if column.dimension is not None:
            if not unit:
                raise InputError(
                    f"the column {column.name} names no unit",
                    source=source,
                    field=where,
                    found=cell.strip(),
                    expected=f"{column.name} [unit]",
                )
            to_si(1.0, unit, column.dimension, source=source, field=f"{where}, {column.name}")
        found.append((column, unit))
    missing = [
        column.name
        for column in columns
        if column.required and not any(column is other for other, _ in found)
    ]
    if missing:
        raise InputError(
            f"the column {missing[0]} is missing",
            source=source,
            field=f"line {line}",
            found=", ".join(cell.strip() for cell in head),
            expected=_wanted(columns),
            hint=other_kind_hint(source, [c.name for c in columns]),
        )
    return found


def _number(
    cell: str, column: CsvColumn, unit: str, source: str, where: str, delimiter: str
) -> float:
    text = cell.strip()
    if not text:
        if column.blank is None:
            raise InputError("empty", source=source, field=where, expected="a number")
        return column.blank
    text = with_point(text, delimiter)
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or "_" in text:
        raise InputError(
            "not a number",
            source=source,
            field=where,
            found=cell.strip(),
            expected="a number without its unit, which stands in the head",
            hint="write 1.5, not 1,5" if "," in cell else None,
        )
    dimension = column.dimension
    assert dimension is not None
    return to_si(value, unit, dimension, source=source, field=where)
