"""What may stand in a catalogue file."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from converter_match.library.schema.common import FileTable, Line, Many, Text
from converter_match.library.schema.quantity import GivenColumn
from converter_match.library.schema.study import Names, WeightShare

_FILES = "files, patterns like my-engines/*.toml, ids of shipped ones or patterns of ids"


class CatalogueFile(FileTable):
    """A catalogue file."""

    id: Line = Field(description="short name")
    name: Line = Field(description="display name")
    source: Text = Field(description="where the catalogue comes from")
    study: Line = Field(
        description="study file: present machine, sites, duty, limits, criteria and tolerances; "
        "its candidates, readings and claims are left aside"
    )
    engines: Names | None = Field(
        default=None, description=f"{_FILES}; the present machine's if not given"
    )
    converters: Names | None = Field(
        default=None, description=f"{_FILES}; the present machine's if not given"
    )
    drivelines: Names | None = Field(
        default=None, description="the same of gear sets; the present machine's if not given"
    )
    diameters: Annotated[GivenColumn, Many("length")] | None = Field(
        default=None, description="profile diameters that each converter is looked at in as well"
    )
    stretch: WeightShare | None = Field(
        default=None, description="how far a diameter may be off the one that the data are for; "
        "10 percent if not given",
    )  # fmt: skip
    sites: Names | None = Field(default=None, description="sites in place of those of the study")
    each_site: bool = Field(
        default=False, description="whether each site is a question of its own; else a "
        "combination has to do at all of them",
    )  # fmt: skip
