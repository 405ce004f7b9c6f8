"""What may stand in a file of surfaces."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from converter_match.library.schema.common import ComponentFile, FileTable, Line, One, Text
from converter_match.library.schema.quantity import GivenQuantity

WeightShare = Annotated[GivenQuantity, One("weight_share")]


class SurfaceTable(FileTable):
    """One surface."""

    name: Line = Field(description="by which --surface and a study find it")
    rolling_resistance: WeightShare = Field(description="force / weight, or lb/short ton, kgf/t")
    traction: WeightShare | None = Field(default=None, description="highest pull / driven weight")
    source: Text | None = Field(default=None, description="where the file as a whole has another")
    vehicle: Line | None = Field(default=None, description="what the numbers hold for")


class SurfacesFile(ComponentFile):
    """A file of surfaces."""

    surface: list[SurfaceTable] = Field(description="kinds of ground")
