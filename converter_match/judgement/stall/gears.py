"""In which gears a stall can be held at all: the pull at the wheels against the grip of the ground.

A machine whose wheels pull more at stall than the ground allows breaks loose, whatever its brakes
hold. Such a gear is named, and never offered as a test.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from converter_match.answer.block import Heading
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.gear import Direction, Gear
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.judgement.conditions.air import density_around
from converter_match.judgement.conditions.ground import ground_notes
from converter_match.judgement.stall import words
from converter_match.judgement.stall.band import Band
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import SiteEffect
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import force_at_rest

TABLE = (
    Heading("gear", "gear"),
    Heading("direction", "direction"),
    Heading("overall_ratio", "ratio", form=".1f"),
    Heading("pull", "pull at stall", "force"),
    Heading("grip", "grip", "force"),
    Heading("breaks_loose", "breaks loose"),
)
"""Columns of the gears of a test."""


class OnGround(Protocol):
    """A machine ready for a stall test, as far as its wheels go: behind an engine or a motor."""

    @property
    def converter(self) -> Converter:
        """Between prime mover and gearbox."""

    @property
    def driveline(self) -> Driveline | None:
        """Its gears."""

    @property
    def machine(self) -> Machine | None:
        """Its wheels and weight."""

    @property
    def surface(self) -> Surface | None:
        """What it stands on."""

    @property
    def load(self) -> Load:
        """Whether it is laden."""

    def capacity(self) -> float:
        """Return C(0) in the oil of the day [N.m/(rad/s)^2]."""

    def effect(self) -> SiteEffect:
        """Return the air around it."""


@dataclass(frozen=True, kw_only=True)
class GearTest:
    """A stall in one gear, SI units.

    Parameters
    ----------
    gear, direction : str
    overall_ratio : float
        Turbine speed / wheel speed.
    pull : float or None
        At the wheels, at the highest stall speed expected [N]; None without a machine, or a stall.
    grip : float or None
        What the ground allows on the level [N]; None without a machine or a traction coefficient.
    """

    gear: str
    direction: Direction
    overall_ratio: float
    pull: float | None
    grip: float | None

    @property
    def breaks_loose(self) -> bool | None:
        """Whether the wheels pull more than the ground allows; None where that is not known."""
        if self.pull is None or self.grip is None:
            return None
        return self.pull > self.grip

    @property
    def label(self) -> str:
        """The gear, and that it is a reverse one where its name does not say so."""
        said = self.direction == "forward" or self.gear.upper().startswith("R")
        return self.gear if said else f"{self.gear} rev."


def gear_tests(setup: OnGround, band: Band) -> tuple[GearTest, ...]:
    """Return a stall in every gear, forward from the highest gear down, then reverse likewise.

    The highest gear pulls least: it is the one to begin with.

    Parameters
    ----------
    setup : OnGround
    band : Band
        Of the converter stall.

    Notes
    -----
    ``F = (mu(0) C(0) omega^2 - T_drag) i eta / r`` at the upper end of the band, in the oil of the
    day, against ``mu_g N`` of the ground.
    """
    line = setup.driveline
    if line is None:
        return ()
    ordered = [
        *sorted(line.forward, key=line.overall_ratio),
        *sorted(line.reverse, key=line.overall_ratio),
    ]
    torque = None
    if band.high is not None:
        # Of an estimated converter the highest torque ratio that it may have.
        ratio = float(setup.converter.band(0.0)["torque_ratio"][1])
        torque = ratio * setup.capacity() * band.high**2
    return tuple(
        GearTest(
            gear=gear.name,
            direction=gear.direction,
            overall_ratio=line.overall_ratio(gear),
            pull=_pull(setup, gear, torque),
            grip=_grip(setup, gear.direction),
        )
        for gear in ordered
    )


def _pull(setup: OnGround, gear: Gear, torque: float | None) -> float | None:
    if setup.machine is None or setup.driveline is None or torque is None:
        return None
    return force_at_rest(torque, setup.driveline, gear, setup.machine)


def _grip(setup: OnGround, direction: Direction) -> float | None:
    if setup.machine is None or setup.surface is None or setup.surface.traction is None:
        return None
    load = RoadLoad.of(
        setup.machine,
        setup.surface,
        load=setup.load,
        air_density=density_around(setup.effect()),
        direction=direction,
    )
    return float(load.adhesion(0.0))


def to_be_held(tests: Sequence[GearTest]) -> list[GearTest]:
    """Return the gears in which the machine holds still by the grip of its wheels.

    Where pull or grip is not known, only the highest gear of each direction, which pulls least.
    """
    highest = {test.direction: test for test in reversed(tests)}
    return [
        test
        for test in tests
        if test.breaks_loose is False
        or (test.breaks_loose is None and test is highest[test.direction])
    ]


def gear_notes(setup: OnGround, tests: Sequence[GearTest]) -> list[Note]:
    """Return which gears are no test, and what was assumed of the ground."""
    if not tests or setup.machine is None:
        return [words.note("pull-not-known")]
    notes: list[Note] = []
    loose = [test for test in tests if test.breaks_loose]
    if loose:
        hardest = max(loose, key=lambda test: test.pull or 0.0)
        notes.append(
            words.note(
                "breaks-loose" if len(loose) < len(tests) else "breaks-loose-in-every-gear",
                gears=", ".join(test.label for test in loose),
                pull=hardest.pull or 0.0,
                grip=hardest.grip or 0.0,
                load=setup.load,
                ground="" if setup.surface is None else setup.surface.name,
            )
        )
    if setup.surface is None:
        notes.append(words.note("ground-not-given"))
    else:
        notes += ground_notes(setup.surface, setup.machine)
    if setup.surface is not None and setup.surface.traction is not None:
        notes.append(words.note("grip-is-no-brake", load=setup.load))
    return notes
