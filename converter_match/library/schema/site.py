"""What may stand in a site file."""

from __future__ import annotations

from pydantic import Field

from converter_match.library.schema.common import (
    ComponentFile,
    Length,
    Pressure,
    Ratio,
    Temperature,
)


class SiteFile(ComponentFile):
    """A site file."""

    altitude: Length | None = Field(default=None, description="above sea level")
    air_pressure: Pressure | None = Field(
        default=None, description="absolute, at the site, not reduced to sea level"
    )
    air_temperature: Temperature | None = Field(
        default=None,
        description="at the intake; by ISO 2533 from the altitude if not given, listed as assumed",
    )
    relative_humidity: Ratio | None = Field(default=None, description="0 to 100 percent")
