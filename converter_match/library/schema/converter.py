"""What may stand in a converter file."""

from __future__ import annotations

from collections.abc import Collection
from typing import Annotated, Literal

from pydantic import Field, model_validator

from converter_match.components.capacity_forms import AT_SPEED, AT_TORQUE, DIMENSIONS, CapacityForm
from converter_match.errors import InputError
from converter_match.library.schema.common import (
    Also,
    ComponentFile,
    Density,
    FileTable,
    FreeTable,
    Inertia,
    Length,
    Line,
    Number,
    NumberColumn,
    OneOrMore,
    PlainList,
    Power,
    Ratio,
    Speed,
    Temperature,
    Torque,
    Volume,
    check_rows,
)
from converter_match.library.schema.quantity import SECOND, GivenColumn, GivenQuantity, read_column


class Capacity(FileTable):
    """The torque that the impeller absorbs, in one of the forms of the trade."""

    form: CapacityForm = Field(description="which of them; docs/glossary.md says what each is")
    unit: str = Field(default="", description="unit of the form; none for lambda")
    values: PlainList = Field(description="one number per row")
    also: Also = Field(
        default=None, description="the same column as the sheet prints it in another unit"
    )
    reference_speed: Speed | None = Field(
        default=None, description="impeller speed of the torque or power column"
    )
    reference_torque: Torque | None = Field(
        default=None, description="constant input torque of the speed column"
    )

    @model_validator(mode="after")
    def _belongs_together(self) -> Capacity:
        self.column()
        self._needs("reference_speed", "impeller speed", AT_SPEED, "rpm")
        self._needs("reference_torque", "input torque", AT_TORQUE, "N*m")
        return self

    def _needs(self, key: str, what: str, forms: Collection[str], unit: str) -> None:
        """Refuse a form without the reference it holds at, and a reference without its form."""
        given: GivenQuantity | None = getattr(self, key)
        if self.form in forms and given is None:
            raise InputError(
                f"the capacity form {self.form!r} needs the {what} it holds for",
                field=key,
                expected=f'{{ unit = "{unit}", value = ... }}',
            )
        if self.form not in forms and given is not None:
            raise InputError(
                f"the capacity form {self.form!r} has no {key.replace('_', ' ')}",
                field=key,
                found=given.given(),
                hint=f"is the form {' or '.join(sorted(forms))}?",
            )

    def column(self) -> GivenColumn:
        """Return the values in the unit of the form."""
        raw = {"unit": self.unit, "values": list(self.values.values)}
        if self.also is not None:
            raw[SECOND] = self.also
        return read_column(raw, DIMENSIONS[self.form])


class CharacteristicTable(FileTable):
    """The rows of the sheet."""

    speed_ratio: NumberColumn = Field(description="turbine speed / impeller speed")
    torque_ratio: NumberColumn | None = Field(
        default=None,
        description="turbine torque / impeller torque; efficiency / speed ratio where not given; 1 "
        "for a fluid coupling",
    )
    capacity: Annotated[list[Capacity], OneOrMore()] = Field(
        description="absorbed torque; where the sheet gives several forms, a list of them"
    )
    efficiency: NumberColumn | None = Field(
        default=None,
        description="beside the torque ratio: checked, not used; without it: what it is made of",
    )
    stall_torque_ratio: Number | None = Field(
        default=None,
        description="at speed ratio 0, about which an efficiency says nothing; only where that is "
        "all",
    )
    kinks: NumberColumn | None = Field(
        default=None, description="further speed ratios at which the slopes jump"
    )
    torque_ratio_band: NumberColumn | None = Field(
        default=None,
        description="reading error of the torque ratio as a share of it, one per row or one for "
        "all: 0.02 is within 2 %, up and down; what the ends come to is calculated as well",
    )
    capacity_band: NumberColumn | None = Field(
        default=None,
        description="reading error of the capacity (torque at a speed), likewise; that of K counts "
        "twice here",
    )

    @model_validator(mode="after")
    def _rows_agree(self) -> CharacteristicTable:
        if not self.capacity:
            raise InputError("missing", field="capacity", expected="a table with form and values")
        for key in ("torque_ratio_band", "capacity_band"):
            band = getattr(self, key)
            if band is not None and len(band) not in (1, len(self.speed_ratio)):
                raise InputError(
                    "one share a row is due here",
                    field=key,
                    found=f"{len(band)} numbers for {len(self.speed_ratio)} rows",
                    expected="as many numbers as rows, or a single one for all of them",
                )
        check_rows(
            "speed_ratio",
            self.speed_ratio,
            torque_ratio=self.torque_ratio,
            efficiency=self.efficiency,
        )
        if self.stall_torque_ratio is not None and (
            self.torque_ratio is not None or self.efficiency is None
        ):
            raise InputError(
                "goes with efficiency alone",
                field="stall_torque_ratio",
                found=self.stall_torque_ratio.given(),
                expected="no torque_ratio beside it, and an efficiency",
            )
        for number, table in enumerate(self.capacity):
            try:
                check_rows("speed_ratio", self.speed_ratio, capacity=table.column())
            except InputError as error:
                raise InputError(
                    error.problem, field=f"capacity[{number}].values", found=error.found
                ) from None
        return self

    def shares(self, key: str) -> tuple[float, ...]:
        """Return a band as one share a row: ``torque_ratio_band`` or ``capacity_band``."""
        band: GivenColumn | None = getattr(self, key)
        rows = len(self.speed_ratio)
        shares = (0.0,) if band is None else tuple(band.si.tolist())
        return shares * rows if len(shares) == 1 else shares


