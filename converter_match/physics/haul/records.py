"""Records of plain numbers: what a march reads, what it knows of a draw, and what it writes down.

Compiled code reads and changes their fields by name, as any other code does.
"""

from __future__ import annotations

from typing import Any, NamedTuple, Protocol, get_type_hints

import numpy as np

Records = np.recarray[Any, Any]
"""Some of one kind; of `going`, say, `going[3].speed` is a number and `going.speed` an array."""


class StateRecord(Protocol):
    """A state of a `DriveChain`.

    Parameters
    ----------
    up_speed, down_speed : float
        Tread speeds at which it is left [m/s].
    up_to, down_to, gear : int
        Where to, and which gear it is.
    down_assumed : bool
        Whether no file gives the speed of the change down.
    chosen_up, chosen_down : bool
        Whether its shift speed is one at which the machine asks what pays, up and down.
    top, gear_top : float
        Tread speed at which its tables end, and the last ones of its gear [m/s].
    converter, locked : int
        States of its gear with the converter open, and locked up; the same where there is one.
    engages : float
        Tread speed from which on the gear counts as locked up [m/s].
    first : int
        Place of its first value in the tables.
    scale : float
        Places in them by tread speed [s/m].
    """

    up_speed: float
    down_speed: float
    up_to: int
    down_to: int
    gear: int
    down_assumed: bool
    chosen_up: bool
    chosen_down: bool
    top: float
    gear_top: float
    converter: int
    locked: int
    engages: float
    first: int
    scale: float


class SegmentRecord(Protocol):
    """What a segment of a road allows and asks for.

    Parameters
    ----------
    length, limit, end, stop : float
        As in `AllowedSpeed`.
    final : bool
        Whether the road ends here.
    mass, rolling, climbing, running_drag, air, grip, whole_grip, moved : float
        As in `SegmentLoads`.
    alike_ahead : float
        How far the road goes on alike behind it [m].
    lowest : int
        State in which a machine starts.
    """

    length: float
    limit: float
    end: float
    stop: float
    final: bool
    mass: float
    rolling: float
    climbing: float
    running_drag: float
    air: float
    grip: float
    whole_grip: float
    moved: float
    alike_ahead: float
    lowest: int


class DrawRecord(Protocol):
    """A draw on its way.

    Parameters
    ----------
    mass_factor, rolling_factor : float
        What it is drawn with.
    row : int
        How far its efforts lie behind the first in the tables.
    segment : int
    left : float
        Way to the end of the segment [m].
    speed, share : float
        Over ground [m/s], and that as a share of the tread's: 1 - slip.
    state : int
    fresh : bool
        Whether it has just shifted up into it.
    dead : float
        Time without drive still to come [s].
    waits : float
        Time to stand at a stop that is reached [s]; NaN where it drives.
    mass, ground : float
        What it weighs in the segment [kg], and what resists there without the air [N].
    steps, shifts : int
        Taken so far, and gear shifts among them.
    done : bool
        Whether it has arrived, or stands for good.
    stuck : int
        The step at which it stands for good; -1 otherwise.
    stuck_force : float
        Effort that it has there [N]; NaN otherwise.
    """

    mass_factor: float
    rolling_factor: float
    row: int
    segment: int
    left: float
    speed: float
    share: float
    state: int
    fresh: bool
    dead: float
    waits: float
    mass: float
    ground: float
    steps: int
    shifts: int
    done: bool
    stuck: int
    stuck_force: float


class StepRecord(Protocol):
    """A step, as in `SpeedProfile`.

    Parameters
    ----------
    segment, state : int
    length, time, left : float
    speed : float
        At its end [m/s].
    stands, held : bool
    better : int
    costs : float
    """

    segment: int
    state: int
    length: float
    time: float
    speed: float
    left: float
    stands: bool
    held: bool
    better: int
    costs: float


class Rules(NamedTuple):
    """What holds for all draws alike.

    Parameters
    ----------
    braking : float
        Rate of slowing down [m/s^2].
    shift_time : float
        Without drive at a gear change [s].
    looks_ahead : float
        Time after which it counts in which gear a machine is ahead [s].
    longest : float
        Longest step [m].
    span : float
        What a step may change the speed by, as a share of the state's range.
    bend, miss : float
        How far off a straight line the acceleration may be in the middle of a step: as a share of
        it, and where a balance lies in the step, as a share of its square of speed.
    question, coasting : float
        Longest step where another gear does not pay yet, and during a shift [s].
    most_steps : int
        Of a draw: more would never end.
    """

    braking: float
    shift_time: float
    looks_ahead: float
    longest: float
    span: float
    bend: float
    miss: float
    question: float
    coasting: float
    most_steps: int


def records(fields: type, count: int) -> Records:
    """Return so many records of nothing but zeros.

    Parameters
    ----------
    fields : type
        One of the classes here: its fields are those of the records.
    count : int
    """
    types = {float: np.float64, int: np.int64, bool: np.bool_}
    columns = [(name, types[kind]) for name, kind in get_type_hints(fields).items()]
    return np.zeros(count, dtype=np.dtype(columns, align=True)).view(np.recarray)
