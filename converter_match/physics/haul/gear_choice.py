"""When a machine on a route changes gear: what the driveline's file says, and else what pays.

A shift speed that the file gives is kept to: at it the gear changes, whatever comes of it. Where it
gives none, one rule stands in its place, for both directions: **a gear is taken where the machine
is ahead with it, the time without drive counted**, at the end of the stretch, and in any case after
`Rules.looks_ahead`. Up, that is asked from the speed on at which the next gear pulls as much; down,
where speed is being lost. So no shift is made that does not pay, and a climb between two gears does
not make the gearbox hunt.

How far each gear comes is worked out for the resistance of the moment, from the acceleration at a
few speeds, a straight line in the square of speed between them.
"""

from __future__ import annotations

import math

from converter_match.physics.haul.effort import (
    highest_rate,
    pull_in_gear,
    pull_in_state,
    resistance,
)
from converter_match.physics.haul.look_up import Drive
from converter_match.physics.haul.motion import mean_square, way_between
from converter_match.physics.haul.records import DrawRecord, Rules, SegmentRecord, StateRecord
from converter_match.tasks.compiled import compiled

# A speed this near to a shift speed is at it: what an event computed to rounding needs.
AT = 1e-9
# A gear just taken is kept until its downshift is left this far behind: slip moves the tread too.
_CLEAR = 1.15
# Speeds at which the acceleration of a gear is looked at: a balance between two of them is told to
# a percent, as two gears whose speeds on a climb differ by some percent need it.
_PIECES = 16
_BRAKES = 1e-6  # nearer than this to where it has to brake, it brakes [s]
_LEAST_SQUARE = 1e-4  # m^2/s^2
_SLOWEST = 0.5  # share of its speed below which a machine that slows down is not followed


@compiled
def settle(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, way: float
) -> tuple[bool, bool]:
    """Change the state of a draw until the one that belongs to its speed is in force.

    Parameters
    ----------
    drive : Drive
    rules : Rules
    going : record of `DrawRecord`
        Its state, shifts, and time without drive are changed.
    here : record of `SegmentRecord`
    way : float
        To the end of the stretch, or to where it brakes for it [m].

    Returns
    -------
    held : bool
        Whether it holds a gear that its shift speed would leave for one that cannot keep the speed.
    waits : bool
        Whether it keeps its gear because another does not pay, or not yet.
    """
    tread = going.speed / going.share
    own: StateRecord = drive.states[going.state]
    coasts = going.dead > 0.0
    if going.fresh and tread > _CLEAR * own.down_speed and not coasts:
        going.fresh = False
    asks = tread >= own.up_speed * (1.0 - AT) or tread <= own.down_speed * (1.0 + AT)
    if not (asks or (own.chosen_down and not coasts)):
        return False, False
    held = waits = False
    for _ in range(2 * drive.states.size):
        new, holds, asks = next_state(drive, rules, going, here, way, coasts)
        held, waits = held or holds, waits or asks
        if new == going.state:
            break
        going.fresh = new > going.state
        if drive.states[new].gear != drive.states[going.state].gear:
            going.shifts += 1
            coasts = True
            if rules.shift_time > 0.0:
                going.dead = rules.shift_time
        going.state = new
    return held, waits


@compiled
def next_state(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, way: float, coasts: bool
) -> tuple[int, bool, bool]:
    """Return the state that follows at once; whether one is held though a shift is due; who waits.

    Parameters
    ----------
    drive, rules, going, here, way
        As for `settle`.
    coasts : bool
        Whether the drive is interrupted.
    """
    own: StateRecord = drive.states[going.state]
    tread = going.speed / going.share
    up = tread >= own.up_speed * (1.0 - AT)
    down = tread <= own.down_speed * (1.0 + AT)
    held = waits = False
    # Who has just shifted up leaves its gear downwards only where speed is being lost; and, where
    # the file gives no downshift, so does who does not brake.
    if down and (going.fresh or (own.chosen_down and way > _BRAKES * going.speed)):
        # It waits for the drive to come back, or gathers speed with it. Without that the speed
        # which the interruption costs would undo the shift.
        pull, _ = pull_in_state(drive, going.row, going.state, tread)
        down = not (coasts or pull > resistance(going, here, going.speed))
    if up and own.chosen_up:
        keeps, up = up_pays(drive, rules, going, here, way)
        held, waits = not keeps, not up
    if own.chosen_down and not down and not coasts:
        asks, pays = down_pays(drive, rules, going, here, way)
        if pays:
            up, down = False, True
        elif asks:
            waits = True
    new = going.state
    if up:
        new = own.up_to
    elif down:
        new = own.down_to
    return new, held, waits and new == going.state


