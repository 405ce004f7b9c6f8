"""Draws of uncertain inputs whose engine has several matches at one turbine speed.

Where each turbine speed has one match, all draws are worked on at once by the speed ratio (see
`drawn_drive`). Where it has several, which of them a machine comes to hangs on its way there: a
few such draws (`drawn_road.BUILT_AT_MOST`) are built as machines of their own, and asked what the
machine of the data is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.match.margin import match_margin
from converter_match.physics.match.turbine import TurbinePoints, TurbineShaft
from converter_match.physics.wheels.drawn_drive import DrawnDrive, RoadState, searched
from converter_match.physics.wheels.draws import RoadFactors
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import refined
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints

# Draws whose curves are looked at in one go.
_CHUNK = 256


def several_matches(shaft: TurbineShaft) -> NDArray[np.bool_]:
    """Return which draws have several matches at a speed ratio or at a turbine speed, shape (n,).

    Parameters
    ----------
    shaft : TurbineShaft
        With the factors of n draws. The question is that of `TurbineShaft.one_to_one`.
    """
    grid, drawn = shaft.converter_grid, shaft.factors
    capacity = np.asarray(shaft.converter.capacity_at(grid))
    single = match_margin(
        shaft.supply,
        capacity.min() * drawn.capacity,
        capacity.max() * drawn.capacity,
        torque_factor=drawn.torque,
        load_factor=drawn.loads,
    ).single
    rises = np.empty(drawn.size, dtype=bool)
    for start in range(0, drawn.size, _CHUNK):
        rows = np.arange(start, min(start + _CHUNK, drawn.size))
        part = replace(shaft, factors=drawn.picked(rows))
        speed = part.at("converter", grid[:, np.newaxis]).turbine_speed
        before = np.fmax.accumulate(speed, axis=0)[:-1]
        falls = np.isfinite(speed[1:]) & np.isfinite(before) & (speed[1:] <= before)
        rises[rows] = ~falls.any(axis=0)
    return ~(single & rises)


@dataclass(frozen=True, eq=False)
class BuiltDraws:
    """Draws, the shaft of each built as that of a machine of its own.

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
    def _shafts(self) -> list[TurbineShaft]:
        return [self._shaft(row) for row in range(self.factors.size)]

    def _shaft(self, row: int) -> TurbineShaft:
        given = {name: values[row] for name, values in self.factors.arrays().items()}
        one = RoadFactors(**given, whole_ratio=self.factors.whole_ratio)
        shaft, loads = self.drives[0].shaft, one.loads
        converter = shaft.converter
        # f T - a L against C: with all but a in the parts, a is left for torques that come out.
        return TurbineShaft(
            replace(shaft.supply, factor=shaft.supply.factor * float(one.relative_torque)),
            converter.replace(capacity=converter.capacity * float(one.capacity / loads)),
            replace(one, torque=loads, capacity=loads),
        )

    @cached_property
    def _curves(self) -> tuple[TurbinePoints, NDArray[np.bool_]]:
        """Curves in converter drive and where they are broken, shape (p, n), NaN behind the end."""
        curves = [shaft.converter_drive for shaft in self._shafts]
        most = max(curve.turbine_speed.size for curve in curves)

        def side_by_side(arrays: list[FloatArray]) -> FloatArray:
            padded = [np.pad(a, (0, most - a.size), constant_values=np.nan) for a in arrays]
            return np.stack(padded, axis=1)

        names = [item.name for item in fields(TurbinePoints)]
        points = TurbinePoints(
            *(side_by_side([getattr(curve, name) for curve in curves]) for name in names)
        )
        broken = side_by_side([shaft.jumps_before.astype(float) for shaft in self._shafts])
        return points, broken > 0.0

    @cached_property
    def _drives(self) -> list[GearDrive]:
        """The drives with the lock-up speeds of each draw."""
        made = []
        for drive in self.drives:
            rule = drive.gear.lock_up
            each = [shaft.lock_up_speeds(rule) or (np.inf, np.inf) for shaft in self._shafts]
            engages, releases = np.array(each).T
            made.append(replace(drive, engages=engages, releases=releases))
        return made

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
        return draws.drive.of_turbine(shaft.near_turbine_speed(turbine_speed, near))

    balance = refined(
        lambda p, rows: some.picked(rows).surplus(at(p, rows)),
        (turbine[low, draw], turbine[low + 1, draw]),
        (excess[low, draw], excess[low + 1, draw]),
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
