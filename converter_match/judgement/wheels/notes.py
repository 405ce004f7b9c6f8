"""What a reader of a `TractiveResult` has to know: assumptions, limits, warnings, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from converter_match.judgement.conditions.air import air_drag_notes, cooler_air_notes
from converter_match.judgement.conditions.ground import ground_notes
from converter_match.judgement.conditions.outlet import (
    OUTLET_WARNS,
    cooler_at_bulk,
    known_oil_in_converter,
    outlet_levels,
)
from converter_match.judgement.wheels import words
from converter_match.notes import Note

if TYPE_CHECKING:
    from converter_match.judgement.wheels.result import TractiveResult

CAUTIONS = tuple(
    words.note(code) for code in ("grades-and-brakes", "towing-needs-care", "stall-effort-is-short")
)


def notes_of(result: TractiveResult) -> tuple[Note, ...]:
    """Return every note on a result, those of its parts first."""
    parts = (
        *result.match.notes,
        *result.driveline.notes,
        *result.machine.notes,
        *result.drives[0].shaft.notes,
    )
    own = (
        *ground_notes(result.surface, result.machine),
        *air_drag_notes(result.match.site, result.machine),
        *cooler_air_notes(result.match.site, result.machine),
        *_limits(result),
        *_grip(result),
        *_grades(result),
        *_slowed_down(result),
        *_cooling(result),
        *_shifting(result),
        *CAUTIONS,
    )
    return tuple(dict.fromkeys((*parts, *own)))


def _limits(result: TractiveResult) -> list[Note]:
    limits, shaft = result.driveline.limits, result.drives[0].shaft
    open_curve = shaft.converter_drive
    checks = [
        ("limit-turbine-torque", limits.turbine_torque, open_curve.turbine_torque),
        ("limit-input-power", limits.input_power, open_curve.output_power),
    ]
    if any(drive.drive == "lock-up" for drive in result.drives):
        locked = shaft.lock_up_drive
        checks.append(("limit-lock-up-torque", limits.lock_up_torque, locked.turbine_torque))
    checks.append(("limit-turbine-speed", limits.turbine_speed, open_curve.turbine_speed))
    return [
        words.note(code, highest=float(np.max(values)), limit=limit)
        for code, limit, values in checks
        if limit is not None and float(np.max(values)) > limit
    ]


def _grip(result: TractiveResult) -> list[Note]:
    spinning = [row.gear for row in result.gears if row.stall_slips]
    return [words.note("wheels-slip-before-stall", gears=", ".join(spinning))] if spinning else []


def _grades(result: TractiveResult) -> list[Note]:
    notes = []
    for why, code in (("too weak", "cannot-climb-too-weak"), ("grip", "cannot-climb-grip")):
        failed = [row.grade for row in result.grades if row.limited_by == why]
        if failed:
            notes.append(words.note(code, grades=", ".join(f"{100 * x:g} %" for x in failed)))
    if any(row.limited_by == "data end" for row in result.grades):
        notes.append(words.note("speed-at-data-end"))
    return notes


def _slowed_down(result: TractiveResult) -> list[Note]:
    """Say what the machine holds on a grade only where it comes to it with more speed."""
    points, notes = result.points, []
    for row in result.grades:
        more = points.could_be_held & ~points.held & (points.grade == row.grade)
        more &= points.speed > (row.speed or 0.0)
        for k in np.flatnonzero(more):
            drive = result.drives[points.drive[k]]
            if drive.gear.direction == "forward":
                notes.append(
                    words.note(
                        "held-only-slowed-down",
                        grade=row.grade,
                        speed=float(points.speed[k]),
                        how=drive.gear.name,
                        engine=float(points.wheels.turbine.engine_speed[k]),
                    )
                )
    return notes


def _cooling(result: TractiveResult) -> list[Note]:
    cooler, limit = result.machine.cooler, result.machine.oil.temperature_limit
    if cooler is None or limit is None:
        missing = "cooler" if cooler is None else "oil temperature limit"
        return [words.note("cooling-not-known", missing=missing)]
    inside, assumed = known_oil_in_converter(result.machine.oil, result.match.converter)
    # The outlet settles at the same temperature whatever stands in the converter.
    notes = [*assumed] if inside is None else [outlet_levels(), cooler_at_bulk()]
    hot_outlet = [
        row.grade
        for row in result.grades
        if row.outlet_temperature is not None and row.outlet_temperature > OUTLET_WARNS
    ]
    if hot_outlet:
        listed = ", ".join(f"{100 * grade:g} %" for grade in hot_outlet)
        notes.append(words.note("outlet-hot", grades=listed, warns=OUTLET_WARNS))
    notes += [words.note("oil-heat-of-converter-and-gearbox")]
    if not cooler.covers(limit - result.air_temperature):
        notes.append(words.note("cooler-curve-short"))
    if limit <= result.air_temperature:
        notes.append(words.note("no-cooling"))
    hot = [row for row in result.grades if row.cooled is False]
    if hot:
        listed = ", ".join(f"{100 * row.grade:g} % (gear {row.gear})" for row in hot)
        capacity = result.cooler_capacity or 0.0
        notes.append(words.note("cooler-too-small", grades=listed, capacity=capacity))
    return notes


def _shifting(result: TractiveResult) -> list[Note]:
    notes = []
    for shift in result.shifts:
        pair = f"{shift.lower} and {shift.upper}"
        if shift.hunts and shift.needed_hysteresis is not None:
            notes.append(words.note("shift-hunting", gears=pair, needed=shift.needed_hysteresis))
        elif shift.hunts:
            notes.append(words.SHIFT_WITHOUT_HYSTERESIS.note("shift-hunting", gears=pair))
        if shift.band is not None:
            low, high = shift.band
            notes.append(
                words.note(
                    "shift-hunting-band",
                    lower=shift.lower,
                    upper=shift.upper,
                    least=low,
                    greatest=high,
                )
            )
    if result.shifts and result.driveline.shift_time is None:
        notes.append(words.note("shift-time-not-given"))
    elif result.driveline.shift_hysteresis is None and any(
        shift.best_speed is not None and shift.hunts is None for shift in result.shifts
    ):
        notes.append(words.note("shift-hysteresis-not-given"))
    return notes
