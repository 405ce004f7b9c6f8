"""The keys of an answer as plain data, block by block, to be held against what is promised."""

from __future__ import annotations

from typing import Any


def keys_of(plain: dict[str, Any], within: str = "") -> dict[str, set[str]]:
    """Return the keys of each table in plain data: {"": top, "stall": ..., "gears[]": ...}.

    Rows of a list count together: a key that stands in one of them only is there.
    """
    found: dict[str, set[str]] = {within: set(plain)}
    for key, value in plain.items():
        at = f"{within}.{key}" if within else key
        tables = [value] if isinstance(value, dict) else []
        if isinstance(value, list) and value and all(isinstance(row, dict) for row in value):
            at, tables = f"{at}[]", value
        for table in tables:
            for where, keys in keys_of(table, at).items():
                found.setdefault(where, set()).update(keys)
    return found


def written(text: str, **shared: str) -> dict[str, set[str]]:
    """Read lines ``block: key key``; ``(top)`` is the top, and ``$NAME`` stands for more keys."""
    found: dict[str, set[str]] = {}
    for line in text.strip().splitlines():
        where, _, keys = line.strip().partition(":")
        for name, more in shared.items():
            keys = keys.replace(f"${name}", more)
        found.setdefault("" if where == "(top)" else where, set()).update(keys.split())
    return found
