"""What is odd about a site's data."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.components.site import Site
from converter_match.constants import (
    GAS_CONSTANT,
    GRAVITY,
    LAPSE_RATE,
    SEA_LEVEL_PRESSURE,
    SEA_LEVEL_TEMPERATURE,
)
from converter_match.library.odd.words import SITE
from converter_match.library.schema.second_figures import second_notes
from converter_match.library.schema.spans import asked_of
from converter_match.notes import Note
from converter_match.units import to_si

# Weather moves the pressure by about this share at most (common practice, no source).
WEATHER = 0.05
AIR_TEMPERATURE = (-45.0, 55.0)  # degC


def oddities(site: Site) -> Iterator[Note]:
    """Yield what is odd about a site.

    Parameters
    ----------
    site : Site

    Yields
    ------
    Note
    """
    if site.altitude is not None and site.air_pressure is not None:
        usual = _standard_pressure(site.altitude)
        if abs(site.air_pressure / usual - 1) > WEATHER:
            yield SITE.note(
                "pressure-and-altitude-disagree",
                pressure=site.air_pressure,
                altitude=site.altitude,
                usual=usual,
            )
    low, high = (to_si(value, "degC", "temperature") for value in AIR_TEMPERATURE)
    if site.air_temperature is not None and not low <= site.air_temperature <= high:
        yield SITE.note("air-temperature-unusual", air=site.air_temperature)
    values = {key: getattr(site, key) for key in ("altitude", "air_pressure", "relative_humidity")}
    yield from asked_of("site", values)
    for figure in site.second_figures:
        yield from second_notes(figure)


def _standard_pressure(altitude: float) -> float:
    """Pressure of the standard atmosphere below 11 km, ISO 2533: p0 (1 - L h / T0)^(g / (R L))."""
    exponent = GRAVITY / (GAS_CONSTANT * LAPSE_RATE)
    ratio = 1.0 - LAPSE_RATE * altitude / SEA_LEVEL_TEMPERATURE
    return float(SEA_LEVEL_PRESSURE * ratio**exponent)
