"""What an output shaft gives at a speed: one pair, or several pairs geared to one shaft.

Each pair of engine and converter is matched by itself at the turbine speed that the shaft imposes,
``omega_t = i omega``; on the shaft speeds are equal and torques add up:

    T(omega) = sum of i_k eta_k mu_k C_k(nu_k) omega_e,k^2
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.match_set import OperatingPoints
from converter_match.physics.match.turbine_speed import TurbineMatches, matches_at_turbine_speed


@dataclass(frozen=True, eq=False)
class Unit:
    """One pair of engine and converter, and the gear from its turbine to the shaft.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    ratio : float
        Turbine speed / shaft speed.
    efficiency : float
        From turbine to shaft, above 0 and at most 1.
    """

    supply: TorqueSupply
    converter: Converter
    ratio: float = 1.0
    efficiency: float = 1.0

    @property
    def fastest(self) -> float:
        """Highest shaft speed for which it may have a match [rad/s]."""
        return self.supply.domain[1] * min(self.converter.domain[1], 1.0) / self.ratio

    @property
    def slowest(self) -> float:
        """Lowest shaft speed, below zero where there are data of a turbine driven backwards."""
        return self.supply.domain[1] * min(self.converter.domain[0], 0.0) / self.ratio

    def matches(self, speed: FloatArray) -> TurbineMatches:
        """Return every match at shaft speeds (n,) [rad/s]."""
        return matches_at_turbine_speed(self.supply, self.converter, speed * self.ratio)


@dataclass(frozen=True, eq=False)
class ShaftStates:
    """Every state of the units at shaft speeds; arrays of shape (r, n), NaN where there is none.

    Parameters
    ----------
    torque : ndarray
        On the shaft, of all units together [N.m].
    stable : ndarray of bool
        Whether every engine returns to its point at a shaft speed that is held.
    coming_up : ndarray of bool
        Whether every unit is where it comes to from standstill at full load.
    units : tuple of OperatingPoints
        The point of each unit, of the same shape.
    """

    torque: FloatArray
    stable: NDArray[np.bool_]
    coming_up: NDArray[np.bool_]
    units: tuple[OperatingPoints, ...]

    @property
    def count(self) -> NDArray[np.intp]:
        """Number of states, shape (n,)."""
        return np.asarray(np.isfinite(self.torque).sum(axis=0))

    def up(self) -> FloatArray:
        """Return the torque of units that come up from standstill, (n,); NaN without."""
        rows = np.argmax(self.coming_up, axis=0)
        there = self.coming_up.any(axis=0)
        taken = np.take_along_axis(self.torque, rows[np.newaxis], axis=0)[0]
        return np.where(there, taken, np.nan)

    def picked(self, row: NDArray[np.intp]) -> ShaftStates:
        """Return one state at each speed, arrays (n,); NaN where there is no such row."""
        inside = row < len(self.torque)
        at = (np.where(inside, row, 0), np.arange(row.size))
        void = np.where(inside, 1.0, np.nan)
        units = tuple(
            OperatingPoints(
                unit.speed_ratio[at] * void,
                unit.torque_ratio[at] * void,
                unit.engine_speed[at] * void,
                unit.input_torque[at] * void,
                unit.stable[at] & inside,
            )
            for unit in self.units
        )
        return ShaftStates(
            self.torque[at] * void, self.stable[at] & inside, self.coming_up[at] & inside, units
        )


def shaft_states(units: Sequence[Unit], speed: FloatArray) -> ShaftStates:
    """Return every state of the units at shaft speeds.

    Parameters
    ----------
    units : sequence of Unit
        At least one.
    speed : ndarray, shape (n,)
        [rad/s].

    Returns
    -------
    ShaftStates
        With one unit its matches by rising engine speed; with several every combination of theirs.
    """
    matches = [unit.matches(speed) for unit in units]
    rows = list(product(*(range(len(each.points.engine_speed)) for each in matches)))
    points = tuple(
        each.points.at(np.array([row[k] for row in rows], dtype=np.intp))  # type: ignore[arg-type]
        for k, each in enumerate(matches)
    )
    torque = sum(
        unit.ratio * unit.efficiency * part.turbine_torque
        for unit, part in zip(units, points, strict=True)
    )
    coming_up = np.stack(
        [
            np.logical_and.reduce([each.coming_up[row[k]] for k, each in enumerate(matches)])
            for row in rows
        ]
    )
    stable = np.logical_and.reduce([part.stable for part in points])
    return ShaftStates(np.asarray(torque), np.asarray(stable), coming_up, points)
