"""Plain data becomes TOML text, as far as component files need it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}
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
    return "\n".join(_lines(data, ())) + "\n"


def number_text(value: float) -> str:
    """Return the shortest text of a number that TOML reads as the same number."""
    if float(value).is_integer() and abs(value) < _LARGEST_WHOLE and str(value) != "-0.0":
        return str(int(value))
    return repr(float(value))


def _lines(table: Mapping[str, Any], path: tuple[str, ...]) -> list[str]:
    lines, later = [], []
    for key, value in table.items():
        if value is None:
            continue
        where = (*path, key)
        if isinstance(value, Mapping) and not isinstance(value, Inline):
            inside = _lines(value, where)
            if inside:
                later += _headed(f"[{_dotted(where)}]", inside)
        elif _is_list_of_tables(value):
            for item in value:
                later += _headed(f"[[{_dotted(where)}]]", _lines(item, where))
        else:
            lines.append(f"{_key(key)} = {_value(value)}")
    return lines + later


def _headed(header: str, inside: list[str]) -> list[str]:
    # A table that holds nothing but further tables needs no header of its own.
    return ["", header, *inside] if inside[:1] != [""] else inside


def _is_list_of_tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and any(isinstance(item, Mapping) for item in value)


def _value(value: Any) -> str:
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        inside = (f"{_key(key)} = {_value(item)}" for key, item in value.items())
        return f"{{ {', '.join(inside)} }}" if value else "{}"
    if isinstance(value, Sequence):
        return f"[{', '.join(_value(item) for item in value)}]"
    return number_text(value)


def _text(text: str) -> str:
    escaped = "".join(
        _ESCAPES.get(sign) or (sign if sign >= " " and sign != "\x7f" else f"\\u{ord(sign):04x}")
        for sign in text
    )
    return f'"{escaped}"'


def _key(key: str) -> str:
    return key if _BARE_KEY.fullmatch(key) else _text(key)


def _dotted(path: tuple[str, ...]) -> str:
    return ".".join(_key(key) for key in path)
