"""Published characteristics as shapes: what is left of a converter when size and stall are gone.

A shape of the torque ratio is ``g = (mu - 1) / (mu_0 - 1)``, one of the capacity ``C / C_0``. Up to
the coupling point nu_c both are told over ``nu / nu_c``; beyond it over ``1 + (nu - nu_c) /
(1 - nu_c)``, so that 1 is the coupling point and 2 is speed ratio 1 for every converter.

Sources: National Renewable Energy Laboratory (US), "Creation and Validation of a New Automatic
Transmission Model", August 2000 (bench curve of a converter of 273 mm, read off a figure: K to 1 %,
torque ratio to 0.01); the same laboratory, data file of May 2000 (drive table at 100 N.m, without
its last row, which is wrong by construction); Commission Regulation (EU) 2017/2400, Annex VI,
appendix 9 (generic converter: capacity only, over the share of the overrun speed ratio, here 1).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from converter_match.components.coupling import resolve
from converter_match.curves import FloatArray, frozen_array

SYNCHRONISM = 2.0
"""Place of speed ratio 1 on the axis of the shapes."""
_SAME_PLACE = 1e-4


def place_of(speed_ratio: FloatArray, coupling: float) -> FloatArray:
    """Return the places of speed ratios on the axis of the shapes.

    Parameters
    ----------
    speed_ratio : ndarray, shape (n,)
        From 0 to 1.
    coupling : float
        Coupling speed ratio of the converter.

    Examples
    --------
    >>> place_of(np.array([0.0, 0.4, 0.8, 0.9, 1.0]), 0.8)
    array([0. , 0.5, 1. , 1.5, 2. ])
    """
    nu = np.asarray(speed_ratio, dtype=np.float64)
    return np.where(nu <= coupling, nu / coupling, 1.0 + (nu - coupling) / (1.0 - coupling))


def speed_ratio_at(place: FloatArray, coupling: float) -> FloatArray:
    """Return the speed ratios at places on the axis of the shapes; inverse of `place_of`.

    Parameters
    ----------
    place : ndarray, shape (n,)
        From 0 to 2.
    coupling : float
        Coupling speed ratio of the converter.
    """
    at = np.asarray(place, dtype=np.float64)
    return np.where(at <= 1.0, at * coupling, coupling + (at - 1.0) * (1.0 - coupling))


@dataclass(frozen=True, eq=False)
class GenericShape:
    """A published characteristic as a shape.

    Parameters
    ----------
    name : str
    coupling : float
        Speed ratio at which its torque ratio falls to 1.
    place : ndarray, shape (n,)
        From 0 (stall) over 1 (coupling point) to 2 (speed ratio 1, where nothing slips and nothing
        is absorbed).
    torque_share : ndarray, shape (n,)
        (mu - 1) / (mu_0 - 1).
    capacity_share : ndarray, shape (n,)
        C / C_0.
    corners : tuple of float
        Further places, each a row, at which the slopes jump.
    """

    name: str
    coupling: float
    place: FloatArray
    torque_share: FloatArray
    capacity_share: FloatArray
    corners: tuple[float, ...]


def _measured(name: str, nu: list[float], mu: list[float], capacity: FloatArray) -> GenericShape:
    """Return a measured characteristic as a shape, closed at speed ratio 1."""
    rows = resolve(np.array(nu), np.array(mu), capacity, "one-way", None)
    assert rows.coupling is not None  # both tables go through it
    share = (rows.torque_ratio - 1.0) / (mu[0] - 1.0)
    place = place_of(rows.speed_ratio, rows.coupling)
    return GenericShape(
        name,
        rows.coupling,
        frozen_array(np.append(place, SYNCHRONISM)),
        frozen_array(np.append(share, share[-1])),
        frozen_array(np.append(rows.capacity / capacity[0], 0.0)),
        (float(place[-1]),),
    )


def _bench() -> GenericShape:
    k = np.array([12.45, 12.37, 12.37, 12.37, 12.55, 12.92, 13.47, 14.2, 15.1, 17.6, 18.9, 21.5,
                  24.1, 25.4])  # fmt: skip
    return _measured(
        "bench curve, 273 mm",
        [0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.86, 0.89, 0.93, 0.948, 0.954],
        [2.39, 2.19, 2.01, 1.835, 1.68, 1.513, 1.362, 1.212, 1.073, 1.002, 0.991, 0.99, 0.99, 0.99],
        1.0 / k**2,
    )


def _drive_table() -> GenericShape:
    speed = np.array([1444, 1443, 1446, 1448, 1450, 1453, 1456, 1459, 1461, 1464, 1466, 1480, 1494,
                      1509, 1525, 1549, 1574, 1604, 1637, 1678, 1722, 1775, 1833, 1899, 1973, 2107,
                      2272, 3044], dtype=np.float64)  # fmt: skip
    return _measured(
        "drive table, 100 N.m",
        [0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.07, 0.08, 0.09, 0.10, 0.15, 0.20, 0.25, 0.30,
         0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75, 0.80, 0.85, 0.90, 0.95],
        [2.00, 1.99, 1.98, 1.96, 1.95, 1.94, 1.93, 1.92, 1.91, 1.89, 1.88, 1.83, 1.77, 1.72, 1.66,
         1.60, 1.55, 1.49, 1.43, 1.38, 1.32, 1.26, 1.21, 1.15, 1.10, 1.04, 1.00, 1.00],
        1.0 / speed**2,
    )  # fmt: skip


MEASURED: tuple[GenericShape, ...] = (_bench(), _drive_table())
"""Shapes of torque ratio and capacity that were measured together."""
REGULATION: Mapping[str, FloatArray] = MappingProxyType(
    {
        "speed_ratio": frozen_array(np.array([0.0, 0.6, 0.9, 1.0])),
        "capacity_share": frozen_array(np.array([1.0, 0.8, 0.5, 0.0])),
    }
)
"""The generic converter of the EU regulation: capacity, in straight lines, over the speed ratio."""


def regulation_with(measured: GenericShape, coupling: float) -> GenericShape:
    """Return the generic converter of the EU regulation with a measured shape's torque ratio.

    Parameters
    ----------
    measured : GenericShape
        The regulation's own torque ratio is not among the data.
    coupling : float
        Of the converter that is estimated: the regulation's capacity stands over the speed ratio.
    """
    corners = [
        float(near if abs(near - corner) < _SAME_PLACE else corner)
        for corner in place_of(REGULATION["speed_ratio"][1:-1], coupling)
        for near in [measured.place[np.argmin(np.abs(measured.place - corner))]]
    ]
    place = np.union1d(measured.place, corners)
    nu = speed_ratio_at(place, coupling)
    return GenericShape(
        f"EU generic converter, torque ratio of the {measured.name}",
        measured.coupling,
        frozen_array(place),
        frozen_array(np.interp(place, measured.place, measured.torque_share)),
        frozen_array(np.interp(nu, REGULATION["speed_ratio"], REGULATION["capacity_share"])),
        tuple(corner for corner in corners if corner != 1.0),
    )
