"""Where many draws of a machine settle in one drive on one grade.

As for the machine of the data, a draw settles at the fastest crossing of effort and resistance that
it can stay at; without one, at the end of the drive where it has effort to spare there. Looked for
on the whole curve, or followed from a guess by the secant method.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.wheels.draws import RoadFactors
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import balanced, refined, surplus_and_speed
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints

# Places of the curve at which every draw is looked at to begin with.
_LOOKED_AT = 65
_LOOKED_AT_BY_MANY = 33
# So many draws are worth a look at which of them may settle at all, with engines that differ by
# this share of torque.
_MANY = 96
_LEVEL = 0.02
# Where the effort falls short by less than this share of it, it is looked at more closely.
_NEAR = 0.02
# An engine that is faster by this share of its speed a place further on has jumped.
_JUMP = 0.05
# Places at which a draw that is held back is looked at.
_ON_THE_WAY = 5
# Steps from a guess; a move that is lost in rounding, as a share of the curve; how far effort and
# resistance may be apart at a balance, as a share, and how close they end the steps.
_STEPS = 16
_LAST_STEP = 1e-13
_APART = 1e-7
_CLOSE = 1e-8
# The last move of a point in its bracket, as a share of its parameter.
_LAST_MOVE = 1e-9


@dataclass(frozen=True, eq=False)
class RoadState:
    """Where each draw settles; arrays of shape (n,), NaN where it does not.

    Parameters
    ----------
    parameter : ndarray
        Place on the curve of the drive.
    speed : ndarray
        Over ground [m/s].
    engine_speed : ndarray
        [rad/s].
    heat : ndarray
        Into the transmission oil [W].
    held : ndarray of bool
        Whether effort and resistance balance there: not so at the end of a drive.
    """

    parameter: FloatArray
    speed: FloatArray
    engine_speed: FloatArray
    heat: FloatArray
    held: NDArray[np.bool_]

    @classmethod
    def nowhere(cls, count: int) -> RoadState:
        """Return that of draws that settle nowhere."""
        a, b, c, d = (np.full(count, np.nan) for _ in range(4))
        return cls(a, b, c, d, held=np.zeros(count, dtype=bool))

    def put(self, rows: NDArray[np.intp], other: RoadState) -> None:
        """Take the states of some draws from another, one for each row."""
        for item in fields(self):
            getattr(self, item.name)[rows] = getattr(other, item.name)

    def picked(self, rows: NDArray[Any]) -> RoadState:
        """Return those of some draws."""
        return RoadState(*(getattr(self, item.name)[rows] for item in fields(self)))


@dataclass(frozen=True, eq=False)
class Guess:
    """A place near which the draws settle, arrays of shape (n,).

    Parameters
    ----------
    parameter, engine_speed : ndarray
    fall : ndarray
        Change of the surplus of effort with the parameter [N], below zero.
    rise : ndarray
        Change of the engine speed with it [rad/s].
    """

    parameter: FloatArray
    engine_speed: FloatArray
    fall: FloatArray
    rise: FloatArray


@dataclass(frozen=True, eq=False)
class DrawnDrive:
    """One drive of a machine on one grade, for n draws.

    Parameters
    ----------
    drive : GearDrive
        As the data say, but for lock-up speeds, which may be those of each draw.
    load : RoadLoad
        As the data say.
    grade : float
        Rise / run.
    factors : RoadFactors
        Of the draws.
    """

    drive: GearDrive
    load: RoadLoad
    grade: float
    factors: RoadFactors

    @property
    def size(self) -> int:
        """Number of draws."""
        return self.factors.size

    def picked(self, rows: NDArray[np.intp]) -> DrawnDrive:
        """Return some of the draws."""
        engages, releases = (
            np.asarray(speed)[rows] if np.ndim(speed) else speed
            for speed in (self.drive.engages, self.drive.releases)
        )
        drive = replace(self.drive, engages=engages, releases=releases)
        picked = replace(self, drive=drive, factors=self.factors.picked(rows))
        # Known already, and wanted again: a draw is picked at every step of `followed`.
        picked.__dict__["grip"] = self.grip[rows]
        return picked

    @cached_property
    def machine(self) -> GearDrive:
        """The drive of every draw."""
        return self.factors.drive(self.drive)

    @cached_property
    def road(self) -> RoadLoad:
        """The resistance of every draw."""
        return self.factors.load(self.load)

    @cached_property
    def grip(self) -> FloatArray:
        """What the ground lets each draw pull [N], shape (n,)."""
        return np.asarray(self.road.adhesion(self.grade))

    def surplus(self, points: WheelPoints) -> FloatArray:
        """Return the effort to spare [N] at points of every draw, shape (..., n)."""
        return self.surplus_and_speed(points)[0]

    def surplus_and_speed(self, points: WheelPoints) -> tuple[FloatArray, FloatArray]:
        """Return the effort to spare [N] and the road speed [m/s] at points of every draw."""
        return surplus_and_speed(self.drive, self.road, points, self.grade, self.grip)

    def active(self, points: WheelPoints) -> NDArray[np.bool_]:
        """Return whether the lock-up rule leaves the drive in force, shape (..., n)."""
        return self.machine.active(points.turbine.turbine_speed)

    def state(self, points: WheelPoints, speed: FloatArray, *, held: bool) -> RoadState:
        """Return points, one a draw, and their road speeds as the states of the draws."""
        return RoadState(
            np.array(points.turbine.parameter),
            speed,
            np.array(points.turbine.engine_speed),
            np.array(points.oil_heat),
            np.full(self.size, held),
        )


def searched(draws: DrawnDrive) -> RoadState:
    """Return where each draw settles, looked for on the whole curve.

    Parameters
    ----------
    draws : DrawnDrive
    """
    dense, factors = draws.drive.shaft.grid(draws.drive.drive), draws.factors
    if draws.size <= _MANY:
        place = looked_at(dense)[:, np.newaxis]
        return _on_curve(draws, np.repeat(place, draws.size, axis=1))
    # Many draws are looked at only where an engine no weaker has effort to spare: each gets the
    # next stronger of a few engines, for which matching is a look-up.
    place = looked_at(dense, _LOOKED_AT_BY_MANY)[:, np.newaxis]
    stronger = np.ceil(factors.relative_torque / _LEVEL) * _LEVEL
    bound = replace(draws, factors=replace(factors, torque=stronger * factors.loads))
    spare = bound.surplus(bound.machine.at(dense[place])) > 0.0
    found = RoadState.nowhere(draws.size)
    rows = np.flatnonzero(spare.any(axis=0))
    if rows.size:
        first = np.argmax(spare[:, rows], axis=0) - 1
        last = place.size - np.argmax(spare[::-1, rows], axis=0)
        among = _between(np.maximum(first, 0), np.minimum(last, place.size - 1))
        found.put(rows, _on_curve(draws.picked(rows), place[among, 0]))
    return found


def ended(draws: DrawnDrive) -> RoadState:
    """Return the draws that have effort to spare at the end of a drive that nothing cuts off.

    Parameters
    ----------
    draws : DrawnDrive
        That are known to balance nowhere before.
    """
    last = draws.drive.shaft.grid(draws.drive.drive)[-1:]
    points = draws.machine.at(np.repeat(last, draws.size))
    found = RoadState.nowhere(draws.size)
    spare, speed = draws.surplus_and_speed(points)
    rows = np.flatnonzero((spare > 0.0) & (points.force <= draws.grip))
    found.put(rows, draws.state(points, speed, held=False).picked(rows))
    return found


def looked_at(dense: FloatArray, count: int = _LOOKED_AT) -> NDArray[np.intp]:
    """Return the places of a curve at which draws are looked at to begin with.

    Parameters
    ----------
    dense : ndarray, shape (m,)
        Parameter along the curve.
    count : int
        How many places.
    """
    return np.unique(np.linspace(0, dense.size - 1, count).astype(np.intp))


def _on_curve(draws: DrawnDrive, place: NDArray[np.intp]) -> RoadState:
    """Return where each draw settles, looked for at places (p, n) of its curve that rise."""
    dense = draws.drive.shaft.grid(draws.drive.drive)
    curve = draws.machine.at(dense[place])
    excess = draws.surplus(curve)
    found = RoadState.nowhere(draws.size)
    slips = _put_held(found, draws, np.arange(draws.size), curve, excess)
    for rows, centre in _doubtful(curve, excess):
        some = draws.picked(rows)
        low, high = (place[np.clip(centre + side, 0, place.shape[0] - 1), rows] for side in (-1, 1))
        closer = some.machine.at(dense[_between(low, high)])
        slips[rows] |= _put_held(found, some, rows, closer, some.surplus(closer))
    slips &= ~found.held
    rows = np.flatnonzero(~found.held & ~slips)
    if rows.size:
        some = draws.picked(rows)
        points = some.machine.at(_last_active(draws, rows, curve, place))
        spare, speed = some.surplus_and_speed(points)
        pulls = (spare > 0.0) & (points.force <= some.grip)
        found.put(rows[pulls], some.state(points, speed, held=False).picked(pulls))
    return found


def followed(draws: DrawnDrive, guess: Guess) -> RoadState:
    """Return where each draw settles near a guess; NaN where it gets to no state from there.

    Where there is a parameter but no speed it settles nowhere: the engine is held back.
    A draw that is led to the end of a drive that nothing cuts off settles there, with effort to
    spare.

    Parameters
    ----------
    draws : DrawnDrive
    guess : Guess
    """
    grid = draws.drive.shaft.grid(draws.drive.drive)
    bottom, top = float(grid[0]), float(grid[-1])
    p, engine = np.clip(guess.parameter, bottom, top), guess.engine_speed.copy()
    fall, rise = guess.fall.copy(), guess.rise.copy()
    last_p, last_f, last_w = (np.full(p.size, np.nan) for _ in range(3))
    found, stays = RoadState.nowhere(p.size), np.zeros(p.size, dtype=bool)
    going, some = np.arange(p.size), draws
    for _ in range(_STEPS):
        place = p[going]
        points = some.machine.at(place, near=engine[going])
        (f, speed), w = some.surplus_and_speed(points), points.turbine.engine_speed
        apart = np.abs(f / points.force)
        there = np.flatnonzero(apart <= _APART)
        if there.size:
            found.put(going[there], some.state(points, speed, held=True).picked(there))
            stays[going[there]] = (some.active(points) & (points.force <= some.grip))[there]
        moved = place - last_p[going]
        with np.errstate(divide="ignore", invalid="ignore"):
            secant = (f - last_f[going]) / moved, (w - last_w[going]) / moved
        good = np.isfinite(secant[0]) & (secant[0] < 0.0)
        falls = np.where(good, secant[0], fall[going])
        rises = np.where(good, secant[1], rise[going])
        fall[going], rise[going], last_f[going], engine[going] = falls, rises, f, w
        # Without a match next to it there is no way on.
        step = np.nan_to_num(np.clip(place - f / falls, bottom, top) - place)
        more = np.flatnonzero((np.abs(step) > _LAST_STEP * top) & ~(apart <= _CLOSE))
        if not more.size:
            break
        last_p[going], last_w[going] = place, w
        going, some, step = going[more], some.picked(more), step[more]
        p[going] = np.clip(p[going] + step, bottom, top)  # rounding may lead out of the grid
        engine[going] += rises[more] * step
    balanced = np.isfinite(found.parameter)
    reached = draws.machine.shaft.reached_from_idle(draws.drive.drive, p, engine)
    lost = np.flatnonzero(balanced & ~(stays & reached))
    if lost.size:
        found.put(lost, RoadState.nowhere(lost.size))
    rows = np.flatnonzero(balanced & ~reached)
    if rows.size:
        back = rows[_held_back(draws.picked(rows), p[rows], engine[rows])]
        found.parameter[back] = p[back]
    if np.ndim(draws.drive.engages) or np.isfinite(draws.drive.engages):
        return found
    beyond = np.flatnonzero((p == top) & (last_f > 0.0) & ~balanced)
    if beyond.size:
        found.put(beyond, ended(draws.picked(beyond)))
    return found


def _held_back(draws: DrawnDrive, parameter: FloatArray, engine: FloatArray) -> NDArray[np.bool_]:
    """Return which draws have a balance that an engine coming up from idle does not get to.

    Held back below it, they have no effort to spare on the way there either, and none behind it.
    """
    places = np.linspace(0.0, 1.0, _ON_THE_WAY)[:, np.newaxis] * parameter
    points = draws.machine.at(places)
    slower = points.turbine.engine_speed[-1] < (1.0 - _JUMP) * engine
    return np.asarray(slower & (draws.surplus(points) < 0.0).all(axis=0))


def rising(turbine_speed: FloatArray) -> NDArray[np.bool_]:
    """Return which points of curves exceed all before them, as the curve of one machine keeps.

    Parameters
    ----------
    turbine_speed : ndarray, shape (p, n)
        [rad/s], NaN where there is no match.
    """
    speed = np.where(np.isfinite(turbine_speed), turbine_speed, -np.inf)
    before = np.maximum.accumulate(speed, axis=0)[:-1]
    return np.concatenate([np.isfinite(turbine_speed[:1]), speed[1:] > before])


def crossings(
    kept: NDArray[np.bool_], excess: FloatArray
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return (draw, place before, place behind) wherever the surplus of effort falls below zero.

    Parameters
    ----------
    kept : ndarray of bool, shape (p, n)
        Points that belong to the curve; what is between them is passed over.
    excess : ndarray, shape (p, n)
        [N].
    """
    index = np.arange(kept.shape[0])[:, np.newaxis]
    before = np.maximum.accumulate(np.where(kept, index, 0), axis=0)[:-1]
    ahead = np.take_along_axis(excess, before, axis=0)
    place, draw = np.nonzero(kept[1:] & (ahead > 0.0) & (excess[1:] <= 0.0))
    return draw, before[place, draw], place + 1


