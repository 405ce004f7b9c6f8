"""Amounts: in which unit a figure is shown, in which it stands in plain data, and how finely.

This is the one table of it, for console, page, notebook, CSV and JSON. A dimension says what can be
converted into what; an amount is a dimension in a use: a length is millimetres of a profile
diameter, metres of altitude, kilometres of a haul. An amount that bears the name of a dimension is
shown in that dimension's units.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from converter_match.errors import InputError, did_you_mean
from converter_match.units.conversion import (
    FloatArray,
    Many,
    Scalar,
    System,
    from_si,
    show,
    trimmed,
)
from converter_match.units.spelling import label
from converter_match.units.vocabulary import DIMENSIONS


class Amount(NamedTuple):
    """How figures of one kind leave the library.

    Parameters
    ----------
    dimension : str
        One of `DIMENSIONS`.
    plain : str
        Unit in plain data, the same for every reader.
    suffix : str
        That unit at the end of a key, with its underline.
    digits, us_digits : int
        Behind the point, where a figure is shown and nothing else is asked for.
    si, us : str
        Units in which it is shown; empty for those of the dimension.
    """

    dimension: str
    plain: str
    suffix: str
    digits: int
    us_digits: int
    si: str = ""
    us: str = ""


AMOUNTS: dict[str, Amount] = {
    "angular_speed": Amount("angular_speed", "rpm", "_rpm", 0, 0),
    "torque": Amount("torque", "N.m", "_nm", 0, 0),
    "power": Amount("power", "kW", "_kw", 1, 1),
    "energy": Amount("energy", "kJ", "_kj", 0, 0),
    "work": Amount("energy", "MJ", "_mj", 1, 0, si="MJ"),
    "electric_energy": Amount("energy", "kWh", "_kwh", 2, 2, si="kWh", us="kWh"),
    "voltage": Amount("voltage", "V", "_v", 0, 0),
    "force": Amount("force", "kN", "_kn", 1, 0),
    "velocity": Amount("velocity", "km/h", "_kmh", 1, 1),
    "rope_speed": Amount("velocity", "m/min", "_m_per_min", 1, 0, si="m/min", us="ft/min"),
    "acceleration": Amount("acceleration", "m/s2", "_m_per_s2", 2, 1),
    "length": Amount("length", "mm", "_mm", 0, 1),
    "diameter": Amount("length", "mm", "_mm", 1, 2),
    "distance": Amount("length", "m", "_m", 0, 0, si="m", us="ft"),
    "altitude": Amount("length", "m", "_m", 0, 0, si="m", us="ft"),
    "haul_length": Amount("length", "km", "_km", 2, 2, si="km", us="mi"),
    "time": Amount("time", "s", "_s", 1, 1),
    "minutes": Amount("time", "min", "_min", 1, 1, si="min", us="min"),
    "mass": Amount("mass", "kg", "_kg", 0, 0),
    "fuel_mass": Amount("mass", "g", "_g", 0, 2, si="g", us="lb"),
    "load": Amount("mass", "t", "_t", 1, 1, si="t", us="short ton"),
    "production": Amount("mass_flow", "t/h", "_t_per_h", 0, 0),
    "fuel_rate": Amount("fuel_rate", "kg/h", "_kg_per_h", 2, 2),
    "fuel_flow": Amount("volume_flow", "L/h", "_l_per_h", 1, 1, si="L/h", us="US gal/h"),
    "fuel_of_load": Amount("volume_per_mass", "L/t", "_l_per_t", 3, 4),
    "specific_fuel": Amount("specific_fuel", "g/kWh", "_g_per_kwh", 0, 3),
    "temperature": Amount("temperature", "degC", "_degc", 0, 0),
    "temperature_difference": Amount("temperature_difference", "K", "_k", 0, 0),
    "heating_rate": Amount("heating_rate", "K/s", "_k_per_s", 1, 1),
    "pressure": Amount("pressure", "kPa", "_kpa", 1, 2),
    "weight_share": Amount("weight_share", "%", "_percent", 1, 1),
    "share": Amount("weight_share", "%", "_percent", 0, 0),
    "grade": Amount("weight_share", "%", "_percent", 1, 1),
    "volume": Amount("volume", "L", "_l", 1, 1),
    "volume_flow": Amount("volume_flow", "L/min", "_l_per_min", 0, 1),
    "density": Amount("density", "kg/m3", "_kg_per_m3", 0, 1),
    "cooler_size": Amount("conductance", "kW/K", "_kw_per_k", 3, 1, si="kW/K", us="BTU/(min.degF)"),
    "heat_rejection": Amount("power", "kW", "_kw", 0, 0, si="kW", us="BTU/min"),
    "inertia": Amount("inertia", "kg.m2", "_kg_m2", 2, 1),
    "k_factor": Amount("k_factor", "rpm/sqrt(N.m)", "_rpm_per_sqrt_nm", 1, 1),
    "capacity": Amount("capacity_coefficient", "N.m/(rad/s)^2", "_nms2_per_rad2", 5, 9),
}
"""Name -> amount: what a `Heading`, a note's value and a table cell are shown as."""


