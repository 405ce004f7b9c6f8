"""A number in a file against what such a number usually is, and against what it can be.

The tables stand in `span_tables`; here they are read, and a file that has been checked for keys and
units is held against them: `refusals` is what it is refused for, `questions` what is asked about.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from converter_match.constants import RPM, ZERO_CELSIUS
from converter_match.errors import InputError
from converter_match.library.schema.derived import worked_out
from converter_match.library.schema.quantity import GivenColumn, GivenQuantity
from converter_match.library.schema.second_figures import (
    refuse_uneven,
    second_figures_in,
    second_notes,
)
from converter_match.library.schema.span_tables import EVERY_FILE, SIZES, TABLES
from converter_match.library.schema.words import SPANS
from converter_match.notes import Note
from converter_match.units import from_si, si_unit, to_si
from converter_match.units.vocabulary import dimensions_of

if TYPE_CHECKING:
    from pydantic import BaseModel

PRACTICE = "common practice, no source"
# What a slip multiplies by: one, two or three digits, inches and millimetres.
_SLIPS = (10.0, 100.0, 1000.0, 0.1, 0.01, 0.001, 25.4, 1 / 25.4)
_ROUNDING = 1e-9
# A curve of ours rises or falls by less from row to row and back (common practice, no source).
_PEAK = 2.5
_CAPITAL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_TERM = re.compile(r"([*/]?)\s*(@?[\w.]+)(:first)?\[([^\]]+)\](?:\^([\d.]+))?\s*")


@dataclass(frozen=True)
class Span:
    """One row of the table.

    Parameters
    ----------
    path : str
        Keys down to the number, as in ``full_load.speed``.
    unit : str
        That the row is written in; empty for one that has no spans.
    usual, possible : tuple of float or None
    asks : {"largest", "each", "rule", "bare"}
        Whether the largest number of a column is asked about, every number, or neither, because a
        rule of this room knows more. An argument with ``bare`` has to name its unit where it lies
        outside the usual span.
    basis : str
    """

    path: str
    unit: str
    usual: tuple[float, float] | None
    possible: tuple[float, float] | None
    asks: str
    basis: str


@dataclass(frozen=True)
class SizeRow:
    """A number against others of its file.

    Parameters
    ----------
    text : str
        As it is written in the table.
    terms : tuple of (path, first, unit, exponent)
    usual : tuple of float
    where : tuple of (path, least, most) or None
        Asked only where that number lies so.
    """

    text: str
    terms: tuple[tuple[str, bool, str, float], ...]
    usual: tuple[float, float]
    where: tuple[str, float, float] | None


@dataclass(frozen=True)
class Found:
    """A number, or a column of them, in a file: its keys, its place, and what stands there."""

    path: str
    place: str
    given: GivenQuantity | GivenColumn


@cache
def spans_of(kind: str) -> Mapping[str, Span]:
    """Return the rows of a kind of file by their paths.

    Examples
    --------
    >>> spans_of("engine")["displacement"].usual
    (0.3, 100.0)
    """
    rows = {}
    for line in (TABLES.get(kind, "") + EVERY_FILE).split("\n"):
        if not line:
            continue
        path, unit, usual, possible, basis = (cell.strip() for cell in line.split("|"))
        asks = usual.split()[0] if usual[0].isalpha() else "largest"
        for one in _written_out(path):
            rows[one] = Span(
                path=one,
                unit="" if unit == "-" else unit,
                usual=_ends(usual.removeprefix(asks)),
                possible=_ends(possible),
                asks=asks,
                basis=basis or PRACTICE,
            )
    return rows


@cache
def sizes_of(kind: str) -> tuple[SizeRow, ...]:
    """Return the sizes that are held against each other in a kind of file."""
    found = []
    for line in SIZES.get(kind, "").strip().splitlines():
        for text in _written_out(line):
            formula, usual, *where = (cell.strip() for cell in text.split("|"))
            terms = tuple(
                (path, bool(first), unit, float(power or 1.0) * (-1.0 if sign == "/" else 1.0))
                for sign, path, first, unit, power in _TERM.findall(formula)
            )
            at, span = where[0].split(" ", 1) if where else ("", "-")
            ends, condition = _ends(usual), _ends(span)
            assert ends is not None  # a row without a span says nothing
            found.append(
                SizeRow(formula, terms, ends, None if condition is None else (at, *condition))
            )
    return tuple(found)


def _written_out(text: str) -> Iterator[str]:
    """Yield a text with each of the words in braces in their place."""
    parts = re.split(r"\{([^}]*)\}", text)
    choices = [part.split(",") if row % 2 else [part] for row, part in enumerate(parts)]
    yield from ("".join(words) for words in itertools.product(*choices))


def _ends(text: str) -> tuple[float, float] | None:
    if text == "-":
        return None
    low, high = text.split("..")
    return float(low), float(high)


def kind_of(model: type[BaseModel]) -> str:
    """Return the kind of file that a model is of; a name that is in no table for another model."""
    return _CAPITAL.sub("-", model.__name__.removesuffix("File")).lower()


def numbers_in(model: BaseModel, path: str = "", place: str = "") -> Iterator[Found]:
    """Yield every number and column of a file, in the order of its schema."""
    from pydantic import BaseModel

    for name in type(model).model_fields:
        value, keys = getattr(model, name), f"{path}.{name}" if path else name
        here = f"{place}.{name}" if place else name
        if name in ("engage", "release") and hasattr(model, "threshold"):
            if getattr(model, "engage_by", "") == "gear":  # a number in the gearbox, no size
                continue
            value = model.threshold(name)
        if isinstance(value, GivenQuantity | GivenColumn):
            yield Found(keys, here, value)
        elif isinstance(value, int) and not isinstance(value, bool):
            yield Found(keys, here, GivenQuantity(float(value), "", float(value)))
        elif isinstance(value, BaseModel):
            yield from numbers_in(value, keys, here)
        elif isinstance(value, list):
            for row, item in enumerate(value):
                if isinstance(item, BaseModel):
                    yield from numbers_in(item, keys, f"{here}[{row}]")
                elif isinstance(item, GivenColumn):  # a row of a grid
                    yield Found(keys, f"{here}[{row}]", item)


def refuse_impossible(model: BaseModel, source: str) -> None:
    """Refuse a file with a number that nothing of its kind has.

    After all that the component itself refuses, which knows more.

    Parameters
    ----------
    model : BaseModel
        The file, checked for keys and units.
    source : str
        Its name, for the message.

    Raises
    ------
    InputError
        With the place, what was found, what can be, and the slip that would explain it.
    """
    refuse_uneven(model, source)
    rows = spans_of(kind_of(type(model)))
    for found in numbers_in(model):
        for error in _refused(rows[found.path], found) if found.path in rows else ():
            raise error.located(source=source)


def _refused(span: Span, found: Found) -> Iterator[InputError]:
    if span.possible is None or _other_dimension(span, found):
        return
    low, high = _si(span.possible, span.unit)
    given = found.given
    for row, value in enumerate(np.atleast_1d(given.si).tolist()):
        if low <= value <= high:
            continue
        if isinstance(given, GivenColumn):
            place, written = f"{found.place}{given.place}[{row}]", given.given(row)
        else:
            place, written = f"{found.place}.value" if given.unit else found.place, given.given()
        yield InputError(
            "no such value",
            field=place,
            found=written,
            expected=f"{_between(span.possible, span.unit, given.unit)}; usual is "
            f"{_between(span.usual or span.possible, span.unit, given.unit)}",
            hint=_hint(value, span) or "is the unit right?",
        )
        return


def with_slip(error: InputError, model: BaseModel) -> InputError:
    """Return the refusal of a component with the slip that would explain it, where there is one.

    Parameters
    ----------
    error : InputError
        What the component says, its field named as in the file.
    model : BaseModel
        The file, checked for keys and units.
    """
    if error.hint is not None:
        return error
    rows = spans_of(kind_of(type(model)))
    for found in numbers_in(model):
        for slip in _refused(rows[found.path], found) if found.path in rows else ():
            if slip.field == error.field:
                return error.changed(hint=slip.hint)
            if slip.field == f"{error.field}.value" and slip.problem == error.problem:
                return slip.located(source=error.source)  # the same, in the file's unit
    return error


def argument_refused(argument: str, value: float, written: str | None = None) -> InputError | None:
    """Return what an argument of a public function is refused for, None for one that can be.

    Parameters
    ----------
    argument : str
        Its name; one that is in no table is not judged.
    value : float
        In SI units.
    written : str, optional
        As it was written, where it was with its unit.
    """
    span = spans_of("argument").get(argument)
    if span is None or span.possible is None:
        return None
    unit = si_unit(_dimension(span.unit))
    found = f"{value:g} {'' if unit == '1' else unit}".rstrip()
    usual = _between(span.usual or span.possible, span.unit, unit)
    hint = _hint(value, span) or "a number is in SI units, a text names its unit"
    low, high = _si(span.possible, span.unit)
    if not low <= value <= high:
        expected = f"{_between(span.possible, span.unit, unit)}; usual is {usual}"
        found = written or found
        return InputError(
            "no such value", field=argument, found=found, expected=expected, hint=hint
        )
    if written is not None or span.asks != "bare" or span.usual is None or value == 0.0:
        return None
    low, high = _si(span.usual, span.unit)
    if low * (1 - _ROUNDING) <= abs(value) <= high * (1 + _ROUNDING):
        return None
    text = found if unit != "1" else f"{100 * value:g} %"
    expected = f"{usual}, or a text such as '{text}' if that is meant"
    what = "unusual for a number without its unit"
    return InputError(what, field=argument, found=found, expected=expected, hint=hint)


def questions(model: BaseModel) -> tuple[Note, ...]:
    """Return what is asked about a file: numbers that are unusual, alone or for their size.

    And such as say another thing in the second unit in which the file has them.

    Parameters
    ----------
    model : BaseModel
        The file, checked for keys and units.
    """
    kind = kind_of(type(model))
    rows, there = spans_of(kind), tuple(numbers_in(model))
    asked = [
        note for found in there if found.path in rows for note in _asked(rows[found.path], found)
    ]
    out_of_line = (note for found in there for note in _out_of_line(found))
    differing = (note for figure in second_figures_in(model) for note in second_notes(figure))
    return (*asked, *out_of_line, *_odd_sizes(kind, there), *differing)


def _out_of_line(found: Found) -> Iterator[Note]:
    """Look for a row that stands out from both its neighbours by more than any curve does."""
    given = found.given
    if not isinstance(given, GivenColumn) or len(given) < 3 or np.any(given.si <= 0.0):
        return
    inner, before, after = given.si[1:-1], given.si[:-2], given.si[2:]
    high = inner > _PEAK * np.maximum(before, after)
    low = inner < np.minimum(before, after) / _PEAK
    for row in np.flatnonzero(high | low)[:1].tolist():
        yield SPANS.note(
            "row-out-of-line",
            field=f"{found.place}{given.place}[{row + 1}]",
            found=given.given(row + 1),
            before=given.given(row),
            after=given.given(row + 2),
        )


def asked_of(kind: str, values: Mapping[str, float | None], at: str = "") -> Iterator[Note]:
    """Yield what is asked about numbers of a component that keeps them as they were given.

    Parameters
    ----------
    kind : str
        Kind of file.
    values : mapping of str to float or None
        By path, in SI units.
    at : str
        Said after the path.
    """
    for path, value in values.items():
        if value is not None:
            span = spans_of(kind)[path]
            shown = float(from_si(value, span.unit, _dimension(span.unit)))
            given = GivenQuantity(float(f"{shown:.6g}"), span.unit, value)
            yield from _asked(span, Found(path, path + at, given))


def _asked(span: Span, found: Found) -> Iterator[Note]:
    span = _OF_SPEED if _other_dimension(span, found) else span
    usual = span.usual
    if usual is None or span.asks == "rule":
        return
    low, high = _si(usual, span.unit)
    values = np.atleast_1d(found.given.si)
    sizes = np.abs(values) if low > 0 else values
    looked_at = sizes if span.asks == "each" else sizes[[int(sizes.argmax())]]
    for value in looked_at.tolist():
        if value == 0.0 or low * (1 - _ROUNDING) <= value <= high * (1 + _ROUNDING):
            continue
        row = int(np.flatnonzero(sizes == value)[0])
        given = found.given
        yield SPANS.note(
            "number-unusual",
            field=found.place,
            found=given.given(row) if isinstance(given, GivenColumn) else given.given(),
            usual=_between(usual, span.unit, given.unit),
            hint=_sentence(_hint(value, span)),
        )
        return


# A clutch that goes by turbine speed has its thresholds there.
_OF_SPEED = Span("", "rpm", (500.0, 5000.0), None, "largest", PRACTICE)


def _other_dimension(span: Span, found: Found) -> bool:
    return bool(
        span.unit == "1" and found.given.unit and "angular_speed" in dimensions_of(found.given.unit)
    )


def _odd_sizes(kind: str, there: tuple[Found, ...]) -> Iterator[Note]:
    by_path: dict[str, list[Found]] = {}
    for found in there:
        by_path.setdefault(found.path, []).append(found)
    derived = worked_out(kind, {path: row[0].given.si for path, row in by_path.items()})
    for sizes in sizes_of(kind):
        for main in by_path.get(sizes.terms[0][0], ()):
            value, said = 1.0, []
            for path, first, unit, power in sizes.terms:
                number = derived.get(path)
                if number is None:
                    other = _beside(main, by_path.get(path, []))
                    if other is None:
                        break
                    column = np.atleast_1d(other.given.si)
                    number = float(column[0] if first else column[np.abs(column).argmax()])
                    said.append(other.place)
                value *= float(from_si(number, unit, _dimension(unit))) ** power
                if value == 0.0 or not math.isfinite(value):
                    break
            else:
                low, high = sizes.usual
                if _applies(sizes, main, by_path) and not low <= abs(value) <= high:
                    yield SPANS.note(
                        "sizes-unusual",
                        field=main.place,
                        sizes=sizes.text.replace("@", ""),
                        value=f"{abs(value):.3g}",
                        low=f"{low:g}",
                        high=f"{high:g}",
                        others=", ".join(dict.fromkeys(said)),
                    )


def _applies(sizes: SizeRow, main: Found, by_path: Mapping[str, list[Found]]) -> bool:
    if sizes.where is None:
        return True
    path, low, high = sizes.where
    other = _beside(main, by_path.get(path, []))
    return other is not None and low <= float(np.max(other.given.si)) < high


def _beside(main: Found, others: list[Found]) -> Found | None:
    """Return the number that stands in the same table of a list, or the only one."""
    table = main.place.rpartition(".")[0]
    for other in others:
        if other.place.rpartition(".")[0] == table:
            return other
    return others[0] if len(others) == 1 else None


def _dimension(unit: str) -> str:
    """Return what a unit of the tables is of; K is a difference there, and degC a temperature."""
    return "temperature_difference" if unit == "K" else dimensions_of(unit)[0]


def _si(ends: tuple[float, float], unit: str) -> tuple[float, float]:
    low, high = (float(to_si(end, unit, _dimension(unit))) for end in ends)
    return low, high


def _between(ends: tuple[float, float], unit: str, given: str) -> str:
    """Return a span in the unit in which the number was given."""
    dimension = _dimension(unit)
    given = given if dimension in dimensions_of(given) else unit
    low, high = (from_si(end, given, dimension) for end in _si(ends, unit))
    return f"{low:.4g} to {high:.4g} {'' if given == '1' else given}".rstrip()


def _hint(value: float, span: Span) -> str | None:
    """Return which slip would explain an unusual number [SI], where one does."""
    if span.usual is None:
        return None
    low, high = _si(span.usual, span.unit)
    if _dimension(span.unit) == "temperature":
        for shift, words in ((ZERO_CELSIUS, "degC read as K"), (-ZERO_CELSIUS, "K read as degC")):
            if low <= value + shift <= high:
                return f"{words}?"
    if _dimension(span.unit) == "angular_speed" and low <= abs(value) * RPM <= high:
        return "rpm read as rad/s?"
    for factor in _SLIPS:
        if low <= value * factor <= high:
            return f"{factor:.4g} times as much would be usual"
    return None


def _sentence(hint: str | None) -> str:
    return f" {hint[0].upper()}{hint[1:].rstrip('?.')}?" if hint else ""
