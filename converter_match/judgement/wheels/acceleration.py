"""Full-throttle acceleration of a machine: milestones, gears, and why it ends where it ends."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.answer.block import Block, Facts, Heading
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.response import EngineResponse
from converter_match.components.surface import Surface
from converter_match.judgement.conditions.air import air_drag_notes, density_around
from converter_match.judgement.conditions.ground import ground_notes
from converter_match.judgement.conditions.response import response_notes
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.spread import decisive_blocks
from converter_match.judgement.wheels import words
from converter_match.judgement.wheels.headings import MILESTONE
from converter_match.judgement.wheels.run import GearInRun, RunFromRest
from converter_match.notes import Note
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drive_chain import DriveChain, drive_chain
from converter_match.physics.wheels.motion import Method, accelerate
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias
from converter_match.physics.wheels.run_rows import Acceleration

_SHORTEST_SHIFTS = 0.05  # s in all, below which they are not worth a line


@dataclass(frozen=True, eq=False, kw_only=True)
class AccelerationResult(RunFromRest):
    """A full-throttle run from rest with an engine; what else it holds: `RunFromRest`.

    Parameters
    ----------
    match : MatchResult
    alternatives : tuple of AccelerationResult
        With each converter that an estimated one may be.
    """

    match: MatchResult
    alternatives: tuple[AccelerationResult, ...] = ()

    @property
    def titles(self) -> tuple[str, str]:
        """Engine and converter."""
        return self.match.engine.name, self.match.converter.title

    def decisive(self) -> Facts:
        """Return the figures that a decision rests on; None where there is none."""
        run, top = self.run, self.to_speed
        return (
            (Heading("time_to_speed", "time to the target speed", "time"), run.time_to(top)),
            (
                Heading("distance_to_speed", "distance to it", "distance"),
                run.distance_to(top),
            ),
            (
                Heading("speed_reached", "speed reached", "velocity"),
                min(float(run.speed.max()), top),
            ),
        )

    def blocks(self) -> tuple[Block, ...]:
        """Return what runs where, milestones, gears, and every point of the run."""
        stages = self.gears()
        return (
            self._head(stages),
            *decisive_blocks(self, banded=self.match.converter.banded),
            Block(
                "milestones",
                columns=MILESTONE,
                rows=tuple(self.milestones()),
                rows_key="",
                title="Speed, time and distance" if self.starts else "",
            ),
            self.stages(),
            self.points(),
        )

    def _head(self, stages: list[GearInRun]) -> Block:
        run, match = self.run, self.match
        plain = (
            ("engine", match.engine.id),
            ("converter", match.converter.id),
            ("driveline", self.driveline.id),
            ("machine", self.machine.id),
            ("surface", self.surface.name),
            ("load", self.load),
            ("ending", run.ending),
        )
        said = (
            ("engine", match.engine.name),
            ("converter", match.converter.title),
            ("driveline", self.driveline.name),
            ("surface", self.surface.name),
        )
        shifting = float(run.time[-1]) - sum(stage.time for stage in stages)
        shifts = Heading("", "time in shifts, without drive", "time")
        shown = ((shifts, shifting),) if self.starts and shifting > _SHORTEST_SHIFTS else ()
        return Block(
            "",
            title=f"{self.machine.name}, {self.load}, full throttle from rest",
            facts=(
                *((Heading(key, ""), value) for key, value in plain),
                *((Heading("", label), value) for label, value in said),
                (Heading("grade", "grade", "grade", "g"), self.grade),
                (Heading("method", "method"), self.method),
                (Heading("to_speed", "", "velocity"), self.to_speed),
                (Heading("time", "", "time"), run.time_to(self.to_speed)),
                (Heading("distance", "", "distance"), run.distance_to(self.to_speed)),
                *shown,
            ),
            below=() if self.starts else (Note("does-not-start", self.no_start),),
        )


def acceleration(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    surface: Surface,
    *,
    to_speed: float,
    load: Load = "laden",
    grade: float = 0.0,
    method: Method | None = None,
    gear: str | None = None,
    response: EngineResponse | None = None,
) -> AccelerationResult:
    """Accelerate a machine from rest at full throttle.

    Parameters
    ----------
    match : MatchResult
    driveline, machine, surface : Driveline, Machine, Surface
    to_speed : float
        [m/s].
    load : {"empty", "laden"}
    grade : float
        Rise / run.
    method : {"quasi-steady", "dynamic"}, optional
        Quasi-steady without, but dynamic where the engine's torque takes time.
    gear : str, optional
        Highest gear used.
    response : EngineResponse, optional
        How fast the engine's torque is there; at once without.

    Raises
    ------
    InputError
        If a number is out of range, or there is no such gear.
    """
    density = density_around(match.site)
    road = RoadLoad.of(machine, surface, load=load, air_density=density)
    inertias = Inertias.of(match.engine, match.converter, driveline, machine)
    shaft = TurbineShaft(match.supply, match.converter)
    chain = drive_chain(shaft, driveline, machine, inertias, road)
    if gear is not None:
        chain = chain.limited_to(gear)
    if method is None:
        method = "quasi-steady" if response is None else "dynamic"
    run = accelerate(
        chain,
        inertias,
        road,
        to_speed=to_speed,
        grade=grade,
        shift_time=driveline.shift_time or 0.0,
        method=method,
        response=response,
    )
    carried = (
        *ending_notes(run, chain, road, grade),
        *response_notes(match.engine, response),
        *ground_notes(surface, machine),
        *air_drag_notes(match.site, machine),
        *match.engine.notes,
        *match.converter.notes,
        *match.site.notes,
        *driveline.notes,
        *machine.notes,
        *inertias.notes,
        *chain.notes,
    )
    return AccelerationResult(
        match=match,
        driveline=driveline,
        machine=machine,
        surface=surface,
        load=load,
        grade=grade,
        to_speed=to_speed,
        method=method,
        road=road,
        chain=chain,
        run=run,
        notes=tuple(dict.fromkeys(carried)),
        alternatives=tuple(
            acceleration(
                other,
                driveline,
                machine,
                surface,
                to_speed=to_speed,
                load=load,
                grade=grade,
                method=method,
                gear=gear,
            )
            for other in match.alternatives
        ),
    )


def ending_notes(run: Acceleration, chain: DriveChain, road: RoadLoad, grade: float) -> list[Note]:
    """Return why a run ends short of its speed; nothing where it does not."""
    top = float(run.speed.max())
    need = float(road.resistance(grade, top))
    if run.ending == "no-start":
        return [words.note("does-not-start", grade=grade, need=need)]
    if run.ending == "balance":
        return [words.SPEED_NOT_REACHED["balance"].note("speed-not-reached", speed=top, need=need)]
    if run.ending == "end-of-data":
        gear = chain.drives[int(run.state[-1])].gear.name
        return [
            words.SPEED_NOT_REACHED["end-of-data"].note("speed-not-reached", speed=top, gear=gear)
        ]
    if run.ending == "end-of-gears":
        return [words.SPEED_NOT_REACHED["end-of-gears"].note("speed-not-reached", speed=top)]
    return []
