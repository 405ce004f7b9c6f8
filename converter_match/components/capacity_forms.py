"""The ways in which the trade writes the torque an impeller absorbs, and the way between any two.

All are one function in different clothes. The canonical form is the capacity coefficient
``C = T / omega**2`` [N.m/(rad/s)^2]; every conversion goes through it. With rho the oil density and
D the profile diameter (the largest diameter of the flow circuit):

========================  =======================================  =========================
form                      definition                               needs
========================  =======================================  =========================
capacity_coefficient      C = T / omega^2                          nothing
k_factor                  K = omega / sqrt(T) = 1 / sqrt(C)        C > 0
torque_at_speed           T_ref = C omega_ref^2                    reference speed
power_at_speed            P_ref = C omega_ref^3                    reference speed
performance_coefficient   lambda = C / (rho D^5)                   diameter and oil density
speed_at_torque           omega_T = sqrt(T_ref / C)                reference torque, C > 0
========================  =======================================  =========================

The speed at a constant input torque is what a drive test at constant torque reads (SAE J643, as
quoted in Regulation (EU) 2017/2400, Annex VI). The definitions of K and of the speed ratio are
those of 40 CFR 1037.570; T = lambda rho omega^2 D^5 is the similarity law of hydrodynamic drives
(VDI 2153).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import require_choice, require_positive
from converter_match.curves import FloatArray
from converter_match.errors import InputError

CapacityForm = Literal[
    "k_factor",
    "torque_at_speed",
    "power_at_speed",
    "capacity_coefficient",
    "performance_coefficient",
    "speed_at_torque",
]
FORMS: tuple[CapacityForm, ...] = get_args(CapacityForm)
DIMENSIONS: Mapping[str, str] = MappingProxyType(
    {
        "k_factor": "k_factor",
        "torque_at_speed": "torque",
        "power_at_speed": "power",
        "capacity_coefficient": "capacity_coefficient",
        "performance_coefficient": "ratio",
        "speed_at_torque": "angular_speed",
    }
)
"""Form -> dimension of its values."""
AT_SPEED: Mapping[str, int] = MappingProxyType({"torque_at_speed": 2, "power_at_speed": 3})
"""Form that holds at a reference speed -> power of that speed with which it goes."""
AT_TORQUE: frozenset[str] = frozenset({"speed_at_torque"})
"""Forms that hold at a reference torque."""
AS_SPEED: frozenset[str] = frozenset({"k_factor", "speed_at_torque"})
"""Forms that go with 1 / sqrt(C): without bound where nothing is absorbed, none in overrun."""
WORDS: Mapping[str, str] = MappingProxyType(
    {
        "k_factor": "K-factor",
        "torque_at_speed": "torque absorbed",
        "power_at_speed": "power absorbed",
        "capacity_coefficient": "capacity coefficient",
        "performance_coefficient": "performance coefficient",
        "speed_at_torque": "input speed",
    }
)
"""Form -> what a reader calls it."""


@dataclass(frozen=True, kw_only=True)
class CapacityBasis:
    """What a form needs beside its values, in SI units.

    Parameters
    ----------
    reference_speed : float, optional
        Impeller speed of the torque or power column [rad/s].
    profile_diameter : float, optional
        [m].
    oil_density : float, optional
        [kg/m^3].
    reference_torque : float, optional
        Impeller torque of the speed column [N.m].
    """

    reference_speed: float | None = None
    profile_diameter: float | None = None
    oil_density: float | None = None
    reference_torque: float | None = None

    def __post_init__(self) -> None:
        for name in ("reference_speed", "profile_diameter", "oil_density", "reference_torque"):
            require_positive(getattr(self, name), name)


def to_capacity(form: CapacityForm, values: ArrayLike, basis: CapacityBasis) -> FloatArray:
    """Return the capacity coefficient C [N.m/(rad/s)^2] from values in any of the forms.

    Parameters
    ----------
    form : str
        One of `FORMS`.
    values : array_like
        In SI units of the form: K in (rad/s)/sqrt(N.m), torque in N.m, power in W.
    basis : CapacityBasis
        Reference speed or torque, or diameter and density, where the form needs them.

    Returns
    -------
    ndarray
        Same shape as `values`.

    Raises
    ------
    InputError
        If the form is unknown, its basis is missing, or a K-factor or a speed at a torque is not
        above zero.
    """
    array = np.asarray(values, dtype=np.float64)
    if form in AS_SPEED:
        torque = _torque_of(form, basis)
        bad = array[~(array > 0)]
        if bad.size:
            raise InputError(
                f"{_CALLED[form]} must be above zero",
                field="capacity.values",
                found=float(bad.flat[0]),
                hint="overrun data (capacity below zero) needs another form, such as "
                "torque_at_speed",
            )
        return np.asarray(torque / (array * array))
    return np.asarray(array / _per_capacity(form, basis))


def from_capacity(form: CapacityForm, capacity: ArrayLike, basis: CapacityBasis) -> FloatArray:
    """Return values in any of the forms from the capacity coefficient; inverse of `to_capacity`.

    Parameters
    ----------
    form : str
        One of `FORMS`, as for `to_capacity`.
    capacity : array_like
        C [N.m/(rad/s)^2], any shape.
    basis : CapacityBasis
        Reference speed or torque, diameter or density, as the form needs.

    Raises
    ------
    InputError
        If the form is unknown, its basis is missing, or K or a speed at a torque is asked where C
        is below zero. At C = 0 they are infinite and are returned as ``inf``.
    """
    array = np.asarray(capacity, dtype=np.float64)
    if form in AS_SPEED:
        torque = _torque_of(form, basis)
        if np.any(array < 0):
            raise InputError(
                f"there is no {WORDS[form]} where the capacity is below zero (overrun)",
                field="capacity",
                found=float(array[array < 0].flat[0]),
            )
        with np.errstate(divide="ignore"):
            return np.asarray(np.sqrt(torque / np.abs(array)))  # abs: -0.0 is zero too
    return np.asarray(array * _per_capacity(form, basis))


_CALLED = MappingProxyType(
    {"k_factor": "a K-factor", "speed_at_torque": "an input speed at constant torque"}
)


def _torque_of(form: CapacityForm, basis: CapacityBasis) -> float:
    """Return the torque at which a form that goes with 1 / sqrt(C) is the speed; 1 for K."""
    if form not in AT_TORQUE:
        return 1.0
    return _needed(basis.reference_torque, "capacity.reference_torque", form)


def _per_capacity(form: CapacityForm, basis: CapacityBasis) -> float:
    """Return the constant by which C is multiplied to give the form's value."""
    require_choice(form, "capacity.form", FORMS)
    if form == "capacity_coefficient":
        return 1.0
    if form == "performance_coefficient":
        diameter = _needed(basis.profile_diameter, "profile_diameter", form)
        density = _needed(basis.oil_density, "oil_density", form)
        return 1.0 / (density * diameter**5)
    return _needed(basis.reference_speed, "capacity.reference_speed", form) ** AT_SPEED[form]


def _needed(value: float | None, field: str, form: str) -> float:
    if value is None:
        raise InputError(f"the capacity form {form!r} needs {field}", field=field)
    return value
