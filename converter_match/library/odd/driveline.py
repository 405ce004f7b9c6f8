"""What is odd about a driveline's data. The ranges are common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.components.driveline import Driveline
from converter_match.notes import Note
from converter_match.units import quantity_note, to_si

GEAR_EFFICIENCY = (0.85, 0.995)
STAGE_EFFICIENCY = (0.90, 0.995)
OVERALL_RATIO = (4.0, 200.0)
REVERSE_TO_FIRST = (0.5, 1.6)
SHIFT_TIME = 3.0  # s
SPEED_LIMIT = 100.0  # km/h
DRAG_SPEED = 2000.0  # rpm
MOST_DRAG = 150.0  # N.m


def oddities(driveline: Driveline) -> Iterator[Note]:
    """Yield what is odd about a driveline.

    Parameters
    ----------
    driveline : Driveline

    Yields
    ------
    Note
    """
    yield from _efficiencies(driveline)
    yield from _ratios(driveline)
    yield from _drag(driveline)
    if driveline.shift_time is not None and driveline.shift_time > SHIFT_TIME:
        yield Note(
            "shift-time-long",
            f"A shift takes {driveline.shift_time:g} s; usual is less than {SHIFT_TIME:g} s.",
        )
    limit = driveline.speed_limit
    if limit is not None and limit > to_si(SPEED_LIMIT, "km/h", "velocity"):
        yield quantity_note(
            "speed-limit-high",
            "The speed limiter stands at {limit}: much for a machine with a converter.",
            limit=(limit, "velocity", ".0f"),
        )


def _efficiencies(driveline: Driveline) -> Iterator[Note]:
    parts = [(f"gear {g.name}", g.efficiency, GEAR_EFFICIENCY) for g in driveline.gears]
    parts += [(f"stage {s.name!r}", s.efficiency, STAGE_EFFICIENCY) for s in driveline.stages]
    for name, efficiency, (low, high) in parts:
        if not low <= efficiency <= high:
            yield Note(
                "efficiency-unusual",
                f"The efficiency of {name} is {efficiency:.3f}; usual is {low:g} to {high:g}.",
            )


def _ratios(driveline: Driveline) -> Iterator[Note]:
    low, high = OVERALL_RATIO
    for gear in driveline.gears:
        ratio = driveline.overall_ratio(gear)
        if not low <= ratio <= high:
            yield Note(
                "overall-ratio-unusual",
                f"In gear {gear.name} the turbine turns {ratio:.2f} times as fast as the wheels; "
                f"usual is {low:g} to {high:g}. Is a reduction missing, or in twice?",
            )
    if driveline.forward and driveline.reverse:
        share = driveline.reverse[0].ratio / driveline.forward[0].ratio
        least, most = REVERSE_TO_FIRST
        if not least <= share <= most:
            yield Note(
                "reverse-ratio-unusual",
                f"The lowest reverse gear has {share:.2f} times the ratio of the lowest forward "
                f"one; usual is {least:g} to {most:g}.",
            )


def _drag(driveline: Driveline) -> Iterator[Note]:
    speed = to_si(DRAG_SPEED, "rpm", "angular_speed")
    for gear in driveline.gears:
        table_end = getattr(gear.drag, "speed", None)
        at = speed if table_end is None else min(speed, float(table_end[-1]))
        drag = float(gear.drag_torque(at))
        if drag > MOST_DRAG:
            yield quantity_note(
                "drag-torque-high",
                f"In gear {gear.name} the drag torque is {{drag}} at {{speed}}: much for a gearbox "
                "input. Is it meant at the gearbox output?",
                drag=(drag, "torque", ".0f"),
                speed=(at, "angular_speed", ".0f"),
            )
