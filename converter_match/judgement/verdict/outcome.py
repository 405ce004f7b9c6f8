"""What a combination does in one condition: the match, the wheels, the routes, what is missing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.arrangement.drive import DividedRun
from converter_match.judgement.arrangement.solve import ArrangedResult, solve_arranged
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.haul.result import RouteResult
from converter_match.judgement.match.duty import DutyResult, over_duty
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.judgement.verdict.pumps import PumpLoad, pump_load
from converter_match.judgement.verdict.words import PUMPS, missing
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.judgement.wheels.tractive import tractive
from converter_match.notes import Note
from converter_match.physics.arrangement.torque_divider import impeller_points
from converter_match.physics.match.margin import MatchMargin, match_margin
from converter_match.study.study import Combination, Condition, Duty

_SPEEDS = 2001
# Parts of an arrangement that a study is worked out with.
_JUDGED = ("stator", "torque_divider", "hydraulic_sharing")


@dataclass(frozen=True, eq=False)
class Outcome:
    """A combination in one condition.

    Parameters
    ----------
    combination : Combination
    condition : Condition
    match : MatchResult
        With stator and torque divider as arranged.
    arranged : ArrangedResult or None
    tractive : TractiveResult or None
        None where driveline, machine or surface is missing or they cannot be combined.
    routes : tuple of RouteResult or None
        One for each route of the duty; None where it could not be run.
    missing_at_wheels : tuple of str
        Why there is nothing at the wheels.
    missing_on_routes : tuple of str
        Why there is no route result, one for each route; empty where there is one.
    pumps : PumpLoad
        What the implement pumps take.
    missing : tuple of str
        Why nothing can be said of the combination in this condition; empty where something can.
        The match is then the one without what is missing: for reading names and limits, not for
        showing.
    alternatives : tuple of Outcome
        With everything that an estimated converter may be as well.
    duty : DutyResult or None
        What the pair does over the duty's points; None where the study gives none.
    """

    combination: Combination
    condition: Condition
    match: MatchResult
    arranged: ArrangedResult | None
    tractive: TractiveResult | None
    routes: tuple[RouteResult | None, ...]
    missing_at_wheels: tuple[str, ...]
    missing_on_routes: tuple[str, ...]
    pumps: PumpLoad
    missing: tuple[str, ...] = ()
    alternatives: tuple[Outcome, ...] = ()
    duty: DutyResult | None = None

    @cached_property
    def greatest_power(self) -> float:
        """Greatest net power at the impeller, between idle and high idle [W]."""
        low, high = self.match.supply.domain
        engine = self.combination.engine
        grid = np.unique(np.append(np.linspace(low, high, _SPEEDS), engine.rated_speed))
        grid = grid[(grid >= low) & (grid <= high)]
        return float(np.max(self.match.supply.torque(grid) * grid))

    @cached_property
    def capacity_range(self) -> tuple[float, float]:
        """Lowest and highest C of the converter from stall to speed ratio 1 [N.m/(rad/s)^2].

        The curve keeps the shape of its rows: it is lowest and highest at rows.
        """
        converter = self.match.converter
        rows = converter.characteristic.speed_ratio
        rows = np.append(rows[(rows > 0.0) & (rows <= 1.0)], 0.0)
        capacity = converter.capacity_at(rows)
        return max(float(capacity.min()), 0.0), float(capacity.max())

    @cached_property
    def match_margin(self) -> MatchMargin:
        """How far the engine is from another match at any speed ratio."""
        return match_margin(self.match.supply, *self.capacity_range)

    @cached_property
    def impeller(self) -> tuple[FloatArray, FloatArray]:
        """Impeller speed [rad/s] and torque [N.m] at every match that is stable, shape (n,).

        Behind a torque divider they are not those of the engine.
        """
        points = self.match.locus.points
        settled = points.found & points.stable
        speed, torque = points.engine_speed, points.input_torque
        divided = self.divided
        if divided is not None:
            speed, torque = impeller_points(divided.inner, divided.divider, points)
        return speed[settled], torque[settled]

    @cached_property
    def divided(self) -> DividedRun | None:
        """The torque divider at work; None where there is none."""
        blocks = () if self.arranged is None else self.arranged.parts
        for block in blocks:
            if isinstance(block.detail, DividedRun):
                return block.detail
        return None

    def usable_power(self, efficiency: float) -> float | None:
        """Return the greatest power taken up at or above an efficiency [W]; None for nowhere."""
        points = self.match.locus.from_idle()
        good = points.found & (points.efficiency >= efficiency - 1e-9) & (points.speed_ratio <= 1.0)
        return float(points.input_power[good].max()) if good.any() else None

    @property
    def notes(self) -> tuple[Note, ...]:
        """Every note of every result, each once."""
        results = () if self.missing else (self.match, self.duty, self.tractive, *self.routes)
        notes = [note for item in results if item for note in item.notes]
        return tuple(dict.fromkeys((*notes, *self.pumps.notes, *_beside(self.combination))))


def outcome(combination: Combination, condition: Condition, duty: Duty) -> Outcome:
    """Work out one combination in one condition.

    Parameters
    ----------
    combination : Combination
    condition : Condition
    duty : Duty

    Returns
    -------
    Outcome
        What lacks data is left out, and says what is missing.

    Raises
    ------
    InputError
        If engine and converter cannot be matched at all.
    """
    load, converter = pump_load(combination, condition), combination.converter
    engine, site, pumps = load.engine, condition.site, load.hydraulic_torque
    unknown = [load.missing] if load.missing else []

    def matched(where: Site | None) -> tuple[MatchResult, ArrangedResult | None]:
        arrangement = combination.arrangement
        if arrangement is None:
            return solve(engine, converter, site=where, hydraulic_torque=pumps), None
        arranged = solve_arranged(
            engine, converter, arrangement, site=where, hydraulic_torque=pumps
        )
        return arranged.match, arranged

    try:
        match, arranged = matched(site)
    except InputError as error:
        if site is None:
            raise
        match, arranged = matched(None)  # what fails there too is no matter of the site
        unknown.append(missing("engine-at-site", site=site.name, why=str(error)))
    wheels, why = _at_wheels(combination, match, duty)
    runs: list[RouteResult | None] = []
    reasons = []
    for route in duty.routes:
        absent = _absent(combination)
        if absent:
            runs.append(None)
            reasons.append(", ".join(absent))
            continue
        assert combination.driveline is not None
        assert combination.machine is not None
        try:
            # What an estimated converter may be is judged as outcomes of their own.
            runs.append(haul(match, combination.driveline, combination.machine, route, band=False))
            reasons.append("")
        except InputError as error:
            runs.append(None)
            reasons.append(f"{route.name}: {error}")
    return Outcome(
        combination=combination,
        condition=condition,
        match=match,
        arranged=arranged,
        tractive=wheels,
        routes=tuple(runs),
        missing_at_wheels=why,
        missing_on_routes=tuple(reasons),
        pumps=load,
        missing=tuple(unknown),
        alternatives=tuple(
            outcome(combination.replace(converter=other), condition, duty)
            for other in converter.alternatives
        ),
        duty=None if duty.points is None else over_duty(match, duty.points),
    )


def _beside(combination: Combination) -> tuple[Note, ...]:
    """Say which parts of an arrangement no criterion rests on."""
    arrangement = combination.arrangement
    if arrangement is None:
        return ()
    parts = [name for name in arrangement.parts if name not in _JUDGED]
    parts += [] if arrangement.wheels is None else ["wheels"]
    said = ", ".join(part.replace("_", " ") for part in parts)
    name = combination.name
    return (PUMPS.note("arrangement-not-judged", name=name, parts=said),) if parts else ()


def _absent(combination: Combination) -> list[str]:
    parts = {"driveline-file": combination.driveline, "machine-file": combination.machine}
    return [missing(code, name=combination.name) for code, part in parts.items() if part is None]


def _at_wheels(
    combination: Combination, match: MatchResult, duty: Duty
) -> tuple[TractiveResult | None, tuple[str, ...]]:
    absent = _absent(combination)
    if duty.surface is None:
        absent.append(missing("surface"))
    if absent:
        return None, tuple(absent)
    assert combination.driveline is not None
    assert combination.machine is not None
    assert duty.surface is not None  # just looked at
    grades = {0.0, *duty.grades}
    if duty.continuous_grade is not None:
        grades.add(duty.continuous_grade)
    try:
        wheels = tractive(
            match,
            combination.driveline,
            combination.machine,
            duty.surface,
            load=duty.load,
            grades=sorted(grades),
            band=False,
        )
    except InputError as error:
        return None, (str(error),)
    return wheels, ()
