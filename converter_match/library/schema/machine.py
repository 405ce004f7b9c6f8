"""What may stand in a machine file."""

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
    Length,
    Line,
    Many,
    Number,
    NumberColumn,
    One,
    Power,
    PowerColumn,
    Ratio,
    Temperature,
    Volume,
    check_rows,
)
from converter_match.library.schema.quantity import GivenColumn, GivenQuantity

Mass = Annotated[GivenQuantity, One("mass")]
SpecificHeat = Annotated[GivenQuantity, One("specific_heat")]
Conductance = Annotated[GivenQuantity, One("conductance")]


class TyreTable(FileTable):
    """The tyre of the driven wheels."""

    size: Line | None = Field(default=None, description="such as 23.5R25, 12.00-20, 650/65R25")
    rolling_radius: Length | None = Field(
        default=None, description="distance rolled in a turn / 2 pi, loaded"
    )
    loaded_radius: Length | None = Field(
        default=None, description="axle to ground, standing; where no rolling radius is known"
    )

    @model_validator(mode="after")
    def _something(self) -> TyreTable:
        if self.size is None and self.rolling_radius is None and self.loaded_radius is None:
            raise InputError(
                "missing", field="rolling_radius", expected="a radius, or the tyre's size"
            )
        if self.rolling_radius is not None and self.loaded_radius is not None:
            raise InputError(
                "two radii",
                field="loaded_radius",
                found=self.loaded_radius.given(),
                expected="the rolling radius alone, where it is known",
            )
        return self


class TracksTable(FileTable):
    """Crawler tracks."""

    sprocket_radius: Length = Field(description="track laid in a turn of the sprocket / 2 pi")


class SlipTable(FileTable):
    """Slip between wheel and ground: one value, or a table over the use of the traction."""

    value: Number | None = Field(default=None, description="share of the wheel's speed")
    use: NumberColumn | None = Field(default=None, description="effort / adhesion limit, 0 to 1")
    slip: NumberColumn | None = Field(
        default=None, description="share of the wheel's speed, one value per row of use"
    )

    @model_validator(mode="after")
    def _value_or_table(self) -> SlipTable:
        if self.use is None and self.slip is None:
            if self.value is None:
                raise InputError("missing", field="value", expected="value, or use and slip")
            return self
        if self.value is not None:
            raise InputError("a value and a table at once", field="value", expected="one of them")
        for key in ("use", "slip"):
            if getattr(self, key) is None:
                raise InputError("missing", field=key, expected="columns of use and of slip")
        assert self.use is not None  # just looked at
        check_rows("use", self.use, slip=self.slip)
        return self


class BalanceTable(FileTable):
    """Weight on the driven wheels."""

    driven_axle: Literal["front", "rear", "all"] = Field(description="which wheels are driven")
    driven_share_empty: Ratio | None = Field(
        default=None, description="weight on the driven axle, on the level"
    )
    driven_share_laden: Ratio | None = Field(
        default=None, description="likewise laden; that of the empty machine if not given"
    )
    wheelbase: Length | None = Field(
        default=None, description="with the heights: how weight moves on a grade"
    )
    gravity_height_empty: Length | None = Field(
        default=None, description="of the centre of gravity above ground"
    )
    gravity_height_laden: Length | None = Field(
        default=None, description="likewise laden; that of the empty machine if not given"
    )

    @model_validator(mode="after")
    def _share_where_needed(self) -> BalanceTable:
        if self.driven_axle != "all" and self.driven_share_empty is None:
            raise InputError(
                "missing",
                field="driven_share_empty",
                expected='{ unit = "percent", value = ... }, weight on the driven axle',
            )
        return self


