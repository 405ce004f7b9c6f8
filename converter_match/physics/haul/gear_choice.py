"""When a machine on a route changes gear: what the driveline's file says, and else what pays.

A shift speed that the file gives is kept to: at it the gear changes, whatever comes of it. Where it
gives none, one rule stands in its place, for both directions: **a gear is taken where the machine
is ahead with it, the time without drive counted**, at the end of the stretch, and in any case after
`Rules.looks_ahead`. Up, that is asked from the speed on at which the next gear pulls as much; down,
below it. So no shift is made that does not pay, and a climb between two gears does not make the
gearbox hunt. A shift that loses all speed counts with it that the machine starts anew.

How far each gear comes is worked out for the resistance of the moment. The same reckoning says
where the speeds of the file keep a machine from a gear in which it would be sooner at the end.
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
# Speeds of a gear at which its acceleration is looked at, a straight line in the square of speed
# between: a balance is told to a part in a thousand, as gears that come to nearly the same need it.
_PIECES = 160
_BRAKES = 1e-6  # nearer than this to where it has to brake, it brakes [s]
_LEAST_SQUARE = 1e-4  # m^2/s^2


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
    # Who does not brake and has just shifted up leaves its gear downwards only where speed is being
    # lost; so does anybody where the file gives no downshift.
    if down and (going.fresh or own.chosen_down) and way > _BRAKES * going.speed:
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
    # It is in force before the interruption costs speed.
    if going.speed / going.share >= drive.states[above].engages * (1.0 - AT):
        above = drive.states[above].locked
    slower = going.speed - rules.shift_time * need / going.mass
    pull, _ = pull_in_gear(drive, going.row, above, going.speed / going.share)
    keeps = min(pull, here.grip * going.mass) > need and slower > 0.0
    return keeps, keeps and ahead(drive, rules, going, here, way, above)


@compiled
def down_pays(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, way: float
) -> tuple[bool, bool]:
    """Return whether a machine would keep the gear below, and is ahead in it.

    Parameters
    ----------
    drive, rules, going, here, way
        As for `settle`.
    """
    below, tread = drive.states[going.state].down_to, going.speed / going.share
    need = resistance(going, here, going.speed)
    pull, _ = pull_in_state(drive, going.row, going.state, tread)
    if going.speed >= kick_speed(drive, going) * (1.0 - AT):
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
    """Return whether a machine is ahead in another gear, at the end or after a while.

    Parameters
    ----------
    drive, rules, going, here, way
        As for `settle`.
    other : int
        A state of that gear.
    """
    far = max(way, rules.looks_ahead * going.speed)
    saved, time = sooner(drive, rules, going, here, far, other)
    # Where two gears come to the same, as at a limit downhill, the higher one is kept.
    return saved >= time * AT * (-1.0 if other > going.state else 1.0)


@compiled
def sooner(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, way: float, other: int
) -> tuple[float, float]:
    """Return by how much a change of gear brings a machine sooner to the end of a way; its time.

    Parameters
    ----------
    drive, rules, going, here
        As for `settle`.
    way : float
        [m].
    other : int
        State that is changed to, of another gear or with lock-up the other way.

    Returns
    -------
    saved, time : float
        [s]; below zero where the change costs time. The time is that without it.
    """
    changes = drive.states[other].gear != drive.states[going.state].gear
    speed, pause = going.speed, rules.shift_time if changes else 0.0
    lost = pause * resistance(going, here, speed) / going.mass
    # Who loses all speed in a shift starts anew in the gear that he took; who gains some downhill
    # keeps to the limit.
    after = min(max(speed - lost, 0.0), max(here.limit, speed))
    rolled = 0.5 * (speed + after) * pause * min(speed / lost, 1.0) if lost > 0.0 else speed * pause
    time = time_in_gear(drive, going, here, going.state, speed, way)
    than = pause + time_in_gear(drive, going, here, other, after, max(way - rolled, 0.0))
    return time - than, time


@compiled
def kept_from(
    drive: Drive, rules: Rules, going: DrawRecord, here: SegmentRecord, way: float
) -> tuple[int, float]:
    """Return the state that a machine would be faster in, and is kept from; and the time lost [s].

    The speeds of the file decide there, whatever it costs: a downshift that comes late, lock-up
    that comes late or is let go late; or the interruption of a shift up. Its own state and zero
    where none would be faster, or where it would be left at once.

    Parameters
    ----------
    drive, rules, going, here, way
        As for `settle`.
    """
    number, tread = going.state, going.speed / going.share
    own: StateRecord = drive.states[number]
    opened: StateRecord = drive.states[own.converter]
    below: StateRecord = drive.states[opened.down_to]
    better, most = number, 0.0
    if going.dead > 0.0 or not (way > 0.0 and going.speed > 0.0):
        return better, most
    if not opened.chosen_down and below.gear != own.gear and tread < below.up_speed * (1.0 - AT):
        # Where the gear does not keep its speed, locked or opened, its downshift comes by itself.
        slowest = own.down_speed * going.share
        keeps = rate_in_state(drive, going, here, number, slowest) > 0.0
        if not keeps and opened.down_speed < own.down_speed * (1.0 - AT):
            slowest = opened.down_speed * going.share
            keeps = rate_in_state(drive, going, here, own.converter, slowest) > 0.0
        if keeps:
            better, most = opened.down_to, sooner(drive, rules, going, here, way, opened.down_to)[0]
    if own.chosen_up and tread >= own.up_speed * (1.0 - AT):
        # A gear that does not keep its speed through the interruption may yet be the faster one.
        saved = sooner(drive, rules, going, here, way, own.up_to)[0]
        if saved > most:
            better, most = own.up_to, saved
    if own.locked != own.converter:
        other = own.locked if number == own.converter else own.converter
        locks: StateRecord = drive.states[own.locked]
        if locks.down_speed * (1.0 + AT) < tread < own.engages * (1.0 - AT):
            saved = sooner(drive, rules, going, here, way, other)[0]
            if saved > most:
                better, most = other, saved
    return (better, most) if most > 0.0 else (number, 0.0)


@compiled
def time_in_gear(
    drive: Drive, going: DrawRecord, here: SegmentRecord, state: int, speed: float, way: float
) -> float:
    """Return the time [s] for a way in the gear of a state, from a speed; it may lock up on it.

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
    own: StateRecord = drive.states[state]
    if state == own.locked and speed <= own.down_speed * going.share:
        state = own.converter
    most = own.gear_top * going.share
    top, width = min(here.limit, most), most / _PIECES
    v, rate, time = speed, rate_in_state(drive, going, here, state, speed), 0.0
    faster = rate > 0.0
    # At this speed the converter locks up, or opens again.
    other = own.locked if faster else own.converter
    turns = (own.engages if faster else own.down_speed) * going.share
    if other == state or (turns <= v if faster else turns >= v):
        turns = math.inf if faster else -math.inf
    # From node to node of a grid that belongs to the gear: asked again later, the answer is the
    # same, and no shift is undone because the way was divided otherwise.
    node = math.floor(v / width) if faster else math.ceil(v / width)
    while v < top if faster else v > 0.0:
        node += 1 if faster else -1
        after = min(node * width, top, turns) if faster else max(node * width, 0.0, turns)
        rate_after = rate_in_state(drive, going, here, state, after)
        change = after * after - v * v
        piece = way_between(change, rate, rate_after) if change != 0.0 else 0.0
        if piece >= way:
            mean = mean_square(v * v, rate, (rate_after - rate) / change, way)
            return time + way / math.sqrt(max(mean, _LEAST_SQUARE))
        if piece > 0.0:
            time += 2.0 * piece / (v + after)
        way -= piece
        v, rate = after, rate_after
        if v == turns:
            state, node = other, node - (1 if faster else -1)
            turns = math.inf if faster else -math.inf
            rate = rate_in_state(drive, going, here, state, v)
            if (rate > 0.0) != faster:
                break
    return time + way / math.sqrt(max(v * v, _LEAST_SQUARE))


@compiled
def rate_in_state(
    drive: Drive, going: DrawRecord, here: SegmentRecord, state: int, speed: float
) -> float:
    """Return the acceleration [m/s^2] in a state at a speed [m/s].

    Parameters
    ----------
    drive, going, here, state, speed
        As for `time_in_gear`.
    """
    pull, rotating = pull_in_state(drive, going.row, state, speed / going.share)
    need = resistance(going, here, speed)
    rate = (pull - need) / (going.mass + rotating)
    return min(rate, highest_rate(here, need / going.mass))
