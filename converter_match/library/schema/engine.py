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
from converter_match.library.schema.quantity import GivenColumn, GivenQuantity, form_of


class AirTable(FileTable):
    """The air that the rating holds for."""

    pressure: Pressure = Field(description="absolute")
    temperature: Temperature = Field(description="at the intake")
    vapour_pressure: Pressure | None = Field(
        default=None, description="of the water in it; the pressure is then that of moist air"
    )


class FullLoad(FileTable):
    """The full-load curve."""

    speed: SpeedColumn = Field(description="from low idle to rated speed or beyond, rising")
    torque: TorqueColumn | None = Field(
        default=None, description="at full throttle; goes first where power is given too"
    )
    power: PowerColumn | None = Field(
        default=None, description="at full throttle; torque = power / speed"
    )
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
    """What is known where there is no curve; beside a curve, what it is held against."""

    rated_power: Power | None = Field(
        default=None, description="at rated_speed; may be left out beside a curve only"
    )
    peak_torque: Torque | None = Field(
        default=None, description="highest of the curve; may be left out beside a curve only"
    )
    peak_torque_speed: Speed | None = Field(
        default=None,
        description="where the torque is highest; may be left out beside a curve only",
    )


# What an estimate of the curve takes, with its dimension.
_ALONE = {"rated_power": "power", "peak_torque": "torque", "peak_torque_speed": "angular_speed"}


class AccessoryTable(FileTable):
    """Something that the engine drives beside the converter."""

    name: Text = Field(description="such as cooling fan")
    power: Power | None = Field(default=None, description="taken at at_speed; this or torque")
    torque: Torque | None = Field(default=None, description="taken at at_speed; this or power")
    at_speed: Speed = Field(description="engine speed at which it is given")
    exponent: Number = Field(
        description="power is proportional to this power of speed; a fan has 3"
    )

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

    speed: SpeedColumn = Field(description="engine speed, rising")
    torque: TorqueColumn = Field(description="zero or more")

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

    speed: SpeedColumn | None = Field(default=None, description="of the rows of bsfc")
    bsfc: Annotated[GivenColumn, Many("specific_fuel")] | None = Field(
        default=None, description="specific consumption at full load"
    )
    idle_rate: Annotated[GivenQuantity, One("fuel_rate")] | None = Field(
        default=None, description="at low idle without load"
    )
    lower_heating_value: Annotated[GivenQuantity, One("specific_energy")] | None = Field(
        default=None, description="of the fuel"
    )
    density: Density | None = Field(
        default=None, description="of the fuel; typical of diesel fuel for litres if not given"
    )

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

    value: Inertia = Field(description="engine with flywheel")


class Derate(FileTable):
    """The maker's own table."""

    altitude: LengthColumn = Field(description="above sea level, rising")
    factor: NumberColumn = Field(description="share of the torque that remains")

    @model_validator(mode="after")
    def _rows_agree(self) -> Derate:
        check_rows("altitude", self.altitude, factor=self.factor)
        return self


class SiteCorrectionTable(FileTable):
    """How the torque follows the air."""

    method: (
        Literal["diesel-iso-1585", "iso-3046", "sae-j1349-spark", "derate-table", "none"] | None
    ) = Field(default=None, description="ISO 1585 diesel if not given, listed as assumed")
    engine_factor: Number | None = Field(default=None, description="f_m of ISO 1585")
    mechanical_efficiency: Number | None = Field(default=None, description="for ISO 3046-1")
    derate: Derate | None = Field(
        default=None, description="the maker's own table, with method derate-table"
    )


class EngineFile(ComponentFile):
    """An engine file."""

    rating_basis: Literal["gross", "net"] = Field(
        description="bare engine, or with its accessories as the standard says"
    )
    rating_standard: Text = Field(default="", description="such as ISO 14396")
    aspiration: (
        Literal["naturally-aspirated", "turbocharged", "turbocharged-aftercooled"] | None
    ) = Field(default=None, description="needed by the correction for a site")
    reference_air: AirTable | None = Field(
        default=None, description="99 kPa dry and 25 degC if not given, listed as assumed"
    )
    displacement: Annotated[GivenQuantity, One("volume")] | None = Field(
        default=None, description="swept volume, all cylinders"
    )
    low_idle: Speed = Field(description="lowest governed speed")
    rated_speed: Speed = Field(description="where the governor droop line begins")
    high_idle: Speed = Field(description="governed speed at full throttle without load")
    governing: Literal["speed", "torque"] = Field(
        description="all-speed governor, or torque (fuel) control between idle and rated speed"
    )
    full_load: FullLoad | None = Field(default=None, description="the curve; this, or rating alone")
    rating: RatingLine | None = Field(
        default=None,
        description="peak torque and rated power: alone, an estimate of the curve; beside the "
        "curve, what the sheet says of it in words, held against it and not used",
    )
    accessory: list[AccessoryTable] = Field(
        default=[], description="what the engine drives beside the converter"
    )
    motoring: Motoring | None = Field(
        default=None, description="drag without fuel: engine braking, part pedal, fuel at part load"
    )
    fuel: FuelTable | None = Field(default=None, description="for route and short cycle")
    inertia: EngineInertia | None = Field(
        default=None, description="for acceleration; zero if not given, listed as assumed"
    )
    limits: FreeTable = Field(
        default=(),
        description="speed, torque and power at the flywheel are checked; others are kept",
    )
    site_correction: SiteCorrectionTable | None = Field(
        default=None, description="how the torque follows the air of a site"
    )
    interface: FreeTable = Field(default=(), description="interfaces (bolt-on data), as given")

    @model_validator(mode="after")
    def _curve_or_rating(self) -> EngineFile:
        if self.full_load is None and self.rating is None:
            raise InputError(
                "missing",
                field="full_load",
                expected="a table [full_load] with speed and torque or power, or else [rating]",
            )
        if self.full_load is None:
            for key, dimension in _ALONE.items():
                if getattr(self.rating, key) is None:
                    form = form_of("value", dimension)
                    raise InputError("missing", field=f"rating.{key}", expected=form)
        return self


def _above_zero(name: str, column: GivenColumn) -> None:
    if column.values[0] <= 0:
        raise InputError(
            "not above zero",
            field=f"{name}{column.place}[0]",
            found=column.given(0),
            expected="speeds above zero",
        )
