"""The converter where the driver eases the throttle: what it takes to pass a turbine torque.

Where the ground takes less than the converter would give at full throttle, the engine runs at the
speed at which it gives just that:

    mu(nu) C(nu) omega_e^2 = T_t,      nu omega_e = omega_t.
"""

from __future__ import annotations

import numpy as np

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.match.turbine_speed import speed_ratio_at


def eased(
    converter: Converter, turbine_speed: FloatArray, turbine_torque: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return engine speed [rad/s] and heat in the converter [W] of a turbine torque that is passed.

    Parameters
    ----------
    converter : Converter
    turbine_speed, turbine_torque : ndarray, shape (n,)
        [rad/s], [N.m].

    Returns
    -------
    tuple of ndarray, shape (n,)
        NaN where the converter's data do not hold such a point.
    """
    low, high = max(converter.domain[0], 0.0), min(converter.domain[1], 1.0)

    def engine_speed_of_one(nu: FloatArray) -> FloatArray:
        """Engine speed that gives a turbine torque of 1 N.m; it goes with the torque's root."""
        given = converter.torque_ratio_at(nu) * converter.capacity_at(nu)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(given > 0.0, 1.0 / np.sqrt(given), np.nan))

    root = np.sqrt(np.maximum(turbine_torque, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        wanted = np.where(root > 0.0, turbine_speed / root, np.nan)
    nu = speed_ratio_at(
        lambda ratio: ratio * engine_speed_of_one(ratio),
        (low, high),
        wanted,
        corners=converter.characteristic.speed_ratio,
    )
    known = np.where(np.isfinite(nu), nu, low)
    engine = np.where(np.isfinite(nu), engine_speed_of_one(known) * root, np.nan)
    taken = converter.capacity_at(known) * engine**3
    return engine, taken * (1.0 - known * converter.torque_ratio_at(known))
