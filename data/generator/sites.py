"""Invented sites of the demo scenario."""

from __future__ import annotations

from dataclasses import dataclass

from generator.toml_text import SOURCE, one, text


@dataclass(frozen=True, kw_only=True)
class Site:
    """One invented site; the air pressure is given where a barometer stands."""

    id: str
    name: str
    altitude_m: int
    temperature_c: int
    humidity_percent: int
    pressure_kpa: float | None = None


def site_text(s: Site) -> str:
    """Return the TOML text of one site file."""
    lines = [
        'schema = "converter-match/site/1"',
        f"id = {text(s.id)}",
        f"name = {text(s.name)}",
        f"source = {text(SOURCE)}",
        f"altitude = {one(s.altitude_m, 'm')}",
    ]
    if s.pressure_kpa is not None:
        lines += [f"air_pressure = {one(s.pressure_kpa, 'kPa', 1)}"]
    lines += [
        f"air_temperature = {one(s.temperature_c, 'degC')}",
        f"relative_humidity = {one(s.humidity_percent, 'percent')}",
    ]
    return "\n".join(lines) + "\n"


SITES = (
    Site(
        id="harbour-cold-morning",
        name="Harbour at sea level, cold morning",
        altitude_m=0,
        temperature_c=-5,
        humidity_percent=80,
    ),
    Site(
        id="plateau-quarry-hot-day",
        name="Quarry on the plateau at 2000 m, hot day",
        altitude_m=2000,
        temperature_c=35,
        humidity_percent=20,
    ),
    Site(
        id="timber-valley-hot-humid",
        name="Timber yard in the valley, hot and humid",
        altitude_m=350,
        pressure_kpa=97.0,
        temperature_c=36,
        humidity_percent=85,
    ),
)
