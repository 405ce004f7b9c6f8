"""A loader's short cycle: what it takes, and what continuous work does to the oil."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, facts_of
from converter_match.answer.noted import Answer
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.components.response import EngineResponse
from converter_match.components.route import Phase, ShortCycle
from converter_match.judgement.conditions.air import (
    air_drag_notes,
    cooler_air_notes,
    cooler_around,
    density_around,
    standard_air_share,
    temperature_around,
)
from converter_match.judgement.conditions.ground import ground_notes, surface_block
from converter_match.judgement.conditions.oil import STOP_AT, starting_oil
from converter_match.judgement.conditions.response import response_notes
from converter_match.judgement.haul import words
from converter_match.judgement.haul.headings import PHASE
from converter_match.judgement.haul.production import FUEL_OF_LOAD, PRODUCTION, Expected, Production
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.spread import decisive_blocks
from converter_match.notes import Note
from converter_match.physics.engine.fuel import TYPICAL_DENSITY, fuel_law
from converter_match.physics.haul.clutch_heat import TYPICAL_CHANGE
from converter_match.physics.haul.short_cycle import PhaseRun, run_cycle
from converter_match.physics.heat.continuous import conductance_needed
from converter_match.physics.heat.oil import OilCircuit, hold
from converter_match.physics.wheels.rotating import Inertias

# Of the rise of the oil over the air: less than this is not what the machine works at.
_HALF = 0.5

if TYPE_CHECKING:
    import pandas as pd


_MEAN_HEAT = Heading("mean_oil_heat", "mean heat into the oil", "power")
_OIL = Heading("oil_of_continuous_work", "oil temperature in continuous work", "temperature")
_COOLER = Heading("cooler_needed", "cooler needed", "cooler_size")


@dataclass(frozen=True, eq=False, kw_only=True)
class CycleResult(Answer):
    """A short cycle, SI units.

    Parameters
    ----------
    match : MatchResult
    driveline, machine, cycle
        What was driven.
    phases : tuple of PhaseRun
    fuel_density : float
        [kg/m^3].
    balance : float or None
        Oil temperature of continuous work [K]; None where not known or beyond the cooler's data.
    time_to_limit : float or None
        Of continuous work until the oil is at its limit [s]; None where it never gets there or
        that is not known.
    cooler_needed : float or None
        Conductance of a cooler that carries the mean heat with the oil at its limit, as its data in
        standard air would state it [W/K]; None without a limit above the air's temperature.
    notes : tuple of Note
    alternatives : tuple of CycleResult
        With each converter that an estimated one may be.
    """

    match: MatchResult
    driveline: Driveline
    machine: Machine
    cycle: ShortCycle
    phases: tuple[PhaseRun, ...]
    fuel_density: float
    balance: float | None
    time_to_limit: float | None
    cooler_needed: float | None = None
    notes: tuple[Note, ...]
    alternatives: tuple[CycleResult, ...] = ()

    def decisive(self) -> Facts:
        """Return the figures that a decision rests on; None where there is none."""
        arrives = all(run.arrives for run in self.phases)
        return (
            (Heading("time", "time", "time"), self.time if arrives else None),
            (PRODUCTION.said(words.IDEAL), self.production.rate),
            (FUEL_OF_LOAD, self.production.fuel_of_load),
            (_MEAN_HEAT, self.oil_heat / self.time if self.time else None),
            (_OIL, self.balance),
        )

    @property
    def time(self) -> float:
        """Of one cycle [s]."""
        return sum(run.time for run in self.phases)

    @property
    def fuel(self) -> float | None:
        """Of one cycle [kg]."""
        known = [run.fuel for run in self.phases if run.fuel is not None]
        return sum(known) if len(known) == len(self.phases) else None

    @property
    def oil_heat(self) -> float:
        """Into the transmission oil in one cycle [J]."""
        return sum(run.oil_heat for run in self.phases)

    @property
    def production(self) -> Production:
        """Load and fuel of one cycle; nothing is moved where a phase is not completed."""
        arrives = all(run.arrives for run in self.phases)
        load = self.machine.payload if arrives else 0.0
        return Production(load, self.time, self.fuel, self.fuel_density)

    @property
    def expected(self) -> Expected:
        """What the loader moves of what it could."""
        return Expected.of(self.cycle)

    def blocks(self) -> tuple[Block, ...]:
        """Return what drives what, the phases, and the cycle as a whole."""
        own = [Heading(key, "") for key in ("id", "name", "source")]
        return (
            self._head(),
            *decisive_blocks(self, banded=self.match.converter.banded),
            Block("cycle", facts=facts_of(self.cycle, own), in_text=False),
            surface_block([self.cycle.surface]),
            Block(
                "phases",
                title="Phases",
                columns=PHASE,
                rows=tuple(_cells(run) for run in self.phases),
                rows_key="",
            ),
            Block("summary", title="One cycle", facts=self._summary()),
        )

    def to_frame(self, name: str = "phases") -> pd.DataFrame:
        """Return the phases as a pandas table, units in the column names."""
        return super().to_frame(name)

    def _head(self) -> Block:
        parts = (
            ("engine", self.match.engine),
            ("converter", self.match.converter),
            ("driveline", self.driveline),
        )
        return Block(
            "",
            title=self.machine.name,
            facts=(
                *((Heading(key, ""), part.id) for key, part in parts),
                (Heading("machine", ""), self.machine.id),
                (Heading("", "engine"), self.match.engine.name),
                (Heading("", "converter"), self.match.converter.title),
                (Heading("", "driveline"), self.driveline.name),
                (Heading("", "cycle"), self.cycle.name),
            ),
        )

    def _summary(self) -> Facts:
        mean = self.oil_heat / self.time if self.time else None
        return (
            (Heading("time", "time", "time"), self.time),
            *(
                (head.said(words.IDEAL) if head is PRODUCTION else head, value)
                for head, value in self.production.facts()
            ),
            *self.expected.facts(self.production),
            (Heading("oil_heat", "", "energy"), self.oil_heat),
            (Heading("clutch_heat", "", "energy"), sum(run.clutch_heat for run in self.phases)),
            (_MEAN_HEAT, mean),
            (_OIL if self.balance is not None else _OIL.said(""), self.balance),
            (
                _COOLER if self.cooler_needed is not None else _COOLER.said(""),
                self.cooler_needed,
            ),
            (Heading("time_to_oil_limit", "", "minutes"), self.time_to_limit),
        )


def _cells(run: PhaseRun) -> tuple[Any, ...]:
    return (
        run.phase.name,
        run.phase.kind,
        run.time,
        run.fuel,
        run.oil_heat,
        run.engine_speed,
        run.top_speed,
        run.force,
        "traction" if run.grip_limited else "",
        run.grip_limited,
        run.arrives,
        gears_of(run.phase),
        run.hydraulic_power,
        run.clutch_heat,
        run.lag,
    )


def gears_of(phase: Phase) -> str:
    """Return the gear that is held, or the first and the last that may be used."""
    if phase.kind == "stand":
        return ""
    if not phase.start_gear:
        return phase.gear
    return f"{phase.start_gear} to {phase.gear or 'any'}"


def work_cycle(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    cycle: ShortCycle,
    *,
    oil_start: float | None = None,
    response: EngineResponse | None = None,
) -> CycleResult:
    """Run a loader through a short cycle.

    Parameters
    ----------
    match : MatchResult
        Its site holds here too; hydraulics come from the phases.
    driveline, machine, cycle : Driveline, Machine, ShortCycle
    oil_start : float, optional
        Oil temperature at the start of continuous work [K].
    response : EngineResponse, optional
        How fast the engine's torque is there; at once without.

    Raises
    ------
    InputError
        If a phase cannot be set up.
    """
    density = density_around(match.site)
    outside = temperature_around(match.site)
    phases = run_cycle(
        match.engine,
        match.converter,
        driveline,
        machine,
        cycle,
        torque_factor=match.site.torque_factor,
        air_density=density,
        air_temperature=outside,
        response=response,
    )
    time = sum(run.time for run in phases)
    mean = sum(run.oil_heat for run in phases) / time
    circuit = OilCircuit.of(machine, outside, cooler_around(match.site, machine))
    balance = reached = None
    limit = machine.oil.temperature_limit
    notes: list[Note] = phase_notes(phases)
    if circuit is not None and limit is not None:
        start, assumed = starting_oil(machine, outside, oil_start)
        notes += assumed
        answer = hold(circuit, mean, start, limit)
        balance, reached = answer.balance, answer.time_to_limit
        if reached is not None:
            notes.append(words.CYCLE.note("oil-above-limit", limit=limit, time=reached, heat=mean))
        notes += _against_working_oil(machine, outside, balance)
        if balance is not None and balance >= STOP_AT:
            notes.append(words.CYCLE.note("hot-oil", hottest=balance, stop=STOP_AT))
    needed = None
    if limit is not None and limit > outside:
        needed = float(conductance_needed(mean, limit, outside)) / standard_air_share(match.site)
    fuel = match.engine.fuel
    law = fuel_law(match.engine)
    notes += [
        words.CYCLE.note("cycle-driven-hard"),
        *_clutch_notes(phases, driveline),
        *production_notes(cycle, phases, machine),
        *response_notes(match.engine, response),
        *_late_notes(phases, response),
        *ground_notes(cycle.surface, machine),
        *air_drag_notes(match.site, machine),
        *cooler_air_notes(match.site, machine),
        *match.engine.notes,
        *match.converter.notes,
        *match.site.notes,
        *driveline.notes,
        *machine.notes,
        *Inertias.of(match.engine, match.converter, driveline, machine).notes,
        *(law.notes if law else ()),
    ]
    return CycleResult(
        match=match,
        driveline=driveline,
        machine=machine,
        cycle=cycle,
        phases=phases,
        fuel_density=TYPICAL_DENSITY if fuel is None or fuel.density is None else fuel.density,
        balance=balance,
        time_to_limit=reached,
        cooler_needed=needed,
        alternatives=tuple(
            work_cycle(other, driveline, machine, cycle, oil_start=oil_start, response=response)
            for other in match.alternatives
        ),
        notes=tuple(dict.fromkeys(notes)),
    )


def _against_working_oil(machine: Machine, outside: float, balance: float | None) -> list[Note]:
    """Hold the oil of continuous work against the machine's own working temperature."""
    working = machine.oil.working_temperature
    if working is None or balance is None or working <= outside:
        return []
    share = (balance - outside) / (working - outside)
    code = "oil-against-working" if share >= _HALF else "oil-misses-sources"
    return [words.CYCLE.note(code, balance=balance, working=working, share=share)]


