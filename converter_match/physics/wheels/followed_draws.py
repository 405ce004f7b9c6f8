"""Draws of uncertain inputs whose engine has several matches at one turbine speed.

Where each turbine speed has one match, draws are worked on by the speed ratio (see `drawn_drive`).
Where it has several, which of them a machine comes to hangs on its way there: such draws are
followed up from rest over the turbine speed, all at once, as the machine of the data is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.components.gear import LockUp
from converter_match.curves import FloatArray
from converter_match.physics.match.margin import match_margin
from converter_match.physics.match.turbine import TurbinePoints, TurbineShaft
from converter_match.physics.wheels.drawn_drive import DrawnDrive, RoadState, looked_at, searched
from converter_match.physics.wheels.draws import RoadFactors, lock_up_speeds
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import refined
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints

# Draws whose curves are looked at in one go.
_CHUNK = 256
# Places of a curve at which is looked whether its turbine speed falls anywhere.
_LOOKED_AT = 97
# The last move of a point in its bracket, as a share of its turbine speed.
_LAST_MOVE = 1e-10
# Where between two points of a curve lock-up is asked for anew, as shares.
_FINER = np.arange(1, 6) / 6


def several_matches(shaft: TurbineShaft) -> NDArray[np.bool_]:
    """Return which draws have several matches at a speed ratio or at a turbine speed, shape (n,).

    Parameters
    ----------
    shaft : TurbineShaft
        With the factors of n draws. The question is that of `TurbineShaft.one_to_one`.
    """
    grid, drawn = shaft.converter_grid, shaft.factors
    places = grid[looked_at(grid, _LOOKED_AT)][:, np.newaxis]
    capacity = np.asarray(shaft.converter.capacity_at(grid))
    single = match_margin(
        shaft.supply,
        capacity.min() * drawn.capacity,
        capacity.max() * drawn.capacity,
        torque_factor=drawn.torque,
        load_factor=drawn.loads,
    ).single
    one = np.flatnonzero(single)
    several = ~single
    for start in range(0, one.size, _CHUNK):
        rows = one[start : start + _CHUNK]
        part = replace(shaft, factors=drawn.picked(rows))
        speed = part.at("converter", places).turbine_speed
        before = np.fmax.accumulate(speed, axis=0)[:-1]
        falls = np.isfinite(speed[1:]) & np.isfinite(before) & (speed[1:] <= before)
        several[rows] = falls.any(axis=0)
    return several


@dataclass(frozen=True, eq=False)
class FollowedDraws:
    """Draws, each followed over the turbine speed up from rest.

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

    @cached_property
    def _shaft(self) -> TurbineShaft:
        return self.factors.drive(self.drives[0]).shaft

    @cached_property
    def _curves(self) -> tuple[TurbinePoints, NDArray[np.bool_]]:
        """Curves in converter drive and where they are broken, shape (p, n)."""
        shaft = self._shaft
        end = np.full(self.factors.size, shaft.converter_grid[-1])
        passed = shaft.machines.up_from_rest(shaft.at("converter", end).turbine_speed)
        return shaft.running_at(passed.turbine_speed, passed.engine_speed), passed.broken

    @cached_property
    def _drives(self) -> list[GearDrive]:
        """The drives with the lock-up speeds of each draw."""
        made, known = [], {}
        for drive in self.drives:
            rule = drive.gear.lock_up
            if rule not in known:
                known[rule] = self._lock_up_speeds(rule)
            engages, releases = known[rule]
            made.append(replace(drive, engages=engages, releases=releases))
        return made

    def _lock_up_speeds(self, rule: LockUp) -> tuple[FloatArray, FloatArray]:
        """Return the turbine speeds at which lock-up engages and releases in each draw [rad/s]."""
        if not rule.allowed:
            never = np.full(self.factors.size, np.inf)
            return never, never
        if rule.engage_turbine_speed is not None or rule.engage_speed_ratio is not None:
            return lock_up_speeds(self._shaft, rule)
        engages = self._pulls_no_less()
        return engages, engages

    def _pulls_no_less(self) -> FloatArray:
        """Return the least turbine speed of each curve at which lock-up pulls no less, (n,).

        As for the machine of the data it is a point of a fine grid, here in the step of the curve
        in which that comes about.
        """
        shaft, (curve, _) = self._shaft, self._curves
        low, high = shaft.supply.domain

        def better(points: TurbinePoints) -> NDArray[np.bool_]:
            speed = points.turbine_speed
            inside = (speed >= low) & (speed <= high)
            locked = shaft.at("lock-up", np.where(inside, speed, low))
            return np.asarray(inside & (locked.turbine_torque >= points.turbine_torque))

        pulls = better(curve)
        every = np.arange(self.factors.size)
        first = np.argmax(pulls, axis=0)
        has = pulls[first, every]
        before = np.maximum(first - 1, 0)
        begin, end = (curve.turbine_speed[place, every] for place in (before, first))
        engine = curve.engine_speed[before, every]
        speed = np.where(has, end, np.inf)
        for share in _FINER[::-1]:
            at = begin + share * (end - begin)
            safe = np.where(np.isfinite(at), at, 0.0)
            run = shaft.machines.next_to(safe, engine)
            run = np.where(np.isfinite(run) & np.isfinite(at), run, np.nan)
            speed = np.where(has & better(shaft.running_at(safe, run)), at, speed)
        return speed

    def held(self, which: int, grade: float) -> RoadState:
        """Return where each draw settles in one drive, effort and resistance in balance or not.

        Parameters
        ----------
        which : int
            Place of the drive.
        grade : float
            Rise / run.
        """
        draws = DrawnDrive(self._drives[which], self.loads[which], grade, self.factors)
        if draws.drive.drive == "lock-up":
            return searched(draws)
        turbine, broken = self._curves
        curve = draws.drive.of_turbine(turbine)
        excess = draws.surplus(curve)
        found = RoadState.nowhere(draws.size)
        slips = _put_held(found, draws, curve, excess, broken)
        last, every = np.asarray(draws.active(curve)), np.arange(draws.size)
        place = last.shape[0] - 1 - np.argmax(last[::-1], axis=0)
        end = draws.drive.of_turbine(turbine.picked((place, every)))
        spare, speed = draws.surplus_and_speed(end)
        pulls = last.any(axis=0) & (spare > 0.0) & (end.force <= draws.grip)
        rows = np.flatnonzero(pulls & ~found.held & ~slips)
        found.put(rows, draws.state(end, speed, held=False).picked(rows))
        return found


