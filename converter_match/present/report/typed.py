"""Files of a study as tables: every figure as somebody typed it, once, with its unit."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from converter_match.library.schema.quantity import SECOND
from converter_match.present.report.model import ReportTable, table

_ROWS = 26
"""Rows of a table before it goes on beside itself."""
_BESIDE = 16
"""Values of a list beside each other before it goes on below itself."""
_PAIRS = 3
"""Single values beside each other."""


class _Typed(str):
    """A number as it was typed."""


def toml_tables(
    content: bytes, caption: str, owner: str, *, skip: frozenset[str]
) -> list[ReportTable]:
    r"""Return what a TOML file says as tables: single values first, then lists and columns.

    Parameters
    ----------
    content : bytes
        Of a file that could be read.
    caption : str
        Of the first table.
    owner : str
        Whose the others are.
    skip : frozenset of str
        Keys at the top that are left out.

    Examples
    --------
    >>> content = b'low = { unit = "rpm", value = 650 }\n[map]\nspeed = [1.0, 2.50]'
    >>> single, lists = toml_tables(content, "Engine: a.toml", "Engine", skip=frozenset())
    >>> single.rows[0][:2], lists.head
    (('low', '650 rpm'), ('speed', '1.0', '2.50'))
    """
    data = tomllib.loads(content.decode("utf-8"), parse_float=_Typed)
    singles: list[tuple[str, str]] = []
    others: list[ReportTable] = []
    _walk({key: value for key, value in data.items() if key not in skip}, "", singles, others)
    # Long texts that every file has stand above the table, where there is room for them.
    said = [_text(data[key]) for key in ("name", "source") if key in data and key not in skip]
    singles = [pair for pair in singles if pair[0] not in ("name", "source")]
    first = [_pairs_table("; ".join([caption, *said]), singles)] if singles else []
    return [*first, *(replace(one, caption=f"{owner}: {one.caption}") for one in others)]


def csv_table(content: bytes, caption: str, *, only: Mapping[str, frozenset[str]]) -> ReportTable:
    """Return a CSV file as one table, remarks above its head left out.

    Parameters
    ----------
    content : bytes
    caption : str
    only : mapping of str to frozenset of str
        Column -> cells: rows with others there are left out.
    """
    lines = content.decode("utf-8-sig").splitlines()
    rows = list(csv.reader(line for line in lines if line.strip() and not line.startswith("#")))
    head = [name.strip() for name in rows[0]]
    kept = [
        row
        for row in rows[1:]
        if all(dict(zip(head, row, strict=False)).get(key) in cells for key, cells in only.items())
    ]
    width = len(head)
    full = [tuple(cell.strip() for cell in (row + [""] * width)[:width]) for row in kept]
    return table(caption, head, full, left=width)


def columns_beside(one: ReportTable) -> list[ReportTable]:
    """Return a long table as several of modest length.

    Examples
    --------
    >>> long = table("a", ("n",), [(str(n),) for n in range(60)])
    >>> [len(part.rows) for part in columns_beside(long)]
    [20, 20, 20]
    """
    count = -(-len(one.rows) // _ROWS)
    if count < 2:
        return [one]
    each = -(-len(one.rows) // count)
    return [
        ReportTable(
            caption=one.caption if start == 0 else f"{one.caption} (continued)",
            head=one.head,
            rows=one.rows[start : start + each],
            left=one.left,
        )
        for start in range(0, len(one.rows), each)
    ]


def _walk(
    data: Mapping[str, Any],
    place: str,
    singles: list[tuple[str, str]],
    others: list[ReportTable],
) -> None:
    """Sort the entries of a table, and of the tables in it, by their shape."""
    columns: dict[int, list[tuple[str, list[str]]]] = {}
    for key, value in data.items():
        name = f"{place}: {_words(key)}" if place else _words(key)
        column = _column(value)
        if column is not None:
            unit, cells = column
            columns.setdefault(len(cells), []).append((_words(key) + unit, cells))
        elif _is_tables(value):
            others.extend(columns_beside(_rows_table(name, value)))
        elif isinstance(value, dict) and not _is_quantity(value):
            _walk(value, name, singles, others)
        else:
            singles.append((name, _text(value)))
    for count, found in columns.items():
        for start in range(0, count, _BESIDE):
            head, *rows = [(name, *cells[start : start + _BESIDE]) for name, cells in found]
            others.append(table(place if start == 0 else f"{place} (continued)", head, rows))


def _pairs_table(caption: str, singles: list[tuple[str, str]]) -> ReportTable:
    """Return single values, read downwards, several beside each other."""
    each = -(-len(singles) // _PAIRS)
    padded = [*singles, *[("", "")] * (each * _PAIRS - len(singles))]
    rows = [sum((padded[row + n * each] for n in range(_PAIRS)), ()) for row in range(each)]
    return table(caption, ("",) * 2 * _PAIRS, rows, left=2 * _PAIRS)


def _rows_table(name: str, items: list[dict[str, Any]]) -> ReportTable:
    flat = [dict(_flat(item)) for item in items]
    keys = list(dict.fromkeys(key for item in flat for key in item))
    # A column in one unit says it once, in its head.
    units = {}
    for key in keys:
        given = {item[key][1] for item in flat if key in item}
        units[key] = given.pop() if len(given) == 1 else ""
    rows = [
        [
            "" if key not in item else item[key][0] if units[key] else " ".join(item[key]).strip()
            for key in keys
        ]
        for item in flat
    ]
    heads = [_words(key) + (f" ({units[key]})" if units[key] else "") for key in keys]
    return table(name, heads, rows, left=len(keys))


def _flat(item: Mapping[str, Any], place: str = "") -> Iterator[tuple[str, tuple[str, str]]]:
    """Yield key, text and unit of every entry of a table in a list of tables."""
    for key, value in item.items():
        name = f"{place}: {key}" if place else key
        if isinstance(value, dict) and _is_quantity(value) and "value" in value:
            yield name, (_text(value["value"]), _unit(value))
        elif isinstance(value, dict) and not _is_quantity(value):
            yield from _flat(value, name)
        else:
            yield name, (_text(value), "")


def _is_quantity(value: Mapping[str, Any]) -> bool:
    return "value" in value or "values" in value


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)


def _column(value: Any) -> tuple[str, list[str]] | None:
    """Return unit and cells of a list of numbers; None for anything else."""
    unit = ""
    if isinstance(value, dict) and "values" in value:
        unit = f" ({_unit(value)})" if _unit(value) else ""
        value = value["values"]
    if not isinstance(value, list) or not value or not all(map(_is_number, value)):
        return None
    return unit, [str(number) for number in value]


def _unit(value: Mapping[str, Any]) -> str:
    """Return the unit of a quantity, with whatever else stands beside its numbers.

    Its second figures, in other units, are left out: a page has every number once.
    """
    beside = [str(value["unit"])] if "unit" in value else []
    beside += [
        f"{_words(key)}: {_words(_text(more))}"
        for key, more in value.items()
        if key not in ("unit", "value", "values", SECOND)
    ]
    return ", ".join(beside)


def _text(value: Any) -> str:
    if isinstance(value, dict):
        if not _is_quantity(value):
            return "; ".join(f"{_words(key)} {_text(item)}" for key, item in value.items())
        numbers = value["value"] if "value" in value else value["values"]
        return f"{_text(numbers)} {_unit(value)}".strip()
    if isinstance(value, list):
        nested = any(isinstance(item, list) for item in value)
        return ("; " if nested else ", ").join(_text(item) for item in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return " ".join(str(value).split())


def _is_number(value: object) -> bool:
    return isinstance(value, int | _Typed) and not isinstance(value, bool)


def _words(key: str) -> str:
    return key.replace("_", " ")
