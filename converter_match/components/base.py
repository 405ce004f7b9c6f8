"""What every component shares: value equality, a fingerprint, and change by copy."""

from __future__ import annotations

import dataclasses
import hashlib
import math
from functools import cached_property
from typing import Any, Self

import numpy as np

from converter_match.constants import RPM, ZERO_CELSIUS
from converter_match.errors import InputError
from converter_match.notes import ASKED, Note

LATER = "later"
"""Key in a field's metadata: it came later, and at its default it leaves fingerprints as they were.

Fingerprints are kept outside, in results and bench files.
"""
_SECOND = "_second_figures"
# What counts as one number; numpy's single-precision and whole numbers are not Python's.
_LARGEST = 10**300
_NUMBER = (int, float, np.integer, np.floating)


@dataclasses.dataclass(frozen=True)
class SecondFigure:
    """A figure of a component's file that is printed there in other units as well.

    No part of a component: it is the same one with or without. Kept so that it can be written
    again beside the figure, for as long as that is the one it stood beside.

    Parameters
    ----------
    place : str
        Of the figure in the file, such as ``accessory[0].power``.
    dimension : str
    si : tuple of float
        The figure, a number or a column, in SI units.
    unit : str
    numbers : float or tuple of float
        The figure as it was written.
    also : tuple of (str, float or tuple of float)
        The second ones: unit, and number or numbers.
    """

    place: str
    dimension: str
    si: tuple[float, ...]
    unit: str
    numbers: float | tuple[float, ...]
    also: tuple[tuple[str, float | tuple[float, ...]], ...]


@dataclasses.dataclass(frozen=True, eq=False)
class Component:
    """Base for frozen dataclasses whose fields may be arrays.

    A plain frozen dataclass holding an ndarray raises on ``==`` and cannot be hashed, so equality
    and hash go by `fingerprint`, a digest of the type and of every field's value.
    """

    def __init_subclass__(cls) -> None:
        """Have the numbers of a component looked at before its own rules compare them."""
        own = cls.__dict__.get("__post_init__")
        if own is None:
            return

        def checked(self: Component) -> None:
            _refuse_what_is_no_number(self)
            own(self)

        setattr(cls, "__post_init__", checked)  # noqa: B010  (mypy knows no such attribute here)

    def fingerprint(self) -> str:
        """Return a hexadecimal digest of the component's content."""
        return self._digest

    @cached_property
    def _digest(self) -> str:
        digest = hashlib.sha256(type(self).__name__.encode())
        for field in dataclasses.fields(self):
            value = getattr(self, field.name)
            if not field.init or (field.metadata.get(LATER) and value == field.default):
                continue
            _feed_marked(digest, "field", field.name.encode())
            _feed(digest, value)
        return digest.hexdigest()

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Component) or type(self) is not type(other):
            return NotImplemented
        return self.fingerprint() == other.fingerprint()

    def __hash__(self) -> int:
        return hash(self.fingerprint())

    def __reduce__(self) -> tuple[Any, ...]:
        # An array comes back from pickling or copying writable, so the copy is built anew.
        fields = {
            item.name: getattr(self, item.name) for item in dataclasses.fields(self) if item.init
        }
        return _rebuild, (type(self), fields, self.second_figures)

    def replace(self, **changes: Any) -> Self:
        """Return a copy with some fields changed; the copy is validated like any other."""
        return dataclasses.replace(self, **changes)._printed_with(self.second_figures)

    @property
    def second_figures(self) -> tuple[SecondFigure, ...]:
        """What its file prints in other units as well; empty for a part of no file."""
        found: tuple[SecondFigure, ...] = self.__dict__.get(_SECOND, ())
        return found

    def with_second_figures(self, figures: tuple[SecondFigure, ...]) -> Self:
        """Return the same component, with what its file prints in other units as well.

        Parameters
        ----------
        figures : tuple of SecondFigure
        """
        return dataclasses.replace(self)._printed_with(figures) if figures else self

    def _printed_with(self, figures: tuple[SecondFigure, ...]) -> Self:
        if figures:  # beside the fields, as it is beside the content
            object.__setattr__(self, _SECOND, figures)
        return self


