"""How a table in text form separates its cells, and writes its decimals.

The delimiter is a comma, or a semicolon as spreadsheets write it where the comma is the decimal
mark. With semicolons a decimal comma is read as what it is; with commas it cannot be told from a
delimiter.
"""

from __future__ import annotations

MARK = "\ufeff"
"""Byte-order mark, which says of UTF-8 only that it is UTF-8."""


def delimiter_of(head: str) -> str:
    """Return the delimiter of a table from its first line.

    Examples
    --------
    >>> delimiter_of("length [m];grade [%]"), delimiter_of("length [m],grade [%]")
    (';', ',')
    """
    return ";" if ";" in head else ","


def with_point(cell: str, delimiter: str) -> str:
    """Return a cell with the decimal point for the decimal comma, where there can be one.

    Examples
    --------
    >>> with_point("2,5", ";"), with_point("2,5", ","), with_point("1.234,5", ";")
    ('2.5', '2,5', '1.234,5')
    """
    alone = delimiter == ";" and cell.count(",") == 1 and "." not in cell
    return cell.replace(",", ".") if alone else cell
