"""Draws of uncertain inputs whose engine has several matches at one turbine speed.

Where each turbine speed has one match, all draws are worked on at once by the speed ratio (see
`drawn_drive`). Where it has several, which of them a machine comes to hangs on its way there: such
a draw is built as a machine of its own, and asked what the machine of the data is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.physics.match.margin import match_margin
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drawn_drive import RoadState
from converter_match.physics.wheels.draws import RoadFactors
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import end_of, equilibria
from converter_match.physics.wheels.wheels import GearDrive

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
    """Draws, each built as a machine of its own.

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
    def _machines(self) -> list[tuple[list[GearDrive], list[RoadLoad]]]:
        return [self._machine(row) for row in range(self.factors.size)]

    def _machine(self, row: int) -> tuple[list[GearDrive], list[RoadLoad]]:
        given = {name: values[row] for name, values in self.factors.arrays().items()}
        one = RoadFactors(**given, whole_ratio=self.factors.whole_ratio)
        shaft, loads = self.drives[0].shaft, one.loads
        converter = shaft.converter
        # f T - a L against C: with all but a in the parts, a is left for torques that come out.
        built = TurbineShaft(
            replace(shaft.supply, factor=shaft.supply.factor * float(one.relative_torque)),
            converter.replace(capacity=converter.capacity * float(one.capacity / loads)),
            replace(one, torque=loads, capacity=loads),
        )
        drives = []
        for drive in self.drives:
            speeds = built.lock_up_speeds(drive.gear.lock_up)
            engages, releases = speeds if speeds else (np.inf, np.inf)
            drives.append(replace(drive, shaft=built, engages=engages, releases=releases))
        return drives, [one.load(load) for load in self.loads]

    @cached_property
    def _known(self) -> dict[tuple[int, float], RoadState]:
        return {}

    def held(self, which: int, grade: float) -> RoadState:
        """Return where each draw settles in one drive, effort and resistance in balance or not.

        Parameters
        ----------
        which : int
            Place of the drive.
        grade : float
            Rise / run.
        """
        if (which, grade) not in self._known:
            state = RoadState.nowhere(self.factors.size)
            for row, (drives, loads) in enumerate(self._machines):
                found = _settled(drives[which], loads[which], grade)
                if found is not None:
                    state.put(np.array([row]), found)
            self._known[which, grade] = state
        return self._known[which, grade]


def _settled(drive: GearDrive, load: RoadLoad, grade: float) -> RoadState | None:
    points = equilibria([drive], [load], [grade])
    held = np.flatnonzero(points.held)
    wheels = points.wheels
    if held.size:
        at = int(held[np.argmax(points.speed[held])])
    else:
        slips = bool(np.any(points.stable & points.risen & points.active & ~points.grips))
        at, _ = end_of(drive, load, grade, slips)
        wheels = drive.curve()
        if at < 0:
            return None
    speed = wheels.road_speed(drive.machine, load.adhesion(grade))
    turbine = wheels.turbine
    values = (turbine.parameter, speed, turbine.engine_speed, wheels.oil_heat)
    return RoadState(*(np.array([item[at]]) for item in values), held=np.array([held.size > 0]))
