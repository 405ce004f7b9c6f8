"""A study: what stands there now, what could replace it, where and for what it works. SI units.

A study is data. Nothing is computed here; `library.study_file.read_study` builds one from a TOML
file, and a notebook may build one by hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from converter_match.components.arrangement import Arrangement
from converter_match.components.base import (
    LATER,
    Component,
    freeze_tuples,
    require_choice,
    require_positive,
)
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.duty_points import DutyPoints
from converter_match.components.engine import Engine, SpeedTable
from converter_match.components.machine import LOADS, Load, Machine
from converter_match.components.route import Route
from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.study.criteria import CATALOGUE, PUMP_STATES, Choice, PumpState
from converter_match.study.decision_rule import DecisionRule
from converter_match.study.doubts import (
    CLAIM_DIMENSIONS,
    DISTRIBUTIONS,
    TOLERANCE_DIMENSIONS,
    Claim,
    Correlation,
    Distribution,
    Misreading,
    Tolerance,
)
from converter_match.study.input_file import InputFile
from converter_match.study.losses import Losses
from converter_match.study.measurement import WORK_ERROR, Measurement, check_measurements
from converter_match.study.names import once_each, refer
from converter_match.study.parts import PART_OF, SamePart, check_same, rows_of
from converter_match.study.possible import NotPossible, PossibleReading, check_all_possible
from converter_match.study.reading_bands import with_reading_bands

# What belongs to a study is found here as well.
__all__ = [
    "CLAIM_DIMENSIONS",
    "DISTRIBUTIONS",
    "PRESENT",
    "PUMP_STATES",
    "TOLERANCE_DIMENSIONS",
    "Claim",
    "Combination",
    "Condition",
    "Correlation",
    "DecisionRule",
    "Distribution",
    "Duty",
    "InputFile",
    "Limits",
    "Measurement",
    "Misreading",
    "PumpState",
    "SamePart",
    "Study",
    "Tolerance",
    "once_each",
    "refer",
]
PRESENT = "present"
REFERENCE_AIR = "reference-air"
"""Stands for the site where a study names none."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Combination(Component):
    """Components that work together: the present machine, or a candidate.

    Parameters
    ----------
    id, name : str
        `PRESENT` is the id of the present machine.
    engine : Engine
    converter : Converter
    arrangement : Arrangement, optional
    driveline : Driveline, optional
    machine : Machine, optional
        Driveline and machine are needed for anything at the wheels.
    """

    id: str
    name: str
    engine: Engine
    converter: Converter
    arrangement: Arrangement | None = None
    driveline: Driveline | None = None
    machine: Machine | None = None

    def pump_table(self, state: PumpState) -> SpeedTable | None:
        """Return the pump torque [N.m] over engine speed in a state; None where it has no table."""
        sharing = None if self.arrangement is None else self.arrangement.hydraulic_sharing
        if sharing is None:
            return None
        tables = {
            "standby": sharing.standby,
            "working": sharing.partial,
            "relief": sharing.relief,
        }
        return tables[state]


