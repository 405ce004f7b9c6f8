"""What may stand in a driveline file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from converter_match.errors import InputError
from converter_match.library.schema.common import (
    ComponentFile,
    FileTable,
    Inertia,
    Line,
    Number,
    One,
    Power,
    Ratio,
    Speed,
    SpeedColumn,
    Torque,
    TorqueColumn,
    check_rows,
)
from converter_match.library.schema.quantity import GivenQuantity


class GearDragTable(FileTable):
    """Drag torque at the gearbox input: a table over turbine speed, or a law."""

    speed: SpeedColumn | None = Field(default=None, description="turbine speed, from 0")
    torque: TorqueColumn | None = Field(default=None, description="one value per speed")
    constant: Torque | None = Field(default=None, description="part that does not follow speed")
    rising: Torque | None = Field(default=None, description="part that follows speed, at at_speed")
    at_speed: Speed | None = Field(
        default=None, description="turbine speed at which the rising part is given"
    )
    exponent: Number | None = Field(default=None, description="of the rising part; 1 if absent")

    @model_validator(mode="after")
    def _table_or_law(self) -> GearDragTable:
        table = {"speed": self.speed, "torque": self.torque}
        law = {key: getattr(self, key) for key in ("constant", "rising", "at_speed", "exponent")}
        if any(v is not None for v in table.values()) and any(v is not None for v in law.values()):
            raise InputError(
                "a table and a law at once",
                expected="speed and torque, or constant, rising, at_speed and exponent",
            )
        if self.speed is not None or self.torque is not None:
            for key, column in table.items():
                if column is None:
                    raise InputError(
                        "missing", field=key, expected="columns of speed and of torque"
                    )
            assert self.speed is not None  # just looked at
            check_rows("speed", self.speed, torque=self.torque)
        elif self.constant is None and self.rising is None:
            raise InputError(
                "says nothing",
                expected="speed and torque, or constant, or rising with at_speed",
            )
        elif self.rising is not None and self.at_speed is None:
            raise InputError("missing", field="at_speed", expected='{ unit = "rpm", value = ... }')
        return self


class GearLockUpTable(FileTable):
    """When the converter is locked up in this gear; the table's presence allows it."""

    engage_speed_ratio: Number | None = Field(
        default=None, description="of the open converter, full throttle"
    )
    release_speed_ratio: Number | None = Field(
        default=None, description="below the engagement; the difference is the hysteresis"
    )
    engage_turbine_speed: Speed | None = Field(
        default=None, description="in place of a speed ratio"
    )
    release_turbine_speed: Speed | None = Field(default=None, description="likewise")


class GearTable(FileTable):
    """One gear."""

    name: Line = Field(description="as marked on the selector")
    ratio: Number = Field(description="turbine / gearbox output speed; below zero is reverse")
    direction: Literal["forward", "reverse"] | None = Field(
        default=None, description="taken from the sign of the ratio if not given"
    )
    efficiency: Number = Field(description="of the meshes, drag not included")
    drag: GearDragTable | None = Field(
        default=None, description="at the gearbox input; that of the file's top level if not given"
    )
    lock_up: GearLockUpTable | None = Field(default=None, description="allows lock-up in this gear")
    upshift_turbine_speed: Speed | None = Field(
        default=None, description="into the next gear; at equal effort if not given"
    )
    downshift_turbine_speed: Speed | None = Field(
        default=None, description="into the gear before; below the upshift if not given"
    )

    @model_validator(mode="after")
    def _one_direction(self) -> GearTable:
        if self.ratio.si < 0 and self.direction == "forward":
            raise InputError(
                "a forward gear with a ratio below zero",
                field="ratio",
                found=self.ratio.given(),
                expected='a ratio above zero, or direction = "reverse"',
            )
        return self


class StageTable(FileTable):
    """A reduction behind the gearbox."""

    name: Line = Field(description="such as axle, final drive")
    ratio: Number = Field(description="speed in / speed out")
    efficiency: Number = Field(description="of the meshes, above 0 and at most 1")


class DrivelineLimitsTable(FileTable):
    """Limits that the maker states."""

    turbine_torque: Torque | None = Field(default=None, description="highest at the gearbox input")
    turbine_speed: Speed | None = Field(default=None, description="highest at the gearbox input")
    input_power: Power | None = Field(default=None, description="highest at the gearbox input")
    lock_up_torque: Torque | None = Field(
        default=None, description="what the lock-up clutch carries"
    )


class DrivelineInertia(FileTable):
    """Moments of inertia."""

    input: Inertia | None = Field(default=None, description="turning with the turbine")
    output: Inertia | None = Field(default=None, description="turning with the gearbox output")


class DrivelineFile(ComponentFile):
    """A driveline file."""

    gear: list[GearTable] = Field(description="in the order of the lever")
    stage: list[StageTable] = Field(default=[], description="reductions behind the gearbox")
    drag: GearDragTable | None = Field(default=None, description="of every gear that gives none")
    assume_drag: bool = Field(
        default=True,
        description="where none is given, take the fall-back of Regulation (EU) 2017/2400, Annex "
        "VI, from limits.turbine_torque; false takes none",
    )
    limits: DrivelineLimitsTable = Field(
        default=DrivelineLimitsTable(), description="not judged where not given"
    )
    inertia: DrivelineInertia = Field(
        default=DrivelineInertia(),
        description="for acceleration; zero if not given, listed as assumed",
    )
    shift_time: Annotated[GivenQuantity, One("time")] | None = Field(
        default=None, description="without drive at a shift"
    )
    shift_hysteresis: Ratio | None = Field(
        default=None, description="downshift below upshift, share of the upshift speed"
    )
    speed_limit: Annotated[GivenQuantity, One("velocity")] | None = Field(
        default=None, description="road speed of a limiter"
    )
