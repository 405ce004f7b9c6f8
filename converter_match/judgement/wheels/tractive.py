"""From a match, a driveline and a machine to a `TractiveResult`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from converter_match.components.driveline import Driveline
from converter_match.components.gear import LockUp
from converter_match.components.machine import Cooler, Load, Machine
from converter_match.components.surface import Surface
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.conditions.air import (
    cooler_around,
    density_around,
    standard_air_share,
    temperature_around,
)
from converter_match.judgement.conditions.outlet import (
    known_oil_in_converter,
)
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.wheels.notes import notes_of
from converter_match.judgement.wheels.result import GearRow, GradeRow, TractiveResult
from converter_match.physics.engine.site_correction import SiteEffect
from converter_match.physics.heat.continuous import (
    conductance_needed,
    heat_on_grades,
    oil_temperature,
)
from converter_match.physics.heat.converter_oil import ConverterOil
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.envelope import envelope
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.shifting import shift_points
from converter_match.physics.wheels.tractive import Equilibria, end_of, equilibria, steepest_start
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints, gear_drives

GRADES = (0.0, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30)
_STEEPEST = 1.0
# Breaking away takes more than rolling, and the ground is known to no better: who starts on less
# than this of a grade does not start (common practice, no source).
LEAST_START = 0.0005


def tractive(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    surface: Surface,
    *,
    load: Load = "laden",
    grades: Iterable[float] = GRADES,
    band: bool = True,
) -> TractiveResult:
    """Carry a match to the wheels of a machine, at full throttle.

    Parameters
    ----------
    match : MatchResult
        From `converter_match.judgement.match.solve.solve`; its site and hydraulic load hold here
        too.
    driveline, machine : Driveline, Machine
    surface : Surface
        Rolling resistance and, where known, traction.
    load : {"laden", "empty"}
    grades : iterable of float
        Rise / run, 0 to 1, climbed in the direction of travel.
    band : bool
        Whether the decisive figures get a band where the converter is an estimate.

    Returns
    -------
    TractiveResult

    Raises
    ------
    InputError
        If a grade is out of range, there is no forward gear, or the data cannot be combined.

    Notes
    -----
    ``F = (T_t - T_drag) i eta / r``, ``v = omega_t r (1 - slip) / i``, and
    ``R = m g (c_r cos a + sin a) + rho c_d A v^2 / 2 + F_drag``; see `physics.wheels.wheels` and
    `physics.wheels.road_load`.
    """
    slopes = checked_grades(grades)
    if not driveline.forward:
        raise InputError("no forward gear", source=driveline.id, field="gear")
    machine.mass(load)
    shaft = TurbineShaft(match.supply, match.converter)
    drives = gear_drives(shaft, driveline, machine)
    density = density_around(match.site)
    loads = tuple(
        RoadLoad.of(
            machine, surface, load=load, air_density=density, direction=drive.gear.direction
        )
        for drive in drives
    )
    outside = temperature_around(match.site)
    cooler = cooler_around(match.site, machine)
    capacity = _capacity(cooler, machine, outside)
    inside, _ = known_oil_in_converter(machine.oil, match.converter)
    oil = _Oil(machine.oil.temperature_limit, cooler, capacity, inside, outside, match.site)
    everywhere = equilibria(drives, loads, np.unique(np.append(slopes, 0.0)))
    asked = np.isin(everywhere.grade, slopes)
    cover = envelope(drives, loads)
    known = _Known(drives, loads, match.engine.rated_speed, match.converter.coupling, capacity)
    gears = tuple(
        _gear_row(i, known, _fastest([i], known, everywhere, 0.0)) for i in range(len(drives))
    )
    ahead = [i for i, drive in enumerate(drives) if drive.gear.direction == "forward"]

    def on_grade(grade: float) -> GradeRow:
        row = _fastest(ahead, known, everywhere, grade)
        return _with_oil(row, oil)

    others = match.alternatives if band else ()
    result = TractiveResult(
        match=match,
        driveline=driveline,
        machine=machine,
        load=load,
        surface=surface,
        drives=drives,
        road_loads=loads,
        gears=gears,
        grades=tuple(on_grade(float(grade)) for grade in slopes),
        points=everywhere.picked(asked),
        envelope=cover,
        gradeability=np.minimum(
            loads[ahead[0]].grade_held(cover.effort, cover.speed),
            loads[ahead[0]].steepest_by_adhesion(),
        ),
        drawbar=np.asarray(cover.force - loads[ahead[0]].resistance(0.0, cover.speed)),
        shifts=shift_points(drives, loads, driveline),
        top_speed=on_grade(0.0),
        steepest_start=_steepest(gears, "steepest_start"),
        steepest_cooled=_steepest(gears, "steepest_cooled"),
        cooler_capacity=capacity,
        air_temperature=outside,
        notes=(),
        alternatives=tuple(
            tractive(other, driveline, machine, surface, load=load, grades=slopes)
            for other in others
        ),
    )
    return replace(result, notes=notes_of(result))


def checked_grades(grades: Iterable[float]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return grades (rise / run) as an array, without repeats, rising.

    Raises
    ------
    InputError
        If there is none, or one is below 0 or above 100 %.
    """
    slopes = np.unique(np.asarray(tuple(grades), dtype=np.float64))
    if not slopes.size:
        raise InputError("no grades", field="grades", expected="at least one")
    for grade in slopes:
        if not 0.0 <= grade <= _STEEPEST:
            raise InputError(
                "out of range",
                field="grades",
                found=f"{100 * grade:g} %",
                expected="0 to 100 %",
                hint="downhill is a matter of retarding, not of pulling" if grade < 0 else None,
            )
    return slopes


