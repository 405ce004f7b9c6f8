"""The fastest steady speed on a grade, for many draws of uncertain inputs at once.

The balance of `physics.wheels.tractive`, entered from the road. At a speed ratio nu of the open
converter
the resistance ``R = R_0 + A omega^2`` of a draw fixes the engine speed at which the wheels just
hold it,

    omega^2 = (R_0 k + T_drag) / (mu C - A k),     k = r / (i eta),

and the machine keeps the speed at which the engine has just the torque for it,
``T_net(omega) = C omega^2``: the excess of the engine falls through zero there. Locked up, nu = 1
and the excess is taken along engine speed. For draws without tolerances this gives the points
of `physics.wheels.tractive`. Where engine and converter agree at several speeds, the balance may be
one that is reached from high idle only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import refined
from converter_match.physics.wheels.wheels import GearDrive

_ROUNDS = 3  # slip and drag follow the speed weakly: settled far below their own accuracy
_LAST_ROUNDS = 6  # for the point itself
_STEPS = 24
_CLOSE = 1e-7
_SECANT = 5
_ENOUGH = 24
_GRID = 33
_PROBES = 64


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
    # A few draws searched over the whole range say where the balance of the others lies.
    probes = np.unique(np.linspace(0, factors.size - 1, _PROBES).astype(np.intp))
    roots = _searched(drive, load, grade, factors.picked(probes), low, high)
    known = np.append(roots[np.isfinite(roots)], start)
    found = np.full(factors.size, np.nan)
    if np.isfinite(roots).sum() > _ENOUGH:
        guess = _guessed(load, grade, factors, probes, roots)
        found = _polished(drive, load, grade, factors, np.clip(guess, low, high), (low, high))
    rest = np.flatnonzero(np.isnan(found))
    if rest.size:
        wide = 0.25 * (known.max() - known.min()) + 1e-4 * (high - low)
        a, b = max(float(known.min()) - wide, low), min(float(known.max()) + wide, high)
        found[rest] = _narrowed(drive, load, grade, factors.picked(rest), a, b)
        rest = np.flatnonzero(np.isnan(found))
    if rest.size:
        found[rest] = _searched(drive, load, grade, factors.picked(rest), low, high)
    return _state(drive, load, grade, factors, found)


def _guessed(
    load: RoadLoad, grade: float, factors: RoadFactors, probes: NDArray[np.intp], roots: FloatArray
) -> FloatArray:
    """Return a first guess for each draw: a quadratic through the balances of the probes."""
    flat, air = _resistance(load, grade, factors)
    parts = [factors.torque, factors.loads, factors.capacity, factors.ratio_share, flat, air]
    columns = [np.ones(factors.size)]
    for part in parts:
        spread = float(np.ptp(part))
        if spread > 1e-9 * float(np.max(np.abs(part)) or 1.0):
            columns.append((part - float(part.mean())) / spread)
    columns += [column * column for column in columns[1:]]
    table = np.stack(columns, axis=1)
    good = np.isfinite(roots)
    fit = np.linalg.lstsq(table[probes[good]], roots[good], rcond=None)[0]
    return np.asarray(table @ fit)


def _polished(
    drive: GearDrive,
    load: RoadLoad,
    grade: float,
    factors: RoadFactors,
    guess: FloatArray,
    within: tuple[float, float],
) -> FloatArray:
    """Return the balance near a guess by the secant method; NaN where it does not settle."""
    low, high = within
    span = high - low
    p0 = np.clip(guess, low + 2e-4 * span, high)
    p1 = p0 - 1e-4 * span
    f0, f1 = (_excess(drive, load, grade, factors, p) for p in (p0, p1))
    found = np.full(factors.size, np.nan)
    rows = np.arange(factors.size)
    some = factors
    for _ in range(_SECANT):
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = (f1 - f0) / (p1 - p0)
            new = p1 - f1 / slope
        # Where the excess rises the balance is unstable, and not the one that is sought.
        usable = np.isfinite(new) & (slope < 0.0) & (new > low) & (new < high)
        settled = usable & (np.abs(new - p1) <= _CLOSE * span)
        found[rows[settled]] = new[settled]
        on = np.flatnonzero(usable & ~settled)
        if not on.size:
            break
        rows, some = rows[on], some.picked(on)
        p0, f0, p1 = p1[on], f1[on], new[on]
        f1 = _excess(drive, load, grade, some, p1)
    return found


def _narrowed(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, low: float, high: float
) -> FloatArray:
    """Return the balance of each draw inside a bracket by false position; NaN where it is not."""
    a, b = np.full(factors.size, low), np.full(factors.size, high)
    f_a, f_b = (_excess(drive, load, grade, factors, p) for p in (a, b))
    inside = np.flatnonzero((f_a > 0.0) & (f_b <= 0.0))
    found = np.full(factors.size, np.nan)
    some = factors.picked(inside)
    a, b, f_a, f_b = a[inside], b[inside], f_a[inside], f_b[inside]
    side = np.zeros(inside.size)
    last = a
    for _ in range(_STEPS):
        trial = a + (b - a) * f_a / (f_a - f_b)
        value = _excess(drive, load, grade, some, trial)
        up = value > 0.0
        # An end that stays twice is given half its weight (the Illinois rule).
        f_b = np.where(up & (side > 0), 0.5 * f_b, f_b)
        f_a = np.where(~up & (side < 0), 0.5 * f_a, f_a)
        a, f_a = np.where(up, trial, a), np.where(up, value, f_a)
        b, f_b = np.where(up, b, trial), np.where(up, f_b, value)
        side = np.where(up, 1.0, -1.0)
        moved = np.abs(trial - last)
        last = trial
        found[inside] = trial
        going = np.flatnonzero((moved > _CLOSE * high) & (value != 0.0))
        if not going.size:
            break
        if going.size < 0.7 * inside.size:
            inside, some = inside[going], some.picked(going)
            a, b, f_a, f_b = a[going], b[going], f_a[going], f_b[going]
            side, last = side[going], last[going]
    return found


def _searched(
    drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors, low: float, high: float
) -> FloatArray:
    """Return the fastest balance by looking at the whole range; NaN where there is none."""
    grid = np.linspace(low, high, _GRID)
    # Every draw at every place of the grid in one go: few draws would not be worth a call each.
    everyone = np.tile(np.arange(factors.size), _GRID)
    excess = _excess(
        drive, load, grade, factors.picked(everyone), np.repeat(grid, factors.size)
    ).reshape(_GRID, factors.size)
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
        capacity = factors.capacity * np.asarray(drive.shaft.converter.capacity_at(parameter))
        engine = _engine_speed(drive, load, grade, factors, parameter, capacity)
        asked = capacity * engine * engine
        engine = np.clip(engine, low, high)
    net = factors.torque * supply.factor * np.asarray(supply.source(engine))
    return np.asarray(net - factors.loads * supply.load_torque(engine) - asked)


def _engine_speed(
    drive: GearDrive,
    load: RoadLoad,
    grade: float,
    factors: RoadFactors,
    nu: FloatArray,
    capacity: FloatArray,
    rounds: int = _ROUNDS,
) -> FloatArray:
    """Return the engine speed at which the wheels hold the road's resistance at a speed ratio."""
    give = capacity * factors.torque_ratio(np.asarray(drive.shaft.converter.torque_ratio_at(nu)))
    flat, air = _resistance(load, grade, factors)
    k = _leverage(drive)
    share, per_turn = _slip(drive, load, grade, factors, flat), _travel(drive)
    top = drive.shaft.supply.domain[1]
    most = 2.0 * top
    drag = np.asarray(drive.gear.drag_torque(np.minimum(nu, 1.0) * top))
    for left in range(rounds - 1, -1, -1):
        square = air * (nu * per_turn * (1.0 - share)) ** 2
        below = give - square * k
        with np.errstate(divide="ignore", invalid="ignore"):
            needed = np.sqrt(np.maximum(flat * k + drag, 0.0) / below)
        engine = np.where((below > 0.0) & (needed < most), needed, most)
        if left:
            drag = np.asarray(drive.gear.drag_torque(np.minimum(nu * engine, top)))
            if load.drag_area > 0.0 and (left == rounds - 1 or rounds > _ROUNDS):
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
        c = factors.capacity * np.asarray(converter.capacity_at(safe))
        engine = _engine_speed(drive, load, grade, factors, safe, c, _LAST_ROUNDS)
        turbine = safe * engine
        mu = factors.torque_ratio(np.asarray(converter.torque_ratio_at(safe)))
        made = c * engine**3 * (1.0 - safe * mu)
    torque, speed = _asked(drive, load, grade, factors, turbine)
    drag = np.asarray(drive.gear.drag_torque(np.minimum(turbine, drive.shaft.supply.domain[1])))
    gearbox = drag * turbine + (torque - drag) * turbine * (1.0 - drive.gear.efficiency)
    flat, air = _resistance(load, grade, factors)
    grips = flat + air * speed**2 <= load.adhesion(grade) * factors.mass
    # Below low idle the engine does not run: the brakes, not the road, would hold the machine.
    runs = engine >= drive.shaft.supply.domain[0] * (1.0 - 1e-9)
    held = known & grips & runs & np.asarray(drive.active(turbine))
    return RoadState(
        speed=np.where(held, speed, np.nan),
        engine_speed=np.where(held, engine, np.nan),
        heat=np.where(held, made + gearbox, np.nan),
    )
