"""Tables as CSV: names in the first line, units in the second, then the rows.

A table without units has no second line for them. A cell that begins with ``=``, ``+``, ``-`` or
``@`` is run by spreadsheets when the file is opened; a name in somebody's component file must not
be able to do that. Such texts get an apostrophe in front (the form that OWASP describes under "CSV
injection"); numbers are written as numbers.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.units import System, shown
from converter_match.units.amounts import amount
from converter_match.units.spelling import label

_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def block_csv(block: Block, system: System = "si") -> str:
    """Return the table of a block as CSV text, numbers in all their digits.

    The name of a column ends with its unit, as the key in plain data does.

    Parameters
    ----------
    block : Block
        Columns without a key are left out.
    system : {"si", "us"}
        Metric trade units (rpm, N.m, kW), those of plain data; or US customary ones.

    Examples
    --------
    >>> torque = Heading("input_torque", "input torque", "torque")
    >>> block = Block("", columns=(torque,), rows=((100.0,),))
    >>> print(block_csv(block), end="")
    input_torque_nm
    N·m
    100.0
    >>> print(block_csv(block, "us").splitlines()[:2])
    ['input_torque_lbf_ft', 'lbf·ft']
    """
    kept = [(i, head) for i, head in enumerate(block.columns) if head.key]
    units = [_unit(head, system) for _, head in kept]
    names = [
        head.plain_key if system == "si" or not unit else f"{head.key}_{_slug(unit)}"
        for (_, head), unit in zip(kept, units, strict=True)
    ]
    rows = ([_value(row[i], head, system) for i, head in kept] for row in block.rows)
    return _text([names, *([units] if any(units) else []), *rows])


def csv_text(rows: Iterable[Mapping[str, Any]], columns: Iterable[str] | None = None) -> str:
    """Return rows that say their units themselves as CSV text with a head.

    Parameters
    ----------
    rows : iterable of mapping
        Column -> value: text, number, true/false, or None for an empty cell.
    columns : iterable of str, optional
        In this order; by default those of the first row.

    Examples
    --------
    >>> print(csv_text([{"name": "=1+2", "difference": -3.5}]), end="")
    name,difference
    '=1+2,-3.5
    """
    table = list(rows)
    head = list(columns) if columns is not None else list(table[0]) if table else []
    return _text([head, *([row[name] for name in head] for row in table)])


def _text(lines: Iterable[Sequence[object]]) -> str:
    page = io.StringIO()
    writer = csv.writer(page, lineterminator="\n")
    for line in lines:
        writer.writerow([cell(value) for value in line])
    return page.getvalue()


def cell(value: object) -> str:
    """Return a value as the text of a cell, made harmless.

    Examples
    --------
    >>> cell(-2.0), cell("-2"), cell(None), cell(True), cell("@SUM(A1)"), cell(["idle", "high"])
    ('-2.0', "'-2", '', 'yes', "'@SUM(A1)", 'idle; high')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return (
            repr(float(value))
            if isinstance(value, float) and math.isfinite(value)
            else (str(value) if isinstance(value, int) else "")
        )
    if isinstance(value, list | tuple):
        return cell("; ".join(str(item) for item in value))
    text = str(value)
    # White space in front does not stop a spreadsheet everywhere.
    return f"'{text}" if text.lstrip(" \u00a0").startswith(_STARTS_FORMULA) else text


def _unit(head: Heading, system: System) -> str:
    """Return the unit of a column, empty for none."""
    if not head.amount:
        return ""
    return (
        label(amount(head.amount).plain) if system == "si" else shown(0.0, head.amount, system)[1]
    )


def _slug(unit: str) -> str:
    """Return a unit as the end of a name.

    Examples
    --------
    >>> _slug("lbf·ft"), _slug("°F"), _slug("%"), _slug("ft/s²")
    ('lbf_ft', 'degf', 'percent', 'ft_per_s2')
    """
    said = unit.replace("°", "deg").replace("%", "percent").replace("²", "2").replace("³", "3")
    return re.sub(r"[^a-z0-9]+", "_", said.replace("/", " per ").casefold()).strip("_")


def _value(value: Any, head: Heading, system: System) -> Any:
    """Return a value in the unit of its column."""
    if isinstance(value, Quantity):
        return _value(value.value, replace(head, amount=value.amount), system)
    plain = head.plain(value)
    if system == "si" or not head.amount or not isinstance(plain, int | float):
        return plain
    number = float(shown(float(value), head.amount, system)[0])
    return number if math.isfinite(number) else None
