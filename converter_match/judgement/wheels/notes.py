"""What a reader of a `TractiveResult` has to know: assumptions, limits, warnings, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from converter_match.judgement.conditions.air import air_drag_notes, cooler_air_notes
from converter_match.judgement.conditions.ground import ground_notes
from converter_match.notes import Note, assumption
from converter_match.units import quantity_note

if TYPE_CHECKING:
    from converter_match.judgement.wheels.result import TractiveResult

CAUTIONS = (
    Note(
        "grades-and-brakes",
        "Pulling up a grade is not the same as standing on it or coming down it: whether brakes "
        "hold, and whether the machine stays upright lengthways and sideways, is not judged here. "
        "The machine maker's limits and the rules of the site come first.",
        "caution",
    ),
    Note(
        "towing-needs-care",
        "With the engine stopped the transmission gets no oil: do not tow with the driven wheels "
        "on the ground unless the machine maker says how.",
        "caution",
    ),
    Note(
        "stall-effort-is-short",
        "Stall effort is there for seconds: all engine power then turns into heat in the oil. "
        "Watch the oil temperature and follow the machine maker's procedure.",
        "caution",
    ),
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
        *_cooling(result),
        *_shifting(result),
        *CAUTIONS,
    )
    return tuple(dict.fromkeys((*parts, *own)))


def _limits(result: TractiveResult) -> list[Note]:
    limits, shaft = result.driveline.limits, result.drives[0].shaft
    open_curve, locked = shaft.converter_drive, shaft.lock_up_drive
    found = []
    checks = [
        ("turbine-torque", "turbine torque", limits.turbine_torque, open_curve.turbine_torque),
        ("input-power", "power at the gearbox input", limits.input_power, open_curve.output_power),
    ]
    if any(drive.drive == "lock-up" for drive in result.drives):
        checks.append(
            ("lock-up-torque", "torque locked up", limits.lock_up_torque, locked.turbine_torque)
        )
    dimensions = {"input-power": "power"}
    for code, what, limit, values in checks:
        highest = float(np.max(values))
        if limit is not None and highest > limit:
            dimension = dimensions.get(code, "torque")
            found.append(
                quantity_note(
                    f"limit-{code}",
                    f"The {what} reaches {{highest}}, above the driveline's rating of {{limit}}.",
                    "limit",
                    highest=(highest, dimension, ".0f"),
                    limit=(limit, dimension, ".0f"),
                )
            )
    speeds = [float(open_curve.turbine_speed.max())]
    if limits.turbine_speed is not None and max(speeds) > limits.turbine_speed:
        found.append(
            quantity_note(
                "limit-turbine-speed",
                "The turbine speed reaches {highest}, above the driveline's rating of {limit}.",
                "limit",
                highest=(max(speeds), "angular_speed", ".0f"),
                limit=(limits.turbine_speed, "angular_speed", ".0f"),
            )
        )
    return found


def _grip(result: TractiveResult) -> list[Note]:
    slipping = [row.gear for row in result.gears if row.stall_slips]
    if not slipping:
        return []
    return [
        Note(
            "wheels-slip-before-stall",
            f"In gear {', '.join(slipping)} the ground gives way before the converter stalls: the "
            "stall effort cannot be used there, and the converter cannot be stalled by pushing.",
        )
    ]


def _grades(result: TractiveResult) -> list[Note]:
    found = []
    for why, code, words in (
        ("too weak", "cannot-climb-too-weak", "no gear has the effort"),
        ("grip", "cannot-climb-grip", "the ground does not take the effort"),
    ):
        failed = [row.grade for row in result.grades if row.limited_by == why]
        if failed:
            listed = ", ".join(f"{100 * grade:g} %" for grade in failed)
            found.append(Note(code, f"On {listed} {words} to climb."))
    if any(row.limited_by == "data end" for row in result.grades):
        found.append(
            Note(
                "speed-at-data-end",
                "Where a speed is set by 'data end' the machine would go faster than the "
                "converter's data reach: the true speed lies between that and the governor's.",
            )
        )
    return found


def _cooling(result: TractiveResult) -> list[Note]:
    machine = result.machine
    found = []
    if machine.cooler is None or machine.oil.temperature_limit is None:
        what = "cooler" if machine.cooler is None else "oil temperature limit"
        return [
            assumption(
                "cooling-not-known",
                f"No {what} is given: nothing is said about which grades the oil stands for ever.",
            )
        ]
    found.append(
        assumption(
            "oil-heat-of-converter-and-gearbox",
            "The oil is taken to carry the heat of converter and gearbox at full throttle, without "
            "the power of the charge pump; axles and final drives have oil of their own, and the "
            "cooler gets the flow it was rated at.",
        )
    )
    if not machine.cooler.covers(machine.oil.temperature_limit - result.air_temperature):
        found.append(
            assumption(
                "cooler-curve-short",
                "The cooler's curve ends below the oil's limit in this air: its last value is "
                "used, which is on the safe side.",
            )
        )
    if machine.oil.temperature_limit <= result.air_temperature:
        found.append(Note("no-cooling", "The air is as hot as the oil may be: nothing is cooled."))
    hot = [row for row in result.grades if row.cooled is False]
    if hot:
        listed = ", ".join(f"{100 * row.grade:g} % (gear {row.gear})" for row in hot)
        found.append(
            quantity_note(
                "cooler-too-small",
                f"On {listed} at full throttle the heat is more than the cooler carries with the "
                "oil at its limit ({capacity}): only for a while, or in a lower gear.",
                capacity=(result.cooler_capacity or 0.0, "power", ".0f"),
            )
        )
    return found


def _shifting(result: TractiveResult) -> list[Note]:
    found = []
    for shift in result.shifts:
        pair = f"{shift.lower} and {shift.upper}"
        if shift.hunts and shift.needed_hysteresis is not None:
            found.append(
                quantity_note(
                    "shift-hunting",
                    f"Between gear {pair} the gearbox may hunt on a grade: while the drive is "
                    "interrupted the machine loses up to {needed}, more than the hysteresis.",
                    needed=(shift.needed_hysteresis, "velocity", ".1f"),
                )
            )
        elif shift.hunts:
            found.append(
                Note(
                    "shift-hunting",
                    f"Between gear {pair} the downshift is not below the upshift: the gearbox "
                    "would hunt.",
                )
            )
        if shift.band is not None:
            low, high = shift.band
            found.append(
                Note(
                    "shift-hunting-band",
                    f"Gear {shift.lower} is left upwards before gear {shift.upper} pulls as hard: "
                    f"on grades from {100 * low:.1f} to {100 * high:.1f} % neither holds its "
                    "speed and the gearbox shifts to and fro.",
                )
            )
    if result.shifts and result.driveline.shift_time is None:
        found.append(
            assumption(
                "shift-time-not-given",
                "No shift time is given: whether the gearbox hunts is not judged.",
            )
        )
    elif result.driveline.shift_hysteresis is None and any(
        shift.best_speed is not None and shift.hunts is None for shift in result.shifts
    ):
        found.append(
            assumption(
                "shift-hysteresis-not-given",
                "No hysteresis between upshift and downshift is given: the column 'hysteresis "
                "needed' says how much it takes at full resistance.",
            )
        )
    return found
