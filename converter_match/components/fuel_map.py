"""A fuel map: fuel flow on a grid of engine speed and torque. SI units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.base import Component
from converter_match.components.grid import bilinear
from converter_match.curves import FloatArray, check_points, frozen_array
from converter_match.errors import InputError


@dataclass(frozen=True, eq=False)
class FuelMap(Component):
    """Fuel flow on a grid of engine speed and torque.

    Parameters
    ----------
    speed : array_like, shape (n,)
        [rad/s], rising.
    torque : array_like, shape (m,)
        At the flywheel on the rating's basis [N.m], rising.
    rate : array_like, shape (n, m)
        Fuel flow [kg/s].

    Raises
    ------
    InputError
        If the grid is not rising or a flow is below zero.
    """

    speed: FloatArray
    torque: FloatArray
    rate: FloatArray

    def __post_init__(self) -> None:
        for name in ("speed", "torque", "rate"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), name))
        check_points(self.speed, self.speed, name="speed", x_name="speed")
        check_points(self.torque, self.torque, name="torque", x_name="torque")
        if self.rate.shape != (self.speed.size, self.torque.size):
            raise InputError(
                "the map is not a full grid",
                field="rate",
                found=f"{self.rate.shape}",
                expected=f"{self.speed.size} speeds by {self.torque.size} torques",
            )
        if not np.all(np.isfinite(self.rate) & (self.rate >= 0.0)):
            raise InputError("below zero or not finite", field="rate", expected="zero or more")

    def at(self, torque: ArrayLike, speed: ArrayLike) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return fuel flow [kg/s], bilinear, and whether each point lies in the map; broadcast.

        Beyond the edge the edge's value stands.
        """
        return bilinear(self.speed, self.torque, self.rate, speed, torque)
