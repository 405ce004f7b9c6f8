"""A driveline: gears, what follows them, and the rules by which they change. SI units.

Everything is referred to the turbine shaft, which is the gearbox input: drag torque is a torque
there against turbine speed, and ``input_inertia`` turns with the turbine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import Component, require_choice, require_positive
from converter_match.components.engine import SpeedTable
from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.notes import Note, assumption

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


@dataclass(frozen=True, kw_only=True, eq=False)
class DragTable(SpeedTable):
    """Drag torque at the gearbox input, tabulated against turbine speed from standstill.

    Parameters
    ----------
    speed : array_like, shape (n,)
        Turbine speed [rad/s], the first row at 0.
    value : array_like, shape (n,)
        Drag torque [N.m].
    """

    name: str = "drag torque"

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.speed[0] != 0.0:
            raise InputError(
                "the drag table must begin at standstill: nothing is extrapolated",
                field="drag.speed",
                found=f"first row at {self.speed[0] * 30 / math.pi:.5g} rpm",
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
                found=f"a turbine speed of {float(np.max(speed)) * 30 / math.pi:.5g} rpm",
                expected=f"at most {highest * 30 / math.pi:.5g} rpm, the last row",
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


@dataclass(frozen=True, kw_only=True)
class Stage:
    """A fixed reduction behind the gearbox: transfer case, axle, wheel hub, final drive.

    Parameters
    ----------
    name : str
    ratio : float
        Input speed / output speed.
    efficiency : float
    """

    name: str
    ratio: float
    efficiency: float

    def __post_init__(self) -> None:
        require_positive(self.ratio, f"stage {self.name!r}.ratio")
        require_efficiency(self.efficiency, f"stage {self.name!r}.efficiency")


@dataclass(frozen=True, kw_only=True)
class DrivelineLimits:
    """Input ratings stated by the maker, SI units; None where not given.

    Parameters
    ----------
    turbine_torque : float, optional
        Highest torque at the gearbox input [N.m].
    turbine_speed : float, optional
        Highest speed there [rad/s].
    input_power : float, optional
        Highest power there [W].
    lock_up_torque : float, optional
        Highest torque through the lock-up clutch [N.m].
    """

    turbine_torque: float | None = None
    turbine_speed: float | None = None
    input_power: float | None = None
    lock_up_torque: float | None = None

    def __post_init__(self) -> None:
        for name in ("turbine_torque", "turbine_speed", "input_power", "lock_up_torque"):
            require_positive(getattr(self, name), f"limits.{name}")


@dataclass(frozen=True, kw_only=True, eq=False)
class Driveline(Component):
    """Everything between the turbine and the wheel or sprocket, frozen and validated.

    Parameters
    ----------
    id, name, source : str
        Identity and where the numbers come from.
    gears : tuple of Gear
        In any order; at least one.
    stages : tuple of Stage
        Fixed reductions behind the gearbox.
    limits : DrivelineLimits
    shift_time : float, optional
        Time without drive at a shift [s].
    shift_hysteresis : float, optional
        Downshift at this share of road speed below the upshift between the same two gears.
    input_inertia : float, optional
        Turning with the turbine, the converter's own turbine not included [kg.m^2].
    output_inertia : float, optional
        Turning with the gearbox output [kg.m^2].
    speed_limit : float, optional
        Road speed at which a limiter takes the drive away [m/s].
    given_notes : tuple of Note

    Raises
    ------
    InputError
        Naming the field: no gears, repeated names, two gears of one ratio and direction, numbers
        out of range.
    """

    id: str
    name: str
    source: str
    gears: tuple[Gear, ...]
    stages: tuple[Stage, ...] = ()
    limits: DrivelineLimits = field(default_factory=DrivelineLimits)
    shift_time: float | None = None
    shift_hysteresis: float | None = None
    input_inertia: float | None = None
    output_inertia: float | None = None
    speed_limit: float | None = None
    given_notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        if not self.gears:
            raise InputError("a driveline needs at least one gear", field="gear")
        seen: dict[str, int] = {}
        for row, gear in enumerate(self.gears):
            if gear.name in seen:
                raise InputError(
                    f"the gear name stands at gear[{seen[gear.name]}] already",
                    field=f"gear[{row}].name",
                    found=gear.name,
                    expected="a name of its own for each gear",
                )
            seen[gear.name] = row
        for direction in DIRECTIONS:
            ratios = [gear.ratio for gear in self.gears if gear.direction == direction]
            if len(set(ratios)) < len(ratios):
                twice = next(r for r in ratios if ratios.count(r) > 1)
                raise InputError(
                    f"two {direction} gears have the same ratio", field="gear.ratio", found=twice
                )
        if self.shift_time is not None:
            require_not_negative(self.shift_time, "shift_time", "a time of zero or more")
        if self.shift_hysteresis is not None and not 0.0 <= self.shift_hysteresis < 0.9:
            raise InputError(
                "out of range",
                field="shift_hysteresis",
                found=self.shift_hysteresis,
                expected="a share of the upshift speed, 0 to 0.9",
            )
        for name in ("input_inertia", "output_inertia", "speed_limit"):
            require_positive(getattr(self, name), name)

    @cached_property
    def forward(self) -> tuple[Gear, ...]:
        """Forward gears, the lowest (largest ratio) first."""
        return self._sorted("forward")

    @cached_property
    def reverse(self) -> tuple[Gear, ...]:
        """Reverse gears, the lowest (largest ratio) first."""
        return self._sorted("reverse")

    def _sorted(self, direction: Direction) -> tuple[Gear, ...]:
        chosen = [gear for gear in self.gears if gear.direction == direction]
        return tuple(sorted(chosen, key=lambda gear: -gear.ratio))

    def gear(self, name: str) -> Gear:
        """Return a gear by its name.

        Raises
        ------
        InputError
            If there is none; the gears are named.
        """
        for gear in self.gears:
            if gear.name == name:
                return gear
        names = [gear.name for gear in self.gears]
        raise InputError(
            "no such gear",
            source=self.id,
            field="gear",
            found=name,
            expected=" | ".join(names),
            hint=did_you_mean(name, names),
        )

    @cached_property
    def stage_ratio(self) -> float:
        """Product of the ratios behind the gearbox."""
        return math.prod(stage.ratio for stage in self.stages)

    @cached_property
    def stage_efficiency(self) -> float:
        """Product of the efficiencies behind the gearbox."""
        return math.prod(stage.efficiency for stage in self.stages)

    def overall_ratio(self, gear: Gear) -> float:
        """Return turbine speed / wheel speed in a gear, a magnitude."""
        return gear.ratio * self.stage_ratio

    def efficiency(self, gear: Gear) -> float:
        """Return the efficiency from gearbox input to wheel in a gear, drag not included."""
        return gear.efficiency * self.stage_efficiency

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """Every assumption and oddity that belongs to this driveline."""
        found = list(self.given_notes)
        without_drag = [gear.name for gear in self.gears if gear.drag is None]
        if without_drag:
            found.append(
                assumption(
                    "gear-drag-not-given",
                    f"No drag torque is given in gear {', '.join(without_drag)}: it is taken as "
                    "zero, which flatters effort, top speed and fuel at light load.",
                )
            )
        vague = [gear.name for gear in self.gears if gear.lock_up.rule == "not-stated"]
        if vague:
            found.append(
                assumption(
                    "lock-up-rule-not-given",
                    f"Lock-up is allowed in gear {', '.join(vague)} without saying when: it is "
                    "taken to close where lock-up drive pulls no less than converter drive.",
                )
            )
        if not self.stages:
            found.append(
                Note(
                    "no-final-drive",
                    "No reduction behind the gearbox is given: the gearbox output is taken to turn "
                    "the wheels themselves.",
                )
            )
        found += self._shift_notes()
        return tuple(found)

    def _shift_notes(self) -> list[Note]:
        found = []
        for lower, upper in zip(self.forward[:-1], self.forward[1:], strict=True):
            step = lower.ratio / upper.ratio
            if step > 2.6 or step < 1.1:  # common practice, no source
                found.append(
                    Note(
                        "gear-step-unusual",
                        f"The step from gear {lower.name} to {upper.name} is {step:.2f}: usual "
                        "steps lie between 1.1 and 2.6 (common practice). Check the ratios.",
                    )
                )
            up, down = lower.upshift_turbine_speed, upper.downshift_turbine_speed
            # Compared at the gearbox output, which keeps its speed through the shift.
            if up is not None and down is not None and not down / upper.ratio < up / lower.ratio:
                found.append(
                    Note(
                        "shift-no-hysteresis",
                        f"Between gear {lower.name} and {upper.name} the downshift comes at or "
                        "above the output speed of the upshift: the gearbox would shift for ever.",
                    )
                )
        return found


def require_not_negative(value: float, field: str, what: str = "zero or more") -> None:
    """Refuse a value that is not finite or below zero.

    Raises
    ------
    InputError
        Naming the field and the value.
    """
    if not (math.isfinite(value) and value >= 0):
        raise InputError("out of range", field=field, found=value, expected=what)


def require_efficiency(value: float, field: str) -> None:
    """Refuse an efficiency outside 0 < eta <= 1.

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
