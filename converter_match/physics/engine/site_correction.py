"""What a site's air does to an engine's torque.

The full-load curve holds in the engine's reference air. Each method gives a factor alpha by which
power seen in some air is multiplied to give power in its own standard air; torque at the site is
then ``T_site = T_reference alpha(reference air) / alpha(site air)``.

Forms (the method used is named in every result):

* diesel, ISO 1585 / UNECE R85, in 30 CFR 7.87 too: ``alpha = f_a^f_m`` with
  ``f_a = (99 / p_dry) ((t + 273) / 298)^0.7`` naturally aspirated,
  ``f_a = (99 / p_dry)^0.7 ((t + 273) / 298)^1.5`` turbocharged;
* ISO 3046-1: ``alpha = k - 0.7 (1 - k) (1 / eta_m - 1)``, ``k = (p / p_r)^m (T_r / T)^n``, here as
  power at site / power in reference air;
* SAE J1349, spark ignition: ``alpha = 1.180 (990 / p_mbar) sqrt((t + 273) / 298) - 0.18``;
* the maker's own derate table, which beats any formula.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from converter_match.components.engine import Aspiration, Engine
from converter_match.components.site import Air, Site
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.notes import Note, assumption
from converter_match.physics.engine.atmosphere import (
    pressure_altitude,
    saturation_pressure,
    standard_pressure,
    standard_temperature,
)

# Dry reference air of ISO 1585 / UNECE R85 and SAE J1349: 99 kPa, 25 degC. Their 298 K is 25 + 273,
# rounded: here temperatures count from 273.15. ISO 3046-1 has 100 kPa, 25 degC and 30 % humidity
# (from memory), which is 99 kPa dry as well.
STANDARD_AIR = Air(pressure=99e3, temperature=298.15)
VALID_ALPHA = (0.9, 1.1)  # ISO 1585
OUTSIDE_VALIDITY = "site-correction-outside-validity"
"""Code of the note on a correction that goes beyond that."""
# f_m where the sheet gives no fuel delivery. From q_c = bsfc x BMEP / boost ratio with values usual
# for the kind of engine (about 50, 42 and 44 mg per litre and cycle): common practice, no source.
TYPICAL_ENGINE_FACTOR: dict[Aspiration, float] = {
    "naturally-aspirated": 0.66,
    "turbocharged": 0.37,
    "turbocharged-aftercooled": 0.44,
}
# (m, n) of ISO 3046-1, coolant term left out (s = 0); from memory to second-hand.
ISO_3046_EXPONENTS: dict[Aspiration, tuple[float, float]] = {
    "naturally-aspirated": (1.0, 0.75),
    "turbocharged": (0.7, 2.0),
    "turbocharged-aftercooled": (0.7, 1.2),
}
TYPICAL_MECHANICAL_EFFICIENCY = 0.80


@dataclass(frozen=True)
class SiteEffect:
    """What the site does to the engine.

    Parameters
    ----------
    torque_factor : float
        Multiplies the full-load torque.
    air : Air or None
        The air at the site; None when no site was given.
    method : str
        Name of the form used.
    notes : tuple of Note
    site : Site or None
    """

    torque_factor: float
    air: Air | None
    method: str
    notes: tuple[Note, ...] = ()
    site: Site | None = None

    @property
    def air_is_ignored(self) -> bool:
        """Whether there is a site, and the engine's data say that its air changes nothing."""
        return self.method == _AIR_IGNORED


_WHOLE_CURVE = assumption(
    "site-factor-on-whole-curve",
    "The torque factor of the site is applied to the whole curve, governor droop line included; "
    "loads are taken as in the reference air, though a fan takes less in thinner air.",
)
_AIR_IGNORED = "none, by the engine's data"
NO_SITE = SiteEffect(1.0, None, "none: the engine's own reference air")


def atmospheric_factor(air: Air, aspiration: Aspiration) -> float:
    """Return f_a of ISO 1585 / UNECE R85 / 30 CFR 7.87 for a diesel engine.

    Naturally aspirated covers mechanically supercharged engines too.

    Parameters
    ----------
    air : Air
    aspiration : str
        The engine's.
    """
    pressure = 99e3 / air.dry_pressure
    # The standards print (t + 273) / 298 with t in degC; T - 0.15 is that sum.
    temperature = (air.temperature - 0.15) / 298.0
    if aspiration == "naturally-aspirated":
        return float(pressure * temperature**0.7)
    return float(pressure**0.7 * temperature**1.5)


def engine_factor(fuel_charge: float) -> float:
    """Return f_m of UNECE R85, annex 5, 5.4.2.2 (second-hand).

    Parameters
    ----------
    fuel_charge : float
        q_c: fuel per cycle and litre of displacement / boost pressure ratio [mg/L].
    """
    if fuel_charge < 40:
        return 0.3
    if fuel_charge > 65:
        return 1.2
    return 0.036 * fuel_charge - 1.14


