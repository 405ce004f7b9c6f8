"""What a motor loses: a formula of speed and torque, or a map of its efficiency. SI units."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import Component, require_positive
from converter_match.components.grid import bilinear
from converter_match.curves import FloatArray, check_points, frozen_array
from converter_match.errors import InputError


@dataclass(frozen=True, kw_only=True)
class LossModel:
    """Losses by a formula: ``P_0 + P_c (T / T_c)^2 + P_w (omega / omega_w)^n``.

    The first is lost at standstill already, the second in the copper with the square of the
    torque, the third in iron, bearings and air with a power of speed (textbooks of electric
    drives).

    Parameters
    ----------
    standing : float
        P_0 [W].
    copper_power, copper_torque : float
        P_c [W] at T_c [N.m].
    speed_power, at_speed, exponent : float
        P_w [W] at omega_w [rad/s], and n.
    """

    standing: float = 0.0
    copper_power: float
    copper_torque: float
    speed_power: float = 0.0
    at_speed: float = 1.0
    exponent: float = 1.5

    def __post_init__(self) -> None:
        for name in ("standing", "speed_power"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0.0):
                raise InputError(
                    "out of range", field=f"losses.{name}", found=value, expected="zero or more"
                )
        require_positive(self.copper_power, "losses.copper_power")
        require_positive(self.copper_torque, "losses.copper_torque")
        require_positive(self.at_speed, "losses.at_speed")
        if not 0.0 <= self.exponent <= 4.0:
            raise InputError(
                "out of range", field="losses.exponent", found=self.exponent, expected="0 to 4"
            )

    def at(self, torque: ArrayLike, speed: ArrayLike) -> FloatArray:
        """Return the power lost [W] at shaft torques [N.m] of either sign and speeds [rad/s]."""
        turning = np.abs(np.asarray(speed, dtype=np.float64)) / self.at_speed
        share = np.asarray(torque, dtype=np.float64) / self.copper_torque
        return np.asarray(
            self.standing
            + self.copper_power * share * share
            + self.speed_power * turning**self.exponent
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class EfficiencyMap(Component):
    """Efficiency as a motor on a grid of speed and torque.

    Between its points the loss ``omega T (1 / eta - 1)`` is read along straight lines; beyond its
    edges the edge's loss stands, and as a generator the loss is that of the same torque as a motor.

    Parameters
    ----------
    speed : array_like, shape (n,)
        Above zero, rising [rad/s].
    torque : array_like, shape (m,)
        Above zero, rising [N.m].
    efficiency : array_like, shape (n, m)
        Shaft power / electric power, above 0 and below 1.
    """

    speed: FloatArray
    torque: FloatArray
    efficiency: FloatArray

    def __post_init__(self) -> None:
        for name in ("speed", "torque", "efficiency"):
            place = f"efficiency_map.{name}"
            object.__setattr__(self, name, frozen_array(getattr(self, name), place))
        for name in ("speed", "torque"):
            rows, place = getattr(self, name), f"efficiency_map.{name}"
            check_points(rows, rows, name=place, x_name=place)
            if rows[0] <= 0.0:
                raise InputError(
                    "not above zero",
                    field=f"{place}[0]",
                    found=float(rows[0]),
                    expected="above zero: without power there is no efficiency",
                )
        if self.efficiency.shape != (self.speed.size, self.torque.size):
            raise InputError(
                "the map is not a full grid",
                field="efficiency_map.efficiency",
                found=" x ".join(str(size) for size in self.efficiency.shape),
                expected=f"{self.speed.size} rows, one a speed, of {self.torque.size} torques",
            )
        wrong = self.efficiency[~((self.efficiency > 0.0) & (self.efficiency < 1.0))]
        if wrong.size:
            raise InputError(
                "out of range",
                field="efficiency_map.efficiency",
                found=float(wrong[0]),
                expected="shares above 0 and below 1",
            )

    @cached_property
    def loss(self) -> FloatArray:
        """Power lost at the points of the grid [W], shape (n, m)."""
        power = self.speed[:, np.newaxis] * self.torque
        return frozen_array(power * (1.0 / self.efficiency - 1.0))

    def at(self, torque: ArrayLike, speed: ArrayLike) -> FloatArray:
        """Return the power lost [W] at shaft torques [N.m] of either sign and speeds [rad/s]."""
        turning = np.abs(np.asarray(speed, dtype=np.float64))
        return bilinear(self.speed, self.torque, self.loss, turning, np.abs(torque))[0]
