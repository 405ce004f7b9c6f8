"""The highest speed allowed along a route: limits, stops, and the way needed to slow down to them.

In each segment the limit stands until the machine has to slow down for what comes at its end;
from there it falls as a machine braking at a steady rate does, ``v^2 = v_end^2 + 2 b s``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.route import Route
from converter_match.curves import FloatArray


@dataclass(frozen=True, eq=False)
class AllowedSpeed:
    """What is allowed in each segment of a route; arrays of shape (segments,).

    Parameters
    ----------
    length : ndarray
        [m].
    limit : ndarray
        Away from the end of the segment [m/s].
    end : ndarray
        At its end [m/s]; 0 where the machine stops.
    stop : ndarray
        Time standing at its end [s]; NaN where the machine rolls on.
    braking : float
        Rate of slowing down [m/s^2].
    """

    length: FloatArray
    limit: FloatArray
    end: FloatArray
    stop: FloatArray
    braking: float

    @classmethod
    def of(cls, route: Route, fastest: ArrayLike, braking: float) -> AllowedSpeed:
        """Return what is allowed on a route.

        Parameters
        ----------
        route : Route
        fastest : array_like
            What the machine itself allows [m/s], one value or one for each segment.
        braking : float
            Rate of slowing down ahead of a limit [m/s^2].
        """
        limit = np.minimum(route.speed_limit, fastest)
        end = np.minimum(limit, np.append(limit[1:], np.inf))
        end = np.where(np.isnan(route.stops), end, 0.0)
        # From the last segment backwards: an end is no faster than the next one can be slowed from.
        square = (end * end).tolist()
        more = (2.0 * braking * route.length).tolist()
        for k in range(len(square) - 2, -1, -1):
            square[k] = min(square[k], square[k + 1] + more[k + 1])
        return cls(route.length, limit, np.sqrt(square), route.stops, braking)

    def at(self, segment: NDArray[np.intp], left: FloatArray) -> FloatArray:
        """Return what is allowed [m/s] some way before the end of a segment; they broadcast.

        Parameters
        ----------
        segment : ndarray of int
        left : ndarray
            Way to the end of the segment [m].
        """
        slowing = np.sqrt(self.end[segment] ** 2 + 2.0 * self.braking * left)
        return np.minimum(self.limit[segment], slowing)
