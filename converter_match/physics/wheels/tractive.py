"""The tractive effort diagram: every gear against resistance, adhesion and grade.

A machine settles where effort and resistance cross. All crossings of every drive are found on the
sampled curves and refined on the exact ones, for any number of grades at once; a crossing is stable
where effort falls faster with speed than resistance.

Many draws of uncertain inputs are so many machines, each with its crossing: `settled` finds those
of a few on the whole curve as well, and brackets the others by them. The machine as the data say is
a draw of one: the surplus of effort, the refinement and the points are the same.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.curves import FloatArray
from converter_match.physics.wheels.draws import RoadFactors
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints

# The bracket is 1/240 of the curve to begin with; a secant needs about six steps from there.
_REFINEMENTS = 60
_LAST_DIGIT = 1e-14
# Of many draws: so many are looked for on so many points of the curve; with so few found, all are.
_PROBES = 48
_LOOKED_AT = 33
_ENOUGH = 24
# A bracket is so many times as wide as the probes are off the guess, and never narrower than this
# share of the range. Where it misses it is put about the point to which its ends lead, so often.
_WIDTHS = 2.0
_NARROWEST = 1e-3
_TRIES = 4
# The last move of a point; what is still missing then is far smaller.
_CLOSE = 1e-7
_LEVEL = 0.02  # steps of torque of the engines by which many are judged at once
_Points = TypeVar("_Points")
_Pair = tuple[FloatArray, FloatArray]


@dataclass(frozen=True, eq=False)
class Equilibria:
    """Points at which effort meets resistance; arrays of shape (n,), drive by drive.

    Parameters
    ----------
    drive : ndarray of int
        Index into the drives asked for.
    draw : ndarray of int
        Which of the draws of uncertain inputs; 0 for the machine as the data say.
    grade : ndarray
        Rise / run.
    speed : ndarray
        Over ground [m/s].
    stable : ndarray of bool
        Whether the machine returns to the point after a disturbance.
    active : ndarray of bool
        Whether the lock-up rule leaves this drive in force there.
    grips : ndarray of bool
        Whether the ground allows the effort.
    wheels : WheelPoints
        The same points at wheels, turbine and engine; its force equals the resistance.
    """

    drive: NDArray[np.intp]
    draw: NDArray[np.intp]
    grade: FloatArray
    speed: FloatArray
    stable: NDArray[np.bool_]
    active: NDArray[np.bool_]
    grips: NDArray[np.bool_]
    wheels: WheelPoints

    @property
    def held(self) -> NDArray[np.bool_]:
        """Whether the machine can stay at the point: stable, in force, and with grip."""
        return np.asarray(self.stable & self.active & self.grips)

    def picked(self, rows: NDArray[np.bool_]) -> Equilibria:
        """Return some of the points."""
        return _each([self], lambda arrays: arrays[0][rows])


def equilibria(
    drives: Sequence[GearDrive], loads: Sequence[RoadLoad], grades: ArrayLike
) -> Equilibria:
    """Return every point at which a drive's effort meets the resistance on a grade.

    Parameters
    ----------
    drives : sequence of GearDrive
        At least one.
    loads : sequence of RoadLoad
        One for each drive (in reverse, climbing loads the other axle).
    grades : array_like, shape (k,)
        Rise / run, in the direction of travel.
    """
    slopes = np.atleast_1d(np.asarray(grades, dtype=np.float64))
    parts = [
        _of_drive(index, drive, load, slopes)
        for index, (drive, load) in enumerate(zip(drives, loads, strict=True))
    ]
    return _each(parts, np.concatenate)


def surplus(drive: GearDrive, load: RoadLoad, points: WheelPoints, grade: ArrayLike) -> FloatArray:
    """Return effort less resistance [N] at points on a grade; broadcast.

    Parameters
    ----------
    drive : GearDrive
    load : RoadLoad
    points : WheelPoints
    grade : array_like
        Rise / run.
    """
    speed = points.road_speed(drive.machine, load.adhesion(grade))
    return np.asarray(points.force - load.resistance(grade, speed))


def _of_drive(index: int, drive: GearDrive, load: RoadLoad, grades: FloatArray) -> Equilibria:
    curve = drive.curve()
    excess = surplus(drive, load, curve, grades[:, np.newaxis])
    above = excess > 0.0
    row, left = np.nonzero(above[:, :-1] != above[:, 1:])
    grade, parameter = grades[row], curve.turbine.parameter
    balance = refined(
        lambda p, pick: surplus(drive, load, drive.at(p), grade[pick]),
        (parameter[left], parameter[left + 1]),
        (excess[row, left], excess[row, left + 1]),
    )
    alone = np.zeros(row.size, dtype=np.intp)
    points = drive.at(balance)
    return _points(index, drive, load, grade, points, draw=alone, stable=above[row, left])


def _points(
    index: int,
    drive: GearDrive,
    load: RoadLoad,
    grade: FloatArray,
    points: WheelPoints,
    *,
    draw: NDArray[np.intp],
    stable: NDArray[np.bool_],
) -> Equilibria:
    adhesion = load.adhesion(grade)
    return Equilibria(
        drive=np.full(draw.size, index),
        draw=draw,
        grade=grade,
        speed=points.road_speed(drive.machine, adhesion),
        stable=stable,
        active=np.asarray(drive.active(points.turbine.turbine_speed)),
        grips=points.force <= adhesion,
        wheels=points,
    )


def settled(drive: GearDrive, load: RoadLoad, grade: float, factors: RoadFactors) -> Equilibria:
    """Return the fastest stable equilibrium of each draw on a grade, at most one row a draw.

    Parameters
    ----------
    drive : GearDrive
    load : RoadLoad
    grade : float
        Rise / run.
    factors : RoadFactors
        Of n draws.
    """
    draws = _Draws(drive, load, grade, factors)
    count = factors.size
    probes = np.unique(np.linspace(0, count - 1, _PROBES).astype(np.intp))
    parameter, engine = (np.full(count, np.nan) for _ in range(2))
    if count > probes.size:
        few = draws.picked(probes)
        row, bracket, values, speeds = _cells(few)
        if row.size > _ENOUGH:
            share = values[0] / (values[0] - values[1])
            rough = (low + share * (high - low) for low, high in (bracket, speeds))
            parameter, engine = _bracketed(draws, *_guessed(draws, few.picked(row), *rough))
    rest = np.flatnonzero(np.isnan(parameter))
    if rest.size > probes.size:
        rest = rest[_may_balance(draws.picked(rest))]
    if rest.size:
        parameter[rest], engine[rest] = _searched(draws.picked(rest))
    row = np.flatnonzero(np.isfinite(parameter))
    drawn = factors.picked(row)
    points = drawn.drive(drive).at(parameter[row], near=engine[row])
    on_grade, stable = np.full(row.size, grade), np.ones(row.size, dtype=bool)
    return _points(0, drive, drawn.load(load), on_grade, points, draw=row, stable=stable)


@dataclass(frozen=True, eq=False)
class _Draws:
    """Draws of one drive on one grade."""

    drive: GearDrive
    load: RoadLoad
    grade: float
    factors: RoadFactors

    def picked(self, rows: NDArray[np.intp]) -> _Draws:
        """Return the draws of rows that rise."""
        if rows.size == self.factors.size:
            return self
        return _Draws(self.drive, self.load, self.grade, self.factors.picked(rows))

    @property
    def grid(self) -> FloatArray:
        """Places on the whole curve."""
        curve = self.drive.curve().turbine.parameter
        return curve[np.unique(np.linspace(0, curve.size - 1, _LOOKED_AT).astype(np.intp))]

    def terms(self) -> list[FloatArray]:
        """Return what the place of the balance depends on, an array each."""
        load = self.factors.load(self.load)
        at_rest = load.resistance(self.grade, 0.0)
        return [*self.factors.arrays().values(), at_rest, np.asarray(load.air_factor)]

    def at(
        self, parameter: FloatArray, near: FloatArray | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Return the surplus of effort [N] and the engine speed [rad/s]."""
        points = self.factors.drive(self.drive).at(parameter, near)
        load = self.factors.load(self.load)
        return surplus(self.drive, load, points, self.grade), points.turbine.engine_speed


