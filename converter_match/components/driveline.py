"""A driveline: gears, what follows them, and the rules by which they change. SI units.

Everything is referred to the turbine shaft, which is the gearbox input: drag torque is a torque
there against turbine speed, and ``input_inertia`` turns with the turbine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

from converter_match.components.base import Component, require_positive
from converter_match.components.gear import (
    DIRECTIONS,
    Direction,
    Drag,
    DragLaw,
    DragTable,
    Gear,
    LockUp,
    LockUpRule,
    require_efficiency,
    require_not_negative,
)
from converter_match.errors import InputError, did_you_mean
from converter_match.notes import Note, assumption

# A gear is part of a driveline, and is found here as well.
__all__ = [
    "DIRECTIONS",
    "Direction",
    "Drag",
    "DragLaw",
    "DragTable",
    "Driveline",
    "DrivelineLimits",
    "Gear",
    "LockUp",
    "LockUpRule",
    "Stage",
]


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
                    f"gear no. {seen[gear.name] + 1} has that name already",
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
        notes = list(self.given_notes)
        without_drag = [gear.name for gear in self.gears if gear.drag is None]
        if without_drag:
            notes.append(
                assumption(
                    "gear-drag-not-given",
                    f"No drag torque is given in gear {', '.join(without_drag)}: it is taken as "
                    "zero, so effort, top speed and fuel at light load come out too favourable.",
                )
            )
        vague = [gear.name for gear in self.gears if gear.lock_up.rule == "not-stated"]
        if vague:
            notes.append(
                assumption(
                    "lock-up-rule-not-given",
                    f"Lock-up is allowed in gear {', '.join(vague)} without saying when: it is "
                    "taken to close where lock-up drive pulls no less than converter drive.",
                )
            )
        if not self.stages:
            notes.append(
                Note(
                    "no-final-drive",
                    "No reduction behind the gearbox is given: the gearbox output is taken to turn "
                    "the wheels themselves.",
                )
            )
        notes += self._shift_notes()
        return tuple(notes)

    def _shift_notes(self) -> list[Note]:
        notes = []
        for lower, upper in zip(self.forward[:-1], self.forward[1:], strict=True):
            step = lower.ratio / upper.ratio
            if step > 2.6 or step < 1.1:  # common practice, no source
                notes.append(
                    Note(
                        "gear-step-unusual",
                        f"The step from gear {lower.name} to {upper.name} is {step:.2f}: usual "
                        "steps lie between 1.1 and 2.6 (common practice). Check the ratios.",
                    )
                )
            up, down = lower.upshift_turbine_speed, upper.downshift_turbine_speed
            # Compared at the gearbox output, which keeps its speed through the shift.
            if up is not None and down is not None and not down / upper.ratio < up / lower.ratio:
                notes.append(
                    Note(
                        "shift-no-hysteresis",
                        f"Between gear {lower.name} and {upper.name} the downshift comes at or "
                        "above the output speed of the upshift: the gearbox would hunt.",
                    )
                )
        return notes
