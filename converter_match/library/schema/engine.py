"""What may stand in an engine file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from converter_match.errors import InputError
from converter_match.library.schema.common import (
    ComponentFile,
    Density,
    FileTable,
    FreeTable,
    Inertia,
    LengthColumn,
    Many,
    Number,
    NumberColumn,
    One,
    Power,
    PowerColumn,
    Pressure,
    Ratio,
    Speed,
    SpeedColumn,
    Temperature,
    Text,
    Torque,
    TorqueColumn,
    check_rows,
)
from converter_match.library.schema.quantity import Column, Quantity


class AirTable(FileTable):
    """The air that the rating holds for."""

    pressure: Pressure
    temperature: Temperature
    vapour_pressure: Pressure | None = Field(
        default=None, description="of the water in it; the pressure is then that of moist air"
    )


class FullLoad(FileTable):
    """The full-load curve."""

    speed: SpeedColumn
    torque: TorqueColumn | None = None
    power: PowerColumn | None = None
    torque_band: Ratio | None = Field(
        default=None, description="half width of the curve's uncertainty, share of the torque"
    )

    @model_validator(mode="after")
    def _rows_agree(self) -> FullLoad:
        if self.torque is None and self.power is None:
            raise InputError(
                "missing",
                field="torque",
                expected='{ unit = "N.m", values = [...] }, or power likewise',
            )
        check_rows("speed", self.speed, torque=self.torque, power=self.power)
        _above_zero("speed", self.speed)
        return self


class RatingLine(FileTable):
    """What is known where there is no curve."""

    rated_power: Power
    peak_torque: Torque
    peak_torque_speed: Speed


class AccessoryTable(FileTable):
    """Something that the engine drives beside the converter."""

    name: Text
    power: Power | None = None
    torque: Torque | None = None
    at_speed: Speed
    exponent: Number = Field(description="power goes with speed to this power; a fan has 3")

    @model_validator(mode="after")
    def _power_or_torque(self) -> AccessoryTable:
        if (self.power is None) == (self.torque is None):
            both = self.power is not None
            raise InputError(
                "give power or torque, not both" if both else "missing",
                field="torque" if both else "power",
                expected="the power or the torque taken at at_speed",
            )
        return self


class Drag(FileTable):
    """Torque that it takes to turn the engine, as positive numbers."""

    speed: SpeedColumn
    torque: TorqueColumn

    @model_validator(mode="after")
    def _rows_agree(self) -> Drag:
        check_rows("speed", self.speed, torque=self.torque)
        for row, value in enumerate(self.torque.values):
            if value < 0:
                raise InputError(
                    "below zero",
                    field=f"torque{self.torque.place}[{row}]",
                    found=self.torque.given(row),
                    expected="drag torque as a positive number",
                )
        return self


class Motoring(Drag):
    """Drag of the engine without fuel."""

    exhaust_brake: Drag | None = Field(
        default=None, description="the total with the brake on, motoring included"
    )


class FuelTable(FileTable):
    """Fuel consumption."""

    speed: SpeedColumn | None = None
    bsfc: Annotated[Column, Many("specific_fuel")] | None = Field(
        default=None, description="specific consumption at full load"
    )
    idle_rate: Annotated[Quantity, One("fuel_rate")] | None = None
    lower_heating_value: Annotated[Quantity, One("specific_energy")] | None = None
    density: Density | None = None

    @model_validator(mode="after")
    def _rows_agree(self) -> FuelTable:
        if (self.speed is None) != (self.bsfc is None):
            absent = "speed" if self.speed is None else "bsfc"
            raise InputError(
                "missing", field=absent, expected="speed and bsfc together, or neither"
            )
        if self.speed is not None:
            check_rows("speed", self.speed, bsfc=self.bsfc)
        return self


class EngineInertia(FileTable):
    """Moment of inertia of engine and flywheel."""

    value: Inertia


class Derate(FileTable):
    """The maker's own table."""

    altitude: LengthColumn
    factor: NumberColumn = Field(description="share of the torque that remains")

    @model_validator(mode="after")
    def _rows_agree(self) -> Derate:
        check_rows("altitude", self.altitude, factor=self.factor)
        return self


class SiteCorrectionTable(FileTable):
    """How the torque follows the air."""

    method: (
        Literal["diesel-iso-1585", "iso-3046", "sae-j1349-spark", "derate-table", "none"] | None
    ) = None
    engine_factor: Number | None = Field(default=None, description="f_m of ISO 1585")
    mechanical_efficiency: Number | None = Field(default=None, description="for ISO 3046-1")
    derate: Derate | None = None


class EngineFile(ComponentFile):
    """An engine file."""

    rating_basis: Literal["gross", "net"] = Field(
        description="bare engine, or with its accessories as the standard says"
    )
    rating_standard: Text = Field(default="", description="such as ISO 14396")
    aspiration: (
        Literal["naturally-aspirated", "turbocharged", "turbocharged-aftercooled"] | None
    ) = None
    reference_air: AirTable | None = None
    displacement: Annotated[Quantity, One("volume")] | None = None
    low_idle: Speed
    rated_speed: Speed
    high_idle: Speed
    governing: Literal["speed", "torque"] = Field(
        description="all-speed governor, or torque (fuel) control between idle and rated speed"
    )
    full_load: FullLoad | None = None
    rating: RatingLine | None = None
    accessory: list[AccessoryTable] = Field(default=[], description="repeated: [[accessory]]")
    motoring: Motoring | None = None
    fuel: FuelTable | None = None
    inertia: EngineInertia | None = None
    limits: FreeTable = Field(default=(), description="limits that the maker states, as given")
    site_correction: SiteCorrectionTable | None = None
    interface: FreeTable = Field(default=(), description="what bolts on, as given")

    @model_validator(mode="after")
    def _curve_or_rating(self) -> EngineFile:
        if self.full_load is None and self.rating is None:
            raise InputError(
                "missing",
                field="full_load",
                expected="a table [full_load] with speed and torque or power, or else [rating]",
            )
        if self.full_load is not None and self.rating is not None:
            raise InputError(
                "there is a full-load curve already",
                field="rating",
                expected="[full_load] or [rating], not both",
            )
        return self


def _above_zero(name: str, column: Column) -> None:
    if column.values[0] <= 0:
        raise InputError(
            "not above zero",
            field=f"{name}{column.place}[0]",
            found=column.given(0),
            expected="speeds above zero",
        )
