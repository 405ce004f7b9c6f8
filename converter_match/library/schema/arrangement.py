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
from converter_match.library.schema.quantity import GivenQuantity, read_quantity


class LockUpTable(FileTable):
    """A clutch that ties the turbine to the impeller."""

    engage_by: Literal["speed-ratio", "turbine-speed", "gear"] = Field(
        description="what the control watches"
    )
    engage: object = Field(
        description="speed ratio { value = ... }, turbine speed with its unit, or number of a gear"
    )
    release: object = Field(description="likewise; at most the engagement value")
    torque_capacity: Torque | None = Field(
        default=None, description="torque capacity of the clutch; not judged if not given"
    )
    engagement_time: Annotated[GivenQuantity, One("time")] | None = Field(
        default=None, description="time to engage; no heat of engagement if not given"
    )

    @model_validator(mode="after")
    def _read_thresholds(self) -> LockUpTable:
        for name in ("engage", "release"):
            self.threshold(name)
        return self

    def threshold(self, name: str) -> GivenQuantity:
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
        default=None, description="engine speed that is held; full throttle if not given"
    )
    settings: NumberColumn | None = Field(default=None, description="shares of the capacity")
    turbine_torque_limit: Torque | None = Field(
        default=None, description="turbine torque at which the wheels would spin"
    )
    tractive_effort_limit: Annotated[GivenQuantity, One("force")] | None = Field(
        default=None, description="the same as tractive effort; needs [wheels]"
    )


class TorqueDividerTable(FileTable):
    """A planetary that joins a mechanical path to the hydraulic one."""

    sun_teeth: int | None = Field(
        default=None, description="together with ring_teeth, in place of ratio"
    )
    ring_teeth: int | None = Field(
        default=None, description="together with sun_teeth, in place of ratio"
    )
    ratio: Number | None = Field(default=None, description="ring / sun, above 1")
    connection: Line | None = Field(default=None, description="which shaft turns which member")


class HydraulicSharingTable(FileTable):
    """Torque that the implement pumps take from the engine."""

    speed: SpeedColumn = Field(description="engine speed, from low idle to high idle")
    standby: TorqueColumn | None = Field(
        default=None, description="taken with the implement at rest"
    )
    partial: TorqueColumn | None = Field(
        default=None, description="taken with the implement at work"
    )
    relief: TorqueColumn | None = Field(
        default=None, description="taken with the implement stalled, pumps at the relief valve"
    )

    @model_validator(mode="after")
    def _rows_agree(self) -> HydraulicSharingTable:
        check_rows(
            "speed", self.speed, standby=self.standby, partial=self.partial, relief=self.relief
        )
        return self


class OverrunTable(FileTable):
    """Engine braking to be examined."""

    exhaust_brake: bool = Field(default=False, description="whether the exhaust brake is on")
    overspeed_limit: Speed | None = Field(
        default=None,
        description="highest engine speed of interest; that of the last motoring row if not given",
    )


class PartLoadTable(FileTable):
    """Part-load settings to be examined."""

    no_load_speed: SpeedColumn | None = Field(
        default=None, description="speed-governed engine: where it settles without load"
    )
    pedal: NumberColumn | None = Field(
        default=None, description="torque-governed engine: above 0, up to 1"
    )


class WheelsTable(FileTable):
    """One gear from turbine to wheels."""

    overall_ratio: Number = Field(description="turbine speed / wheel speed")
    rolling_radius: Length = Field(description="distance rolled in a turn / 2 pi, loaded")
    efficiency: Ratio = Field(description="turbine to wheels, above 0 and at most 1")


class ParallelTable(FileTable):
    """Two engines, two converters, or two pairs of both, on one shaft."""

    couples: Literal["pairs", "engines", "converters"] = Field(
        description="what is there twice: pairs of engine and converter on one output shaft, "
        "engines on one impeller, converters between one engine and one output shaft"
    )
    engine: Line | None = Field(
        default=None,
        description="file of the second engine, from this file's folder on, or id of a shipped "
        "one; like the first if not given",
    )
    converter: Line | None = Field(
        default=None, description="file or id of the second converter, likewise"
    )
    ratio: NumberColumn | None = Field(
        default=None,
        description="two numbers: speed of each turbine / shaft, of engines that of each engine / "
        "impeller; 1 if not given",
    )
    efficiency: NumberColumn | None = Field(
        default=None, description="two numbers: of each such gear; 1 if not given"
    )


class PermissionTable(FileTable):
    """What may be assumed where the data end; refused without."""

    negative_speed_ratio: bool = Field(
        default=False, description="hold torque ratio and capacity where the turbine runs backwards"
    )
    overrun: bool = Field(
        default=False,
        description="take the capacity beyond speed ratio 1 from published tables of other "
        "converters, with their spread as a band",
    )
    stator: bool = Field(
        default=False, description="derive another kind of stator from the one given"
    )


class ArrangementFile(ComponentFile):
    """An arrangement file."""

    stator: Literal["one-way", "fixed", "none"] | None = Field(
        default=None,
        description="kind of stator to be examined; that of the converter if not given",
    )
    stall_capacity_factor: Number | None = Field(
        default=None, description='with stator = "none": capacity without / with stator at stall'
    )
    lock_up: LockUpTable | None = Field(
        default=None, description="clutch that ties turbine to impeller"
    )
    impeller_clutch: ImpellerClutchTable | None = Field(
        default=None, description="modulated clutch between engine and impeller"
    )
    torque_divider: TorqueDividerTable | None = Field(
        default=None, description="planetary beside the converter"
    )
    hydraulic_sharing: HydraulicSharingTable | None = Field(
        default=None, description="torque of the implement pumps, by what they do"
    )
    overrun: OverrunTable | None = Field(default=None, description="engine braking to be examined")
    part_load: PartLoadTable | None = Field(
        default=None, description="governor settings or pedal positions to be examined"
    )
    parallel: ParallelTable | None = Field(
        default=None, description="a second engine, converter or pair on the same shaft"
    )
    wheels: WheelsTable | None = Field(
        default=None, description="one gear, for answers at the wheels"
    )
    permission: PermissionTable = Field(
        default=PermissionTable(), description="what may be assumed where data are missing"
    )
