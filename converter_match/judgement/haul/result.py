"""What a machine does on a haul route: the cycle, segment by segment and step by step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, facts_of
from converter_match.answer.noted import Answer
from converter_match.components.route import Route
from converter_match.judgement.conditions.ground import surface_block
from converter_match.judgement.conditions.words import NO_START
from converter_match.judgement.haul import words
from converter_match.judgement.haul.headings import SEGMENT, STANDSTILL, STEP
from converter_match.judgement.haul.production import (
    FUEL_FLOW,
    FUEL_OF_LOAD,
    PRODUCTION,
    Production,
)
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.spread import decisive_blocks
from converter_match.notes import Note
from converter_match.physics.haul.route import Hauler, RouteRun, RouteTotals
from converter_match.physics.heat.oil import UNSETTLED
from converter_match.units import in_plain

if TYPE_CHECKING:
    import pandas as pd

# A table of more segments than this is for a file, not for a log.
_MOST_ROWS = 60
# A list of more gears than this in one segment is shortened.
_MOST_GEARS = 5
# Oil that gets no warmer than this above its start is hottest at the start, as far as words go [K].
_SAME = 0.05


@dataclass(frozen=True, kw_only=True)
class Standstill:
    """Where a machine stops and cannot move on, SI units.

    Parameters
    ----------
    segment : int
        Counted from 1.
    distance : float
        From the start of the route [m].
    into_segment : float
        From the start of the segment [m].
    grade : float
        Rise / run.
    effort, resistance : float
        What it can put on the ground from rest, and what it would need [N].
    grip : bool
        Whether traction, not the engine, limits the effort.
    """

    segment: int
    distance: float
    into_segment: float
    grade: float
    effort: float
    resistance: float
    grip: bool

    @property
    def limited_by(self) -> str:
        """What limits the effort: ``grip`` or ``effort``."""
        return "grip" if self.grip else "effort"


@dataclass(frozen=True, kw_only=True)
class SegmentRow:
    """One segment as it was driven, SI units; None where nothing was driven in it.

    Parameters
    ----------
    segment : int
        Counted from 1.
    length, grade, speed_limit : float
        [m], rise / run, [m/s] (infinite for none).
    surface, load, direction : str
    time : float or None
        Stops at its end included [s].
    mean_speed, top_speed : float or None
        While moving [m/s].
    gears : tuple of str
        Gears in order of use, ``L`` for lock-up.
    fuel : float or None
        [kg].
    converter_heat, service_brake_work : float or None
        [J].
    oil_end : float or None
        [K].
    retarding_needed, retarding_available : float or None
        Retarding power required to hold its speed on the descent, and what the engine can give
        through the driveline in the best gear [W]; None where the machine does not run away.
    """

    segment: int
    length: float
    grade: float
    speed_limit: float
    surface: str
    load: str
    direction: str
    time: float | None
    mean_speed: float | None
    top_speed: float | None
    gears: tuple[str, ...]
    fuel: float | None
    converter_heat: float | None
    service_brake_work: float | None
    oil_end: float | None
    retarding_needed: float | None
    retarding_available: float | None

    def cells(self) -> tuple[Any, ...]:
        """Return the row under `SEGMENT`; in words only the first and the last of many gears."""
        many = len(self.gears) > _MOST_GEARS
        shown = " ".join((*self.gears[:2], "..", self.gears[-1]) if many else self.gears)
        return tuple(getattr(self, head.key) if head.key else shown for head in SEGMENT)


@dataclass(frozen=True, eq=False, kw_only=True)
class RouteResult(Answer):
    """A machine on a route.

    Parameters
    ----------
    match : MatchResult
        Engine, converter, site and hydraulics.
    hauler : Hauler
    route : Route
    run : RouteRun
        Every step.
    totals : RouteTotals
    segments : tuple of SegmentRow
        Up to where the machine arrives or stands.
    standstill : Standstill or None
    fuel_density : float
        [kg/m^3].
    cooler_needed : float or None
        Conductance of a cooler that keeps the oil at its limit lap after lap, as its data in
        standard air would state it [W/K]; None where limit or oil volume are not known, or no
        cooler is enough.
    notes : tuple of Note
    alternatives : tuple of RouteResult
        With each converter that an estimated one may be.
    """

    match: MatchResult
    hauler: Hauler
    route: Route
    run: RouteRun
    totals: RouteTotals
    segments: tuple[SegmentRow, ...]
    standstill: Standstill | None
    fuel_density: float
    cooler_needed: float | None = None
    notes: tuple[Note, ...]
    alternatives: tuple[RouteResult, ...] = ()

    def decisive(self) -> Facts:
        """Return the figures that a decision rests on; None where there is none."""
        arrives = self.standstill is None
        return (
            (Heading("time", "time, stops included", "minutes"), self.time if arrives else None),
            (PRODUCTION, self.production.rate if arrives else None),
            (FUEL_FLOW, self.production.fuel_flow if arrives else None),
            (FUEL_OF_LOAD, self.production.fuel_of_load if arrives else None),
            (Heading("hottest_oil", "maximum oil temperature", "temperature"), self.hottest_oil),
            (
                Heading("hottest_outlet", "maximum at the converter outlet", "temperature"),
                self.hottest_outlet,
            ),
        )

    @property
    def time(self) -> float:
        """Of the whole cycle, stops included [s]."""
        return float(self.totals.time[0])

    @property
    def distance(self) -> float:
        """Covered, [m]."""
        return float(self.run.profile.length[:, 0].sum())

    @property
    def fuel(self) -> float | None:
        """[kg]."""
        return None if self.totals.fuel is None else float(self.totals.fuel[0])

    @property
    def payload(self) -> float:
        """Mass moved to its end in one cycle [kg]; 0 where it does not arrive."""
        if self.standstill is not None:
            return 0.0
        return self.route.trips * self.hauler.machine.payload

    @property
    def starts(self) -> bool:
        """Whether the machine moves at all."""
        return self.standstill is None or self.standstill.distance > 0.0

    @property
    def no_start(self) -> str:
        """What keeps the machine from starting, in words; empty where it starts."""
        if self.starts or self.standstill is None:
            return ""
        return NO_START.note(self.standstill.limited_by).message

    @property
    def production(self) -> Production:
        """Load and fuel of one cycle."""
        return Production(self.payload, self.time, self.fuel, self.fuel_density)

    @property
    def balance(self) -> float | None:
        """Engine work less everything it went into, over the sum of the magnitudes.

        None where there was no work.
        """
        ledger = self.totals.ledger
        turnover = float(ledger.turnover[0])
        return float((ledger.engine - ledger.spent)[0]) / turnover if turnover else None

    def cycle(self) -> Facts:
        """Return the cycle in numbers.

        Of a machine that does not start nothing is known but that it covers no distance.
        """
        ledger, hours = self.totals.ledger, self.time / 3600.0
        covered = self.run.profile.length[:, 0]
        moving = float(self.run.profile.time[covered > 0.0, 0].sum())
        locked = self.hauler.chain.locked[self.run.states.state[:, 0]]
        share = float(covered[locked].sum() / covered.sum()) if covered.sum() else 0.0
        mean = self.distance / moving if moving else None
        per_hour = 1.0 / hours if hours and self.standstill is None else None
        mean_head = Heading("mean_speed_moving", "mean speed while moving", "velocity")
        whole = (
            (Heading("distance", "distance", "haul_length"), self.distance),
            (Heading("time", "time, stops included", "minutes"), self.time),
            (mean_head if mean is not None else mean_head.said(""), mean),
            (Heading("cycles_per_hour", ""), per_hour),
            (Heading("payload", "", "load"), self.payload),
            (Heading("fuel", "", "mass"), self.fuel),
            *self.production.facts(),
            (Heading("engine_work", "engine work", "work"), float(ledger.engine[0])),
            (
                Heading("converter_heat", "heat in the converter", "work"),
                float(ledger.converter[0]),
            ),
            (
                Heading("service_brake_work", "service brake work", "work"),
                float(ledger.brakes[0]),
            ),
            *self._oil(),
            *self._outlet(),
            (Heading("gear_changes", "gear shifts", form=".0f"), float(self.totals.shifts[0])),
            (Heading("lock_up_share_of_distance", ""), share),
            (Heading("", "distance in lock-up", "share"), share),
        )
        if self.starts:
            return whole
        known = ("distance", "payload")
        return tuple((head.said(""), value if head.key in known else None) for head, value in whole)

    def _oil(self) -> Facts:
        start, hottest = self.oil_start, self.hottest_oil
        once = None if self.totals.hottest_first is None else float(self.totals.hottest_first[0])
        facts: Facts = (
            (Heading("oil_start", "", "temperature"), start),
            (Heading("hottest_oil", "", "temperature"), hottest),
            (Heading("hottest_oil_first_lap", "", "temperature"), once),
        )
        if self.run.oil is None or once is None:
            return facts
        label = Heading("", "maximum oil temperature")
        if self.standstill is not None:
            return (*facts, (label, words.TABLE.note("hottest-oil-once", oil=once)))
        first = Heading("", "maximum oil temperature, first lap")
        cold = float(self.run.oil.first[0, 0])
        code = "first-lap-oil-at-start" if once - cold < _SAME else "first-lap-oil"
        said = words.TABLE.note(code, oil=once, start=cold)
        if hottest is None:
            return (*facts, (first, said))
        return (*facts, (label, words.TABLE.note("hottest-oil", oil=hottest)), (first, said))

    def _outlet(self) -> Facts:
        """Return what a gauge at the converter's outlet reads, and the cooler that is needed."""
        hottest, needed = self.hottest_outlet, self.cooler_needed
        mean = None if self.run.oil is None else self.mean_oil_heat
        outlet = Heading("hottest_outlet", "maximum at the converter outlet", "temperature")
        heat = Heading("mean_oil_heat", "mean heat into the oil", "heat_rejection")
        cooler = Heading("cooler_needed", "cooler needed", "cooler_size")
        known = ((outlet, hottest), (heat, mean), (cooler, needed))
        return tuple((head.said("") if value is None else head, value) for head, value in known)

    @property
    def mean_oil_heat(self) -> float:
        """Heat into the oil over the whole time [W]."""
        heat = self.run.states.oil_heat[:, 0] * self.run.profile.time[:, 0]
        return float(heat.sum()) / self.time if self.time else 0.0

    @property
    def hottest_outlet(self) -> float | None:
        """Highest temperature at the converter's outlet, lap after lap or of the only run [K].

        None where charge flow, oil volume or cooler is not known, or the oil does not settle.
        """
        hottest = None if self.run.outlet is None else float(self.run.outlet.hottest[0])
        return hottest if hottest is not None and hottest < UNSETTLED else None

    @property
    def oil_start(self) -> float | None:
        """Oil temperature at the start of the first lap [K]."""
        return None if self.run.oil is None else float(self.run.oil.first[0, 0])

    @property
    def hottest_oil(self) -> float | None:
        """Highest oil temperature lap after lap [K]; of the only run where it does not arrive.

        None where oil volume or cooler is not known, or where no lap is as hot as the one before.
        """
        hottest = None if self.totals.hottest is None else float(self.totals.hottest[0])
        return hottest if hottest is not None and hottest < UNSETTLED else None

    def blocks(self) -> tuple[Block, ...]:
        """Return what drives where, the cycle, the segments, and every step."""
        stands = self.standstill
        many = len(self.segments) > _MOST_ROWS
        too_many = words.TABLE.note("too-many-segments", count=str(len(self.segments)))
        return (
            self._head(),
            *decisive_blocks(self, banded=self.match.converter.banded),
            Block(
                "route",
                facts=(
                    *facts_of(self.route, [Heading(key, "") for key in ("id", "name", "source")]),
                    (Heading("segments", ""), int(self.route.length.size)),
                    (Heading("length", "", "distance"), self.route.total_length),
                ),
                in_text=False,
            ),
            surface_block(self.route.surface),
            Block(
                "standstill",
                facts=None if stands is None else facts_of(stands, STANDSTILL),
                in_text=False,
            ),
            Block(
                "cycle",
                title="One cycle",
                facts=self.cycle(),
                below=() if self.starts else (Note("does-not-start", self.no_start),),
            ),
            Block("energy_mj", facts=self._energies(), in_text=False),
            Block("", facts=((Heading("energy_imbalance", ""), self.balance),), in_text=False),
            Block(
                "segments",
                title="Segments",
                columns=SEGMENT,
                rows=tuple(row.cells() for row in self.segments),
                rows_key="",
                in_text=not many,
            ),
            Block("", above=(too_many,), in_text=many, in_plain=False),
            Block("steps", columns=STEP, rows=tuple(self._steps()), in_text=False, in_plain=False),
        )

    def _head(self) -> Block:
        match, hauler = self.match, self.hauler
        plain = (
            ("engine", match.engine.id),
            ("converter", match.converter.id),
            ("driveline", hauler.driveline.id),
            ("machine", hauler.machine.id),
            ("site", match.site.method),
            ("arrives", self.standstill is None),
        )
        said = (
            ("engine", match.engine.name),
            ("converter", match.converter.title),
            ("driveline", hauler.driveline.name),
            ("route", f"{self.route.name} ({self.route.length.size} segments)"),
        )
        return Block(
            "",
            title=hauler.machine.name,
            facts=(
                *((Heading(key, ""), value) for key, value in plain),
                *((Heading("", label), value) for label, value in said),
            ),
        )

    def _energies(self) -> Facts:
        ledger = self.totals.ledger
        return tuple(
            (
                Heading(item.name, ""),
                in_plain(float(getattr(ledger, item.name)[0]), "work") if self.starts else None,
            )
            for item in fields(ledger)
        )

    def _steps(self) -> Iterator[tuple[Any, ...]]:
        run, chain, profile = self.run, self.hauler.chain, self.run.profile
        states, distance, ceiling = run.states, profile.distance[:, 0], run.ceiling[:, 0]
        last = profile.stuck[0] if profile.stuck[0] >= 0 else profile.length.shape[0] - 1
        clock = np.cumsum(profile.time[:, 0])
        fuel = None if states.fuel is None else np.cumsum(states.fuel[:, 0])
        for k in range(int(last) + 1):
            segment = int(profile.segment[k, 0])
            drive = chain.drives[states.state[k, 0]]
            stop = bool(profile.stands[k, 0])
            yield (
                float(distance[k + 1]),
                segment + 1,
                float(clock[k]),
                float(self.route.grade[segment]),
                float(profile.speed[k + 1, 0]),
                float(ceiling[k + 1]),
                "neutral" if stop else drive.gear.name,
                bool(chain.locked[states.state[k, 0]]) and not stop,
                float(states.engine_speed[k, 0]),
                float(states.engine_torque[k, 0]),
                float(states.converter_heat[k, 0]),
                float(states.oil_heat[k, 0]),
                None if run.oil is None else _known(run.oil.counted[k + 1, 0]),
                None if run.oil is None else float(run.oil.first[k + 1, 0]),
                None if run.outlet is None else _known(run.outlet.counted[k + 1, 0]),
                float(states.brake_force[k, 0]),
                None if fuel is None else float(fuel[k]),
            )

    def to_frame(self, name: str = "steps") -> pd.DataFrame:
        """Return every step as a pandas table, units in the column names.

        Parameters
        ----------
        name : str
            Another block with a table, such as ``segments``.
        """
        return super().to_frame(name)


def _known(temperature: float) -> float | None:
    return float(temperature) if temperature < UNSETTLED else None
