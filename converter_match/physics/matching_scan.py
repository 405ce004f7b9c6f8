"""Matching by scan, for a torque factor of its own at every point: bracket, then polish."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.matching_newton import polished
from converter_match.physics.supply import TorqueSupply, cubic_with_slope

# Cells a knot interval is cut into to look for changes of sign.
_CELLS = 8
# Products of points and cells handled at once: keeps memory bounded for any number of points.
_CHUNK = 1 << 18


def by_scan(
    supply: TorqueSupply, capacity: FloatArray, factor: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return (speeds, stable), shape (r, n), for capacities and torque factors (n,)."""
    nodes = supply.nodes(_CELLS)
    source = supply.factor * supply.values(supply.source_pieces, nodes)
    load = supply.values(supply.load_pieces, nodes)
    for law in supply.other_laws:
        load = load + law(nodes)
    found: list[tuple[NDArray[np.intp], NDArray[np.intp], FloatArray, NDArray[np.bool_]]] = []
    step = max(_CHUNK // nodes.size, 1)
    for start in range(0, capacity.size, step):
        c, f = capacity[start : start + step], factor[start : start + step]
        excess = f * source[:, np.newaxis] - load[:, np.newaxis] - c * (nodes**2)[:, np.newaxis]
        above = excess > 0
        point, cell = np.nonzero((above[:-1] != above[1:]).T)
        if not point.size:
            continue
        falling = above[cell, point]
        omega = _on_cells(supply, nodes, cell, c[point], f[point], falling)
        # Rank of each crossing among those of its own point: they come sorted by point, then speed.
        first_of_point = np.searchsorted(point, point, side="left")
        found.append((np.arange(point.size) - first_of_point, point + start, omega, falling))
    rows = 1 + max((int(rank.max()) for rank, *_ in found), default=0)
    speed = np.full((rows, capacity.size), np.nan)
    stable = np.zeros(speed.shape, dtype=bool)
    for rank, point, omega, falling in found:
        speed[rank, point] = omega
        stable[rank, point] = falling
    return speed, stable


def _on_cells(
    supply: TorqueSupply,
    nodes: FloatArray,
    cell: NDArray[np.intp],
    c: FloatArray,
    factor: FloatArray,
    falling: NDArray[np.bool_],
) -> FloatArray:
    low, high = nodes[cell], nodes[cell + 1]
    piece = supply.piece_of(low)
    origin = supply.knots[piece]
    cubic = factor * supply.factor * supply.source_pieces[:, piece] - supply.load_pieces[:, piece]

    def excess(omega: FloatArray, pick: NDArray[np.intp] | slice) -> tuple[FloatArray, FloatArray]:
        torque, slope = cubic_with_slope(cubic[:, pick], origin[pick], omega, supply.other_laws)
        absorbed = c[pick] * omega
        return torque - absorbed * omega, slope - 2.0 * absorbed

    at_low, _ = excess(low, slice(None))
    at_high, _ = excess(high, slice(None))
    share = np.clip(at_low / np.where(at_low == at_high, 1.0, at_low - at_high), 0.0, 1.0)
    return polished(excess, low + share * (high - low), low, high, falling)
