"""What a machine does at the wheels: gear by gear, grade by grade, with every note."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.answer.noted import Noted
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.curves import FloatArray
from converter_match.judgement.answer.plain import plain
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.shifting import ShiftPoint
from converter_match.physics.wheels.tractive import Envelope, Equilibria
from converter_match.physics.wheels.wheels import GearDrive
from converter_match.units import System, note_plain

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
        Whether the ground gives way before that effort is reached.
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
        Steepest grade up to which the cooler carries the heat for ever; None where not even on the
        level.
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

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        return {
            "gear": self.gear,
            "direction": self.direction,
            "drive": self.drive,
            "overall_ratio": self.overall_ratio,
            "stall_effort_kn": plain(self.stall_effort, "kn"),
            "stall_heat_kw": plain(self.stall_heat, "kw"),
            "stall_slips": self.stall_slips,
            "coupling_effort_kn": plain(self.coupling_effort, "kn"),
            "coupling_speed_kmh": plain(self.coupling_speed, "kmh"),
            "coupling_heat_kw": plain(self.coupling_heat, "kw"),
            "best_efficiency": self.best_efficiency,
            "best_efficiency_speed_kmh": plain(self.best_efficiency_speed, "kmh"),
            "greatest_drawbar_kn": plain(self.greatest_drawbar, "kn"),
            "top_speed_kmh": plain(self.top_speed, "kmh"),
            "top_engine_speed_rpm": plain(self.top_engine_speed, "rpm"),
            "top_heat_kw": plain(self.top_heat, "kw"),
            "top_limited_by": self.top_limited_by,
            "steepest_start_percent": plain(self.steepest_start, "percent"),
            "start_limited_by": self.start_limited_by,
            "steepest_cooled_percent": plain(self.steepest_cooled, "percent"),
            "cooled_limited_by": self.cooled_limited_by,
        }


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
        Whether the cooler carries the heat for ever; None without cooler data.
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

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        return {
            "grade_percent": plain(self.grade, "percent"),
            "resistance_kn": plain(self.resistance, "kn"),
            "gear": self.gear,
            "drive": self.drive,
            "speed_kmh": plain(self.speed, "kmh"),
            "engine_speed_rpm": plain(self.engine_speed, "rpm"),
            "heat_kw": plain(self.heat, "kw"),
            "limited_by": self.limited_by,
            "oil_temperature_degc": plain(self.oil_temperature, "degc"),
            "cooled": self.cooled,
        }


@dataclass(frozen=True, eq=False)
class TractiveResult(Noted):
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

    @property
    def machine_words(self) -> str:
        """Name of the machine, and its load where it can carry one."""
        return self.machine.name + (f", {self.load}" if self.machine.payload else "")

    def rows(self) -> Iterator[dict[str, Any]]:
        """Yield every point of every drive's curve, units in the keys."""
        for drive, load in zip(self.drives, self.road_loads, strict=True):
            curve = drive.curve()
            adhesion = float(load.adhesion(0.0))
            speed = curve.road_speed(self.machine, adhesion)
            active = drive.active(curve.turbine.turbine_speed)
            level = load.resistance(0.0, speed)
            grade = load.grade_held(np.minimum(curve.force, adhesion), speed)
            for i in range(speed.size):
                yield {
                    "gear": drive.gear.name,
                    "direction": drive.gear.direction,
                    "drive": drive.drive,
                    "in_force": bool(active[i]),
                    "speed_kmh": plain(speed[i], "kmh"),
                    "tractive_effort_kn": plain(curve.force[i], "kn"),
                    "within_grip": bool(curve.force[i] <= adhesion),
                    "level_resistance_kn": plain(level[i], "kn"),
                    "grade_held_percent": plain(grade[i], "percent"),
                    "speed_ratio": float(curve.turbine.speed_ratio[i]),
                    "engine_speed_rpm": plain(curve.turbine.engine_speed[i], "rpm"),
                    "turbine_speed_rpm": plain(curve.turbine.turbine_speed[i], "rpm"),
                    "input_torque_nm": float(curve.turbine.input_torque[i]),
                    "turbine_torque_nm": float(curve.turbine.turbine_torque[i]),
                    "efficiency": _number(curve.efficiency[i]),
                    "converter_heat_kw": plain(curve.turbine.heat[i], "kw"),
                    "gearbox_heat_kw": plain(curve.gearbox_heat[i], "kw"),
                }

    def to_frame(self) -> pd.DataFrame:
        """Return every curve as a pandas table, one row a point, units in the column names."""
        import pandas as pd

        return pd.DataFrame(list(self.rows()))

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data that JSON can carry (NaN never appears)."""
        match = self.match.to_dict()
        return {
            "engine": match["engine"],
            "converter": match["converter"],
            "driveline": _identity(self.driveline),
            "machine": _identity(self.machine)
            | {
                "load": self.load,
                "mass_kg": self.machine.mass(self.load),
                "rolling_radius_mm": 1e3 * self.machine.rolling_radius,
            },
            "site": match["site"],
            "hydraulic_torque_nm": self.match.hydraulic_torque,
            "surface": {
                "name": self.surface.name,
                "source": self.surface.source,
                "rolling_resistance_percent": plain(self.surface.rolling_resistance, "percent"),
                "traction_coefficient": self.surface.traction,
            },
            "adhesion_limit_level_kn": plain(self.road_loads[0].adhesion(0.0), "kn"),
            "cooler": {
                "capacity_kw": plain(self.cooler_capacity, "kw"),
                "air_temperature_degc": plain(self.air_temperature, "degc"),
                "oil_limit_degc": plain(self.machine.oil.temperature_limit, "degc"),
            },
            "top_speed": self.top_speed.to_dict(),
            "steepest_start": _steepest(self.steepest_start, "start"),
            "steepest_cooled": _steepest(self.steepest_cooled, "cooled"),
            "gears": [row.to_dict() for row in self.gears],
            "grades": [row.to_dict() for row in self.grades],
            "equilibria": list(self._equilibria()),
            "shifts": [_shift(shift) for shift in self.shifts],
            "gradeability": [
                {
                    "speed_kmh": plain(self.envelope.speed[i], "kmh"),
                    "tractive_effort_kn": plain(self.envelope.force[i], "kn"),
                    "drawbar_pull_kn": plain(self.drawbar[i], "kn"),
                    "grade_percent": plain(self.gradeability[i], "percent"),
                    "slips": bool(self.envelope.slips[i]),
                }
                for i in range(self.envelope.speed.size)
            ],
            "warnings": [note_plain(note) for note in self.warnings],
            "assumptions": [note_plain(note) for note in self.assumptions],
        }

    def _equilibria(self) -> Iterator[dict[str, Any]]:
        points = self.points
        for i in range(points.grade.size):
            drive = self.drives[int(points.drive[i])]
            yield {
                "gear": drive.gear.name,
                "drive": drive.drive,
                "grade_percent": plain(points.grade[i], "percent"),
                "speed_kmh": plain(points.speed[i], "kmh"),
                "tractive_effort_kn": plain(points.wheels.force[i], "kn"),
                "engine_speed_rpm": plain(points.wheels.turbine.engine_speed[i], "rpm"),
                "heat_kw": plain(points.wheels.oil_heat[i], "kw"),
                "stable": bool(points.stable[i]),
                "in_force": bool(points.active[i]),
                "within_grip": bool(points.grips[i]),
            }

    def text(self, system: System = "si") -> str:
        """Return tables of gears, grades and shifts, and every note, readable in a log."""
        from converter_match.judgement.wheels.text import text_of

        return text_of(self, system)

    def __repr__(self) -> str:
        return self.text()


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _identity(component: Driveline | Machine) -> dict[str, Any]:
    return {
        "id": component.id,
        "name": component.name,
        "source": component.source,
        "fingerprint": component.fingerprint(),
    }


def _steepest(row: GearRow | None, what: str) -> dict[str, Any] | None:
    if row is None:
        return None
    return {
        "grade_percent": plain(getattr(row, f"steepest_{what}"), "percent"),
        "gear": row.gear,
        "drive": row.drive,
        "limited_by": getattr(row, f"{what}_limited_by"),
    }


def _shift(shift: ShiftPoint) -> dict[str, Any]:
    named = {field.name: getattr(shift, field.name) for field in fields(shift)}
    band = named.pop("band")
    for name in ("best_speed", "upshift_speed", "downshift_speed", "needed_hysteresis"):
        named[f"{name}_kmh"] = plain(named.pop(name), "kmh")
    named["effort_kn"] = plain(named.pop("effort"), "kn")
    named["band_percent"] = [plain(grade, "percent") for grade in band] if band else None
    return named
