"""How long a motor's winding stands a torque above its continuous one.

The winding is one body. With the rise theta counted in units of the steady rise at the continuous
torque, and q = (T / T_c)^2 for the heat of a torque T,

    tau d theta / dt = q - theta,

so that from theta_0 the limit m is reached after

    t = tau ln((q - theta_0) / (q - m)),

never where q <= m. It is the form that thermal overload relays go by (IEC 60255-149, from memory).
The time constant follows from a time t_p at the peak torque, where the sheet states none.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.motor import Motor
from converter_match.curves import FloatArray


def time_constant(motor: Motor) -> float:
    """Return tau [s]: as stated, or from the time at peak torque.

    Infinite where the peak torque is no overload: nothing is said of how fast the winding warms.

    Parameters
    ----------
    motor : Motor

    Notes
    -----
    From cold ``tau = t_p / ln(q / (q - m))``; from the continuous temperature
    ``tau = t_p / ln((q - 1) / (q - m))``, with q at the row where the peak torque begins to fall.
    """
    stated = motor.winding.time_constant
    if stated is not None:
        return stated
    q, limit = motor.overload, motor.winding.headroom
    start = 1.0 if motor.peak_from == "warm" else 0.0
    if not limit < q < math.inf:
        return math.inf
    return motor.peak_time / math.log((q - start) / (q - limit))


def permitted(motor: Motor, coolant: float | None) -> float:
    """Return the limit m in units of the steady rise at the continuous torque.

    Parameters
    ----------
    motor : Motor
    coolant : float or None
        Air or water around the motor [K]; None for that of its rating. A cooler one is not
        counted.

    Notes
    -----
    ``m = (theta_limit - theta_coolant) / rise``; below 1 the continuous torque cannot be held.
    """
    winding = motor.winding
    limit, rise = winding.limit, winding.continuous_rise
    if coolant is None or limit is None or rise is None or coolant <= winding.coolant:
        return winding.headroom
    return max((limit - coolant) / rise, 0.0)


def derating(motor: Motor, coolant: float | None) -> float:
    """Return the share of the continuous torque that a hot coolant leaves, at most 1.

    Parameters
    ----------
    motor : Motor
    coolant : float or None
        [K].

    Notes
    -----
    Its heat goes with the square, so the share is ``sqrt(m)``.
    """
    return math.sqrt(min(permitted(motor, coolant), 1.0))


def holding_time(
    motor: Motor,
    share: ArrayLike,
    *,
    start: float = 0.0,
    coolant: float | None = None,
) -> FloatArray:
    """Return how long a torque is held until the winding is at its limit [s]; infinite for good.

    Parameters
    ----------
    motor : Motor
    share : array_like
        Torque / continuous torque at that speed, any shape.
    start : float
        Rise at the start in units of that at the continuous torque: 0 cold, 1 after long work at
        the continuous torque.
    coolant : float, optional
        [K].
    """
    q = np.square(np.asarray(share, dtype=np.float64))
    limit, tau = permitted(motor, coolant), time_constant(motor)
    if start >= limit:
        return np.where(q > limit, 0.0, np.inf)
    with np.errstate(divide="ignore", invalid="ignore"):
        time = tau * np.log((q - start) / (q - limit))
    return np.where(q > limit, time, np.inf)


def rise_after(
    motor: Motor, square: FloatArray, time: FloatArray, *, start: float = 0.0
) -> FloatArray:
    """Return the rise at the ends of steps, in units of that at the continuous torque.

    Parameters
    ----------
    motor : Motor
    square : ndarray, shape (n,)
        (T / T_c)^2 in each step.
    time : ndarray, shape (n,)
        Length of each step [s].
    start : float
        At the beginning of the first.

    Returns
    -------
    ndarray, shape (n + 1,)
        ``theta_k+1 = q + (theta_k - q) e^(-t / tau)``; the first is `start`.
    """
    tau = time_constant(motor)
    kept = np.exp(-np.asarray(time) / tau)
    rises = [start]
    for q, share in zip(np.asarray(square).tolist(), kept.tolist(), strict=True):
        rises.append(q + (rises[-1] - q) * share)
    return np.asarray(rises)
