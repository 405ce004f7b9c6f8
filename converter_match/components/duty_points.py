"""A duty as a weighted table: at which turbine speeds a machine works, and how long. SI units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.base import Component, freeze_tuples
from converter_match.curves import FloatArray, frozen_array
from converter_match.errors import InputError

MOST_POINTS = 1000
# Shares as they are printed: three of 33.3 % make 99.9 %.
_ROUNDING = 0.0015


@dataclass(frozen=True, kw_only=True, eq=False)
class DutyPoints(Component):
    """Points at which a machine works at full throttle, each with its share of that time.

    Parameters
    ----------
    id, name, source : str
    label : tuple of str, length n
        What the machine does there.
    share : array_like, shape (n,)
        Of the time; together 1. What rounding leaves is shared out.
    turbine_speed : array_like, shape (n,)
        [rad/s]; NaN where the speed ratio is given.
    speed_ratio : array_like, shape (n,)
        NaN where the turbine speed is given.
    pump_torque : array_like, shape (n,), optional
        Taken at the flywheel by implement pumps [N.m]; None where the table says nothing of it.

    Raises
    ------
    InputError
        Naming column and row: a share below zero, shares that do not add up to one, a row with both
        turbine speed and speed ratio or neither, a pump torque below zero.

    Examples
    --------
    >>> import numpy as np
    >>> DutyPoints(
    ...     id="day", name="A day", source="invented", label=("crowding", "travelling"),
    ...     share=[0.25, 0.75], speed_ratio=[0.2, np.nan], turbine_speed=[np.nan, 180.0],
    ... ).share.tolist()
    [0.25, 0.75]
    """

    id: str
    name: str
    source: str
    label: tuple[str, ...]
    share: FloatArray
    turbine_speed: FloatArray
    speed_ratio: FloatArray
    pump_torque: FloatArray | None = None

    def __post_init__(self) -> None:
        freeze_tuples(self, "label")
        arrays = ["share", "turbine_speed", "speed_ratio"]
        arrays += [] if self.pump_torque is None else ["pump_torque"]
        for name in arrays:
            object.__setattr__(self, name, frozen_array(getattr(self, name), name))
        count = self.share.size
        if not 1 <= count <= MOST_POINTS:
            raise InputError(
                "a duty needs points",
                field="share",
                found=f"{count} points",
                expected=f"1 to {MOST_POINTS}",
            )
        for name in ("label", *arrays):
            if len(getattr(self, name)) != count:
                raise InputError(
                    "not one value for each point",
                    field=name,
                    found=f"{len(getattr(self, name))} values for {count} points",
                )
        for row in range(count):
            self._check_row(row)
        total = float(self.share.sum())
        if abs(total - 1.0) > _ROUNDING:
            raise InputError(
                "the shares of time do not add up to one",
                field="share",
                found=f"{100 * total:.6g} % together",
                expected="100 %",
                hint="is a point missing, or are they hours? only the time at full throttle counts",
            )
        object.__setattr__(self, "share", frozen_array(self.share / total))

    def _check_row(self, row: int) -> None:
        share, nu, speed = self.share[row], self.speed_ratio[row], self.turbine_speed[row]
        if not (np.isfinite(share) and share >= 0.0):
            raise InputError(
                "out of range",
                field=f"share[{row}]",
                found=float(share),
                expected="a share of the time, zero or more",
            )
        if np.isnan(nu) == np.isnan(speed):
            raise InputError(
                "where does the machine work?",
                field=f"turbine_speed[{row}]",
                found="neither" if np.isnan(nu) else "both turbine speed and speed ratio",
                expected="turbine speed or speed ratio, one of the two",
            )
        for name, value in (("turbine_speed", speed), ("speed_ratio", nu)):
            if not (np.isnan(value) or (np.isfinite(value) and value >= 0.0)):
                raise InputError(
                    "out of range",
                    field=f"{name}[{row}]",
                    found=float(value),
                    expected="zero (stall) or more",
                )
        pump = 0.0 if self.pump_torque is None else float(self.pump_torque[row])
        if not (np.isfinite(pump) and pump >= 0.0):
            raise InputError(
                "a torque taken from the engine cannot be below zero",
                field=f"pump_torque[{row}]",
                found=pump,
                expected="zero or more",
            )