def _put_held(
    found: RoadState,
    draws: DrawnDrive,
    curve: WheelPoints,
    excess: FloatArray,
    broken: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Put the fastest held state of each draw; return which lack grip in one."""
    above, known = excess > 0.0, np.isfinite(excess)
    low, draw = np.nonzero(above[:-1] & ~above[1:] & known[1:] & ~broken[1:])
    turbine, engine = curve.turbine.turbine_speed, curve.turbine.engine_speed
    some = draws.picked(draw)

    def at(turbine_speed: FloatArray, rows: NDArray[np.intp]) -> WheelPoints:
        begin, end = turbine[low, draw][rows], turbine[low + 1, draw][rows]
        share = (turbine_speed - begin) / (end - begin)
        near = engine[low, draw][rows] * (1.0 - share) + engine[low + 1, draw][rows] * share
        shaft = some.picked(rows).machine.shaft
        run = shaft.machines.next_to(turbine_speed, near)
        run = np.where(np.isfinite(run), run, np.nan)
        return draws.drive.of_turbine(shaft.running_at(turbine_speed, run))

    balance = refined(
        lambda p, rows: some.picked(rows).surplus(at(p, rows)),
        (turbine[low, draw], turbine[low + 1, draw]),
        (excess[low, draw], excess[low + 1, draw]),
        _LAST_MOVE,
    )
    points = at(balance, np.arange(draw.size))
    speed = points.road_speed(draws.drive.machine, some.grip)
    active, grips = some.active(points), points.force <= some.grip
    slips = np.zeros(draws.size, dtype=bool)
    slips[draw[active & ~grips]] = True
    held = np.flatnonzero(active & grips)
    order = held[np.argsort(speed[held], kind="stable")]
    # Of several rows of one draw the last is kept: the fastest.
    found.put(draw[order], some.state(points, speed, held=True).picked(order))
    return slips
