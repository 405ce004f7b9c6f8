"""A route cut into short steps, and the highest speed allowed at each of their ends.

The ceiling follows the speed limits, the stops and the speed the driveline allows; before a lower
limit it falls as a machine braking at a steady rate does, ``v^2 = v_limit^2 + 2 b s``: the lowest
of all such parabolas, found in one pass from the end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.components.route import Route
from converter_match.curves import FloatArray

LONGEST_STEP = 10.0
# Steps after a stop, where speed changes fastest with distance [m].
_FIRST_STEPS = (0.25, 0.25, 0.5, 1.0, 1.0, 2.0, 2.0, 3.0, 5.0, 5.0, 5.0, 5.0)


@dataclass(frozen=True, eq=False)
class RouteSteps:
    """Steps of a route; arrays of shape (n,).

    Parameters
    ----------
    segment : ndarray of int
        Segment of each step, counted from 0.
    length : ndarray
        [m]; 0 for a stop.
    stop_time : ndarray
        Time standing [s]; 0 for a step that is driven.
    """

    segment: NDArray[np.intp]
    length: FloatArray
    stop_time: FloatArray

    @property
    def distance(self) -> FloatArray:
        """Distance at the ends of the steps from the start, shape (n + 1,) [m]."""
        return np.concatenate([[0.0], np.cumsum(self.length)])

    @property
    def is_stop(self) -> NDArray[np.bool_]:
        """Whether the machine stands in the step."""
        return np.asarray(self.length == 0.0)


def route_steps(route: Route, longest: float = LONGEST_STEP) -> RouteSteps:
    """Cut a route into steps of at most `longest` [m], finer after each stop.

    Parameters
    ----------
    route : Route
    longest : float
        Also scales the fine steps after a stop, so that halving it halves every step.
    """
    fine = np.array(_FIRST_STEPS) * (longest / LONGEST_STEP)
    edges = np.concatenate([[0.0], np.cumsum(route.length)])
    segments: list[NDArray[np.intp]] = []
    lengths: list[FloatArray] = []
    times: list[FloatArray] = []
    since_stop = 0.0
    marks = np.cumsum(fine)
    for k, stop in enumerate(route.stops):
        span = float(edges[k + 1] - edges[k])
        inner = marks[(marks > since_stop * (1 + 1e-12)) & (marks < since_stop + span)] - since_stop
        rest = span - (float(inner[-1]) if inner.size else 0.0)
        count = max(int(np.ceil(rest / longest - 1e-9)), 1)
        start = float(inner[-1]) if inner.size else 0.0
        ends = np.concatenate([inner, start + rest * np.arange(1, count + 1) / count])
        steps = np.diff(np.concatenate([[0.0], ends]))
        steps = steps[steps > 1e-9 * span]
        segments.append(np.full(steps.size, k))
        lengths.append(steps)
        times.append(np.zeros(steps.size))
        since_stop += span
        if not np.isnan(stop):
            segments.append(np.array([k]))
            lengths.append(np.zeros(1))
            times.append(np.array([float(stop)]))
            since_stop = 0.0
    return RouteSteps(np.concatenate(segments), np.concatenate(lengths), np.concatenate(times))


def speed_ceiling(steps: RouteSteps, route: Route, fastest: float, braking: float) -> FloatArray:
    """Return the highest speed allowed at the ends of the steps, shape (n + 1,) [m/s].

    Parameters
    ----------
    steps : RouteSteps
    route : Route
    fastest : float
        What the machine itself allows [m/s].
    braking : float
        Rate of slowing down ahead of a limit [m/s^2].
    """
    allowed = np.minimum(route.speed_limit, fastest)[steps.segment]
    ends = np.empty(allowed.size + 1)
    ends[0], ends[-1] = allowed[0], allowed[-1]
    ends[1:-1] = np.minimum(allowed[:-1], allowed[1:])
    stands = np.flatnonzero(steps.is_stop)
    ends[stands] = ends[stands + 1] = 0.0
    reach = ends**2 + 2.0 * braking * steps.distance
    lowest = np.minimum.accumulate(reach[::-1])[::-1]
    return np.sqrt(np.maximum(lowest - 2.0 * braking * steps.distance, 0.0))