def amount(name: str) -> Amount:
    """Return an amount by its name.

    Raises
    ------
    InputError
        If there is no such amount; the nearest one is named.
    """
    try:
        return AMOUNTS[name]
    except KeyError:
        raise InputError(
            "unknown amount", found=name, hint=did_you_mean(name, AMOUNTS) or None
        ) from None


def shown(value: Scalar | Many, name: str, system: System) -> tuple[float | FloatArray, str]:
    """Return SI numbers in the unit in which an amount, or a dimension, is read, with its label.

    Parameters
    ----------
    value : float or array-like of float
        SI.
    name : str
        One of `AMOUNTS`, or of `DIMENSIONS`.
    system : {"si", "us"}

    Examples
    --------
    >>> shown(2000.0, "altitude", "si"), shown(0.3048, "altitude", "us")
    ((2000.0, 'm'), (1.0, 'ft'))
    """
    if name not in AMOUNTS and name in DIMENSIONS:
        return show(value, name, system)
    kind = amount(name)
    unit = kind.si if system == "si" else kind.us
    if not unit:
        return show(value, kind.dimension, system)
    return from_si(value, unit, kind.dimension), label(unit)


def shown_text(
    value: float, name: str, system: System, form: str = "", *, unit: bool = True
) -> str:
    """Return one SI number as it is read: rounded, with its unit.

    Parameters
    ----------
    value : float
        SI.
    name : str
        One of `AMOUNTS`, or of `DIMENSIONS`.
    system : {"si", "us"}
    form : str
        Number format; the amount's own digits without one.
    unit : bool
        Whether the unit stands behind.

    Examples
    --------
    >>> shown_text(188.5, "angular_speed", "si"), shown_text(1000.0, "torque", "us", ".1f")
    ('1800 rpm', '737.6 lbf·ft')
    """
    number, said = shown(value, name, system)
    text = format(trimmed(float(number)), form or digits_form(name, system))
    if "-" in text and float(text.replace(",", "")) == 0.0:
        text = text.replace("-", "")  # what rounds to nothing has no sign
    return f"{text} {said}".rstrip() if unit else text


def digits_form(name: str, system: System) -> str:
    """Return the number format of an amount where nothing else is asked for."""
    kind = AMOUNTS.get(name)
    if kind is None:
        return ".3g"
    return f".{kind.us_digits if system == 'us' else kind.digits}f"


def in_plain(value: Any, name: str) -> float | None:
    """Return an SI value in the unit of plain data; None for what is no finite number.

    Parameters
    ----------
    value : float or None
        SI.
    name : str
        One of `AMOUNTS`.

    Examples
    --------
    >>> in_plain(27.77777777777778, "velocity"), in_plain(float("nan"), "power")
    (100.0, None)
    """
    if value is None or not np.isfinite(value):
        return None
    kind = amount(name)
    number = float(from_si(float(value), kind.plain, kind.dimension))
    return number if math.isfinite(number) else None
