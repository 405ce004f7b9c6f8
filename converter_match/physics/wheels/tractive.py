"""The tractive effort diagram: every gear against resistance, adhesion and grade.

A machine settles where effort and resistance cross. All crossings of every drive are found on the
sampled curves and refined on the exact ones, for any number of grades at once; a crossing is stable
where effort falls faster with speed than resistance.

Many draws of uncertain inputs are so many machines, each with its crossing: see `drawn_drive`. The
surplus of effort, the refinement and the points are the same.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.curves import FloatArray
from converter_match.physics.match.match_set import OperatingPoints
from converter_match.physics.match.turbine_speed import Coming
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints

# The bracket is 1/240 of the curve to begin with; a secant needs about six steps from there.
_REFINEMENTS = 60
_LAST_DIGIT = 1e-14
_COMING: tuple[Coming, ...] = ("up", "down")
_Points = TypeVar("_Points")


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
    risen : ndarray of bool
        Whether the engine runs on the branch of a machine that has come up from standstill; always,
        where a turbine speed has one match only.
    coming_up, coming_down : ndarray of bool
        Whether a machine settles there that speeds up slowly through this drive from its slow end;
        and one that is slowed down through it from its fast end.
    """

    drive: NDArray[np.intp]
    draw: NDArray[np.intp]
    grade: FloatArray
    speed: FloatArray
    stable: NDArray[np.bool_]
    active: NDArray[np.bool_]
    grips: NDArray[np.bool_]
    wheels: WheelPoints
    risen: NDArray[np.bool_]
    coming_up: NDArray[np.bool_]
    coming_down: NDArray[np.bool_]

    @property
    def held(self) -> NDArray[np.bool_]:
        """Whether a machine that came up from standstill can stay at the point.

        Stable, in force, with grip, and on the engine's branch then.
        """
        return np.asarray(self.could_be_held & self.risen)

    @property
    def could_be_held(self) -> NDArray[np.bool_]:
        """Whether the machine can stay at the point, however it comes there."""
        return np.asarray(self.stable & self.active & self.grips)

    def picked(self, rows: NDArray[Any]) -> Equilibria:
        """Return some of the points, by mask or place."""
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
    return surplus_and_speed(drive, load, points, grade, load.adhesion(grade))[0]


def surplus_and_speed(
    drive: GearDrive,
    load: RoadLoad,
    points: WheelPoints,
    grade: ArrayLike,
    adhesion: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return effort less resistance [N], and the road speed [m/s], at points on a grade.

    Parameters
    ----------
    drive, load, points, grade
        As for `surplus`.
    adhesion : ndarray
        What the ground lets pull there [N].
    """
    speed = points.road_speed(drive.machine, adhesion)
    return np.asarray(points.force - load.resistance(grade, speed)), speed


def _of_drive(index: int, drive: GearDrive, load: RoadLoad, grades: FloatArray) -> Equilibria:
    if not drive.one_to_one:
        return _on_every_branch(index, drive, load, grades)
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
    found = balanced(
        index, drive, load, grade, drive.at(balance), draw=alone, stable=above[row, left]
    )
    # Rows are grade by grade, each by rising speed.
    first, last = np.ones((2, row.size), dtype=bool)
    first[1:] = last[:-1] = row[1:] != row[:-1]
    return replace(found, coming_up=found.stable & first, coming_down=found.stable & last)


def _on_every_branch(
    index: int, drive: GearDrive, load: RoadLoad, grades: FloatArray
) -> Equilibria:
    """Return the points of a drive at which a turbine speed may have several matches."""
    every = drive.shaft.every_branch
    points = drive.of_turbine(drive.shaft.of_branches(every.points))  # (r, n)
    excess = surplus(drive, load, points, grades[:, np.newaxis, np.newaxis])
    above = excess > 0.0
    known = np.isfinite(points.force)
    changes = (above[..., :-1] != above[..., 1:]) & known[:, :-1] & known[:, 1:] & every.goes_on
    row, rank, left = np.nonzero(changes)
    grade, speeds = grades[row], every.turbine_speed

    def at(turbine_speed: FloatArray, which: NDArray[np.intp]) -> OperatingPoints:
        return every.at(turbine_speed, rank[which])

    def spare(turbine_speed: FloatArray, which: NDArray[np.intp]) -> FloatArray:
        wheels = drive.of_turbine(drive.shaft.of_branches(at(turbine_speed, which)))
        return surplus(drive, load, wheels, grade[which])

    balance = refined(
        spare,
        (speeds[left], speeds[left + 1]),
        (excess[row, rank, left], excess[row, rank, left + 1]),
    )
    matches = at(balance, np.arange(row.size))
    wheels = drive.of_turbine(drive.shaft.of_branches(matches))
    alone = np.zeros(row.size, dtype=np.intp)
    stable = matches.stable & above[row, rank, left]
    found = balanced(index, drive, load, grade, wheels, draw=alone, stable=stable)
    come = {coming: np.zeros(row.size, dtype=bool) for coming in _COMING}
    for number in range(grades.size):
        for coming in _COMING:
            place = every.settles(excess[number], coming)
            if place is not None:
                come[coming] |= (row == number) & (rank == place[0]) & (left == place[1])
    # A branch that is run along from one turbine speed to the next.
    up, speed = every.up, every.balances.speed
    risen = (speed[rank, left] == up[left]) & (speed[rank, left + 1] == up[left + 1])
    found = replace(found, risen=risen, coming_up=come["up"], coming_down=come["down"])
    return found.picked(np.lexsort((found.speed, row)))


def balanced(
    index: int,
    drive: GearDrive,
    load: RoadLoad,
    grade: FloatArray,
    points: WheelPoints,
    *,
    draw: NDArray[np.intp],
    stable: NDArray[np.bool_],
) -> Equilibria:
    """Return points of a drive at which effort meets resistance as equilibria, arrays (n,).

    Parameters
    ----------
    index : int
        Which drive it is.
    drive : GearDrive
    load : RoadLoad
    grade : ndarray
        Rise / run.
    points : WheelPoints
    draw : ndarray of int
        Which draw each is of.
    stable : ndarray of bool

    Returns
    -------
    Equilibria
        Without a word on how they are come to.
    """
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
        risen=np.ones(draw.size, dtype=bool),
        coming_up=np.zeros(draw.size, dtype=bool),
        coming_down=np.zeros(draw.size, dtype=bool),
    )


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


def end_of(drive: GearDrive, load: RoadLoad, grade: float, slips: bool) -> tuple[int, str]:
    """Return where a drive without a state of balance ends, and why; -1 where it cannot move.

    Parameters
    ----------
    drive : GearDrive
    load : RoadLoad
    grade : float
        Rise / run.
    slips : bool
        Whether it has a balance that the ground does not allow.

    Returns
    -------
    int
        Point of its curve.
    str
        ``data end``, ``lock-up engages``, ``grip`` or ``too weak``.
    """
    curve = drive.curve()
    active = np.flatnonzero(drive.active(curve.turbine.turbine_speed))
    if slips:
        return -1, "grip"
    if not active.size:
        return -1, "too weak"
    last = int(active[-1])
    if surplus(drive, load, curve, grade)[last] <= 0.0:
        return -1, "too weak"
    if float(curve.force[last]) > float(load.adhesion(grade)):
        return -1, "grip"
    return last, "data end" if last == curve.force.size - 1 else "lock-up engages"


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
