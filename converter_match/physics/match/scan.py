"""Matching by scan, for a torque factor of its own at every point: bracket, then polish."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply, cubic_with_slope
from converter_match.physics.match.newton import polished

# Cells a knot interval is cut into to look for changes of sign.
_CELLS = 4
# Products of points and cells handled at once: keeps memory bounded for any number of points.
_CHUNK = 1 << 18


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
    nodes = supply.nodes(_CELLS)
    source, load = supply.factor * supply.source(nodes), supply.load_torque(nodes)
    found: list[tuple[NDArray[np.intp], NDArray[np.intp], FloatArray, NDArray[np.bool_]]] = []
    step = max(_CHUNK // nodes.size, 1)
    for start in range(0, capacity.size, step):
        c, f = capacity[start : start + step], factor[start : start + step]
        excess = f * source[:, np.newaxis] - load[:, np.newaxis] - c * (nodes**2)[:, np.newaxis]
        point, omega, falling = _crossings(supply, nodes, excess, c, f)
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


def _crossings(
    supply: TorqueSupply, nodes: FloatArray, excess: FloatArray, c: FloatArray, factor: FloatArray
) -> tuple[NDArray[np.intp], FloatArray, NDArray[np.bool_]]:
    """Return (point, speed, falling) of every change of sign, sorted by point and speed."""
    above = excess > 0
    cell, point = _where(above[:-1] != above[1:])
    low, high, falling = nodes[cell], nodes[cell + 1], above[cell, point]
    # Two crossings inside one cell leave no change of sign at its ends: look for the turn between.
    twin, at, turn = _hidden_turns(supply, nodes, excess, c, factor)
    cell = np.concatenate([cell, twin, twin])
    point = np.concatenate([point, at, at])
    low = np.concatenate([low, nodes[twin], turn])
    high = np.concatenate([high, turn, nodes[twin + 1]])
    falling = np.concatenate([falling, above[twin, at], ~above[twin, at]])
    law = _CellLaw.of(supply, nodes[cell], c[point], factor[point])
    at_low, at_high = law.excess(low)[0], law.excess(high)[0]
    share = np.clip(at_low / np.where(at_low == at_high, 1.0, at_low - at_high), 0.0, 1.0)
    omega = polished(law.excess, low + share * (high - low), low, high, falling)
    order = np.lexsort((omega, point))
    return point[order], omega[order], falling[order]


def _hidden_turns(
    supply: TorqueSupply, nodes: FloatArray, excess: FloatArray, c: FloatArray, factor: FloatArray
) -> tuple[NDArray[np.intp], NDArray[np.intp], FloatArray]:
    """Return (cell, point, speed) where the excess turns inside a cell, across zero."""
    # Only an excess small enough to be lost within the cell needs the closer look.
    width = np.diff(nodes)
    steepest = _steepest(supply, nodes, float(np.max(np.abs(c))), float(np.max(factor)))
    above = excess > 0
    near = (above[:-1] == above[1:]) & (np.abs(excess[:-1]) <= (width * steepest)[:, np.newaxis])
    cell, point = _where(near)
    law = _CellLaw.of(supply, nodes[cell], c[point], factor[point])
    up = above[cell, point]
    low, high = nodes[cell], nodes[cell + 1]
    dips = (law.excess(low)[1] < 0) & (law.excess(high)[1] > 0) & up
    crests = (law.excess(low)[1] > 0) & (law.excess(high)[1] < 0) & ~up
    keep = np.flatnonzero(dips | crests)
    if not keep.size:
        return cell[keep], point[keep], low[keep]
    cell, point, low, high, up = cell[keep], point[keep], low[keep], high[keep], up[keep]
    law = _CellLaw.of(supply, nodes[cell], c[point], factor[point])
    for _ in range(55):  # bisection to the last bit
        middle = 0.5 * (low + high)
        before = (law.excess(middle)[1] < 0) == up
        low, high = np.where(before, middle, low), np.where(before, high, middle)
    crosses = (law.excess(low)[0] > 0) != up
    return cell[crosses], point[crosses], low[crosses]


def _where(marked: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return (row, column) of what is marked: `numpy.nonzero`, which is slower for a table."""
    row, column = np.divmod(np.flatnonzero(marked), marked.shape[1])
    return row, column


def _steepest(
    supply: TorqueSupply, nodes: FloatArray, capacity: float, factor: float
) -> FloatArray:
    """Return for each cell a bound on the slope of the excess for any point."""
    piece = supply.piece_of(nodes[:-1])
    low, high = (end - supply.knots[piece] for end in (nodes[:-1], nodes[1:]))

    def bound(pieces: FloatArray) -> FloatArray:
        a, b, q, _ = np.abs(pieces[:, piece])
        t = np.maximum(low, high)
        return np.asarray((3.0 * a * t + 2.0 * b) * t + q)

    steepest = factor * supply.factor * bound(supply.source_pieces) + bound(supply.load_pieces)
    for law in supply.other_laws:
        steepest += np.maximum(np.abs(law.slope(nodes[:-1])), np.abs(law.slope(nodes[1:])))
    return np.asarray(steepest + 2.0 * capacity * nodes[1:])


@dataclass(frozen=True, eq=False)
class _CellLaw:
    """The excess of net over absorbed torque for points that each have a cell of their own."""

    cubic: FloatArray
    origin: FloatArray
    capacity: FloatArray
    laws: tuple[PowerLaw, ...]

    @classmethod
    def of(
        cls, supply: TorqueSupply, cell_start: FloatArray, capacity: FloatArray, factor: FloatArray
    ) -> _CellLaw:
        piece = supply.piece_of(cell_start)
        source, load = (p.take(piece, axis=1) for p in (supply.source_pieces, supply.load_pieces))
        cubic = factor * supply.factor * source - load
        return cls(cubic, supply.knots[piece], capacity, supply.other_laws)

    def excess(
        self, omega: FloatArray, pick: NDArray[np.intp] | slice = slice(None)
    ) -> tuple[FloatArray, FloatArray]:
        torque, slope = cubic_with_slope(self.cubic[:, pick], self.origin[pick], omega, self.laws)
        absorbed = self.capacity[pick] * omega
        return torque - absorbed * omega, slope - 2.0 * absorbed
