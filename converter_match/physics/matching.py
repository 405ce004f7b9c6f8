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

from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.match_set import MatchSet, OperatingPoints
from converter_match.physics.matching_scan import by_scan
from converter_match.physics.matching_table import by_table, by_tables
from converter_match.physics.supply import TorqueSupply

__all__ = ["Characteristic", "MatchSet", "OperatingPoints", "engine_speeds", "match"]

# A table each for so few torque factors, or for factors that so many points share, is cheaper than
# a scan (measured).
_FEW_FACTORS = 8
_POINTS_WORTH_A_TABLE = 100


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
    elif distinct.size <= max(_FEW_FACTORS, c_flat.size // _POINTS_WORTH_A_TABLE):
        speed, stable = by_tables(supply, c_flat, np.broadcast_to(factor, shape).ravel(), distinct)
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
