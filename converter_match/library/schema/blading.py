"""What may stand in a blading file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from converter_match.library.schema.common import (
    ComponentFile,
    Density,
    FileTable,
    Inertia,
    Length,
    Number,
    One,
)
from converter_match.library.schema.quantity import GivenQuantity

Angle = Annotated[GivenQuantity, One("angle")]
Area = Annotated[GivenQuantity, One("area")]


class BladeRowTable(FileTable):
    """One element of the flow circuit, on the mean streamline."""

    exit_radius: Length = Field(description="where the oil leaves it for the next element")
    entry_angle: Angle = Field(
        description="of the blade, from the plane through the axis, positive in rotation"
    )
    exit_angle: Angle = Field(description="of the blade, likewise")
    shock_factor: Number = Field(
        description="share of the energy of the sudden turn at the entry that is lost; 1 is all"
    )


class BladingInertiaTable(FileTable):
    """Moments of inertia, oil included."""

    impeller: Inertia | None = Field(default=None, description="with the shell that turns with it")
    turbine: Inertia | None = Field(default=None, description="with its shaft")


class BladingFile(ComponentFile):
    """A blading file."""

    mounting: Literal["one-way", "fixed", "free", "none"] = Field(
        description="how the stator is held; free is a one-way clutch that slips"
    )
    profile_diameter: Length = Field(description="largest diameter of the flow circuit")
    flow_area: Area = Field(description="cross-section of the circuit, taken as constant")
    oil_density: Density = Field(description="of the oil in the circuit")
    friction_factor: Number = Field(description="f in the friction loss f V^2 / 2")
    friction_form: Literal["each-element", "circuit"] = Field(
        default="each-element",
        description="along the blades of each element, V being the speed along them, or once "
        "round the circuit, V being the speed through it",
    )
    impeller: BladeRowTable = Field(description="the pump, driven by the engine")
    turbine: BladeRowTable = Field(description="drives the gearbox")
    stator: BladeRowTable | None = Field(
        default=None, description='between turbine and impeller; left out with mounting = "none"'
    )
    inertia: BladingInertiaTable = Field(
        default=BladingInertiaTable(),
        description="for courses in time; not needed for the characteristic",
    )
