"""Plain data becomes TOML text, written by tomlkit in the layout of the shipped files.

What is done here, and not by the library: numbers are as short as they can be and still exact (345,
not 345.0), what is None or empty is left out, values come before tables, and a table in braces has
a space inside them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import InlineTable, Item, Table

# Beyond this not every whole number is a float, and digits would claim what the float has not.
_LARGEST_WHOLE = 1e15


class Inline(dict[str, Any]):
    """A table that is written on one line, in braces."""


def toml_text(data: Mapping[str, Any]) -> str:
    """Return TOML text.

    Parameters
    ----------
    data : mapping
        Texts, numbers, lists of numbers, `Inline` tables, tables, and lists of tables. What is
        None, and a table without entries, is left out.

    Returns
    -------
    str
        Ends with a line break.

    Examples
    --------
    >>> print(toml_text({"id": "a", "size": Inline(unit="mm", value=345.0)}), end="")
    id = "a"
    size = { unit = "mm", value = 345 }
    """
    import tomlkit  # a tenth of a second to import

    document = tomlkit.document()
    _fill(document, data)
    return tomlkit.dumps(document)


def number_text(value: float) -> str:
    """Return the shortest text of a number that TOML reads as the same number."""
    return repr(_shortest(value))


def _shortest(value: float) -> int | float:
    if float(value).is_integer() and abs(value) < _LARGEST_WHOLE and str(value) != "-0.0":
        return int(value)
    return float(value)


def _fill(place: TOMLDocument | Table | InlineTable, data: Mapping[str, Any]) -> None:
    """Put entries into a table, those without a heading of their own first."""
    given = [(key, value) for key, value in data.items() if not _is_empty(value)]
    for key, value in sorted(given, key=lambda entry: _has_heading(entry[1])):
        place.append(key, _item(value))


def _is_empty(value: Any) -> bool:
    if isinstance(value, Mapping) and not isinstance(value, Inline):
        return all(_is_empty(item) for item in value.values())
    return value is None


def _has_heading(value: Any) -> bool:
    if isinstance(value, list | tuple):
        # Tables in braces stand in a list within brackets, as they stand alone.
        return any(isinstance(item, Mapping) and not isinstance(item, Inline) for item in value)
    return isinstance(value, Mapping) and not isinstance(value, Inline)


def _item(value: Any) -> Item:
    import tomlkit

    if isinstance(value, bool | str):
        return tomlkit.item(value)
    if isinstance(value, Inline):
        braces = tomlkit.inline_table()
        _fill(braces, value)
        inside = [item for _, item in braces.value.body]
        if inside:
            inside[0].trivia.indent = inside[-1].trivia.trail = " "
        return braces
    if isinstance(value, Mapping):
        return _table(value)
    if not isinstance(value, Sequence):
        return tomlkit.item(_shortest(value))
    if _has_heading(value):
        tables = tomlkit.aot()
        for each in value:
            tables.append(_table(each))
        return tables
    array = tomlkit.array()
    for each in value:
        array.append(_item(each))
    return array


def _table(data: Mapping[str, Any]) -> Table:
    import tomlkit

    table = tomlkit.table()
    _fill(table, data)
    return table
