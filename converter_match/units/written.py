"""A quantity as a person writes it: number and unit in one text, ``2000 m`` or ``35 degC``."""

from __future__ import annotations

import math
import re

import numpy as np

from converter_match.errors import InputError
from converter_match.units.conversion import to_si
from converter_match.units.vocabulary import table_of

_WRITTEN = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([^\d\s.,].*?)?\s*")


def written_to_si(
    text: str,
    dimension: str,
    default_unit: str = "",
    *,
    source: str | None = None,
    field: str | None = None,
) -> float:
    """Return a written quantity in SI units.

    Parameters
    ----------
    text : str
        A number and its unit, with or without a space between.
    dimension : str
        One of `units.DIMENSIONS`.
    default_unit : str
        What a number without a unit is in; empty where a unit has to be written.
    source, field : str, optional
        Where it came from, for the message.

    Raises
    ------
    InputError
        If the text is no finite number with a known unit of that dimension.

    Examples
    --------
    >>> written_to_si("2.5 km", "length"), written_to_si("8", "ratio", "%")
    (2500.0, 0.08)
    """
    parts = _WRITTEN.fullmatch(text)
    if parts is None:
        raise InputError(
            "not a number with an optional unit" if default_unit else "not a number with its unit",
            source=source,
            field=field,
            found=text,
            expected=_example(dimension, default_unit),
            hint=comma_hint(text),
        )
    value = float(parts[1])
    if not math.isfinite(value):
        raise InputError("too large a number", source=source, field=field, found=text)
    return to_si(value, parts[2] or default_unit, dimension, source=source, field=field)


def si_of(value: float | str, dimension: str, field: str) -> float:
    """Return an argument in SI units: a number is in them already, a text names its unit.

    Parameters
    ----------
    value : float or str
    dimension : str
        One of `units.DIMENSIONS`.
    field : str
        Name of the argument, for the message.

    Raises
    ------
    InputError
        If it is neither a number nor a quantity of that dimension.

    Examples
    --------
    >>> si_of("160 N.m", "torque", "hydraulic_torque"), si_of(160.0, "torque", "hydraulic_torque")
    (160.0, 160.0)
    """
    if isinstance(value, str):
        return written_to_si(value, dimension, field=field)
    if _is_number(value):
        try:
            return float(value)
        except OverflowError:  # Python's whole numbers have no end
            raise InputError(
                "too large a number", field=field, found="a number beyond 1.8e308"
            ) from None
    raise InputError(
        "not a quantity",
        field=field,
        found=value,
        expected=f"{_example(dimension, '')}, or a number in SI units",
    )


def _is_number(value: object) -> bool:
    return isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)


def _example(dimension: str, unit: str) -> str:
    if unit not in ("", "1"):
        return f"for example 120 or '120 {unit}'"
    if dimension == "ratio":
        return "for example 1.5"
    return f"a text such as '120 {table_of(dimension).si}'"


def comma_hint(text: str) -> str | None:
    """Return how to write a number with a comma, which may be a decimal mark or set off thousands.

    Examples
    --------
    >>> comma_hint("2,5 m")
    'write 2.5, not 2,5'
    >>> comma_hint("1,880 rpm")
    'write 1880 or 1.880, not 1,880'
    """
    found = re.search(r"\d+(?:,\d+)+(?:\.\d+)?", text)
    if found is None:
        return "write 1.5, not 1,5" if "," in text else None
    number = found[0]
    point = number.replace(",", ".") if number.count(",") == 1 and "." not in number else None
    whole = number.replace(",", "") if re.fullmatch(r"\d{1,3}(,\d{3})+(\.\d+)?", number) else None
    return f"write {' or '.join(x for x in (whole, point) if x) or '1.5'}, not {number}"
