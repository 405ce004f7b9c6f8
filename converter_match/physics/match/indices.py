"""Indices of the literature on matching: what a pair gives on average where it works well.

Over the turbine speeds n from n_1 to n_2 at which the efficiency is at or above a level,

    mean output power   1 / (n_2 - n_1) * integral of P dn
    mean efficiency     1 / (n_2 - n_1) * integral of eta dn
    span                n_2 / n_1
    mean consumption    integral of fuel flow dn / integral of P dn

at full load. n_1 is where the level is reached coming from stall. n_2 is the first of: where the
efficiency falls below it again, where the data end, where the engine comes up to rated speed (its
governor takes torque away beyond, and the average would be one of part load). Textbooks on matching
use 75 or 80 % (from memory; definitions differ between them in n_2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.converter import Converter
from converter_match.physics.engine.fuel import FuelLaw
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import match

_POINTS = 401


@dataclass(frozen=True)
class MatchingIndices:
    """Averages over the turbine speeds of a working range, SI units.

    Parameters
    ----------
    level : float
        Least efficiency.
    low_speed, high_speed : float
        Turbine speeds at its ends [rad/s].
    mean_output_power : float
        [W].
    mean_efficiency : float
    mean_specific_fuel : float or None
        Fuel over work at the turbine [kg/J]; None without fuel data.
    """

    level: float
    low_speed: float
    high_speed: float
    mean_output_power: float
    mean_efficiency: float
    mean_specific_fuel: float | None

    @property
    def span(self) -> float:
        """Highest turbine speed over the lowest."""
        return self.high_speed / self.low_speed


def matching_indices(
    supply: TorqueSupply,
    converter: Converter,
    low: float,
    high: float,
    level: float,
    fuel: FuelLaw | None = None,
) -> MatchingIndices | None:
    """Return the indices between two speed ratios; None where the pair does not run there.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    low, high : float
        Speed ratios between which the efficiency is at or above the level.
    level : float
    fuel : FuelLaw, optional
    """
    points = match(supply, converter, np.linspace(low, high, _POINTS)).from_idle()
    speed = points.turbine_speed
    rises = np.diff(speed, prepend=-np.inf) > 0.0
    if high <= low or not (points.found.all() and rises.all()):
        return None
    width = speed[-1] - speed[0]
    power = float(np.trapezoid(points.output_power, speed))
    burnt = None
    if fuel is not None:
        made = supply.factor * np.asarray(supply.source(points.engine_speed))
        burnt = float(np.trapezoid(fuel.rate(made, points.engine_speed), speed))
    return MatchingIndices(
        level=level,
        low_speed=float(speed[0]),
        high_speed=float(speed[-1]),
        mean_output_power=power / width,
        mean_efficiency=float(np.trapezoid(points.efficiency, speed)) / width,
        mean_specific_fuel=None if burnt is None else burnt / power,
    )
