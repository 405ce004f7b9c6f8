"""What a reading says of torque and capacity, with intervals: the inversion of a stall test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from converter_match.answer.block import Block, Heading
from converter_match.answer.plain import plain
from converter_match.components.reading import StallReading
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.stall import words
from converter_match.judgement.stall.draws import normal_draws
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.stall.settling import (
    ReadingCondition,
    Separated,
    capacity_factor_for,
    separate,
    torque_factor_for,
)

_GRID = np.linspace(0.6, 1.4, 33)
# Outside these nobody would look for the cause in the engine's torque or the converter's capacity:
# data, tachometer or parts are others. Common practice, no source. A slipping stator takes more
# than twice the capacity of the sheet, so that end lies higher.
Factor = Literal["torque", "capacity"]
WITHIN_REASON: dict[Factor, tuple[float, float]] = {"torque": (0.3, 2.0), "capacity": (0.3, 3.0)}
# Readings of one machine leave more than this, in sum of squares, once in a hundred tests.
_MISFIT = 0.01


@dataclass(frozen=True, eq=False)
class Inversion:
    """The explanations of one reading.

    Parameters
    ----------
    torque_factor : tuple of float
        Torque there really is / healthy torque, with the converter as on its sheet: value, ends of
        the interval.
    capacity_factor : tuple of float or None
        Capacity / sheet with a healthy engine: value and ends; None in neutral.
    curve_capacity, curve_torque : ndarray, shape (n,)
        All pairs that explain the reading equally well.
    curve_low, curve_high : ndarray, shape (n,)
        Ends of the interval of the torque at each capacity: tachometer, air and loads.
    """

    torque_factor: tuple[float, float, float]
    capacity_factor: tuple[float, float, float] | None
    curve_capacity: FloatArray
    curve_torque: FloatArray
    curve_low: FloatArray
    curve_high: FloatArray

    @property
    def torque(self) -> tuple[float, float, float] | None:
        """The torque factor if it is within reason."""
        return self.torque_factor if within_reason("torque", self.torque_factor[0]) else None

    @property
    def capacity(self) -> tuple[float, float, float] | None:
        """The capacity factor if there is one within reason."""
        factor = self.capacity_factor
        return factor if factor is not None and within_reason("capacity", factor[0]) else None

    def explanation(self) -> Note:
        """Return what explains the reading; nothing beyond reason is named."""
        values: dict[str, str] = {}
        asked: tuple[Factor, ...] = ("torque", "capacity")
        for name, factor in zip(asked, (self.torque, self.capacity), strict=True):
            if factor is not None:
                ends = (_bounded(name, value) for value in factor)
                values |= dict(zip((name, f"{name}_low", f"{name}_high"), ends, strict=True))
        if self.capacity_factor is None:
            asked = ("torque",)
        known = tuple(name for name in asked if name in values)
        if len(known) == 2:
            return words.note("by-both", **values)
        beyond = tuple(name for name in asked if name not in values)
        parts = [words.note(f"by-{name}", **values) for name in known]
        if known and beyond:
            parts.append(words.note("then"))
        if beyond:
            parts.append(
                words.note(
                    "beyond-reason", factors=" or ".join(beyond), spans=reasonable_spans(*beyond)
                )
            )
        return words.joined("explanation", *parts)

    def to_dict(self) -> dict[str, object]:
        """Return plain data; null for what is not within reason."""
        curves = (
            ("capacity_factor", self.curve_capacity),
            ("torque_factor", self.curve_torque),
            ("torque_factor_low", self.curve_low),
            ("torque_factor_high", self.curve_high),
        )
        return plain(
            (
                _factor_block("torque_factor", self.torque),
                _factor_block("capacity_factor", self.capacity),
                Block("either_or_both", facts=tuple((Heading(key, ""), c) for key, c in curves)),
            )
        )


def _factor_block(name: str, factor: tuple[float, float, float] | None) -> Block:
    if factor is None:
        return Block(name, facts=None)
    # The end of an interval may fall below nothing at all.
    ends = (value if value > 0.0 else None for value in factor)
    heads = (Heading(key, "") for key in ("value", "low", "high"))
    return Block(name, facts=tuple(zip(heads, ends, strict=True)))


def within_reason(name: Factor, factor: float) -> bool:
    """Return whether a factor of ``torque`` or ``capacity`` lies within `WITHIN_REASON`."""
    low, high = WITHIN_REASON[name]
    return low <= factor <= high


def reasonable_spans(*names: Factor) -> str:
    """Return the spans within reason of the factors named, in words."""
    (t0, t1), (c0, c1) = WITHIN_REASON["torque"], WITHIN_REASON["capacity"]
    spans: dict[Factor, str] = {
        "torque": f"torque {100 * t0:.0f} to {100 * t1:.0f} %",
        "capacity": f"capacity {c0:g} to {c1:g} times the sheet",
    }
    return ", ".join(spans[name] for name in names)


def _bounded(name: Factor, factor: float) -> str:
    """Return a factor as it is read; beyond reason only that it is."""
    low, high = WITHIN_REASON[name]
    kept = min(max(factor, low), high)
    number = f"{100 * kept:.1f} %" if name == "torque" else f"{kept:.3f}"
    return ("below " if factor < low else "above " if factor > high else "") + number


@dataclass(frozen=True, eq=False)
class Together:
    """What all tests say together of torque and capacity.

    Parameters
    ----------
    separated : Separated
        Where one torque and one capacity come nearest to all readings.
    largest : float or None
        Largest sum of squares that is still called a fit; None with no reading to spare.
    readings : tuple of StallReading
        Those that were used, in the order of `separated.residuals`.
    """

    separated: Separated
    largest: float | None
    readings: tuple[StallReading, ...]

    @property
    def fits(self) -> bool:
        """Whether one torque and one capacity explain the readings within their errors."""
        return self.largest is None or self.separated.misfit <= self.largest

    @property
    def believable(self) -> bool:
        """Whether they fit, with factors within reason."""
        s = self.separated
        inside = within_reason("torque", s.torque_factor)
        return self.fits and inside and within_reason("capacity", s.capacity_factor)

    @property
    def worst(self) -> StallReading:
        """The reading that lies farthest off, in its standard errors."""
        return self.readings[int(np.argmax(np.abs(self.separated.residuals)))]


def invert(setup: StallSetup, reading: StallReading) -> Inversion | None:
    """Return what explains a reading; None where the engine gives no torque at its speed.

    Notes
    -----
    The values are exact (`physics.stall.settling`). The intervals carry tachometer, air, loads
    and, for the torque, the tolerance of the capacity; for the capacity, that of a healthy engine.
    What the tachometer is off by moves the speed ratio of a road reading as well, as in its band.
    """
    supply, capacity = setup.supply(reading), setup.capacity(reading)
    w, (low, high) = reading.engine_speed, supply.domain
    if not low <= w <= high or float(supply.source(np.asarray(w))) <= 0:
        return None
    if reading.test == "governed" or setup.at_idle(reading):  # a governor holds it, no balance
        return None
    normal, tail = normal_draws(), 0.5 * (1.0 - setup.coverage)
    ends = [tail, 1.0 - tail]
    speeds = w + setup.reading_sigma() * normal[5]
    if w > setup.engine.rated_speed:
        speeds = speeds - setup.governor_shift(normal[6])
    speeds = np.clip(speeds, low, high * (1 - 1e-6))
    behind = setup.capacity_behind(reading, speeds)
    healthy, true_capacity = setup.factors(normal)
    loads = setup.load_share(supply, setup.extra_load(reading, w, normal[4]), w)
    air = 1.0 + setup.tolerances.sigma("air") * normal[2]
    f = torque_factor_for(supply, capacity, w)
    drawn = (torque_factor_for(supply, behind, speeds, true_capacity) + loads) / air
    torque = _spread(f, drawn, ends)
    capacity_factor = None
    if capacity > 0:
        g = capacity_factor_for(supply, capacity, w)
        drawn = capacity_factor_for(supply, behind, speeds, healthy - loads)
        capacity_factor = _spread(g, drawn, ends)
    line = np.asarray(torque_factor_for(supply, capacity, w, _GRID))
    # The line at other capacities: only what is not on the axes widens it.
    drawn = torque_factor_for(supply, behind, speeds, _GRID[:, np.newaxis])
    bottom, top = np.quantile((drawn + loads) / air, ends, axis=1)
    return Inversion(torque, capacity_factor, _GRID, line, np.asarray(bottom), np.asarray(top))


def _spread(value: FloatArray, drawn: FloatArray, ends: list[float]) -> tuple[float, float, float]:
    low, high = np.quantile(drawn, ends)
    return float(value), float(low), float(high)


def _speed_sigma(setup: StallSetup, reading: StallReading) -> float:
    """Return the standard error of a speed; on the droop line that of the governor is in it."""
    sigma = setup.reading_sigma()
    if reading.engine_speed <= setup.engine.rated_speed:
        return sigma
    return float(np.hypot(sigma, setup.governor_shift(np.ones(1))[0]))


def together(setup: StallSetup, readings: Sequence[StallReading]) -> Together | None:
    """Return torque and capacity from combined tests; None where the readings cannot tell.

    Notes
    -----
    The sum of squares of what is left, in standard errors, goes as chi-square with the readings to
    spare as degrees of freedom, if one torque and one capacity hold in every reading.
    """
    from scipy.stats import chi2

    # On the road the turbine turns: another point of the characteristic, another capacity factor.
    readings = [
        reading
        for reading in readings
        if reading.test not in ("road", "governed") and not setup.at_idle(reading)
    ]
    if len({reading.test for reading in readings}) < 2:
        return None
    conditions, used = [], []
    for reading in readings:
        supply = setup.supply(reading)
        w = np.asarray(reading.engine_speed)
        try:
            supply.torque(w)
        except InputError:
            continue
        if float(supply.source(w)) <= 0:
            continue
        used.append(reading)
        conditions.append(
            ReadingCondition(
                supply,
                setup.capacity(reading),
                reading.engine_speed,
                _speed_sigma(setup, reading),
                setup.load_sigma(reading, reading.engine_speed),
            )
        )
    separated = separate(tuple(conditions))
    if separated is None:
        return None
    largest = float(chi2.isf(_MISFIT, separated.surplus)) if separated.surplus else None
    return Together(separated, largest, tuple(used))