def _put_held(
    found: RoadState,
    draws: DrawnDrive,
    rows: NDArray[np.intp],
    curve: WheelPoints,
    excess: FloatArray,
) -> NDArray[np.bool_]:
    """Put the fastest held state of each draw where its row is; return which lack grip in one."""
    draw, low, high = crossings(rising(curve.turbine.turbine_speed), excess)
    slips = np.zeros(draws.size, dtype=bool)
    if not draw.size:
        return slips
    some, parameter = draws.picked(draw), curve.turbine.parameter
    ends = parameter[low, draw], parameter[high, draw]
    values = excess[low, draw], excess[high, draw]
    engine = curve.turbine.engine_speed
    between = _Between(some, *ends, engine[low, draw], engine[high, draw])
    balance = refined(between.followed, ends, values, _LAST_MOVE)
    points = some.machine.at(balance)
    # An engine that comes up from idle may not get to where the match was followed to.
    off = np.flatnonzero(~(np.abs(some.surplus(points)) <= _APART * np.abs(points.force)))
    if off.size:
        balance[off] = refined(
            lambda p, pick: between.looked_for(p, off[pick]),
            (ends[0][off], ends[1][off]),
            (values[0][off], values[1][off]),
            _LAST_MOVE,
        )
        points = some.machine.at(balance)
    stable = np.ones(draw.size, dtype=bool)
    on_grade = np.full(draw.size, draws.grade)
    all_of = balanced(0, some.machine, some.road, on_grade, points, draw=draw, stable=stable)
    slips[draw[all_of.active & ~all_of.grips]] = True
    order = np.argsort(all_of.speed, kind="stable")
    order = order[all_of.held[order]]
    faster = order[~(found.speed[rows[draw[order]]] >= all_of.speed[order])]
    # Of several rows of one draw the last is kept: the fastest.
    found.put(rows[draw[faster]], some.state(points, all_of.speed, held=True).picked(faster))
    return slips


