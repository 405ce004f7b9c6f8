"""What may stand in a study file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from converter_match.errors import InputError
from converter_match.library.schema.bench import BenchTable
from converter_match.library.schema.common import (
    FileTable,
    Length,
    Line,
    Many,
    Number,
    One,
    Power,
    Pressure,
    Speed,
    Temperature,
    Text,
    Torque,
    _Plain,
    json_of_second,
)
from converter_match.library.schema.quantity import SECOND, GivenColumn, GivenQuantity

WeightShare = Annotated[GivenQuantity, One("weight_share")]
Share = Annotated[GivenQuantity, One("ratio")]
"""Of anything: a probability, a deviation."""
Velocity = Annotated[GivenQuantity, One("velocity")]


@dataclass(frozen=True)
class Unread(_Plain):
    """Marks a quantity whose dimension depends on another field, and is read with it later."""

    def read(self, raw: object) -> Any:
        """Return what was written."""
        return raw

    def json(self) -> dict[str, Any]:
        """Return the JSON Schema of the field."""
        second: dict[str, Any] = {
            "type": "object",
            "properties": {"unit": {"type": "string"}, "value": {"type": "number"}},
            "required": ["value"],
            "additionalProperties": False,
        }
        keys = second["properties"] | {SECOND: json_of_second(second)}
        return {"anyOf": [{"type": "number"}, {**second, "properties": keys}]}


Raw = Annotated[Any, Unread()]


def _rows(raw: object) -> object:
    """Take a single text for a list of one."""
    return [raw] if isinstance(raw, str) else raw


def _not_empty(names: list[str]) -> list[str]:
    if not names:
        raise InputError("is an empty list", expected="at least one, or leave the key out")
    return names


def _day(raw: object) -> object:
    """Take a date of TOML for its text."""
    return raw.isoformat() if isinstance(raw, date) else raw


Day = Annotated[Line, BeforeValidator(_day)]
Names = Annotated[list[Line], BeforeValidator(_rows), AfterValidator(_not_empty)]


class PartsTable(FileTable):
    """Components that work together: paths relative to the study file, or ids of shipped files."""

    name: Line | None = Field(default=None, description="display name")
    engine: Line = Field(description="engine file")
    converter: Line = Field(description="converter file")
    arrangement: Line | None = Field(default=None, description="arrangement file")
    driveline: Line | None = Field(default=None, description="driveline file")
    machine: Line | None = Field(default=None, description="machine file")


class CandidateTable(PartsTable):
    """A candidate; what it does not name is that of the present machine."""

    id: Line = Field(description="short name, unique within the study")
    engine: Line | None = Field(default=None, description="engine file")  # type: ignore[assignment]
    converter: Line | None = Field(  # type: ignore[assignment]
        default=None, description="converter file"
    )
    diameter: Length | None = Field(
        default=None,
        description="profile diameter the converter is scaled to: an estimate, without limits",
    )


class DutyTable(FileTable):
    """What the machine has to do."""

    surface: Line | None = Field(default=None, description="a surface of the table, by name")
    surfaces: Line | None = Field(default=None, description="file of your own surfaces")
    rolling_resistance: WeightShare | None = Field(
        default=None, description="in place of the surface's"
    )
    traction: Number | None = Field(default=None, description="in place of the surface's")
    load: Literal["laden", "empty"] = Field(
        default="laden", description="load state of everything at the wheels"
    )
    grades: Annotated[GivenColumn, Many("weight_share")] | None = Field(
        default=None, description="rise / run, to be climbed; 0, 5, 10, 15, 20 percent if not given"
    )
    continuous_grade: WeightShare | None = Field(
        default=None, description="continuous grade: climbed within continuous cooling capacity"
    )
    hydraulic_torque: Torque | None = Field(
        default=None,
        description="taken at the flywheel while the implement works, where the arrangement has no "
        "pump table for it",
    )
    routes: Names | None = Field(default=None, description="route files (CSV)")
    points: Line | None = Field(
        default=None,
        description="duty file (CSV): shares of the time at turbine speeds or speed ratios; the "
        "means over it are compared",
    )


class LimitsTable(FileTable):
    """Limits of the study; the lower of these and those of the components holds."""

    input_torque: Torque | None = Field(default=None, description="at the impeller")
    input_power: Power | None = Field(default=None, description="at the impeller")
    input_speed: Speed | None = Field(default=None, description="of the impeller")
    turbine_torque: Torque | None = Field(default=None, description="at the gearbox input")
    turbine_speed: Speed | None = Field(default=None, description="at the gearbox input")
    engine_speed: Speed | None = Field(default=None, description="highest, driven ones included")
    heat: Power | None = Field(
        default=None, description="continuous heat rejection of the transmission oil"
    )
    oil_temperature: Temperature | None = Field(default=None, description="of the transmission oil")
    stall_speed_least: Speed | None = Field(default=None, description="required stall speed, min.")
    stall_speed_most: Speed | None = Field(default=None, description="required stall speed, max.")
    top_speed_least: Velocity | None = Field(default=None, description="required top speed, min.")
    top_speed_most: Velocity | None = Field(default=None, description="required top speed, max.")


class CriterionTable(FileTable):
    """A criterion that is weighed or limited otherwise than by default."""

    name: Line = Field(description="one of the list in docs/study.md")
    weight: Literal["must", "should", "off"] | None = Field(
        default=None, description="must, should, or not applied"
    )
    conditions: Names | None = Field(
        default=None,
        description="looked at only here: standby, working, relief (of the pumps), ids of sites, "
        "reference-air",
    )
    least: Raw = Field(default=None, description="in place of the criterion's own")
    most: Raw = Field(default=None, description="in place of the criterion's own")
    margin: Raw = Field(default=None, description="within which it is marginal")
    efficiency: Raw = Field(default=None, description="level of the criterion that has one")
    up_to: Raw = Field(
        default=None, description="share of the top speed, of the criterion that has one"
    )


class DecisionTable(FileTable):
    """What probability the decision asks for, where the study gives tolerances."""

    order_probability: Share | None = Field(
        default=None,
        description="all required criteria hold together at least so often, or the answer is "
        "conditional; 90 percent if not given",
    )
    reject_probability: Share | None = Field(
        default=None, description="less often than this the answer is no; 50 percent if not given"
    )


class LossesTable(FileTable):
    """What wrong decisions and readings cost, all in one unit of your own choice."""

    wrong_order: Number | None = Field(
        default=None,
        description="ordered, and a required criterion is not met; as order_probability has it if "
        "not given",
    )
    missed_order: Number | None = Field(
        default=None,
        description="not ordered, though all required criteria are met; 1 if not given",
    )
    minutes: Number | None = Field(
        default=None,
        description="a reading that takes minutes; 0.2 percent of a missed order if not given",
    )
    hours: Number | None = Field(
        default=None,
        description="a reading that takes hours; 2 percent of a missed order if not given",
    )
    dear: Number | None = Field(
        default=None, description="a dear reading; 20 percent of a missed order if not given"
    )


class ToleranceTable(FileTable):
    """Tolerance of an input."""

    quantity: Line = Field(description="one of the list in docs/study.md")
    half_width: Raw = Field(description="half the width of the band")
    distribution: Literal["uniform", "normal", "triangular"] = Field(
        default="uniform", description="normal: the half width is two standard deviations"
    )
    shared: bool = Field(
        default=False,
        description="one draw for every combination; otherwise one for each part that they do "
        "not have in common",
    )
    of: Line | None = Field(
        default=None,
        description="the part it is for: id of a component, or of a combination (or present) for "
        "the part there; every part without a row of its own if not given",
    )
    shift: Raw = Field(
        default=None, description="by how much the middle of the band lies off the data"
    )
    scatter: Number | None = Field(
        default=None,
        description="share of the variance, 0 to 1, that is scatter between units of one type; "
        "0.5 if not given, listed as assumed",
    )


class SamePartTable(FileTable):
    """A part that combinations have in common though each names its file."""

    part: Literal["engine", "converter", "driveline", "machine"] = Field(description="which part")
    combinations: list[Line] = Field(description="ids of candidates, or present; at least two")


class CorrelationTable(FileTable):
    """Two tolerances that go together."""

    between: list[Line] = Field(description="two quantities")
    coefficient: Number = Field(description="of ranks, -1 to 1")


class ClaimTable(FileTable):
    """A number that somebody else gives."""

    quantity: Line = Field(description="one of the list in docs/study.md")
    value: Raw = Field(description="with the unit of the quantity")
    combination: Line = Field(description="id of a candidate, or present")
    source: Line = Field(default="", description="who claims it, and where")
    tolerance: Number | None = Field(
        default=None, description="share of the value; 2 percent if not given, listed as assumed"
    )
    site: Line | None = Field(default=None, description="id of one of the sites")
    hydraulic_torque: Torque | None = Field(
        default=None, description="at the flywheel, that the claim holds for"
    )
    gear: Line | None = Field(default=None, description="name of the gear")
    grade: WeightShare | None = Field(default=None, description="rise / run")
    speed: Velocity | None = Field(default=None, description="road speed")
    load: Literal["laden", "empty"] | None = Field(default=None, description="load state")


class ReadingTable(FileTable):
    """How something is read on a machine."""

    quantity: Line = Field(description="one of the list in docs/evidence.md")
    repeats: Number | None = Field(default=None, description="readings in the mean; 1 if not given")
    combination: Line = Field(description="id of a candidate, or present: what it is read on")
    gear: Line | None = Field(default=None, description="name of the forward gear that is held")
    grade: WeightShare | None = Field(default=None, description="rise / run")
    speed: Velocity | None = Field(
        default=None, description="road speed at which, or up to which, it is read"
    )
    engine_speed: Speed | None = Field(default=None, description="on a test bed, at full load")
    speed_ratio: Number | None = Field(default=None, description="on a rig")
    duration: Annotated[GivenQuantity, One("time")] | None = Field(
        default=None, description="of the stall hold"
    )
    pumps: Literal["standby", "relief"] = Field(
        default="standby", description="what the implement pumps do"
    )
    load: Literal["laden", "empty"] = Field(default="laden", description="load state")
    mass: Annotated[GivenQuantity, One("mass")] | None = Field(
        default=None, description="of the machine as weighed on that day; the machine file's, with "
        "the tolerance of the study, if not given",
    )  # fmt: skip
    ground: Literal["duty", "other"] = Field(
        default="duty", description="that of the duty, or other ground, which teaches nothing of it"
    )
    surface: Line | None = Field(default=None, description="the other ground, by name")
    site: Line | None = Field(default=None, description="id of one of the sites")
    air_temperature: Temperature | None = Field(default=None, description="measured on that day")
    air_pressure: Pressure | None = Field(
        default=None, description="measured on that day, absolute, at the site"
    )
    oil_temperature: Temperature | None = Field(
        default=None, description="of the transmission, at the start of a hold; that of the "
        "converter's sheet if not given",
    )  # fmt: skip
    model_error: Share | None = Field(
        default=None, description="one standard deviation of the calculation for exactly known "
        "parts; that of the list in docs/evidence.md if not given",
    )  # fmt: skip


class MeasurementTable(ReadingTable):
    """What was read on a machine."""

    value: Raw = Field(
        default=None, description="the reading; the mean where it was repeated; left out beside "
        "log or identified",
    )  # fmt: skip
    deviation: Raw = Field(
        default=None, description="one standard deviation of instrument and repeat of a single "
        "reading, or a percentage of the value; left out beside identified, whose band tells it",
    )  # fmt: skip
    log: Line | None = Field(
        default=None, description="log of stall tests (CSV): the mean of the converter stalls of "
        "the machine, brakes held, of the date, or of its last day",
    )  # fmt: skip
    machine: Line | None = Field(default=None, description="its name in the log of stall tests")
    identified: Line | None = Field(
        default=None, description="what identify --json has found in a machine's log: the value at "
        "the speed ratio, with its band",
    )  # fmt: skip
    date: Day | None = Field(default=None, description="of the reading, as 2031-05-04")
    source: Line = Field(default="", description="who read it, with what")


class PossibleTable(ReadingTable):
    """A reading that could be taken: one more, a usual one otherwise, or one that cannot be had."""

    deviation: Raw = Field(
        default=None,
        description="one standard deviation of instrument and repeat, or a percentage of what it "
        "would read; the usual one if not given",
    )
    cost: Literal["minutes", "hours", "dear", "off"] | None = Field(
        default=None,
        description="what it takes; off: it cannot be taken, whatever the other keys; the usual "
        "one if not given",
    )


class EvidenceTable(FileTable):
    """What holds for all readings."""

    work_error: Share | None = Field(
        default=None, description="one standard deviation of the engine torque at work about what "
        "the engine gives in a test; 1 percent if not given, listed as assumed",
    )  # fmt: skip


class StudyFile(FileTable):
    """A study file."""

    id: Line = Field(description="short name")
    name: Line = Field(description="display name")
    source: Text = Field(description="where the study comes from")
    question: Text | None = Field(default=None, description="what is to be decided")
    customer: Line | None = Field(default=None, description="for whom the study is made")
    machine_serial_number: Line | None = Field(
        default=None, description="of the machine that is to be changed"
    )
    date: Day | None = Field(
        default=None, description="of the study, as it is to be printed; none is made up"
    )
    author: Line | None = Field(default=None, description="who made the study")
    sites: Names | None = Field(default=None, description="site files")
    present: PartsTable | None = Field(default=None, description="the present machine")
    candidate: list[CandidateTable] = Field(description="what is compared with the present machine")
    duty: DutyTable = Field(default=DutyTable(), description="what the machine has to do")
    limits: LimitsTable = Field(
        default=LimitsTable(), description="beside those of the components; the lower holds"
    )
    criterion: list[CriterionTable] = Field(
        default=[], description="criteria with another weight or limit"
    )
    decision: DecisionTable = Field(
        default=DecisionTable(), description="what probability the decision asks for"
    )
    tolerance: list[ToleranceTable] = Field(default=[], description="tolerance of an input")
    same_part: list[SamePartTable] = Field(
        default=[], description="parts in common, beside those taken over from the present machine"
    )
    correlation: list[CorrelationTable] = Field(
        default=[], description="tolerances that go together"
    )
    measurement: list[MeasurementTable] = Field(
        default=[], description="what was read on the machines"
    )
    possible: list[PossibleTable] = Field(
        default=[], description="what could be read before the decision, beside what is usual"
    )
    losses: LossesTable | None = Field(
        default=None, description="what wrong decisions and readings cost"
    )
    evidence: EvidenceTable = Field(
        default=EvidenceTable(), description="what holds for all readings"
    )
    claim: list[ClaimTable] = Field(default=[], description="claim by somebody else, to be checked")
    siblings: Names | None = Field(
        default=None,
        description="converter files of the same family: a claim may rest on one of their sheets",
    )
    ratings: Names | None = Field(
        default=None,
        description="engine files, other power settings: a claim may rest on one of them",
    )
    bench: BenchTable | None = Field(
        default=None, description="how the match bench showed it; no judgement rests on it"
    )
