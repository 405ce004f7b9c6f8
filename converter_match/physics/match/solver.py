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

import math
from collections.abc import Iterator
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.fan import FEWEST, by_fan
from converter_match.physics.match.match_set import MatchSet, OperatingPoints
from converter_match.physics.match.scan import by_scan
from converter_match.physics.match.table import by_table, by_tables

__all__ = [
    "Characteristic",
    "MatchSet",
    "OperatingPoints",
    "engine_speeds",
    "match",
    "match_in_blocks",
    "match_near",
    "reached_from_idle",
]

# Where so many points share a torque factor, a table for it is cheaper than a scan (measured).
_POINTS_WORTH_A_TABLE = 800
# Points a block: some 15 to 25 MB at the highest, and no slower than all at once.
_BLOCK = 1 << 18
# Steps of Newton's method from a known engine speed, and the last of them: as each squares the
# error, what is left is below 1e-8.
_STEPS = 5
_LAST_STEP = 1e-5
# Cells a knot interval is cut into to see whether an engine gets past a hole in its torque.
_CELLS = 8
# Between two of these speeds its torque may be lower by a few thousandths.
_SURELY = 1.005


class Characteristic(Protocol):
    """What the solver needs to know of a converter: any arrangement that offers this can match."""

    def capacity_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return C [N.m/(rad/s)^2]."""

    def torque_ratio_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return the torque ratio."""


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
        If a speed ratio lies outside the converter's data or a factor is not above zero.
    """
    nu = np.asarray(speed_ratio, dtype=np.float64)
    factor = _usable("torque_factor", torque_factor)
    capacity = np.asarray(converter.capacity_at(nu) * _usable("capacity_factor", capacity_factor))
    mu = np.asarray(
        converter.torque_ratio_at(nu) * _usable("torque_ratio_factor", torque_ratio_factor)
    )
    shape = np.broadcast_shapes(capacity.shape, factor.shape, mu.shape)
    speed, stable = engine_speeds(supply, np.broadcast_to(capacity, shape), factor)
    points = OperatingPoints(
        np.broadcast_to(nu, speed.shape),
        np.broadcast_to(mu, speed.shape),
        speed,
        capacity * speed * speed,
        stable,
    )
    low, high = np.array(supply.domain)
    return MatchSet(
        points,
        np.broadcast_to(supply.net_torque(low, factor) / (low * low) > capacity, shape),
        np.broadcast_to(supply.net_torque(high, factor) / (high * high) <= capacity, shape),
    )


def match_in_blocks(
    supply: TorqueSupply,
    converter: Characteristic,
    speed_ratio: ArrayLike,
    *,
    capacity_factor: ArrayLike = 1.0,
    torque_ratio_factor: ArrayLike = 1.0,
    torque_factor: ArrayLike = 1.0,
    points: int = _BLOCK,
) -> Iterator[tuple[slice, MatchSet]]:
    """Match part by part, so that memory stays bounded however many points there are.

    Arguments that broadcast make the points: 10 000 draws of a factor (n, 1) by 10 000 speed ratios
    are 100 million, none of which is held before its block comes. Reduce or store each block and
    let it go.

    Parameters
    ----------
    supply, converter, speed_ratio, capacity_factor, torque_ratio_factor, torque_factor
        As for `match`; they broadcast, and memory-mapped arrays are read block by block.
    points : int
        Points a block at most, above 0; a block has at least one row of the first axis.

    Yields
    ------
    part : slice
        The rows of the first axis of the broadcast shape.
    found : MatchSet
        Their matches: what `match` gives for all at once, to the last bit for one torque factor and
        to rounding for many. The number r of intersections is the most within the block.

    Raises
    ------
    InputError
        As `match`, when the block comes that holds the value; if `points` is not above 0.

    Examples
    --------
    >>> from converter_match.library.read import read_converter, read_engine
    >>> from converter_match.library.shipped import find
    >>> from converter_match.physics.engine.supply import engine_supply
    >>> supply = engine_supply(read_engine(find("engines", "six-cylinder-7l-185kw")))
    >>> converter = read_converter(find("converters", "single-stage-345mm-tight"))
    >>> draws = np.linspace(0.95, 1.05, 1000)[:, np.newaxis]
    >>> heat = 0.0
    >>> for part, found in match_in_blocks(
    ...     supply, converter, np.linspace(0.0, 0.8, 500), capacity_factor=draws
    ... ):
    ...     heat = max(heat, float(np.nanmax(found.from_idle().heat)))
    >>> f"{heat / 1e3:.0f} kW"
    '162 kW'
    """
    if not points > 0:
        raise InputError(
            "out of range", field="points", found=points, expected="a number above zero"
        )
    given = [
        np.asarray(values)
        for values in (
            np.atleast_1d(np.asarray(speed_ratio)),
            capacity_factor,
            torque_ratio_factor,
            torque_factor,
        )
    ]
    shape = np.broadcast_shapes(*(values.shape for values in given))
    rows = max(points // max(math.prod(shape[1:]), 1), 1)
    for start in range(0, shape[0], rows):
        part = slice(start, min(start + rows, shape[0]))
        # What does not vary along the first axis goes into every block as it is.
        nu, capacity, ratio, torque = (
            values[part] if values.ndim == len(shape) and len(values) > 1 else values
            for values in given
        )
        yield (
            part,
            match(
                supply,
                converter,
                nu,
                capacity_factor=capacity,
                torque_ratio_factor=ratio,
                torque_factor=torque,
            ),
        )


def match_near(
    supply: TorqueSupply,
    converter: Characteristic,
    speed_ratio: ArrayLike,
    engine_speed: ArrayLike,
    *,
    capacity_factor: ArrayLike = 1.0,
    torque_factor: ArrayLike = 1.0,
) -> OperatingPoints:
    """Return the stable match next to a known engine speed: for a point that moves a little.

    For few points faster than `match` where every point has a torque factor of its own.

    Parameters
    ----------
    supply, converter, speed_ratio, capacity_factor, torque_factor
        As for `match`; they broadcast to shape (n,).
    engine_speed : array_like
        Close to the match that is sought [rad/s]; NaN where none is known.

    Returns
    -------
    OperatingPoints
        NaN where no stable match is found. An engine coming up from idle may not get there: see
        `reached_from_idle`.
    """
    given = (speed_ratio, engine_speed, capacity_factor, torque_factor)
    nu, near, share, factor = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(values, dtype=np.float64)) for values in given)
    )
    capacity = np.asarray(converter.capacity_at(nu) * share)
    bottom, top = supply.domain
    enough = _LAST_STEP * top
    speed = np.clip(near, bottom, top)
    settled = np.zeros(nu.shape, dtype=bool)
    going = np.arange(nu.size)
    for _ in range(_STEPS):
        w, c = speed[going], capacity[going]
        torque, slope = supply.scaled_with_slope(w, factor[going])
        falls = slope - 2.0 * c * w
        # Where the excess rises with speed the match is unstable, and not the one that is sought.
        new = np.where(falls < 0.0, w - (torque - c * w * w) / falls, np.nan)
        inside = (new > bottom) & (new < top)
        speed[going] = np.where(inside, new, np.clip(new, bottom, top))
        settled[going] = inside & (np.abs(new - w) <= enough)
        going = np.flatnonzero(~settled & np.isfinite(speed))
        if not going.size:
            break
    speed = np.where(settled, speed, np.nan)
    return OperatingPoints(
        nu, np.asarray(converter.torque_ratio_at(nu)), speed, capacity * speed * speed, settled
    )


def reached_from_idle(
    supply: TorqueSupply, engine_speed: ArrayLike, capacity: ArrayLike, torque_factor: ArrayLike
) -> NDArray[np.bool_]:
    """Return whether an engine coming up from idle surely gets to a match.

    It does where nothing holds it back below; where it gets past by less than can be told from a
    few speeds, it does not surely: `match` tells.

    Parameters
    ----------
    supply : TorqueSupply
    engine_speed : array_like, shape (n,)
        Of the match [rad/s].
    capacity : array_like, shape (n,)
        That of the converter there [N.m/(rad/s)^2].
    torque_factor : array_like, shape (n,)
    """
    speed, c, factor = np.broadcast_arrays(
        *(np.asarray(values, np.float64) for values in (engine_speed, capacity, torque_factor))
    )
    nodes = supply.nodes(_CELLS)
    source, load = supply.factor * supply.source(nodes), supply.load_torque(nodes)
    # Only where c_e rises again further up can it hold the engine back; c_e is linear in the
    # factor, so that the ends of its range tell.
    hole = np.zeros(nodes.size, dtype=bool)
    for f in (float(factor.min(initial=1.0)), float(factor.max(initial=1.0))):
        c_engine = (f * source - load) / nodes**2
        above = np.maximum.accumulate(c_engine[::-1])[::-1]
        hole[:-1] |= c_engine[:-1] <= above[1:]
    reached = np.ones(speed.shape, dtype=bool)
    for k in np.flatnonzero(hole):
        absorbed = _SURELY * c * nodes[k] ** 2
        reached &= (factor * source[k] - load[k] > absorbed) | (nodes[k] >= speed)
    return reached


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
    factor = _usable("torque_factor", torque_factor)
    c = np.asarray(capacity, dtype=np.float64)
    if not np.all(np.isfinite(c)):
        raise InputError("not finite", field="capacity", expected="finite numbers")
    shape = np.broadcast_shapes(c.shape, factor.shape)
    c_flat = np.broadcast_to(c, shape).ravel()
    distinct = np.unique(factor)
    if distinct.size <= 1:
        speed, stable = by_table(supply, c_flat, float(distinct[0]) if distinct.size else 1.0)
    elif distinct.size <= c_flat.size // _POINTS_WORTH_A_TABLE:
        speed, stable = by_tables(supply, c_flat, np.broadcast_to(factor, shape).ravel(), distinct)
    elif c_flat.size >= FEWEST:
        speed, stable = by_fan(supply, c_flat, np.broadcast_to(factor, shape).ravel())
    else:
        speed, stable = by_scan(supply, c_flat, np.broadcast_to(factor, shape).ravel())
    return speed.reshape(len(speed), *shape), stable.reshape(len(stable), *shape)


def _usable(name: str, values: ArrayLike) -> FloatArray:
    factor = np.asarray(values, dtype=np.float64)
    wrong = factor[~(np.isfinite(factor) & (factor > 0))]
    if wrong.size:
        raise InputError(
            f"not a usable {name.replace('_', ' ')}",
            field=name,
            found=float(wrong.flat[0]),
            expected="numbers above zero",
        )
    return factor
