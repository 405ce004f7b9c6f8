"""Where a gearbox hunts on a route, or keeps a gear that is too high.

It hunts where it shifts up into a gear that does not keep the speed.
On one even stretch of road, with nothing to brake for, full throttle gives each gear one speed to
settle at. A gear that is taken at its shift speed and left again downwards there has no such speed
above its downshift: the shift was in vain, and comes again as long as the stretch goes on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.haul.loads import SegmentLoads
from converter_match.physics.haul.steps import SpeedProfile
from converter_match.physics.wheels.drive_chain import DriveChain

# Speeds that differ by less than this share are the same, one of them being worked out.
_AT = 1e-6


@dataclass(frozen=True, eq=False)
class Hunting:
    """Shifts up that are undone on the same stretch, for all draws of a run; arrays of shape (k,).

    Parameters
    ----------
    draw : ndarray of int
    up, down : ndarray of int
        Step that begins in the higher gear, and the one that begins back in the lower.
    state : ndarray of int
        State of the lower gear, before the shift.
    """

    draw: NDArray[np.intp]
    up: NDArray[np.intp]
    down: NDArray[np.intp]
    state: NDArray[np.intp]

    def counts(self, draws: int) -> NDArray[np.intp]:
        """Return how often each of so many draws shifts up in vain, shape (draws,)."""
        return np.bincount(self.draw, minlength=draws)


def hunting(
    chain: DriveChain, allowed: AllowedSpeed, loads: SegmentLoads, profile: SpeedProfile
) -> Hunting:
    """Return the shifts of a run that are made in vain.

    Parameters
    ----------
    chain, allowed, loads : DriveChain, AllowedSpeed, SegmentLoads
        As the profile was computed with.
    profile : SpeedProfile
    """
    gear = chain.gear_index[profile.state]
    later, draw = np.nonzero((gear[1:] != gear[:-1]) & (profile.length[1:] > 0.0))
    order = np.lexsort((later, draw))
    step, draw = later[order] + 1, draw[order]
    if step.size < 2:
        none = np.zeros(0, dtype=np.intp)
        return Hunting(none, none, none, none)
    before, behind = gear[step - 1, draw], gear[step, draw]
    segment = profile.segment[step, draw]
    stretch = stretches(allowed, loads)[segment]
    first, next_ = slice(0, -1), slice(1, None)
    undone = (draw[first] == draw[next_]) & (stretch[first] == stretch[next_])
    undone &= (behind[first] > before[first]) & (behind[next_] == before[first])
    undone &= ~_brakes(allowed, profile, step, draw)[next_]
    at = np.flatnonzero(undone)
    state = profile.state[step[at] - 1, draw[at]].astype(np.intp)
    return Hunting(draw[at], step[at], step[at + 1], state)


def stretches(allowed: AllowedSpeed, loads: SegmentLoads) -> NDArray[np.intp]:
    """Return the number of the stretch of road that goes on alike, for each segment.

    Parameters
    ----------
    allowed, loads : AllowedSpeed, SegmentLoads
    """
    return np.append(0, np.cumsum(loads.alike_ahead(allowed)[:-1] == 0.0))


def hysteresis_costs(
    allowed: AllowedSpeed, loads: SegmentLoads, profile: SpeedProfile
) -> FloatArray:
    """Return what it costs to be kept in a slower state, shape (stretches, draws) [s].

    The speeds of the file keep it: see `gear_choice.kept_from`.

    Parameters
    ----------
    allowed, loads, profile
        As for `hunting`.
    """
    number = stretches(allowed, loads)
    saved = np.zeros((int(number[-1]) + 1, profile.costs.shape[1]))
    draw = np.broadcast_to(np.arange(saved.shape[1]), profile.costs.shape)
    np.maximum.at(saved, (number[profile.segment], draw), profile.costs)
    return saved


def _brakes(
    allowed: AllowedSpeed, profile: SpeedProfile, step: NDArray[np.intp], draw: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Return whether the machine is slowed down for what is ahead where steps begin."""
    segment = profile.segment[step, draw]
    left: FloatArray = profile.left[step, draw] + profile.length[step, draw]
    most = allowed.at(segment, left)
    slowed = most < allowed.limit[segment] * (1.0 - _AT)
    return np.asarray(slowed & (profile.speed[step, draw] >= most * (1.0 - _AT)))
