"""What every answer has to be: finite, and the same after a journey through JSON."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np


def survives_json(result: Any) -> None:
    """Assert that plain data is the same after JSON: no NaN, no tuple, no key but text."""
    plain = result.to_dict()
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


def numbers(thing: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Yield every number of a component, with its place."""
    if isinstance(thing, bool | str | bytes | None):
        return
    if isinstance(thing, int | float | np.number):
        yield path, float(thing)
    elif isinstance(thing, np.ndarray) and thing.dtype.kind in "fiu":
        yield from ((path, float(value)) for value in thing.flat)
    elif dataclasses.is_dataclass(thing):
        for field in dataclasses.fields(thing):
            yield from numbers(getattr(thing, field.name), f"{path}.{field.name}")
    elif isinstance(thing, dict):
        for key, value in thing.items():
            yield from numbers(value, f"{path}[{key!r}]")
    elif isinstance(thing, list | tuple):
        for value in thing:
            yield from numbers(value, f"{path}[]")


def check_finite(component: Any) -> None:
    bad = [(path, value) for path, value in numbers(component) if not math.isfinite(value)]
    assert not bad, bad[:5]


def check_refusal(error: Exception, source: str | None = None, longest: int = 3000) -> None:
    """Assert that a refusal is one line of modest length that begins with its source."""
    text = str(error)
    assert text.strip()
    assert len(text.splitlines()) == 1, text
    assert len(text) < longest
    if source is not None:
        assert text.startswith(source)
