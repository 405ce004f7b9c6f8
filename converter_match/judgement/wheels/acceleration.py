"""Full-throttle acceleration of a machine: milestones, gears, and why it ends where it ends."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.answer.noted import Noted, note_lines
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.judgement.conditions.air import air_drag_notes, density_around
from converter_match.judgement.conditions.ground import ground_notes
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drive_chain import DriveChain, drive_chain
from converter_match.physics.wheels.motion import Acceleration, Method, accelerate
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias
from converter_match.units import System, from_si, note_plain, quantity_note, show, to_si, trimmed

if TYPE_CHECKING:
    import pandas as pd

_MARKS = 8


@dataclass(frozen=True, eq=False, kw_only=True)
class AccelerationResult(Noted):
    """A full-throttle run from rest.

    Parameters
    ----------
    match : MatchResult
    driveline, machine, surface
    load : {"empty", "laden"}
    grade : float
        Rise / run.
    to_speed : float
        Asked for [m/s].
    method : str
    road : RoadLoad
    chain : DriveChain
    run : Acceleration
    notes : tuple of Note
    """

    match: MatchResult
    driveline: Driveline
    machine: Machine
    surface: Surface
    load: Load
    grade: float
    to_speed: float
    method: Method
    road: RoadLoad
    chain: DriveChain
    run: Acceleration
    notes: tuple[Note, ...]

    @property
    def fails(self) -> bool:
        """Whether the speed asked for is not reached."""
        return self.run.ending != "reached"

    @property
    def no_start(self) -> str:
        """What keeps the machine from starting; empty where it starts."""
        if self.run.ending != "no-start":
            return ""
        effort = float(self.chain.force[0, 0])
        need = float(self.road.resistance(self.grade, 0.0))
        return f"does not start: {'too little grip' if effort > need else 'too weak'}"

    def milestones(self) -> list[tuple[float, float, float]]:
        """Return (speed [m/s], time [s], distance [m]) in even steps up to the speed reached.

        Empty where the machine does not start, as are the `gears`.
        """
        if self.no_start:
            return []
        top = min(self.to_speed, float(self.run.speed.max()))
        found = []
        for speed in np.linspace(0.0, top, _MARKS + 1)[1:]:
            time, way = self.run.time_to(float(speed)), self.run.distance_to(float(speed))
            if time is not None and way is not None:
                found.append((float(speed), time, way))
        return found

    def gears(self) -> list[dict[str, Any]]:
        """Return each state in order of use, with where it begins; units in the keys."""
        if self.no_start:
            return []
        state = self.run.state
        starts = [0, *(np.flatnonzero(state[1:] != state[:-1]) + 1), state.size]
        rows = []
        for first, end in pairwise(int(k) for k in starts):
            if state[first] < 0:
                continue
            drive = self.chain.drives[state[first]]
            last = end - 1
            rows.append(
                {
                    "gear": drive.gear.name,
                    "drive": drive.drive,
                    "from_speed_kmh": from_si(float(self.run.speed[first]), "km/h", "velocity"),
                    "to_speed_kmh": from_si(float(self.run.speed[last]), "km/h", "velocity"),
                    "time_s": float(self.run.time[last] - self.run.time[first]),
                    "distance_m": float(self.run.distance[last] - self.run.distance[first]),
                }
            )
        return rows

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data that JSON can carry."""
        return {
            "engine": self.match.engine.id,
            "converter": self.match.converter.id,
            "driveline": self.driveline.id,
            "machine": self.machine.id,
            "surface": self.surface.name,
            "load": self.load,
            "grade_percent": 100.0 * self.grade,
            "method": self.method,
            "ending": self.run.ending,
            "to_speed_kmh": from_si(self.to_speed, "km/h", "velocity"),
            "time_s": self.run.time_to(self.to_speed),
            "distance_m": self.run.distance_to(self.to_speed),
            "milestones": [
                {"speed_kmh": from_si(v, "km/h", "velocity"), "time_s": t, "distance_m": x}
                for v, t, x in self.milestones()
            ],
            "gears": self.gears(),
            "warnings": [note_plain(note) for note in self.warnings],
            "assumptions": [note_plain(note) for note in self.assumptions],
        }

    def to_frame(self) -> pd.DataFrame:
        """Return the run as a pandas table."""
        import pandas as pd

        return pd.DataFrame(
            {
                "time_s": self.run.time,
                "speed_kmh": from_si(self.run.speed, "km/h", "velocity"),
                "distance_m": self.run.distance,
                "engine_speed_rpm": from_si(self.run.engine_speed, "rpm", "angular_speed"),
                "gear": [
                    "shift" if k < 0 else self.chain.drives[k].gear.name for k in self.run.state
                ],
            }
        )

    def text(self, system: System = "si") -> str:
        """Return milestones, gears and every note, readable in a log."""
        speed_unit = show(0.0, "velocity", system)[1]
        long, scale = ("ft", to_si(1.0, "ft", "length")) if system == "us" else ("m", 1.0)
        lines = [
            f"{self.match.engine.name}  +  {self.match.converter.name}",
            f"{self.machine.name}, {self.load}; {self.surface.name}, {100 * self.grade:g} %",
            f"full throttle from rest, {self.method}",
            "",
        ]
        if self.no_start:
            return "\n".join([*lines, self.no_start, *note_lines(self.notes, system)])
        lines += [
            f"{speed_unit:>8}  {'s':>8}  {long:>8}",
        ]
        for speed, time, way in self.milestones():
            shown = trimmed(show(speed, "velocity", system)[0])
            lines.append(f"{shown:8.1f}  {time:8.1f}  {way / scale:8.0f}")
        lines.append("")
        for row in self.gears():
            low, high = (
                show(row[key] / 3.6, "velocity", system)[0]
                for key in ("from_speed_kmh", "to_speed_kmh")
            )
            lines.append(
                f"gear {row['gear']:>3} {row['drive']:<9} {low:5.1f} .. {high:5.1f} {speed_unit}"
                f"  {row['time_s']:6.1f} s"
            )
        shifting = float(self.run.time[-1]) - sum(row["time_s"] for row in self.gears())
        if shifting > 0.05:
            lines.append(f"{'shifts, without drive':<36}  {shifting:6.1f} s")
        lines += note_lines(self.notes, system)
        return "\n".join(lines)

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        return f"<pre>{escape(self.text())}</pre>"


