"""A run from rest as it went, behind an engine or a motor: milestones and gears."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from converter_match.answer.block import Block, row_of, rows_of_arrays
from converter_match.answer.noted import Answer
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.judgement.conditions.words import NO_START
from converter_match.judgement.wheels.headings import MOTION, STAGE
from converter_match.notes import Note
from converter_match.physics.wheels.drive_chain import DriveChain
from converter_match.physics.wheels.motion import Method
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.run_rows import Acceleration

if TYPE_CHECKING:
    import pandas as pd

_MARKS = 8


class GearInRun(NamedTuple):
    """One gear of a run, in one drive, SI units.

    Parameters
    ----------
    gear, drive : str
        `drive` is ``direct`` where a motor is coupled without a converter.
    from_speed, to_speed : float
        [m/s].
    time : float
        [s].
    distance : float
        [m].
    """

    gear: str
    drive: str
    from_speed: float
    to_speed: float
    time: float
    distance: float


@dataclass(frozen=True, eq=False, kw_only=True)
class RunFromRest(Answer):
    """A full-throttle run from rest.

    Parameters
    ----------
    driveline, machine, surface
    load : {"empty", "laden"}
    grade : float
        Rise / run.
    to_speed : float
        Asked for [m/s].
    method : str
    road : RoadLoad
    chain : DriveChain
    run : Acceleration
    notes : tuple of Note
    """

    driveline: Driveline
    machine: Machine
    surface: Surface
    load: Load
    grade: float
    to_speed: float
    method: Method
    road: RoadLoad
    chain: DriveChain
    run: Acceleration
    notes: tuple[Note, ...]

    @property
    def titles(self) -> tuple[str, str]:
        """What drives, and what stands between it and the gearbox."""
        raise NotImplementedError

    @property
    def fails(self) -> bool:
        """Whether the speed asked for is not reached."""
        return self.run.ending != "reached"

    @property
    def starts(self) -> bool:
        """Whether the machine moves at all."""
        return self.run.ending != "no-start"

    @property
    def no_start(self) -> str:
        """What keeps the machine from starting, in words; empty where it starts."""
        if self.starts:
            return ""
        effort = float(self.chain.force[0, 0])
        need = float(self.road.resistance(self.grade, 0.0))
        return NO_START.note("grip" if effort > need else "effort").message

    def milestones(self) -> list[tuple[float, float, float]]:
        """Return (speed [m/s], time [s], distance [m]) in even steps up to the speed reached.

        Empty where the machine does not start, as are the `gears`.
        """
        if not self.starts:
            return []
        top = min(self.to_speed, float(self.run.speed.max()))
        marks = []
        for speed in np.linspace(0.0, top, _MARKS + 1)[1:]:
            time, distance = self.run.time_to(float(speed)), self.run.distance_to(float(speed))
            if time is not None and distance is not None:
                marks.append((float(speed), time, distance))
        return marks

    def gears(self) -> list[GearInRun]:
        """Return each gear in order of use."""
        if not self.starts:
            return []
        run, state = self.run, self.run.state
        starts = [0, *(np.flatnonzero(state[1:] != state[:-1]) + 1), state.size]
        stages = []
        for first, end in pairwise(int(k) for k in starts):
            if state[first] < 0:
                continue
            drive = self.chain.drives[state[first]]
            last = end - 1
            stages.append(
                GearInRun(
                    gear=drive.gear.name,
                    drive=drive.drive,
                    from_speed=float(run.speed[first]),
                    to_speed=float(run.speed[last]),
                    time=float(run.time[last] - run.time[first]),
                    distance=float(run.distance[last] - run.distance[first]),
                )
            )
        return stages

    def stages(self) -> Block:
        """Return gear by gear."""
        stages = self.gears()
        return Block(
            "gears",
            columns=STAGE,
            rows=tuple(row_of(stage, STAGE) for stage in stages),
            rows_key="",
            title="Gear by gear" if stages else "",
        )

    def points(self) -> Block:
        """Return every point of the run."""
        return Block("run", columns=MOTION, rows=self._points(), in_text=False, in_plain=False)

    def to_frame(self, name: str = "run") -> pd.DataFrame:
        """Return the run as a pandas table, units in the column names.

        Parameters
        ----------
        name : str
            Another block with a table, such as ``gears``.
        """
        return super().to_frame(name)

    def _points(self) -> tuple[tuple[Any, ...], ...]:
        run = self.run
        numbers = rows_of_arrays(run.time, run.speed, run.distance, run.engine_speed)
        gears = ["shift" if k < 0 else self.chain.drives[k].gear.name for k in run.state]
        return tuple((*row, gear) for row, gear in zip(numbers, gears, strict=True))
