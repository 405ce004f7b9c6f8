"""The highest speed allowed along a route: limits, stops, and the way needed to slow down to them.

In each segment the limit stands until the machine has to slow down for what comes at its end;
from there it falls as a machine braking at a steady rate does, ``v^2 = v_end^2 + 2 b s``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

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
    roads : tuple of int, optional
        Number of segments of each road, where several stand here one behind the other. None leads
        on to the next.
    """

    length: FloatArray
    limit: FloatArray
    end: FloatArray
    stop: FloatArray
    braking: float
    roads: tuple[int, ...] = ()

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

    @classmethod
    def joined(cls, parts: Sequence[AllowedSpeed]) -> AllowedSpeed:
        """Return what is allowed on several roads."""
        length, limit, end, stop = (
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("length", "limit", "end", "stop")
        )
        roads = tuple(part.length.size for part in parts)
        return cls(length, limit, end, stop, parts[0].braking, roads)

    @cached_property
    def begins(self) -> NDArray[np.intp]:
        """The first segment of each road."""
        return np.append(0, np.cumsum(self.roads[:-1], dtype=np.intp)).astype(np.intp)

    @cached_property
    def final(self) -> NDArray[np.bool_]:
        """Whether each segment is the last one of its road."""
        final = np.zeros(self.length.size, dtype=bool)
        final[np.append(self.begins[1:], self.length.size) - 1] = True
        return final

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
