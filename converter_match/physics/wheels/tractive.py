"""The tractive effort diagram: every gear against resistance, adhesion and grade.

A machine settles where effort and resistance cross. All crossings of every drive are found on the
sampled curves and refined on the exact ones, for any number of grades at once; a crossing is stable
where effort falls faster with speed than resistance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.curves import FloatArray
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints

# The bracket is 1/240 of the curve to begin with; a secant needs about six steps from there.
_REFINEMENTS = 60
_Points = TypeVar("_Points")


@dataclass(frozen=True, eq=False)
class Equilibria:
    """Points at which effort meets resistance; arrays of shape (n,), drive by drive.

    Parameters
    ----------
    drive : ndarray of int
        Index into the drives asked for.
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
    found = refined(
        lambda p, pick: surplus(drive, load, drive.at(p), grade[pick]),
        (parameter[left], parameter[left + 1]),
        (excess[row, left], excess[row, left + 1]),
    )
    points = drive.at(found)
    adhesion = load.adhesion(grade)
    return Equilibria(
        drive=np.full(row.size, index),
        grade=grade,
        speed=points.road_speed(drive.machine, adhesion),
        stable=above[row, left],
        active=np.asarray(drive.active(points.turbine.turbine_speed)),
        grips=points.force <= adhesion,
        wheels=points,
    )


def refined(
    excess: Callable[[FloatArray, NDArray[np.intp]], FloatArray],
    bracket: tuple[FloatArray, FloatArray],
    values: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Narrow brackets of a sign change, all at once, by the Illinois form of the false position.

    Parameters
    ----------
    excess : callable
        Of (parameters, rows they belong to): the value whose zero is sought.
    bracket, values : tuple of ndarray, shape (n,)
        Parameters at both ends and the values there, of opposite sign.

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
        done = (value == 0.0) | (moved <= 1e-14 * np.abs(trial)) | (np.abs(b - a) <= 1e-14 * b)
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


@dataclass(frozen=True, eq=False)
class Envelope:
    """The greatest effort that any forward gear gives at a speed, as the lock-up rule leaves it.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        Over ground [m/s].
    effort : ndarray, shape (n,)
        What the engine could give, whatever the ground allows [N].
    force : ndarray, shape (n,)
        [N], at most what the ground allows on the level.
    drive : ndarray of int, shape (n,)
        Index of the drive that gives it; -1 where none reaches.
    slips : ndarray of bool, shape (n,)
        Whether the ground, not the engine, sets the force.
    """

    speed: FloatArray
    effort: FloatArray
    force: FloatArray
    drive: NDArray[np.intp]
    slips: NDArray[np.bool_]


def effort_at(
    drive: GearDrive, load: RoadLoad, speed: FloatArray, grade: float = 0.0
) -> FloatArray:
    """Return the effort [N] of a drive at road speeds [m/s], NaN where it is not in force.

    Straight lines between the points of the sampled curve.

    Parameters
    ----------
    drive : GearDrive
    load : RoadLoad
    speed : ndarray
        [m/s], any shape.
    grade : float
        Rise / run.
    """
    curve = drive.curve()
    road = curve.road_speed(drive.machine, load.adhesion(grade))
    force = np.interp(speed, road, curve.force, left=np.nan, right=np.nan)
    turbine = np.interp(speed, road, curve.turbine.turbine_speed)
    return np.where(drive.active(turbine), force, np.nan)


def envelope(drives: Sequence[GearDrive], loads: Sequence[RoadLoad], points: int = 401) -> Envelope:
    """Return the envelope of the forward drives on the level, shape (points,).

    Parameters
    ----------
    drives : sequence of GearDrive
    loads : sequence of RoadLoad
        One for each drive.
    points : int
    """
    ahead = [i for i, drive in enumerate(drives) if drive.gear.direction == "forward"]
    limit = [float(loads[i].adhesion(0.0)) for i in range(len(drives))]
    top = max(float(drives[i].curve().road_speed(drives[i].machine, limit[i]).max()) for i in ahead)
    speed = np.linspace(0.0, top, points)
    forces = np.stack([effort_at(drives[i], loads[i], speed) for i in ahead])
    reach = np.isfinite(forces)
    best = np.where(reach, forces, -np.inf)
    row = np.argmax(best, axis=0)
    wanted = np.where(reach.any(axis=0), best.max(axis=0), np.nan)
    ground = limit[ahead[0]]
    return Envelope(
        speed=speed,
        effort=wanted,
        force=np.minimum(wanted, ground),
        drive=np.where(reach.any(axis=0), np.asarray(ahead)[row], -1),
        slips=np.asarray(wanted > ground),
    )


def steepest_start(drive: GearDrive, load: RoadLoad) -> tuple[float, bool]:
    """Return the steepest grade (rise / run) a drive can start on, and whether grip sets it.

    Stall effort against ``R`` at standstill, and the adhesion limit on that same grade. Breaking
    away from rest takes somewhat more than rolling: not modelled.

    Parameters
    ----------
    drive : GearDrive
    load : RoadLoad
    """
    by_effort = float(load.grade_held(drive.curve().force[0], 0.0))
    by_grip = load.steepest_by_adhesion()
    return min(by_effort, by_grip), by_grip < by_effort
