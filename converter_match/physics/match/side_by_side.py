"""Two characteristics behind the same engine: what one gains on the other, and where.

Used for a fluid coupling beside a converter and for a fixed beside a one-way stator. Compared at
the same turbine speed, since that is what the machine's travel speed fixes; each side finds its own
speed ratio there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import OperatingPoints, match
from converter_match.physics.match.turbine_speed import matches_at_turbine_speed


@dataclass(frozen=True)
class SideBySide:
    """The same engine on two characteristics.

    Parameters
    ----------
    supply : TorqueSupply
    first, second : Converter
    first_stall, second_stall : OperatingPoints
        Zero-dimensional.
    turbine_speed : ndarray, shape (n,)
        [rad/s].
    first_points, second_points : OperatingPoints
        At those turbine speeds, shape (n,); NaN where there is no match. Of several, the one of a
        machine that comes up.
    first_jumps, second_jumps : ndarray of bool, shape (n,)
        Whether the engine jumps between a turbine speed and the one before it.
    """

    supply: TorqueSupply
    first: Converter
    second: Converter
    first_stall: OperatingPoints
    second_stall: OperatingPoints
    turbine_speed: FloatArray
    first_points: OperatingPoints
    second_points: OperatingPoints
    first_jumps: NDArray[np.bool_]
    second_jumps: NDArray[np.bool_]

    @property
    def stall_torque_lost(self) -> float:
        """Turbine torque at stall, first less second [N.m]."""
        return float(self.first_stall.turbine_torque - self.second_stall.turbine_torque)

    @property
    def torque_gained(self) -> FloatArray:
        """Turbine torque of the second less that of the first [N.m], shape (n,)."""
        return np.asarray(self.second_points.turbine_torque - self.first_points.turbine_torque)

    @property
    def heat_saved(self) -> FloatArray:
        """Heat of the first less that of the second [W], shape (n,)."""
        return np.asarray(self.first_points.heat - self.second_points.heat)

    @property
    def second_pulls_more_from(self) -> float | None:
        """Lowest turbine speed [rad/s] above which the second never pulls less, None if nowhere.

        Where the two are alike to a millionth they count as alike.
        """
        gained = self.torque_gained
        known = np.flatnonzero(np.isfinite(gained))
        slack = 1e-6 * max(float(self.first_stall.turbine_torque), 1.0)
        worse = known[gained[known] < -slack]
        first = known if not worse.size else known[known > worse[-1]]
        better = first[gained[first] > slack]
        return float(self.turbine_speed[first[0]]) if better.size else None


def side_by_side(
    supply: TorqueSupply,
    first: Converter,
    second: Converter,
    turbine_speed: ArrayLike | None = None,
) -> SideBySide:
    """Return the same engine on two characteristics.

    Parameters
    ----------
    supply : TorqueSupply
    first, second : Converter
        Both with stall in their data.
    turbine_speed : array_like, shape (n,), optional
        [rad/s]; from standstill to the engine's highest speed if not given.

    Raises
    ------
    InputError
        If a characteristic does not include stall.
    """
    for converter in (first, second):
        converter.require_stall()
    speeds = (
        np.linspace(0.0, supply.domain[1], 201)
        if turbine_speed is None
        else np.atleast_1d(np.asarray(turbine_speed, dtype=np.float64))
    )
    before, behind = (matches_at_turbine_speed(supply, each, speeds) for each in (first, second))
    return SideBySide(
        supply=supply,
        first=first,
        second=second,
        first_stall=match(supply, first, 0.0).from_idle(),
        second_stall=match(supply, second, 0.0).from_idle(),
        turbine_speed=speeds,
        first_points=before.reached(),
        second_points=behind.reached(),
        first_jumps=before.jumps_before(),
        second_jumps=behind.jumps_before(),
    )
