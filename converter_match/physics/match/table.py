"""Matching by look-up: the inverse of the engine's capacity function, tabulated branch by branch.

The hot path: one search in a sorted array, a cubic for a first guess, one Newton step a point.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray, last_below
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply, cubic_with_slope
from converter_match.physics.match.newton import polished

# Cells a knot interval is cut into: fine enough that the cubic first guess is good to about 1e-9
# and one Newton step reaches rounding.
_CELLS = 16
# Points handled at once: keeps temporaries in cache and memory bounded for any number of points.
_CHUNK = 1 << 13
# Differences of c_e smaller than this share of its largest value are rounding.
_LEVEL = 1e-14


@dataclass(frozen=True, eq=False)
class _Branch:
    """One stretch of engine speed on which c_e only falls (stable) or only rises (unstable).

    `capacity` holds the cell edges, increasing. Row by row, `cells` holds what a point in the cell
    needs: first-guess cubic in (C - edge) [4], torque cubic [4] and its origin [1], and the
    engine speeds that bracket the cell [2].
    """

    capacity: FloatArray
    cells: FloatArray
    stable: bool


def by_table(
    supply: TorqueSupply, capacity: FloatArray, factor: float
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return (speeds, stable), shape (r, n), for capacities (n,) and one torque factor.

    Parameters
    ----------
    supply : TorqueSupply
    capacity : ndarray, shape (n,)
        C [N.m/(rad/s)^2].
    factor : float
        On the torque before loads.
    """
    branches = _branches(supply, factor)
    speed = np.full((max(len(branches), 1), capacity.size), np.nan)
    stable = np.zeros(speed.shape, dtype=bool)
    for start in range(0, capacity.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        c = capacity[part]
        for row, branch in enumerate(branches):
            inside = (c >= branch.capacity[0]) & (c <= branch.capacity[-1])
            if inside.all():
                speed[row, part] = _on_branch(branch, c, supply.other_laws)
            elif inside.any():
                speed[row, part][inside] = _on_branch(branch, c[inside], supply.other_laws)
            stable[row, part] = inside & branch.stable
    return speed, stable


def by_tables(
    supply: TorqueSupply, capacity: FloatArray, factor: FloatArray, distinct: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return the same for a factor at each point, of which few are `distinct`: a table each.

    Parameters
    ----------
    supply : TorqueSupply
    capacity, factor : ndarray, shape (n,)
        C [N.m/(rad/s)^2], and the factor on the torque before loads.
    distinct : ndarray
        The factors, each once.
    """
    parts = []
    for value in distinct:
        where = np.flatnonzero(factor == value)
        parts.append((where, *by_table(supply, capacity[where], float(value))))
    rows = max(part[1].shape[0] for part in parts)
    speed = np.full((rows, capacity.size), np.nan)
    stable = np.zeros(speed.shape, dtype=bool)
    for where, found, is_stable in parts:
        speed[: found.shape[0], where] = found
        stable[: found.shape[0], where] = is_stable
    return speed, stable


def _on_branch(branch: _Branch, c: FloatArray, laws: tuple[PowerLaw, ...]) -> FloatArray:
    """Engine speed at capacity `c`, all inside the branch: first guess, one step, check."""
    cell = last_below(branch.capacity[:-1], c)
    p3, p2, p1, p0, a, b, q, d, origin, low, high = branch.cells.take(cell, axis=1)
    s = c - branch.capacity.take(cell)
    guess = np.minimum(np.maximum(((p3 * s + p2) * s + p1) * s + p0, low), high)

    def excess(omega: FloatArray, pick: NDArray[np.intp] | slice) -> tuple[FloatArray, FloatArray]:
        """Net torque less absorbed torque, and its slope."""
        t = omega - origin[pick]
        absorbed = c[pick] * omega
        g = ((a[pick] * t + b[pick]) * t + q[pick]) * t + d[pick] - absorbed * omega
        slope = (3.0 * a[pick] * t + 2.0 * b[pick]) * t + q[pick] - 2.0 * absorbed
        for law in laws:
            g = g - law(omega)
            slope = slope - law.slope(omega)
        return g, slope

    return polished(excess, guess, low, high, branch.stable)


def falls_throughout(supply: TorqueSupply, factor: float) -> bool:
    """Return whether c_e only falls over the domain: one match at most, and a stable one.

    Parameters
    ----------
    supply : TorqueSupply
    factor : float
    """
    branches = _branches(supply, factor)
    return len(branches) == 1 and branches[0].stable


@lru_cache(maxsize=64)
def _branches(supply: TorqueSupply, factor: float) -> tuple[_Branch, ...]:
    """Cut c_e into monotone stretches and tabulate the inverse of each.

    A supply is immutable and compared by identity, so the table of one is built once.
    """
    omega = supply.nodes(_CELLS)
    turning = _turning_points(supply, omega, factor)
    c = _capacity(supply, omega, factor)
    # A turning point that is a node but for rounding would leave a cell without height.
    left = np.searchsorted(omega, turning) - 1
    at_turning = _capacity(supply, turning, factor)
    height = np.minimum(np.abs(at_turning - c[left]), np.abs(at_turning - c[left + 1]))
    omega = np.union1d(omega, turning[height > _LEVEL * np.max(np.abs(c))])
    c = _capacity(supply, omega, factor)
    rising = np.diff(c) > 0
    edges = np.flatnonzero(rising[1:] != rising[:-1]) + 1
    branches = []
    for first, last in zip([0, *edges], [*edges, omega.size - 1], strict=True):
        branches.append(_branch(supply, factor, omega[first : last + 1], c[first : last + 1]))
    return tuple(branches)


def _capacity(supply: TorqueSupply, omega: FloatArray, factor: float) -> FloatArray:
    """Engine capacity function c_e [N.m/(rad/s)^2]."""
    return np.asarray(supply.net_torque(omega, factor) / (omega * omega))


def _branch(supply: TorqueSupply, factor: float, omega: FloatArray, c: FloatArray) -> _Branch:
    stable = bool(c[-1] < c[0])
    # The torque cubic belongs to the piece that holds the cell, whose left end is omega[:-1].
    piece = supply.piece_of(omega[:-1])
    cubic = (factor * supply.factor * supply.source_pieces - supply.load_pieces)[:, piece]
    origin = supply.knots[piece]
    low, high = omega[:-1], omega[1:]
    torque_low, slope_low = cubic_with_slope(cubic, origin, low, supply.other_laws)
    torque_high, slope_high = cubic_with_slope(cubic, origin, high, supply.other_laws)
    # d c_e / d omega = (T' - 2 T / omega) / omega^2; the inverse has the reciprocal slope.
    with np.errstate(divide="ignore"):
        inverse_low = low**2 / (slope_low - 2 * torque_low / low)
        inverse_high = high**2 / (slope_high - 2 * torque_high / high)
    start, end = (high, low) if stable else (low, high)
    slope_start, slope_end = (inverse_high, inverse_low) if stable else (inverse_low, inverse_high)
    c_start, c_end = (c[1:], c[:-1]) if stable else (c[:-1], c[1:])
    # A cell without height (no torque over a stretch of the droop line) is met at its start only.
    width = np.where(c_end == c_start, 1.0, c_end - c_start)
    chord = (end - start) / width
    # At a turning point the inverse is upright: there the chord has to do for a first guess.
    good = np.isfinite(slope_start) & np.isfinite(slope_end)
    good &= (slope_start / chord < 3) & (slope_end / chord < 3)
    good &= (slope_start / chord > 0) & (slope_end / chord > 0)
    s0, s1 = np.where(good, slope_start, chord), np.where(good, slope_end, chord)
    curl, bend = (s0 + s1 - 2 * chord) / width**2, (3 * chord - 2 * s0 - s1) / width
    guess = np.stack([curl, bend, s0, start])
    cells = np.concatenate([guess, cubic, [origin, low, high]])
    order = slice(None, None, -1) if stable else slice(None)
    return _Branch(np.ascontiguousarray(c[order]), np.ascontiguousarray(cells[:, order]), stable)


def _turning_points(supply: TorqueSupply, omega: FloatArray, factor: float) -> FloatArray:
    """Speeds at which c_e turns, between the nodes: T' omega - 2 T changes sign there."""

    def turn(speeds: FloatArray) -> FloatArray:
        torque, slope = supply.scaled_with_slope(speeds, factor)
        return np.asarray(slope * speeds - 2.0 * torque)

    # Look just inside each cell: at a knot the slope may jump, and the sign of a cell is its own.
    width = np.diff(omega)
    low, high = omega[:-1] + 1e-9 * width, omega[1:] - 1e-9 * width
    sign_low, sign_high = turn(low), turn(high)
    inside = np.flatnonzero(sign_low * sign_high < 0)
    if not inside.size:
        return np.empty(0)
    lo, hi, at_low = low[inside], high[inside], sign_low[inside]
    for _ in range(60):
        middle = 0.5 * (lo + hi)
        same = turn(middle) * at_low > 0
        lo, hi = np.where(same, middle, lo), np.where(same, hi, middle)
    return np.asarray(0.5 * (lo + hi))
