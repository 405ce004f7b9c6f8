"""The march of a draw over a road, step by step: plain numbers, compiled.

`speed_profile` says what a step is. Here is how one is found: where the gear is settled, the slip
and the acceleration follow; then the step is one of four. A machine rests; brakes for what is
ahead; keeps to the speed allowed; or goes as its engine lets it.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

from converter_match import constants
from converter_match.physics.haul import effort, gear_choice, loads, look_up, motion, records
from converter_match.physics.haul.effort import (
    grip_of,
    highest_rate,
    pull_in_state,
    resistance,
    share_kept,
)
from converter_match.physics.haul.gear_choice import AT, kept_from, kick_speed, settle
from converter_match.physics.haul.look_up import Drive
from converter_match.physics.haul.motion import (
    square_after,
    time_of,
    way_between,
    way_to_braking,
)
from converter_match.physics.haul.records import (
    DrawRecord,
    Records,
    Rules,
    SegmentRecord,
    StateRecord,
    StepRecord,
)
from converter_match.tasks.compiled import MachineCode, compiled

_SMALLEST = 1.0 / 16.0  # part of a step that is taken unjudged
_ASKED = 0.25  # share of a step's span
_FAR = 0.04  # a balance whose square of speed is by this share another is far
_PULL = 0.2  # share of an acceleration that is taken for the engine's at least
_CRAWL = 0.02  # slower than this is a stand [m/s]
_LEAST = 1e-6  # change of speed in a step, at least [m/s]
# Slip that is this near to that of the step before is read off once [1].
_SAME_SLIP = 1e-3

_at_rest = compiled(loads.at_rest)


@compiled
def enter(road: Records, going: DrawRecord) -> None:
    """Take up what a segment asks for."""
    here: SegmentRecord = road[going.segment]
    going.mass = here.mass * going.mass_factor
    rolling = here.rolling * going.rolling_factor
    going.ground = _at_rest(going.mass, rolling, here.climbing, here.running_drag)


@compiled
def step(drive: Drive, road: Records, rules: Rules, going: DrawRecord, taken: StepRecord) -> None:
    """Take a draw to the end of its next step, and write that down.

    Parameters
    ----------
    drive, road, rules
        As for `march`.
    going : record of `DrawRecord`
    taken : record of `StepRecord`
    """
    here: SegmentRecord = road[going.segment]
    v = going.speed
    slows = max(v * v - here.end * here.end, 0.0) / (2.0 * rules.braking)
    before_braking = going.left + here.alike_ahead - slows
    held, waits = settle(drive, rules, going, here, before_braking)
    rate, force = rate_at(drive, going, here, v)
    share = share_kept(drive, force, going.mass * grip_of(here, rate))
    if abs(share - going.share) > _SAME_SLIP:
        going.share = share
        rate, force = rate_at(drive, going, here, v)
        share = share_kept(drive, force, going.mass * grip_of(here, rate))
    going.share = share
    stands = not math.isnan(going.waits)
    length = end = costs = 0.0
    better = going.state
    if stands:
        time = going.waits
    elif v <= _CRAWL and rate <= 0.0:
        time = going.dead
        if time <= 0.0:
            # Before it is given up, a machine that came to a stand in a higher gear is put down.
            if going.state == here.lowest:
                give_up(drive, going, here)
            going.state = here.lowest
    else:
        better, costs = kept_from(drive, rules, going, here, before_braking)
        time, length, end = on_the_move(drive, rules, going, here, rate, force, waits)
    taken.held, taken.better, taken.costs = held, better, costs
    advance(road, rules, going, taken, time, length, end)


@compiled
def rate_at(
    drive: Drive, going: DrawRecord, here: SegmentRecord, speed: float
) -> tuple[float, float]:
    """Return acceleration [m/s^2] and force at the ground [N] at a speed [m/s].

    Parameters
    ----------
    drive, going
        As for `step`.
    here : record of `SegmentRecord`
    speed : float
    """
    force, rotating = pull_in_state(drive, going.row, going.state, speed / going.share)
    if going.dead > 0.0:
        force = 0.0
    need = resistance(going, here, speed)
    # The ground passes on what is left after the rotating parts have taken their share.
    rate = (force - need) / (going.mass + rotating)
    rate = min(rate, highest_rate(here, need / going.mass))
    return rate, need + going.mass * rate


@compiled
def on_the_move(
    drive: Drive,
    rules: Rules,
    going: DrawRecord,
    here: SegmentRecord,
    rate: float,
    force: float,
    waits: bool,
) -> tuple[float, float, float]:
    """Return time, length and end speed of a step of a machine that moves.

    Parameters
    ----------
    drive, rules, going, here
        As for `step`.
    rate, force : float
        Acceleration [m/s^2] and force at the ground [N].
    waits : bool
        Whether another gear does not pay yet.
    """
    own: StateRecord = drive.states[going.state]
    v = going.speed
    twice = 2.0 * rules.braking
    slowing = math.sqrt(here.end * here.end + twice * going.left)
    if v > 0.0 and rate >= -rules.braking and v >= slowing * (1.0 - AT):
        # It brakes: by a step's span, to the shift speed, or to what is allowed at the end.
        shift = own.down_speed * going.share
        low = max(v - rules.span * own.top, here.end)
        if low < shift < v * (1.0 - AT):
            low = shift
        low = min(low, v)
        way = going.left
        if low > here.end:
            way = min(way, (v * v - low * low) / twice)
        return 2.0 * way / (v + low), way, low
    limit = min(here.limit, own.top * going.share)
    if v > 0.0 and rate >= 0.0 and v >= limit * (1.0 - AT):
        # It keeps its speed, to where it has to brake.
        needed = max(v * v - here.end * here.end, 0.0) / twice
        way = min(max(going.left - needed, 0.0), rules.longest)
        return way / v, way, v
    return driven(drive, rules, going, here, rate, force, waits)


@compiled
def driven(
    drive: Drive,
    rules: Rules,
    going: DrawRecord,
    here: SegmentRecord,
    rate: float,
    force: float,
    waits: bool,
) -> tuple[float, float, float]:
    """Return time, length and end speed of a step that nothing but the engine holds back.

    Parameters
    ----------
    drive, rules, going, here, rate, force, waits
        As for `on_the_move`.
    """
    v = going.speed
    square = v * v
    change, last = nearly_straight(drive, rules, going, here, rate, force)
    slope = (last - rate) / change
    whole = way_between(change, rate, last)
    length = min(whole, going.left, rules.longest)
    if waits:
        length = min(length, rules.question * max(v, _CRAWL))
    # Towards a balance that is still far, the way is one on which it is neared by a part.
    if slope < 0.0 and abs(rate) > _FAR * square * abs(slope):
        length = min(length, -0.5 / slope)
    coasts = going.dead > 0.0
    rolls = going.dead / math.ceil(max(going.dead / rules.coasting - AT, 1.0))
    if coasts:
        coasted = rolls * max(v + 0.5 * rate * rolls, 0.5 * v)
        coasts = coasted <= length
        length = min(length, coasted)
    reached = square + change
    if length != whole:
        reached = square_after(square, rate, slope, length)
    twice = 2.0 * rules.braking
    room = here.end * here.end + twice * going.left
    if reached + twice * length > room:
        length = way_to_braking(square, rate, slope, room, length, rules.braking)
        reached = room - twice * length
        coasts = False
    end = math.sqrt(max(reached, 0.0))
    return rolls if coasts else time_of(square, rate, slope, length, v, end), length, end


@compiled
def nearly_straight(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, rate: float, force: float
) -> tuple[float, float]:
    """Return a change of the square of speed with a nearly straight acceleration, and its end.

    That is judged in the middle, against the accelerations at both ends; where a balance lies
    between them, also by how far the line misses it.

    Parameters
    ----------
    drive, rules, going, here, rate, force
        As for `on_the_move`.

    Returns
    -------
    change : float
        [m^2/s^2].
    last : float
        Acceleration there [m/s^2].
    """
    v = going.speed
    square, target = v * v, target_of(drive, rules, going, here, rate)
    change = target * target - square
    smallest = _SMALLEST * change
    counts = counted(going, rate, force)
    last, force = rate_at(drive, going, here, math.sqrt(square + change))
    while abs(change) > abs(smallest):
        middle, middle_force = rate_at(drive, going, here, math.sqrt(square + 0.5 * change))
        most = rules.bend * (counts + counted(going, last, force))
        if rate * last < 0.0:
            most = min(most, rules.miss * abs((last - rate) / change) * square)
        if abs(2.0 * middle - (rate + last)) <= most:
            break
        change, last, force = 0.5 * change, middle, middle_force
    return change, last


@compiled
def counted(going: DrawRecord, rate: float, force: float) -> float:
    """Return the acceleration that a bend is measured against [m/s^2].

    Downhill it is the pull's share, within bounds: what gravity gives is no work of the engine.

    Parameters
    ----------
    going, rate, force
        As for `on_the_move`.
    """
    whole = abs(rate)
    return max(min(whole, abs(force) / going.mass), _PULL * whole)


@compiled
def target_of(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, rate: float
) -> float:
    """Return the speed at which something happens, or which is as far as a step goes [m/s].

    Parameters
    ----------
    drive, rules, going, here, rate
        As for `on_the_move`.
    """
    own: StateRecord = drive.states[going.state]
    v = going.speed
    span = rules.span * own.top
    if rate > 0.0:
        above, high = v * (1.0 + AT), v + span
        shift = own.up_speed * going.share
        if above < shift < high:
            high = shift
        fastest = min(here.limit, own.top * going.share)
        if above < fastest < high:
            high = fastest
        return max(high, v + _LEAST)
    # Where the next lower gear is a question, it is asked more often.
    low = max(v - (_ASKED * span if own.down_assumed else span), _CRAWL)
    below = v * (1.0 - AT)
    shift = own.down_speed * going.share
    if low < shift < below:
        low = shift
    # From here downwards the gear below may be taken, as `gear_choice` asks.
    shift = kick_speed(drive, going) * (1.0 - 2.0 * AT)
    if low < shift < below:
        low = shift
    return min(low, v - _LEAST)


@compiled
def give_up(drive: Drive, going: DrawRecord, here: SegmentRecord) -> None:
    """End the march of a machine that stands, has its drive, and cannot move on.

    Parameters
    ----------
    drive, going, here
        As for `step`.
    """
    pull, _ = pull_in_state(drive, going.row, here.lowest, 0.0)
    going.stuck_force = min(pull, here.grip * going.mass)
    going.stuck = going.steps
    going.done = True


@compiled
def advance(
    road: Records,
    rules: Rules,
    going: DrawRecord,
    taken: StepRecord,
    time: float,
    length: float,
    end: float,
) -> None:
    """Write a step down, and go on to where it ends.

    Parameters
    ----------
    road, rules, going, taken
        As for `step`.
    time, length, end : float
        [s], [m], [m/s].
    """
    here: SegmentRecord = road[going.segment]
    stands, shifts = not math.isnan(going.waits), going.dead > 0.0
    left = going.left - length
    arrives = left <= AT * here.length and not going.done
    if arrives:
        left = 0.0
    halts = arrives and not stands and not math.isnan(here.stop)
    if halts:
        end = 0.0
    taken.segment, taken.state = going.segment, going.state
    taken.length, taken.time, taken.speed, taken.left = length, time, end, left
    taken.stands = stands
    going.steps += 1
    going.dead = max(going.dead - time, 0.0)
    going.left = left
    going.waits = here.stop if halts else math.nan
    # A shift that loses all speed is still made: the machine starts in the gear it took, however
    # short its first step.
    if end <= min(_CRAWL, going.speed) and (halts or not shifts):
        going.state = here.lowest
    going.speed = end
    if not arrives or halts:
        return
    if here.final:
        going.done = True
        return
    going.segment += 1
    ahead: SegmentRecord = road[going.segment]
    going.left = ahead.length
    if ahead.lowest != here.lowest:
        # What the stop does not take of the change of direction is waited for.
        going.dead = max(rules.shift_time - (time if stands else 0.0), 0.0)
        going.state = ahead.lowest
    enter(road, going)


def _march(
    source: int,
) -> Callable[[Drive, Records, Rules, Records, Records, int], tuple[int, int]]:
    def march(
        drive: Drive, road: Records, rules: Rules, going: Records, steps: Records, expected: int
    ) -> tuple[int, int]:
        if source != expected:
            raise RuntimeError("machine code of another source")
        written = 0
        for k in range(going.size):
            if going[k].steps == 0:
                enter(road, going[k])
            while not going[k].done:
                if written == steps.size or going[k].steps > rules.most_steps:
                    return k, written
                step(drive, road, rules, going[k], steps[written])
                written += 1
        return going.size, written

    return march


MARCH = MachineCode(
    _march,
    [constants, effort, gear_choice, loads, look_up, motion, records, sys.modules[__name__]],
)


def march(
    drive: Drive, road: Records, rules: Rules, going: Records, steps: Records
) -> tuple[int, int]:
    """March draws to their ends, or until the room for steps is used up.

    Parameters
    ----------
    drive : Drive
    road : records of `SegmentRecord`, shape (segments,)
    rules : Rules
    going : records of `DrawRecord`, shape (draws,)
        Where each draw is; changed.
    steps : records of `StepRecord`
        Filled with the steps, those of a draw behind those of the one before.

    Returns
    -------
    draws : int
        How many have come to their end.
    written : int
        Number of steps.
    """
    return MARCH(drive, road, rules, going, steps, MARCH.source)
