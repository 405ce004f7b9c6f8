"""The standard atmosphere and moist air.

ISO 2533 (the same below 11 km as the 1976 U.S. Standard Atmosphere): temperature falls by 6.5 K per
geopotential kilometre, pressure follows from hydrostatic balance.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from converter_match.constants import (
    GAS_CONSTANT,
    GRAVITY,
    LAPSE_RATE,
    SEA_LEVEL_PRESSURE,
    SEA_LEVEL_TEMPERATURE,
    ZERO_CELSIUS,
)
from converter_match.curves import FloatArray

EARTH_RADIUS = 6_356_766.0  # m, nominal, ISO 2533
_EXPONENT = GRAVITY / (GAS_CONSTANT * LAPSE_RATE)


def geopotential(altitude: ArrayLike) -> FloatArray:
    """Return the geopotential altitude [m] of a geometric altitude [m] (any shape)."""
    z = np.asarray(altitude, dtype=np.float64)
    return np.asarray(EARTH_RADIUS * z / (EARTH_RADIUS + z))


def standard_temperature(altitude: ArrayLike) -> FloatArray:
    """Return the standard air temperature [K] at geometric `altitude` [m] (any shape)."""
    return np.asarray(SEA_LEVEL_TEMPERATURE - LAPSE_RATE * geopotential(altitude))


def standard_pressure(altitude: ArrayLike) -> FloatArray:
    """Return the standard air pressure [Pa] at geometric `altitude` [m] (any shape).

    ``p = p_0 (T / T_0)^(g / (R L))``, ISO 2533.
    """
    ratio = standard_temperature(altitude) / SEA_LEVEL_TEMPERATURE
    return np.asarray(SEA_LEVEL_PRESSURE * ratio**_EXPONENT)


def pressure_altitude(pressure: ArrayLike) -> FloatArray:
    """Return the geometric altitude [m] at which the standard pressure is `pressure` [Pa]."""
    ratio = (np.asarray(pressure, dtype=np.float64) / SEA_LEVEL_PRESSURE) ** (1 / _EXPONENT)
    height = SEA_LEVEL_TEMPERATURE * (1 - ratio) / LAPSE_RATE
    return np.asarray(EARTH_RADIUS * height / (EARTH_RADIUS - height))


def saturation_pressure(temperature: ArrayLike) -> FloatArray:
    """Return the saturation pressure of water vapour [Pa] at `temperature` [K].

    Magnus form over water with the coefficients of WMO-No. 8 (from memory), good to 0.4 %
    against the steam tables between 0 and 50 degC: far finer than any site is known.
    """
    celsius = np.asarray(temperature, dtype=np.float64) - ZERO_CELSIUS
    return np.asarray(611.2 * np.exp(17.62 * celsius / (243.12 + celsius)))