@compiled
def kick_speed(drive: Drive, going: DrawRecord) -> float:
    """Return the speed [m/s] below which the gear below would not be left at once.

    An upshift of the file goes by the tread. The tool's own stands where both gears pull alike
    at a speed over ground, without slip.

    Parameters
    ----------
    drive, going
        As for `settle`.
    """
    below: StateRecord = drive.states[drive.states[going.state].down_to]
    return below.up_speed * (1.0 if below.chosen_up else going.share)


@compiled
def up_pays(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, way: float
) -> tuple[bool, bool]:
    """Return whether the next gear keeps the speed, and whether it pays to take it.

    Parameters
    ----------
    drive, rules, going, here, way
        As for `settle`.
    """
    above, need = drive.states[going.state].up_to, resistance(going, here, going.speed)
    slower = going.speed - rules.shift_time * need / going.mass
    pull, _ = pull_in_gear(drive, going.row, above, going.speed / going.share)
    keeps = min(pull, here.grip * going.mass) > need and slower > 0.0
    return keeps, keeps and ahead(drive, rules, going, here, way, above)


@compiled
def down_pays(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, way: float
) -> tuple[bool, bool]:
    """Return whether a machine loses speed and would keep the gear below, and is ahead in it.

    Parameters
    ----------
    drive, rules, going, here, way
        As for `settle`.
    """
    below, tread = drive.states[going.state].down_to, going.speed / going.share
    need = resistance(going, here, going.speed)
    pull, _ = pull_in_state(drive, going.row, going.state, tread)
    if pull >= need or going.speed >= kick_speed(drive, going) * (1.0 - AT):
        return False, False
    more, _ = pull_in_gear(drive, going.row, below, tread)
    # More pull does not help where it is the grip that is too little.
    if more <= pull or pull >= need + going.mass * highest_rate(here, need / going.mass):
        return False, False
    return True, ahead(drive, rules, going, here, way, below)


@compiled
def ahead(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, way: float, other: int
) -> bool:
    """Return whether a machine is ahead in another gear.

    Parameters
    ----------
    drive, rules, going, here, way
        As for `settle`.
    other : int
        A state of that gear.
    """
    speed, pause = going.speed, rules.shift_time
    after = max(speed - pause * resistance(going, here, speed) / going.mass, 0.0)
    if after <= 0.0:
        return False
    way = max(way, rules.looks_ahead * speed)
    rolled = 0.5 * (speed + after) * pause
    time = time_in_gear(drive, going, here, going.state, speed, way)
    return pause + time_in_gear(drive, going, here, other, after, way - rolled) <= time


@compiled
def time_in_gear(
    drive: Drive, going: DrawRecord, here: SegmentRecord, state: int, speed: float, way: float
) -> float:
    """Return the time [s] for a way in the gear of a state, from a speed.

    Parameters
    ----------
    drive, going, here
        As for `settle`.
    state : int
    speed : float
        [m/s].
    way : float
        [m].
    """
    first = rate_in_gear(drive, going, here, state, speed)
    goal = _SLOWEST * speed
    if first > 0.0:
        top = min(here.limit, drive.states[state].gear_top * going.share)
        goal = max(top, speed * 1.001)
    time, v, rate = 0.0, speed, first
    for k in range(1, _PIECES + 1):
        after = speed + (goal - speed) * (k / _PIECES) ** 1.5
        rate_after = rate_in_gear(drive, going, here, state, after)
        change = after * after - v * v
        piece = way_between(change, rate, rate_after)
        if piece >= way:
            # Nothing changes for a machine that stands still.
            slope = (rate_after - rate) / change if change != 0.0 else 0.0
            mean = mean_square(v * v, rate, slope, way)
            return time + way / math.sqrt(max(mean, _LEAST_SQUARE))
        if v + after > 0.0:
            time += 2.0 * piece / (v + after)
        way -= piece
        v, rate = after, rate_after
    return time + way / math.sqrt(max(v * v, _LEAST_SQUARE))


@compiled
def rate_in_gear(
    drive: Drive, going: DrawRecord, here: SegmentRecord, state: int, speed: float
) -> float:
    """Return the acceleration [m/s^2] in the gear of a state at a speed [m/s].

    Parameters
    ----------
    drive, going, here, state, speed
        As for `time_in_gear`.
    """
    pull, rotating = pull_in_gear(drive, going.row, state, speed / going.share)
    need = resistance(going, here, speed)
    rate = (pull - need) / (going.mass + rotating)
    return min(rate, highest_rate(here, need / going.mass))