def _searched(draws: _Draws) -> tuple[FloatArray, FloatArray]:
    """Return parameter and engine speed of each draw's balance, looked for on the whole curve."""
    parameter, speed = (np.full(draws.factors.size, np.nan) for _ in range(2))
    row, bracket, values, _ = _cells(draws)
    if row.size:
        some = draws.picked(row)
        parameter[row] = refined(
            lambda p, pick: some.picked(pick).at(p)[0], bracket, values, _CLOSE
        )
        speed[row] = some.at(parameter[row])[1]
    return parameter, speed


def _cells(
    draws: _Draws,
) -> tuple[NDArray[np.intp], _Pair, _Pair, _Pair]:
    """Return the draws that have a balance, and both ends of the cell of the curve that holds it.

    At the ends: parameter, surplus of effort and engine speed.
    """
    grid = draws.grid
    excess, engine = draws.at(grid[:, np.newaxis])
    engine = np.broadcast_to(engine, excess.shape)
    falls = (excess[:-1] > 0.0) & (excess[1:] <= 0.0)
    row = np.flatnonzero(falls.any(axis=0))
    low = falls.shape[0] - 1 - np.argmax(falls[::-1, row], axis=0)
    high = low + 1
    return (
        row,
        (grid[low], grid[high]),
        (excess[low, row], excess[high, row]),
        (engine[low, row], engine[high, row]),
    )


