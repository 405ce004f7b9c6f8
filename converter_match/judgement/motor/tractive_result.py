"""The answer for a motor at the wheels: gear by gear and grade by grade, at both torques."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue, row_of, rows_of_arrays
from converter_match.answer.noted import Answer
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.judgement.conditions.ground import surface_facts
from converter_match.judgement.motor import words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import RATINGS, Rating
from converter_match.judgement.wheels.headings import identity
from converter_match.judgement.wheels.words import LIMITED_BY
from converter_match.notes import Note
from converter_match.physics.wheels.envelope import Envelope
from converter_match.physics.wheels.road_load import RoadLoad

_LIMITED_BY = {**LIMITED_BY, "speed limit": "speed limit of the motor"}
GEAR = (
    Heading("gear", "gear"),
    Heading("direction", ""),
    Heading("drive", "drive"),
    Heading("overall_ratio", "ratio", form=".1f"),
    Heading("effort_peak", "effort at rest, peak", "force"),
    Heading("effort_continuous", "continuous", "force"),
    Heading("rest_held", "peak held at rest", "time", ".0f"),
    Heading("rest_heat", "oil heat at rest", "power", ".0f"),
    Heading("start_peak", "startability, peak", "grade", ".0f"),
    Heading("start_continuous", "continuous", "grade", ".0f"),
    Heading("start_by_grip", ""),
    Heading("top_peak", "top speed, peak", "velocity"),
    Heading("top_continuous", "continuous", "velocity"),
    Heading("steepest_cooled", "grade within cooler", "grade"),
)
"""Attributes of a `MotorGearRow`."""
GRADE = (
    Heading("grade", "grade", "grade", "g"),
    Heading("resistance", "resistance", "force"),
    Heading("gear", "gear"),
    Heading("speed", "speed, peak", "velocity"),
    Heading("motor_speed", "motor", "angular_speed"),
    Heading("motor_torque", "motor torque", "torque"),
    Heading("share", "of continuous", "share"),
    Heading("held", "held from cold", "time", ".0f"),
    Heading("electric_power", "electric", "power"),
    Heading("heat", "oil heat", "power", ".0f"),
    Heading("limited_by", "set by", choices=_LIMITED_BY),
    Heading("continuous_gear", "gear, continuous"),
    Heading("continuous_speed", "speed", "velocity"),
    Heading("continuous_heat", "oil heat", "power", ".0f"),
    Heading("cooled", "within cooler"),
)
"""Attributes of a `MotorGradeRow`."""


@dataclass(frozen=True, kw_only=True)
class MotorGearRow:
    """One gear, SI units; None where the gear has no such thing.

    Parameters
    ----------
    gear, direction, drive : str
        `drive` is ``converter``, ``lock-up`` or ``direct``.
    overall_ratio : float
        Motor or turbine speed / wheel speed.
    effort_peak, effort_continuous : float or None
        Tractive effort with the wheels held [N].
    start_peak, start_continuous : float or None
        Steepest grade to start on (rise / run); None where it does not start on the level.
    start_by_grip : bool
        Whether the ground sets that of the peak.
    rest_held : float or None
        How long the winding stands the peak with the wheels held, from cold [s]; infinite for good.
    rest_heat : float or None
        Into the oil with the wheels held at the peak [W].
    top_peak, top_continuous : float or None
        On the level [m/s].
    steepest_cooled : float or None
        Steepest grade at the continuous torque within the cooler's capacity.
    """

    gear: str
    direction: str
    drive: str
    overall_ratio: float
    effort_peak: float | None
    effort_continuous: float | None
    start_peak: float | None
    start_continuous: float | None
    start_by_grip: bool
    rest_held: float | None
    rest_heat: float | None
    top_peak: float | None
    top_continuous: float | None
    steepest_cooled: float | None


@dataclass(frozen=True, kw_only=True)
class MotorGradeRow:
    """The fastest on a grade forward, SI units; None where it does not climb.

    Parameters
    ----------
    grade, resistance : float
        Rise / run, [N].
    gear : str or None
    speed : float or None
        With the peak torque [m/s].
    limited_by : str
    motor_speed, motor_torque, share : float or None
        [rad/s], at the shaft [N.m], over the continuous torque there.
    held : float or None
        How long the winding stands it from cold [s]; infinite for good.
    electric_power : float or None
        [W]; NaN where the losses are not known.
    heat : float or None
        Into the transmission oil [W].
    continuous_gear, continuous_speed, continuous_heat : optional
        The same with the continuous torque.
    cooled : bool or None
        Whether that heat is within the cooler's capacity.
    """

    grade: float
    resistance: float
    gear: str | None
    speed: float | None
    limited_by: str
    motor_speed: float | None
    motor_torque: float | None
    share: float | None
    held: float | None
    electric_power: float | None
    heat: float | None
    continuous_gear: str | None
    continuous_speed: float | None
    continuous_heat: float | None
    cooled: bool | None


@dataclass(frozen=True, eq=False)
class MotorTractive(Answer):
    """Everything known about a machine with a motor at the wheels.

    Parameters
    ----------
    drive : MotorDrive
    driveline, machine, load, surface : Driveline, Machine, {"empty", "laden"}, Surface
    gears : tuple of MotorGearRow
    grades : tuple of MotorGradeRow
    road_loads : tuple of RoadLoad
        One for each gear row.
    envelopes : mapping of rating to Envelope
    cooler_capacity : float or None
        With the oil at its limit [W].
    air_temperature : float
        At the cooler [K].
    notes : tuple of Note
    """

    drive: MotorDrive
    driveline: Driveline
    machine: Machine
    load: Load
    surface: Surface
    gears: tuple[MotorGearRow, ...]
    grades: tuple[MotorGradeRow, ...]
    road_loads: tuple[RoadLoad, ...]
    envelopes: Mapping[Rating, Envelope]
    cooler_capacity: float | None
    air_temperature: float
    notes: tuple[Note, ...]

    def with_notes(self, notes: Iterable[Note]) -> MotorTractive:
        """Return the same with other notes."""
        return replace(self, notes=tuple(dict.fromkeys(notes)))

    @property
    def startability(self) -> dict[Rating, float | None]:
        """Steepest grade of any forward gear to start on, at both torques."""
        ahead = [row for row in self.gears if row.direction == "forward"]
        found: dict[Rating, float | None] = {}
        for rating in RATINGS:
            starts = [getattr(row, f"start_{rating}") for row in ahead]
            found[rating] = max((one for one in starts if one is not None), default=None)
        return found

    @property
    def machine_words(self) -> str:
        """Name of the machine, and its load where it can carry one."""
        return self.machine.name + (f", {self.load}" if self.machine.payload else "")

    def blocks(self) -> tuple[Block, ...]:
        """Return machine and conditions, gears, grades, and the envelopes."""
        start = self.startability
        grade = Heading("peak", "", "grade"), Heading("continuous", "", "grade")
        return (
            Block("machine", title=f"{self.machine_words}, motor at full torque",
                  facts=self._machine()),
            Block(
                "startability",
                facts=tuple((head, start[head.key]) for head in grade),  # type: ignore[index]
                in_text=False,
            ),
            self.drive.setup.origin(),
            Block("driveline", facts=identity(self.driveline), in_text=False),
            Block("surface", facts=surface_facts(self.surface), in_text=False),
            Block(
                "cooler",
                facts=(
                    (Heading("capacity", "", "power"), self.cooler_capacity),
                    (Heading("air_temperature", "", "temperature"), self.air_temperature),
                ),
                in_text=False,
            ),
            Block(
                "gears",
                title="Gear by gear",
                columns=GEAR,
                rows=tuple(_row(row, GEAR) for row in self.gears),
                rows_key="",
            ),
            Block(
                "grades",
                title="Top speed on a grade, forward",
                columns=GRADE,
                rows=tuple(_row(row, GRADE) for row in self.grades),
                rows_key="",
            ),
            *(self._envelope(rating) for rating in RATINGS),
        )  # fmt: skip

    def _machine(self) -> Facts:
        surface, converter = self.surface, self.drive.converter
        return (
            *identity(self.machine),
            (Heading("load", ""), self.load),
            (Heading("mass", "mass", "mass"), self.machine.mass(self.load)),
            (Heading("", "motor"), self.drive.setup.motor.name),
            (Heading("converter", ""), None if converter is None else converter.id),
            (Heading("reduction", ""), self.drive.ratio),
            (Heading("", "between motor and gearbox"), self.drive.title),
            (Heading("", "driveline"), self.driveline.name),
            (Heading("", "surface"), surface.name),
            (
                Heading("", "rolling resistance, of weight", "weight_share", ".2f"),
                surface.rolling_resistance,
            ),
            (
                Heading("", "traction coefficient", form=".2f"),
                NoValue("not known") if surface.traction is None else surface.traction,
            ),
            *self.drive.setup.basis(),
        )

    def _envelope(self, rating: Rating) -> Block:
        cover = self.envelopes[rating]
        return Block(
            f"envelope_{rating}",
            columns=(
                Heading("speed", "", "velocity"),
                Heading("effort", "", "force"),
                Heading("force", "", "force"),
            ),
            rows=rows_of_arrays(cover.speed, cover.effort, cover.force),
            rows_key="",
            in_text=False,
        )


def _row(row: object, headings: Iterable[Heading]) -> tuple[Any, ...]:
    """Return a row whose endless times and grades are said in words."""
    endless = {"rest_held": words.FOR_GOOD, "held": words.FOR_GOOD, "steepest_cooled": "any"}
    heads = tuple(headings)
    return tuple(
        NoValue(endless.get(head.key, "any"))
        if isinstance(value, float) and np.isposinf(value)
        else value
        for head, value in zip(heads, row_of(row, heads), strict=True)
    )
