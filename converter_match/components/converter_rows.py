"""What the rows of a characteristic have to keep, whoever gives them."""

from __future__ import annotations

import numpy as np

from converter_match.components.base import require_positive
from converter_match.curves import FloatArray
from converter_match.errors import InputError

_CLOSEST_ROWS = 1e-6
_FARTHEST_ROW = 100.0
# Times the cube of the profile diameter: a cylinder half as long as it is wide holds pi / 8.
_MOST_OIL = 0.4


def check_spacing(nu: FloatArray) -> None:
    """Refuse speed ratios that no converter has, or that are too close.

    Parameters
    ----------
    nu : ndarray, shape (n,)
        Speed ratio.

    Raises
    ------
    InputError
        Naming the row.
    """
    # Ten times what any gearing makes of it; beyond, an answer would have millions of points.
    for row in np.flatnonzero(np.abs(nu) > _FARTHEST_ROW)[:1]:
        raise InputError(
            "out of range",
            field=f"speed_ratio[{row}]",
            found=float(nu[row]),
            expected=f"turbine speed / impeller speed, within {_FARTHEST_ROW:g}",
        )
    # No sheet states speed ratios finer; closer rows are one row, mistyped, and have no slope.
    for row in np.flatnonzero(np.diff(nu) < _CLOSEST_ROWS):
        raise InputError(
            "two rows at almost the same speed ratio",
            field=f"speed_ratio[{row + 1}]",
            found=f"{nu[row + 1]:.12g} after {nu[row]:.12g}",
            expected=f"rows at least {_CLOSEST_ROWS:g} apart",
        )


def check_signs(nu: FloatArray, mu: FloatArray, c: FloatArray) -> None:
    """Refuse capacity and torque ratio below zero where the impeller drives.

    Parameters
    ----------
    nu, mu, c : ndarray, shape (n,)
        Speed ratio, torque ratio, capacity [N.m/(rad/s)^2].

    Raises
    ------
    InputError
        Naming the row.
    """
    for row in np.flatnonzero((nu < 1) & (c <= 0)):
        raise InputError(
            "the impeller must absorb torque below speed ratio 1",
            field=f"capacity[{row}]",
            found=f"{c[row]:.6g} at speed ratio {nu[row]:.6g}",
            expected="a capacity above zero",
        )
    for row in np.flatnonzero(mu < 0):
        if nu[row] <= 1:
            raise InputError(
                "torque ratio below zero",
                field=f"torque_ratio[{row}]",
                found=float(mu[row]),
                expected="a torque ratio of zero or more",
            )


def check_energy(nu: FloatArray, mu: FloatArray, c: FloatArray) -> None:
    """Refuse rows at which the heat C omega^3 (1 - nu mu) would be below zero.

    Parameters
    ----------
    nu, mu, c : ndarray, shape (n,)
        Speed ratio, torque ratio, capacity [N.m/(rad/s)^2].

    Raises
    ------
    InputError
        Naming the row.
    """
    eta = nu * mu
    slack = 1e-9
    for row in np.flatnonzero((nu <= 1) & (c >= 0) & (eta > 1 + slack)):
        raise InputError(
            "efficiency above 1: the row would deliver more power than it takes in",
            field=f"torque_ratio[{row}]",
            found=f"speed ratio {nu[row]:.6g} x torque ratio {mu[row]:.6g} = {eta[row]:.4f}",
            expected=f"a torque ratio of at most {1 / nu[row]:.4f} there",
        )
    for row in np.flatnonzero((nu >= 1) & (c * (1 - eta) < -slack * np.abs(c))):
        raise InputError(
            "in overrun the heat would be below zero",
            field=f"torque_ratio[{row}]",
            found=f"capacity {c[row]:.6g}, speed ratio x torque ratio = {eta[row]:.4f}",
            expected="capacity below zero with speed ratio x torque ratio of 1 or more",
        )


def check_volume(volume: float | None, diameter: float | None) -> None:
    """Refuse more oil than goes into the can around the flow circuit.

    Parameters
    ----------
    volume, diameter : float or None
        Of the oil [m^3]; of the flow circuit [m].

    Raises
    ------
    InputError
        If it does not fit, or is not above zero.
    """
    require_positive(volume, "oil_volume")
    if volume is None or diameter is None:
        return
    most = _MOST_OIL * diameter**3
    if volume > most:
        raise InputError(
            "more oil than the converter can hold",
            field="oil_volume",
            found=f"{1000 * volume:.4g} L",
            expected=f"at most {1000 * most:.3g} L with a profile diameter of "
            f"{1000 * diameter:.4g} mm",
        )