def _may_balance(draws: _Draws) -> NDArray[np.bool_]:
    """Return which draws can have effort to spare anywhere, judged by an engine no weaker.

    Each gets the next stronger of a few engines: for those matching is a look-up.
    """
    factors = draws.factors
    stronger = np.ceil(factors.relative_torque / _LEVEL) * _LEVEL
    bound = replace(draws, factors=replace(factors, torque=stronger * factors.loads))
    excess = bound.at(draws.grid[::2, np.newaxis])[0]
    return np.asarray((excess > 0.0).any(axis=0))


def _guessed(
    draws: _Draws, probes: _Draws, parameter: FloatArray, engine: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Return a guess of both for each draw, a quadratic through the probes, and its doubt."""
    every, known = draws.terms(), probes.terms()
    columns, rows = [np.ones(draws.factors.size)], [np.ones(parameter.size)]
    for part, at_probes in zip(every, known, strict=True):
        spread, middle = float(np.ptp(part)), float(part.mean())
        if spread > 1e-9 * float(np.max(np.abs(part)) or 1.0):
            for power in (1, 2):
                columns.append(((part - middle) / spread) ** power)
                rows.append(((at_probes - middle) / spread) ** power)
    table, wanted = np.stack(rows, axis=1), np.stack([parameter, engine], axis=1)
    fit = np.linalg.lstsq(table, wanted, rcond=None)[0]
    guess = np.stack(columns, axis=1) @ fit
    off = float(np.max(np.abs(table @ fit - wanted)[:, 0]))
    return guess[:, 0], guess[:, 1], _WIDTHS * off


def _bracketed(
    draws: _Draws, guess: FloatArray, engine: FloatArray, doubt: float
) -> tuple[FloatArray, FloatArray]:
    """Return parameter and engine speed of each draw's balance near a guess; NaN without one."""
    curve = draws.drive.curve().turbine.parameter
    bottom, top = float(curve[0]), float(curve[-1])
    low, high, f_low, f_high, e_low, e_high = (np.full(guess.size, np.nan) for _ in range(6))
    left = np.arange(guess.size)
    middle, near = guess, engine
    wide = np.full(guess.size, doubt + _NARROWEST * (top - bottom))
    for _ in range(_TRIES):
        some = draws.picked(left)
        low[left], high[left] = (np.clip(middle + s * wide, bottom, top) for s in (-1.0, 1.0))
        f_low[left], e_low[left] = some.at(low[left], near)
        f_high[left], e_high[left] = some.at(high[left], near)
        f_a, f_b, width = f_low[left], f_high[left], (high - low)[left]
        with np.errstate(divide="ignore", invalid="ignore"):
            step = f_b * width / (f_a - f_b)
        misses = ~((f_a > 0.0) & (f_b <= 0.0)) & np.isfinite(step)
        wide, near = np.maximum(wide, 0.25 * np.abs(step))[misses], e_high[left][misses]
        left, middle = left[misses], (high[left] + step)[misses]
        if not left.size:
            break
    falls = np.flatnonzero((f_low > 0.0) & (f_high <= 0.0))
    some, low, high, e_low, e_high = (
        draws.picked(falls), low[falls], high[falls], e_low[falls], e_high[falls]
    )  # fmt: skip
    rise = (e_high - e_low) / (high - low)

    def speed_at(parameter: FloatArray, pick: NDArray[np.intp]) -> FloatArray:
        return np.asarray(e_low[pick] + rise[pick] * (parameter - low[pick]))

    balance = refined(
        lambda p, pick: some.picked(pick).at(p, speed_at(p, pick))[0],
        (low, high),
        (f_low[falls], f_high[falls]),
        _CLOSE,
    )
    speed = speed_at(balance, np.arange(falls.size))
    drive = some.factors.drive(draws.drive)
    reached = drive.shaft.reached_from_idle(drive.drive, balance, speed)
    parameter, engine = (np.full(guess.size, np.nan) for _ in range(2))
    parameter[falls], engine[falls] = np.where(reached, balance, np.nan), speed
    return parameter, engine


def refined(
    excess: Callable[[FloatArray, NDArray[np.intp]], FloatArray],
    bracket: tuple[FloatArray, FloatArray],
    values: tuple[FloatArray, FloatArray],
    close: float = _LAST_DIGIT,
) -> FloatArray:
    """Narrow brackets of a sign change, all at once, by the Illinois form of the false position.

    Parameters
    ----------
    excess : callable
        Of (parameters, rows they belong to): the value whose zero is sought.
    bracket, values : tuple of ndarray, shape (n,)
        Parameters at both ends and the values there, of opposite sign.
    close : float
        Share of the parameter by which it may still move at the end.

    Returns
    -------
    ndarray, shape (n,)
        Parameters inside the brackets at which the value is zero to rounding.
    """
    low, high = bracket[0].copy(), bracket[1].copy()
    f_low, f_high = values[0].copy(), values[1].copy()
    best = np.where(f_low == 0.0, low, high)
    kept_before = np.zeros(low.size)
    going = np.flatnonzero((f_low != 0.0) & (f_high != 0.0))
    for _ in range(_REFINEMENTS):
        if not going.size:
            break
        a, b, fa, fb = low[going], high[going], f_low[going], f_high[going]
        trial = a + (b - a) * fa / (fa - fb)
        value = excess(trial, going)
        lower = (value > 0.0) == (fa > 0.0)
        # An end that stays twice in a row is given half its weight, or it would stay for ever.
        kept = np.where(lower, 1.0, -1.0)
        again = kept == kept_before[going]
        low[going], high[going] = np.where(lower, trial, a), np.where(lower, b, trial)
        f_low[going] = np.where(lower, value, np.where(again, 0.5 * fa, fa))
        f_high[going] = np.where(lower, np.where(again, 0.5 * fb, fb), value)
        kept_before[going] = kept
        moved = np.abs(trial - best[going])
        best[going] = trial
        done = (value == 0.0) | (moved <= close * np.abs(trial)) | (np.abs(b - a) <= close * b)
        done |= ~np.isfinite(value)
        going = going[~done]
    return best


def _each(
    bundles: Sequence[_Points], combine: Callable[[list[NDArray[Any]]], NDArray[Any]]
) -> _Points:
    """Combine bundles of arrays of one type, field by field, bundles inside them included."""
    combined = {}
    for field in fields(bundles[0]):  # type: ignore[arg-type]
        items = [getattr(bundle, field.name) for bundle in bundles]
        is_array = isinstance(items[0], np.ndarray)
        combined[field.name] = combine(items) if is_array else _each(items, combine)
    return type(bundles[0])(**combined)


def steepest_start(
    drive: GearDrive, load: RoadLoad, near: ArrayLike | None = None
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return the steepest grade (rise / run) a drive can start on, and whether grip sets it.

    Stall effort against ``R`` at standstill, and the adhesion limit on that same grade. Breaking
    away from rest takes somewhat more than rolling: not modelled.

    Parameters
    ----------
    drive : GearDrive
        In converter drive.
    load : RoadLoad
    near : array_like, optional
        Engine speed close to stall [rad/s], as for `GearDrive.at`.

    Returns
    -------
    grade : ndarray
        Of each draw; NaN where the converter has no match at stall.
    by_grip : ndarray of bool
    """
    by_effort = load.grade_held(drive.at(0.0, near).force, 0.0)
    by_grip = load.steepest_by_adhesion()
    return np.minimum(by_effort, by_grip), np.asarray(by_grip < by_effort)
