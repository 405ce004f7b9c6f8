"""What may stand in a load file: what a converter drives that is not a vehicle."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from converter_match.errors import InputError
from converter_match.library.schema.common import (
    ComponentFile,
    FileTable,
    Inertia,
    Length,
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

KINDS = ("winch", "pump", "propeller", "conveyor", "table")
Force = Annotated[GivenQuantity, One("force")]


class WinchTable(FileTable):
    """A drum that takes in rope against a constant pull."""

    line_pull: Force = Field(description="in the rope, at the drum")
    drum_diameter: Length | None = Field(default=None, description="of the bare drum; needed")
    rope_diameter: Length | None = Field(default=None, description="of the rope; needed")
    layers: Number | None = Field(
        default=None, description="layers of rope to be looked at; the first alone if not given"
    )
    work: Literal["hoist", "haul"] = Field(
        description="hoist: the load hangs in the rope and pulls the drum back; haul: it only "
        "resists"
    )
    breakaway_pull: Force | None = Field(
        default=None, description="at which the rope begins to move; line_pull if not given"
    )
    lowering_efficiency: Ratio | None = Field(
        default=None,
        description="of gear and drum while a hanging load drives them; efficiency if not given, "
        "listed as assumed",
    )

    @model_validator(mode="after")
    def _has_a_drum(self) -> WinchTable:
        for key in ("drum_diameter", "rope_diameter"):
            if getattr(self, key) is None:
                layers = "layers of rope without a drum" if self.layers else "missing"
                raise InputError(
                    layers if key == "drum_diameter" else "missing",
                    field=key,
                    expected='{ unit = "mm", value = ... }, from which the radius of each layer '
                    "follows",
                )
        return self


class FlowMachineTable(FileTable):
    """A load whose torque goes with the square of its speed."""

    torque: Torque | None = Field(default=None, description="at speed; or power in its place")
    power: Power | None = Field(default=None, description="at speed, in place of torque")
    speed: Speed = Field(description="of its shaft, at which torque or power holds")
    breakaway_torque: Torque | None = Field(
        default=None, description="to start it from rest; none if not given, listed as assumed"
    )

    @model_validator(mode="after")
    def _torque_or_power(self) -> FlowMachineTable:
        if (self.torque is None) == (self.power is None):
            raise InputError(
                "missing" if self.torque is None else "does not go with torque",
                field="torque" if self.torque is None else "power",
                expected="torque or power at speed: one of the two",
            )
        return self


class ConveyorTable(FileTable):
    """A load of one torque at every speed."""

    torque: Torque = Field(description="while it runs, at the driven shaft")
    breakaway_torque: Torque | None = Field(
        default=None, description="to start it from rest; torque if not given, listed as assumed"
    )


class SpeedTorqueTable(FileTable):
    """A load known by its torque over the speed of its shaft."""

    speed: SpeedColumn = Field(description="of the driven shaft, the first 0")
    torque: TorqueColumn = Field(description="at the driven shaft")
    breakaway_torque: Torque | None = Field(
        default=None,
        description="to start it from rest; torque of the first row if not given, listed as "
        "assumed",
    )

    @model_validator(mode="after")
    def _rows_agree(self) -> SpeedTorqueTable:
        check_rows("speed", self.speed, torque=self.torque)
        return self


class LoadFile(ComponentFile):
    """A load file: one of winch, pump, propeller, conveyor, table."""

    ratio: Number | None = Field(
        default=None,
        description="turbine speed / speed of the driven shaft; 1 if not given, listed as assumed",
    )
    efficiency: Ratio | None = Field(
        default=None,
        description="from turbine to driven shaft, above 0 and at most 1; 1 if not given, listed "
        "as assumed",
    )
    inertia: Inertia | None = Field(
        default=None,
        description="of all that is driven, at the driven shaft, a mass in the rope included; "
        "without it the run-up is not timed",
    )
    winch: WinchTable | None = Field(default=None, description="a drum with rope")
    pump: FlowMachineTable | None = Field(
        default=None, description="a centrifugal pump or fan: torque with the square of speed"
    )
    propeller: FlowMachineTable | None = Field(
        default=None, description="a propeller or mixer: torque with the square of speed"
    )
    conveyor: ConveyorTable | None = Field(default=None, description="one torque at every speed")
    table: SpeedTorqueTable | None = Field(default=None, description="torque over speed")

    @model_validator(mode="after")
    def _one_load(self) -> LoadFile:
        given = [key for key in KINDS if getattr(self, key) is not None]
        if len(given) != 1:
            raise InputError(
                "several loads in one file" if given else "missing",
                field=given[1] if given else None,
                found=", ".join(given) or None,
                expected="one of the tables " + ", ".join(f"[{key}]" for key in KINDS),
            )
        return self
