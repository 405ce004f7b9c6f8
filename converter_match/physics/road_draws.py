"""The fastest steady speed on a grade, for many draws of uncertain inputs at once.

The balance of `physics.tractive`, entered from the road. At a speed ratio nu of the open converter
the resistance ``R = R_0 + A omega^2`` of a draw fixes the engine speed at which the wheels just
hold it,

    omega^2 = (R_0 k + T_drag) / (mu C - A k),     k = r / (i eta),

and the machine keeps the speed at which the engine has just the torque for it,
``T_net(omega) = C omega^2``: the excess of the engine falls through zero there. Locked up, nu = 1
and the excess is taken along engine speed. For draws without tolerances this gives the points of
`physics.tractive`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.road_load import RoadLoad
from converter_match.physics.tractive import refined
from converter_match.physics.wheels import GearDrive

_ROUNDS = 4  # slip and drag follow the speed weakly: settled to 1e-9 after these
_SECANT = 6
_CLOSE = 1e-9
_GRID = 33


@dataclass(frozen=True, eq=False)
class RoadFactors:
    """Factors of each draw, arrays of shape (n,); 1 is what the data say.

    Parameters
    ----------
    torque, loads : ndarray
        On the engine's torque before loads, and on the loads.
    capacity : ndarray
    ratio_share : ndarray
        On mu - 1 (or on mu where `whole_ratio`).
    mass, rolling_resistance, air : ndarray
        On the mass, the rolling resistance and the density of the air.
    whole_ratio : bool
        Whether the torque ratio is scaled as a whole (a fixed stator, which has no mu = 1).
    """

    torque: FloatArray
    loads: FloatArray
    capacity: FloatArray
    ratio_share: FloatArray
    mass: FloatArray
    rolling_resistance: FloatArray
    air: FloatArray
    whole_ratio: bool = False

    @property
    def size(self) -> int:
        """Number of draws."""
        return int(self.torque.size)

    def picked(self, rows: NDArray[np.intp]) -> RoadFactors:
        """Return some of the draws."""
        names = [name for name in self.__dataclass_fields__ if name != "whole_ratio"]
        return RoadFactors(
            **{name: getattr(self, name)[rows] for name in names}, whole_ratio=self.whole_ratio
        )

    def torque_ratio(self, mu: FloatArray) -> FloatArray:
        """Return the torque ratio of each draw."""
        if self.whole_ratio:
            return np.asarray(mu * self.ratio_share)
        return np.asarray(1.0 + (mu - 1.0) * self.ratio_share)


@dataclass(frozen=True, eq=False)
class RoadState:
    """Where each draw's machine settles; arrays of shape (n,), NaN where it does not.

    Parameters
    ----------
    speed : ndarray
        Over ground [m/s].
    engine_speed : ndarray
        [rad/s].
    heat : ndarray
        Into the transmission oil [W].
    """

    speed: FloatArray
    engine_speed: FloatArray
    heat: FloatArray


def steady_state(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, start: float
) -> RoadState:
    """Return where a drive holds its speed on a grade, for each draw.

    Parameters
    ----------
    drive : GearDrive
    load : RoadLoad
    grade : float
        Rise / run.
    factors : RoadFactors
    start : float
        Parameter of the nominal point (speed ratio, or engine speed locked up).
    """
    if drive.drive == "converter":
        low, high = 1e-3, min(drive.shaft.converter.domain[1], 1.0)
    else:
        low, high = drive.shaft.supply.domain
    span = high - low
    everybody = np.arange(factors.size)
    p0 = np.full(factors.size, start - 1e-3 * span)
    p1 = np.full(factors.size, start)
    f0, f1 = (_excess(drive, load, grade, factors, p) for p in (p0, p1))
    done = np.zeros(factors.size, dtype=bool)
    falls = np.zeros(factors.size, dtype=bool)
    for _ in range(_SECANT):
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = (f1 - f0) / (p1 - p0)
            step = f1 / slope
        # Where the excess rises the balance is unstable, and not the one that is sought.
        falls = np.where(done | (p1 == p0), falls, slope < 0.0)
        new = np.where(done | ~np.isfinite(step), p1, np.clip(p1 - step, low, high))
        done |= np.abs(new - p1) <= _CLOSE * span
        p0, f0 = p1, f1
        p1 = new
        if done.all():
            break
        f1 = _excess(drive, load, grade, factors, p1)
    inside = (p1 > low) & (p1 < high)
    rest = everybody[~(done & inside & falls)]
    if rest.size:
        p1[rest] = _searched(drive, load, grade, factors.picked(rest), low, high)
    return _state(drive, load, grade, factors, p1)


def _searched(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, low: float, high: float
) -> FloatArray:
    """Return the fastest balance by looking at the whole range; NaN where there is none."""
    grid = np.linspace(low, high, _GRID)
    excess = np.stack(
        [_excess(drive, load, grade, factors, np.full(factors.size, p)) for p in grid]
    )
    falls = (excess[:-1] > 0.0) & (excess[1:] <= 0.0)
    found = np.full(factors.size, np.nan)
    rows = np.flatnonzero(falls.any(axis=0))
    if rows.size:
        cell = _GRID - 2 - np.argmax(falls[::-1, rows], axis=0)
        picked = factors.picked(rows)

        def of(parameter: FloatArray, some: NDArray[np.intp]) -> FloatArray:
            return _excess(drive, load, grade, picked.picked(some), parameter)

        found[rows] = refined(
            of, (grid[cell], grid[cell + 1]), (excess[cell, rows], excess[cell + 1, rows])
        )
    return found


def _excess(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, parameter: FloatArray
) -> FloatArray:
    """Return the torque that the engine has beyond what the road asks of it [N.m]."""
    supply = drive.shaft.supply
    low, high = supply.domain
    if drive.drive == "lock-up":
        engine = np.clip(parameter, low, high)
        asked = _asked(drive, load, grade, factors, engine)[0]
    else:
        engine = _engine_speed(drive, load, grade, factors, parameter)
        c = factors.capacity * np.asarray(drive.shaft.converter.capacity_at(parameter))
        asked = c * engine * engine
        engine = np.clip(engine, low, high)
    net = factors.torque * supply.factor * np.asarray(supply.source(engine))
    return np.asarray(net - factors.loads * supply.load_torque(engine) - asked)


def _engine_speed(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, nu: FloatArray
) -> FloatArray:
    """Return the engine speed at which the wheels hold the road's resistance at a speed ratio."""
    converter = drive.shaft.converter
    mu = factors.torque_ratio(np.asarray(converter.torque_ratio_at(nu)))
    give = mu * factors.capacity * np.asarray(converter.capacity_at(nu))
    flat, air = _resistance(load, grade, factors)
    k = _leverage(drive)
    share, per_turn = _slip(drive, load, grade, factors, flat), _travel(drive)
    most = 2.0 * drive.shaft.supply.domain[1]
    engine = np.full(nu.shape, drive.shaft.supply.domain[1])
    drag = np.zeros(nu.shape)
    for _ in range(_ROUNDS):
        square = air * (nu * per_turn * (1.0 - share)) ** 2
        below = give - square * k
        with np.errstate(divide="ignore", invalid="ignore"):
            needed = np.sqrt(np.maximum(flat * k + drag, 0.0) / below)
        engine = np.where((below > 0.0) & (needed < most), needed, most)
        turbine = np.minimum(nu * engine, drive.shaft.supply.domain[1])
        drag = np.asarray(drive.gear.drag_torque(turbine))
        share = _slip(drive, load, grade, factors, flat + square * engine**2)
    return engine