def iso_1585_diesel(air: Air, aspiration: Aspiration, f_m: float) -> float:
    """Return alpha = f_a^f_m, by which power seen in `air` is multiplied to give standard power.

    Parameters
    ----------
    air : Air
    aspiration : str
        The engine's.
    f_m : float
        Engine factor, see `engine_factor`.
    """
    return float(atmospheric_factor(air, aspiration) ** f_m)


def iso_3046(k: float, mechanical_efficiency: float) -> float:
    """Return alpha of ISO 3046-1: power at site / power in reference air, from the ratio k.

    Parameters
    ----------
    k : float
        Ratio of indicated power, site / reference.
    mechanical_efficiency : float
        Share.
    """
    return k - 0.7 * (1.0 - k) * (1.0 / mechanical_efficiency - 1.0)


def sae_j1349_spark(air: Air) -> float:
    """Return the factor of SAE J1349 for spark ignition (second-hand), as `iso_1585_diesel`.

    Parameters
    ----------
    air : Air
    """
    temperature = (air.temperature - 0.15) / 298.0
    return float(1.180 * (99e3 / air.dry_pressure) * temperature**0.5 - 0.18)


def site_air(site: Site, reference: Air) -> tuple[Air, tuple[Note, ...]]:
    """Return the air at a site; what the site does not say is assumed and noted.

    Parameters
    ----------
    site : Site
    reference : Air
        The engine's reference air, for what the site leaves open.
    """
    notes = []
    if site.air_pressure is not None:
        pressure = site.air_pressure
    elif site.altitude is not None:
        pressure = float(standard_pressure(site.altitude))
        notes.append(
            assumption(
                "pressure-from-altitude",
                "Air pressure {pressure:pressure .1f}: standard atmosphere (ISO 2533) at "
                "{altitude:altitude .0f}.",
                pressure=pressure,
                altitude=site.altitude,
            )
        )
    else:
        pressure = reference.pressure
        notes.append(
            assumption(
                "pressure-as-reference",
                "The site gives neither pressure nor altitude: the engine's reference pressure "
                "({pressure:pressure .1f}) is used.",
                pressure=pressure,
            )
        )
    if site.air_temperature is not None:
        temperature = site.air_temperature
    elif site.altitude is not None:
        temperature = float(standard_temperature(site.altitude))
        notes.append(
            assumption(
                "temperature-from-altitude",
                "Air temperature {temperature:temperature .0f}: standard atmosphere (ISO 2533). A "
                "hot day lowers the torque further.",
                temperature=temperature,
            )
        )
    else:
        temperature = reference.temperature
        notes.append(
            assumption(
                "temperature-as-reference",
                "The site gives no air temperature: the engine's reference temperature "
                "({temperature:temperature .0f}) is used.",
                temperature=temperature,
            )
        )
    vapour = 0.0
    if site.relative_humidity is not None:
        vapour = site.relative_humidity * float(saturation_pressure(temperature))
    elif site.air_pressure is not None or site.altitude is not None:
        notes.append(assumption("air-dry", "Humidity is not given: the air is taken as dry."))
    return Air(pressure=pressure, temperature=temperature, vapour_pressure=vapour), tuple(notes)


def site_effect(engine: Engine, site: Site | None) -> SiteEffect:
    """Return the factor on the engine's full-load torque at a site.

    Without a site the factor is 1: the engine breathes its own reference air.

    Parameters
    ----------
    engine : Engine
    site : Site or None

    Raises
    ------
    InputError
        If the method needs a datum the engine's data do not give (aspiration), or the maker's table
        does not reach the site's altitude.
    """
    return NO_SITE if site is None else replace(_effect(engine, site), site=site)


def _effect(engine: Engine, site: Site) -> SiteEffect:
    method = engine.site_correction.method
    notes: list[Note] = []
    reference = engine.reference_air
    if reference is None:
        reference = STANDARD_AIR
        if method != "derate-table":
            notes.append(
                assumption(
                    "reference-air-standard",
                    "The engine's reference air is not given: {pressure:pressure .3g} dry and "
                    "{temperature:temperature .0f} (ISO 1585) is assumed.",
                    pressure=reference.dry_pressure,
                    temperature=reference.temperature,
                )
            )
    air, air_notes = site_air(site, reference)
    notes += air_notes
    if method == "none":
        notes.append(
            assumption(
                "no-site-correction",
                "The engine's data say that its torque does not follow the site's air.",
            )
        )
        return SiteEffect(1.0, air, _AIR_IGNORED, tuple(notes))
    if method == "derate-table" or (method is None and _has_table(engine)):
        factor, table_notes = _by_maker_table(engine, site, air)
        notes += [*table_notes, _WHOLE_CURVE]
        return SiteEffect(factor, air, "maker's derate table", tuple(notes))
    if method == "sae-j1349-spark":
        factor = sae_j1349_spark(reference) / sae_j1349_spark(air)
        return _checked(factor, air, "SAE J1349, spark ignition", notes)
    if method == "iso-3046":
        return _by_iso_3046(engine, reference, air, notes)
    return _by_iso_1585(engine, reference, air, notes)