@dataclass(frozen=True, kw_only=True, eq=False)
class Duty(Component):
    """What the machine has to do.

    Parameters
    ----------
    surface : Surface, optional
        Needed for anything at the wheels.
    load : {"laden", "empty"}
    grades : tuple of float
        To be climbed, rise / run.
    continuous_grade : float, optional
        Continuous grade, to be climbed within continuous cooling capacity, rise / run.
    hydraulic_torque : float
        Taken at the flywheel while the implement works [N.m], where the arrangement of a
        combination has no pump table for it. Above zero, everything is looked at with and without
        it.
    routes : tuple of Route
    points : DutyPoints, optional
        The duty as a weighted table: the means over it are compared.
    """

    surface: Surface | None = None
    load: Load = "laden"
    grades: tuple[float, ...] = (0.0, 0.05, 0.10, 0.15, 0.20)
    continuous_grade: float | None = None
    hydraulic_torque: float = 0.0
    routes: tuple[Route, ...] = ()
    points: DutyPoints | None = field(default=None, metadata={LATER: True})

    def __post_init__(self) -> None:
        freeze_tuples(self, "grades", "routes")
        require_choice(self.load, "duty.load", LOADS)
        given = [(f"grades[{row}]", value) for row, value in enumerate(self.grades)]
        if self.continuous_grade is not None:
            given.append(("continuous_grade", self.continuous_grade))
        for name, value in given:
            if not (math.isfinite(value) and 0.0 <= value <= 1.0):
                raise InputError(
                    "out of range",
                    field=f"duty.{name}",
                    found=f"{100 * value:.6g} %",
                    expected="0 to 100 %",
                )
        if not (math.isfinite(self.hydraulic_torque) and self.hydraulic_torque >= 0.0):
            raise InputError(
                "a torque taken from the engine cannot be below zero",
                field="duty.hydraulic_torque",
                found=self.hydraulic_torque,
            )


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Limits of the study, beside those of the components; the lower of two holds. SI units.

    Parameters
    ----------
    input_torque, input_power, input_speed : float, optional
        At the converter [N.m], [W], [rad/s].
    turbine_torque, turbine_speed : float, optional
        At the transmission input [N.m], [rad/s].
    engine_speed : float, optional
        Highest that anything driven by the engine stands [rad/s].
    heat : float, optional
        Continuous heat rejection [W].
    oil_temperature : float, optional
        [K].
    stall_speed_least, stall_speed_most : float, optional
        Window for the stall speed, inside that of the criterion [rad/s].
    top_speed_least, top_speed_most : float, optional
        On the level [m/s].

    Raises
    ------
    InputError
        If a limit is not above zero, or two contradict each other.
    """

    input_torque: float | None = None
    input_power: float | None = None
    input_speed: float | None = None
    turbine_torque: float | None = None
    turbine_speed: float | None = None
    engine_speed: float | None = None
    heat: float | None = None
    oil_temperature: float | None = None
    stall_speed_least: float | None = None
    stall_speed_most: float | None = None
    top_speed_least: float | None = None
    top_speed_most: float | None = None

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            require_positive(getattr(self, name), f"limits.{name}")
        for least, most in (
            ("stall_speed_least", "stall_speed_most"),
            ("top_speed_least", "top_speed_most"),
            ("stall_speed_least", "engine_speed"),
            ("stall_speed_least", "input_speed"),
        ):
            low, high = getattr(self, least), getattr(self, most)
            if low is not None and high is not None and low >= high:
                raise InputError(
                    f"contradicts {most}: nothing can be above the one and below the other",
                    field=f"limits.{least}",
                    found=low,
                    expected=f"a value below {most}",
                )


_PUMPS_SAID = {
    "standby": ", pumps at standby",
    "working": ", implement working",
    "relief": ", pumps at relief",
}


@dataclass(frozen=True, kw_only=True)
class Condition:
    """One set of circumstances in which every combination is looked at.

    Parameters
    ----------
    site : Site or None
        None is the engine's own reference air.
    hydraulic_torque : float
        Of the duty in this state of the pumps [N.m].
    pumps : {"standby", "working", "relief"}
        What the implement pumps do.
    by_table : bool
        Whether a combination has a pump table for that.
    """

    site: Site | None
    hydraulic_torque: float = 0.0
    pumps: PumpState = "standby"
    by_table: bool = False

    @property
    def name(self) -> str:
        """What to call it."""
        where = "reference air" if self.site is None else self.site.name
        what = _PUMPS_SAID[self.pumps] if self.pumps != "standby" or self.by_table else ""
        return where + what

    @property
    def ids(self) -> tuple[str, str]:
        """Id of the site and state of the pumps, by which a criterion names it."""
        return REFERENCE_AIR if self.site is None else self.site.id, self.pumps


@dataclass(frozen=True, kw_only=True, eq=False)
class Study(Component):
    """Everything that a decision rests on.

    Parameters
    ----------
    id, name, source : str
    question : str
        What is to be decided, in plain words.
    present : Combination or None
        The present machine; without one nothing can be "kept".
    candidates : tuple of Combination
        At least one.
    sites : tuple of Site
        Empty: the engine's own reference air.
    duty : Duty
    limits : Limits
    criteria : tuple of Choice
        Every criterion that is applied, with weight and thresholds; by default the catalogue.
    tolerances : tuple of Tolerance
        No narrower than the reading band of a converter that has one (`reading_bands`).
        Several of one quantity where they name different parts.
    same_parts : tuple of SamePart
        Parts in common beside those that candidates take over from the present machine.
    correlations : tuple of Correlation
    claims : tuple of Claim
    siblings : tuple of Converter
        Converters of the same family, named by the study: a claim may rest on one of their sheets.
    ratings : tuple of Engine
        Other power settings of an engine, named by the study: a claim may rest on one of them.
    misreadings : tuple of Misreading
        What its files read with another unit.
    inputs : tuple of InputFile
        Empty for a study that was built by hand.
    odd : tuple of (str, Note)
        What is odd about the data, and about which part of them; empty for one built by hand.
    doubts : tuple of (str, str, Note)
        Id of a combination, which of its data, and what throws doubt on them; empty for one built
        by hand.
    rule : DecisionRule
        What probability the decision asks for.
    measurements : tuple of Measurement
        What was read on its machines.
    work_error : float
        Where there are readings: standard deviation of the engine torque at work about what the
        engine gives in a test, share of the torque.
    losses : Losses, optional
        What wrong decisions and readings cost; by the probability that the rule asks for without.
    possible : tuple of PossibleReading
        Readings that could be taken, beside the usual ones or in place of one of them.
    not_possible : tuple of NotPossible
        Usual readings that cannot be taken.
    customer, machine_serial_number, date, author : str
        For whom, about which machine, when and by whom; empty where nobody said so.

    Raises
    ------
    InputError
        If there is no candidate, an id is used twice, or something refers to what is not there.
    """

    id: str
    name: str
    source: str
    question: str = ""
    present: Combination | None = None
    candidates: tuple[Combination, ...]
    sites: tuple[Site, ...] = ()
    duty: Duty = field(default_factory=Duty)
    limits: Limits = field(default_factory=Limits)
    criteria: tuple[Choice, ...] = field(
        default_factory=lambda: tuple(spec.choice() for spec in CATALOGUE.values())
    )
    tolerances: tuple[Tolerance, ...] = ()
    same_parts: tuple[SamePart, ...] = ()
    correlations: tuple[Correlation, ...] = ()
    claims: tuple[Claim, ...] = ()
    siblings: tuple[Converter, ...] = ()
    ratings: tuple[Engine, ...] = ()
    misreadings: tuple[Misreading, ...] = ()
    inputs: tuple[InputFile, ...] = ()
    odd: tuple[tuple[str, Note], ...] = ()
    doubts: tuple[tuple[str, str, Note], ...] = field(default=(), metadata={LATER: True})
    rule: DecisionRule = field(default=DecisionRule(), metadata={LATER: True})
    measurements: tuple[Measurement, ...] = field(default=(), metadata={LATER: True})
    work_error: float = field(default=WORK_ERROR, metadata={LATER: True})
    losses: Losses | None = field(default=None, metadata={LATER: True})
    possible: tuple[PossibleReading, ...] = field(default=(), metadata={LATER: True})
    not_possible: tuple[NotPossible, ...] = field(default=(), metadata={LATER: True})
    customer: str = field(default="", metadata={LATER: True})
    machine_serial_number: str = field(default="", metadata={LATER: True})
    date: str = field(default="", metadata={LATER: True})
    author: str = field(default="", metadata={LATER: True})

    def __post_init__(self) -> None:
        freeze_tuples(self, "candidates", "sites", "criteria", "tolerances", "correlations")
        freeze_tuples(self, "claims", "siblings", "ratings", "misreadings", "inputs", "odd")
        freeze_tuples(self, "same_parts", "measurements", "possible", "not_possible", "doubts")
        if not self.candidates:
            raise InputError(
                "there is nothing to decide on", field="candidate", expected="at least one"
            )
        if self.present is not None and self.present.id != PRESENT:
            raise InputError("out of place", field="present.id", expected=repr(PRESENT))
        once_each([item.id for item in self.combinations], "candidate", "id")
        once_each([item.id for item in self.sites], "sites", "")
        # Tables tell conditions and routes by what they are called.
        once_each([item.name for item in self.sites], "sites", "")
        once_each([item.id for item in self.duty.routes], "duty.routes", "")
        once_each([item.name for item in self.criteria], "criterion", "name")
        check_same(self.same_parts, self.combinations)
        for quantity in PART_OF:
            rows_of(self.tolerances, self.combinations, self.same_parts, quantity)
        wide = with_reading_bands(self.tolerances, self.combinations, self.same_parts)
        object.__setattr__(self, "tolerances", wide)
        known = [item.quantity for item in self.tolerances]
        for row, pair in enumerate(self.correlations):
            for name in (pair.first, pair.second):
                refer(name, known, f"correlation[{row}].between", "quantity with a tolerance")
        self._check_conditions()
        check_measurements(self.measurements, self.combinations, self.duty.surface)
        check_all_possible(self, self.combinations, self.duty.surface)
        if self.losses is not None:
            self.losses.check_threshold(self.rule.order_probability)
        if self.measurements and not self.tolerances:
            raise InputError(
                "readings change nothing where nothing is in doubt",
                field="tolerance",
                expected="at least one [[tolerance]]",
            )
        if not 0.0 <= self.work_error <= 0.2:
            raise InputError(
                "out of range",
                field="evidence.work_error",
                found=f"{100 * self.work_error:.6g} %",
                expected="0 to 20 %",
            )
        for row, claim in enumerate(self.claims):
            names = [item.id for item in self.combinations]
            refer(claim.combination, names, f"claim[{row}].combination", "combination")
            if claim.site is not None:
                sites = [item.id for item in self.sites]
                refer(claim.site, sites, f"claim[{row}].site", "site of this study")

    def _check_conditions(self) -> None:
        """Refuse a criterion that is limited to a condition which the study does not have."""
        there = self.conditions
        known = list(dict.fromkeys([*(item.pumps for item in there), *(k.ids[0] for k in there)]))
        for item in self.criteria:
            for name in item.conditions:
                refer(name, known, f"criterion {item.name!r}.conditions", "condition of this study")
                if name in PUMP_STATES and name in {site.id for site in self.sites}:
                    raise InputError(
                        "is a state of the pumps and the id of a site",
                        field=f"criterion {item.name!r}.conditions",
                        found=name,
                        expected="another id of the site",
                    )

    @property
    def known_losses(self) -> Losses:
        """The losses as given, or as the probability asked for before ordering has them."""
        if self.losses is not None:
            return self.losses
        return Losses.given(self.rule.order_probability)

    @property
    def combinations(self) -> tuple[Combination, ...]:
        """The present machine, where there is one, and the candidates."""
        return (*(() if self.present is None else (self.present,)), *self.candidates)

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Every site, with the pumps at standby and, where a torque is given, working, at relief.

        A torque is given by the duty (working), or by the pump table of any combination.
        """
        working = self.duty.hydraulic_torque
        states = []
        for state in PUMP_STATES:
            by_table = any(item.pump_table(state) is not None for item in self.combinations)
            if state == "standby" or by_table or (state == "working" and working):
                states.append((state, by_table))
        return tuple(
            Condition(
                site=site,
                hydraulic_torque=working if state == "working" else 0.0,
                pumps=state,
                by_table=by_table,
            )
            for site in (self.sites or (None,))
            for state, by_table in states
        )

    def looked_at(self, choice: Choice) -> tuple[int, ...]:
        """Return the conditions that a criterion is looked at in, counted from 0.

        Of those it names, pump states go together, and so do sites: a condition counts if its state
        is one of the states (where any is named), and its site one of the sites (where any is).
        """
        states = set(choice.conditions) & set(PUMP_STATES)
        sites = set(choice.conditions) - states
        return tuple(
            row
            for row, condition in enumerate(self.conditions)
            if (not states or condition.pumps in states)
            and (not sites or condition.ids[0] in sites)
        )

    def combination(self, name: str) -> Combination:
        """Return the combination of an id.

        Raises
        ------
        InputError
            If there is none, naming the nearest.
        """
        by_id = {item.id: item for item in self.combinations}
        refer(name, list(by_id), "combination", "combination")
        return by_id[name]
