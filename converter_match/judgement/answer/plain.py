"""SI values as plain data: a number in the unit that the end of its key names."""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.units import from_si

# Ending of a key in plain data: (unit, dimension) of the value.
_UNITS = {
    "kn": ("kN", "force"),
    "kmh": ("km/h", "velocity"),
    "kw": ("kW", "power"),
    "percent": ("%", "weight_share"),
    "rpm": ("rpm", "angular_speed"),
    "degc": ("degC", "temperature"),
}


def plain(value: Any, unit: str) -> float | None:
    """Return an SI value in the unit of a key ending; None for what is not a finite number."""
    if value is None or not np.isfinite(value):
        return None
    return float(from_si(float(value), *_UNITS[unit]))


def rpm(speed: float) -> float:
    """Return a speed [rad/s] in rpm."""
    return float(from_si(speed, *_UNITS["rpm"]))
