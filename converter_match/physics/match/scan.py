"""Matching by scan, for a torque factor of its own at every point: bracket, then polish."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply, cubic_with_slope
from converter_match.physics.match.newton import polished

# Cells a knot interval is cut into to look for changes of sign.
_CELLS = 4
# Products of points and cells handled at once: keeps memory bounded for any number of points.
_CHUNK = 1 << 18
# An excess smaller than this share of what it is the difference of has a sign by chance.
_ROUNDING = 1e-12


def by_scan(
    supply: TorqueSupply, capacity: FloatArray, factor: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return (speeds, stable), shape (r, n), for capacities and torque factors (n,).

    Parameters
    ----------
    supply : TorqueSupply
    capacity, factor : ndarray, shape (n,)
        C [N.m/(rad/s)^2], and the factor on the torque before loads.
    """
    cells = _cells(supply)
    found: list[tuple[NDArray[np.intp], NDArray[np.intp], FloatArray, NDArray[np.bool_]]] = []
    step = max(_CHUNK // cells.nodes.size, 1)
    for start in range(0, capacity.size, step):
        c, f = capacity[start : start + step], factor[start : start + step]
        point, omega, falling = _crossings(cells, c, f)
        # Rank of each crossing among those of its own point: they come sorted by point and speed.
        first_of_point = np.searchsorted(point, point, side="left")
        found.append((np.arange(point.size) - first_of_point, point + start, omega, falling))
    rows = 1 + max((int(rank.max()) for rank, *_ in found if rank.size), default=0)
    speed = np.full((rows, capacity.size), np.nan)
    stable = np.zeros(speed.shape, dtype=bool)
    for rank, point, omega, falling in found:
        speed[rank, point] = omega
        stable[rank, point] = falling
    return speed, stable


@dataclass(frozen=True, eq=False)
class _Cells:
    """Stretches of engine speed, each within one cubic of torque and of loads.

    Parameters
    ----------
    nodes : ndarray, shape (m + 1,)
        Where cells begin and end [rad/s].
    source, load : ndarray, shape (m + 1,)
        Torque before loads, and loads, at the nodes [N.m].
    source_pieces, load_pieces : ndarray, shape (4, m)
        The cubics of each cell.
    origin : ndarray, shape (m,)
        Where the cubic of a cell begins [rad/s].
    laws : tuple of PowerLaw
        Loads that are no cubics.
    """

    nodes: FloatArray
    source: FloatArray
    load: FloatArray
    source_pieces: FloatArray
    load_pieces: FloatArray
    origin: FloatArray
    laws: tuple[PowerLaw, ...]

    def law(self, cell: NDArray[np.intp], capacity: FloatArray, factor: FloatArray) -> _CellLaw:
        """Return the excess of points that each have a cell of their own, (n,)."""
        cubic = factor * self.source_pieces.take(cell, axis=1)
        cubic -= self.load_pieces.take(cell, axis=1)
        return _CellLaw(cubic, self.origin.take(cell), capacity, self.laws)

    def excess(self, node: NDArray[np.intp], c: FloatArray, factor: FloatArray) -> FloatArray:
        """Return the excess of every point at some nodes, (k, n)."""
        source, load, speed = (part[node, np.newaxis] for part in
                               (self.source, self.load, self.nodes))  # fmt: skip
        return np.asarray(factor * source - load - c * speed**2)

    def steepest(self, capacity: float, factor: float) -> FloatArray:
        """Return for each cell a bound on the slope of the excess for any point, (m,)."""
        start, end = self.nodes[:-1], self.nodes[1:]
        t = np.maximum(start - self.origin, end - self.origin)

        def bound(pieces: FloatArray) -> FloatArray:
            a, b, q, _ = np.abs(pieces)
            return np.asarray((3.0 * a * t + 2.0 * b) * t + q)

        steepest = factor * bound(self.source_pieces) + bound(self.load_pieces)
        for law in self.laws:
            steepest += np.maximum(np.abs(law.slope(start)), np.abs(law.slope(end)))
        return np.asarray(steepest + 2.0 * capacity * end)


@lru_cache(maxsize=64)
def _cells(supply: TorqueSupply) -> _Cells:
    """Return the cells of a supply, which is immutable and compared by identity."""
    nodes = supply.nodes(_CELLS)
    piece = supply.piece_of(nodes[:-1])
    return _Cells(
        nodes,
        supply.factor * supply.source(nodes),
        supply.load_torque(nodes),
        supply.factor * supply.source_pieces[:, piece],
        supply.load_pieces[:, piece],
        supply.knots[piece],
        supply.other_laws,
    )


def _open_cells(
    cells: _Cells, c: FloatArray, factor: FloatArray, loss: FloatArray
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the cells in which some point may match, and which of them may hide a turn.

    Excess and slope are linear in capacity and factor: what holds at the four corners of their
    ranges holds for every point.
    """
    ends = np.meshgrid([c.min(), c.max()], [factor.min(), factor.max()])
    capacity, torque = (end.ravel() for end in ends)
    made, speed = cells.source[:, np.newaxis], cells.nodes[:, np.newaxis]
    excess = cells.excess(np.arange(cells.nodes.size), capacity, torque)
    lost = _ROUNDING * np.max(torque * np.abs(made) + np.abs(capacity) * speed**2, axis=1)
    above, below = excess.min(axis=1) > lost, excess.max(axis=1) < -lost
    every = np.repeat(np.arange(cells.origin.size), capacity.size)
    law = cells.law(every, np.tile(capacity, cells.origin.size), np.tile(torque, cells.origin.size))
    at_start, at_end = (
        law.excess(np.repeat(end, capacity.size))[1].reshape(-1, capacity.size)
        for end in (cells.nodes[:-1], cells.nodes[1:])
    )
    near = ~(above[:-1] | below[:-1]) | (np.min(np.abs(excess[:-1]), axis=1) <= loss)
    dips = near & (at_start < 0.0).any(axis=1) & (at_end > 0.0).any(axis=1)
    crests = near & (at_start > 0.0).any(axis=1) & (at_end < 0.0).any(axis=1)
    none = (above[:-1] & above[1:] & ~dips) | (below[:-1] & below[1:] & ~crests)
    looked_at = np.flatnonzero(~none)
    return looked_at, np.flatnonzero((dips | crests)[looked_at])


def _crossings(
    cells: _Cells, c: FloatArray, factor: FloatArray
) -> tuple[NDArray[np.intp], FloatArray, NDArray[np.bool_]]:
    """Return (point, speed, falling) of every change of sign, sorted by point and speed."""
    # Only an excess no larger than this can be lost and won back within a cell.
    steepest = cells.steepest(float(np.max(np.abs(c))), float(np.max(factor)))
    loss = np.diff(cells.nodes) * steepest
    looked_at, turning = _open_cells(cells, c, factor, loss)
    node = np.union1d(looked_at, looked_at + 1)
    excess = cells.excess(node, c, factor)
    first = np.searchsorted(node, looked_at)
    above = excess > 0
    before, behind = above[first], above[first + 1]
    row, point = _where(before != behind)
    cell, falling = looked_at[row], before[row, point]
    low, high = cells.nodes[cell], cells.nodes[cell + 1]
    # Two crossings inside one cell leave no change of sign at its ends: look for the turn between.
    small = np.abs(excess[first[turning]]) <= loss[looked_at[turning], np.newaxis]
    row, at = _where(small & (before[turning] == behind[turning]))
    row = turning[row]
    twin, at, up, turn = _hidden_turns(
        cells, looked_at[row], at, before[row, at], c, factor, steepest
    )
    cell = np.concatenate([cell, twin, twin])
    point = np.concatenate([point, at, at])
    low = np.concatenate([low, cells.nodes[twin], turn])
    high = np.concatenate([high, turn, cells.nodes[twin + 1]])
    falling = np.concatenate([falling, up, ~up])
    law = cells.law(cell, c[point], factor[point])
    at_low, at_high = law.excess(low)[0], law.excess(high)[0]
    share = np.clip(at_low / np.where(at_low == at_high, 1.0, at_low - at_high), 0.0, 1.0)
    omega = polished(law.excess, low + share * (high - low), low, high, falling)
    order = np.lexsort((omega, point))
    return point[order], omega[order], falling[order]


def _hidden_turns(
    cells: _Cells,
    cell: NDArray[np.intp],
    point: NDArray[np.intp],
    up: NDArray[np.bool_],
    c: FloatArray,
    factor: FloatArray,
    steepest: FloatArray,
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.bool_], FloatArray]:
    """Return (cell, point, up, speed) where the excess turns inside a cell, across zero.

    Cells of points are given whose excess is above zero at both ends (`up`), or at neither.
    """
    law = cells.law(cell, c[point], factor[point])
    low, high = cells.nodes[cell], cells.nodes[cell + 1]
    at_low, at_high = law.excess(low)[1], law.excess(high)[1]
    dips, crests = (at_low < 0) & (at_high > 0) & up, (at_low > 0) & (at_high < 0) & ~up
    keep = np.flatnonzero(dips | crests)
    cell, point, low, high, up = cell[keep], point[keep], low[keep], high[keep], up[keep]
    if not keep.size:
        return cell, point, up, low
    law, steepest = cells.law(cell, c[point], factor[point]), steepest.take(cell)
    going = np.arange(keep.size)
    for _ in range(55):  # bisection to the last bit
        middle = 0.5 * (low[going] + high[going])
        value, slope = law.excess(middle, going)
        before = (slope < 0) == up[going]
        low[going] = np.where(before, middle, low[going])
        high[going] = np.where(before, high[going], middle)
        # What is left of the bracket may be too short to lose the excess in.
        left = steepest[going] * (high[going] - low[going])
        going = going[((value > 0) != up[going]) | (np.abs(value) <= left)]
        if not going.size:
            break
    crosses = np.zeros(keep.size, dtype=bool)
    crosses[going] = (law.excess(low[going], going)[0] > 0) != up[going]
    return cell[crosses], point[crosses], up[crosses], low[crosses]


def _where(marked: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return (row, column) of what is marked: `numpy.nonzero`, which is slower for a table."""
    row, column = np.divmod(np.flatnonzero(marked), marked.shape[1])
    return row, column


@dataclass(frozen=True, eq=False)
class _CellLaw:
    """The excess of net over absorbed torque for points that each have a cell of their own."""

    cubic: FloatArray
    origin: FloatArray
    capacity: FloatArray
    laws: tuple[PowerLaw, ...]

    def excess(
        self, omega: FloatArray, pick: NDArray[np.intp] | slice = slice(None)
    ) -> tuple[FloatArray, FloatArray]:
        # A slice takes no copy; `take` is faster than an index for the others.
        if isinstance(pick, slice):
            cubic = self.cubic[:, pick]
        else:
            cubic = self.cubic.take(pick, axis=1)
        torque, slope = cubic_with_slope(cubic, self.origin[pick], omega, self.laws)
        absorbed = self.capacity[pick] * omega
        return torque - absorbed * omega, slope - 2.0 * absorbed
