"""The five ways the trade writes the torque an impeller absorbs, and the way between any two.

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
========================  =======================================  =========================

The definitions of K and of the speed ratio are those of 40 CFR 1037.570; T = lambda rho omega^2 D^5
is the similarity law of hydrodynamic drives (VDI 2153).
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
]
FORMS: tuple[CapacityForm, ...] = get_args(CapacityForm)
DIMENSIONS: Mapping[str, str] = MappingProxyType(
    dict(zip(FORMS, ("k_factor", "torque", "power", "capacity_coefficient", "ratio"), strict=True))
)
"""Form -> dimension of its values."""
AT_SPEED: Mapping[str, int] = MappingProxyType({"torque_at_speed": 2, "power_at_speed": 3})
"""Form that holds at a reference speed -> power of that speed with which it goes."""
WORDS: Mapping[str, str] = MappingProxyType(
    {
        "k_factor": "K-factor",
        "torque_at_speed": "torque absorbed",
        "power_at_speed": "power absorbed",
        "capacity_coefficient": "capacity coefficient",
        "performance_coefficient": "performance coefficient",
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
    """

    reference_speed: float | None = None
    profile_diameter: float | None = None
    oil_density: float | None = None

    def __post_init__(self) -> None:
        for name in ("reference_speed", "profile_diameter", "oil_density"):
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
        Reference speed, or diameter and density, where the form needs them.

    Returns
    -------
    ndarray
        Same shape as `values`.

    Raises
    ------
    InputError
        If the form is unknown, its basis is missing, or a K-factor is not above zero.
    """
    array = np.asarray(values, dtype=np.float64)
    if form == "k_factor":
        bad = array[~(array > 0)]
        if bad.size:
            raise InputError(
                "a K-factor must be above zero",
                field="capacity.values",
                found=float(bad.flat[0]),
                hint="overrun data (capacity below zero) needs another form, such as "
                "torque_at_speed",
            )
        return np.asarray(1.0 / (array * array))
    return np.asarray(array / _per_capacity(form, basis))


def from_capacity(form: CapacityForm, capacity: ArrayLike, basis: CapacityBasis) -> FloatArray:
    """Return values in any of the forms from the capacity coefficient; inverse of `to_capacity`.

    Parameters
    ----------
    form : str
        One of the five forms, as for `to_capacity`.
    capacity : array_like
        C [N.m/(rad/s)^2], any shape.
    basis : CapacityBasis
        Reference speed, diameter or density, as the form needs.

    Raises
    ------
    InputError
        If the form is unknown, its basis is missing, or K is asked where C is below zero. At
        C = 0 the K-factor is infinite and is returned as ``inf``.
    """
    array = np.asarray(capacity, dtype=np.float64)
    if form == "k_factor":
        if np.any(array < 0):
            raise InputError(
                "there is no K-factor where the capacity is below zero (overrun)",
                field="capacity",
                found=float(array[array < 0].flat[0]),
            )
        with np.errstate(divide="ignore"):
            return np.asarray(1.0 / np.sqrt(np.abs(array)))  # abs: -0.0 is zero too
    return np.asarray(array * _per_capacity(form, basis))


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
