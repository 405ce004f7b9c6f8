"""The turbine shaft at full load: what the gearbox sees, through the converter or locked up.

Converter drive: the match locus, ``omega_t = nu omega``, ``T_t = mu T_p``.
Lock-up drive: the turbine is tied to the impeller, ``omega_t = omega``, ``T_t = T_net(omega)``, and
the converter makes no heat.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.converter import Converter
from converter_match.components.gear import LockUp
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.balances import Balances
from converter_match.physics.match.every_branch import EveryBranch, every_branch
from converter_match.physics.match.following import Machines
from converter_match.physics.match.margin import match_margin
from converter_match.physics.match.match_set import OperatingPoints
from converter_match.physics.match.solver import match, match_near, reached_from_idle
from converter_match.physics.match.turbine_speed import (
    match_at_turbine_speed,
    passage,
    points_of,
)

Drive = Literal["converter", "lock-up"]
# Fine enough that straight lines between the points are good to a few parts in 1e5 of the force;
# what is reported as a point is then refined on the exact curve.
_STEPS = 240


@dataclass(frozen=True, eq=False)
class TurbinePoints:
    """Points of the turbine shaft; arrays of one shape, NaN where there is no match.

    Parameters
    ----------
    parameter : ndarray
        Speed ratio in converter drive, engine speed [rad/s] in lock-up drive.
    speed_ratio, engine_speed, input_torque, turbine_speed, turbine_torque : ndarray
        [1], [rad/s], [N.m], [rad/s], [N.m].
    """

    parameter: FloatArray
    speed_ratio: FloatArray
    engine_speed: FloatArray
    input_torque: FloatArray
    turbine_speed: FloatArray
    turbine_torque: FloatArray

    def picked(self, index: Any) -> TurbinePoints:
        """Return the points picked by an index into the arrays."""
        return TurbinePoints(*(getattr(self, item.name)[index] for item in fields(self)))

    @property
    def input_power(self) -> FloatArray:
        """Power into the impeller [W]."""
        return np.asarray(self.input_torque * self.engine_speed)

    @property
    def output_power(self) -> FloatArray:
        """Power at the turbine [W]."""
        return np.asarray(self.turbine_torque * self.turbine_speed)

    @property
    def heat(self) -> FloatArray:
        """Heat made in the converter, P_in - P_out [W]."""
        return np.asarray(self.input_power - self.output_power)


_Factors = TypeVar("_Factors", bound="ShaftFactors")


def one() -> FloatArray:
    """Return the factor of the machine as the data say."""
    return np.ones(())


@dataclass(frozen=True, eq=False)
class ShaftFactors:
    """What each draw of uncertain inputs makes of engine and converter; 1 is what the data say.

    Arrays of shape (n,) for n draws; of shape () for the machine as the data say.

    Parameters
    ----------
    torque, loads : ndarray
        On the engine's torque before loads, and on the loads.
    capacity : ndarray
    ratio_share : ndarray
        On mu - 1 (or on mu where `whole_ratio`).
    whole_ratio : bool
        Whether the torque ratio is scaled as a whole (a fixed stator, which has no mu = 1).
    """

    torque: FloatArray = field(default_factory=one)
    loads: FloatArray = field(default_factory=one)
    capacity: FloatArray = field(default_factory=one)
    ratio_share: FloatArray = field(default_factory=one)
    whole_ratio: bool = field(default=False, kw_only=True)

    def __post_init__(self) -> None:
        given = self.arrays()
        for name, array in zip(given, np.broadcast_arrays(*given.values()), strict=True):
            object.__setattr__(self, name, array)

    @property
    def size(self) -> int:
        """Number of draws."""
        return int(self.torque.size)

    @property
    def relative_torque(self) -> FloatArray:
        """Factor on the torque over that on the loads: what tells one engine from the next."""
        # Engines that are the same to the digits of any test are the same to the last bit.
        return np.round(self.torque / self.loads, 12)

    def arrays(self) -> dict[str, FloatArray]:
        """Return the factors by name."""
        names = (item.name for item in fields(self) if item.name != "whole_ratio")
        return {name: getattr(self, name) for name in names}

    def picked(self: _Factors, rows: NDArray[np.intp]) -> _Factors:
        """Return some of the draws; the machine as the data say is every draw."""
        if not self.torque.ndim:
            return self
        picked: dict[str, Any] = {name: array[rows] for name, array in self.arrays().items()}
        return replace(self, **picked)

    def torque_ratio(self, mu: FloatArray) -> FloatArray:
        """Return the torque ratio of each draw."""
        if self.whole_ratio:
            return np.asarray(mu * self.ratio_share)
        return np.asarray(1.0 + (mu - 1.0) * self.ratio_share)


AS_GIVEN = ShaftFactors()


@dataclass(frozen=True, eq=False)
class TurbineShaft:
    """Full-load torque at the turbine shaft of an engine and a converter.

    Parameters
    ----------
    supply : TorqueSupply
        Net torque at the impeller.
    converter : Converter
    factors : ShaftFactors
        Of each draw: points broadcast with them. Curves are those of one machine.
    """

    supply: TorqueSupply
    converter: Converter
    factors: ShaftFactors = AS_GIVEN

    def at(
        self, drive: Drive, parameter: ArrayLike, near: ArrayLike | None = None
    ) -> TurbinePoints:
        """Return the points at a parameter (any shape): speed ratio, or engine speed locked up.

        In converter drive they are those that an engine coming up from idle settles at. Of several
        draws they are found with factors a on the loads and f on the torque before them by
        ``(f/a) T - L = (C/a) omega^2``.

        Parameters
        ----------
        drive : {"converter", "lock-up"}
        parameter : array_like
            Broadcasts with the factors.
        near : array_like, optional
            Engine speed close to the match sought [rad/s], which is then followed from there.

        Raises
        ------
        InputError
            If the parameter lies outside the data.
        """
        given = np.asarray(parameter, dtype=np.float64)
        drawn = self.factors
        factor = drawn.relative_torque
        if drive == "lock-up":
            torque = np.asarray(drawn.loads * self.supply.torque(given, factor))
            given = np.broadcast_to(given, torque.shape)
            return TurbinePoints(given, np.ones(given.shape), given, torque, given, torque)
        common = (self.supply, self.converter, given)
        capacity = drawn.capacity / drawn.loads
        if near is None:
            points = match(*common, capacity_factor=capacity, torque_factor=factor).from_idle()
        else:
            points = match_near(*common, near, capacity_factor=capacity, torque_factor=factor)
        given = np.broadcast_to(given, points.engine_speed.shape)
        return self._of(points, given)

    def _of(self, points: OperatingPoints, parameter: FloatArray) -> TurbinePoints:
        drawn = self.factors
        torque = np.asarray(drawn.loads * points.input_torque)
        return TurbinePoints(
            parameter,
            points.speed_ratio,
            points.engine_speed,
            torque,
            points.turbine_speed,
            drawn.torque_ratio(points.torque_ratio) * torque,
        )

    def at_turbine_speed(self, drive: Drive, turbine_speed: ArrayLike) -> TurbinePoints:
        """Return the points at turbine speeds [rad/s] (any shape), of the machine as given.

        In converter drive they are those of a machine that comes up from standstill.

        Parameters
        ----------
        drive : {"converter", "lock-up"}
        turbine_speed : array_like

        Raises
        ------
        InputError
            If the engine's torque is not known at a speed, locked up.
        """
        if drive == "lock-up":
            return self.at(drive, turbine_speed)
        points = match_at_turbine_speed(self.supply, self.converter, turbine_speed)
        return self._of(points, points.speed_ratio)

    @property
    def machines(self) -> Machines:
        """Every draw as a machine that can be followed over turbine speed."""
        drawn = self.factors
        torque, capacity = (
            np.atleast_1d(part) for part in (drawn.relative_torque, drawn.capacity / drawn.loads)
        )
        return Machines(self.supply, self.converter, torque, capacity)

    def running_at(self, turbine_speed: FloatArray, engine_speed: FloatArray) -> TurbinePoints:
        """Return matches of every draw that are known by their speeds, shape (..., n).

        Parameters
        ----------
        turbine_speed, engine_speed : ndarray, shape (..., n)
            [rad/s]; NaN where there is no match.
        """
        drawn = self.factors
        known = Balances(
            engine_speed, np.ones(engine_speed.shape, dtype=bool), np.ones(1, dtype=bool)
        )
        there = np.where(np.isfinite(engine_speed), turbine_speed, 0.0)
        points = points_of(self.converter, there, known)
        torque = np.asarray(drawn.capacity / drawn.loads * points.input_torque)
        return self._of(replace(points, input_torque=torque), points.speed_ratio)

    def reached_from_idle(
        self, drive: Drive, parameter: FloatArray, engine_speed: FloatArray
    ) -> NDArray[np.bool_]:
        """Return whether an engine coming up from idle gets to matches that were followed.

        Parameters
        ----------
        drive : {"converter", "lock-up"}
        parameter, engine_speed : ndarray, shape (n,)
            Of the matches [-], [rad/s].
        """
        if drive == "lock-up":
            return np.ones(engine_speed.shape, dtype=bool)
        drawn = self.factors
        capacity = self.converter.capacity_at(parameter) * drawn.capacity / drawn.loads
        return reached_from_idle(self.supply, engine_speed, capacity, drawn.relative_torque)

    @cached_property
    def converter_drive(self) -> TurbinePoints:
        """The curve in converter drive from stall to speed ratio 1 or the end of the data.

        It is what a machine passes that comes up from standstill, by rising turbine speed. Where
        the engine jumps on the way (`jumps_before`) the curve is broken: no machine runs between.

        Raises
        ------
        InputError
            If the data do not reach from stall into drive, or there is no match anywhere.
        """
        return self._converter_drive[0]

    @property
    def jumps_before(self) -> NDArray[np.bool_]:
        """Whether the engine jumps between a point of the curve and the one before it."""
        return self._converter_drive[1]

    @property
    def jumps(self) -> bool:
        """Whether the engine jumps anywhere along the curve."""
        return bool(self.jumps_before.any())

    @cached_property
    def one_to_one(self) -> bool:
        """Whether each speed ratio has one match and each turbine speed one speed ratio.

        Where it has not, points are looked for at turbine speeds: see `at_turbine_speed`.
        """
        return self._converter_drive[2]

    @cached_property
    def _converter_drive(self) -> tuple[TurbinePoints, NDArray[np.bool_], bool]:
        grid = self.converter_grid
        points = self.at("converter", grid)
        exists = np.isfinite(points.engine_speed)
        if not exists.any():
            raise InputError(
                "engine and converter have no match at any speed ratio",
                source=self.converter.id,
                field="capacity",
            )
        capacity = np.asarray(self.converter.capacity_at(grid))
        single = match_margin(self.supply, capacity.min(), capacity.max()).single
        speed = points.turbine_speed[exists]
        # Coming up to a last speed ratio that is a rounding error away, speeds may repeat.
        if bool(single.all()) and bool(np.all(np.diff(speed) > 0.0)):
            kept = points.picked(np.flatnonzero(exists))
            return kept, np.zeros(speed.shape, dtype=bool), True
        top = self.supply.domain[1] * grid[-1]
        even = np.linspace(0.0, top, 2 * _STEPS + 1)
        speeds = np.unique(np.concatenate([even, speed]))
        speeds = speeds[np.concatenate([[True], np.diff(speeds) > 1e-9 * top])]
        run = passage(self.supply, self.converter, speeds)
        if not run.points.engine_speed.size:
            raise InputError(
                "engine and converter have no match at any turbine speed",
                source=self.converter.id,
                field="capacity",
            )
        return self._of(run.points, run.points.speed_ratio), run.jumps_before, False

    @cached_property
    def every_branch(self) -> EveryBranch:
        """Every branch of the match over turbine speed."""
        return every_branch(self.supply, self.converter)

    def of_branches(self, points: OperatingPoints) -> TurbinePoints:
        """Return matches at turbine speeds, any shape, as points of the shaft."""
        return self._of(points, points.speed_ratio)

    @cached_property
    def slowed_down(self) -> TurbinePoints | None:
        """What a machine passes that is slowed down, where it passes other matches than coming up.

        By rising turbine speed, shape (n,), NaN where it passes the same; None where it does so
        everywhere.
        """
        if self.one_to_one:
            return None
        every = self.every_branch
        up, down = every.up, every.down
        apart = np.isfinite(down) & ~(np.abs(up - down) <= 1e-6 * down)
        if not apart.any():
            return None
        rank = np.argmax(every.balances.speed == down, axis=0)
        points = every.points.at((rank, np.arange(rank.size)))  # type: ignore[arg-type]
        only = np.where(apart, 1.0, np.nan)
        return self.of_branches(
            OperatingPoints(
                points.speed_ratio * only,
                points.torque_ratio * only,
                points.engine_speed * only,
                points.input_torque * only,
                points.stable & apart,
            )
        )

    @cached_property
    def converter_grid(self) -> FloatArray:
        """Speed ratios at which the curve in converter drive is sampled, whatever the engine.

        Raises
        ------
        InputError
            If the data do not reach from stall into drive.
        """
        low, high = self.converter.domain
        high = min(high, 1.0)
        if low > 0.0 or high <= 0.0:
            raise InputError(
                "the characteristic does not reach from stall into drive",
                source=self.converter.id,
                field="speed_ratio",
                found=f"{low:.4g} .. {self.converter.domain[1]:.4g}",
                expected="speed ratios from 0 upwards",
            )
        knots = self.converter.characteristic.speed_ratio
        knots = knots[(knots > 0.0) & (knots < high)]
        # The governor droop line is steep in the last part: twice as many points there.
        grid = np.concatenate(
            [np.linspace(0.0, high, _STEPS + 1), np.linspace(0.8 * high, high, _STEPS + 1), knots]
        )
        grid = np.unique(grid)
        # Two points a rounding error apart would make slopes of noise.
        return np.asarray(grid[np.concatenate([[True], np.diff(grid) > 1e-9])])

    @cached_property
    def lock_up_grid(self) -> FloatArray:
        """Engine speeds at which the curve in lock-up drive is sampled [rad/s]."""
        low, high = self.supply.domain
        grid = np.unique(np.concatenate([np.linspace(low, high, _STEPS + 1), self.supply.knots]))
        return np.asarray(grid[np.concatenate([[True], np.diff(grid) > 1e-9 * high])])

    def grid(self, drive: Drive) -> FloatArray:
        """Return the parameters at which the curve of one drive is sampled."""
        return self.converter_grid if drive == "converter" else self.lock_up_grid

    @cached_property
    def lock_up_drive(self) -> TurbinePoints:
        """The curve in lock-up drive over the whole known engine speed."""
        return self.at("lock-up", self.lock_up_grid)

    def curve(self, drive: Drive) -> TurbinePoints:
        """Return the whole curve of one drive."""
        return self.converter_drive if drive == "converter" else self.lock_up_drive

    def drives(self, rule: LockUp) -> tuple[tuple[Drive, float, float], ...]:
        """Return the drives of a gear, with the turbine speeds that they change at [rad/s].

        Parameters
        ----------
        rule : LockUp
        """
        speeds = self.lock_up_speeds(rule)
        engages, releases = speeds if speeds else (np.inf, np.inf)
        if speeds is None:
            return (("converter", engages, releases),)
        return (("converter", engages, releases), ("lock-up", engages, releases))

    def lock_up_speeds(self, rule: LockUp) -> tuple[float, float] | None:
        """Return turbine speeds [rad/s] at which lock-up engages and releases, full throttle.

        None where it is not allowed or never engages. A rule by speed ratio is read on the open
        converter's curve; without a rule, lock-up closes where it pulls no less than the converter.
        """
        if not rule.allowed:
            return None
        curve = self.converter_drive
        if rule.engage_turbine_speed is not None:
            release = rule.release_turbine_speed
            return rule.engage_turbine_speed, release or rule.engage_turbine_speed
        if rule.engage_speed_ratio is not None:
            engage = self._turbine_speed_at(rule.engage_speed_ratio)
            if engage is None:
                return None
            release_ratio = rule.release_speed_ratio
            release = self._turbine_speed_at(release_ratio) if release_ratio else engage
            return engage, engage if release is None else release
        low, high = self.supply.domain
        both = curve.turbine_speed[(curve.turbine_speed >= low) & (curve.turbine_speed <= high)]
        if not both.size:
            return None
        open_torque = np.interp(both, curve.turbine_speed, curve.turbine_torque)
        better = np.flatnonzero(self.at("lock-up", both).turbine_torque >= open_torque)
        if not better.size:
            return None
        speed = float(both[better[0]])
        return speed, speed

    def _turbine_speed_at(self, speed_ratio: float) -> float | None:
        if speed_ratio > self.converter.domain[1]:  # rules lie below 1 themselves
            return None
        speed = float(self.at("converter", speed_ratio).turbine_speed)
        return speed if np.isfinite(speed) else None

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """What is odd about the curve as a whole."""
        pieces = []
        if self.jumps:
            pieces.append(
                Note(
                    "engine-jumps-along-locus",
                    "Along the drive curve the engine jumps from one match point to another: speed "
                    "and pull jump there too. The curve is that of a machine that comes up from "
                    "standstill, and is broken where nothing runs; a machine that is slowed down "
                    "jumps at another speed.",
                )
            )
        if self.converter.domain[1] < 1.0 and float(self.converter_drive.turbine_torque[-1]) > 0:
            pieces.append(
                Note(
                    "drive-curve-ends-with-data",
                    f"The converter's data end at speed ratio {self.converter.domain[1]:.3f}: what "
                    "happens above it, at light load, is not known and is left out.",
                )
            )
        return tuple(pieces)
