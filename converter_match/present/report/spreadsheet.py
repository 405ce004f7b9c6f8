"""Tables as CSV that a spreadsheet reads as data and never as a formula.

A cell that begins with ``=``, ``+``, ``-`` or ``@`` is run by spreadsheets when the file is opened;
a name in somebody's component file must not be able to do that. Such texts get an apostrophe in
front (the form that OWASP describes under "CSV injection"); numbers are written as numbers.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping
from typing import Any

_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def csv_text(rows: Iterable[Mapping[str, Any]], columns: Iterable[str] | None = None) -> str:
    """Return rows as CSV text with a head.

    Parameters
    ----------
    rows : iterable of mapping
        Column -> value: text, number, true/false, or None for an empty cell.
    columns : iterable of str, optional
        In this order; by default those of the first row.

    Examples
    --------
    >>> print(csv_text([{"name": "=1+2", "torque_nm": -3.5}]), end="")
    name,torque_nm
    '=1+2,-3.5
    """
    table = list(rows)
    head = list(columns) if columns is not None else list(table[0]) if table else []
    page = io.StringIO()
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow([cell(name) for name in head])
    for row in table:
        writer.writerow([cell(row[name]) for name in head])
    return page.getvalue()


def cell(value: object) -> str:
    """Return a value as the text of a cell, made harmless.

    Examples
    --------
    >>> cell(-2.0), cell("-2"), cell(None), cell(True), cell("@SUM(A1)")
    ('-2.0', "'-2", '', 'yes', "'@SUM(A1)")
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
    text = str(value)
    # White space in front does not stop a spreadsheet everywhere.
    return f"'{text}" if text.lstrip(" \u00a0").startswith(_STARTS_FORMULA) else text
