"""What may stand in a study file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from converter_match.errors import InputError
from converter_match.library.schema.bench import BenchTable
from converter_match.library.schema.common import (
    FileTable,
    Line,
    Many,
    Number,
    One,
    Power,
    Speed,
    Temperature,
    Text,
    Torque,
    _Plain,
)
from converter_match.library.schema.quantity import Column, Quantity

WeightShare = Annotated[Quantity, One("weight_share")]
Velocity = Annotated[Quantity, One("velocity")]


@dataclass(frozen=True)
class Unread(_Plain):
    """Marks a quantity whose dimension depends on another field, and is read with it later."""

    def read(self, raw: object) -> Any:
        """Return what was written."""
        return raw

    def json(self) -> dict[str, Any]:
        """Return the JSON Schema of the field."""
        return {
            "anyOf": [
                {"type": "number"},
                {
                    "type": "object",
                    "properties": {"unit": {"type": "string"}, "value": {"type": "number"}},
                    "required": ["value"],
                    "additionalProperties": False,
                },
            ]
        }


Raw = Annotated[Any, Unread()]


def _rows(raw: object) -> object:
    """Take a single text for a list of one."""
    return [raw] if isinstance(raw, str) else raw


def _not_empty(names: list[str]) -> list[str]:
    if not names:
        raise InputError("is an empty list", expected="at least one, or leave the key out")
    return names


Names = Annotated[list[Line], BeforeValidator(_rows), AfterValidator(_not_empty)]


class PartsTable(FileTable):
    """Components that work together: paths relative to the study file, or ids of shipped files."""

    name: Line | None = Field(default=None, description="what people call it")
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


class DutyTable(FileTable):
    """What the machine has to do."""

    surface: Line | None = Field(default=None, description="a surface of the table, by name")
    surfaces: Line | None = Field(default=None, description="file of your own surfaces")
    rolling_resistance: WeightShare | None = Field(
        default=None, description="in place of the surface's"
    )
    traction: Number | None = Field(default=None, description="in place of the surface's")
    load: Literal["laden", "empty"] = "laden"
    grades: Annotated[Column, Many("weight_share")] | None = None
    continuous_grade: WeightShare | None = Field(
        default=None, description="to be climbed for ever with the oil cool"
    )
    hydraulic_torque: Torque | None = Field(
        default=None, description="taken at the flywheel while the implement works"
    )
    routes: Names | None = Field(default=None, description="route files (CSV)")


class LimitsTable(FileTable):
    """Limits of the study; the lower of these and those of the components holds."""

    input_torque: Torque | None = None
    input_power: Power | None = None
    input_speed: Speed | None = None
    turbine_torque: Torque | None = None
    turbine_speed: Speed | None = None
    engine_speed: Speed | None = None
    heat: Power | None = None
    oil_temperature: Temperature | None = None
    stall_speed_least: Speed | None = None
    stall_speed_most: Speed | None = None
    top_speed_least: Velocity | None = None
    top_speed_most: Velocity | None = None


class CriterionTable(FileTable):
    """A criterion that is weighed or limited otherwise than by default."""

    name: Line
    weight: Literal["must", "should", "off"] | None = None
    least: Raw = None
    most: Raw = None
    margin: Raw = None
    efficiency: Raw = None
    up_to: Raw = None


class ToleranceTable(FileTable):
    """How well an input is known."""

    quantity: Line
    half_width: Raw = Field(description="half the width of the band")
    distribution: Literal["uniform", "normal", "triangular"] = "uniform"
    shared: bool = Field(default=False, description="one draw for every combination")


class CorrelationTable(FileTable):
    """Two tolerances that go together."""

    between: list[Line] = Field(description="two quantities")
    coefficient: Number


class ClaimTable(FileTable):
    """A number that somebody else gives."""

    quantity: Line
    value: Raw
    combination: Line
    source: Line = ""
    tolerance: Number | None = None
    site: Line | None = None
    hydraulic_torque: Torque | None = None
    gear: Line | None = None
    grade: WeightShare | None = None
    speed: Velocity | None = None
    load: Literal["laden", "empty"] | None = None


class StudyFile(FileTable):
    """A study file."""

    id: Line = Field(description="short name")
    name: Line = Field(description="what people call it")
    source: Text = Field(description="where the study comes from")
    question: Text | None = Field(default=None, description="what is to be decided")
    sites: Names | None = Field(default=None, description="site files")
    present: PartsTable | None = None
    candidate: list[CandidateTable] = Field(description="repeated: [[candidate]]")
    duty: DutyTable = DutyTable()
    limits: LimitsTable = LimitsTable()
    criterion: list[CriterionTable] = Field(default=[], description="repeated: [[criterion]]")
    tolerance: list[ToleranceTable] = Field(default=[], description="repeated: [[tolerance]]")
    correlation: list[CorrelationTable] = Field(default=[], description="repeated: [[correlation]]")
    claim: list[ClaimTable] = Field(default=[], description="repeated: [[claim]]")
    bench: BenchTable | None = Field(
        default=None, description="how the match bench showed it; no judgement rests on it"
    )
