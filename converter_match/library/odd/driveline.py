"""What is odd about a driveline's data. The ranges are common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from converter_match.components.driveline import Driveline
from converter_match.library.odd.words import DRIVELINE
from converter_match.notes import Note
from converter_match.units import to_si

GEAR_EFFICIENCY = (0.85, 0.995)
STAGE_EFFICIENCY = (0.90, 0.995)
OVERALL_RATIO = (4.0, 200.0)
REVERSE_TO_FIRST = (0.5, 1.6)
GEAR_STEP = (1.08, 3.0)
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
    yield from _steps(driveline)
    yield from _drag(driveline)
    if driveline.shift_time is not None and driveline.shift_time > SHIFT_TIME:
        yield DRIVELINE.note("shift-time-long", time=driveline.shift_time, most=SHIFT_TIME)
    limit = driveline.speed_limit
    if limit is not None and limit > to_si(SPEED_LIMIT, "km/h", "velocity"):
        yield DRIVELINE.note("speed-limit-high", limit=limit)


def _efficiencies(driveline: Driveline) -> Iterator[Note]:
    parts = [(f"gear {g.name}", g.efficiency, GEAR_EFFICIENCY) for g in driveline.gears]
    parts += [(f"stage {s.name!r}", s.efficiency, STAGE_EFFICIENCY) for s in driveline.stages]
    for name, efficiency, (low, high) in parts:
        if not low <= efficiency <= high:
            yield DRIVELINE.note(
                "efficiency-unusual", what=name, efficiency=efficiency, low=low, high=high
            )


def _ratios(driveline: Driveline) -> Iterator[Note]:
    low, high = OVERALL_RATIO
    for gear in driveline.gears:
        ratio = driveline.overall_ratio(gear)
        if not low <= ratio <= high:
            yield DRIVELINE.note(
                "overall-ratio-unusual", gear=gear.name, ratio=ratio, low=low, high=high
            )
    if driveline.forward and driveline.reverse:
        share = driveline.reverse[0].ratio / driveline.forward[0].ratio
        lowest, highest = REVERSE_TO_FIRST
        if not lowest <= share <= highest:
            yield DRIVELINE.note("reverse-ratio-unusual", share=share, low=lowest, high=highest)


def _steps(driveline: Driveline) -> Iterator[Note]:
    """Look at the steps from gear to gear, each direction in the order of the lever."""
    low, high = GEAR_STEP
    for direction in ("forward", "reverse"):
        gears = [gear for gear in driveline.gears if gear.direction == direction]
        for before, gear in pairwise(gears):
            step = before.ratio / gear.ratio
            if step < 1.0:
                yield DRIVELINE.note(
                    "gear-order-odd",
                    gear=gear.name,
                    ratio=gear.ratio,
                    before=before.name,
                    other=before.ratio,
                )
            elif not low <= step <= high:
                yield DRIVELINE.note(
                    "gear-step-unusual",
                    gear=gear.name,
                    before=before.name,
                    step=step,
                    low=low,
                    high=high,
                )


def _drag(driveline: Driveline) -> Iterator[Note]:
    speed = to_si(DRAG_SPEED, "rpm", "angular_speed")
    for gear in driveline.gears:
        table_end = getattr(gear.drag, "speed", None)
        at = speed if table_end is None else min(speed, float(table_end[-1]))
        drag = float(gear.drag_torque(at))
        if drag > MOST_DRAG:
            yield DRIVELINE.note("drag-torque-high", gear=gear.name, drag=drag, speed=at)
