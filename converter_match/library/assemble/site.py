"""A site file becomes a `Site`."""

from __future__ import annotations

from converter_match.components.site import Air, Site
from converter_match.library.assemble.places import Places, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema.quantity import si_of
from converter_match.library.schema.site import SiteFile

# Stand in for what a site does not give while the rest is looked at; they go no further.
_ANY_PRESSURE, _ANY_TEMPERATURE = 100e3, 290.0


def assemble(toml: TomlFile) -> Site:
    """Return the site that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(SiteFile, toml)
    places: Places = {
        "altitude": ("altitude.value" if file.altitude else "altitude", file.altitude),
        "air_pressure": ("air_pressure.value", file.air_pressure),
        "air_temperature": ("air_temperature.value", file.air_temperature),
        "relative_humidity": ("relative_humidity.value", file.relative_humidity),
        "air pressure": ("air_pressure.value", file.air_pressure),
        "air temperature": ("air_temperature.value", file.air_temperature),
    }
    with said_in_file_words(places):
        # The air is refused here, while the file's name is known, and not first in a calculation.
        Air(
            pressure=file.air_pressure.si if file.air_pressure else _ANY_PRESSURE,
            temperature=file.air_temperature.si if file.air_temperature else _ANY_TEMPERATURE,
        )
        return Site(
            id=file.id,
            name=file.name,
            source=file.source,
            altitude=si_of(file.altitude),
            air_pressure=si_of(file.air_pressure),
            air_temperature=si_of(file.air_temperature),
            relative_humidity=si_of(file.relative_humidity),
        )
