"""A motor at the wheels: effort and grades at both torques, and for how long."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.judgement.conditions.air import (
    air_drag_notes,
    cooler_air_notes,
    cooler_around,
    density_around,
    temperature_around,
)
from converter_match.judgement.conditions.ground import ground_notes
from converter_match.judgement.motor import words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import RATINGS, Rating
from converter_match.judgement.motor.tractive_result import (
    MotorGearRow,
    MotorGradeRow,
    MotorTractive,
)
from converter_match.judgement.wheels import words as wheel_words
from converter_match.judgement.wheels.result import GradeRow
from converter_match.judgement.wheels.tractive import (
    GRADES,
    LEAST_START,
    checked_grades,
    fastest,
)
from converter_match.notes import Note
from converter_match.physics.heat.continuous import heat_on_grades
from converter_match.physics.wheels.envelope import envelope
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import steepest_start
from converter_match.physics.wheels.wheels import GearDrive


@dataclass(frozen=True, eq=False)
class _Known:
    """What every row is made from."""

    drive: MotorDrive
    gears: dict[Rating, tuple[GearDrive, ...]]
    loads: tuple[RoadLoad, ...]
    capacity: float | None

    @property
    def ahead(self) -> list[int]:
        """The drives of the forward gears."""
        gears = self.gears["peak"]
        return [i for i, gear in enumerate(gears) if gear.gear.direction == "forward"]


def motor_tractive(
    drive: MotorDrive,
    driveline: Driveline,
    machine: Machine,
    surface: Surface,
    *,
    load: Load = "laden",
    grades: Iterable[float] = GRADES,
) -> MotorTractive:
    """Carry a motor, behind a converter or coupled directly, to the wheels of a machine.

    Parameters
    ----------
    drive : MotorDrive
    driveline, machine : Driveline, Machine
    surface : Surface
    load : {"laden", "empty"}
    grades : iterable of float
        Rise / run, 0 to 1.

    Returns
    -------
    MotorTractive

    Raises
    ------
    InputError
        If a grade is out of range, there is no forward gear, or the data cannot be combined.

    Notes
    -----
    The same equations as for an engine (`judgement.wheels.tractive`), once with the peak torque,
    which the winding stands for a time, and once with the continuous torque.
    """
    slopes = checked_grades(grades)
    if not driveline.forward:
        raise InputError("no forward gear", source=driveline.id, field="gear")
    air = drive.setup.air
    density = density_around(air)
    gears = {rating: drive.gears(rating, driveline, machine) for rating in RATINGS}
    _same_states(gears, driveline)
    loads = tuple(
        RoadLoad.of(machine, surface, load=load, air_density=density, direction=g.gear.direction)
        for g in gears["peak"]
    )
    cooler, outside = cooler_around(air, machine), temperature_around(air)
    limit = machine.oil.temperature_limit
    capacity = None
    if cooler is not None and limit is not None:
        capacity = float(cooler.heat_at(limit - outside))
    known = _Known(drive, gears, loads, capacity)
    rows = tuple(_gear_row(known, index) for index in range(len(loads)))
    result = MotorTractive(
        drive=drive,
        driveline=driveline,
        machine=machine,
        load=load,
        surface=surface,
        gears=rows,
        grades=tuple(_grade_row(known, float(grade)) for grade in slopes),
        road_loads=loads,
        envelopes={rating: envelope(gears[rating], loads) for rating in RATINGS},
        cooler_capacity=capacity,
        air_temperature=outside,
        notes=(),
    )
    return result.with_notes(_notes(result))


def _same_states(gears: dict[Rating, tuple[GearDrive, ...]], driveline: Driveline) -> None:
    """Refuse a lock-up rule that gives the two torques different states."""
    states = [[(g.gear.name, g.drive) for g in gears[rating]] for rating in RATINGS]
    if states[0] != states[1]:
        raise InputError(
            "a gear locks up with one of the motor's torques and not with the other",
            source=driveline.id,
            field="gear.lock_up",
            expected="a rule by turbine speed, or no lock-up (--gear-lockup none)",
        )


def _gear_row(known: _Known, index: int) -> MotorGearRow:
    setup, load = known.drive.setup, known.loads[index]
    peak, steady = (known.gears[rating][index] for rating in RATINGS)
    # Locked up behind a converter a machine does not start; coupled directly it does.
    starts = peak.drive == "converter" or known.drive.direct
    values: dict[str, float | None] = {}
    by_grip, held, heat = False, None, None
    for name, gear in (("peak", peak), ("continuous", steady)):
        effort = grade = None
        if starts:
            at_rest = gear.at(0.0)
            effort = float(at_rest.force)
            steepest, gives_way = steepest_start(gear, load)
            grade = float(steepest) if float(steepest) >= LEAST_START else None
            if name == "peak":
                by_grip, heat = bool(gives_way), float(at_rest.oil_heat)
                speed, torque = known.drive.at_motor(at_rest.turbine)
                held = float(setup.held(setup.share(torque, speed)))
        values[f"effort_{name}"], values[f"start_{name}"] = effort, grade
        top = _fastest(known, [index], name, 0.0)  # type: ignore[arg-type]
        values[f"top_{name}"] = top.speed
    ratio = peak.driveline.overall_ratio(peak.gear) * known.drive.ratio
    return MotorGearRow(
        gear=peak.gear.name,
        direction=peak.gear.direction,
        drive="direct" if known.drive.direct else peak.drive,
        overall_ratio=ratio,
        start_by_grip=by_grip,
        rest_held=held,
        rest_heat=heat,
        steepest_cooled=heat_on_grades(steady, load, known.capacity).steepest_cooled,
        **values,
    )


def _fastest(known: _Known, which: list[int], rating: Rating, grade: float) -> GradeRow:
    drives = [known.gears[rating][i] for i in which]
    loads = [known.loads[i] for i in which]
    top = known.drive.setup.top_speed / known.drive.ratio
    return fastest(drives, loads, grade, top * (1.0 - 1e-9))


def _grade_row(known: _Known, grade: float) -> MotorGradeRow:
    drive, setup = known.drive, known.drive.setup
    peak = _fastest(known, known.ahead, "peak", grade)
    steady = _fastest(known, known.ahead, "continuous", grade)
    torque = share = held = motor_speed = electric = None
    if peak.engine_speed is not None:
        supply = drive.shaft("peak").supply
        net = np.asarray(supply.torque(peak.engine_speed)) / (drive.ratio * drive.eta)
        speed = np.asarray(peak.engine_speed * drive.ratio)
        shaft = setup.shaft_torque(net, speed)
        motor_speed, torque = float(speed), float(shaft)
        share = float(setup.share(shaft, speed))
        held, electric = float(setup.held(np.asarray(share))), float(setup.electric(shaft, speed))
    cooled = None
    if steady.heat is not None and known.capacity is not None:
        cooled = steady.heat <= known.capacity
    return MotorGradeRow(
        grade=grade,
        resistance=peak.resistance,
        gear=peak.gear,
        speed=peak.speed,
        limited_by="speed limit" if peak.limited_by == "governor" else peak.limited_by,
        motor_speed=motor_speed,
        motor_torque=torque,
        share=share,
        held=held,
        electric_power=electric,
        heat=peak.heat,
        continuous_gear=steady.gear,
        continuous_speed=steady.speed,
        continuous_heat=steady.heat,
        cooled=cooled,
    )


def _notes(result: MotorTractive) -> list[Note]:
    drive, limits = result.drive, result.driveline.limits
    curve = drive.shaft("peak").curve("lock-up" if drive.direct else "converter")
    notes = [*drive.notes, *result.driveline.notes, *result.machine.notes]
    notes += ground_notes(result.surface, result.machine)
    notes += air_drag_notes(drive.setup.air, result.machine)
    notes += cooler_air_notes(drive.setup.air, result.machine)
    for code, limit, values in (
        ("limit-turbine-torque", limits.turbine_torque, curve.turbine_torque),
        ("limit-input-power", limits.input_power, curve.output_power),
        ("limit-turbine-speed", limits.turbine_speed, curve.turbine_speed),
    ):
        highest = float(np.max(values))
        if limit is not None and highest > limit:
            notes.append(wheel_words.note(code, highest=highest, limit=limit))
    for why, code in (("too weak", "cannot-climb-too-weak"), ("grip", "cannot-climb-grip")):
        failed = [row.grade for row in result.grades if row.limited_by == why]
        if failed:
            listed = ", ".join(f"{100 * grade:g} %" for grade in failed)
            notes.append(wheel_words.note(code, grades=listed))
    short = [row for row in result.grades if row.speed is not None and row.continuous_speed is None]
    if short:
        listed = ", ".join(f"{100 * row.grade:g} %" for row in short)
        times = [row.held for row in short if row.held is not None]
        notes.append(words.note("grade-on-peak-only", grades=listed, time=min(times, default=0.0)))
    hot = [row for row in result.grades if row.cooled is False]
    if hot:
        listed = ", ".join(f"{100 * row.grade:g} %" for row in hot)
        capacity = result.cooler_capacity or 0.0
        notes.append(words.note("oil-hot-on-continuous", grades=listed, capacity=capacity))
    if result.cooler_capacity is None:
        lacking = "cooler" if result.machine.cooler is None else "oil temperature limit"
        notes.append(wheel_words.note("cooling-not-known", missing=lacking))
    notes += [wheel_words.note("grades-and-brakes"), words.note("motor-towing")]
    notes.append(words.note("rest-on-the-winding" if drive.direct else "rest-on-the-oil"))
    return notes
