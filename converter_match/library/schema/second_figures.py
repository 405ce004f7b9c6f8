"""The same figure printed twice, in two units: held against each other, and kept.

A sheet says ``1050 N.m (774 lbf.ft)``, a file ``{ unit = "N.m", value = 1050, also = { unit =
"lbf.ft", value = 774 } }``. Everything is computed from the first. The second sees what no span of
usual sizes can: a unit that was taken for another of about its size (lbf.ft for N.m is a factor of
1.36, hp for kW one of 1.34, metric for mechanical horsepower one of 1.014), and a digit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.components.base import SecondFigure
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.schema.quantity import (
    SECOND,
    FreeEntries,
    GivenColumn,
    GivenQuantity,
    read_quantity,
)
from converter_match.library.schema.words import SECOND_HINTS, SPANS
from converter_match.notes import SECOND_DIFFERS, Note
from converter_match.units import dimensions_of, from_si, to_si
from converter_match.units.vocabulary import table_of

if TYPE_CHECKING:
    from pydantic import BaseModel

AGREE = 0.01
"""Share by which two prints of one figure may differ whatever their digits say: 1050 is rounded to
tens as often as to ones, and the digits do not tell which (common practice, no source)."""
AGREE_TEMPERATURE = 2.0
"""The same for temperatures [K], whose zero means nothing: 120 degC stands beside 250 degF, which
is 121 degC (common practice, no source)."""
_ROUNDING = 1e-9
_DIGITS = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)
_THOUSANDS = (1000.0, 0.001)  # W for kW, sooner than three digits

Given = GivenQuantity | GivenColumn
Numbers = float | tuple[float, ...]


@dataclass(frozen=True)
class _Side:
    """One of the two prints: its numbers as written, in a unit."""

    numbers: FloatArray
    unit: str
    dimension: str

    @classmethod
    def of(cls, numbers: Numbers, unit: str, dimension: str) -> _Side:
        return cls(np.atleast_1d(np.array(numbers, dtype=np.float64)), unit, dimension)

    def read(self, unit: str | None = None, factor: float = 1.0) -> FloatArray:
        """Return SI values, of the numbers times a factor, in the unit or in another one."""
        unit = self.unit if unit is None else unit
        return np.asarray(to_si(self.numbers * factor, unit, self.dimension))

    def half_a_digit(self, unit: str | None = None, factor: float = 1.0) -> FloatArray:
        """Return by how much the last printed digit leaves open what was meant, in SI."""
        halves = np.array([half_a_digit(number) for number in self.numbers.tolist()])
        unit = self.unit if unit is None else unit
        ends = to_si(np.array([0.0, 1.0]), unit, self.dimension)
        return halves * factor * float(ends[1] - ends[0])

    def row(self, row: int) -> _Side:
        return _Side(self.numbers[[row]], self.unit, self.dimension)

    def text(self, row: int = 0) -> str:
        return _text(self.numbers[row], self.unit)


def half_a_digit(number: float) -> float:
    """Return half a unit of the last digit of a number as it is printed.

    Zeros at the end of a decimal say nothing: a number that was read does not tell 7.0 from 7.

    Parameters
    ----------
    number : float

    Examples
    --------
    >>> half_a_digit(774.0), half_a_digit(5.25)
    (0.5, 0.005)
    """
    mantissa, _, power = f"{number:.12g}".partition("e")
    exponent = int(power or "0") - len(mantissa.partition(".")[2])
    return 0.5 * math.pow(10.0, min(exponent, 0))


def disagreement(
    first: FloatArray, second: FloatArray, halves: FloatArray, dimension: str
) -> FloatArray:
    """Return by how much two prints differ, as a multiple of what their digits leave open.

    Parameters
    ----------
    first, second : ndarray, shape (n,)
        In SI units.
    halves : ndarray, shape (n,)
        Half a unit of the last digit of both, added up, in SI units.
    dimension : str
    """
    if dimension == "temperature":
        floor = np.full(first.shape, AGREE_TEMPERATURE)
    else:
        floor = AGREE * np.maximum(np.abs(first), np.abs(second))
    open_ = np.maximum(np.maximum(halves, floor) * (1.0 + _ROUNDING), np.finfo(float).tiny)
    return np.asarray(np.abs(first - second) / open_)


def second_figures_in(model: BaseModel, place: str = "") -> Iterator[SecondFigure]:
    """Yield every figure of a file that it gives in a second unit.

    Parameters
    ----------
    model : BaseModel
        The file, checked for keys and units.
    place : str
        Of the table within the file.
    """
    from pydantic import BaseModel

    for name in type(model).model_fields:
        value, here = getattr(model, name), f"{place}.{name}" if place else name
        if name == SECOND:  # of a table that is a quantity itself
            if value is not None:
                yield from _kept(model.column(), place)  # type: ignore[attr-defined]
        elif isinstance(value, GivenQuantity | GivenColumn):
            yield from _kept(value, here)
        elif isinstance(value, FreeEntries):
            for key, entry in value.quantities.items():
                yield from _kept(entry, f"{here}.{key}")
        elif isinstance(value, BaseModel):
            yield from second_figures_in(value, here)
        elif isinstance(value, list):
            for row, item in enumerate(value):
                if isinstance(item, BaseModel):
                    yield from second_figures_in(item, f"{here}[{row}]")
                elif isinstance(item, GivenColumn):
                    yield from _kept(item, f"{here}[{row}]")
        elif isinstance(value, Mapping) and SECOND in value:
            yield from _unread(value, here)


def _kept(given: Given, place: str) -> Iterator[SecondFigure]:
    if given.also:
        yield SecondFigure(
            place=place,
            dimension=given.dimension,
            si=tuple(np.atleast_1d(given.si).tolist()),
            unit=given.unit,
            numbers=_numbers(given),
            also=tuple((second.unit, _numbers(second)) for second in given.also),
        )


def _numbers(given: Given) -> Numbers:
    return given.values if isinstance(given, GivenColumn) else given.value


def _unread(raw: Mapping[str, Any], place: str) -> Iterator[SecondFigure]:
    """Yield a figure whose dimension hangs on another key of its table, by that of its units."""
    seconds = raw[SECOND] if isinstance(raw[SECOND], list) else [raw[SECOND]]
    if not all(isinstance(table, Mapping) for table in seconds):
        return  # refused where its dimension is known
    units = [str(table.get("unit", "")) for table in (raw, *seconds)]
    shared = set.intersection(*({*(dimensions_of(unit) or ("ratio",))} for unit in units))
    read = [read_quantity(dict(raw), dimension) for dimension in sorted(shared)]
    found = [figure for given in read for figure in _kept(given, place)]
    # 60 degC are 140 degF on the scale, and 108 degF as a difference: either may be meant.
    agreed = [figure for figure in found if not any(second_notes(figure))]
    yield from (agreed or found)[:1]


def refuse_uneven(model: BaseModel, source: str) -> None:
    """Refuse a second column that has another number of rows than the first.

    After all that is said of the first one's rows, since one of those may be the row too many.

    Parameters
    ----------
    model : BaseModel
        The file, checked for keys and units.
    source : str
        Its name, for the message.

    Raises
    ------
    InputError
        Naming the second column.
    """
    for figure in second_figures_in(model):
        for row, (_, numbers) in enumerate(figure.also):
            if np.size(numbers) != len(figure.si):
                which = f"{SECOND}[{row}]" if len(figure.also) > 1 else SECOND
                raise InputError(
                    "the second figures must have as many rows as the first",
                    source=source,
                    field=f"{figure.place}.{which}.values",
                    found=f"{np.size(numbers)} values beside {len(figure.si)}",
                )


def second_notes(figure: SecondFigure) -> Iterator[Note]:
    """Yield what is asked about a figure that says another thing in another unit.

    Parameters
    ----------
    figure : SecondFigure
    """
    first = _Side.of(figure.numbers, figure.unit, figure.dimension)
    for unit, numbers in figure.also:
        if np.size(numbers) != len(figure.si):
            continue  # refused: see `refuse_uneven`
        second = _Side.of(numbers, unit, figure.dimension)
        off = _off(first, second)
        if not np.any(off > 1.0):
            continue
        row = int(np.argmax(off > 1.0))
        yield SPANS.note(
            SECOND_DIFFERS,
            field=figure.place + (f".values[{row}]" if isinstance(numbers, tuple) else ""),
            found=first.text(row),
            second=second.text(row),
            found_in_second=_in(first.row(row), second),
            second_in_found=_in(second.row(row), first),
            hint=_hint(first, second, off),
        )


def differ(first: tuple[float, str], second: tuple[float, str], dimension: str) -> bool:
    """Return whether two prints of one figure say another thing.

    Parameters
    ----------
    first, second : (float, str)
        Number and unit.
    dimension : str

    Examples
    --------
    >>> differ((1050.0, "N.m"), (774.0, "lbf.ft"), "torque")
    False
    >>> differ((185.0, "kW"), (252.0, "hp"), "power")
    True
    """
    one, other = (_Side.of(*each, dimension) for each in (first, second))
    return bool(np.any(_off(one, other) > 1.0))


def _off(first: _Side, second: _Side, **read: Any) -> FloatArray:
    halves = first.half_a_digit(**read) + second.half_a_digit()
    return disagreement(first.read(**read), second.read(), halves, first.dimension)


def _in(side: _Side, other: _Side) -> str:
    """Return a figure in the unit of the other one, to four digits."""
    number = float(from_si(side.read(), other.unit or "1", side.dimension)[0])
    return _text(float(f"{number:.4g}"), other.unit)


def _hint(first: _Side, second: _Side, off: FloatArray) -> str:
    """Return which usual slip explains it, and what would go with the second figure then."""
    turned = _Side(first.numbers, second.unit, first.dimension)
    other = _Side(second.numbers, first.unit, first.dimension)
    row = int(np.argmax(off > 1.0))
    if np.all(_off(turned, other) <= 1.0):
        said = {"first": turned.text(row), "second": other.text(row)}
        return _said("interchanged", **said)
    digits = _digits(first, second)
    if digits is not None and digits not in _THOUSANDS:
        return _said("digits", meant=_text(first.numbers[row] * digits, first.unit))
    for side, fixed in ((first, second), (second, first)):
        unit = _fitting_unit(side, fixed)
        if unit is not None:
            text = _text(side.numbers[row], unit)
            return _said("unit", meant=text, unit=side.unit, beside=fixed.text(row))
    if digits is not None:
        return _said("digits", meant=_text(first.numbers[row] * digits, first.unit))
    if np.count_nonzero(off > 1.0) == 1:
        sides = (first.row(row), second.row(row)), (second.row(row), first.row(row))
        near = [found for one, fixed in sides for found in _mistyped(one, fixed)]
        if near:
            _, meant, fixed = min(near, key=lambda found: found[0])
            return _said("mistyped", meant=meant.text(), beside=fixed.text())
    return _said("none")


def _digits(first: _Side, second: _Side) -> float | None:
    """Return the power of ten by which the first print would go with the second."""
    return next((f for f in _DIGITS if np.all(_off(first, second, factor=f) <= 1.0)), None)


def _fitting_unit(side: _Side, fixed: _Side) -> str | None:
    """Return the unit in which the numbers of one print would go with the other best."""
    best: tuple[float, str] | None = None
    own = side.read()
    for unit_row in table_of(side.dimension).rows:
        unit = unit_row.names()[0]
        if np.allclose(side.read(unit), own, rtol=_ROUNDING, atol=0.0):
            continue
        worst = float(_off(side, fixed, unit=unit).max())
        if worst <= 1.0 and (best is None or worst < best[0]):
            best = worst, unit
    return None if best is None else best[1]


def _mistyped(side: _Side, fixed: _Side) -> Iterator[tuple[float, _Side, _Side]]:
    """Yield what one digit wrong, or two changed about, would have come from, and how far off."""
    text = f"{side.numbers[0]:.12g}"
    tried = [
        f"{text[:place]}{digit}{text[place + 1 :]}"
        for place, written in enumerate(text)
        if written.isdigit()
        for digit in "0123456789"
    ]
    for place in range(len(text) - 1):
        one, other = text[place], text[place + 1]
        if one.isdigit() and other.isdigit():
            tried.append(f"{text[:place]}{other}{one}{text[place + 2 :]}")
    for number in map(float, tried):
        meant = _Side(np.array([number]), side.unit, side.dimension)
        off = float(_off(meant, fixed)[0])
        if off <= 1.0:
            yield off, meant, fixed


def _text(number: float, unit: str) -> str:
    return f"{number:.10g} {unit}".rstrip()


def _said(code: str, **values: str) -> str:
    return f" {SECOND_HINTS[code].format(**values)}"
