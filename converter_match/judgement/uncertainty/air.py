"""What a deviation of the air does to an engine's torque, draw by draw."""

from __future__ import annotations

import numpy as np

from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.physics.engine.site_correction import STANDARD_AIR, site_effect

_GRID = 17


def air_factor(outcome: Outcome, pressure: FloatArray, temperature: FloatArray) -> FloatArray:
    """Return what a deviation of the air does to the engine's torque, relative to the site's.

    Parameters
    ----------
    outcome : Outcome
    pressure : ndarray
        Share of the air pressure.
    temperature : ndarray
        [K].

    Raises
    ------
    InputError
        If the correction lacks a datum, or a table does not reach.
    """
    from scipy.interpolate import RegularGridInterpolator

    engine, effect = outcome.combination.engine, outcome.match.site
    air = effect.air or engine.reference_air or STANDARD_AIR
    humidity = None if outcome.condition.site is None else outcome.condition.site.relative_humidity

    def factor(share: float, kelvin: float) -> float:
        site = Site(
            id="draw", name="draw", source="draw",
            air_pressure=air.pressure * (1.0 + share),
            air_temperature=air.temperature + kelvin,
            relative_humidity=humidity,
        )  # fmt: skip
        return site_effect(engine, site).torque_factor

    def axis(values: FloatArray) -> FloatArray:
        low, high = float(values.min()), float(values.max())
        if high - low < 1e-12:
            return np.array([low - 1e-6, high + 1e-6])
        return np.linspace(low, high, _GRID)

    shares, kelvins = axis(pressure), axis(temperature)
    table = np.array([[factor(float(p), float(t)) for t in kelvins] for p in shares])
    read = RegularGridInterpolator((shares, kelvins), table / factor(0.0, 0.0), method="linear")
    inside = [np.clip(pressure, shares[0], shares[-1]), np.clip(temperature, kelvins[0],
                                                                kelvins[-1])]  # fmt: skip
    return np.asarray(read(np.stack(inside, axis=-1)))
