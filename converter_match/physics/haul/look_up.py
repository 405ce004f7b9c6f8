"""Tables that a march reads: effort, rotating mass and slip of a drive, and when its states change.

Plain arrays and records of numbers, so that compiled code reads them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.haul.records import Records, StateRecord, records
from converter_match.physics.wheels.drive_chain import DriveChain, force_for_factors

_SLIP_POINTS = 129
# No state is left for the one below closer than this to the speed at which that one is left for it.
_LEAST_HYSTERESIS = 0.005


class Drive(NamedTuple):
    """Everything of a drive that can be tabulated, for draws of the engine's torque.

    Parameters
    ----------
    states : records of `StateRecord`, shape (states,)
    points : int
        Length of a table.
    force : ndarray
        Full-throttle effort over tread speed, table by table [N].
    rotating : ndarray, shape (states * points,)
        Mass of the rotating parts likewise [kg].
    kept : ndarray
        1 - slip, evenly from no use of the grip to all of it.
    """

    states: Records
    points: int
    force: FloatArray
    rotating: FloatArray
    kept: FloatArray


def drive_tables(
    chain: DriveChain,
    torque: FloatArray,
    parts: Sequence[DriveChain] = (),
    part: NDArray[np.intp] | None = None,
) -> tuple[Drive, NDArray[np.intp]]:
    """Return the tables, and how far each draw's efforts lie behind the first in theirs.

    Parameters
    ----------
    chain : DriveChain
        The states of all machines.
    torque : ndarray, shape (n,)
        Factor of each draw on the engine's torque before loads.
    parts : sequence of DriveChain, optional
        The machines whose states follow one another in the chain; the chain itself without. They
        differ in engine and converter only.
    part : ndarray of int, shape (n,), optional
        The machine of each draw.
    """
    points = chain.force.shape[1]
    row = np.zeros(torque.size, dtype=np.intp)
    tables, begins, states = [], 0, 0
    for number, own in enumerate(parts or (chain,)):
        which = np.flatnonzero(part == number) if parts else np.arange(torque.size)
        force = force_for_factors(own, torque[which], span=(torque.min(), torque.max()))
        line = np.arange(which.size) if force.shape[0] > 1 else 0
        row[which] = begins + line * own.force.size - states * points
        tables.append(force.reshape(-1))
        begins, states = begins + force.size, states + own.size
    slip = chain.drives[0].machine.slip
    drive = Drive(
        states=_states(chain),
        points=points,
        force=np.concatenate(tables),
        rotating=chain.rotating.flatten(),
        kept=1.0 - slip.at(np.linspace(0.0, 1.0, _SLIP_POINTS)),
    )
    return drive, row


def _states(chain: DriveChain) -> Records:
    found = records(StateRecord, chain.size)
    gear, each = chain.gear_index, range(chain.size)
    same = [[k for k in each if gear[k] == gear[state]] for state in each]
    points = chain.force.shape[1]
    for name in ("up_speed", "up_to", "down_to", "down_assumed", "top"):
        found[name] = getattr(chain, name)
    found.down_speed = np.minimum(
        chain.down_speed, (1.0 - _LEAST_HYSTERESIS) * chain.up_speed[chain.down_to]
    )
    found.gear = gear
    found.chosen_up = chain.up_assumed & (gear[chain.up_to] != gear)
    found.chosen_down = chain.down_assumed & (gear[chain.down_to] != gear)
    found.gear_top = [max(chain.top[k] for k in states) for states in same]
    found.converter = [states[0] for states in same]
    found.locked = [states[-1] for states in same]
    found.engages = chain.up_speed[found.converter]
    found.first = np.arange(chain.size) * points
    found.scale = (points - 1) / chain.top
    return found
