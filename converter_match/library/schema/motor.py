"""What may stand in a motor file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from converter_match.errors import InputError
from converter_match.library.schema.common import (
    ComponentFile,
    FileTable,
    FreeTable,
    Inertia,
    Number,
    One,
    PlainList,
    Power,
    Speed,
    SpeedColumn,
    Temperature,
    Torque,
    TorqueColumn,
    check_rows,
)
from converter_match.library.schema.engine import AccessoryTable
from converter_match.library.schema.quantity import GivenQuantity

Voltage = Annotated[GivenQuantity, One("voltage")]
Time = Annotated[GivenQuantity, One("time")]
Rise = Annotated[GivenQuantity, One("temperature_difference")]


class MotorTorqueTable(FileTable):
    """Torque at the shaft over speed, at the nominal voltage."""

    speed: SpeedColumn = Field(description="from 0, rising; to the speed limit or beyond")
    peak: TorqueColumn = Field(description="held for duty.peak_time only")
    continuous: TorqueColumn = Field(description="held for good (duty type S1 of IEC 60034-1)")
    regenerative: TorqueColumn | None = Field(
        default=None, description="greatest braking torque, zero or below; none if not given"
    )

    @model_validator(mode="after")
    def _rows_agree(self) -> MotorTorqueTable:
        check_rows(
            "speed",
            self.speed,
            peak=self.peak,
            continuous=self.continuous,
            regenerative=self.regenerative,
        )
        return self


class PeakDutyTable(FileTable):
    """For how long the torques are held."""

    peak_time: Time = Field(description="how long the peak torque is held")
    peak_from: Literal["cold", "warm"] = Field(
        default="cold",
        description="from the coolant's temperature (duty type S2), or from that of the "
        "continuous torque",
    )


class VoltageTable(FileTable):
    """Voltage of the supply at the controller."""

    nominal: Voltage = Field(description="at which the torques hold")
    least: Voltage | None = Field(default=None, description="lowest; the nominal if not given")
    most: Voltage | None = Field(default=None, description="highest; the nominal if not given")


class CopperTable(FileTable):
    """Loss that goes with the square of the torque."""

    power: Power = Field(description="lost at at_torque")
    at_torque: Torque = Field(description="for which it is given")


class TurningTable(FileTable):
    """Loss that goes with a power of the speed: iron, bearings, air."""

    power: Power = Field(description="lost at at_speed")
    at_speed: Speed = Field(description="for which it is given")
    exponent: Number | None = Field(default=None, description="of the speed; 1.5 if not given")


class LossTable(FileTable):
    """Losses by a formula."""

    standing: Power | None = Field(default=None, description="at standstill already; 0 if absent")
    copper: CopperTable = Field(description="goes with the square of the torque")
    turning: TurningTable | None = Field(default=None, description="goes with a power of the speed")


class EfficiencyTable(FileTable):
    """Efficiency as a motor on a full grid."""

    speed: SpeedColumn = Field(description="above zero, rising")
    torque: TorqueColumn = Field(description="above zero, rising")
    efficiency: list[PlainList] = Field(
        description="one row a speed, one share (above 0, below 1) a torque"
    )

    @model_validator(mode="after")
    def _full_grid(self) -> EfficiencyTable:
        if len(self.efficiency) != len(self.speed):
            raise InputError(
                "the map is not a full grid",
                field="efficiency",
                found=f"{len(self.efficiency)} rows for {len(self.speed)} speeds",
                expected="one row a speed",
            )
        for number, row in enumerate(self.efficiency):
            if len(row) != len(self.torque):
                raise InputError(
                    "the map is not a full grid",
                    field=f"efficiency[{number}]",
                    found=f"{len(row)} values for {len(self.torque)} torques",
                    expected="one value a torque",
                )
        return self


class ThermalTable(FileTable):
    """How hot the winding may get, and how fast it does."""

    thermal_class: Literal["105", "120", "130", "155", "180"] | None = Field(
        default=None, description="of the winding, by its temperature in degC (A, E, B, F, H)"
    )
    rise_at_continuous: Rise | None = Field(
        default=None, description="steady, above the coolant; the whole of the class if not given"
    )
    coolant: Temperature | None = Field(
        default=None, description="for which the continuous torque holds; 40 degC if not given"
    )
    time_constant: Time | None = Field(
        default=None, description="of the winding; from duty.peak_time if not given"
    )


class RotorInertia(FileTable):
    """Moment of inertia of the rotor."""

    value: Inertia = Field(description="rotor with what is fixed to it")


class MotorFile(ComponentFile):
    """A motor file."""

    speed_limit: Speed = Field(description="where the controller takes the torque away")
    torque: MotorTorqueTable = Field(description="peak and continuous, from standstill")
    duty: PeakDutyTable = Field(description="how long the peak is held")
    voltage: VoltageTable | None = Field(default=None, description="of the supply")
    losses: LossTable | None = Field(default=None, description="for energy; or efficiency_map")
    efficiency_map: EfficiencyTable | None = Field(
        default=None, description="for energy; or losses"
    )
    losses_cover: Literal["motor", "motor and controller"] = Field(
        default="motor", description="what losses or efficiency_map are of"
    )
    thermal: ThermalTable | None = Field(default=None, description="the winding")
    inertia: RotorInertia | None = Field(
        default=None, description="for acceleration; zero if not given, listed as assumed"
    )
    accessory: list[AccessoryTable] = Field(
        default=[], description="what the shaft drives beside the converter"
    )
    interface: FreeTable = Field(default=(), description="interfaces (bolt-on data), as given")

    @model_validator(mode="after")
    def _one_of_the_losses(self) -> MotorFile:
        if self.losses is not None and self.efficiency_map is not None:
            raise InputError(
                "there is a table [losses] already",
                field="efficiency_map",
                expected="[losses] or [efficiency_map], not both",
            )
        return self
