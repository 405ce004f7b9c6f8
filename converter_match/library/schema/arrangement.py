"""What may stand in an arrangement file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from converter_match.errors import InputError
from converter_match.library.schema.common import (
    ComponentFile,
    FileTable,
    Length,
    Line,
    Number,
    NumberColumn,
    One,
    Ratio,
    Speed,
    SpeedColumn,
    Torque,
    TorqueColumn,
    check_rows,
)
from converter_match.library.schema.quantity import Quantity, read_quantity


class LockUpTable(FileTable):
    """A clutch that ties the turbine to the impeller."""

    engage_by: Literal["speed-ratio", "turbine-speed", "gear"]
    engage: object = Field(
        description="speed ratio { value = ... }, turbine speed with its unit, or number of a gear"
    )
    release: object = Field(description="likewise; at most the engagement value")
    torque_capacity: Torque | None = None
    engagement_time: Annotated[Quantity, One("time")] | None = None

    @model_validator(mode="after")
    def _read_thresholds(self) -> LockUpTable:
        for name in ("engage", "release"):
            self.threshold(name)
        return self

    def threshold(self, name: str) -> Quantity:
        """Return ``engage`` or ``release``, whose dimension depends on what the clutch goes by."""
        dimension = "angular_speed" if self.engage_by == "turbine-speed" else "ratio"
        try:
            return read_quantity(getattr(self, name), dimension, bare=self.engage_by == "gear")
        except InputError as error:
            raise InputError(
                error.problem,
                field=f"{name}.{error.field}" if error.field else name,
                found=error.found,
                expected=error.expected,
                hint=error.hint,
            ) from None


class ImpellerClutchTable(FileTable):
    """A modulated clutch between engine and impeller."""

    torque_capacity: Torque = Field(description="at full pressure")
    engine_speed: Speed | None = Field(
        default=None, description="speed at which the engine is kept; full throttle without"
    )
    settings: NumberColumn | None = Field(default=None, description="shares of the capacity")
    turbine_torque_limit: Torque | None = Field(
        default=None, description="turbine torque at which the wheels would spin"
    )
    tractive_effort_limit: Annotated[Quantity, One("force")] | None = Field(
        default=None, description="the same as tractive effort; needs [wheels]"
    )


class TorqueDividerTable(FileTable):
    """A planetary that joins a mechanical path to the hydraulic one."""

    sun_teeth: int | None = None
    ring_teeth: int | None = None
    ratio: Number | None = Field(default=None, description="ring / sun, above 1")
    connection: Line | None = Field(default=None, description="which shaft turns which member")


class HydraulicSharingTable(FileTable):
    """Torque that the implement pumps take from the engine."""

    speed: SpeedColumn
    standby: TorqueColumn | None = None
    partial: TorqueColumn | None = None
    relief: TorqueColumn | None = None

    @model_validator(mode="after")
    def _rows_agree(self) -> HydraulicSharingTable:
        check_rows(
            "speed", self.speed, standby=self.standby, partial=self.partial, relief=self.relief
        )
        return self


class OverrunTable(FileTable):
    """Engine braking to be looked at."""

    exhaust_brake: bool = Field(default=False, description="whether the exhaust brake is on")
    overspeed_limit: Speed | None = None


class PartLoadTable(FileTable):
    """Part-load settings to be looked at."""

    no_load_speed: SpeedColumn | None = Field(
        default=None, description="speed-governed engine: where it settles without load"
    )
    pedal: NumberColumn | None = Field(
        default=None, description="torque-governed engine: above 0, up to 1"
    )


class WheelsTable(FileTable):
    """One gear from turbine to wheels."""

    overall_ratio: Number = Field(description="turbine speed / wheel speed")
    rolling_radius: Length
    efficiency: Ratio


class PermissionTable(FileTable):
    """What may be assumed where the data end; refused without."""

    negative_speed_ratio: bool = False
    overrun: bool = False
    stator: bool = False


class ArrangementFile(ComponentFile):
    """An arrangement file."""

    stator: Literal["one-way", "fixed", "none"] | None = Field(
        default=None, description="kind of stator to look at; that of the converter without"
    )
    stall_capacity_factor: Number | None = Field(
        default=None, description='with stator = "none": capacity without / with stator at stall'
    )
    lock_up: LockUpTable | None = None
    impeller_clutch: ImpellerClutchTable | None = None
    torque_divider: TorqueDividerTable | None = None
    hydraulic_sharing: HydraulicSharingTable | None = None
    overrun: OverrunTable | None = None
    part_load: PartLoadTable | None = None
    wheels: WheelsTable | None = None
    permission: PermissionTable = PermissionTable()
