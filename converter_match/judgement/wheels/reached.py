"""What a machine comes to from rest on a long grade, beside the fastest that it could hold there.

The fastest gear on a grade is one in which effort and resistance balance; whether the machine gets
into it is for the gearbox. It starts in its lowest gear and shifts as the driveline's file says, or
where that pays: the same way as on a haul route, followed until nothing changes any more.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.route import Route
from converter_match.components.surface import Surface
from converter_match.judgement.conditions.air import density_around, temperature_around
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.wheels import words
from converter_match.judgement.wheels.from_rest import ReachedRow
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.judgement.wheels.tractive import GRADES, tractive
from converter_match.notes import Note
from converter_match.physics.haul.route import hauler, run_route

# Long enough for any of these machines to settle [m], and where it is looked at.
_LENGTH, _SETTLED = 6000.0, 0.75


def tractive_from_rest(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    surface: Surface,
    *,
    load: Load = "laden",
    grades: Iterable[float] = GRADES,
) -> TractiveResult:
    """Carry a match to the wheels, and say what is reached from rest; raises as `tractive`.

    Parameters
    ----------
    match, driveline, machine, surface, load, grades
        As for `tractive`.
    """
    return with_reached(tractive(match, driveline, machine, surface, load=load, grades=grades))


def with_reached(result: TractiveResult) -> TractiveResult:
    """Return a result with what the machine comes to from rest, and a note where that is less.

    Parameters
    ----------
    result : TractiveResult
    """
    rows = _reached(result)
    notes = [_note(row) for row in rows if row.falls_short]
    return replace(result, reached=rows, notes=(*result.notes, *notes))


def _reached(result: TractiveResult) -> tuple[ReachedRow, ...]:
    match = result.match
    road = result.road_loads[0]
    ready = hauler(
        match.engine,
        match.converter,
        result.driveline,
        result.machine,
        match.supply,
        road,
        air_density=density_around(match.site),
        air_temperature=temperature_around(match.site),
        hydraulic_torque=match.hydraulic_torque,
    )
    rows = []
    for row in result.grades:
        route = Route(
            id="grade",
            name="a long grade",
            source="for the gear that is reached from rest",
            length=np.array([_LENGTH]),
            grade=np.array([row.grade]),
            surface=(result.surface,),
            speed_limit=np.array([np.inf]),
            load=(result.load,),
            stop_time=np.array([0.0]),
        )
        profile = run_route(ready, route).profile
        gear = drive = speed = None
        if int(profile.stuck[0]) < 0:
            at = int(np.searchsorted(profile.distance[:, 0], _SETTLED * _LENGTH)) - 1
            used = ready.chain.drives[int(profile.state[at, 0])]
            gear, drive = used.gear.name, used.drive
            speed = float(profile.speed[at, 0])
        rows.append(ReachedRow(row.grade, gear, drive, speed, row.gear, row.drive, row.speed))
    return tuple(rows)


def _note(row: ReachedRow) -> Note:
    fastest = row.fastest_speed or 0.0
    how = _named(row.fastest_gear, row.fastest_drive)
    if row.speed is None:
        return words.note("grade-not-started", grade=row.grade, fastest=fastest, how=how)
    return words.note(
        "grade-not-reached-from-rest",
        grade=row.grade,
        fastest=fastest,
        how=how,
        speed=row.speed,
        gear=_named(row.gear, row.drive),
        what=_what_to_do(row),
    )


def _named(gear: str | None, drive: str | None) -> str:
    return f"{gear}, locked up" if drive == "lock-up" else str(gear)


def _what_to_do(row: ReachedRow) -> str:
    """Return what the machine must do to get to the faster state, in words."""
    if (row.gear, row.drive) == (row.fastest_gear, row.fastest_drive):
        return words.MORE_SPEED
    if row.gear == row.fastest_gear:
        return words.LOCK_UP_CLOSED if row.fastest_drive == "lock-up" else words.LOCK_UP_OPEN
    closed = f", {words.AND_LOCKED}" if row.fastest_drive == "lock-up" else ""
    return words.GEAR_HELD.format(gear=row.fastest_gear) + closed
