"""Where a machine settles whose governor is set a little off, and whose loads are not as listed.

The solver knows one torque curve for all draws. Here a draw may have a governor line of its own and
a load on top: next to the match that the solver has found, in

    f T_s(omega) - L(omega) - X = g C omega^2,

T_s the full-load curve up to where the governor begins, and beyond it the droop line moved by s.
On the road the turbine's speed is known, and C is that of the speed ratio that omega makes with it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from converter_match.curves import Curve, FloatArray
from converter_match.physics.engine.supply import TorqueSupply

Course = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""Engine speed [rad/s] -> factor on the capacity there, and its slope [1/(rad/s)]."""
_STEPS = 8
_CLOSE = 1e-10  # of the speed: the iteration has converged
# A match lies no farther from the one it is sought next to than this share of its speed.
_NEAR = 0.25


def course_at(capacity: Curve, turbine_speed: float, engine_speed: float) -> Course:
    """Return how the capacity goes with engine speed where the turbine's speed is known.

    Parameters
    ----------
    capacity : Curve
        C [N.m/(rad/s)^2] against speed ratio; its ends are held beyond them.
    turbine_speed : float
        [rad/s].
    engine_speed : float
        At which the factor is 1 [rad/s].

    Notes
    -----
    ``C(omega_t / omega) / C(omega_t / omega_read)``. What the tachometer is off by moves the speed
    ratio as well, and near the coupling point the capacity falls steeply: a speed read 1 % high is
    a capacity up to ten and more percent too great.
    """
    low, high = capacity.domain
    at_reading = float(capacity(np.clip(turbine_speed / engine_speed, low, high)))

    def course(speed: FloatArray) -> tuple[FloatArray, FloatArray]:
        nu = turbine_speed / speed
        value, slope = capacity.with_slope(np.clip(nu, low, high))
        slope = np.where((nu < low) | (nu > high), 0.0, slope)
        return value / at_reading, -slope * nu / speed / at_reading

    return course


def settled_near(
    supply: TorqueSupply,
    governed_from: float,
    near: FloatArray,
    capacity: ArrayLike,
    torque_factor: ArrayLike,
    *,
    load: ArrayLike = 0.0,
    shift: ArrayLike = 0.0,
    course: Course | None = None,
) -> FloatArray:
    """Return the speeds at which machines settle, next to those without load and shift [rad/s].

    Parameters
    ----------
    supply : TorqueSupply
    governed_from : float
        Speed at which the governor begins to take the torque back (rated speed) [rad/s].
    near : ndarray, shape (n,)
        Matches by the solver, the load allowed for as far as it is known [rad/s].
    capacity : array_like, shape (n,)
        C in place of C(0); 0 in neutral [N.m/(rad/s)^2].
    torque_factor : array_like, shape (n,)
        f.
    load : array_like, shape (n,)
        X, taken on top [N.m]; below zero where less is taken than listed.
    shift : array_like, shape (n,)
        s, by which the droop line stands higher [rad/s].
    course : callable, optional
        How the capacity goes with engine speed; one number where it is left out.

    Returns
    -------
    ndarray, shape (n,)
        At the low end of the data a machine that cannot leave idle stays there.

    Notes
    -----
    Newton's iteration on the excess of torque. Right of the match that excess is concave, falling
    gently up to the governor and steeply beyond, so that the tangents come down upon the match.
    """
    low, high = supply.domain
    c, f, x, s = (np.asarray(v, dtype=np.float64) for v in (capacity, torque_factor, load, shift))
    start = governed_from + s
    end = high + s
    speed = np.asarray(near, dtype=np.float64)
    bottom, top = (1.0 - _NEAR) * speed, (1.0 + _NEAR) * speed
    stuck = speed <= low * (1.0 + 1e-9)
    # From the governed end of each, where the droop has moved past the match.
    speed = np.where((s != 0.0) & (speed > governed_from - np.abs(s)), speed + s, speed)
    for _ in range(_STEPS):
        own = np.where(speed > start, speed - s, np.minimum(speed, governed_from))
        own = np.clip(own, low, high)
        net, slope = supply.scaled_with_slope(own, f)
        flat = (speed <= start) & (speed > governed_from)
        slope = np.where(flat, 0.0, slope)
        factor, bend = (1.0, 0.0) if course is None else course(speed)
        excess = net - x - c * factor * speed * speed
        fall = slope - c * (2.0 * factor + bend * speed) * speed
        step = np.divide(excess, fall, out=np.zeros_like(excess), where=fall < 0.0)
        before = speed
        speed = np.clip(speed - step, np.maximum(bottom, low), np.minimum(top, end))
        if np.all(np.abs(speed - before) <= _CLOSE * speed):
            break
    return np.where(stuck, near, speed)