def _doubtful(
    curve: WheelPoints, excess: FloatArray
) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Yield (draws, places) about which a place with effort to spare may hide between points.

    That is where the effort just falls short, and where the engine jumps.
    """
    each = np.arange(excess.shape[1])
    short = np.where(np.isfinite(excess), excess / np.abs(curve.force), -np.inf)
    peak = np.argmax(short, axis=0)
    rows = np.flatnonzero(np.abs(short[peak, each]) < _NEAR)
    if rows.size:
        yield rows, peak[rows]
    if curve.turbine.engine_speed is curve.turbine.parameter:
        return
    speed = np.nan_to_num(curve.turbine.engine_speed)
    step = np.abs(np.diff(speed, axis=0))
    jump = np.argmax(step, axis=0)
    rows = np.flatnonzero(step[jump, each] > _JUMP * np.max(speed))
    for side in (0, 1) if rows.size else ():
        yield rows, jump[rows] + side


@dataclass(frozen=True, eq=False)
class _Between:
    """Draws between two points of their curves each, arrays of shape (n,)."""

    draws: DrawnDrive
    low: FloatArray
    high: FloatArray
    engine_low: FloatArray
    engine_high: FloatArray

    def followed(self, parameter: FloatArray, rows: NDArray[np.intp]) -> FloatArray:
        """Return the surplus of effort of some draws, their matches followed from the ends."""
        share = (parameter - self.low[rows]) / (self.high[rows] - self.low[rows])
        rise = self.engine_high[rows] - self.engine_low[rows]
        some = self.draws.picked(rows)
        return some.surplus(some.machine.at(parameter, self.engine_low[rows] + share * rise))

    def looked_for(self, parameter: FloatArray, rows: NDArray[np.intp]) -> FloatArray:
        """Return the surplus of effort of some draws, matched anew."""
        some = self.draws.picked(rows)
        return some.surplus(some.machine.at(parameter))


def _between(low: NDArray[np.intp], high: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return all places from low to high of each draw, the last one repeated, shape (p, n)."""
    steps = np.arange(int(np.max(high - low, initial=0)) + 1)[:, np.newaxis]
    return np.asarray(np.minimum(low + steps, high))


def _last_active(
    draws: DrawnDrive, rows: NDArray[np.intp], curve: WheelPoints, place: NDArray[np.intp]
) -> FloatArray:
    """Return the parameter of the last point of some draws' curves at which the drive is in force.

    Where there is none, that of the first: it has no effort to spare, being no state.
    """
    dense = draws.drive.shaft.grid(draws.drive.drive)
    kept = (rising(curve.turbine.turbine_speed) & draws.active(curve))[:, rows]
    last = kept.shape[0] - 1 - np.argmax(kept[::-1], axis=0)
    last = np.where(kept.any(axis=0), last, 0)
    some = draws.picked(rows)
    behind = np.minimum(last + 1, place.shape[0] - 1)
    between = _between(place[last, rows], place[behind, rows])
    closer = some.machine.at(dense[between])
    speed = closer.turbine.turbine_speed
    inside = np.isfinite(speed) & some.active(closer) & (speed >= speed[:1])
    at = inside.shape[0] - 1 - np.argmax(inside[::-1], axis=0)
    at = np.where(inside.any(axis=0), at, 0)
    return np.asarray(dense[between[at, np.arange(rows.size)]])
