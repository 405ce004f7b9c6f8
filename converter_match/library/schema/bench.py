"""What the match bench keeps in a study file, beside the study itself.

A study has one hydraulic torque for all combinations and no scaling of components: those are
written as files of their own. Here stands what was set at the bench, so that it opens again as it
was left.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from converter_match.library.schema.common import (
    FileTable,
    Length,
    Line,
    Number,
    Temperature,
    Torque,
)


class SettingTable(FileTable):
    """One combination as it was set at the bench."""

    engine: Line = Field(description="id of the engine that was chosen")
    converter: Line = Field(description="id of the converter that was chosen")
    altitude: Length | None = Field(default=None, description="of the site, as set")
    air_temperature: Temperature | None = Field(default=None, description="of the site, as set")
    hydraulic_torque: Torque | None = Field(default=None, description="taken at the flywheel")
    accessory_share: Number | None = Field(
        default=None, description="multiplies the power of every listed accessory"
    )
    diameter_share: Number | None = Field(
        default=None, description="profile diameter as a share of the one in the data"
    )


class BenchTable(FileTable):
    """How the bench stood when the study was saved, and who saved it."""

    saved_by: Line = Field(description="who saved the file")
    saved_at: Line = Field(description="when, in UTC")
    active: Literal["a", "b"] = Field(default="a", description="the combination being changed")
    units: Literal["si", "us"] = Field(default="si", description="shown at the bench")
    font_scale: Number | None = Field(default=None, description="size of the letters, 1 as drawn")
    a: SettingTable = Field(description="the first combination")
    b: SettingTable | None = Field(
        default=None, description="the second one, where two are compared"
    )