def _by_iso_1585(engine: Engine, reference: Air, air: Air, notes: list[Note]) -> SiteEffect:
    aspiration = _aspiration(engine)
    f_m = engine.site_correction.engine_factor
    if engine.site_correction.method is None:
        notes.append(
            assumption(
                "site-method-assumed",
                "No method of site correction is given: the diesel form of ISO 1585 / UNECE R85 is "
                "used. An engine that compensates for ambient air loses less; the maker's own "
                "derate table beats any formula.",
            )
        )
    if f_m is None:
        f_m = TYPICAL_ENGINE_FACTOR[aspiration]
        notes.append(
            assumption(
                "engine-factor-typical",
                f"Engine factor f_m = {f_m:.2f}: typical for a {aspiration} diesel "
                "(the range is 0.3 to 1.2); give it, or the maker's derate table.",
            )
        )
    factor = iso_1585_diesel(reference, aspiration, f_m) / iso_1585_diesel(air, aspiration, f_m)
    return _checked(factor, air, f"ISO 1585 / UNECE R85 diesel, f_m = {f_m:.2f}", notes)


def _by_iso_3046(engine: Engine, reference: Air, air: Air, notes: list[Note]) -> SiteEffect:
    m, n = ISO_3046_EXPONENTS[_aspiration(engine)]
    eta = engine.site_correction.mechanical_efficiency
    if eta is None:
        eta = TYPICAL_MECHANICAL_EFFICIENCY
        notes.append(
            assumption(
                "mechanical-efficiency-typical",
                f"Mechanical efficiency {eta:.2f} is assumed for ISO 3046-1.",
            )
        )
    notes.append(
        assumption(
            "coolant-term-left-out",
            "ISO 3046-1: the charge-air coolant is taken at its reference temperature.",
        )
    )
    k = (air.dry_pressure / reference.dry_pressure) ** m
    k *= (reference.temperature / air.temperature) ** n
    return _checked(iso_3046(k, eta), air, "ISO 3046-1", notes)


def _by_maker_table(engine: Engine, site: Site, air: Air) -> tuple[float, list[Note]]:
    table = engine.site_correction
    if table.derate_altitude is None or table.derate_factor is None:
        raise InputError("no derate table in the engine's data", source=engine.id)
    notes = [
        assumption(
            "derate-altitude-only",
            "The maker's derate table is by altitude: the air temperature at the site changes "
            "nothing in it.",
        )
    ]
    altitude = site.altitude
    if altitude is None:
        altitude = float(pressure_altitude(air.pressure))
        notes.append(
            assumption(
                "altitude-from-pressure",
                "Altitude {altitude:altitude .0f} is taken from the air pressure (ISO 2533).",
                altitude=altitude,
            )
        )
    curve = Curve(
        table.derate_altitude,
        table.derate_factor,
        kinks=tuple(table.derate_altitude[1:-1]),
        name="derate factor",
        x_name="site altitude [m]",
    )
    if altitude < curve.domain[0]:
        # Below the lowest row the maker derates no further: more air never hurts.
        return float(curve.y[0]), notes
    try:
        return float(curve(altitude)), notes
    except InputError as error:
        raise error.located(source=engine.id) from None


def _checked(factor: float, air: Air, method: str, notes: list[Note]) -> SiteEffect:
    low, high = VALID_ALPHA
    if not low <= 1 / factor <= high:
        notes.append(
            Note(
                OUTSIDE_VALIDITY,
                f"The torque factor {factor:.3f} is outside what the standards allow their "
                f"correction to be used for ({1 / high:.2f} to {1 / low:.2f}): treat it as an "
                "estimate and ask for the maker's derate table.",
            )
        )
    return SiteEffect(factor, air, method, (*notes, _WHOLE_CURVE))


def _aspiration(engine: Engine) -> Aspiration:
    if engine.aspiration is None:
        raise InputError(
            "the site correction depends on how the engine is charged",
            source=engine.id,
            field="aspiration",
            expected="naturally-aspirated | turbocharged | turbocharged-aftercooled, "
            "or a derate table, in the engine's data",
        )
    return engine.aspiration


def _has_table(engine: Engine) -> bool:
    return engine.site_correction.derate_altitude is not None
