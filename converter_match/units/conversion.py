"""Numbers through the door: trade units to SI, SI to trade units."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from numbers import Real
from typing import Any, Literal, get_args, overload

import numpy as np
from numpy.typing import NDArray

from converter_match.errors import InputError, did_you_mean
from converter_match.units.spelling import label
from converter_match.units.vocabulary import look_up, table_of

System = Literal["si", "us"]
FloatArray = NDArray[np.float64]
Scalar = float | np.floating[Any] | np.integer[Any]
Many = Sequence[float] | NDArray[Any]


@overload
def to_si(
    value: Scalar,
    unit: str,
    dimension: str,
    *,
    source: str | None = None,
    field: str | None = None,
) -> float: ...
@overload
def to_si(
    value: Many, unit: str, dimension: str, *, source: str | None = None, field: str | None = None
) -> FloatArray: ...
def to_si(
    value: Scalar | Many,
    unit: str,
    dimension: str,
    *,
    source: str | None = None,
    field: str | None = None,
) -> float | FloatArray:
    """Convert numbers in a trade unit to SI.

    Parameters
    ----------
    value : float or array-like of float, any shape
        The number or numbers as given. Whether they are finite is for the reader to judge.
    unit : str
        A spelling from the vocabulary of `dimension`.
    dimension : str
        One of `DIMENSIONS`.
    source, field : str, optional
        The file and the field, for the message.

    Returns
    -------
    float or ndarray of float
        The value in the SI unit of `dimension`: a float for a float, otherwise a new array of the
        same shape. Pressures are absolute; temperatures carry their offset.

    Raises
    ------
    InputError
        If the unit cannot be taken, or a value is text, true/false or anything but a number.

    Examples
    --------
    >>> round(to_si(1, "hp", "power"), 4)
    745.6999
    >>> to_si([32.0, 212.0], "degF", "temperature")
    array([273.15, 373.15])
    """
    row = look_up(unit, dimension, source, field)
    numbers = _numbers(value, source, field)
    with np.errstate(over="ignore"):  # what is too large for a float is infinite
        return _plain((numbers + row.offset) * row.factor)


@overload
def from_si(value: Scalar, unit: str, dimension: str) -> float: ...
@overload
def from_si(value: Many, unit: str, dimension: str) -> FloatArray: ...
def from_si(value: Scalar | Many, unit: str, dimension: str) -> float | FloatArray:
    """Convert SI numbers to a trade unit: the inverse of `to_si`.

    Parameters
    ----------
    value : float or array-like of float, any shape
        In the SI unit of `dimension`.
    unit : str
        A spelling from the vocabulary of `dimension`.
    dimension : str
        One of `DIMENSIONS`.

    Returns
    -------
    float or ndarray of float
        The value in `unit`: a float for a float, otherwise a new array of the same shape.

    Raises
    ------
    InputError
        If the unit cannot be taken or the value is not a number.

    Examples
    --------
    >>> round(from_si(1000.0, "lbf.ft", "torque"), 3)
    737.562
    """
    row = look_up(unit, dimension, None, None)
    with np.errstate(over="ignore"):  # what is too large for a float is infinite
        return _plain(_numbers(value, None, None) / row.factor - row.offset)


def display_unit(dimension: str, system: System) -> str:
    """Return the unit in which a quantity is shown to people.

    Parameters
    ----------
    dimension : str
        One of `DIMENSIONS`.
    system : {"si", "us"}
        Metric trade units, or US customary ones.

    Returns
    -------
    str
        A spelling from the vocabulary; `label` turns it into an axis label.

    Raises
    ------
    InputError
        If there is no such dimension or system.

    Examples
    --------
    >>> display_unit("torque", "si"), display_unit("torque", "us")
    ('N.m', 'lbf.ft')
    """
    table = table_of(dimension)
    if system not in get_args(System):
        raise InputError(
            "unknown unit system",
            found=system,
            expected="si or us",
            hint=did_you_mean(str(system), get_args(System)),
        )
    return table.si if system == "si" else table.us


@overload
def show(value_si: Scalar, dimension: str, system: System) -> tuple[float, str]: ...
@overload
def show(value_si: Many, dimension: str, system: System) -> tuple[FloatArray, str]: ...
def show(value_si: Scalar | Many, dimension: str, system: System) -> tuple[float | FloatArray, str]:
    """Return SI numbers in the unit people read, with the label that stands beside them.

    Parameters
    ----------
    value_si : float or array-like of float, any shape
        In the SI unit of `dimension`.
    dimension : str
        One of `DIMENSIONS`.
    system : {"si", "us"}
        Metric trade units, or US customary ones.

    Returns
    -------
    number : float or ndarray of float
        The unrounded value in the display unit.
    label : str
        The unit as it stands on an axis; empty for a ratio.

    Raises
    ------
    InputError
        If there is no such dimension or system, or the value is not a number.

    Examples
    --------
    >>> number, unit = show(1000.0, "torque", "us")
    >>> f"{number:.1f} {unit}"
    '737.6 lbf·ft'
    """
    unit = display_unit(dimension, system)
    return from_si(value_si, unit, dimension), "" if dimension == "ratio" else label(unit)


def trimmed(number: float) -> float:
    """Drop the digits in which processors differ: text must not hang on them.

    Tables step evenly, so a figure may stand just where its rounding turns, as 26.25 does with one
    decimal; its sixteenth digit would then decide what is printed.

    Parameters
    ----------
    number : float
        In the unit that it is about to be printed in.

    Returns
    -------
    float
        To ten significant digits, more than any text shows.

    Examples
    --------
    >>> [f"{trimmed(number):.1f}" for number in (26.249999999999996, 26.25, 26.250000000000004)]
    ['26.2', '26.2', '26.2']
    """
    return float(f"{number:.10g}")


def _numbers(value: Any, source: str | None, field: str | None) -> FloatArray:
    # numpy would take True for 1.0 and "3" for 3.0, and lists of them too: look at each element
    # unless the array already says that it holds numbers.
    if isinstance(value, np.ma.MaskedArray):
        raise InputError(
            "a masked array has rows without a number",
            source=source,
            field=field,
            expected="a number in every row",
            hint="leave those rows out",
        )
    if hasattr(value, "__array__"):
        value = array = np.asarray(value)
        if array.dtype.kind in "fiu":
            return array.astype(np.float64)
    for place, element in _elements(value):
        _refuse_unless_number(element, source, f"{field or ''}{place}" or None)
    try:
        return np.asarray(value, dtype=np.float64)
    except OverflowError:
        problem, expected = "number too large", "at most 1.8e308"
    except ValueError:
        problem, expected = "numbers do not form a table", "rows of one length"
    raise InputError(problem, source=source, field=field, expected=expected)


def _elements(value: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, np.ndarray) and value.dtype.kind in "bOSU":
        value = value.tolist()  # complex numbers and dates stay an array, and are refused as one
    if isinstance(value, list | tuple):
        for index, element in enumerate(value):
            yield from _elements(element, f"{place}[{index}]")
    else:
        yield place, value


def _refuse_unless_number(value: Any, source: str | None, field: str | None) -> None:
    is_number = isinstance(value, Real) and not isinstance(value, bool | np.bool_)
    if not is_number:
        raise InputError(
            "not a number",
            source=source,
            field=field,
            found=value,
            expected="a number without quotes",
            hint=_repair(value) if isinstance(value, str) else None,
        )


def _repair(text: str) -> str | None:
    text = text.strip()
    if comma := re.fullmatch(r"([+-]?\d+),(\d+)", text):
        whole, fraction = comma.groups()
        if len(fraction) == 3 and whole.lstrip("+-0"):
            return (
                f"decimal comma? write {whole}.{fraction}; "
                f"thousands separator? write {whole}{fraction}"
            )
        return f"decimal comma? write {whole}.{fraction}"
    if with_unit := re.fullmatch(r"([+-]?\d+(?:\.\d+)?)\s*([^\d\s,.]\D*)", text):
        return f"write the number {with_unit[1]} and the unit {with_unit[2]!r} apart"
    return None


def _plain(numbers: FloatArray) -> float | FloatArray:
    return float(numbers) if np.ndim(numbers) == 0 else numbers
