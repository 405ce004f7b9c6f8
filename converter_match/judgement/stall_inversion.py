"""What a reading says of torque and capacity, with intervals: the inversion of a stall test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.components.reading import StallReading
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.stall_draws import normal_draws
from converter_match.judgement.stall_setup import StallSetup
from converter_match.physics.stall import (
    Condition,
    Separated,
    capacity_factor_for,
    separate,
    torque_factor_for,
)

_GRID = np.linspace(0.6, 1.4, 33)


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
    """

    torque_factor: tuple[float, float, float]
    capacity_factor: tuple[float, float, float] | None
    curve_capacity: FloatArray
    curve_torque: FloatArray

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        names = ("value", "low", "high")
        capacity = self.capacity_factor
        return {
            "torque_factor": dict(zip(names, self.torque_factor, strict=True)),
            "capacity_factor": None
            if capacity is None
            else dict(zip(names, capacity, strict=True)),
            "either_or_both": {
                "capacity_factor": self.curve_capacity.tolist(),
                "torque_factor": self.curve_torque.tolist(),
            },
        }


def invert(setup: StallSetup, reading: StallReading) -> Inversion | None:
    """Return what explains a reading; None where the engine gives no torque at its speed.

    Notes
    -----
    The values are exact (`physics.stall`). The intervals carry tachometer, air, loads and, for the
    torque, the tolerance of the capacity; for the capacity, that of a healthy engine.
    """
    supply, capacity = setup.supply(reading), setup.capacity(reading)
    w, (low, high) = reading.engine_speed, supply.domain
    if not low <= w <= high or float(supply.source(np.asarray(w))) <= 0:
        return None
    normal, tail = normal_draws(), 0.5 * (1.0 - setup.coverage)
    ends = [tail, 1.0 - tail]
    speeds = np.clip(w + setup.reading_sigma() * normal[5], low, high * (1 - 1e-6))
    healthy, true_capacity = setup.factors(normal)
    loads = setup.load_error(reading, w, normal[4])
    air = 1.0 + setup.tolerances.sigma("air") * normal[2]
    f = torque_factor_for(supply, capacity, w)
    drawn = (torque_factor_for(supply, capacity, speeds, true_capacity) + loads) / air
    torque = _spread(f, drawn, ends)
    found = None
    if capacity > 0:
        g = capacity_factor_for(supply, capacity, w)
        drawn = capacity_factor_for(supply, capacity, speeds, healthy - loads)
        found = _spread(g, drawn, ends)
    return Inversion(
        torque, found, _GRID, np.asarray(torque_factor_for(supply, capacity, w, _GRID))
    )


def _spread(value: FloatArray, drawn: FloatArray, ends: list[float]) -> tuple[float, float, float]:
    low, high = np.quantile(drawn, ends)
    return float(value), float(low), float(high)


def separated(setup: StallSetup, readings: Sequence[StallReading]) -> Separated | None:
    """Return torque and capacity from combined tests; None where the readings cannot tell."""
    # On the road the turbine turns: another point of the characteristic, another capacity factor.
    readings = [reading for reading in readings if reading.test != "road"]
    if len({reading.test for reading in readings}) < 2:
        return None
    conditions = []
    for reading in readings:
        supply = setup.supply(reading)
        w = np.asarray(reading.engine_speed)
        try:
            supply.torque(w)
        except InputError:
            continue
        if float(supply.source(w)) <= 0:
            continue
        conditions.append(
            Condition(
                supply,
                setup.capacity(reading),
                reading.engine_speed,
                setup.reading_sigma(),
                setup.load_sigma(reading, reading.engine_speed),
            )
        )
    return separate(tuple(conditions))
