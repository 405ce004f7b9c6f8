"""What a march over a route wrote down: speed, time and state of every draw, step by step."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray


@dataclass(frozen=True, eq=False)
class SpeedProfile:
    """Speed, time and state over the steps of every draw; arrays of shape (steps, draws).

    A draw that has arrived, or stands for good, has steps of no length and no time at its end.

    Parameters
    ----------
    segment : ndarray of int
        Segment of each step, counted from 0.
    length, time : ndarray
        [m], [s].
    speed : ndarray, shape (steps + 1, draws)
        At the ends of the steps [m/s].
    state : ndarray of int
        Index into the chain.
    stands : ndarray of bool
        Whether the machine stands at a stop.
    held : ndarray of bool
        Whether a gear is held that would be left for a next one that cannot keep the speed.
    better : ndarray of int
        State in which the machine would be faster, where the speeds of the driveline's file keep
        it from that; else its own.
    costs : ndarray
        Time by which it would be sooner at the end of the stretch there [s].
    left : ndarray
        Way from the end of the step to the end of its segment [m].
    stuck : ndarray of int, shape (draws,)
        Step at which the machine stands and cannot move on; -1 where it arrives.
    stuck_force : ndarray, shape (draws,)
        Effort that it has there [N], grip considered; NaN where it arrives.
    shifts : ndarray of int, shape (draws,)
        Number of gear shifts.
    """

    segment: NDArray[np.intp]
    length: FloatArray
    time: FloatArray
    speed: FloatArray
    state: NDArray[np.int16]
    stands: NDArray[np.bool_]
    held: NDArray[np.bool_]
    better: NDArray[np.int16]
    costs: FloatArray
    left: FloatArray
    stuck: NDArray[np.intp]
    stuck_force: FloatArray
    shifts: NDArray[np.intp]

    def picked(self, draws: slice) -> SpeedProfile:
        """Return some of the draws."""
        return SpeedProfile(*(getattr(self, field.name)[..., draws] for field in fields(self)))

    def of_road(self, draws: slice, segment: int, state: int) -> SpeedProfile:
        """Return the draws of a road as if it were alone.

        Parameters
        ----------
        draws : slice
        segment, state : int
            Its first segment, and the first state of its machine.
        """
        own = self.picked(draws)
        moves = np.flatnonzero((own.time > 0.0).any(axis=1))
        steps = 1 + max(int(moves[-1]) if moves.size else 0, int(own.stuck.max()))
        return replace(
            own,
            segment=own.segment[:steps] - segment,
            length=own.length[:steps],
            time=own.time[:steps],
            speed=own.speed[: steps + 1],
            state=own.state[:steps] - np.int16(state),
            stands=own.stands[:steps],
            held=own.held[:steps],
            better=own.better[:steps] - np.int16(state),
            costs=own.costs[:steps],
            left=own.left[:steps],
        )

    @property
    def distance(self) -> FloatArray:
        """Distance from the start at the ends of the steps, shape (steps + 1, draws) [m]."""
        start = np.zeros((1, self.length.shape[1]))
        return np.concatenate([start, np.cumsum(self.length, axis=0)])
