"""Numbers that a file does not give and that follow from it, for others to be held against."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np


def worked_out(kind: str, given: Mapping[str, Any]) -> dict[str, float]:
    """Return what is worked out from a file, by its name in the tables of sizes; SI units.

    Parameters
    ----------
    kind : str
        Kind of file.
    given : mapping of str to float or ndarray
        The numbers and columns of the file by their paths, in SI units.

    Examples
    --------
    >>> worked_out("motor", {"torque.speed": [100.0, 200.0], "torque.continuous": [50.0, 30.0]})
    {'@continuous_power': 6000.0}
    """
    return _RULES[kind](given) if kind in _RULES else {}


def _of_arrangement(given: Mapping[str, Any]) -> dict[str, float]:
    """Return the turbine torque that a limit of the tractive effort comes to."""
    keys = (
        "impeller_clutch.tractive_effort_limit",
        "wheels.rolling_radius",
        "wheels.overall_ratio",
    )
    if any(key not in given for key in keys):
        return {}
    effort, radius, turns = (float(np.max(given[key])) for key in keys)
    return {"@turbine_torque_of_effort_limit": effort * radius / turns} if turns else {}


def _of_engine(given: Mapping[str, Any]) -> dict[str, float]:
    """Return what an engine's sheet comes to: rated power and peak torque."""
    speed, torque, power = (given.get(f"full_load.{key}") for key in ("speed", "torque", "power"))
    if speed is not None and torque is not None:
        power = torque * speed
    elif speed is not None and power is not None:
        torque = power / speed
    else:
        torque, power = given.get("rating.peak_torque"), given.get("rating.rated_power")
    if torque is None or power is None:
        return {}
    return {"@peak_torque": float(np.max(torque)), "@rated_power": float(np.max(power))}


def _of_motor(given: Mapping[str, Any]) -> dict[str, float]:
    """Return the greatest continuous power of a motor's sheet."""
    speed, torque = (np.asarray(given[f"torque.{key}"]) for key in ("speed", "continuous"))
    return {"@continuous_power": float(np.max(speed * torque))}


_RULES = {"arrangement": _of_arrangement, "engine": _of_engine, "motor": _of_motor}
