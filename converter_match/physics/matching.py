"""The match of engine and converter: the only solver of the project.

At every speed ratio nu the engine and the impeller share speed and torque,

    T_net(omega) = C(nu) omega^2,

so with the engine's capacity function ``c_e(omega) = T_net(omega) / omega^2`` matching is inverting
it: ``c_e(omega) = C``. That is one-dimensional and the same for every converter: cut c_e into
branches on which it rises or falls, tabulate the inverse of each once, look any C up and polish
by Newton's method to rounding.

An intersection is stable where ``dT_net/domega < 2 C omega``, which is where c_e falls: a slower
engine then has torque to spare. A curve with a low-speed hole has three intersections for some
converters; all are returned.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.supply import PowerLaw, TorqueSupply

_T = TypeVar("_T", bound=np.generic)
# Cells a knot interval is cut into: fine enough that the cubic first guess is good to about 1e-9
# and one Newton step reaches rounding.
_CELLS = 16
# Points handled at once: keeps temporaries in cache and memory bounded for any number of points.
_CHUNK = 1 << 15
# Torque factors for which a table each is cheaper than a scan.
_FEW_FACTORS = 64
# A first Newton step smaller than this (relative) leaves an error below rounding.
_SMALL_STEP = 3e-9


class Characteristic(Protocol):
    """What the solver needs to know of a converter: any arrangement that offers this can match."""

    def capacity_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return C [N.m/(rad/s)^2]."""

    def torque_ratio_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return the torque ratio."""


@dataclass(frozen=True, eq=False)
class OperatingPoints:
    """Points at which engine and converter agree; arrays of one shape, NaN where there is none.

    Parameters
    ----------
    speed_ratio, torque_ratio : ndarray
    engine_speed : ndarray
        Engine and impeller speed [rad/s].
    input_torque : ndarray
        Impeller torque [N.m].
    stable : ndarray of bool
        Whether the engine returns to the point after a disturbance.
    """

    speed_ratio: FloatArray
    torque_ratio: FloatArray
    engine_speed: FloatArray
    input_torque: FloatArray
    stable: NDArray[np.bool_]

    @property
    def found(self) -> NDArray[np.bool_]:
        """Where there is a point."""
        return np.isfinite(self.engine_speed)

    @property
    def turbine_speed(self) -> FloatArray:
        """[rad/s]."""
        return np.asarray(self.speed_ratio * self.engine_speed)

    @property
    def turbine_torque(self) -> FloatArray:
        """[N.m]."""
        return np.asarray(self.torque_ratio * self.input_torque)

    @property
    def efficiency(self) -> FloatArray:
        """Turbine power / impeller power, nu mu."""
        return np.where(self.found, self.speed_ratio * self.torque_ratio, np.nan)

    @property
    def input_power(self) -> FloatArray:
        """[W]."""
        return np.asarray(self.input_torque * self.engine_speed)

    @property
    def output_power(self) -> FloatArray:
        """[W]."""
        return np.asarray(self.turbine_torque * self.turbine_speed)

    @property
    def heat(self) -> FloatArray:
        """Power turned into heat in the oil, P_in (1 - eta) [W]."""
        return np.asarray(self.input_power * (1.0 - self.speed_ratio * self.torque_ratio))

    def at(self, index: int | tuple[int, ...]) -> OperatingPoints:
        """Return the points picked by an index into the arrays."""
        return OperatingPoints(
            self.speed_ratio[index],
            self.torque_ratio[index],
            self.engine_speed[index],
            self.input_torque[index],
            self.stable[index],
        )


@dataclass(frozen=True, eq=False)
class MatchSet:
    """Every intersection for every speed ratio asked for.

    Parameters
    ----------
    points : OperatingPoints
        Arrays of shape (r, ...): axis 0 counts intersections by rising engine speed, with NaN where
        there is none; the rest is the broadcast shape of what was asked.
    pulls_away : ndarray of bool, shape (...)
        Whether the engine at its lowest known speed has more torque than the converter absorbs.
    held_back : ndarray of bool, shape (...)
        Whether the converter absorbs more than the engine gives at its highest known speed.
    """

    points: OperatingPoints
    pulls_away: NDArray[np.bool_]
    held_back: NDArray[np.bool_]

    @cached_property
    def count(self) -> NDArray[np.intp]:
        """Number of intersections, shape (...)."""
        return np.asarray(self.points.found.sum(axis=0))

    def from_idle(self) -> OperatingPoints:
        """Return the point at which an engine coming up from idle settles, shape (...).

        The first intersection; NaN where the converter holds the engine down at idle already.
        """
        first = np.argmax(self.points.found, axis=0)
        return self._picked(first, self.pulls_away)

    def from_high_idle(self) -> OperatingPoints:
        """Return the point at which an engine coming down from high idle settles, shape (...)."""
        found = self.points.found
        last = found.shape[0] - 1 - np.argmax(found[::-1], axis=0)
        return self._picked(last, self.held_back)

    def _picked(self, row: NDArray[np.intp], valid: NDArray[np.bool_]) -> OperatingPoints:
        def pick(array: NDArray[_T]) -> NDArray[_T]:
            return np.asarray(np.take_along_axis(array, row[np.newaxis], axis=0)[0])

        points = self.points
        speed = np.where(valid, pick(points.engine_speed), np.nan)
        torque = np.where(valid, pick(points.input_torque), np.nan)
        return OperatingPoints(
            pick(points.speed_ratio),
            pick(points.torque_ratio),
            speed,
            torque,
            pick(points.stable) & np.isfinite(speed),
        )


def match(
    supply: TorqueSupply,
    converter: Characteristic,
    speed_ratio: ArrayLike,
    *,
    capacity_factor: ArrayLike = 1.0,
    torque_ratio_factor: ArrayLike = 1.0,
    torque_factor: ArrayLike = 1.0,
) -> MatchSet:
    """Return every match of an engine with a converter; all arguments broadcast.

    Parameters
    ----------
    supply : TorqueSupply
        Net torque of the engine.
    converter : Characteristic
        A `Converter`, or anything with its `capacity_at` and `torque_ratio_at`.
    speed_ratio : array_like
        Within the converter's data.
    capacity_factor : array_like
        Multiplies C: another diameter or oil, a tolerance.
    torque_ratio_factor : array_like
        Multiplies the torque ratio.
    torque_factor : array_like
        Multiplies the engine's torque before loads, on top of the factor in `supply`.

    Returns
    -------
    MatchSet

    Raises
    ------
    InputError
        If a speed ratio lies outside the converter's data or a torque factor is not above zero.
    """
    nu = np.asarray(speed_ratio, dtype=np.float64)
    capacity = np.asarray(converter.capacity_at(nu) * np.asarray(capacity_factor, dtype=float))
    factor = np.asarray(torque_factor, dtype=np.float64)
    shape = np.broadcast_shapes(capacity.shape, factor.shape, np.shape(torque_ratio_factor))
    speed, stable = engine_speeds(supply, np.broadcast_to(capacity, shape), factor)
    mu = np.asarray(converter.torque_ratio_at(nu) * np.asarray(torque_ratio_factor, dtype=float))
    points = OperatingPoints(
        np.broadcast_to(nu, speed.shape),
        np.broadcast_to(mu, speed.shape),
        speed,
        capacity * speed * speed,
        stable,
    )
    low, high = supply.domain
    return MatchSet(
        points,
        np.broadcast_to(_torque(supply, low, factor) > capacity * low * low, shape),
        np.broadcast_to(_torque(supply, high, factor) < capacity * high * high, shape),
    )


def engine_speeds(
    supply: TorqueSupply, capacity: ArrayLike, torque_factor: ArrayLike = 1.0
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Solve T_net(omega) = C omega^2 for all intersections.

    Parameters
    ----------
    supply : TorqueSupply
    capacity : array_like
        C [N.m/(rad/s)^2].
    torque_factor : array_like
        Broadcasts with `capacity`; multiplies the engine's torque before loads.

    Returns
    -------
    speed : ndarray, shape (r, ...)
        Engine speeds [rad/s], rising along axis 0, NaN where there is no intersection.
    stable : ndarray of bool, shape (r, ...)

    Raises
    ------
    InputError
        If a torque factor is not above zero or a value is not finite.
    """
    factor = np.asarray(torque_factor, dtype=np.float64)
    c = np.asarray(capacity, dtype=np.float64)
    if not np.all(np.isfinite(factor) & (factor > 0)):
        raise InputError(
            "not a usable torque factor", field="torque_factor", expected="numbers above zero"
        )
    if not np.all(np.isfinite(c)):
        raise InputError("not finite", field="capacity", expected="finite numbers")
    shape = np.broadcast_shapes(c.shape, factor.shape)
    c_flat = np.broadcast_to(c, shape).ravel()
    distinct = np.unique(factor)
    if distinct.size == 1:
        speed, stable = _by_table(supply, c_flat, float(distinct[0]))
    elif distinct.size <= _FEW_FACTORS:
        speed, stable = _by_tables(supply, c_flat, np.broadcast_to(factor, shape).ravel(), distinct)
    else:
        speed, stable = _by_scan(supply, c_flat, np.broadcast_to(factor, shape).ravel())
    return speed.reshape(-1, *shape), stable.reshape(-1, *shape)


