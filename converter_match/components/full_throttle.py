"""A full-throttle run as it was measured: speeds and acceleration over time. SI units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.components.base import Component
from converter_match.curves import FloatArray, frozen_array
from converter_match.errors import InputError

_COLUMNS = ("time", "engine_speed", "road_speed", "speed_ratio", "acceleration")


@dataclass(frozen=True, kw_only=True, eq=False)
class FullThrottleRun(Component):
    """A run from rest at full throttle, row by row.

    Parameters
    ----------
    id, name, source : str
    time : array_like, shape (n,)
        [s], rising.
    engine_speed : array_like, shape (n,)
        [rad/s].
    road_speed : array_like, shape (n,)
        [m/s].
    speed_ratio : array_like, shape (n,)
        Turbine speed over engine speed.
    acceleration : array_like, shape (n,)
        [m/s^2].

    Raises
    ------
    InputError
        Naming the column: not one value for each row, a value that is not a number, times that do
        not rise.
    """

    id: str
    name: str
    source: str
    time: FloatArray
    engine_speed: FloatArray
    road_speed: FloatArray
    speed_ratio: FloatArray
    acceleration: FloatArray

    def __post_init__(self) -> None:
        for name in _COLUMNS:
            values = frozen_array(getattr(self, name), name)
            object.__setattr__(self, name, values)
            if values.shape != self.time.shape or values.size < 2:
                raise InputError(
                    "not one value for each row",
                    field=name,
                    found=f"{values.size} values for {self.time.size} rows",
                )
            if not np.isfinite(values).all():
                raise InputError("not a number", field=name, expected="a number in every row")
        if not np.all(np.diff(self.time) > 0.0):
            raise InputError("the times do not rise", field="time")

    @property
    def turbine_speed(self) -> FloatArray:
        """[rad/s]."""
        return self.speed_ratio * self.engine_speed

    def rows(self, low: float, high: float) -> NDArray[np.bool_]:
        """Return which rows lie between two times [s], both included; shape (n,).

        Raises
        ------
        InputError
            If fewer than three do.
        """
        inside = (self.time >= low) & (self.time <= high)
        if inside.sum() < 3:
            raise InputError(
                "too few rows between these times",
                source=self.id,
                field="time",
                found=f"{int(inside.sum())} from {low:g} to {high:g} s",
                expected="3 or more",
            )
        return inside
