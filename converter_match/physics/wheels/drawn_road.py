"""The fastest state of many draws of a machine on a grade, over all its gears and drives.

Every draw chooses its drive for itself, as the machine of the data does. Which drives can be the
fastest of which draws is told from some of the draws, the probes, whose whole curves are read: a
quadratic through these bounds the speed of the others. Then the drive with the highest bound is
settled exactly, and the next one as long as its bound is above the speed that was found.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.match.turbine import Drive, TurbinePoints
from converter_match.physics.wheels.drawn_drive import (
    DrawnDrive,
    Guess,
    RoadState,
    crossings,
    ended,
    followed,
    looked_at,
    rising,
    searched,
)
from converter_match.physics.wheels.draws import RoadFactors, lock_up_speeds
from converter_match.physics.wheels.followed_draws import FollowedDraws, several_matches
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.surface_fit import SurfaceFit
from converter_match.physics.wheels.tractive import steepest_start
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints, at_wheels

# So many draws have their whole curves read; of no more than these, every drive is settled.
PROBES = 96
# A bound lies so many times the doubt of the fit above it.
_DOUBTS = 2.0


@dataclass(frozen=True, eq=False)
class _Probed:
    """What the probes do in one drive on one grade; arrays of shape (m,).

    Parameters
    ----------
    state : RoadState
        Read off the curve between its points.
    guess : Guess
        The same with the slopes there.
    margin : ndarray
        Above zero where there is a state: effort to spare somewhere, and grip, as shares.
    """

    state: RoadState
    guess: Guess
    margin: FloatArray

    @property
    def settles(self) -> NDArray[np.bool_]:
        """Whether each probe settles."""
        return np.isfinite(self.state.speed)


@dataclass(frozen=True, eq=False)
class DrawnRoad:
    """A machine on the road, for n draws of what is not known exactly.

    Parameters
    ----------
    drives : sequence of GearDrive
        As the data say; all of one turbine shaft.
    loads : sequence of RoadLoad
        One for each drive.
    factors : RoadFactors
        Of the draws.
    """

    drives: Sequence[GearDrive]
    loads: Sequence[RoadLoad]
    factors: RoadFactors

    @property
    def size(self) -> int:
        """Number of draws."""
        return self.factors.size

    @cached_property
    def ahead(self) -> list[int]:
        """Places of the forward drives."""
        return [k for k, drive in enumerate(self.drives) if drive.gear.direction == "forward"]

    def steepest_start(self, near: FloatArray) -> FloatArray:
        """Return the steepest grade (rise / run) that each draw starts on in any forward gear.

        Parameters
        ----------
        near : ndarray, shape (n,)
            Engine speed at stall [rad/s]; NaN where there is no match.
        """
        best = np.full(self.size, np.nan)
        for k in self.ahead:
            drive = self.drives[k]
            if drive.drive == "converter":
                drawn, load = self.factors.drive(drive), self.factors.load(self.loads[k])
                best = np.fmax(best, steepest_start(drawn, load, near=near)[0])
        return best

    def held(self, which: int, grade: float) -> RoadState:
        """Return where each draw settles in one drive, effort and resistance in balance or not.

        Parameters
        ----------
        which : int
            Place of the drive.
        grade : float
            Rise / run.
        """
        return self._split(
            lambda road: road._settled(which, grade, np.arange(road.size)),
            lambda some: some.held(which, grade),
        )

    def fastest(self, grade: float, ceiling: float | None = None) -> RoadState:
        """Return the fastest state of each draw on a grade, forward.

        Parameters
        ----------
        grade : float
            Rise / run.
        ceiling : float, optional
            Speed limiter [m/s]. It holds a draw at part throttle, where the engine speed and the
            heat of full throttle do not apply: NaN.
        """
        top = np.inf if ceiling is None else ceiling
        best = self._split(
            lambda road: road._fastest(grade, top),
            lambda some: _fastest_of([some.held(which, grade) for which in self.ahead], top),
        )
        limited = best.speed > top
        best.speed[limited] = top
        best.engine_speed[limited] = best.heat[limited] = np.nan
        return best

    # --- draws whose engine has several matches ----------------------------------------------

    @cached_property
    def _several(self) -> NDArray[np.bool_]:
        shaft = self.factors.drive(self.drives[0]).shaft
        if self.size > PROBES:
            # Where neither the machine of the data nor any of the probes has several, none has.
            probes = replace(shaft, factors=self.factors.picked(self._rows))
            if self.drives[0].shaft.one_to_one and not several_matches(probes).any():
                return np.zeros(self.size, dtype=bool)
        return several_matches(shaft)

    @cached_property
    def _apart(self) -> tuple[DrawnRoad, FollowedDraws]:
        rows = np.flatnonzero(~self._several), np.flatnonzero(self._several)
        plain, apart = (self.factors.picked(each) for each in rows)
        return (
            DrawnRoad(self.drives, self.loads, plain),
            FollowedDraws(self.drives, self.loads, apart),
        )

    def _split(
        self,
        plain: Callable[[DrawnRoad], RoadState],
        up_from_rest: Callable[[FollowedDraws], RoadState],
    ) -> RoadState:
        """Return the states of all draws: by the speed ratio, or up from rest where it matters."""
        if not self._several.any():
            return plain(self)
        several = self._several
        road, risen = self._apart
        state = RoadState.nowhere(self.size)
        if road.size:
            state.put(np.flatnonzero(~several), plain(road))
        state.put(np.flatnonzero(several), up_from_rest(risen))
        return state

    # --- all draws at once, by the speed ratio -----------------------------------------------

    def _fastest(self, grade: float, top: float) -> RoadState:
        best = RoadState.nowhere(self.size)
        bound = self._bounds(grade, top)
        for _ in self.ahead:  # the highest bound of each draw first, until none is above
            first = np.argmax(bound, axis=0)
            known = np.minimum(np.nan_to_num(best.speed, nan=-np.inf), top)
            waits = np.max(bound, axis=0) > known
            for place, which in enumerate(self.ahead):
                rows = np.flatnonzero(waits & (first == place))
                if not rows.size:
                    continue
                state = self._settled(which, grade, rows)
                # Of drives that reach the limiter the first is taken.
                faster = np.minimum(state.speed, top) > known[rows]
                best.put(rows[faster], state.picked(faster))
                bound[place, rows] = -np.inf
        return best

    # --- one drive ---------------------------------------------------------------------------

    def _drawn(self, which: int, grade: float) -> DrawnDrive:
        return DrawnDrive(self._drives[which], self.loads[which], grade, self.factors)

    @cached_property
    def _drives(self) -> list[GearDrive]:
        """The drives with the lock-up speeds of each draw."""
        shaft = self.factors.drive(self.drives[0]).shaft
        made, known = [], {}
        for drive in self.drives:
            rule = drive.gear.lock_up
            if not np.isfinite(drive.engages):
                made.append(drive)
                continue
            if rule not in known:
                known[rule] = lock_up_speeds(shaft, rule)
            engages, releases = known[rule]
            made.append(replace(drive, engages=engages, releases=releases))
        return made

    def _settled(self, which: int, grade: float, rows: NDArray[np.intp]) -> RoadState:
        draws = self._drawn(which, grade)
        if rows.size < self.size:
            draws = draws.picked(rows)
        if self.size <= PROBES:
            return searched(draws)
        state = RoadState.nowhere(rows.size)
        probed, guess = self._probed(which, grade), self._guess(which, grade, rows)
        if guess is not None:
            state = followed(draws, guess)
        elif not probed.state.held.any() and not np.isfinite(self.drives[which].engages):
            state = ended(draws)
        left = np.flatnonzero(np.isnan(state.parameter))
        if left.size:
            state.put(left, searched(draws.picked(left)))
        return state

    def _guess(self, which: int, grade: float, rows: NDArray[np.intp]) -> Guess | None:
        probed = self._probed(which, grade)
        held = np.flatnonzero(probed.state.held)
        fit = self._surface.through(
            held,
            [getattr(probed.guess, item.name)[held] for item in fields(Guess)],
        )
        if fit is None:
            return None
        parameter, engine, fall, rise = fit.values(rows)
        fall = np.clip(fall, np.min(probed.guess.fall[held]), np.max(probed.guess.fall[held]))
        return Guess(parameter, engine, fall, rise)

    # --- the probes --------------------------------------------------------------------------

    @cached_property
    def _rows(self) -> NDArray[np.intp]:
        return np.unique(np.linspace(0, self.size - 1, PROBES).astype(np.intp))

    @cached_property
    def _surface(self) -> SurfaceFit:
        return SurfaceFit.of(list(self.factors.arrays().values()), self._rows)

    @cached_property
    def _curves(self) -> dict[Drive, TurbinePoints]:
        return {}

    @cached_property
    def _at_wheels(self) -> dict[int, WheelPoints]:
        return {}

    @cached_property
    def _known(self) -> dict[tuple[int, float], _Probed]:
        return {}

    def _curve(self, which: int) -> WheelPoints:
        """Return the curve of one drive for the probes, shape (p, m)."""
        if which not in self._at_wheels:
            drive = self.drives[which]
            if drive.drive not in self._curves:
                dense = drive.shaft.grid(drive.drive)
                shaft = self.factors.picked(self._rows).drive(drive).shaft
                self._curves[drive.drive] = shaft.at(
                    drive.drive, dense[looked_at(dense)][:, np.newaxis]
                )
            self._at_wheels[which] = at_wheels(
                self._curves[drive.drive], drive.driveline, drive.gear, drive.machine
            )
        return self._at_wheels[which]

    def _probed(self, which: int, grade: float) -> _Probed:
        if (which, grade) not in self._known:
            draws = self._drawn(which, grade).picked(self._rows)
            self._known[which, grade] = _read_off(draws, self._curve(which))
        return self._known[which, grade]

    def _bounds(self, grade: float, ceiling: float) -> FloatArray:
        """Return what the speed of each draw is at most in each forward drive, shape (d, n).

        Minus infinity where a drive holds no state; 0 where it is slower than another by far, and
        so counts only if that fails.
        """
        if self.size <= PROBES:
            return np.full((len(self.ahead), self.size), np.inf)
        probed = [self._probed(k, grade) for k in self.ahead]
        speed = np.array([np.minimum(item.state.speed, ceiling) for item in probed])
        share = speed / np.fmax.reduce(speed, axis=0)
        settles = [_may_settle(item.margin) for item in probed]
        leads = [place for place, may in enumerate(settles) if may and _may_lead(share[place])]
        floor = np.where(settles, 0.0, -np.inf)
        bound = np.repeat(floor[:, np.newaxis], self.size, axis=1)
        for place in leads:
            bound[place] = self._bound(probed[place]) if len(leads) > 1 else np.inf
        return bound

    def _bound(self, probed: _Probed) -> FloatArray:
        """Return what the speed of each draw is at most in a drive, shape (n,)."""
        rows = np.flatnonzero(probed.settles)
        every = np.arange(self.size)
        fit = self._surface.through(rows, [probed.state.speed[rows]])
        if fit is None:
            most = np.full(self.size, np.inf)
        else:
            most = fit.values(every)[0] + _DOUBTS * fit.doubt[0]
        if rows.size < probed.margin.size:
            share = self._surface.through(np.arange(probed.margin.size), [probed.margin])
            if share is not None:
                none = share.values(every)[0] + _DOUBTS * share.doubt[0] < 0.0
                most = np.where(none, -np.inf, most)
        return most


def _fastest_of(states: list[RoadState], top: float) -> RoadState:
    """Return the fastest state of each draw; of drives that reach the limiter the first."""
    best = RoadState.nowhere(states[0].speed.size)
    for state in states:
        known = np.minimum(np.nan_to_num(best.speed, nan=-np.inf), top)
        faster = np.flatnonzero(np.minimum(state.speed, top) > known)
        best.put(faster, state.picked(faster))
    return best


def _may_settle(margin: FloatArray) -> bool:
    """Return whether any draw may have a state in a drive, by the margins of the probes."""
    return bool(np.max(margin) + np.ptp(margin) > 0.0)


def _may_lead(share: FloatArray) -> bool:
    """Return whether a drive may be the fastest in any draw, by its share of the fastest speed."""
    known = share[np.isfinite(share)]
    return bool(not known.size or np.max(known) + np.ptp(known) >= 1.0)


def _read_off(draws: DrawnDrive, curve: WheelPoints) -> _Probed:
    """Return what draws do, read off their curves (p, m) between the points."""
    speed = curve.road_speed(draws.drive.machine, draws.grip)
    excess = np.asarray(curve.force - draws.road.resistance(draws.grade, speed))
    active = draws.active(curve)
    kept = rising(curve.turbine.turbine_speed)
    count = draws.size
    state = RoadState.nowhere(count)
    guess = Guess(*(np.full(count, np.nan) for _ in range(4)))
    last = kept & active
    end = last.shape[0] - 1 - np.argmax(last[::-1], axis=0)
    each = np.arange(count)
    grips = curve.force[end, each] <= draws.grip
    ends = last.any(axis=0) & (excess[end, each] > 0.0) & grips
    rows = np.flatnonzero(ends)
    # Where lock-up cuts the drive off, it ends between two points: no draw is told too slow.
    behind = np.minimum(end + 1, kept.shape[0] - 1)[rows]
    end, turbine = end[rows], curve.turbine.turbine_speed
    left = np.broadcast_to(draws.drive.engages, count)[rows] - turbine[end, rows]
    width = turbine[behind, rows] - turbine[end, rows]
    cut = kept[behind, rows] & (left >= 0.0) & (left < width)
    part = np.divide(left, width, out=np.zeros(rows.size), where=cut)
    for values, taken in (
        (state.parameter, curve.turbine.parameter), (state.speed, speed),
    ):  # fmt: skip
        at_end = taken[end, rows]
        values[rows] = at_end + np.where(cut, part * (taken[behind, rows] - at_end), 0.0)
    draw, low, high = crossings(kept, excess)
    share = excess[low, draw] / (excess[low, draw] - excess[high, draw])

    def between(values: FloatArray) -> FloatArray:
        return np.asarray(values[low, draw] + share * (values[high, draw] - values[low, draw]))

    limits = draws.picked(draw)
    at = between(curve.turbine.turbine_speed)
    held = limits.machine.active(at) & (between(curve.force) <= limits.grip)
    draw, low, high, share = draw[held], low[held], high[held], share[held]
    width = curve.turbine.parameter[high, draw] - curve.turbine.parameter[low, draw]
    for values, taken in (
        (state.parameter, curve.turbine.parameter), (state.speed, speed),
        (guess.parameter, curve.turbine.parameter),
        (guess.engine_speed, curve.turbine.engine_speed),
    ):  # fmt: skip
        values[draw] = between(taken)
    guess.fall[draw] = (excess[high, draw] - excess[low, draw]) / width
    engine = curve.turbine.engine_speed
    guess.rise[draw] = (engine[high, draw] - engine[low, draw]) / width
    state.held[draw] = True
    need = draws.road.resistance(draws.grade, 0.0)
    spare = np.max(np.where(last & np.isfinite(excess), excess, -np.inf), axis=0)
    spare = np.where(np.isfinite(spare), spare / need, -1.0)
    margin = np.minimum(spare, draws.grip / need - 1.0)
    return _Probed(state, guess, margin)
