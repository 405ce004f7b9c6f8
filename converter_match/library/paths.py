"""Places inside a file: written with dots, walked step by step, and put on an error."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

from converter_match.errors import InputError

Path = tuple[str | int, ...]

_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")


def dotted(path: Path) -> str:
    """Return a path as people write it: ``full_load.torque.values[3]``."""
    text = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)
    return text.removeprefix(".")


def steps(field: str) -> Path:
    """Return the path that a dotted field names; inverse of `dotted`."""
    return tuple(int(row) if row else key for key, row in _STEP.findall(field))


def moved(error: InputError, field: str) -> InputError:
    """Return the same error at another field."""
    return error.changed(field=field)


def hinted(error: InputError, hint: str, joint: str = "; ") -> InputError:
    """Return the same error with one hint more."""
    return error.changed(hint=f"{error.hint}{joint}{hint}" if error.hint else hint)


@contextmanager
def placed(place: str, own: str | None) -> Iterator[None]:
    """Put an error at its place in a file.

    Parameters
    ----------
    place : str
    own : str or None
        The place that the component gave itself, which goes.
    """
    try:
        yield
    except InputError as error:
        field = error.field or ""
        if field.startswith(place):
            raise
        inner = field if own is None else field.removeprefix(own).removeprefix(".")
        raise moved(error, f"{place}.{inner}".rstrip(".")) from None
