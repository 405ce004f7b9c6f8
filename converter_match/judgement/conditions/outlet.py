"""The oil in the converter: its flow and volume, what is taken where no file tells, and its limits.

What gauges are usually set to, and what is taken for oil that no file tells of, stands here as
constants to be changed: common practice, no source, unless one is named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from converter_match.components.converter import Converter
from converter_match.components.machine import Machine, Oil
from converter_match.judgement.conditions import words
from converter_match.judgement.conditions.oil import STOP_AT
from converter_match.notes import Note
from converter_match.physics.heat.converter_oil import ConverterOil

# At the converter's outlet: above the first no lasting work, at the second stop (about 250 and
# 300 degF). Common practice, no source, but that the second is the value above.
OUTLET_WARNS, OUTLET_STOPS = 393.15, STOP_AT  # K
# Charge flow through the converter over the engine's rated power, where no file gives it: 0.4 to
# 1.0 L/min per kW. Common practice, no source.
FLOW_PER_POWER = (0.4e-6 / 60.0, 1.0e-6 / 60.0)  # m^3/s per W
# Oil in the converter over the cube of its profile diameter D. A torus between D and a third of D
# has 2 pi^2 (D/3) (D/6)^2 = 0.18 D^3; blades, core and a flat circuit take of it, the space around
# the turbine adds.
VOLUME_PER_CUBE = (0.12, 0.20)


@dataclass(frozen=True)
class OilInConverter:
    """The oil in a converter and the flow through it, with what is not known of both.

    Parameters
    ----------
    hottest, coolest : ConverterOil
        With the least and with the most of what flow and volume may be; the same where both are
        given.
    flow : tuple of float
        Least and most charge flow [m^3/s].
    assumed : bool
        Whether flow or volume is assumed.
    notes : tuple of Note
        What was assumed.
    """

    hottest: ConverterOil
    coolest: ConverterOil
    flow: tuple[float, float]
    assumed: bool
    notes: tuple[Note, ...]


def oil_in_converter(oil: Oil, converter: Converter, rated_power: float) -> OilInConverter:
    """Return the oil in a converter; flow and volume that no file gives are assumed, and said.

    Parameters
    ----------
    oil : Oil
    converter : Converter
    rated_power : float
        Of the engine [W].

    Raises
    ------
    InputError
        If the converter holds as much oil as circulates.
    """
    notes: list[Note] = []
    if oil.charge_flow is not None:
        least = most = oil.charge_flow
    else:
        least, most = (share * rated_power for share in FLOW_PER_POWER)
        notes.append(words.note("charge-flow-assumed", low=least, high=most))
    volumes, volume_notes = _volumes(converter)
    ends = [
        ConverterOil.of(oil, converter, flow=flow, inside=inside)
        for flow, inside in zip((least, most), volumes, strict=True)
    ]
    notes += volume_notes
    assumed = bool(notes)
    notes += replace(oil, charge_flow=least).notes
    return OilInConverter(ends[0], ends[1], (least, most), assumed, tuple(notes))


def known_oil_in_converter(
    oil: Oil, converter: Converter
) -> tuple[ConverterOil | None, tuple[Note, ...]]:
    """Return the oil in a converter where the charge flow is given, and what was assumed.

    The least that its volume may be is taken where no file gives it: the outlet then is hottest.

    Parameters
    ----------
    oil : Oil
    converter : Converter

    Raises
    ------
    InputError
        If the converter holds as much oil as circulates.
    """
    if oil.charge_flow is None:
        return None, (words.note("charge-flow-not-given"),)
    volumes, notes = _volumes(converter)
    inside = ConverterOil.of(oil, converter, flow=oil.charge_flow, inside=volumes[0])
    return inside, notes


def _volumes(
    converter: Converter,
) -> tuple[tuple[float | None, float | None], tuple[Note, ...]]:
    """Return least and most oil in the converter [m^3], None for that of its file; and notes."""
    if converter.oil_volume is not None:
        return (None, None), ()
    if converter.profile_diameter is None:
        return (None, None), (words.note("converter-oil-left-out"),)
    low, high = (share * converter.profile_diameter**3 for share in VOLUME_PER_CUBE)
    return (low, high), (words.note("converter-oil-assumed", low=low, high=high),)


def stated_oil_limit(machine: Machine | None, converter: Converter) -> float | None:
    """Return the lowest oil temperature limit that machine and converter state [K]."""
    own = None if machine is None else machine.oil.temperature_limit
    given = (converter.limits.oil_temperature, own)
    return min((value for value in given if value is not None), default=None)


def outlet_limit(oil: Oil | None) -> tuple[float, tuple[Note, ...]]:
    """Return the highest temperature at the outlet [K], and what was assumed for it."""
    stated = None if oil is None else oil.outlet_temperature_limit
    if stated is not None:
        return min(stated, OUTLET_STOPS), ()
    return OUTLET_STOPS, (words.note("outlet-limit-not-given", limit=OUTLET_STOPS),)


def cooler_at_bulk() -> Note:
    """Return what is assumed of where the cooler's oil comes from."""
    return words.note("cooler-at-bulk")


def outlet_levels() -> Note:
    """Return where gauges at the outlet usually warn and stop."""
    return words.note("outlet-levels", warns=OUTLET_WARNS, stops=OUTLET_STOPS)
