"""Units in which a number is short and still exactly the same number.

A component holds SI. Written back in the unit it came from, 230.38346 rad/s is 2200 rpm again, and
reading that gives the same float to the last bit. So: try the units of the trade, keep those that
give the number back exactly, and take the shortest. The SI unit always does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.capacity_forms import CapacityBasis, from_capacity, to_capacity
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.toml_text import Inline, number_text
from converter_match.units import display_unit, from_si, si_unit, to_si

_FURTHER_UNITS = {
    "length": ("m", "ft"),
    "power": ("PS",),
    "pressure": ("bar",),
    "ratio": ("percent",),
    "torque": ("kgf.m",),
    "volume": ("cu in",),
}
_REFERENCE_RPM = (1000.0, 1500.0, 1700.0, 1800.0, 2000.0)  # usual on sheets, no source

Decode = Callable[[FloatArray], FloatArray]


def shortest_exact(
    target: FloatArray, start: FloatArray, decode: Decode
) -> tuple[float, ...] | None:
    """Return the shortest decimals that `decode` turns into exactly `target`.

    Parameters
    ----------
    target : ndarray, shape (n,)
        SI values.
    start : ndarray, shape (n,)
        About what they are in the other unit.
    decode : callable
        From the other unit to SI, by the same arithmetic as in reading.

    Returns
    -------
    tuple of float or None
        None where a value has no such decimal.
    """
    numbers = np.full(target.shape, np.nan)
    if not np.all(np.isfinite(start)):
        return None
    for digits in range(1, 18):
        rounded = np.array([float(f"{value:.{digits}g}") for value in start.tolist()])
        back = decode(rounded)
        same = (back == target) & np.isnan(numbers)
        numbers[same] = rounded[same]
        if not np.any(np.isnan(numbers)):
            return tuple(numbers.tolist())
    return None


def one(value: float | None, dimension: str, *preferred: str) -> Inline | None:
    """Return the table of a quantity; None for None.

    Parameters
    ----------
    value : float or None
        In the SI unit of `dimension`.
    dimension : str
        One of the dimensions of `converter_match.units`.
    *preferred : str
        Units to take where several are equally short.

    Returns
    -------
    Inline or None
    """
    if value is None:
        return None
    table = many([value], dimension, *preferred)
    return Inline(unit=table["unit"], value=table["values"][0])


def many(values: ArrayLike, dimension: str, *preferred: str) -> Inline:
    """Return the table of a column; the parameters are those of `one`."""
    target = np.asarray(values, dtype=np.float64)
    return _shortest(_in_units(target, dimension, preferred))


def torque_or_power(torque: FloatArray, speed: FloatArray) -> dict[str, Inline]:
    """Return the full-load column as the torque or as the power that it came from."""
    as_power = []
    for unit in _units("power", ()):

        def decode(x: FloatArray, unit: str = unit) -> FloatArray:
            return np.asarray(to_si(x, unit, "power") / speed)

        powers = shortest_exact(torque, from_si(torque * speed, unit, "power"), decode)
        as_power += _tables(unit, powers)
    best = _shortest([*_in_units(torque, "torque", ()), *as_power])
    return {"power" if any(best is table for table in as_power) else "torque": best}


def capacity(converter: Converter) -> Inline:
    """Return the capacity table in the form and unit in which it is shortest."""
    return _shortest(_capacity_tables(converter))


def _capacity_tables(converter: Converter) -> Iterable[Inline]:
    def tried(form: str, unit: str, dimension: str, rpm: float | None = None) -> Iterable[Inline]:
        basis = CapacityBasis(
            reference_speed=None if rpm is None else to_si(rpm, "rpm", "angular_speed"),
            profile_diameter=converter.profile_diameter,
            oil_density=converter.oil_density,
        )
        try:
            start = from_capacity(form, converter.capacity, basis)  # type: ignore[arg-type]
        except InputError:  # no K in overrun, no lambda without a diameter
            return
        written = shortest_exact(
            converter.capacity,
            from_si(start, unit, dimension),
            lambda x: to_capacity(form, to_si(x, unit, dimension), basis),  # type: ignore[arg-type]
        )
        if written:
            table = Inline(form=form, unit=unit)
            if rpm is not None:
                table["reference_speed"] = Inline(unit="rpm", value=rpm)
            yield Inline(table, values=list(written))

    for unit in ("rpm/sqrt(N.m)", "rpm/sqrt(lbf.ft)"):
        # Exact, or not at all: K of a row at zero capacity is infinite.
        if np.all(converter.capacity > 0):
            yield from tried("k_factor", unit, "k_factor")
    yield from tried("performance_coefficient", "1", "ratio")
    for rpm in _REFERENCE_RPM:
        for unit in ("N.m", "lbf.ft"):
            yield from tried("torque_at_speed", unit, "torque", rpm)
        for unit in ("kW", "hp"):
            yield from tried("power_at_speed", unit, "power", rpm)
    yield from tried(
        "capacity_coefficient", si_unit("capacity_coefficient"), "capacity_coefficient"
    )


def _units(dimension: str, preferred: tuple[str, ...]) -> tuple[str, ...]:
    usual = (display_unit(dimension, "si"), display_unit(dimension, "us"))
    further = _FURTHER_UNITS.get(dimension, ())
    return tuple(dict.fromkeys((*preferred, *usual, *further, si_unit(dimension))))


def _in_units(target: FloatArray, dimension: str, preferred: tuple[str, ...]) -> list[Inline]:
    tables = []
    for unit in _units(dimension, preferred):

        def decode(x: FloatArray, unit: str = unit) -> FloatArray:
            return to_si(x, unit, dimension)

        tables += _tables(unit, shortest_exact(target, from_si(target, unit, dimension), decode))
    return tables


def _tables(unit: str, values: tuple[float, ...] | None) -> list[Inline]:
    return [] if values is None else [Inline(unit=unit, values=list(values))]


def _shortest(tables: Iterable[Inline]) -> Inline:
    return min(tables, key=lambda table: sum(len(number_text(x)) for x in table["values"]))
