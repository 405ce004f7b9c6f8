"""What a machine does at the wheels: gear by gear, grade by grade, with every note."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.answer.block import (
    Block,
    Facts,
    Heading,
    NoValue,
    facts_of,
    row_of,
    rows_of_arrays,
)
from converter_match.answer.noted import Answer
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.curves import FloatArray
from converter_match.judgement.conditions.air import site_note
from converter_match.judgement.conditions.ground import surface_facts
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.spread import decisive_blocks
from converter_match.judgement.wheels import words
from converter_match.judgement.wheels.from_rest import ReachedRow, from_rest_block
from converter_match.judgement.wheels.headings import (
    COOLER,
    CURVE,
    EQUILIBRIUM,
    GEAR,
    GRADE,
    GRADEABILITY,
    SET_BY,
    SHIFT,
    identity,
)
from converter_match.notes import Note
from converter_match.physics.wheels.envelope import Envelope
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.shifting import ShiftPoint
from converter_match.physics.wheels.tractive import Equilibria
from converter_match.physics.wheels.wheels import GearDrive

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class GearRow:
    """One gear in one drive at full throttle, SI units; None where there is no such point.

    Parameters
    ----------
    gear, direction, drive : str
        Drive is ``converter`` or ``lock-up``.
    overall_ratio : float
        Turbine speed / wheel speed.
    stall_effort, stall_heat : float or None
        With the wheels held [N], and the heat into the transmission oil then [W].
    stall_slips : bool
        Whether the wheels spin before that effort is reached.
    coupling_effort, coupling_speed, coupling_heat : float or None
        At the converter's coupling point [N], [m/s], [W].
    best_efficiency, best_efficiency_speed : float or None
        Power at the wheels / power into the impeller, and the road speed [m/s].
    greatest_drawbar : float or None
        Greatest effort less rolling resistance on the level, within grip and lock-up rule [N].
    top_speed, top_engine_speed, top_heat : float or None
        On the level [m/s], [rad/s], [W].
    top_limited_by : str
        ``balance``, ``governor``, ``limiter``, ``data end``, ``lock-up engages``, ``grip`` or
        ``too weak``.
    steepest_start : float or None
        Steepest grade it can start on (rise / run); None where that is below 0.05 %: it
        does not start even on the level.
    start_limited_by : str
        ``effort``, ``grip``, ``cannot start`` (on the level), or empty.
    steepest_cooled : float or None
        Steepest grade within continuous cooling capacity; None where not even the level is.
    cooled_limited_by : str
        ``cooler``, ``grip``, ``effort``, ``none``.
    """

    gear: str
    direction: str
    drive: str
    overall_ratio: float
    stall_effort: float | None
    stall_heat: float | None
    stall_slips: bool
    coupling_effort: float | None
    coupling_speed: float | None
    coupling_heat: float | None
    best_efficiency: float | None
    best_efficiency_speed: float | None
    greatest_drawbar: float | None
    top_speed: float | None
    top_engine_speed: float | None
    top_heat: float | None
    top_limited_by: str
    steepest_start: float | None
    start_limited_by: str
    steepest_cooled: float | None
    cooled_limited_by: str


@dataclass(frozen=True, kw_only=True)
class GradeRow:
    """The fastest that the machine climbs a grade forward, SI units; None where it does not.

    Parameters
    ----------
    grade : float
        Rise / run.
    resistance : float
        At the speed held, or at standstill where none is [N].
    gear, drive : str or None
    speed, engine_speed, heat : float or None
        [m/s], [rad/s], heat into the transmission oil [W].
    limited_by : str
        As for the top speed of a gear.
    oil_temperature : float or None
        Where the oil settles [K]; None where the cooler or its data do not reach.
    cooled : bool or None
        Whether the heat is within continuous cooling capacity; None without cooler data.
    converter_heat : float or None
        Of the heat, that in the converter [W].
    outlet_temperature : float or None
        Where the oil at the converter's outlet settles [K]; None without a charge flow, or where
        the bulk's is not known.
    cooler_needed : float or None
        Conductance of a cooler that carries the heat with the oil at its limit, as its data in
        standard air would state it [W/K]; None without a limit below which the air is.
    """

    grade: float
    resistance: float
    gear: str | None = None
    drive: str | None = None
    speed: float | None = None
    engine_speed: float | None = None
    heat: float | None = None
    limited_by: str = "too weak"
    oil_temperature: float | None = None
    cooled: bool | None = None
    converter_heat: float | None = None
    outlet_temperature: float | None = None
    cooler_needed: float | None = None


@dataclass(frozen=True, eq=False)
class TractiveResult(Answer):
    """Everything known about a machine at the wheels, at full throttle.

    Parameters
    ----------
    match : MatchResult
        Engine, converter, site and loads.
    driveline : Driveline
    machine : Machine
    load : {"empty", "laden"}
    surface : Surface
    drives : tuple of GearDrive
    road_loads : tuple of RoadLoad
        One for each drive.
    gears : tuple of GearRow
        One for each drive.
    grades : tuple of GradeRow
        One for each grade asked for.
    points : Equilibria
        Every crossing of effort and resistance on the grades asked for, stable or not.
    envelope : Envelope
    gradeability : ndarray, shape (n,)
        Grade that can be climbed at each speed of the envelope, grip included (rise / run).
    drawbar : ndarray, shape (n,)
        Envelope less resistance on the level [N].
    shifts : tuple of ShiftPoint
    top_speed : GradeRow
        On the level.
    steepest_start, steepest_cooled : GearRow or None
        The forward rows with the steepest grade to start on, and to climb with the oil cool.
    cooler_capacity : float or None
        With the oil at its limit in the site's air [W].
    air_temperature : float
        At the cooler [K].
    notes : tuple of Note
    reached : tuple of ReachedRow
        What the machine comes to from rest on each grade; empty where that is not asked for.
    alternatives : tuple of TractiveResult
        With each converter that an estimated one may be.
    """

    match: MatchResult
    driveline: Driveline
    machine: Machine
    load: Load
    surface: Surface
    drives: tuple[GearDrive, ...]
    road_loads: tuple[RoadLoad, ...]
    gears: tuple[GearRow, ...]
    grades: tuple[GradeRow, ...]
    points: Equilibria
    envelope: Envelope
    gradeability: FloatArray
    drawbar: FloatArray
    shifts: tuple[ShiftPoint, ...]
    top_speed: GradeRow
    steepest_start: GearRow | None
    steepest_cooled: GearRow | None
    cooler_capacity: float | None
    air_temperature: float
    notes: tuple[Note, ...]
    reached: tuple[ReachedRow, ...] = ()
    alternatives: tuple[TractiveResult, ...] = ()

    def decisive(self) -> Facts:
        """Return the figures that a decision rests on; None where there is none."""
        ahead = [row for row in self.gears if row.direction == "forward"]
        start, cooled = self.steepest_start, self.steepest_cooled
        stalls = [
            (Heading(f"stall_effort_gear_{row.gear}", f"stall effort in gear {row.gear}", "force"),
             row.stall_effort)
            for row in ahead if row.drive == "converter"
        ]  # fmt: skip
        climbs = [
            (Heading(f"speed_on_{100 * row.grade:g}_percent",
                     f"top speed on {100 * row.grade:g} %", "velocity"), row.speed)
            for row in self.grades
        ]  # fmt: skip
        return (
            *stalls,
            (Heading("startability", "startability", "grade"), start and start.steepest_start),
            (
                Heading("continuous_grade", "continuous grade", "grade"),
                cooled and cooled.steepest_cooled,
            ),
            *climbs,
        )

    @property
    def machine_words(self) -> str:
        """Name of the machine, and its load where it can carry one."""
        return self.machine.name + (f", {self.load}" if self.machine.payload else "")

    def blocks(self) -> tuple[Block, ...]:
        """Return machine and conditions, gears, grades, shifts, and every point of the curves."""
        torque, adhesion = "hydraulic_torque", "adhesion_limit_level"
        several = not all(drive.one_to_one for drive in self.drives)
        return (
            self._machine(),
            *decisive_blocks(self, banded=self.match.converter.banded),
            *self.match.origins(),
            Block("driveline", facts=identity(self.driveline), in_text=False),
            Block("surface", facts=surface_facts(self.surface), in_text=False),
            Block(
                "",
                facts=(
                    (Heading(torque, "", "torque"), self.match.hydraulic_torque),
                    (Heading(adhesion, "", "force"), float(self.road_loads[0].adhesion(0.0))),
                ),
                in_text=False,
            ),
            Block(
                "cooler",
                facts=(
                    (Heading("capacity", "", "power"), self.cooler_capacity),
                    (Heading("air_temperature", "", "temperature"), self.air_temperature),
                    (
                        Heading("oil_limit", "", "temperature"),
                        self.machine.oil.temperature_limit,
                    ),
                ),
                in_text=False,
            ),
            Block("top_speed", facts=facts_of(self.top_speed, GRADE), in_text=False),
            _steepest("start", self.steepest_start),
            _steepest("cooled", self.steepest_cooled),
            Block(
                "gears",
                title="Gear by gear at full throttle",
                columns=_with_words(GEAR),
                rows=tuple(_row(row, GEAR) for row in self.gears),
                rows_key="",
            ),
            Block(
                "grades",
                title="Top speed on a grade, forward",
                columns=_with_words(GRADE),
                rows=tuple(_row(row, GRADE) for row in self.grades),
                rows_key="",
            ),
            from_rest_block(self.reached),
            self._cooler_needed(),
            self._shift_block(),
            Block("equilibria", columns=EQUILIBRIUM, rows=self._equilibria(), rows_key="",
                  title=words.EVERY_BALANCE if several else "", in_text=several),
            self._gradeability(),
            Block("curve", columns=CURVE, rows=tuple(self._curves()), in_text=False,
                  in_plain=False),
        )  # fmt: skip

    def to_frame(self, name: str = "curve") -> pd.DataFrame:
        """Return every curve as a pandas table, one row a point, units in the column names.

        Parameters
        ----------
        name : str
            Another block with a table, such as ``gears``.
        """
        return super().to_frame(name)

    def _machine(self) -> Block:
        machine, match, surface = self.machine, self.match, self.surface
        traction = surface.traction
        adhesion = float(self.road_loads[0].adhesion(0.0))
        hydraulics = Heading("", "hydraulic torque deducted", "torque")
        return Block(
            "machine",
            title=f"{self.machine_words}, full throttle",
            facts=(
                *identity(machine),
                (Heading("load", ""), self.load),
                (Heading("mass", "mass", "mass"), machine.mass(self.load)),
                (Heading("rolling_radius", "", "length"), machine.rolling_radius),
                (Heading("", "engine"), match.engine.name),
                (Heading("", "converter"), match.converter.title),
                (Heading("", "driveline"), self.driveline.name),
                *(((hydraulics, match.hydraulic_torque),) if match.hydraulic_torque else ()),
                (Heading("", "site"), site_note(match.site)),
                (Heading("", "surface"), surface.name),
                (
                    Heading("", "rolling resistance, of weight", "weight_share", ".2f"),
                    surface.rolling_resistance,
                ),
                (
                    Heading("", "traction coefficient", form=".2f"),
                    NoValue("not known") if traction is None else traction,
                ),
                *(
                    ()
                    if traction is None
                    else ((Heading("", "adhesion limit on the level", "force", ".0f"), adhesion),)
                ),
            ),
        )

    def _shift_block(self) -> Block:
        return Block(
            "shifts",
            title="Shift points for greatest effort" if self.shifts else "",
            columns=(Heading("", "gears"), *SHIFT),
            rows=tuple(
                (f"{shift.lower} - {shift.upper}", *row_of(shift, SHIFT)) for shift in self.shifts
            ),
            rows_key="",
        )

    def _cooler_needed(self) -> Block:
        limit = self.machine.oil.temperature_limit
        rows = [row for row in self.grades if row.cooler_needed is not None]
        said = (
            ()
            if limit is None
            else (words.note("cooler-needed-at", limit=limit, air=self.air_temperature),)
        )
        return Block(
            "cooler_needed",
            title="Cooler needed to stay on a grade at full throttle",
            above=said,
            columns=COOLER,
            rows=tuple(row_of(row, COOLER) for row in rows),
            rows_key="",
            in_text=bool(rows),
        )

    def _gradeability(self) -> Block:
        cover = self.envelope
        return Block(
            "gradeability",
            columns=GRADEABILITY,
            rows=rows_of_arrays(
                cover.speed, cover.force, self.drawbar, self.gradeability, cover.slips
            ),
            rows_key="",
            in_text=False,
        )

    def _equilibria(self) -> tuple[tuple[Any, ...], ...]:
        points = self.points
        wheels = points.wheels
        drives = [self.drives[k] for k in points.drive]
        numbers = rows_of_arrays(
            points.grade,
            points.speed,
            wheels.force,
            wheels.turbine.engine_speed,
            wheels.oil_heat,
            points.stable,
            points.active,
            points.grips,
            points.coming_up,
            points.coming_down,
        )
        return tuple(
            (drive.gear.name, drive.drive, *row) for drive, row in zip(drives, numbers, strict=True)
        )

    def _curves(self) -> Iterator[tuple[Any, ...]]:
        for drive, load in zip(self.drives, self.road_loads, strict=True):
            curve = drive.curve()
            turbine, adhesion = curve.turbine, float(load.adhesion(0.0))
            speed = curve.road_speed(self.machine, adhesion)
            table = rows_of_arrays(
                np.asarray(drive.active(turbine.turbine_speed)),
                speed,
                curve.force,
                curve.force <= adhesion,
                load.resistance(0.0, speed),
                load.grade_held(np.minimum(curve.force, adhesion), speed),
                turbine.speed_ratio,
                turbine.engine_speed,
                turbine.turbine_speed,
                turbine.input_torque,
                turbine.turbine_torque,
                curve.efficiency,
                turbine.heat,
                curve.gearbox_heat,
            )
            for row in table:
                yield (drive.gear.name, drive.gear.direction, drive.drive, *row)


def _with_words(headings: Iterable[Heading]) -> tuple[Heading, ...]:
    """Return headings with a place for the words of what sets a value, beside its code."""
    pairs = ((head, SET_BY) if head.key.endswith("limited_by") else (head,) for head in headings)
    return tuple(head for pair in pairs for head in pair)


def _row(row: object, headings: Iterable[Heading]) -> tuple[Any, ...]:
    """Return what stands under `_with_words`; a grade steeper than any wall is any grade."""
    values: list[Any] = []
    for head in headings:
        value = getattr(row, head.key)
        values.append(NoValue("any") if isinstance(value, float) and value == np.inf else value)
        if head.key.endswith("limited_by"):
            values.append(words.LIMITED_BY[value])
    return tuple(values)


def _steepest(what: str, row: GearRow | None) -> Block:
    grade = Heading("grade", "", "grade")
    others = [Heading(key, "") for key in ("gear", "drive")]
    return Block(
        f"steepest_{what}",
        facts=None if row is None else (
            (grade, getattr(row, f"steepest_{what}")),
            *facts_of(row, others),
            (Heading("limited_by", ""), getattr(row, f"{what}_limited_by")),
        ),
        in_text=False,
    )  # fmt: skip