def _late_notes(phases: tuple[PhaseRun, ...], response: EngineResponse | None) -> list[Note]:
    """Say what a response changes, what is left out of that, and how much that is."""
    if response is None:
        return []
    notes = []
    drives = [run for run in phases if run.phase.kind == "drive" and run.arrives]
    if drives:
        burnt = [(run.fuel or 0.0) * run.lag / run.time for run in drives]
        notes.append(
            words.CYCLE.note(
                "response-in-drives",
                count=float(len(drives)),
                lag=sum(run.lag for run in drives),
                heat=sum(run.lag_heat for run in drives),
                fuel=sum(burnt),
            )
        )
    crowds = [run.time for run in phases if run.phase.kind == "crowd"]
    if crowds and response.lost_time > 0.0:
        notes.append(
            words.CYCLE.note("response-while-crowding", lost=response.lost_time, time=sum(crowds))
        )
    return notes


def _clutch_notes(phases: tuple[PhaseRun, ...], driveline: Driveline) -> list[Note]:
    if not any(run.clutch_heat for run in phases):
        return []
    given = driveline.shift_time
    time = TYPICAL_CHANGE if given is None else given
    how = words.AS_USUAL if given is None else words.AS_SHIFTED
    return [words.CYCLE.note("clutch-heat", time=time, how=how)]


def production_notes(
    cycle: ShortCycle, phases: tuple[PhaseRun, ...], machine: Machine
) -> list[Note]:
    """Return which values of what is to be expected are usual ones, for want of others."""
    expected = Expected.of(cycle)
    if not expected.assumed or not machine.payload or not all(run.arrives for run in phases):
        return []
    names = ", ".join(name.replace("_", " ") for name in expected.assumed)
    return [words.CYCLE.note("production-usual-values", names=names)]


def phase_notes(phases: tuple[PhaseRun, ...]) -> list[Note]:
    """Return which phases do not come to their end, or not with all that is asked of them."""
    notes = []
    for run in phases:
        phase = repr(run.phase.name)
        if not run.arrives:
            notes.append(words.CYCLE.note("cannot-move-on", phase=phase, grade=run.phase.grade))
        if run.pumps_short:
            notes.append(
                words.CYCLE.note(
                    "pumps-short",
                    phase=phase,
                    asked=run.phase.hydraulic_power,
                    given=run.hydraulic_power,
                )
            )
        if run.grip_limited and run.force is not None and np.isfinite(run.force):
            notes.append(words.CYCLE.note("crowd-limited-by-grip", phase=phase, force=run.force))
    return notes