class FamilyMemberTable(FileTable):
    """An adjustable converter at another setting."""

    setting: Number = Field(description="of the parameter, in the unit of the family")
    coupling_speed_ratio: Ratio | None = Field(
        default=None, description="where the torque ratio falls to 1; found if not given"
    )
    characteristic: CharacteristicTable = Field(description="rows of the sheet at that setting")


class FamilyTable(FileTable):
    """That the converter is adjustable: a family of characteristics over a parameter."""

    parameter: Line = Field(description="what is set, such as stator angle or filling")
    unit: str = Field(default="", description="of the settings, as the sheet has it")
    nominal: Number = Field(description="setting at which [characteristic] holds")
    between: Literal["linear", "none"] = Field(
        default="linear",
        description="between two settings: interpolated along the way to the coupling point, or "
        "nothing (a second turbine that is coupled or not)",
    )
    member: Annotated[list[FamilyMemberTable], OneOrMore()] = Field(
        description="the converter at its other settings, one table each"
    )


class StallDatumTable(FileTable):
    """What is known of a converter whose stall alone is known; the rest is estimated, and said."""

    engine_speed: Speed = Field(description="of the impeller with the turbine held")
    input_torque: Torque = Field(description="absorbed there: the engine's net torque")
    torque_ratio: Number | None = Field(
        default=None, description="at stall; a usual span is taken, and said, where it is not given"
    )
    torque_ratio_range: NumberColumn | None = Field(
        default=None, description="instead of torque_ratio: its least and its most"
    )

    @model_validator(mode="after")
    def _one_torque_ratio(self) -> StallDatumTable:
        asked = self.torque_ratio_range
        if asked is None:
            return self
        if self.torque_ratio is not None:
            raise InputError(
                "does not go with torque_ratio", field="torque_ratio_range", expected="one of them"
            )
        if len(asked) != 2:
            raise InputError(
                "a range has two ends",
                field="torque_ratio_range" + asked.place,
                found=f"{len(asked)} numbers",
                expected="the least and the most",
            )
        return self

    def span(self) -> tuple[float, float] | None:
        """Return least and most of the torque ratio; None where it is not given."""
        if self.torque_ratio_range is not None:
            least, most = self.torque_ratio_range.si.tolist()
            return least, most
        if self.torque_ratio is None:
            return None
        return self.torque_ratio.si, self.torque_ratio.si


class ConverterLimitsTable(FileTable):
    """Limits that the maker states."""

    input_torque: Torque | None = Field(default=None, description="highest at the impeller")
    input_speed: Speed | None = Field(default=None, description="highest of the impeller")
    input_power: Power | None = Field(default=None, description="highest at the impeller")
    oil_temperature: Temperature | None = Field(
        default=None, description="highest of the transmission oil"
    )


class InertiaTable(FileTable):
    """Moments of inertia, oil included."""

    impeller: Inertia | None = Field(default=None, description="with the shell that turns with it")
    turbine: Inertia | None = Field(default=None, description="with its shaft")


class ConverterFile(ComponentFile):
    """A converter file."""

    stator: Literal["one-way", "fixed", "none"] = Field(
        description="stator on a one-way clutch, held fast, or none (fluid coupling)"
    )
    profile_diameter: Length | None = Field(
        default=None, description="largest diameter of the flow circuit"
    )
    oil_density: Density | None = Field(
        default=None, description="at which the capacity was measured"
    )
    oil_volume: Volume | None = Field(
        default=None,
        description="that stands in it at work; for the temperature at its outlet, assumed from "
        "the diameter where a hold needs it, and said so",
    )
    coupling_speed_ratio: Ratio | None = Field(
        default=None, description="where the torque ratio falls to 1; found if not given"
    )
    characteristic: CharacteristicTable | None = Field(
        default=None, description="rows of the sheet, by speed ratio"
    )
    family: FamilyTable | None = Field(
        default=None,
        description="of an adjustable converter: what it is at other settings of its parameter",
    )
    stall_datum: StallDatumTable | None = Field(
        default=None,
        description="instead of the characteristic, where the stall alone is known: an estimate",
    )
    limits: ConverterLimitsTable = Field(
        default=ConverterLimitsTable(), description="not judged where not given"
    )
    inertia: InertiaTable = Field(
        default=InertiaTable(), description="for acceleration; zero if not given, listed as assumed"
    )
    interface: FreeTable = Field(default=(), description="interfaces (bolt-on data), as given")

    @model_validator(mode="after")
    def _torque_ratio_known(self) -> ConverterFile:
        rows = self.characteristic
        given = rows is None or rows.torque_ratio is not None or rows.efficiency is not None
        if self.stator != "none" and not given:
            raise InputError(
                "missing",
                field="characteristic.torque_ratio",
                expected="turbine torque / impeller torque at every speed ratio",
                hint='a fluid coupling (stator = "none") and a sheet with efficiency go without',
            )
        return self

    @model_validator(mode="after")
    def _characteristic_or_stall(self) -> ConverterFile:
        if self.characteristic is None and self.stall_datum is None:
            raise InputError(
                "missing",
                field="characteristic",
                expected="the rows of the sheet",
                hint="where the stall alone is known, a table [stall_datum]",
            )
        if self.stall_datum is None:
            return self
        if self.family is not None:
            raise InputError(
                "goes with a characteristic only", field="family", expected="no stall_datum"
            )
        if self.characteristic is not None:
            raise InputError(
                "does not go with a characteristic", field="stall_datum", expected="one of them"
            )
        if self.stator != "one-way":
            raise InputError(
                "no shape is published of a converter with another stator",
                field="stator",
                found=self.stator,
                expected="one-way, or the characteristic",
            )
        return self
