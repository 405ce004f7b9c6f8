"""What pulls a machine on a route, what holds it back, and what the ground lets through."""

from __future__ import annotations

import math

from converter_match.physics.haul.look_up import Drive
from converter_match.physics.haul.records import DrawRecord, SegmentRecord, StateRecord
from converter_match.tasks.compiled import compiled

_INSIDE = 1e-6  # what keeps the last value of a table out of a cell of its own


@compiled
def pull_in_state(drive: Drive, row: int, state: int, tread: float) -> tuple[float, float]:
    """Return full-throttle effort [N] and rotating mass [kg] at a tread speed [m/s].

    Parameters
    ----------
    drive : Drive
    row : int
        Of the draw, as `look_up.drive_tables` returns it.
    state : int
    tread : float
    """
    own: StateRecord = drive.states[state]
    x = min(tread * own.scale, drive.points - 1.0 - _INSIDE)
    if not x >= 0.0:  # machine code would read on whatever stands there in memory
        raise ValueError("no such place in the tables of a drive")
    cell = int(x)
    x -= cell
    cell += own.first
    low, high = drive.rotating[cell], drive.rotating[cell + 1]
    rotating = low + x * (high - low)
    cell += row
    low, high = drive.force[cell], drive.force[cell + 1]
    return low + x * (high - low), rotating


@compiled
def pull_in_gear(drive: Drive, row: int, state: int, tread: float) -> tuple[float, float]:
    """Return effort [N] and rotating mass [kg] in a gear that was entered in a state.

    A converter locks up from its speed on, and one that is locked up opens at its own.

    Parameters
    ----------
    drive, row, state, tread
        As for `pull_in_state`.
    """
    own: StateRecord = drive.states[state]
    locks = tread > (own.down_speed if state == own.locked else own.engages)
    return pull_in_state(drive, row, own.locked if locks else own.converter, tread)


@compiled
def share_kept(drive: Drive, force: float, grip: float) -> float:
    """Return 1 - slip at an effort [N] with a limit [N]."""
    last = drive.kept.size - 1.0 - _INSIDE
    use = 0.0
    if force > 0.0:
        use = min(force / grip, 1.0) * last if grip > 0.0 else last
    cell = int(use)
    low, high = drive.kept[cell], drive.kept[cell + 1]
    share: float = low + (use - cell) * (high - low)
    return share


@compiled
def resistance(going: DrawRecord, here: SegmentRecord, speed: float) -> float:
    """Return what resists at a speed [N]: ground and slope, running drag, and the air.

    Parameters
    ----------
    going : record of `DrawRecord`
    here : record of `SegmentRecord`
    speed : float
        Over ground [m/s].
    """
    return going.ground + here.air * speed * speed


@compiled
def highest_rate(here: SegmentRecord, need: float) -> float:
    """Return the highest acceleration that the ground allows [m/s^2]: `road_load.grip_rate`.

    Parameters
    ----------
    here : record of `SegmentRecord`
    need : float
        Resistance of a unit of mass [N/kg].
    """
    left = 1.0 - here.moved
    rate = (here.grip - need) / left if left > 0.0 else math.inf
    return min(max(rate, -need), here.whole_grip - need)


@compiled
def grip_of(here: SegmentRecord, rate: float) -> float:
    """Return the adhesion limit at an acceleration, of a unit of mass: `road_load.grip_at`.

    Parameters
    ----------
    here : record of `SegmentRecord`
    rate : float
        [m/s^2].
    """
    return min(max(here.grip + here.moved * rate, 0.0), here.whole_grip)
