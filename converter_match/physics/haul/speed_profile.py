"""Speed over a route: full throttle up to what is allowed, for one machine or many draws.

Every draw takes steps of its own, and a step ends where something happens: a shift speed, the end
of a shift's interruption, the speed allowed, the point where braking begins, the end of a segment.
So no step straddles a shift, and how often a gearbox shifts does not hang on the step.

Within a step the acceleration ``(F - R) / M`` is taken as a straight line in the square of speed
between its values at the two ends, which `motion` solves exactly; where the wheels would spin
what the ground allows stands instead, with the weight that the acceleration itself moves
(`road_load.grip_rate`). A step changes the speed by no more than `SPAN` of the state's range, and
its square by a half or a quarter of that where the straight line is off in the middle by
more than `BEND` of the acceleration, or of the engine's share in it. Where another gear is asked
for and does not pay yet it takes no longer than `QUESTION`, and during a shift than `COASTING`. At
the allowed speed a machine that could go faster keeps to it, braking or not, exactly.

Each step changes the speed by a share of its range, ends at an event, or covers the longest step,
so the march always ends. Draws march one after the other and know nothing of each other. This
module lays the tables out for `march`, which is compiled, and gathers what it wrote down.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.haul.loads import Draws, SegmentLoads
from converter_match.physics.haul.look_up import Drive, drive_tables
from converter_match.physics.haul.records import (
    DrawRecord,
    Records,
    Rules,
    SegmentRecord,
    StepRecord,
    records,
)
from converter_match.physics.haul.steps import SpeedProfile
from converter_match.physics.wheels.drive_chain import DriveChain

# The step that all of the step control is stated for [m]; a shorter one refines all in proportion.
LONGEST_STEP = 50.0
SPAN = 0.025
BEND = 0.005
MISS = 0.001
# Where another gear does not pay yet, that is asked again after so long [s].
QUESTION = 0.5
# A shift without drive is gone through in pieces of so long at most [s].
COASTING = 0.075
# After so long it counts in which gear a machine is ahead [s].
LOOKS_AHEAD = 10.0
_MOST_STEPS = 500  # a segment, and a longest step: no route with a shift a metre has more
_NEVER = 1e18  # steps
# Steps that there is room for at a time: of a segment, of a draw, and of all.
_STEPS, _MORE_STEPS, _MOST_ROOM = 4, 256, 2**18


def speed_profile(
    chain: DriveChain,
    allowed: AllowedSpeed,
    loads: SegmentLoads,
    draws: Draws,
    *,
    first: NDArray[np.intp] | None = None,
    parts: Sequence[DriveChain] = (),
    part: NDArray[np.intp] | None = None,
    road: NDArray[np.intp] | None = None,
    shift_time: float = 0.0,
    start_speed: float = 0.0,
    longest: float = LONGEST_STEP,
) -> SpeedProfile:
    """March all draws along a route at full throttle below the speed allowed.

    Parameters
    ----------
    chain : DriveChain
    allowed, loads : AllowedSpeed, SegmentLoads
    draws : Draws
    first : ndarray of int, shape (segments,), optional
        State in which a machine starts in each segment; the chain's first without.
    parts : sequence of DriveChain, optional
        Where several machines drive: their states, as they follow one another in the chain.
    part, road : ndarray of int, shape (draws,), optional
        Which of the machines each draw is, and on which of the roads; the first without.
    shift_time : float
        Time without drive at a gear change, and at a change of direction [s].
    start_speed : float
        [m/s].
    longest : float
        Longest step [m]; all of the step control follows it in proportion.

    Raises
    ------
    InputError
        If the machine changes between gears without end.
    """
    segments = _segments(allowed, loads, first)
    on = np.zeros(draws.size, dtype=np.intp) if road is None else road
    drive, row = drive_tables(chain, draws.torque, parts, part)
    fine = min(longest / LONGEST_STEP, 1.0)
    most = _MOST_STEPS * (allowed.length.size + float(allowed.length.sum()) / longest)
    rules = Rules(
        braking=float(allowed.braking),
        shift_time=float(shift_time),
        looks_ahead=LOOKS_AHEAD,
        longest=float(longest),
        span=SPAN * fine,
        bend=BEND * fine,
        miss=MISS * fine,
        question=QUESTION * fine,
        coasting=COASTING * fine,
        most_steps=int(min(most / fine, _NEVER)),
    )
    going = _at_the_start(chain, allowed, segments, allowed.begins[on], start_speed)
    going.mass_factor, going.rolling_factor = draws.mass, draws.rolling_resistance
    going.row = row
    begin = going.speed.copy()
    return _profile(begin, going, _marched(drive, segments, rules, going))


def _segments(
    allowed: AllowedSpeed, loads: SegmentLoads, first: NDArray[np.intp] | None
) -> Records:
    found = records(SegmentRecord, allowed.length.size)
    for name in ("length", "limit", "end", "stop", "final"):
        found[name] = getattr(allowed, name)
    for name in (
        "mass",
        "rolling",
        "climbing",
        "running_drag",
        "air",
        "grip",
        "whole_grip",
        "moved",
    ):
        found[name] = getattr(loads, name)
    found.alike_ahead = loads.alike_ahead(allowed)
    found.lowest = 0 if first is None else first
    return found


def _at_the_start(
    chain: DriveChain,
    allowed: AllowedSpeed,
    segments: Records,
    segment: NDArray[np.intp],
    speed: float,
) -> Records:
    """Return draws that begin at a speed [m/s], in the gear that belongs to it."""
    going = records(DrawRecord, segment.size)
    going.segment, going.left = segment, allowed.length[segment]
    going.speed = np.minimum(allowed.at(segment, going.left), speed)
    going.share, going.stuck = 1.0, -1
    going.waits = going.stuck_force = np.nan
    for first in np.unique(segment):
        which = segment == first
        begins = float(going.speed[which][0])
        going.state[which] = chain.settled(int(segments.lowest[first]), begins)
    return going


def _marched(drive: Drive, road: Records, rules: Rules, going: Records) -> Records:
    """Return the steps of all draws, one behind the other; the draws are at their ends then."""
    # Imported here: it brings a compiler with it, which no other task needs.
    from converter_match.physics.haul.march import march

    pieces, done = [], 0
    while done < going.size:
        room = (going.size - done) * (_STEPS * road.size + _MORE_STEPS)
        steps = records(StepRecord, min(room, _MOST_ROOM))
        more, written = march(drive, road, rules, going[done:].view(np.recarray), steps)
        pieces.append(steps[:written])
        done += more
        if done < going.size and going.steps[done] > rules.most_steps:
            raise InputError(
                "the machine changes between two gears without end and makes no way",
                field="driveline",
                hint="are the upshift and downshift speeds right?",
            )
    return np.concatenate(pieces).view(np.recarray)


def _profile(begin: FloatArray, going: Records, steps: Records) -> SpeedProfile:
    """Return the steps of all draws side by side, and behind the last of each what is left of it.

    That has no length and takes no time, in the segment and state that it ended in.
    """
    behind = np.cumsum(going.steps)
    row = np.arange(steps.size) - np.repeat(behind - going.steps, going.steps)
    draw = np.repeat(np.arange(going.size), going.steps)

    def side_by_side(name: str, rest: NDArray[Any] | float = 0.0) -> NDArray[Any]:
        found = np.empty((going.steps.max(), going.size), dtype=steps.dtype[name])
        found[:] = rest
        found[row, draw] = steps[name]
        return found

    last = steps[behind - 1]
    return SpeedProfile(
        segment=side_by_side("segment", last.segment),
        length=side_by_side("length"),
        time=side_by_side("time"),
        speed=np.concatenate([begin[np.newaxis], side_by_side("speed")]),
        state=side_by_side("state", last.state).astype(np.int16),
        stands=side_by_side("stands"),
        held=side_by_side("held"),
        better=side_by_side("better", last.state).astype(np.int16),
        costs=side_by_side("costs"),
        left=side_by_side("left", last.left),
        stuck=going.stuck.copy(),
        stuck_force=going.stuck_force.copy(),
        shifts=going.shifts.copy(),
    )