def _asked(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, turbine: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return turbine torque [N.m] and road speed [m/s] that the road asks at a turbine speed."""
    flat, air = _resistance(load, grade, factors)
    share = _slip(drive, load, grade, factors, flat)
    for _ in range(_ROUNDS):
        speed = turbine * _travel(drive) * (1.0 - share)
        whole = flat + air * speed**2
        share = _slip(drive, load, grade, factors, whole)
    torque = whole * _leverage(drive) + np.asarray(drive.gear.drag_torque(turbine))
    return np.asarray(torque), np.asarray(turbine * _travel(drive) * (1.0 - share))


def _resistance(
    load: RoadLoad, grade: float, factors: RoadFactors
) -> tuple[FloatArray, FloatArray]:
    """Return what does not depend on speed [N], and the factor of its square [N.s^2/m^2]."""
    angle = np.arctan(grade)
    rolling = load.rolling_resistance * factors.rolling_resistance
    ground = load.weight * factors.mass * (rolling * np.cos(angle) + np.sin(angle))
    return ground + load.running_drag, 0.5 * load.air_density * load.drag_area * factors.air


def _leverage(drive: GearDrive) -> float:
    line, gear = drive.driveline, drive.gear
    return drive.machine.rolling_radius / (line.overall_ratio(gear) * line.efficiency(gear))


def _travel(drive: GearDrive) -> float:
    return drive.machine.rolling_radius / drive.driveline.overall_ratio(drive.gear)


def _slip(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, pull: FloatArray
) -> FloatArray:
    limit = load.adhesion(grade) * factors.mass
    with np.errstate(divide="ignore", invalid="ignore"):
        use = np.where(limit > 0.0, pull / limit, 1.0)
    return np.asarray(drive.machine.slip.at(use))


def _state(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, parameter: FloatArray
) -> RoadState:
    known = np.isfinite(parameter)
    safe = np.where(known, parameter, drive.shaft.supply.domain[0] if drive.drive == "lock-up"
                    else 0.5 * min(drive.shaft.converter.domain[1], 1.0))  # fmt: skip
    if drive.drive == "lock-up":
        engine = turbine = safe
        made = np.zeros(safe.shape)
    else:
        converter = drive.shaft.converter
        engine = _engine_speed(drive, load, grade, factors, safe)
        turbine = safe * engine
        mu = factors.torque_ratio(np.asarray(converter.torque_ratio_at(safe)))
        c = factors.capacity * np.asarray(converter.capacity_at(safe))
        made = c * engine**3 * (1.0 - safe * mu)
    torque, speed = _asked(drive, load, grade, factors, turbine)
    drag = np.asarray(drive.gear.drag_torque(np.minimum(turbine, drive.shaft.supply.domain[1])))
    gearbox = drag * turbine + (torque - drag) * turbine * (1.0 - drive.gear.efficiency)
    flat, air = _resistance(load, grade, factors)
    grips = flat + air * speed**2 <= load.adhesion(grade) * factors.mass
    held = known & grips & np.asarray(drive.active(turbine))
    return RoadState(
        speed=np.where(held, speed, np.nan),
        engine_speed=np.where(held, engine, np.nan),
        heat=np.where(held, made + gearbox, np.nan),
    )
