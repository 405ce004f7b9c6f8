"""How converters absorb torque beyond speed ratio 1, by the three tables that are published.

Few sheets go on beyond speed ratio 1. What is published is told as a shape: impeller torque there
over the stall impeller torque at the same impeller speed, ``C(nu) / C(0)``, below zero. The tables
lie apart by a factor of up to three, so what is assumed from them is a band with a middle.

Sources: default data of the vehicle CO2 model of a European Commission research centre for type
approval (its rows below 1 are those of Regulation (EU) 2017/2400, Annex VI); sample data of a
transmission research association's guideline model; National Renewable Energy Laboratory (US),
data file of May 2000 (a converter that coasts: output speed at an output torque of -80 N.m and a
torque ratio of 1 / 0.987, and the same converter at stall: 1444 rpm at 100 N.m).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from converter_match.curves import FloatArray

MIDDLE = "middle"
"""The geometric mean of the published shapes, as far as all of them go."""


def _coasting() -> tuple[FloatArray, FloatArray]:
    """Return (speed ratio, share) of the coasting converter from its rows as published."""
    # Input speed over output speed, and output speed [rpm]. The row at 1 has no slip to tell of.
    ratio = np.array([0.975, 0.95, 0.925, 0.90, 0.85, 0.80, 0.75, 0.70, 0.60, 0.50, 0.40, 0.30])
    speed = np.array([3750, 3370, 3000, 2670, 2280, 2130, 1990, 1890, 1780, 1710, 1660, 1640])
    torque, stall_torque, stall_speed = 0.987 * -80.0, 100.0, 1444.0
    return 1.0 / ratio, torque / (ratio * speed) ** 2 / (stall_torque / stall_speed**2)


def _from_one(nu: FloatArray, share: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a table with nothing absorbed at speed ratio 1, where nothing slips."""
    return np.append(1.0, nu), np.append(0.0, share)


PUBLISHED: Mapping[str, tuple[FloatArray, FloatArray]] = MappingProxyType(
    {
        "type-approval model": _from_one(
            np.array([1.1, 1.222, 1.375, 1.571, 1.833, 2.2, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0]),
            -np.array([0.099, 0.198, 0.336, 0.535, 0.828, 1.306, 1.781, 2.772, 4.071, 5.746,
                       7.861, 10.48]),
        ),
        "guideline sample": _from_one(
            np.array([1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2.0]),
            -np.array([0.132, 0.263, 0.316, 0.368, 0.421, 0.474, 0.526, 0.579, 0.632, 0.684]),
        ),
        "coasting test": _from_one(*_coasting()),
    }
)  # fmt: skip
"""Name of a published table -> (speed ratio (n,), share of the stall torque (n,))."""


def overrun_shape(name: str = MIDDLE) -> tuple[FloatArray, FloatArray]:
    """Return the rows of a shape: speed ratios from 1 on (n,), shares C(nu) / C(0) (n,).

    Parameters
    ----------
    name : str
        `MIDDLE` or a key of `PUBLISHED`.
    """
    if name != MIDDLE:
        return PUBLISHED[name]
    end = min(float(nu[-1]) for nu, _ in PUBLISHED.values())
    rows = np.unique(np.concatenate([nu for nu, _ in PUBLISHED.values()]))
    rows = rows[(rows > 1.0) & (rows <= end)]
    shares = [np.interp(rows, nu, share) for nu, share in PUBLISHED.values()]
    return _from_one(rows, -np.exp(np.mean(np.log(np.negative(shares)), axis=0)))
