"""The air around a machine, and what is taken for it, with a note, where no site is given."""

from __future__ import annotations

from converter_match.components.machine import Machine
from converter_match.components.site import ON_COMMAND_LINE, Air, Site
from converter_match.constants import SEA_LEVEL_DENSITY
from converter_match.notes import Note, assumption
from converter_match.physics.engine.site_correction import SiteEffect
from converter_match.physics.wheels.road_load import air_density
from converter_match.units import System, from_si, quantity_note, show

WARM_DAY = 298.15  # K, at the cooler (common practice, no source)

COOLER_AT_STALL = assumption(
    "cooler-flow-at-stall",
    "The cooler is taken to work at stall as at speed; where its flow comes from a pump on a "
    "slower engine it carries less, and the time is shorter.",
)


def site_line(site: SiteEffect, system: System) -> str:
    """Return what stands behind 'site:' in a text: how the torque follows the air there.

    Where it does not, by the engine's data, the site is named: else it would look forgotten.
    """
    if site.site is None or site.air is None or not site.air_is_ignored:
        return site.method
    return (
        f"{_where(site.site, site.air, system)}; this engine's torque does not follow the air "
        "(its data)"
    )


def _where(site: Site, air: Air, system: System) -> str:
    if site.id != ON_COMMAND_LINE:
        return site.name
    temperature, degree = show(air.temperature, "temperature", system)
    if site.altitude is None:
        height, unit = show(air.pressure, "pressure", system)
    else:
        unit = "ft" if system == "us" else "m"
        height = from_si(site.altitude, unit, "length")
    return f"{height:.4g} {unit}, {temperature:.0f} {degree}"


def density_around(site: SiteEffect) -> float:
    """Return the density of the air that a machine drives through [kg/m^3]."""
    if site.air is None:
        return SEA_LEVEL_DENSITY
    return float(air_density(site.air.pressure, site.air.temperature))


def temperature_around(site: SiteEffect) -> float:
    """Return the temperature of the air at the cooler [K]."""
    return WARM_DAY if site.air is None else site.air.temperature


def air_drag_notes(site: SiteEffect, machine: Machine) -> list[Note]:
    """Return what is assumed of the air that a machine drives through."""
    if site.air is not None or machine.drag_area == 0:
        return []
    return [
        assumption(
            "air-density-standard",
            "No site is given: air drag is that of the standard atmosphere at sea level.",
        )
    ]


def cooler_air_notes(site: SiteEffect, machine: Machine) -> list[Note]:
    """Return what is assumed of the air at a machine's cooler."""
    if site.air is not None or machine.cooler is None:
        return []
    return [
        quantity_note(
            "cooler-air-temperature",
            "No air temperature is given: the cooler is taken to work in air of {air}.",
            "assumption",
            air=(temperature_around(site), "temperature", ".0f"),
        )
    ]