class CoolerTable(FileTable):
    """The transmission-oil cooler: a curve, a rating, or a conductance."""

    difference: Annotated[GivenColumn, Many("temperature_difference")] | None = Field(
        default=None, description="oil in less air in, from 0"
    )
    heat: PowerColumn | None = Field(
        default=None, description="heat rejected, one value per row of difference"
    )
    rated_heat: Power | None = Field(
        default=None, description="at the two temperatures of the rating"
    )
    oil_temperature: Temperature | None = Field(default=None, description="of the rating")
    air_temperature: Temperature | None = Field(default=None, description="of the rating")
    conductance: Conductance | None = Field(default=None, description="heat / (oil in less air in)")
    air_density: Density | None = Field(
        default=None,
        description="of the air in which these data hold; the standard atmosphere's at sea level "
        "without it, and said so",
    )

    @model_validator(mode="after")
    def _one_form(self) -> CoolerTable:
        forms = (
            ("difference", "heat"),
            ("rated_heat", "oil_temperature", "air_temperature"),
            ("conductance",),
        )
        begun = [form for form in forms if any(getattr(self, key) is not None for key in form)]
        if len(begun) != 1:
            raise InputError(
                "several forms at once" if begun else "says nothing",
                expected="difference and heat, or rated_heat with oil_temperature and "
                "air_temperature, or conductance",
            )
        for key in begun[0]:
            if getattr(self, key) is None:
                raise InputError("missing", field=key, expected=" and ".join(begun[0]))
        if self.difference is not None:
            check_rows("difference", self.difference, heat=self.heat)
        return self


class OilTable(FileTable):
    """Transmission oil and the metal that warms with it."""

    volume: Volume | None = Field(
        default=None, description="in circulation; no oil temperature if not given"
    )
    density: Density | None = Field(
        default=None, description="typical of mineral oil if not given, listed as assumed"
    )
    specific_heat: SpecificHeat | None = Field(default=None, description="likewise")
    metal_mass: Mass | None = Field(default=None, description="that warms with the oil")
    metal_specific_heat: SpecificHeat | None = Field(
        default=None, description="that of steel if not given"
    )
    metal_conductance: Conductance | None = Field(
        default=None, description="between oil and metal; both at one temperature if not given"
    )
    temperature_limit: Temperature | None = Field(default=None, description="highest in use")
    working_temperature: Temperature | None = Field(
        default=None, description="at the start of a hold or a route"
    )
    charge_flow: Annotated[GivenQuantity, One("volume_flow")] | None = Field(
        default=None,
        description="through the converter at working speed; the temperature at its outlet is not "
        "known if not given, and a hold assumes a span, and says so",
    )
    outlet_temperature_limit: Temperature | None = Field(
        default=None,
        description="highest at the converter's outlet, for a short time; 149 degC if not given, "
        "listed as assumed",
    )


class MachineFile(ComponentFile):
    """A machine file."""

    mass_empty: Mass = Field(description="ready for work, operator included")
    payload: Mass | None = Field(
        default=None, description="laden is mass_empty with it; zero if not given"
    )
    tyre: TyreTable | None = Field(default=None, description="this or tracks")
    tracks: TracksTable | None = Field(default=None, description="this or tyre")
    slip: SlipTable | None = Field(
        default=None, description="no slip if not given, listed as assumed"
    )
    balance: BalanceTable | None = Field(
        default=None, description="all wheels driven if not given, listed as assumed"
    )
    frontal_area: Annotated[GivenQuantity, One("area")] | None = Field(
        default=None,
        description="with drag_coefficient; no air drag if not given, listed as assumed",
    )
    drag_coefficient: Number | None = Field(default=None, description="with frontal_area")
    wheel_inertia: Inertia | None = Field(default=None, description="all wheels together")
    running_drag: Annotated[GivenQuantity, One("force")] | None = Field(
        default=None, description="axles, hubs, brakes, seals: beside the ground's resistance"
    )
    cooler: CoolerTable | None = Field(default=None, description="of the transmission oil")
    oil: OilTable = Field(default=OilTable(), description="of the transmission")
    interface: FreeTable = Field(default=(), description="interfaces (bolt-on data), as given")

    @model_validator(mode="after")
    def _wheels_or_tracks(self) -> MachineFile:
        if self.tyre is None and self.tracks is None:
            raise InputError("missing", field="tyre", expected="a table [tyre] or [tracks]")
        if self.tyre is not None and self.tracks is not None:
            raise InputError("wheels already", field="tracks", expected="[tyre] or [tracks]")
        return self
