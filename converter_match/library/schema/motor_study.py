"""What may stand in a motor-study file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from converter_match.errors import InputError
from converter_match.library.schema.common import FileTable, Line, Many, Number, One, Text, Torque
from converter_match.library.schema.motor import Voltage
from converter_match.library.schema.quantity import GivenColumn, GivenQuantity

Share = Annotated[GivenQuantity, One("weight_share")]
Velocity = Annotated[GivenQuantity, One("velocity")]
Shares = Annotated[GivenColumn, Many("weight_share")]


class PresentTable(FileTable):
    """The present machine."""

    name: Line | None = Field(default=None, description="display name")
    engine: Line = Field(description="engine file, or the id of a shipped one")
    converter: Line = Field(description="converter file")
    driveline: Line = Field(description="driveline file")
    machine: Line = Field(description="machine file")


class MotorCandidateTable(FileTable):
    """A motor, behind a converter or coupled directly."""

    id: Line = Field(description="short name")
    name: Line | None = Field(default=None, description="display name")
    motor: Line = Field(description="motor file, or the id of a shipped one")
    converter: Line | None = Field(default=None, description="converter file; this or direct")
    direct: Number | None = Field(
        default=None,
        description="a reduction in its place, 1 for none; this or converter",
    )
    efficiency: Number | None = Field(
        default=None, description="of that reduction; one stage of gears if not given, noted"
    )
    voltage: Voltage | None = Field(default=None, description="of the supply; nominal if not given")
    driveline: Line | None = Field(default=None, description="the present one if not given")
    machine: Line | None = Field(default=None, description="the present one if not given")

    @model_validator(mode="after")
    def _one_of_both(self) -> MotorCandidateTable:
        if (self.converter is None) == (self.direct is None):
            raise InputError(
                "give converter or direct, not both" if self.converter else "missing",
                field="direct" if self.converter else "converter",
                expected="a converter file, or direct = the reduction in its place",
            )
        return self


class MotorDutyTable(FileTable):
    """What the machine has to do."""

    surface: Line = Field(description="name in the published table")
    load: Literal["laden", "empty"] = Field(default="laden", description="load state")
    grades: Shares | None = Field(default=None, description="to climb, rise / run")
    routes: list[Line] = Field(default=[], description="route files (CSV)")
    hydraulic_torque: Torque | None = Field(
        default=None, description="taken at the shaft of engine or motor by implement pumps"
    )


class RequirementsTable(FileTable):
    """What a candidate has to do."""

    startability: Share | None = Field(
        default=None, description="with the peak torque, min.; that of the present if not given"
    )
    continuous_grade: Share | None = Field(
        default=None, description="held by motor and oil for good, min.; not asked if not given"
    )
    top_speed: Velocity | None = Field(
        default=None, description="on the level, min.; 95 % of the present's if not given"
    )
    cycle_time: Share | None = Field(
        default=None, description="over that of the present, max.; 110 % if not given"
    )


class MotorStudyFile(FileTable):
    """A motor-study file."""

    id: Line = Field(description="short name")
    name: Line = Field(description="display name")
    source: Text = Field(description="where the study comes from")
    question: Text | None = Field(default=None, description="what is to be decided")
    site: Line | None = Field(default=None, description="site file")
    present: PresentTable | None = Field(default=None, description="the present machine")
    candidate: list[MotorCandidateTable] = Field(description="what is compared")
    duty: MotorDutyTable = Field(description="what the machine has to do")
    requirements: RequirementsTable = Field(
        default=RequirementsTable(), description="what a candidate has to do"
    )
