"""What a match returns: operating points, and every intersection for every speed ratio."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray

_T = TypeVar("_T", bound=np.generic)


def crossed(speed: FloatArray, unstable: FloatArray) -> NDArray[np.bool_]:
    """Return where a branch jumps: an unstable match lies between a place and the one before it.

    Along one branch nothing lies between neighbours. Where a branch ends, it meets an unstable one
    there, and the next is on the other side of that.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        Engine speeds of the branch [rad/s].
    unstable : ndarray, shape (r, n)
        All unstable matches there [rad/s], NaN where there is none.

    Returns
    -------
    ndarray of bool, shape (n,)
        The first is False.
    """
    jumps = np.zeros(speed.shape, dtype=bool)
    if speed.size > 1:
        low, high = (pick(speed[:-1], speed[1:]) for pick in (np.minimum, np.maximum))
        with np.errstate(invalid="ignore"):
            for each in (unstable[:, :-1], unstable[:, 1:]):
                jumps[1:] |= ((each > low) & (each < high)).any(axis=0)
    return jumps


@dataclass(frozen=True, eq=False)
class OperatingPoints:
    """Points at which engine and converter match; arrays of one shape.

    Where there is no point, speeds, torques and powers are NaN; the ratios stay those asked for.

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
        Whether the converter absorbs what the engine gives at its highest known speed, or more.
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
