"""What can go wrong with a file: its tree changed, its lines, its bytes; valid TOML or not."""

from __future__ import annotations

import copy
import datetime
import math
import random
import re
import tomllib
from pathlib import Path
from typing import Any

from converter_match.library.shipped import data_folder

DATA = data_folder()
TOML = sorted(
    path
    for kind in ("adjustable", "arrangements", "blading", "converters", "drivelines", "engines",
                 "loads", "machines", "motors", "sites", "studies")
    for path in (DATA / kind).glob("*.toml")
)  # fmt: skip
UNITS = ("rpm", "rad/s", "N*m", "lbf*ft", "kW", "hp", "PS", "mm", "in", "m", "kg", "lb", "kPa",
         "degC", "K", "percent", "1", "g/kWh", "rpm/(lbf*ft)**0.5", "km/h", "", "furlong", "s",
         "deg", "cm2", "kN", "L", "kJ/K")  # fmt: skip
ODD: tuple[Any, ...] = (
    math.nan, math.inf, -math.inf, 0, -0.0, -1, 1, 1e-300, 5e-324, 1e300, -1e300, 1e-9, 1e9, 2**63,
    10**400, True, False, "", " ", "nan", "1,5", "one-way", "fixed", "none", "x" * 500,
    "a\nb", "\x00", "\u202e", "ü", "💥", [], [[]], [1], [[1]], [0.0, 0.0], [1, "2"], {},
    {"value": 1},
    {"unit": "rpm"}, {"unit": "rpm", "value": 1, "values": [1]}, {"unit": 3, "value": 1},
    datetime.date(1979, 5, 27), datetime.time(7, 32),
)  # fmt: skip
CELLS = ("", "-", "n/a", "nan", "inf", "1e400", "0", "-1", "1,5", "1.234,5", "12 000", "±3",
         "=1+1", "rpm", "Nm", '"', "ü")  # fmt: skip
SIGNS = "\"'[]{}=,.#-+\n\r\t 0e\\_:\u00e9\ufeff\u2028\x00\x7f"
# What stands in a file in the place of a number, a text, a list or a table; not all of it is TOML.
WORDS = ("nan", "-inf", "true", "-0.0", "1e400", "1e-300", "9" * 400, "1,5", '"1,5"', '""', "[]",
         "{}", "[[1]]", "{ value = 1 }", '{ unit = "", values = [] }', "{ unit = 1, value = 1 }",
         "1979-05-27", "07:32:00", "0x10", '"\\u0000"', '"N*m"', "'''a\nb'''", "2.0", "]", "}",
         "[", "=")  # fmt: skip
_VALUE = re.compile(r'-?\d+(?:\.\d+)?|"[^"\n]*"|\[[^\[\]]*\]|\{[^{}]*\}')
_KEY_NAME = re.compile(r"[A-Za-z_]+(?= =)")


