"""The match at each point of a duty, each with its own pump torque, and the fuel there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.engine.fuel import FuelLaw
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import OperatingPoints, match
from converter_match.physics.match.turbine_speed import match_at_turbine_speed


@dataclass(frozen=True)
class DutyRun:
    """Engine and converter at the points of a duty.

    Parameters
    ----------
    points : OperatingPoints
        Shape (n,); NaN where the pair cannot run.
    fuel_rate : ndarray, shape (n,), or None
        [kg/s]; None without fuel data.
    """

    points: OperatingPoints
    fuel_rate: FloatArray | None


def run_duty(
    supplies: Sequence[TorqueSupply],
    converter: Converter,
    turbine_speed: FloatArray,
    speed_ratio: FloatArray,
    fuel: FuelLaw | None = None,
) -> DutyRun:
    """Return the match at each point, coming up from idle at full load.

    Parameters
    ----------
    supplies : sequence of TorqueSupply, length n
        Net torque at each point.
    converter : Converter
    turbine_speed, speed_ratio : ndarray, shape (n,)
        Turbine speed [rad/s] or speed ratio, NaN where the other one is given. A speed ratio
        outside the converter's data has no match: nothing is extrapolated.
    fuel : FuelLaw, optional
    """
    low, high = converter.domain
    rows = []
    for supply, speed, nu in zip(supplies, turbine_speed, speed_ratio, strict=True):
        if np.isnan(nu):
            rows.append(match_at_turbine_speed(supply, converter, [speed]))
        elif low <= nu <= high:
            rows.append(match(supply, converter, [nu]).from_idle())
        else:
            nothing = np.full(1, np.nan)
            settled = np.zeros(1, dtype=bool)
            rows.append(OperatingPoints(np.array([nu]), nothing, nothing, nothing, settled))
    names = ("speed_ratio", "torque_ratio", "engine_speed", "input_torque", "stable")
    points = OperatingPoints(
        *(np.concatenate([np.atleast_1d(getattr(row, name)) for row in rows]) for name in names)
    )
    if fuel is None:
        return DutyRun(points, None)
    made = [
        supply.factor * float(supply.source(speed)) if found else np.nan
        for supply, speed, found in zip(supplies, points.engine_speed, points.found, strict=True)
    ]
    return DutyRun(points, fuel.rate(made, points.engine_speed))
