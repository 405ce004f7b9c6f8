"""Motion over a short way on which the acceleration is a straight line in the square of speed.

With ``a = a_0 + l (v^2 - v_0^2)`` the square of speed is an exponential of the way x,

    v^2 = v_0^2 + 2 a_0 x (e^z - 1) / z,    a = a_0 e^z,    z = 2 l x,

exact, without a case for l = 0, and never dividing by a speed of zero.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray

# Nearer to zero than this z counts as this, and needs no case of its own.
_LEAST = 1e-12
_LEAST_SQUARED = 1e-6  # where its square is divided by
_MOST = 300.0  # no acceleration grows by e^300: what is beyond is no motion that is asked for
_ROUNDS = 2  # Newton's method on a function that is nearly a straight line


@dataclass(frozen=True, eq=False)
class Motion:
    """Motion from a speed; arrays of one shape.

    Parameters
    ----------
    square : ndarray
        Square of the speed at the start [m^2/s^2].
    rate : ndarray
        Acceleration there [m/s^2].
    slope : ndarray
        Of the acceleration over the square of speed, l [1/m].
    """

    square: FloatArray
    rate: FloatArray
    slope: FloatArray

    def square_after(self, way: FloatArray) -> FloatArray:
        """Return the square of the speed [m^2/s^2] after a way [m]."""
        z = _away_from_zero(np.minimum(2.0 * self.slope * way, _MOST))
        return self.square + 2.0 * self.rate * way * (np.expm1(z) / z)

    def mean_square(self, way: FloatArray) -> FloatArray:
        """Return the mean of the square of speed [m^2/s^2] along a way [m]."""
        z = _away_from_zero(np.minimum(2.0 * self.slope * way, _MOST), _LEAST_SQUARED)
        return self.square + 2.0 * self.rate * way * ((np.expm1(z) / z - 1.0) / z)

    def settling_way(self) -> FloatArray:
        """Return the way [m] on which the acceleration falls to 1/e; infinite where it grows."""
        with np.errstate(divide="ignore"):
            return np.where(self.slope < 0.0, -0.5 / self.slope, np.inf)

    def way_to_braking(self, room: FloatArray, longest: FloatArray, braking: float) -> FloatArray:
        """Return the way [m] after which the machine has to brake.

        Parameters
        ----------
        room : ndarray
            ``v^2 + 2 b x`` at which it has to [m^2/s^2].
        longest : ndarray
            A way after which it should have done so [m].
        braking : float
            b [m/s^2].
        """
        way = longest
        for _ in range(_ROUNDS):
            square = self.square_after(way)
            grows = 2.0 * (self.rate + self.slope * (square - self.square) + braking)
            miss = square + 2.0 * braking * way - room
            way = np.minimum(np.maximum(way - miss / np.maximum(grows, 1e-9), 0.0), longest)
        return way

    def picked(self, which: NDArray[np.intp]) -> Motion:
        """Return some of the motions."""
        return Motion(self.square[which], self.rate[which], self.slope[which])

    def time(self, way: FloatArray, first: FloatArray, last: FloatArray) -> FloatArray:
        """Return the time [s] of a way [m] from a first to a last speed [m/s].

        ``int dv / (c + l v^2)`` with ``c = a_0 - l v_0^2``, in closed form. With s^2 = abs(l / c)
        it is ``arctan(s (v - v_0) / (1 + s^2 v_0 v)) / (c s)`` where l and c have one sign, and
        ``(ln((1 + s v) / (1 + s v_0)) - l x) / (c s)`` where there is a speed of balance: the way
        x stands for the speeds, which next to that one tell nothing any more.
        """
        change = last - first
        slope = _away_from_zero(self.slope)
        start = _away_from_zero(self.rate - slope * self.square)
        s = np.sqrt(np.abs(slope / start))
        balances = np.log1p(s * change / (1.0 + s * first)) - slope * way
        turned = np.arctan2(s * change, 1.0 + s * s * first * last)
        time = np.where((slope < 0.0) == (start < 0.0), turned, balances) / (start * s)
        with np.errstate(divide="ignore", invalid="ignore"):
            steady = way / np.sqrt(np.maximum(self.mean_square(way), 0.0))
        near = np.abs(change) <= _LEAST_SQUARED * (first + last)
        return np.where(near, steady, time)


def way_between(change: FloatArray, first: FloatArray, last: FloatArray) -> FloatArray:
    """Return the way [m] of a change of the square of speed between two accelerations [m/s^2].

    Infinite where the acceleration vanishes on the way: the speed comes near, and never there.

    Parameters
    ----------
    change : ndarray
        [m^2/s^2].
    first, last : ndarray
        [m/s^2].
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        z = _away_from_zero(last / first - 1.0)
        there = (z > -1.0) & (first != 0.0)
        return np.where(there, 0.5 * change / first * (np.log1p(z) / z), np.inf)


def _away_from_zero(z: FloatArray, least: float = _LEAST) -> FloatArray:
    return np.copysign(np.maximum(np.abs(z), least), z)
