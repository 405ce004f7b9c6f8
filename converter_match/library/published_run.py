"""The measured vehicle of the published tables: the bench curve of its converter, and its run."""

from __future__ import annotations

import csv
from collections.abc import Callable
from types import MappingProxyType

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.full_throttle import FullThrottleRun
from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.library.shipped import data_folder
from converter_match.units import to_si

_COUPLING = 0.86  # where the bench curve's torque ratio has come down to one


def published(name: str) -> Converter | FullThrottleRun:
    """Return a measured part or run of the published tables.

    Parameters
    ----------
    name : str
        ``converter_273mm`` or ``full_throttle_run``.

    Returns
    -------
    Converter or FullThrottleRun
        With its source.

    Raises
    ------
    InputError
        If there is none of that name.

    Examples
    --------
    >>> import converter_match as cm
    >>> cm.published("converter_273mm").coupling
    0.86
    """
    if name not in _READERS:
        raise InputError(
            "there is no such published table",
            found=name,
            expected=" | ".join(_READERS),
            hint=did_you_mean(name, _READERS),
        )
    return _READERS[name]()


def bench_converter() -> Converter:
    """Return the converter on the bench."""
    columns, source = _columns("converter_273mm")
    return Converter(
        id="converter_273mm",
        name="Converter on the bench, 273 mm",
        source=source,
        stator="one-way",
        speed_ratio=columns["speed_ratio"],
        torque_ratio=columns["torque_ratio"],
        capacity=columns["k_rad_s_per_sqrt_Nm"] ** -2.0,
        coupling_speed_ratio=_COUPLING,
    )


def full_throttle_run() -> FullThrottleRun:
    """Return the full-throttle run of the vehicle with that converter."""
    columns, source = _columns("full_throttle_run")
    return FullThrottleRun(
        id="full_throttle_run",
        name="Full-throttle run from rest",
        source=source,
        time=columns["time_s"],
        engine_speed=np.asarray(to_si(columns["engine_rpm"], "rpm", "angular_speed")),
        road_speed=np.asarray(to_si(columns["speed_mph"], "mph", "velocity")),
        speed_ratio=columns["speed_ratio_est"],
        acceleration=np.asarray(to_si(columns["accel_ft_s2"], "ft/s2", "acceleration")),
    )


def _columns(name: str) -> tuple[dict[str, FloatArray], str]:
    path = data_folder() / "published" / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    numbers = [key for key in rows[0] if key not in ("tag", "source")]
    return {key: np.array([float(row[key]) for row in rows]) for key in numbers}, rows[0]["source"]


_READERS: MappingProxyType[str, Callable[[], Converter | FullThrottleRun]] = MappingProxyType(
    {"converter_273mm": bench_converter, "full_throttle_run": full_throttle_run}
)
