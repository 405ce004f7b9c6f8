"""The air around a machine, and what is taken for it, with a note, where no site is given."""

from __future__ import annotations

from converter_match.components.machine import Cooler, Machine
from converter_match.components.site import ON_COMMAND_LINE
from converter_match.constants import SEA_LEVEL_DENSITY
from converter_match.judgement.conditions import words
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import SiteEffect
from converter_match.physics.heat.cooler_air import (
    EXPONENT,
    LEAST_EXPONENT,
    MOST_EXPONENT,
    air_share,
    in_air,
    reference_density,
)
from converter_match.physics.wheels.road_load import air_density

WARM_DAY = 298.15  # K, at the cooler (common practice, no source)


def site_note(site: SiteEffect) -> Note:
    """Return what stands behind 'site:': how the torque follows the air there.

    Where it does not, by the engine's data, the site is named: else it would look forgotten.
    """
    place, air = site.site, site.air
    if place is None or air is None or not site.air_is_ignored:
        return words.note("site-method", method=site.method)
    if place.id != ON_COMMAND_LINE:
        return words.note("site-named-air-ignored", name=place.name)
    temperature = air.temperature
    if place.altitude is None:
        return words.note(
            "site-pressure-air-ignored", pressure=air.pressure, temperature=temperature
        )
    return words.note("site-altitude-air-ignored", altitude=place.altitude, temperature=temperature)


def density_around(site: SiteEffect) -> float:
    """Return the density of the air that a machine drives through [kg/m^3]."""
    if site.air is None:
        return SEA_LEVEL_DENSITY
    return float(air_density(site.air.pressure, site.air.temperature))


def temperature_around(site: SiteEffect) -> float:
    """Return the temperature of the air at the cooler [K]."""
    return WARM_DAY if site.air is None else site.air.temperature


def cooler_around(site: SiteEffect, machine: Machine) -> Cooler | None:
    """Return a machine's cooler as it works in the air of a site; as its data say without one."""
    cooler = machine.cooler
    if cooler is None or site.air is None:
        return cooler
    return in_air(cooler, density_around(site))


def standard_air_share(site: SiteEffect) -> float:
    """Return what a cooler carries in the air of a site over what it does in standard air."""
    if site.air is None:
        return 1.0
    return float((density_around(site) / SEA_LEVEL_DENSITY) ** EXPONENT)


def air_drag_notes(site: SiteEffect, machine: Machine) -> list[Note]:
    """Return what is assumed of the air that a machine drives through."""
    if site.air is not None or machine.drag_area == 0:
        return []
    return [words.note("air-density-standard")]


def cooler_air_notes(site: SiteEffect, machine: Machine) -> list[Note]:
    """Return what is assumed of the air at a machine's cooler."""
    cooler = machine.cooler
    if cooler is None:
        return []
    if site.air is None:
        return [words.note("cooler-air-temperature", air=temperature_around(site))]
    density = density_around(site)
    low, high = sorted(air_share(cooler, density, n) for n in (LEAST_EXPONENT, MOST_EXPONENT))
    said = words.note(
        "cooler-in-thin-air",
        share=air_share(cooler, density),
        density=density,
        reference=reference_density(cooler),
        low=low,
        high=high,
    )
    return [said, words.note("cooler-air-standard")] if cooler.air_density is None else [said]


def cooler_flow_notes(machine: Machine) -> list[Note]:
    """Return what is assumed of the flow through a machine's cooler at stall."""
    return [] if machine.cooler is None else [words.note("cooler-flow-at-stall")]
