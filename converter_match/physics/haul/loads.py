"""What each segment of a route asks of a machine, and the factors by which draws differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.gear import Direction
from converter_match.components.machine import Load, Machine
from converter_match.components.route import Route
from converter_match.components.surface import Surface
from converter_match.constants import GRAVITY
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.wheels.road_load import RoadLoad, ground_shares


@dataclass(frozen=True, eq=False)
class Draws:
    """Factors of each draw, all of one shape (n,); 1 is what the data say.

    Parameters
    ----------
    mass, torque, rolling_resistance : ndarray
        Multiply the mass, the engine's torque before loads, and the rolling resistance.
    """

    mass: FloatArray
    torque: FloatArray
    rolling_resistance: FloatArray

    @classmethod
    def of(
        cls,
        mass: ArrayLike = 1.0,
        torque: ArrayLike = 1.0,
        rolling_resistance: ArrayLike = 1.0,
    ) -> Draws:
        """Return draws from scalars and arrays of one length.

        Raises
        ------
        InputError
            If a factor is not finite and above zero.
        """
        given = {"mass": mass, "torque": torque, "rolling_resistance": rolling_resistance}
        arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, float)) for v in given.values()))
        for name, array in zip(given, arrays, strict=True):
            if array.ndim != 1 or not np.all(np.isfinite(array) & (array > 0.0)):
                raise InputError(
                    "not usable factors", field=name, expected="a list of numbers above zero"
                )
        return cls(*(array.copy() for array in arrays))

    @classmethod
    def joined(cls, parts: Sequence[Draws]) -> Draws:
        """Return draws one behind the other."""
        names = ("mass", "torque", "rolling_resistance")
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))

    @property
    def size(self) -> int:
        """Number of draws."""
        return int(self.mass.size)

    def picked(self, part: slice) -> Draws:
        """Return some of the draws."""
        return Draws(self.mass[part], self.torque[part], self.rolling_resistance[part])


Amount = TypeVar("Amount", float, FloatArray)


def at_rest(mass: Amount, rolling: Amount, climbing: Amount, drag: float) -> Amount:
    """Return the resistance of a machine at a stand [N], without the air's.

    Parameters
    ----------
    mass : float or ndarray
        [kg].
    rolling, climbing : float or ndarray
        ``c_r cos a`` and ``sin a``.
    drag : float
        Beside the ground's rolling resistance [N].
    """
    return mass * GRAVITY * (rolling + climbing) + drag


@dataclass(frozen=True, eq=False)
class SegmentLoads:
    """What each segment asks for, before the factors of a draw; arrays of shape (segments,).

    Parameters
    ----------
    mass : ndarray
        [kg].
    rolling, climbing : ndarray
        ``c_r cos a`` and ``sin a``.
    grip : ndarray
        Adhesion limit at a steady speed / mass [N/kg]; infinite where traction is not known.
    whole_grip : ndarray
        The same with everything on the driven wheels [N/kg].
    moved : ndarray
        What an acceleration adds to the limit, ``mu h / L``; see `road_load.grip_rate`.
    air : float or ndarray
        ``rho c_d A / 2`` [N.s^2/m^2], one for all segments or one for each.
    running_drag : float
        [N].
    """

    mass: FloatArray
    rolling: FloatArray
    climbing: FloatArray
    grip: FloatArray
    whole_grip: FloatArray
    moved: FloatArray
    air: float | FloatArray
    running_drag: float

    @classmethod
    def of(cls, route: Route, machine: Machine, air_density: float) -> SegmentLoads:
        """Return the loads of a machine on the segments of a route."""
        mass, grip, whole_grip, moved, share = np.empty((5, route.grade.size))
        alike: dict[tuple[Surface, Load, Direction], list[int]] = {}
        for k, each in enumerate(zip(route.surface, route.load, route.directions, strict=True)):
            alike.setdefault(each, []).append(k)
        for (surface, load, way), here in alike.items():
            road = RoadLoad.of(machine, surface, load=load, air_density=air_density, direction=way)
            mass[here] = machine.mass(load)
            grip[here] = road.adhesion(route.grade[here]) / mass[here]
            whole_grip[here] = road.whole_adhesion(route.grade[here]) / mass[here]
            moved[here] = (road.traction or 0.0) * road.transfer
            share[here] = road.rolling_resistance
        rolling, climbing = ground_shares(share, route.grade)
        return cls(
            mass=mass,
            rolling=rolling,
            climbing=climbing,
            grip=grip,
            whole_grip=whole_grip,
            moved=moved,
            air=float(road.air_factor),
            running_drag=float(road.running_drag),
        )

    @classmethod
    def joined(cls, parts: Sequence[SegmentLoads]) -> SegmentLoads:
        """Return the loads of one body on several roads, one behind the other."""
        names = ("mass", "rolling", "climbing", "grip", "whole_grip", "moved")
        arrays = {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
        air = np.concatenate([part.air_in(np.arange(part.mass.size)) for part in parts])
        return cls(**arrays, air=air, running_drag=parts[0].running_drag)

    def air_in(self, segment: int | slice | NDArray[np.intp]) -> FloatArray:
        """Return the air's resistance / speed^2 [N.s^2/m^2] in some of the segments."""
        return np.asarray(np.broadcast_to(self.air, self.mass.shape)[segment])

    def alike_ahead(self, allowed: AllowedSpeed) -> FloatArray:
        """Return how far the road goes on alike behind each segment, shape (segments,) [m].

        Parameters
        ----------
        allowed : AllowedSpeed
            Where the machine must slow down or stop, a stretch ends.
        """
        columns = (
            self.mass,
            self.rolling,
            self.climbing,
            self.grip,
            self.moved,
            allowed.limit,
        )
        same = np.isnan(allowed.stop[:-1]) & (allowed.end[:-1] >= allowed.limit[:-1])
        same &= ~allowed.final[:-1]
        for column in columns:
            same &= column[1:] == column[:-1]
        ahead = np.zeros(allowed.length.size)
        for k in range(ahead.size - 2, -1, -1):
            if same[k]:
                ahead[k] = allowed.length[k + 1] + ahead[k + 1]
        return ahead

    def resistance(
        self,
        segment: int | slice | NDArray[np.intp],
        mass: ArrayLike,
        rolling: ArrayLike,
        speed: ArrayLike = 0.0,
    ) -> FloatArray:
        """Return the resistance [N] in some of the segments.

        Parameters
        ----------
        segment : index
        mass, rolling : array_like
            Mass [kg], and factor on the rolling resistance; they broadcast.
        speed : array_like
            Road speed [m/s]; at a stand the air resists nothing.
        """
        rolls = np.asarray(self.rolling[segment] * np.asarray(rolling))
        climbs = np.asarray(self.climbing[segment])
        ground = at_rest(np.asarray(mass), rolls, climbs, self.running_drag)
        return np.asarray(ground + self.air_in(segment) * np.square(speed))

    def parts(
        self, segment: NDArray[np.intp], mass: ArrayLike, rolling: ArrayLike, speed: FloatArray
    ) -> list[FloatArray]:
        """Return what of the resistance is rolling, climbing, and the air [N]; they broadcast."""
        weight = np.asarray(mass) * GRAVITY
        shares = (self.rolling[segment] * np.asarray(rolling), self.climbing[segment])
        air = self.air_in(segment) * speed * speed
        return [*(np.asarray(weight * share) for share in shares), air]
