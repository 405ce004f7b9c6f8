"""The stall test: what speed to expect, and what a speed that was read says. SI arrays.

With the turbine held the engine settles where

    f T(omega) - L(omega) = g C(0) omega^2,

T the torque of a healthy engine in the air of the day, L what accessories, standby and hydraulics
take, C(0) the stall capacity on the sheet; f and g are the torque and capacity that are really
there, as shares of these. Read omega, and all but f and g is known: the equation is a straight line
between the two. One reading cannot tell them apart; readings under different loads can.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import in_rpm
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import match

# Volume expansion of mineral oil, 6.5 to 7e-4 per kelvin: from memory.
OIL_EXPANSION = 6.75e-4
# Converter sheets are measured warm: 40 CFR 1037.570 asks for 87 to 93 degC.
REFERENCE_OIL = 363.15
# Mean inner radius / outer radius of the flow path, squared, of a usual circuit: assumption.
RADIUS_RATIO_SQUARED = 0.3


@dataclass(frozen=True)
class Absorber:
    """Something that takes ``capacity omega^2`` whatever the speed ratio; 0 in neutral.

    Parameters
    ----------
    capacity : float
        [N.m/(rad/s)^2].
    """

    capacity: float

    def capacity_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return C [N.m/(rad/s)^2]."""
        return np.full(np.shape(speed_ratio), self.capacity)

    def torque_ratio_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return 1: the torque ratio does not matter to the engine."""
        return np.ones(np.shape(speed_ratio))


def density_factor(
    oil_temperature: ArrayLike,
    reference: float = REFERENCE_OIL,
    expansion: float = OIL_EXPANSION,
) -> FloatArray:
    """Return oil density / density at the reference temperature, by which C goes (any shape).

    Parameters
    ----------
    oil_temperature : array_like
        [K].
    reference : float
        Oil temperature at which the capacity was measured [K].
    expansion : float
        Volume expansion [1/K].

    Notes
    -----
    ``rho / rho_ref = 1 / (1 + beta (t - t_ref))`` and C goes with rho (VDI 2153). Viscosity is not
    in it: cold thick oil adds losses, which lower the stall torque ratio and move the capacity by a
    percent or two either way; warm the oil before the test rather than correct for it.
    """
    warmer = np.asarray(oil_temperature, dtype=np.float64) - reference
    return np.asarray(1.0 / (1.0 + expansion * warmer))


def settling_speed(
    supply: TorqueSupply,
    capacity: ArrayLike,
    torque_factor: ArrayLike = 1.0,
    *,
    from_high_idle: bool = False,
) -> FloatArray:
    """Return the speed at which the engine settles [rad/s]; arguments broadcast.

    Parameters
    ----------
    supply : TorqueSupply
    capacity : array_like
        C(0) or what takes its place [N.m/(rad/s)^2]; 0 with the converter out of it.
    torque_factor : array_like
        f.
    from_high_idle : bool
        Coming down from high idle, as when a pump goes to relief, and not up from idle.

    Returns
    -------
    ndarray
        Where it settles at no known speed, the end of the known ones towards which it goes: the
        lowest where it cannot leave idle, the highest where nothing holds it.
    """
    c, f = np.asarray(capacity, dtype=np.float64), np.asarray(torque_factor, dtype=np.float64)
    free = c == 0.0
    if np.any(free) and not np.all(free):  # neutral beside stalls: each by itself
        c, f, free = np.broadcast_arrays(c, f, free)
        speed = np.empty(c.shape)
        for part in (free, ~free):
            speed[part] = settling_speed(supply, c[part], f[part], from_high_idle=from_high_idle)
        return speed
    if np.all(free):
        met = match(supply, Absorber(0.0), 0.0, torque_factor=f)
    else:
        met = match(supply, Absorber(1.0), 0.0, capacity_factor=c, torque_factor=f)
    points = met.from_high_idle() if from_high_idle else met.from_idle()
    low, high = supply.domain
    goes_up = ~met.held_back if from_high_idle else met.pulls_away
    speed = np.asarray(points.engine_speed)
    return np.where(np.isfinite(speed), speed, np.where(goes_up, high, low))


def elasticity(supply: TorqueSupply, speed: ArrayLike) -> FloatArray:
    """Return e = d ln T_net / d ln omega at an engine speed [rad/s] (any shape).

    A share d more torque raises the stall speed by ``d / (2 - e)``, a share more capacity lowers it
    by as much: for checks by hand.

    Parameters
    ----------
    supply : TorqueSupply
    speed : array_like
        Engine speed [rad/s].
    """
    w = np.asarray(speed, dtype=np.float64)
    torque, slope = supply.with_slope(w)
    return np.asarray(slope * w / torque)


# --- inversion -----------------------------------------------------------------------------------


def healthy_torque(supply: TorqueSupply, speed: ArrayLike) -> FloatArray:
    """Return T(omega), before loads, at a speed that must be inside the data [N.m].

    Parameters
    ----------
    supply : TorqueSupply
    speed : array_like
        Engine speed [rad/s], any shape.

    Raises
    ------
    InputError
        If a speed lies outside the data, or where the engine gives no torque.
    """
    w = np.asarray(speed, dtype=np.float64)
    supply.torque(w)  # refuses what is outside
    torque = np.asarray(supply.factor * supply.source(w))
    if np.any(torque <= 0):
        raise InputError(
            "at this speed the governor leaves no torque: nothing can be told from it",
            field="engine speed",
            found=in_rpm(float(w[torque <= 0].flat[0])),
            expected="a speed below high idle",
        )
    return torque


def torque_factor_for(
    supply: TorqueSupply, capacity: ArrayLike, speed: ArrayLike, capacity_factor: ArrayLike = 1.0
) -> FloatArray:
    """Return f that explains a reading: ``f = (g C omega^2 + L) / T``; arguments broadcast.

    Exact; no solver. Over `capacity_factor` it is the straight line of all explanations.

    Parameters
    ----------
    supply : TorqueSupply
    capacity : array_like
        C at stall by the sheet [N.m/(rad/s)^2].
    speed : array_like
        Engine speed that was read [rad/s].
    capacity_factor : array_like
        g.

    Raises
    ------
    InputError
        As `healthy_torque`.
    """
    w = np.asarray(speed, dtype=np.float64)
    c = np.asarray(capacity, dtype=np.float64) * np.asarray(capacity_factor, dtype=np.float64)
    return np.asarray((c * w * w + supply.load_torque(w)) / healthy_torque(supply, w))


def capacity_factor_for(
    supply: TorqueSupply, capacity: ArrayLike, speed: ArrayLike, torque_factor: ArrayLike = 1.0
) -> FloatArray:
    """Return g that explains a reading: ``g = (f T - L) / (C omega^2)``; arguments broadcast.

    Parameters
    ----------
    supply : TorqueSupply
    capacity : array_like
        C at stall by the sheet [N.m/(rad/s)^2].
    speed : array_like
        Engine speed that was read [rad/s].
    torque_factor : array_like
        f.

    Raises
    ------
    InputError
        As `healthy_torque`.
    """
    w = np.asarray(speed, dtype=np.float64)
    f = np.asarray(torque_factor, dtype=np.float64)
    left = f * healthy_torque(supply, w) - supply.load_torque(w)
    return np.asarray(left / (np.asarray(capacity, dtype=np.float64) * w * w))


@dataclass(frozen=True, eq=False)
class ReadingCondition:
    """Under what an engine speed was read.

    Parameters
    ----------
    supply : TorqueSupply
        Healthy engine less all loads of this reading, relief torque included.
    capacity : float
        C(0) in the oil of the reading; 0 where the converter was out of it [N.m/(rad/s)^2].
    speed : float
        As read [rad/s].
    speed_sigma : float
        Standard error of the reading [rad/s].
    load_sigma : float
        Standard error of the loads [N.m].
    """

    supply: TorqueSupply
    capacity: float
    speed: float
    speed_sigma: float
    load_sigma: float = 0.0


@dataclass(frozen=True)
class Separated:
    """Torque and capacity factors from readings under different loads.

    Parameters
    ----------
    torque_factor, capacity_factor : float
    torque_sigma, capacity_sigma : float
        Standard errors.
    correlation : float
        Between the two.
    misfit : float
        Sum of squares of what is left, in standard errors.
    surplus : int
        Readings beyond the two that are needed.
    residuals : tuple of float
        What is left of each reading, in its standard errors.
    """

    torque_factor: float
    capacity_factor: float
    torque_sigma: float
    capacity_sigma: float
    correlation: float
    misfit: float
    surplus: int
    residuals: tuple[float, ...] = ()


def separate(conditions: tuple[ReadingCondition, ...], worst: float = 0.5) -> Separated | None:
    """Return f and g from two or more readings; None where the readings cannot tell them apart.

    Parameters
    ----------
    conditions : tuple of ReadingCondition
    worst : float
        Standard error of a factor above which the two count as not separated.

    Raises
    ------
    InputError
        As `healthy_torque`.

    Notes
    -----
    Each reading is one line ``f T - g C omega^2 = L``, linear in both unknowns: least squares with
    the weights of ``sigma^2 = (sigma_omega d(f T - L - g C omega^2)/d omega)^2 + sigma_L^2``,
    taken at the solution.
    """
    if len(conditions) < 2:
        return None
    rows, right = [], []
    for item in conditions:
        torque = float(healthy_torque(item.supply, item.speed))
        rows.append([torque, -item.capacity * item.speed**2])
        right.append(float(item.supply.load_torque(np.asarray(item.speed))))
    a, b = np.array(rows), np.array(right)
    # Lines that are parallel but for rounding have no point in common.
    unit = a / np.linalg.norm(a, axis=1, keepdims=True)
    if np.linalg.matrix_rank(unit, tol=1e-9) < 2:
        return None
    f, g = (float(x) for x in np.linalg.lstsq(a, b, rcond=None)[0])
    covariance: FloatArray = np.zeros((2, 2))
    for _ in range(4):
        weight = 1.0 / np.array([_row_sigma(item, f, g) for item in conditions])
        scaled, target = a * weight[:, np.newaxis], b * weight
        solved = np.linalg.lstsq(scaled, target, rcond=None)[0]
        f, g = float(solved[0]), float(solved[1])
        covariance = np.asarray(np.linalg.inv(scaled.T @ scaled))
    rest = target - scaled @ np.array([f, g])
    sigma_f, sigma_g = (float(s) for s in np.sqrt(np.diag(covariance)))
    if not (sigma_f < worst and sigma_g < worst):
        return None
    return Separated(
        f,
        g,
        sigma_f,
        sigma_g,
        float(covariance[0, 1] / (sigma_f * sigma_g)),
        float(rest @ rest),
        len(conditions) - 2,
        tuple(float(r) for r in rest),
    )


def _row_sigma(item: ReadingCondition, f: float, g: float) -> float:
    w = np.asarray(item.speed)
    net, slope = item.supply.scaled_with_slope(w, f)
    steepness = float(slope) - 2.0 * g * item.capacity * item.speed
    return float(np.hypot(steepness * item.speed_sigma, item.load_sigma)) or 1e-9 * abs(float(net))


# --- the stator that does not hold ---------------------------------------------------------------


def coupling_law(speed_ratio: ArrayLike, m: float = RADIUS_RATIO_SQUARED) -> FloatArray:
    """Return C(nu) / C(0) of a fluid coupling with radial blades (any shape, 0 <= nu <= 1).

    Parameters
    ----------
    speed_ratio : array_like
    m : float
        (r1 / r2)^2, inner over outer radius of the circuit.

    Notes
    -----
    Derived here. Euler: ``T = rho Q (r2^2 w_p - r1^2 w_t)``. Head: ``(w_p - w_t)(r2^2 w_p - r1^2
    w_t)`` less the shock losses at both entries, ``(r1^2 + r2^2)(w_p - w_t)^2 / 2``, leaves
    ``(r2^2 - r1^2)(w_p^2 - w_t^2) / 2``, which friction with Q^2 takes up. So ``Q ~ sqrt(1 -
    nu^2)`` and ``C(nu) / C(0) = sqrt(1 - nu^2) (1 - m nu)`` with ``m = (r1 / r2)^2``.
    """
    nu = np.asarray(speed_ratio, dtype=np.float64)
    return np.asarray(np.sqrt(np.maximum(1.0 - nu * nu, 0.0)) * (1.0 - m * nu))


def freewheeling_capacity(
    capacity_at: Callable[[FloatArray], FloatArray], speed_ratio: FloatArray
) -> tuple[float, float]:
    """Return smallest and largest stall capacity with a free stator, from the coupling range.

    Parameters
    ----------
    capacity_at : callable
        C(nu) of the converter.
    speed_ratio : ndarray, shape (n,)
        Rows from the coupling point to below 1, where the stator turns free anyway.

    Notes
    -----
    Each row is carried to stall by `coupling_law`; the spread is what the law leaves open. An
    estimate.
    """
    at_stall = capacity_at(speed_ratio) / coupling_law(speed_ratio)
    return float(at_stall.min()), float(at_stall.max())
