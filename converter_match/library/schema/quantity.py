"""Numbers with their units, as they stand in a file: read, refused, and converted to SI.

``{ unit = "mm", value = 345 }`` is a `GivenQuantity`,
``{ unit = "rpm", values = [...] }`` a `GivenColumn`.
Both keep what was written, so that a message can say it in the words of the sheet. Where the sheet
prints the same figure in a second unit, ``also`` has it: nothing is computed from it, and
`second_figures` holds the two against each other.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np

from converter_match.curves import FloatArray, frozen_array
from converter_match.errors import InputError, did_you_mean, shown
from converter_match.library.paths import moved
from converter_match.units import dimensions_of, to_si
from converter_match.units.vocabulary import table_of

# SI magnitudes beyond these occur in no machine; products of several stay finite inside them.
LEAST, GREATEST = 1e-12, 1e12
SECOND = "also"
"""Key of the same figure as it is printed in another unit."""


@dataclass(frozen=True)
class GivenQuantity:
    """One number with its unit.

    Parameters
    ----------
    value : float
        As written.
    unit : str
        As written; empty for a ratio without one.
    si : float
        In the SI unit of its dimension.
    dimension : str
        As it was read; empty where it was worked out.
    also : tuple of GivenQuantity
        The same figure in other units, as its source prints it.
    """

    value: float
    unit: str
    si: float
    dimension: str = field(default="", compare=False)
    also: tuple[GivenQuantity, ...] = field(default=(), compare=False)

    def given(self) -> str:
        """Return the quantity as it was written."""
        return f"{_as_written(self.value)} {self.unit}".rstrip()


@dataclass(frozen=True, eq=False)
class GivenColumn:
    """A row of numbers with one unit.

    Parameters
    ----------
    values : tuple of float
        As written.
    unit : str
        As written; empty for a ratio without one.
    si : ndarray, shape (n,)
        In the SI unit of the dimension.
    tabled : bool
        Written as a table with ``values``, not as a plain list.
    dimension : str
        As it was read; empty where it was worked out.
    also : tuple of GivenColumn
        The same figures in other units, as their source prints them.
    """

    values: tuple[float, ...]
    unit: str
    si: FloatArray
    tabled: bool = field(default=True)
    dimension: str = field(default="")
    also: tuple[GivenColumn, ...] = field(default=())

    def __len__(self) -> int:
        return len(self.values)

    def given(self, row: int) -> str:
        """Return the number of a row as it was written."""
        return f"{_as_written(self.values[row])} {self.unit}".rstrip()

    @property
    def place(self) -> str:
        """Path from the field to the numbers."""
        return ".values" if self.tabled else ""


_Given = TypeVar("_Given", GivenQuantity, GivenColumn)


def si_of(given: GivenQuantity | None) -> float | None:
    """Return the SI value of a quantity; None where none was given."""
    return None if given is None else given.si


def read_quantity(raw: object, dimension: str, *, bare: bool = False) -> GivenQuantity:
    """Return the quantity that was written.

    Parameters
    ----------
    raw : object
        What TOML gave: a table with ``unit`` and ``value``.
    dimension : str
        One of the dimensions of `converter_match.units`; a ratio may go without ``unit``.
    bare : bool
        Whether a plain number is taken as well (ratios only).

    Returns
    -------
    GivenQuantity

    Raises
    ------
    InputError
        With the path inside `raw` as its field.
    """
    if isinstance(raw, dict):
        unit, number, place = raw.get("unit", ""), _taken(raw, "value", dimension), "value"
    elif bare:
        unit, number, place = "", raw, ""
    else:
        raise _not_a_table(raw, "value", dimension)
    if isinstance(number, list | dict):
        raise InputError("one number is due here", field=place or None, found=number)
    si = _converted(number, unit, dimension, place)
    _refuse_absurd(number, float(si), place, unit)
    also = _second(raw, lambda second: read_quantity(second, dimension))
    return GivenQuantity(float(number), unit, float(si), dimension, also)  # type: ignore[arg-type]


def read_column(raw: object, dimension: str, *, bare: bool = False) -> GivenColumn:
    """Return the column that was written.

    Parameters
    ----------
    raw : object
        What TOML gave: a table with ``unit`` and ``values``.
    dimension : str
        One of the dimensions of `converter_match.units`; a ratio may go without ``unit``.
    bare : bool
        Whether a plain list is taken as well (ratios only).

    Returns
    -------
    GivenColumn

    Raises
    ------
    InputError
        With the path inside `raw` as its field.
    """
    if isinstance(raw, dict):
        unit, numbers, place = raw.get("unit", ""), _taken(raw, "values", dimension), "values"
    elif bare:
        unit, numbers, place = "", raw, ""
    else:
        raise _not_a_table(raw, "values", dimension)
    if not isinstance(numbers, list):
        raise InputError(
            "a list of numbers is due here",
            field=place or None,
            found=numbers,
            expected="[ ... ] with one number per row",
        )
    for row, number in enumerate(numbers):
        if isinstance(number, list | dict):
            raise InputError("one number is due here", field=f"{place}[{row}]", found=number)
    si = _converted(numbers, unit, dimension, place)
    for row, number in enumerate(numbers):
        _refuse_absurd(number, float(si[row]), f"{place}[{row}]", unit)
    values = tuple(float(number) for number in numbers)
    also = _second(raw, lambda second: read_column(second, dimension))
    tabled = isinstance(raw, dict)
    return GivenColumn(values, unit, frozen_array(si), tabled, dimension, also)


def _second(raw: object, read: Callable[[object], _Given]) -> tuple[_Given, ...]:
    """Return what a quantity is in other units as well: one table, or a list of them."""
    written = raw.get(SECOND) if isinstance(raw, dict) else None
    found = []
    for row, second in enumerate(written if isinstance(written, list) else [written]):
        if written is None:
            break
        place = _place_of_second(raw, row)
        if isinstance(second, dict) and SECOND in second:
            raise InputError(
                "a second figure has none of its own",
                field=f"{place}.{SECOND}",
                found=second[SECOND],
                expected=f"{SECOND} = [{{ ... }}, {{ ... }}] for further units",
            )
        try:
            found.append(read(second))
        except InputError as error:
            raise moved(error, f"{place}.{error.field}" if error.field else place) from None
    return tuple(found)


def _place_of_second(raw: Any, row: int) -> str:
    return f"{SECOND}[{row}]" if isinstance(raw[SECOND], list) else SECOND


def _as_written(value: float) -> str:
    short = f"{value:.12g}"
    return short if float(short) == value else repr(value)


class FreeEntries(tuple[tuple[str, str], ...]):
    """The entries of a table with free keys, as text; beside them the quantities among them."""

    quantities: dict[str, GivenQuantity]


def read_free_entry(raw: object) -> tuple[str, GivenQuantity | None]:
    """Return an entry that is kept as given: a text, a count, or a quantity of any dimension.

    Returns
    -------
    text : str
    quantity : GivenQuantity or None
        Where it is one.

    Raises
    ------
    InputError
        For anything else, and for a unit that is not known.
    """
    if isinstance(raw, str):
        return raw, None
    if isinstance(raw, int) and not isinstance(raw, bool):
        return str(raw), None
    if not isinstance(raw, dict):
        raise InputError(
            "cannot be kept as given",
            found=raw,
            expected='a text in quotes, a whole number, or { unit = "...", value = ... }',
        )
    unit = raw.get("unit", "")
    known = dimensions_of(unit) if isinstance(unit, str) else ()
    if not known:
        raise InputError("unknown unit", field="unit", found=unit, expected='such as "mm"')
    quantity = read_quantity(raw, known[0])
    return quantity.given(), quantity


def _taken(raw: dict[str, Any], key: str, dimension: str) -> object:
    """Return the number or numbers of a table that has ``unit`` and `key` and nothing else."""
    form = form_of(key, dimension)
    for other in raw:
        if other in ("unit", key, SECOND):
            continue
        if other in ("value", "values"):
            due = "one value" if key == "value" else "a column of values"
            raise InputError(f"{due} is due here", field=other, found=raw[other], expected=form)
        raise InputError(
            "unknown key",
            field=other,
            found=raw[other],
            expected=form,
            hint=did_you_mean(other, ("unit", key, SECOND)),
        )
    if key not in raw:
        raise InputError("missing", field=key, expected=form)
    return raw[key]


def _converted(numbers: Any, unit: Any, dimension: str, place: str) -> Any:
    to_si(0.0, unit, dimension, field="unit")  # so that a wrong unit is said to be at the unit
    with np.errstate(over="ignore"):  # what becomes infinite is refused right after
        return to_si(numbers, unit, dimension, field=place)


def _refuse_absurd(written: Any, si: float, place: str, unit: str) -> None:
    if not np.isfinite(float(written)):
        raise InputError(
            "not a finite number", field=place or None, found=written, expected="a number"
        )
    if si != 0.0 and not LEAST <= abs(si) <= GREATEST:
        raise InputError(
            "of a size that no machine has",
            field=place or None,
            found=f"{shown(written)} {unit}".rstrip(),
            hint="is the unit right?",
        )


def _not_a_table(raw: object, key: str, dimension: str) -> InputError:
    form = form_of(key, dimension)
    if isinstance(raw, bool) or not isinstance(raw, int | float | str | list):
        return InputError("a quantity is due here", found=raw, expected=form)
    if isinstance(raw, str):
        return InputError(
            "text where a quantity is due", found=raw, expected=form, hint=_apart(raw, key)
        )
    if isinstance(raw, list) != (key == "values"):
        due = "one value" if key == "value" else "a column of values"
        return InputError(f"{due} is due here", found=raw, expected=form)
    written = "[...]" if isinstance(raw, list) else shown(raw)
    if dimension == "ratio":
        return InputError(f"a quantity stands in braces: write {{ {key} = {written} }}", found=raw)
    numbers = "numbers hide their" if key == "values" else "a bare number hides its"
    return InputError(
        f"{numbers} unit: write {{ unit = ..., {key} = {written} }}",
        found=raw,
        expected=_unit_of(dimension),
    )


def form_of(key: str, dimension: str) -> str:
    """Return how a quantity (`key` is ``value``) or a column (``values``) is written."""
    numbers = "[...]" if key == "values" else "..."
    if dimension == "ratio":
        return f"{{ {key} = {numbers} }}"
    return f"{{ unit = ..., {key} = {numbers} }} with {_unit_of(dimension)}"


def _unit_of(dimension: str) -> str:
    table = table_of(dimension)
    return f"a unit of {table.noun} such as {table.examples}"


def _apart(text: str, key: str) -> str | None:
    """Return how to write '345 mm' or '1,5' as a quantity."""
    parts = re.fullmatch(r"\s*([+-]?\d+)(?:([.,])(\d+))?\s*([^\d\s.,].*)?", text)
    if not parts or key != "value":
        return None
    whole, mark, fraction, unit = parts.groups()
    number = f"{whole}.{fraction}" if fraction else whole
    said = "decimal comma? " if mark == "," else ""
    return f'{said}write {{ unit = "{(unit or "...").strip()}", value = {number} }}'