def trees() -> list[dict[str, Any]]:
    return [tomllib.loads(path.read_text(encoding="utf-8")) for path in TOML]


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the path of everything in a tree but its root."""
    pairs: Any = ()
    if isinstance(node, dict):
        pairs = node.items()
    elif isinstance(node, list):
        pairs = enumerate(node)
    found = [path] if path else []
    for key, inside in pairs:
        found += places(inside, (*path, key))
    return found


def _at(tree: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        tree = tree[key]
    return tree


def one_change(tree: dict[str, Any], chance: random.Random, others: list[dict[str, Any]]) -> None:
    """Change a tree in one place."""
    where = places(tree)
    if not where:
        return
    path = chance.choice(where)
    parent, key = _at(tree, path[:-1]), path[-1]
    old = parent[key]
    what = chance.randrange(12)  # half of the changes are to numbers: those get further
    if what == 0:
        del parent[key]
    elif what == 1:
        parent[key] = copy.deepcopy(chance.choice(ODD))
    elif what == 2 and isinstance(parent, dict):
        parent[
            chance.choice(["value", "values", "unit", "speed", "torque", "x", "", "a.b", key])
        ] = old
    elif what == 3 and isinstance(old, list) and old:
        acts = [chance.shuffle, list.reverse, list.pop, list.clear, _doubled]
        chance.choice([*acts, list.sort] if _sortable(old) else acts)(old)
    elif what == 4:
        other = chance.choice(others)
        elsewhere = chance.choice(places(other))
        parent[key] = copy.deepcopy(_at(other, elsewhere))
    elif what == 5:
        parent[key] = chance.choice(UNITS)
    else:
        parent[key] = other_number(old, chance)


def _doubled(values: list[Any]) -> None:
    values.append(copy.deepcopy(values[-1]))


def _sortable(values: list[Any]) -> bool:
    return all(isinstance(value, int | float) for value in values)


def _within_floats(value: float) -> float:
    """A whole number may be longer than any float."""
    return 1e300 if isinstance(value, int) and abs(value) > 10**300 else value


def other_number(old: Any, chance: random.Random) -> Any:
    """Return another number in the place of one: this gets as far as the physics."""
    if isinstance(old, bool) or not isinstance(old, int | float):
        if isinstance(old, list) and old and _sortable(old):
            factor = chance.choice([0.5, 0.9, 1.1, 2.0, -1.0, 0.0, 10.0, 1e-3])
            return [_within_floats(value) * factor for value in old]
        return old
    old = _within_floats(old)
    return chance.choice([
        old * chance.choice([0.0, 0.5, 0.9, 0.99, 1.01, 1.1, 2.0, 10.0, 1e3, 1e-3, -1.0]),
        old + chance.uniform(-1, 1),
        chance.uniform(0, 3000),
        chance.uniform(0, 2),
        10.0 ** chance.uniform(-320, 308) * chance.choice([1, -1]),
    ])  # fmt: skip


def toml(node: Any) -> str:
    """Return a tree as TOML: values inline, whatever their kind."""
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in node.items())


def _key(key: str) -> str:
    return _text(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return repr(value)


def _text(text: str) -> str:
    escaped = "".join(
        f"\\u{ord(sign):04x}" if sign < " " or sign in '"\\\x7f' else sign for sign in text
    )
    return f'"{escaped}"'


def damaged_bytes(raw: bytes, chance: random.Random) -> bytes:
    """Change the bytes of a file in up to four places."""
    data = bytearray(raw)
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(data) + 1)
        what = chance.randrange(7)
        if what == 0:
            data[at : at + 1] = bytes([chance.randrange(256)])
        elif what == 1:
            del data[at : at + chance.choice([1, 1, 1, 3, 20, 500])]
        elif what == 2:
            data[at:at] = chance.choice(SIGNS).encode("utf-8")
        elif what == 3:
            data[at:at] = data[at : at + chance.choice([1, 5, 60])]
        elif what == 4:
            # Digits for digits: the file stays what it is, its numbers do not.
            digits = [i for i, sign in enumerate(data) if chr(sign) in "0123456789"]
            if digits:
                data[chance.choice(digits)] = ord(chance.choice("0123456789.-e"))
        elif what == 5 and data:
            at = chance.randrange(len(data))
            data[at] ^= 1 << chance.randrange(8)
        else:
            other = chance.randrange(len(data) + 1)
            low, high = sorted((at, other))
            if high - low < 400:
                data[low:high] = bytes(reversed(data[low:high]))
    return bytes(data)


def damaged_text(text: str, chance: random.Random) -> str:
    """Change the words and lines of a TOML text in one to four places."""
    for _ in range(chance.randint(1, 4)):
        lines = text.splitlines(keepends=True) or [""]
        row = chance.randrange(len(lines))
        what = chance.randrange(4)
        if what == 0:
            text = _one_replaced(text, _VALUE, chance.choice(WORDS), chance)
        elif what == 1:
            text = _one_replaced(text, _KEY_NAME, chance.choice(["torque", "value", "x"]), chance)
        elif what == 2:
            del lines[row]
            text = "".join(lines)
        else:
            text = "".join([*lines[:row], lines[row], *lines[row:]])
    return text


def _one_replaced(text: str, pattern: re.Pattern[str], word: str, chance: random.Random) -> str:
    found = list(pattern.finditer(text))
    if not found:
        return text
    place = chance.choice(found)
    return text[: place.start()] + word + text[place.end() :]


def changed_sheet(text: str, chance: random.Random) -> str:
    """Change the cells of a table in text in one to four places."""
    lines = text.splitlines()
    for _ in range(chance.randint(1, 4)):
        if not lines:
            break
        row = chance.randrange(len(lines))
        mark = max(",;\t|", key=lines[row].count)
        cells = lines[row].split(mark)
        cell = chance.randrange(len(cells))
        what = chance.randrange(7)
        if what == 0:
            cells[cell] = chance.choice(CELLS)
        elif what == 1:
            cells[cell] = repr(chance.uniform(-10, 3000))
        elif what == 2:
            del cells[cell]
        elif what == 3:
            cells.insert(cell, cells[cell])
        elif what == 4:
            lines.insert(row, lines[chance.randrange(len(lines))])
            continue
        elif what == 5:
            del lines[row]
            continue
        else:
            chance.shuffle(cells)
        lines[row] = mark.join(cells)
    return "\n".join(lines) + "\n"


def saved(folder: Path, content: bytes, suffix: str) -> Path:
    path = folder / f"damaged{suffix}"
    path.write_bytes(content)
    return path
