"""A machine with a motor from rest: time, energy and the winding, at both torques."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.curves import FloatArray
from converter_match.judgement.conditions.air import air_drag_notes, density_around
from converter_match.judgement.conditions.ground import ground_notes
from converter_match.judgement.motor import words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import RATINGS, Rating
from converter_match.judgement.wheels.acceleration import ending_notes
from converter_match.judgement.wheels.headings import MILESTONE
from converter_match.judgement.wheels.run import GearInRun, RunFromRest
from converter_match.notes import Note
from converter_match.physics.heat.winding import permitted, rise_after
from converter_match.physics.wheels.drive_chain import DriveChain, drive_chain
from converter_match.physics.wheels.motion import Method, accelerate
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias
from converter_match.physics.wheels.run_rows import Acceleration
from converter_match.physics.wheels.run_torque import input_torque


@dataclass(frozen=True, kw_only=True)
class Spent:
    """What a run takes, SI units.

    Parameters
    ----------
    energy : float
        Electric [J]; NaN where the motor states no losses.
    oil_heat : float
        In the converter [J].
    warmest_cold, warmest_warm : float
        Highest rise of the winding on the way, from cold and from the warmth of the continuous
        torque, in units of that one.
    """

    energy: float
    oil_heat: float
    warmest_cold: float
    warmest_warm: float


@dataclass(frozen=True, eq=False, kw_only=True)
class MotorAcceleration(RunFromRest):
    """A full-torque run from rest with a motor; what else it holds, at the peak: `RunFromRest`.

    Parameters
    ----------
    drive : MotorDrive
    steady : Acceleration
        The same run with the continuous torque.
    spent : dict of str to Spent
        By the torque.
    """

    drive: MotorDrive
    steady: Acceleration
    spent: dict[Rating, Spent]

    @property
    def titles(self) -> tuple[str, str]:
        """Motor, and what stands between it and the gearbox."""
        return self.drive.setup.motor.name, self.drive.title

    def gears(self) -> list[GearInRun]:
        """Return each gear in order of use."""
        stages = super().gears()
        return [stage._replace(drive="direct") for stage in stages] if self.drive.direct else stages

    def blocks(self) -> tuple[Block, ...]:
        """Return both torques, milestones, gears, and every point of the run at the peak."""
        return (
            self._head(),
            self.drive.setup.origin(),
            *(self._rated(rating) for rating in RATINGS),
            Block(
                "milestones",
                columns=(*MILESTONE, Heading("time_continuous", "time, continuous", "time")),
                rows=tuple(
                    (*row, self.steady.time_to(row[0]) if self.steady.ending != "no-start"
                     else None)
                    for row in self.milestones()
                ),
                rows_key="",
                title="Speed, time and distance with the peak torque" if self.starts else "",
            ),
            self.stages(),
            self.points(),
        )  # fmt: skip

    def _head(self) -> Block:
        drive = self.drive
        plain = (
            ("converter", None if drive.converter is None else drive.converter.id),
            ("reduction", drive.ratio),
            ("driveline", self.driveline.id),
            ("machine", self.machine.id),
            ("surface", self.surface.name),
            ("load", self.load),
            ("ending", self.run.ending),
        )
        said = (
            ("motor", drive.setup.motor.name),
            ("between motor and gearbox", drive.title),
            ("driveline", self.driveline.name),
            ("surface", self.surface.name),
        )
        return Block(
            "",
            title=f"{self.machine.name}, {self.load}, from rest",
            facts=(
                *((Heading(key, ""), value) for key, value in plain),
                *((Heading("", label), value) for label, value in said),
                (Heading("grade", "grade", "grade", "g"), self.grade),
                (Heading("method", "method"), self.method),
                (Heading("to_speed", "to", "velocity"), self.to_speed),
            ),
            below=() if self.starts else (Note("does-not-start", self.no_start),),
        )

    def _rated(self, rating: Rating) -> Block:
        run, spent = self.run if rating == "peak" else self.steady, self.spent[rating]
        goal = self.to_speed
        missing = NoValue("not reached")
        time, way = run.time_to(goal), run.distance_to(goal)
        known: object = NoValue(words.NOT_KNOWN) if np.isnan(spent.energy) else spent.energy
        facts: Facts = (
            (Heading("time", "time", "time"), missing if time is None else time),
            (Heading("distance", "distance", "distance"), missing if way is None else way),
            (Heading("top_speed", "speed reached", "velocity"), float(run.speed.max())),
            (Heading("energy", "energy drawn", "electric_energy", ".3g"), known),
            (Heading("oil_heat", "heat into the oil", "energy"), spent.oil_heat),
            (
                Heading("winding_cold", "winding's rise of that at continuous, from cold", "share"),
                spent.warmest_cold,
            ),
            (Heading("winding_warm", "from continuous warmth", "share"), spent.warmest_warm),
        )
        return Block(rating, title=f"With the {rating} torque", facts=facts)


def motor_acceleration(
    drive: MotorDrive,
    driveline: Driveline,
    machine: Machine,
    surface: Surface,
    *,
    to_speed: float,
    load: Load = "laden",
    grade: float = 0.0,
    method: Method = "quasi-steady",
    gear: str | None = None,
) -> MotorAcceleration:
    """Accelerate a machine with a motor from rest, with its peak and its continuous torque.

    Parameters
    ----------
    drive : MotorDrive
        Behind a converter, or coupled directly.
    driveline, machine, surface : Driveline, Machine, Surface
    to_speed : float
        [m/s].
    load : {"empty", "laden"}
    grade : float
        Rise / run.
    method : {"quasi-steady", "dynamic"}
        The second behind a converter only.
    gear : str, optional
        Highest gear used.

    Raises
    ------
    InputError
        If a number is out of range, or there is no such gear.
    """
    setup = drive.setup
    road = RoadLoad.of(machine, surface, load=load, air_density=density_around(setup.air))
    inertias = Inertias.of(setup.motor, drive.converter, driveline, machine, ratio=drive.ratio)
    runs: dict[Rating, tuple[DriveChain, Acceleration]] = {}
    spent: dict[Rating, Spent] = {}
    for rating in RATINGS:
        chain = drive_chain(drive.shaft(rating), driveline, machine, inertias, road)
        chain = chain if gear is None else chain.limited_to(gear)
        run = accelerate(
            chain,
            inertias,
            road,
            to_speed=to_speed,
            grade=grade,
            shift_time=driveline.shift_time or 0.0,
            method=method,
        )
        runs[rating] = chain, run
        spent[rating] = _spent(drive, run, input_torque(run, chain, inertias, road, grade))
    chain, run = runs["peak"]
    result = MotorAcceleration(
        drive=drive,
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
        steady=runs["continuous"][1],
        spent=spent,
        notes=(),
    )
    notes = [*ending_notes(run, chain, road, grade), *_notes(result)]
    notes += [*drive.notes, *driveline.notes, *machine.notes, *inertias.notes, *chain.notes]
    return replace(result, notes=tuple(dict.fromkeys(notes)))


def _spent(drive: MotorDrive, run: Acceleration, torque: FloatArray) -> Spent:
    """Return what a run takes at the motor's terminals and in its winding."""
    setup = drive.setup
    speed = np.nan_to_num(run.engine_speed) * drive.ratio
    net = torque / (drive.ratio * drive.eta)
    shaft = np.where(run.state >= 0, setup.shaft_torque(net, speed), 0.0)
    electric, steps = setup.electric(shaft, speed), np.diff(run.time)
    square = setup.share(shaft, speed) ** 2
    mean = 0.5 * (square[1:] + square[:-1])
    cold, warm = (rise_after(setup.motor, mean, steps, start=start).max() for start in (0.0, 1.0))
    return Spent(
        energy=float((0.5 * (electric[1:] + electric[:-1]) * steps).sum()),
        oil_heat=float((0.5 * (run.heat[1:] + run.heat[:-1]) * steps).sum()),
        warmest_cold=float(cold),
        warmest_warm=float(warm),
    )


def _notes(result: MotorAcceleration) -> list[Note]:
    drive, machine = result.drive, result.machine
    motor, steady = drive.setup.motor, result.steady
    notes: list[Note] = []
    if result.run.ending == "reached" and steady.ending != "reached":
        top = float(steady.speed.max()) if steady.ending != "no-start" else 0.0
        notes.append(words.note("speed-on-peak-only", speed=top))
    room = permitted(motor, drive.setup.coolant)
    hottest = result.spent["peak"].warmest_cold
    if hottest > room:
        notes.append(words.note("run-overheats-winding", rise=hottest, permitted=room))
    elif result.spent["peak"].warmest_warm > max(room, 1.0) * (1.0 + 1e-9):
        notes.append(words.note("run-from-cold-only"))
    notes += ground_notes(result.surface, machine)
    notes += air_drag_notes(drive.setup.air, machine)
    return notes