def acceleration(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    surface: Surface,
    *,
    to_speed: float,
    load: Load = "laden",
    grade: float = 0.0,
    method: Method = "quasi-steady",
    gear: str | None = None,
) -> AccelerationResult:
    """Accelerate a machine from rest at full throttle.

    Parameters
    ----------
    match : MatchResult
    driveline, machine, surface : Driveline, Machine, Surface
    to_speed : float
        [m/s].
    load : {"empty", "laden"}
    grade : float
        Rise / run.
    method : {"quasi-steady", "dynamic"}
    gear : str, optional
        Highest gear used.

    Raises
    ------
    InputError
        If a number is out of range, or there is no such gear.
    """
    density = density_around(match.site)
    road = RoadLoad.of(machine, surface, load=load, air_density=density)
    inertias = Inertias.of(match.engine, match.converter, driveline, machine)
    shaft = TurbineShaft(match.supply, match.converter)
    chain = drive_chain(shaft, driveline, machine, inertias, road)
    if gear is not None:
        chain = chain.limited_to(gear)
    run = accelerate(
        chain,
        inertias,
        road,
        to_speed=to_speed,
        grade=grade,
        shift_time=driveline.shift_time or 0.0,
        method=method,
    )
    carried = (
        *_ending_notes(run, road, grade),
        *ground_notes(surface, machine),
        *air_drag_notes(match.site, machine),
        *match.engine.notes,
        *match.converter.notes,
        *match.site.notes,
        *driveline.notes,
        *machine.notes,
        *inertias.notes,
        *chain.notes,
    )
    return AccelerationResult(
        match=match,
        driveline=driveline,
        machine=machine,
        surface=surface,
        load=load,
        grade=grade,
        to_speed=to_speed,
        method=method,
        road=road,
        chain=chain,
        run=run,
        notes=tuple(dict.fromkeys(carried)),
    )


def _ending_notes(run: Acceleration, road: RoadLoad, grade: float) -> list[Note]:
    top = float(run.speed.max())
    need = float(road.resistance(grade, top))
    speed = (top, "velocity", ".1f")
    if run.ending == "no-start":
        return [
            quantity_note(
                "does-not-start",
                f"The machine does not start on {100 * grade:g} %: it would need {{need}}, and "
                "the engine or the ground gives less.",
                "limit",
                need=(need, "force", ".1f"),
            )
        ]
    if run.ending == "balance":
        return [
            quantity_note(
                "speed-not-reached",
                "The speed asked for is never reached: at {speed} the effort is down to the "
                "resistance, {need}.",
                "limit",
                speed=speed,
                need=(need, "force", ".1f"),
            )
        ]
    if run.ending == "end-of-gears":
        return [
            quantity_note(
                "speed-not-reached",
                "The speed asked for is never reached: the last gear that can be used ends at "
                "{speed}.",
                "limit",
                speed=speed,
            )
        ]
    return []
