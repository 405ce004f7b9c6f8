"""Motion over a short way on which the acceleration is a straight line in the square of speed.

With ``a = a_0 + l (v^2 - v_0^2)`` the square of speed is an exponential of the way x,

    v^2 = v_0^2 + 2 a_0 x (e^z - 1) / z,    a = a_0 e^z,    z = 2 l x,

exact, without a case for l = 0, and never dividing by a speed of zero.
"""

from __future__ import annotations

import math

from converter_match.tasks.compiled import compiled

# Nearer to zero than this z counts as this, and needs no case of its own.
_LEAST = 1e-12
_LEAST_SQUARED = 1e-6  # where its square is divided by
_MOST = 300.0  # no acceleration grows by e^300: what is beyond is no motion that is asked for
_ROUNDS = 2  # Newton's method on a function that is nearly a straight line


@compiled
def square_after(square: float, rate: float, slope: float, way: float) -> float:
    """Return the square of the speed [m^2/s^2] after a way [m].

    Parameters
    ----------
    square : float
        Square of the speed at the start [m^2/s^2].
    rate : float
        Acceleration there [m/s^2].
    slope : float
        Of the acceleration over the square of speed, l [1/m].
    way : float
        [m].
    """
    z = _away_from_zero(min(2.0 * slope * way, _MOST), _LEAST)
    return square + 2.0 * rate * way * (math.expm1(z) / z)


@compiled
def mean_square(square: float, rate: float, slope: float, way: float) -> float:
    """Return the mean of the square of speed [m^2/s^2] along a way [m].

    Parameters
    ----------
    square, rate, slope, way : float
        As for `square_after`.
    """
    z = _away_from_zero(min(2.0 * slope * way, _MOST), _LEAST_SQUARED)
    return square + 2.0 * rate * way * ((math.expm1(z) / z - 1.0) / z)


@compiled
def way_to_braking(
    square: float, rate: float, slope: float, room: float, longest: float, braking: float
) -> float:
    """Return the way [m] after which the machine has to brake.

    Parameters
    ----------
    square, rate, slope : float
        As for `square_after`.
    room : float
        ``v^2 + 2 b x`` at which it has to [m^2/s^2].
    longest : float
        A way after which it should have done so [m].
    braking : float
        b [m/s^2].
    """
    way = longest
    for _ in range(_ROUNDS):
        reached = square_after(square, rate, slope, way)
        grows = 2.0 * (rate + slope * (reached - square) + braking)
        miss = reached + 2.0 * braking * way - room
        way = min(max(way - miss / max(grows, 1e-9), 0.0), longest)
    return way


@compiled
def time_of(
    square: float, rate: float, slope: float, way: float, first: float, last: float
) -> float:
    """Return the time [s] of a way [m] from a first to a last speed [m/s].

    ``int dv / (c + l v^2)`` with ``c = a_0 - l v_0^2``, in closed form. With s^2 = abs(l / c)
    it is ``arctan(s (v - v_0) / (1 + s^2 v_0 v)) / (c s)`` where l and c have one sign, and
    ``(ln((1 + s v) / (1 + s v_0)) - l x) / (c s)`` where there is a speed of balance: the way
    x stands for the speeds, which next to that one tell nothing any more.

    Parameters
    ----------
    square, rate, slope, way : float
        As for `square_after`.
    first, last : float
        [m/s].
    """
    change = last - first
    if abs(change) <= _LEAST_SQUARED * (first + last):
        mean = mean_square(square, rate, slope, way)
        return way / math.sqrt(mean) if mean > 0.0 else math.inf
    slope = _away_from_zero(slope, _LEAST)
    start = _away_from_zero(rate - slope * square, _LEAST)
    s = math.sqrt(abs(slope / start))
    if (slope < 0.0) == (start < 0.0):
        turned = math.atan2(s * change, 1.0 + s * s * first * last)
        return turned / (start * s)
    balances = math.log1p(s * change / (1.0 + s * first)) - slope * way
    return balances / (start * s)


@compiled
def way_between(change: float, first: float, last: float) -> float:
    """Return the way [m] of a change of the square of speed between two accelerations [m/s^2].

    Infinite where the acceleration vanishes on the way: the speed comes near, and never there.

    Parameters
    ----------
    change : float
        [m^2/s^2].
    first, last : float
        [m/s^2].
    """
    if first == 0.0:
        return math.inf
    z = _away_from_zero(last / first - 1.0, _LEAST)
    if z <= -1.0:
        return math.inf
    return 0.5 * change / first * (math.log1p(z) / z)


@compiled
def _away_from_zero(z: float, least: float) -> float:
    return math.copysign(max(abs(z), least), z)