# --- look-up ------------------------------------------------------------------------------------


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


def _by_table(
    supply: TorqueSupply, capacity: FloatArray, factor: float
) -> tuple[FloatArray, NDArray[np.bool_]]:
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


def _by_tables(
    supply: TorqueSupply, capacity: FloatArray, factor: FloatArray, distinct: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    parts = []
    for value in distinct:
        where = np.flatnonzero(factor == value)
        parts.append((where, *_by_table(supply, capacity[where], float(value))))
    rows = max(part[1].shape[0] for part in parts)
    speed = np.full((rows, capacity.size), np.nan)
    stable = np.zeros(speed.shape, dtype=bool)
    for where, found, is_stable in parts:
        speed[: found.shape[0], where] = found
        stable[: found.shape[0], where] = is_stable
    return speed, stable


def _on_branch(branch: _Branch, c: FloatArray, laws: tuple[PowerLaw, ...]) -> FloatArray:
    """Engine speed at capacity `c`, all inside the branch: first guess, one step, check."""
    cell = branch.capacity.searchsorted(c, side="right") - 1
    np.clip(cell, 0, branch.cells.shape[1] - 1, out=cell)
    p3, p2, p1, p0, a, b, q, d, origin, low, high = branch.cells.take(cell, axis=1)
    s = c - branch.capacity[cell]
    guess = ((p3 * s + p2) * s + p1) * s + p0
    np.clip(guess, low, high, out=guess)

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

    return _polished(excess, guess, low, high, branch.stable)


def _polished(
    excess: Callable[[FloatArray, NDArray[np.intp] | slice], tuple[FloatArray, FloatArray]],
    guess: FloatArray,
    low: FloatArray,
    high: FloatArray,
    falling: bool | NDArray[np.bool_],
) -> FloatArray:
    """Newton's method from a good guess; bisection-guarded for the few that need it.

    Parameters
    ----------
    excess : callable
        Of (engine speed, which points): net less absorbed torque, and its slope.
    guess, low, high : ndarray, shape (n,)
        Start and bracket; one sign change inside each bracket.
    falling : bool or ndarray of bool
        Whether the excess goes from plus to minus in the bracket.
    """
    g, slope = excess(guess, slice(None))
    with np.errstate(divide="ignore", invalid="ignore"):
        step = g / slope
    omega = guess - step
    unsure = ~(np.abs(step) <= _SMALL_STEP * guess) | (omega < low) | (omega > high)
    left = np.flatnonzero(unsure)
    if not left.size:
        return omega
    lo, hi = low[left].copy(), high[left].copy()
    w = np.clip(guess[left], lo, hi)
    down = np.broadcast_to(falling, guess.shape)[left]
    for _ in range(200):
        g, slope = excess(w, left)
        above_root = np.where(down, g < 0, g > 0)
        hi = np.where(above_root, w, hi)
        lo = np.where(above_root, lo, w)
        with np.errstate(divide="ignore", invalid="ignore"):
            trial = w - g / slope
        usable = (trial > lo) & (trial < hi)
        new = np.where(g == 0, w, np.where(usable, trial, 0.5 * (lo + hi)))
        moved = np.abs(new - w)
        omega[left] = new
        going = (moved > 1e-15 * w) & (hi - lo > 4e-16 * w)
        if not going.any():
            break
        left, w, lo, hi, down = left[going], new[going], lo[going], hi[going], down[going]
    return omega


@lru_cache(maxsize=64)
def _branches(supply: TorqueSupply, factor: float) -> tuple[_Branch, ...]:
    """Cut c_e into monotone stretches and tabulate the inverse of each.

    A supply is immutable and compared by identity, so the table of one is built once.
    """
    omega = _nodes(supply, factor)
    turning = _turning_points(supply, omega, factor)
    omega = np.union1d(omega, turning)
    torque, _ = _torque_and_slope(supply, omega, factor)
    c = torque / (omega * omega)
    rising = np.diff(c) > 0
    edges = np.flatnonzero(rising[1:] != rising[:-1]) + 1
    branches = []
    for first, last in zip([0, *edges], [*edges, omega.size - 1], strict=True):
        branches.append(_branch(supply, factor, omega[first : last + 1], c[first : last + 1]))
    return tuple(branches)


def _branch(supply: TorqueSupply, factor: float, omega: FloatArray, c: FloatArray) -> _Branch:
    stable = bool(c[-1] < c[0])
    # The torque cubic belongs to the piece that holds the cell, whose left end is omega[:-1].
    piece = supply.piece_of(omega[:-1])
    cubic = (factor * supply.factor * supply.source_pieces - supply.load_pieces)[:, piece]
    origin = supply.knots[piece]
    low, high = omega[:-1], omega[1:]
    torque_low, slope_low = _cell_end(cubic, origin, low, supply.other_laws)
    torque_high, slope_high = _cell_end(cubic, origin, high, supply.other_laws)
    # d c_e / d omega = (T' - 2 T / omega) / omega^2; the inverse has the reciprocal slope.
    with np.errstate(divide="ignore"):
        inverse_low = low**2 / (slope_low - 2 * torque_low / low)
        inverse_high = high**2 / (slope_high - 2 * torque_high / high)
    start, end = (high, low) if stable else (low, high)
    slope_start, slope_end = (inverse_high, inverse_low) if stable else (inverse_low, inverse_high)
    c_start, c_end = (c[1:], c[:-1]) if stable else (c[:-1], c[1:])
    width = c_end - c_start
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


def _cell_end(
    cubic: FloatArray, origin: FloatArray, omega: FloatArray, laws: tuple[PowerLaw, ...]
) -> tuple[FloatArray, FloatArray]:
    a, b, q, d = cubic
    t = omega - origin
    torque = ((a * t + b) * t + q) * t + d
    slope = (3 * a * t + 2 * b) * t + q
    for law in laws:
        torque, slope = torque - law(omega), slope - law.slope(omega)
    return torque, slope


def _nodes(supply: TorqueSupply, factor: float, cells: int = _CELLS) -> FloatArray:
    share = np.arange(cells) / cells
    inner = supply.knots[:-1, np.newaxis] + share * np.diff(supply.knots)[:, np.newaxis]
    return np.append(inner.ravel(), supply.knots[-1])


def _turning_points(supply: TorqueSupply, omega: FloatArray, factor: float) -> FloatArray:
    """Speeds at which c_e turns, between the nodes: T' omega - 2 T changes sign there."""

    def turn(speeds: FloatArray) -> FloatArray:
        torque, slope = _torque_and_slope(supply, speeds, factor)
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


# --- scan ---------------------------------------------------------------------------------------


def _by_scan(
    supply: TorqueSupply, capacity: FloatArray, factor: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """For a torque factor of its own at every point: bracket on the nodes, then polish."""
    nodes = _nodes(supply, 1.0, cells=_CELLS // 2)
    source = supply.factor * _values(supply.source_pieces, supply, nodes)
    load = _values(supply.load_pieces, supply, nodes)
    for law in supply.other_laws:
        load = load + law(nodes)
    found: list[tuple[NDArray[np.intp], NDArray[np.intp], FloatArray, NDArray[np.bool_]]] = []
    step = max(_CHUNK * 8 // nodes.size, 1)
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
        torque, slope = _cell_end(cubic[:, pick], origin[pick], omega, supply.other_laws)
        absorbed = c[pick] * omega
        return torque - absorbed * omega, slope - 2.0 * absorbed

    at_low, _ = excess(low, slice(None))
    at_high, _ = excess(high, slice(None))
    share = np.clip(at_low / np.where(at_low == at_high, 1.0, at_low - at_high), 0.0, 1.0)
    return _polished(excess, low + share * (high - low), low, high, falling)


# --- torque at given speeds ----------------------------------------------------------------------


def _values(pieces: FloatArray, supply: TorqueSupply, omega: FloatArray) -> FloatArray:
    piece = supply.piece_of(omega)
    a, b, q, d = pieces[:, piece]
    t = omega - supply.knots[piece]
    return np.asarray(((a * t + b) * t + q) * t + d)


def _torque_and_slope(
    supply: TorqueSupply, omega: FloatArray, factor: float
) -> tuple[FloatArray, FloatArray]:
    piece = supply.piece_of(omega)
    cubic = (factor * supply.factor * supply.source_pieces - supply.load_pieces)[:, piece]
    return _cell_end(cubic, supply.knots[piece], omega, supply.other_laws)


def _torque(supply: TorqueSupply, omega: float, factor: FloatArray) -> FloatArray:
    """Net torque at one speed for an array of factors on the engine's torque."""
    at = np.array([omega])
    load = _values(supply.load_pieces, supply, at)[0]
    load += sum(float(law(at)[0]) for law in supply.other_laws)
    return np.asarray(factor * supply.factor * _values(supply.source_pieces, supply, at)[0] - load)
