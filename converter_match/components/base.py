"""What every component shares: value equality, a fingerprint, and change by copy."""

from __future__ import annotations

import dataclasses
import hashlib
import math
from typing import Any, Self

import numpy as np

from converter_match.errors import InputError


@dataclasses.dataclass(frozen=True, eq=False)
class Component:
    """Base for frozen dataclasses whose fields may be arrays.

    A plain frozen dataclass holding an ndarray raises on ``==`` and cannot be hashed, so equality
    and hash go by `fingerprint`, a digest of the type and of every field's value.
    """

    def fingerprint(self) -> str:
        """Return a hexadecimal digest of the component's content."""
        digest = hashlib.sha256(type(self).__name__.encode())
        for field in dataclasses.fields(self):
            if field.init:
                digest.update(field.name.encode())
                _feed(digest, getattr(self, field.name))
        return digest.hexdigest()

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Component) or type(self) is not type(other):
            return NotImplemented
        return self.fingerprint() == other.fingerprint()

    def __hash__(self) -> int:
        return hash(self.fingerprint())

    def replace(self, **changes: Any) -> Self:
        """Return a copy with some fields changed; the copy is validated like any other."""
        return dataclasses.replace(self, **changes)


def _feed(digest: Any, value: object) -> None:
    if isinstance(value, np.ndarray):
        digest.update(str(value.shape).encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    elif isinstance(value, tuple):
        digest.update(b"(")
        for item in value:
            _feed(digest, item)
        digest.update(b")")
    elif isinstance(value, Component):
        digest.update(value.fingerprint().encode())
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            _feed(digest, getattr(value, field.name))
    else:
        digest.update(repr(value).encode())


def require_positive(value: float | None, field: str, what: str = "a number above zero") -> None:
    """Refuse a value that is not finite and above zero; None (not given) passes.

    Raises
    ------
    InputError
        Naming the field and the value.
    """
    if value is not None and not (math.isfinite(value) and value > 0):
        raise InputError("out of range", field=field, found=value, expected=what)


def require_choice(value: str, field: str, choices: tuple[str, ...]) -> None:
    """Refuse a word that is not one of `choices`.

    Raises
    ------
    InputError
        Naming the choices and the nearest one.
    """
    from converter_match.errors import did_you_mean

    if value not in choices:
        raise InputError(
            "not a known choice",
            field=field,
            found=value,
            expected=" | ".join(choices),
            hint=did_you_mean(value, choices),
        )
