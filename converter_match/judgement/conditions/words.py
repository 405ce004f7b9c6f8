"""The sentences on the air, the oil and the ground around a machine, by code."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

WORDS = Catalogue(
    {
        "cooler-flow-at-stall": (
            "assumption",
            "The cooler is taken to work at stall as at speed. Where its flow comes from a pump on "
            "a slower engine it carries less, and the time is shorter.",
        ),
        "air-density-standard": (
            "assumption",
            "No site is given: air drag is that of the standard atmosphere at sea level.",
        ),
        "cooler-air-temperature": (
            "assumption",
            "No air temperature is given: the cooler is taken to work in air of "
            "{air:temperature .0f}.",
        ),
        "oil-starts-cold": (
            "assumption",
            "No working temperature of the oil is given: it starts at the temperature of the air. "
            "Warm oil is sooner at its limit.",
        ),
        # What stands behind "site:".
        "site-method": ("assumption", "{method}"),
        "site-named-air-ignored": (
            "assumption",
            "{name}; this engine's torque does not follow the air (its data)",
        ),
        "site-altitude-air-ignored": (
            "assumption",
            "{altitude:altitude .4g}, {temperature:temperature .0f}; this engine's torque does not "
            "follow the air (its data)",
        ),
        "site-pressure-air-ignored": (
            "assumption",
            "{pressure:pressure .4g}, {temperature:temperature .0f}; this engine's torque does not "
            "follow the air (its data)",
        ),
    }
)
note = WORDS.note
