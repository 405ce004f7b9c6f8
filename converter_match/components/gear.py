"""A gear: ratio, losses, and when its converter is locked up. SI units.

Drag torque is a torque at the turbine shaft, which is the gearbox input, against turbine speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import Component, in_rpm, require_choice, require_positive
from converter_match.components.engine import SpeedTable
from converter_match.curves import FloatArray
from converter_match.errors import InputError

Direction = Literal["forward", "reverse"]
LockUpRule = Literal["not-allowed", "speed-ratio", "turbine-speed", "not-stated"]
DIRECTIONS: tuple[Direction, ...] = ("forward", "reverse")


@dataclass(frozen=True, kw_only=True)
class DragLaw:
    """Drag torque at the gearbox input by a power law of turbine speed.

    ``T = constant + torque (omega / at_speed)^exponent``: Coulomb friction of seals and plates, and
    churning.

    Parameters
    ----------
    torque : float
        Speed-dependent part at `at_speed` [N.m].
    at_speed : float
        Turbine speed [rad/s].
    exponent : float
    constant : float
        Part that does not depend on speed [N.m].
    """

    torque: float
    at_speed: float
    exponent: float = 1.0
    constant: float = 0.0

    def __post_init__(self) -> None:
        for name in ("torque", "constant"):
            require_not_negative(getattr(self, name), f"drag.{name}", "a torque of zero or more")
        require_positive(self.at_speed, "drag.at_speed")
        if not 0.0 <= self.exponent <= 3.0:
            raise InputError(
                "out of range", field="drag.exponent", found=self.exponent, expected="0 to 3"
            )

    def at(self, turbine_speed: ArrayLike) -> FloatArray:
        """Return the drag torque [N.m] at `turbine_speed` [rad/s] (any shape; sign ignored)."""
        ratio = np.abs(np.asarray(turbine_speed, dtype=np.float64)) / self.at_speed
        return np.asarray(self.constant + self.torque * ratio**self.exponent)


# Share of the greatest input torque, at rest and again per 1000 rpm: the fall-back loss of a
# transmission with more than two friction shift elements in Commission Regulation (EU) 2017/2400,
# Annex VI, appendix 8. A powershift gearbox shifts by friction clutches, so this case is taken.
_FALL_BACK_SHARE = 0.015
_PER_SPEED = 1000.0 * np.pi / 30.0


def fall_back_drag(input_torque: float) -> DragLaw:
    """Return the drag that is assumed for a gearbox of which only its input rating is known.

    ``T = T_d0 + T_d1000 n / 1000 rpm`` with both 0.015 times the rating; Regulation (EU) 2017/2400,
    Annex VI, appendix 8. What the rule takes off in proportion to the torque is the gears'
    efficiency here, which every file gives.

    Parameters
    ----------
    input_torque : float
        Highest torque at the gearbox input [N.m].

    Examples
    --------
    >>> drag = fall_back_drag(2000.0)
    >>> float(drag.at(2000.0 * np.pi / 30.0))
    90.0
    """
    share = _FALL_BACK_SHARE * input_torque
    return DragLaw(torque=share, at_speed=_PER_SPEED, constant=share)


@dataclass(frozen=True, kw_only=True, eq=False)
class DragTable(SpeedTable):
    """Drag torque at the gearbox input, tabulated against turbine speed from standstill.

    Parameters
    ----------
    speed : array_like, shape (n,)
        Turbine speed [rad/s], the first row at 0.
    value : array_like, shape (n,)
        Drag torque [N.m].
    name : str
        For messages.
    """

    name: str = "drag torque"

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.speed[0] != 0.0:
            raise InputError(
                "the drag table must begin at standstill: nothing is extrapolated",
                field="drag.speed",
                found=f"first row at {in_rpm(self.speed[0])}",
                expected="0",
            )

    def at(self, turbine_speed: ArrayLike) -> FloatArray:
        """Return the drag torque [N.m] at `turbine_speed` [rad/s] (any shape; sign ignored).

        Raises
        ------
        InputError
            If a speed lies beyond the table.
        """
        speed = np.abs(np.asarray(turbine_speed, dtype=np.float64))
        highest = float(self.speed[-1])
        if speed.size and not float(np.max(speed)) <= highest:
            raise InputError(
                "the drag torque is not known there and nothing is extrapolated",
                field="drag.speed",
                found=f"a turbine speed of {in_rpm(float(np.max(speed)))}",
                expected=f"at most {in_rpm(highest)}, the last row",
                hint="add a row at or above the engine's high idle",
            )
        return np.asarray(self.curve(speed))


Drag = DragLaw | DragTable


@dataclass(frozen=True, kw_only=True)
class LockUp:
    """When the turbine is tied to the impeller in a gear.

    Parameters
    ----------
    allowed : bool
    engage_speed_ratio, release_speed_ratio : float, optional
        Turbine / impeller speed of the open converter at which the clutch closes, and below which
        it opens again. While it is closed the ratio is that of the open converter at the same
        turbine speed, full throttle.
    engage_turbine_speed, release_turbine_speed : float, optional
        The same by turbine speed [rad/s]. A controller goes by one or the other.
    """

    allowed: bool = False
    engage_speed_ratio: float | None = None
    release_speed_ratio: float | None = None
    engage_turbine_speed: float | None = None
    release_turbine_speed: float | None = None

    def __post_init__(self) -> None:
        ratio = (self.engage_speed_ratio, self.release_speed_ratio)
        speed = (self.engage_turbine_speed, self.release_turbine_speed)
        given = [value for value in ratio + speed if value is not None]
        if given and not self.allowed:
            raise InputError(
                "a lock-up rule for a gear in which lock-up is not allowed",
                field="lock_up.allowed",
                found=False,
                expected="true, or no engage and release values",
            )
        if any(v is not None for v in ratio) and any(v is not None for v in speed):
            raise InputError(
                "two lock-up rules",
                field="lock_up",
                expected="speed ratios or turbine speeds, not both",
            )
        for name in ("engage_turbine_speed", "release_turbine_speed"):
            require_positive(getattr(self, name), f"lock_up.{name}")
        for name in ("engage_speed_ratio", "release_speed_ratio"):
            value = getattr(self, name)
            if value is not None and not 0.0 < value < 1.0:
                raise InputError(
                    "out of range",
                    field=f"lock_up.{name}",
                    found=value,
                    expected="a speed ratio between 0 and 1",
                )
        for kind, (engage, release) in (("speed_ratio", ratio), ("turbine_speed", speed)):
            if release is not None and engage is None:
                raise InputError("a release without an engagement", field=f"lock_up.engage_{kind}")
            if engage is not None and release is not None and not release < engage:
                raise InputError(
                    "lock-up would release as soon as it engages",
                    field=f"lock_up.release_{kind}",
                    found=release,
                    expected=f"below the engagement, {engage:.6g}",
                )

    @property
    def rule(self) -> LockUpRule:
        """By what the clutch is engaged."""
        if not self.allowed:
            return "not-allowed"
        if self.engage_speed_ratio is not None:
            return "speed-ratio"
        return "turbine-speed" if self.engage_turbine_speed is not None else "not-stated"


@dataclass(frozen=True, kw_only=True, eq=False)
class Gear(Component):
    """One gear of the gearbox.

    Parameters
    ----------
    name : str
        As on the selector, e.g. ``1`` or ``R1``; unique in the driveline.
    ratio : float
        Turbine speed / gearbox output speed, a magnitude above zero.
    direction : {"forward", "reverse"}
    efficiency : float
        Of the gear meshes at load, 0 < eta <= 1; drag is on top of it.
    drag : DragLaw or DragTable, optional
        Load-independent torque at the gearbox input.
    lock_up : LockUp
    upshift_turbine_speed, downshift_turbine_speed : float, optional
        Turbine speed in this gear at which the controller leaves it, upwards and downwards
        [rad/s].
    """

    name: str
    ratio: float
    direction: Direction = "forward"
    efficiency: float
    drag: Drag | None = None
    lock_up: LockUp = field(default_factory=LockUp)
    upshift_turbine_speed: float | None = None
    downshift_turbine_speed: float | None = None

    def __post_init__(self) -> None:
        where = f"gear {self.name!r}"
        if not self.name.strip():
            raise InputError("a gear needs a name", field="gear.name", found=self.name)
        require_positive(self.ratio, f"{where}.ratio", "a ratio above zero (turbine / output)")
        require_choice(self.direction, f"{where}.direction", DIRECTIONS)
        require_efficiency(self.efficiency, f"{where}.efficiency")
        for name in ("upshift_turbine_speed", "downshift_turbine_speed"):
            require_positive(getattr(self, name), f"{where}.{name}")
        up, down = self.upshift_turbine_speed, self.downshift_turbine_speed
        if up is not None and down is not None and not down < up:
            raise InputError(
                "the gear would be left in both directions at once",
                field=f"{where}.downshift_turbine_speed",
                found=down,
                expected=f"below the upshift, {up:.6g} rad/s",
            )

    def drag_torque(self, turbine_speed: ArrayLike) -> FloatArray:
        """Return the drag torque [N.m] at the gearbox input at `turbine_speed` [rad/s]."""
        if self.drag is None:
            return np.zeros(np.shape(turbine_speed))
        return self.drag.at(turbine_speed)


def require_not_negative(value: float, field: str, what: str = "zero or more") -> None:
    """Refuse a value that is not finite or below zero.

    Parameters
    ----------
    value : float
    field : str
        Its place, for the message.
    what : str
        What was expected, for the message.

    Raises
    ------
    InputError
        Naming the field and the value.
    """
    if not (math.isfinite(value) and value >= 0):
        raise InputError("out of range", field=field, found=value, expected=what)


def require_efficiency(value: float, field: str) -> None:
    """Refuse an efficiency outside 0 < eta <= 1.

    Parameters
    ----------
    value : float
        Share.
    field : str
        Its place, for the message.

    Raises
    ------
    InputError
        Naming the field and the value.
    """
    if not 0.0 < value <= 1.0:
        raise InputError(
            "not an efficiency",
            field=field,
            found=value,
            expected="above 0 and at most 1",
            hint=f"percent? write {value / 100:g}" if 1.0 < value <= 100.0 else None,
        )