def fastest(
    drives: Sequence[GearDrive], loads: Sequence[RoadLoad], grade: float, rated_speed: float
) -> GradeRow:
    """Return the fastest state on a grade that any of some drives can stay in.

    Parameters
    ----------
    drives : sequence of GearDrive
        At least one.
    loads : sequence of RoadLoad
        One for each drive.
    grade : float
        Rise / run.
    rated_speed : float
        Of the engine, above which it is the governor that limits [rad/s].
    """
    known = _Known(tuple(drives), tuple(loads), rated_speed, None, None)
    points = equilibria(drives, loads, [grade])
    return _fastest(list(range(len(drives))), known, points, grade)


def with_lock_up(driveline: Driveline, names: Iterable[str]) -> Driveline:
    """Return a driveline in which exactly the named gears lock up.

    A gear keeps the rule that it has; one that had none locks up where that pulls no less.

    Raises
    ------
    InputError
        If there is no gear of a name.
    """
    chosen = {driveline.gear(name).name for name in names}
    gears = tuple(
        gear.replace(
            lock_up=(gear.lock_up if gear.lock_up.allowed else LockUp(allowed=True))
            if gear.name in chosen
            else LockUp()
        )
        for gear in driveline.gears
    )
    return driveline.replace(gears=gears)


@dataclass(frozen=True)
class _Known:
    """What every row is made from."""

    drives: tuple[GearDrive, ...]
    loads: tuple[RoadLoad, ...]
    rated_speed: float
    coupling: float | None
    capacity: float | None


def _capacity(cooler: Cooler | None, machine: Machine, air_temperature: float) -> float | None:
    limit = machine.oil.temperature_limit
    if cooler is None or limit is None:
        return None
    return float(cooler.heat_at(limit - air_temperature))


def _fastest(which: list[int], known: _Known, points: Equilibria, grade: float) -> GradeRow:
    """Return the fastest state on a grade that any of some drives can stay in."""
    first = known.loads[which[0]]
    best = GradeRow(grade=grade, resistance=float(first.resistance(grade, 0.0)))
    reasons = set()
    for i in which:
        drive, load = known.drives[i], known.loads[i]
        mine = np.flatnonzero((points.drive == i) & (points.grade == grade))
        held = mine[points.held[mine]]
        wheels: WheelPoints = points.wheels
        if held.size:
            at, limited = int(held[np.argmax(points.speed[held])]), "balance"
        else:
            comes = points.stable & points.risen & points.active
            slips = bool(np.any(comes[mine] & ~points.grips[mine]))
            wheels = drive.curve()
            at, limited = end_of(drive, load, grade, slips)
            if at < 0:
                reasons.add(limited)
                continue
        speed = float(wheels.road_speed(drive.machine, load.adhesion(grade))[at])
        engine: float | None = float(wheels.turbine.engine_speed[at])
        heat: float | None = float(wheels.oil_heat[at])
        own: float | None = float(wheels.turbine.heat[at])
        if limited == "balance" and float(wheels.turbine.engine_speed[at]) > known.rated_speed:
            limited = "governor"
        ceiling = drive.driveline.speed_limit
        if ceiling is not None and speed > ceiling:
            # The limiter holds it at part throttle: engine speed and heat of full throttle do not
            # apply, so none are given.
            speed, limited, engine, heat, own = ceiling, "limiter", None, None, None
        if best.speed is None or speed > best.speed:
            best = GradeRow(
                grade=grade,
                resistance=float(load.resistance(grade, speed)),
                gear=drive.gear.name,
                drive=drive.drive,
                speed=speed,
                engine_speed=engine,
                heat=heat,
                converter_heat=own,
                limited_by=limited,
            )
    if best.speed is None:
        best = replace(best, limited_by="grip" if "grip" in reasons else "too weak")
    return best


