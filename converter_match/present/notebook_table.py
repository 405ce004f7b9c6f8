"""Rows of a result as a table for a notebook: words and units instead of keys, and sane digits.

Results carry their units in their keys (``top_speed_kmh``), for scripts. A person reads "top speed"
with km/h below it, and no more digits than the figure is worth.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from converter_match.errors import InputError, did_you_mean

# Ending of a key: unit and digits behind the point. Longer endings first.
_UNITS = {
    "_t_per_h": ("t/h", 0),
    "_l_per_h": ("L/h", 1),
    "_l_per_t": ("L/t", 2),
    "_percent": ("%", 1),
    "_kmh": ("km/h", 1),
    "_rpm": ("rpm", 0),
    "_degc": ("°C", 0),
    "_min": ("min", 1),
    "_kw": ("kW", 1),
    "_kn": ("kN", 1),
    "_kj": ("kJ", 0),
    "_mj": ("MJ", 1),
    "_nm": ("N·m", 0),
    "_km": ("km", 2),
    "_kg": ("kg", 2),
    "_m": ("m", 0),
    "_s": ("s", 1),
    "_t": ("t", 1),
    "_l": ("L", 1),
}
# Digits of a figure without a unit; a whole number, such as a count, has none.
_PLAIN = 2


class NotebookTable:
    """A table as a notebook shows it; numbers stand to the right.

    Parameters
    ----------
    head, units : tuple of str
    rows : tuple of tuple of str
    """

    def __init__(
        self, head: tuple[str, ...], units: tuple[str, ...], rows: tuple[tuple[str, ...], ...]
    ) -> None:
        self.head, self.units, self.rows = head, units, rows

    def _repr_html_(self) -> str:
        lines = [_html_row("th", self.head)]
        if any(self.units):
            lines.append(_html_row("td", self.units))
        body = "".join(_html_row("td", row) for row in self.rows)
        return f"<table><thead>{''.join(lines)}</thead><tbody>{body}</tbody></table>"

    def __repr__(self) -> str:
        lines = [self.head, *([self.units] if any(self.units) else []), *self.rows]
        widths = [max(len(row[i]) for row in lines) for i in range(len(self.head))]
        return "\n".join(
            "  ".join(
                cell.ljust(width) if i == 0 else cell.rjust(width)
                for i, (cell, width) in enumerate(zip(row, widths, strict=True))
            ).rstrip()
            for row in lines
        )


def table(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> NotebookTable:
    """Return a table with a column for each of some keys.

    Parameters
    ----------
    rows : sequence of mapping
        As a result's ``to_dict`` has them.
    columns : sequence of str
        Keys, in the order wanted.

    Raises
    ------
    InputError
        If there are no rows, or a row has no such key; the nearest one is named.

    Examples
    --------
    >>> table([{"gear": "1", "top_speed_kmh": 7.512}], ["gear", "top_speed_kmh"])
    gear  top speed
               km/h
    1           7.5
    """
    if not rows:
        raise InputError("a table needs rows", field="rows")
    for key in columns:
        _require(key, rows[0])
    named = [_words(key) for key in columns]
    return NotebookTable(
        tuple(name for name, _, _ in named),
        tuple(unit for _, unit, _ in named),
        tuple(
            tuple(
                _shown(row.get(key), unit, digits)
                for key, (_, unit, digits) in zip(columns, named, strict=True)
            )
            for row in rows
        ),
    )


def beside(cases: Mapping[str, Mapping[str, Any]], keys: Sequence[str]) -> NotebookTable:
    """Return a table with a row for each of some keys and a column for each case.

    Parameters
    ----------
    cases : mapping of str to mapping
        What each column is called, and its figures.
    keys : sequence of str

    Raises
    ------
    InputError
        If there are no cases, or a case has no such key; the nearest one is named.

    Examples
    --------
    >>> beside({"old": {"time_min": 13.66}, "new": {"time_min": None}}, ["time_min"])
            old  new
    time   13.7    –  min
    """
    if not cases:
        raise InputError("a table needs cases", field="cases")
    rows = []
    for key in keys:
        for case in cases.values():
            _require(key, case)
        name, unit, digits = _words(key)
        rows.append((name, *(_shown(case[key], unit, digits) for case in cases.values()), unit))
    head = ("", *cases, "")
    return NotebookTable(head, ("",) * len(head), tuple(rows))


def _require(key: str, row: Mapping[str, Any]) -> None:
    if key not in row:
        raise InputError(
            "no such figure", found=key, expected=" | ".join(row), hint=did_you_mean(key, row)
        )


def _words(key: str) -> tuple[str, str, int]:
    """Return the words for a key, its unit and the digits behind the point."""
    for ending, (unit, digits) in _UNITS.items():
        if key.endswith(ending):
            return key.removesuffix(ending).replace("_", " "), unit, digits
    return key.replace("_", " "), "", _PLAIN


def _shown(value: Any, unit: str, digits: int) -> str:
    if value is None or value != value:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, float):
        return str(value)
    return f"{value:.0f}" if unit == "" and value.is_integer() else f"{value:.{digits}f}"


def _html_row(kind: str, cells: Sequence[str]) -> str:
    return "<tr>{}</tr>".format(
        "".join(
            f'<{kind} style="text-align:{"left" if i == 0 else "right"}">{escape(cell)}</{kind}>'
            for i, cell in enumerate(cells)
        )
    )
