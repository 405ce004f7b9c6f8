"""How answers are held against the kept ones: lines of text, in `kept/`.

A printed number may be off by one in its last digit (a count may not), one of the JSON by a share
of 1e-6: what another processor may do.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from decimal import Decimal
from itertools import zip_longest
from pathlib import Path
from typing import Any

KEPT = Path(__file__).parent / "kept"
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
MOST_COUNTED = 200
NOTHING = Decimal("1e-9")
"""What is left of a difference that should be none."""
WHOLE = 6
"""Of a longer list only the first, the middle and the last stand in the file."""


def lines_of(value: Any, place: str = "") -> Iterator[str]:
    """Yield what a JSON document holds, one number or text a line."""
    if isinstance(value, dict):
        for key, more in value.items():
            yield from lines_of(more, f"{place}.{key}" if place else key)
    elif isinstance(value, list):
        count = len(value)
        kept = range(count) if count <= WHOLE else (0, count // 2, count - 1)
        yield f"{place}: {count}"
        for at in kept:
            yield from lines_of(value[at], f"{place}[{at}]")
    elif isinstance(value, float):
        yield f"{place} = {value:.9g}"
    else:
        yield f"{place} = {json.dumps(value, ensure_ascii=False)}"


def differs(kept: str, found: str) -> bool:
    """Return whether a line says something else, or other numbers."""
    if NUMBER.sub("#", kept) != NUMBER.sub("#", found):
        return True
    numbers = zip(NUMBER.findall(kept), NUMBER.findall(found), strict=True)
    return any(far_apart(Decimal(one), Decimal(other)) for one, other in numbers)


def far_apart(one: Decimal, other: Decimal) -> bool:
    """Return whether numbers differ by more than their last digit, or a millionth."""
    larger = max(abs(one), abs(other))
    last = Decimal(1).scaleb(max(int(number.as_tuple().exponent) for number in (one, other)))
    # What is whole and small is a count, as a rule: one more is another.
    printed = last if last < 1 or larger > MOST_COUNTED else Decimal(0)
    return abs(one - other) > max(printed, Decimal("1e-6") * larger, NOTHING)


def compare(name, lines, request):
    """Hold an answer against the kept one, or keep it."""
    path = KEPT / f"{name}.txt"
    if request.config.getoption("--write-answers"):
        path.parent.mkdir(exist_ok=True)
        path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    kept = path.read_text(encoding="utf-8").splitlines()
    other = [
        f"- {one}\n+ {another}"
        for one, another in zip_longest(kept, lines, fillvalue="")
        if differs(one, another)
    ]
    assert not other, "\n".join([f"{len(other)} lines of {path.name}:", *other[:20]])


def kept_names(beginning: str) -> set[str]:
    """Return the names of the kept files that begin so, without that."""
    return {path.stem.removeprefix(beginning) for path in KEPT.glob(f"{beginning}*.txt")}