def _gear_row(index: int, known: _Known, top: GradeRow) -> GearRow:
    drive, load = known.drives[index], known.loads[index]
    curve = drive.curve()
    open_drive = drive.drive == "converter"
    grip = float(load.adhesion(0.0))
    speed = curve.road_speed(drive.machine, grip)
    active = np.asarray(drive.active(curve.turbine.turbine_speed))
    stall = open_drive and float(curve.turbine.speed_ratio[0]) == 0.0
    at_coupling = None
    if open_drive and known.coupling is not None and known.coupling <= 1.0:
        found = drive.at(known.coupling)
        # There may be no match there: an engine too weak to come up to it.
        at_coupling = found if np.isfinite(found.turbine.engine_speed) else None
    efficiency = np.where(active, np.nan_to_num(curve.efficiency, nan=-1.0), -1.0)
    best = int(np.argmax(efficiency))
    pull = np.where(active, np.minimum(curve.force, grip) - load.resistance(0.0, speed), -np.inf)
    grade, by_grip = None, False
    if stall:
        at_rest, gives_way = steepest_start(drive, load)
        grade, by_grip = float(at_rest), bool(gives_way)
    starts = grade is not None and grade >= LEAST_START
    heat = heat_on_grades(drive, load, known.capacity)
    cooled = heat.steepest_cooled
    return GearRow(
        gear=drive.gear.name,
        direction=drive.gear.direction,
        drive=drive.drive,
        overall_ratio=drive.driveline.overall_ratio(drive.gear),
        stall_effort=float(curve.force[0]) if stall else None,
        stall_heat=float(curve.oil_heat[0]) if stall else None,
        stall_slips=stall and float(curve.force[0]) > grip,
        coupling_effort=None if at_coupling is None else _value(at_coupling.force),
        coupling_speed=(
            None
            if at_coupling is None
            else _value(at_coupling.road_speed(drive.machine, load.adhesion(0.0)))
        ),
        coupling_heat=None if at_coupling is None else _value(at_coupling.oil_heat),
        best_efficiency=float(efficiency[best]) if efficiency[best] > 0.0 else None,
        best_efficiency_speed=float(speed[best]) if efficiency[best] > 0.0 else None,
        greatest_drawbar=float(pull.max()) if active.any() else None,
        top_speed=top.speed,
        top_engine_speed=top.engine_speed,
        top_heat=top.heat,
        top_limited_by=top.limited_by,
        steepest_start=grade if starts else None,
        start_limited_by=_start_limit(grade, by_grip),
        # What the cooler carries only downhill, it does not carry.
        steepest_cooled=cooled if cooled is not None and cooled >= 0.0 else None,
        cooled_limited_by=heat.limited_by,
    )


def _start_limit(grade: float | None, by_grip: bool) -> str:
    """Return what sets the steepest grade to start on; a gear may not start even on the level."""
    if grade is None:
        return ""
    if grade < LEAST_START:
        return "cannot start"
    return "grip" if by_grip else "effort"


def _value(array: FloatArray) -> float | None:
    return float(array) if np.isfinite(array) else None


@dataclass(frozen=True)
class _Oil:
    """What is known of the oil and what cools it."""

    limit: float | None
    cooler: Cooler | None
    capacity: float | None
    inside: ConverterOil | None
    air_temperature: float
    site: SiteEffect


def _with_oil(row: GradeRow, oil: _Oil) -> GradeRow:
    heat, own = row.heat, row.converter_heat
    if heat is None or own is None:
        return row
    if oil.limit is not None and oil.limit > oil.air_temperature:
        needed = conductance_needed(heat, oil.limit, oil.air_temperature)
        row = replace(row, cooler_needed=float(needed) / standard_air_share(oil.site))
    if oil.cooler is None:
        return row
    settled = _value(oil_temperature(oil.cooler, np.asarray(heat), oil.air_temperature))
    cooled = None if oil.capacity is None else heat <= oil.capacity
    outlet = None
    if settled is not None and oil.inside is not None:
        outlet = settled + float(oil.inside.steady_rise(own))
    return replace(row, oil_temperature=settled, cooled=cooled, outlet_temperature=outlet)


def _steepest(rows: tuple[GearRow, ...], name: str) -> GearRow | None:
    """Return the forward row with the greatest value, the first of equals."""
    known = [row for row in rows if row.direction == "forward" and getattr(row, name) is not None]
    return max(known, key=lambda row: float(getattr(row, name)), default=None)