def _refuse_what_is_no_number(component: Component) -> None:
    """Refuse text, a masked value or the like in the fields that hold one number.

    Whether a number is finite and of a size that can be, the component's own rules say.
    """
    for field in dataclasses.fields(component):
        kinds = str(field.type).split(" | ")
        value = getattr(component, field.name)
        if "float" not in kinds or (value is None and "None" in kinds):
            continue
        if isinstance(value, bool) or not isinstance(value, _NUMBER):
            raise InputError(
                "not a number", field=field.name, found=value, expected="a number in SI units"
            )
        if isinstance(value, int) and abs(value) > _LARGEST:
            raise InputError("too large a number", field=field.name, expected="a number")


def _rebuild(
    kind: type[Component], fields: dict[str, Any], second: tuple[SecondFigure, ...] = ()
) -> Component:
    return kind(**fields)._printed_with(second)


def _feed(digest: Any, value: object) -> None:
    """Feed a value, marked with its kind and size so that neighbours cannot run together.

    Numbers go by value: 80, 80.0 and a numpy 80.0 are the same speed, and so are 0.0 and -0.0.
    """
    if isinstance(value, np.ndarray):
        _feed_marked(digest, f"array{value.shape}", np.ascontiguousarray(value + 0.0).tobytes())
    elif isinstance(value, tuple):
        value = tuple(x for x in value if not (isinstance(x, Note) and x.code in ASKED))
        _feed_marked(digest, "tuple", str(len(value)).encode())
        for item in value:
            _feed(digest, item)
    elif isinstance(value, Note):
        # Its code, not its words: a better wording is no other part, nor is a file read back.
        _feed_marked(digest, "note", f"{value.code} {value.kind}".encode())
    elif isinstance(value, Component):
        _feed_marked(digest, "component", value.fingerprint().encode())
    elif dataclasses.is_dataclass(value):
        _feed_marked(digest, "record", type(value).__name__.encode())
        for field in dataclasses.fields(value):
            own = getattr(value, field.name)
            if not (field.metadata.get(LATER) and own == field.default):
                _feed(digest, own)
    elif isinstance(value, _NUMBER):
        _feed_marked(digest, "number", (float(value) + 0.0).hex().encode())
    else:
        _feed_marked(digest, type(value).__name__, str(value).encode())


def _feed_marked(digest: Any, kind: str, content: bytes) -> None:
    digest.update(f"{kind} {len(content)}:".encode())
    digest.update(content)


def freeze_tuples(component: Component, *names: str) -> None:
    """Turn the named fields into tuples (of tuples): a list could be changed from outside.

    Parameters
    ----------
    component : Component
    *names : str
    """
    for name in names:
        items = tuple(
            tuple(item) if isinstance(item, list) else item for item in getattr(component, name)
        )
        object.__setattr__(component, name, items)


def require_positive(value: object, field: str, what: str = "a number above zero") -> None:
    """Refuse a value that is not finite and above zero; None (not given) passes.

    Parameters
    ----------
    value : object
        In whatever unit; its size is not judged.
    field : str
        Its place, for the message.
    what : str
        What was expected, for the message.

    Raises
    ------
    InputError
        Naming the field and the value.
    """
    if value is None:
        return
    if not isinstance(value, _NUMBER):
        raise InputError("not a number", field=field, found=value, expected=what)
    if not (math.isfinite(value) and value > 0):
        raise InputError("out of range", field=field, found=value, expected=what)


def require_within(value: float | None, field: str, low: float, high: float, unit: str) -> None:
    """Refuse a number that nothing of the kind has, as it comes of a unit read as another.

    Parameters
    ----------
    value : float or None
        In SI units; None (not given) passes.
    field : str
    low, high : float
        Between which it lies, these included.
    unit : str
        Of all three.

    Raises
    ------
    InputError
        If it does not.
    """
    if value is not None and not low <= value <= high:
        raise InputError(
            "no such value",
            field=field,
            found=f"{value:g} {unit}",
            expected=f"{low:g} to {high:g} {unit}",
        )


def require_choice(value: str, field: str, choices: tuple[str, ...]) -> None:
    """Refuse a word that is not one of `choices`.

    Parameters
    ----------
    value, field : str
        The word, and its place for the message.
    choices : tuple of str

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
            hint=did_you_mean(str(value), choices),
        )


def in_rpm(*speeds: float) -> str:
    """Return speeds [rad/s] as text in rpm, two of them as a range.

    For messages only: people read speeds in rpm; every speed inside is in rad/s.
    """
    return " .. ".join(f"{speed / RPM:.5g}" for speed in speeds) + " rpm"


def in_celsius(temperature: float) -> str:
    """Return a temperature [K] as text in degC, for messages only, as `in_rpm`."""
    return f"{temperature - ZERO_CELSIUS:.4g} degC"
