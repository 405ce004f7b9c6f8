"""Where an engine and what is taken of it are in balance: every change of sign of the excess.

All changes of sign are found on a grid of engine speeds that the caller lays, and closed in by
false position. An engine that is led from one load to the next stays with its balance as long as
that is there, and goes up where it has torque to spare, down where it lacks torque.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray

_TOLERANCE = 1e-13


@dataclass(frozen=True, eq=False)
class Balances:
    """Engine speeds at which what the engine gives and what is taken of it agree.

    Parameters
    ----------
    speed : ndarray, shape (r, n)
        [rad/s], rising along axis 0, NaN where there is none.
    stable : ndarray of bool, shape (r, n)
        Whether the engine returns to it.
    spare_below : ndarray of bool, shape (n,)
        Whether the engine has torque to spare at the lowest speed that is looked at.
    """

    speed: FloatArray
    stable: NDArray[np.bool_]
    spare_below: NDArray[np.bool_]

    def from_idle(self) -> FloatArray:
        """Return the first balance of an engine that comes up from its lowest speed, (n,)."""
        return np.where(self.spare_below, self.speed[0], np.nan)

    def followed(self, order: Iterable[int], begin: FloatArray | float) -> FloatArray:
        """Return the balance at each place as an engine comes to it that is led from one to next.

        Parameters
        ----------
        order : iterable of int
            The places, in the order in which they are come to.
        begin : float
            Engine speed before the first [rad/s]; NaN for one that comes up from idle there.

        Returns
        -------
        ndarray, shape (n,)
            [rad/s]; NaN where the engine is lugged down, or has torque left beyond its known
            speeds.
        """
        path = np.full(self.speed.shape[1], np.nan)
        now = float(begin)
        for k in order:
            now = self.next_to(int(k), now)
            path[k] = now if math.isfinite(now) else np.nan
        return path

    def next_to(self, place: int, now: float) -> float:
        """Return the balance at a place that an engine goes to from a speed near it.

        Parameters
        ----------
        place : int
        now : float
            [rad/s]; NaN for an engine that comes up from idle.

        Returns
        -------
        float
            [rad/s]; infinite where it has torque left beyond its known speeds, NaN where it is
            lugged down.
        """
        roots = self._columns[place]
        if math.isnan(now):
            now = -math.inf  # comes up from idle again, if it can
        below = bisect_left(roots, now)
        if below < len(roots) and roots[below] == now:
            return now
        # The excess changes its sign at each root.
        if self._spare[place] == (below % 2 == 0):
            return roots[below] if below < len(roots) else math.inf
        return roots[below - 1] if below > 0 else math.nan

    def rank(self, place: int, speed: float) -> int:
        """Return which of the balances at a place has a speed [rad/s]."""
        return self._columns[place].index(speed)

    @cached_property
    def _columns(self) -> list[list[float]]:
        count = np.isfinite(self.speed).sum(axis=0)
        columns = zip(self.speed.T.tolist(), count.tolist(), strict=True)
        return [column[:known] for column, known in columns]

    @cached_property
    def _spare(self) -> list[bool]:
        return [bool(value) for value in self.spare_below]


def balances(
    excess: Callable[[FloatArray, NDArray[np.intp]], FloatArray], grid: FloatArray
) -> Balances:
    """Return every balance between engine and load.

    Parameters
    ----------
    excess : callable
        Of (engine speeds [rad/s], rows): torque that the engine has to spare, scaled to the size
        of 1.
    grid : ndarray, shape (n, m)
        Engine speeds of each row, rising, at which to look; NaN rows have no balance.
    """
    rows, columns = grid.shape
    known = np.asarray(np.isfinite(grid).all(axis=1))
    safe = np.where(known[:, np.newaxis], grid, 1.0)
    each = np.repeat(np.arange(rows), columns)
    values = np.full(grid.shape, np.nan)
    inside = np.repeat(known, columns)
    values.ravel()[inside] = excess(safe.ravel()[inside], each[inside])
    # A balance at the end of the data, but for a rounding error, is one.
    for end in (0, -1):
        ends = np.abs(values[:, end]) <= 1e-11
        values[ends, end] = 0.0
    with np.errstate(invalid="ignore"):
        above = values > 0.0
        above[:, 0] |= values[:, 0] == 0.0
        row, cell = np.nonzero(known[:, np.newaxis] & (above[:, :-1] != above[:, 1:]))
    place, _ = closed_in(
        lambda omega, which: excess(omega, row[which]),
        (grid[row, cell], grid[row, cell + 1]),
        (values[row, cell], values[row, cell + 1]),
    )
    falls = np.asarray(above[row, cell])
    rank = np.arange(row.size) - np.searchsorted(row, row, side="left")
    most = 1 + int(rank.max(initial=0))
    speed, stable = np.full((most, rows), np.nan), np.zeros((most, rows), dtype=bool)
    speed[rank, row], stable[rank, row] = place, falls
    return Balances(speed, stable, known & above[:, 0])


def closed_in(
    excess: Callable[[FloatArray, NDArray[np.intp]], FloatArray],
    bracket: tuple[FloatArray, FloatArray],
    values: tuple[FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """Close brackets by false position with the Illinois correction; return places and excess.

    Parameters
    ----------
    excess : callable
        Of (places, rows of the bracket they belong to), scaled to the size of 1.
    bracket, values : tuple of ndarray, shape (n,)
        Places at both ends, and the excess there.
    """
    (a, b), (at_a, at_b) = bracket, values
    a, b, at_a, at_b = a.copy(), b.copy(), at_a.copy(), at_b.copy()
    # An end that is the answer already, or is next to a gap in the data, stays.
    place = np.where(at_b == 0, b, a)
    left = np.where(at_b == 0, at_b, at_a)
    going = np.isfinite(at_a) & np.isfinite(at_b) & (at_a != 0) & (at_b != 0)
    for _ in range(60):
        i = np.flatnonzero(going)
        if not i.size:
            break
        middle = b[i] - at_b[i] * (b[i] - a[i]) / (at_b[i] - at_a[i])
        # Rounding may carry it out of the bracket, and so out of the data.
        middle = np.clip(middle, np.minimum(a[i], b[i]), np.maximum(a[i], b[i]))
        value = excess(middle, i)
        lost = ~np.isfinite(value)
        value = np.where(lost, 0.0, value)
        swap = value * at_b[i] < 0
        a[i] = np.where(swap, b[i], a[i])
        at_a[i] = np.where(swap, at_b[i], 0.5 * at_a[i])
        b[i], at_b[i] = middle, value
        place[i], left[i] = np.where(lost, np.nan, middle), value
        small = np.abs(value) <= _TOLERANCE
        going[i] = ~(small | lost | (np.abs(b[i] - a[i]) <= 1e-15 * np.abs(b[i])))
    return place, left
