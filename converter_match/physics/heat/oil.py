"""Transmission-oil temperature against time: oil and metal as lumps, a cooler, a stall hold.

One lump (oil and the metal that follows it), with the cooler's conductance G = Q_c / (T - T_air):

    C dT/dt = Q - G (T - T_air)

Two lumps, with a conductance h between oil and metal:

    C_o dT_o/dt = Q - G (T_o - T_air) - h (T_o - T_m),      C_m dT_m/dt = h (T_o - T_m)

Where Q, G and h are constant both have closed forms, exponentials of the matrix of the two
equations. A cooler whose heat is a table is taken with its secant conductance over each step.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.machine import Cooler, Machine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.heat.affine import AffineChain

# A hold that has not reached the limit in this time never will, as far as a brake pedal goes.
_FOREVER = 24 * 3600.0
# Stands for the temperature of oil that no round leaves as cold as it found it [K].
UNSETTLED = 2000.0
_NO_LOSS = 1e-12  # a round that keeps all but this share of a temperature loses none of it
_HALVINGS = 80
_HOLD_STEP = 0.25


@dataclass(frozen=True)
class OilCircuit:
    """What warms up and what cools it.

    Parameters
    ----------
    oil_capacity : float
        Heat capacity of the oil, with the metal's when there is no `conductance` [J/K].
    metal_capacity : float
        Heat capacity of the metal as a lump of its own [J/K]; 0 for one lump.
    conductance : float
        Between oil and metal [W/K]; 0 for one lump.
    cooler : Cooler or None
    air_temperature : float
        At the cooler [K].
    """

    oil_capacity: float
    metal_capacity: float = 0.0
    conductance: float = 0.0
    cooler: Cooler | None = None
    air_temperature: float = field(kw_only=True)

    def __post_init__(self) -> None:
        if not (math.isfinite(self.oil_capacity) and self.oil_capacity > 0.0):
            raise InputError(
                "out of range",
                field="oil_capacity",
                found=self.oil_capacity,
                expected="a heat capacity above zero",
            )
        if (self.metal_capacity > 0.0) != (self.conductance > 0.0):
            raise InputError(
                "a metal lump of its own needs both its capacity and a conductance to the oil",
                field="metal_capacity",
                found=self.metal_capacity,
            )

    @classmethod
    def of(
        cls, machine: Machine, air_temperature: float, cooler: Cooler | None
    ) -> OilCircuit | None:
        """Return the circuit of a machine; None where its oil volume is not known.

        Parameters
        ----------
        machine : Machine
        air_temperature : float
            At the cooler [K].
        cooler : Cooler or None
            The machine's, in the air of the site.
        """
        oil = machine.oil
        capacity = oil.oil_heat_capacity
        if capacity is None:
            return None
        metal = oil.metal_heat_capacity
        if oil.metal_conductance is None or metal == 0.0:
            return cls(capacity + metal, cooler=cooler, air_temperature=air_temperature)
        return cls(capacity, metal, oil.metal_conductance, cooler, air_temperature=air_temperature)

    def cooler_conductance(self, oil_temperature: FloatArray) -> FloatArray:
        """Return the secant conductance Q_c / (T - T_air) of the cooler [W/K] (any shape)."""
        if self.cooler is None:
            return np.zeros(np.shape(oil_temperature))
        # Near no difference the secant is the slope: half a kelvin stands for it.
        span = np.maximum(oil_temperature - self.air_temperature, 0.5)
        return np.asarray(self.cooler.heat_at(span) / span)


def advance(
    circuit: OilCircuit,
    oil: ArrayLike,
    metal: ArrayLike,
    heat: ArrayLike,
    time: ArrayLike,
    conductance: ArrayLike | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Return oil and metal temperature [K] after a time with constant heat; broadcast.

    Parameters
    ----------
    circuit : OilCircuit
    oil, metal : array_like
        At the start [K]; the metal's is not used with one lump.
    heat : array_like
        Into the oil [W].
    time : array_like
        [s].
    conductance : array_like, optional
        Of the cooler [W/K]; its secant at the start if not given.

    Notes
    -----
    One lump: ``T = T_0 + (Q/C - G/C (T_0 - T_a)) t phi(G t / C)`` with ``phi(x) = (1 - e^-x) / x``,
    which is exact and needs no case for G = 0.
    Two lumps: ``x(t) = x_0 + A^-1 (e^{A t} - 1) (A x_0 + b)``, by the two real eigenvalues of A.
    """
    start = np.asarray(oil, dtype=np.float64)
    t = np.asarray(time, dtype=np.float64)
    g = circuit.cooler_conductance(start) if conductance is None else np.asarray(conductance)
    inflow = np.asarray(heat, dtype=np.float64) - g * (start - circuit.air_temperature)
    if circuit.metal_capacity == 0.0:
        after = start + inflow / circuit.oil_capacity * t * _phi(g * t / circuit.oil_capacity)
        return after, after
    other = np.asarray(metal, dtype=np.float64)
    h, c_o, c_m = circuit.conductance, circuit.oil_capacity, circuit.metal_capacity
    exchange = h * (start - other)
    rate_o, rate_m = (inflow - exchange) / c_o, exchange / c_m
    a, b, c, d = -(g + h) / c_o, h / c_o, h / c_m, -h / c_m
    half, product = 0.5 * (a + d), a * d - b * c
    root = np.sqrt(np.maximum(half * half - product, 0.0))  # above zero: b c > 0
    fast, slow = half - root, half + root
    # Projections of the rate on both eigenvectors, integrated over the time.
    share_o = (rate_o * (a - fast) + b * rate_m) / (slow - fast)
    share_m = (c * rate_o + rate_m * (d - fast)) / (slow - fast)
    grown, faded = t * _phi(-slow * t), t * _phi(-fast * t)
    return (
        start + share_o * grown + (rate_o - share_o) * faded,
        other + share_m * grown + (rate_m - share_m) * faded,
    )


def _phi(x: ArrayLike) -> FloatArray:
    """``(1 - e^-x) / x``, 1 at zero."""
    value = np.asarray(x, dtype=np.float64)
    tiny = np.abs(value) < 1e-12
    safe = np.where(tiny, 1.0, value)
    return np.where(tiny, 1.0, -np.expm1(-safe) / safe)


@dataclass(frozen=True, eq=False)
class AffineSteps:
    """What steps with known conductances do to temperatures above the air's.

    Parameters
    ----------
    chain : AffineChain
        Of the oil's; with two lumps of those of oil and metal.
    """

    chain: AffineChain

    @classmethod
    def of(
        cls, circuit: OilCircuit, heat: FloatArray, time: FloatArray, conductance: FloatArray
    ) -> AffineSteps:
        """Return the steps of heats [W], times [s] and conductances [W/K], shape (n, ...)."""
        air = circuit.air_temperature
        if circuit.metal_capacity == 0.0:
            lost = conductance * time / circuit.oil_capacity
            share = _phi(lost)
            gained = heat * time / circuit.oil_capacity * share
            return cls(
                AffineChain((1.0 - lost * share)[np.newaxis, np.newaxis], gained[np.newaxis])
            )
        gained, by_oil, by_metal = (
            np.stack(pair) - air
            for pair in (
                advance(circuit, air, air, heat, time, conductance),
                advance(circuit, air + 1.0, air, 0.0, time, conductance),
                advance(circuit, air, air + 1.0, 0.0, time, conductance),
            )
        )
        return cls(AffineChain(np.stack([by_oil, by_metal], axis=1), gained))

    def march(self, start: FloatArray) -> FloatArray:
        """Return the oil above the air [K] at the ends of the steps, shape (n + 1, draws).

        Parameters
        ----------
        start : ndarray, shape (2, draws)
            Oil and metal above the air [K].
        """
        return np.asarray(self.chain.march(start[: len(self.chain.gained)])[0])

    def periodic(self) -> FloatArray:
        """Return oil and metal above the air [K] that all steps together bring back.

        `UNSETTLED` where nothing of a temperature is lost on the way.
        """
        kept, gained = self.chain.whole
        with np.errstate(divide="ignore", invalid="ignore"):
            if len(gained) == 2:
                (oil, by_metal), (by_oil, metal) = kept
                own = (1.0 - oil) * (1.0 - metal) - by_metal * by_oil
                first = ((1.0 - metal) * gained[0] + by_metal * gained[1]) / own
                second = ((1.0 - oil) * gained[1] + by_oil * gained[0]) / own
            else:
                own = 1.0 - kept[0, 0]
                first = second = gained[0] / own
        settled = np.minimum(np.stack([first, second]), UNSETTLED)
        return np.where(own > _NO_LOSS, settled, UNSETTLED)


@dataclass(frozen=True)
class Hold:
    """What a constant heat does to the oil, SI units.

    Parameters
    ----------
    heat : float
        [W].
    start, limit : float
        Oil temperature at the start and its limit [K].
    first_rate : float
        Rise at the start [K/s].
    time_to_limit : float or None
        [s]; None where the limit is never reached.
    balance : float or None
        Temperature at which cooler and heat agree [K]; None without a cooler, or beyond its data.
    """

    heat: float
    start: float
    limit: float
    first_rate: float
    time_to_limit: float | None
    balance: float | None


def hold(circuit: OilCircuit, heat: float, start: float, limit: float) -> Hold:
    """Return how long a constant heat may last before the oil reaches its limit.

    Parameters
    ----------
    circuit : OilCircuit
    heat : float
        Into the oil [W], zero or more.
    start, limit : float
        [K].

    Raises
    ------
    InputError
        If the heat is below zero.

    Notes
    -----
    One lump and a proportional cooler: ``t = (C/G) ln((T_inf - T_0) / (T_inf - T_lim))``, with
    ``T_inf = T_air + Q/G``; without a cooler ``t = C (T_lim - T_0) / Q``. Two lumps: the closed
    form of `advance`, its time by halving. A tabulated cooler: steps of a quarter of a second.
    """
    if not (math.isfinite(heat) and heat >= 0.0):
        raise InputError("out of range", field="heat", found=heat, expected="zero or more")
    conductance = circuit.cooler_conductance(np.asarray(start))
    lost = float(conductance) * (start - circuit.air_temperature)
    return Hold(
        heat=heat,
        start=start,
        limit=limit,
        first_rate=(heat - lost) / circuit.oil_capacity,
        time_to_limit=_time_to(circuit, heat, start, limit),
        balance=_balance(circuit, heat),
    )


def _balance(circuit: OilCircuit, heat: float) -> float | None:
    from converter_match.physics.heat.continuous import oil_temperature

    if circuit.cooler is None:
        return None
    value = float(oil_temperature(circuit.cooler, np.asarray(heat), circuit.air_temperature))
    return value if math.isfinite(value) else None


def _time_to(circuit: OilCircuit, heat: float, start: float, limit: float) -> float | None:
    if start >= limit:
        return 0.0
    cooler, air = circuit.cooler, circuit.air_temperature
    # What the cooler takes at the limit is the most it has to take before: less heat never gets
    # there.
    if cooler is not None and heat <= float(cooler.heat_at(limit - air)):
        return None
    if cooler is None and heat == 0.0:
        return None
    if cooler is not None and not cooler.proportional:
        return _stepped(circuit, heat, start, limit)
    g = 0.0 if cooler is None else float(cooler.heat_at(1.0))
    if circuit.metal_capacity == 0.0:
        if g == 0.0:
            return circuit.oil_capacity * (limit - start) / heat
        final = air + heat / g
        return circuit.oil_capacity / g * math.log((final - start) / (final - limit))
    low, high = 0.0, 1.0
    while float(advance(circuit, start, start, heat, high, g)[0]) < limit:
        low, high = high, 2.0 * high
        if high > _FOREVER:
            return None
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        reached = float(advance(circuit, start, start, heat, middle, g)[0]) >= limit
        low, high = (low, middle) if reached else (middle, high)
    return high


def _stepped(circuit: OilCircuit, heat: float, start: float, limit: float) -> float | None:
    oil = metal = np.float64(start)
    step, time = _HOLD_STEP, 0.0
    while time < _FOREVER:
        # The secant conductance in the middle of the step, found by half a step first.
        middle, _ = advance(circuit, oil, metal, heat, 0.5 * step)
        g = circuit.cooler_conductance(middle)
        after, metal_after = advance(circuit, oil, metal, heat, step, g)
        if after >= limit:
            return time + step * float((limit - oil) / (after - oil))
        if after - oil < 1e-9 * step:
            return None
        oil, metal, time = np.float64(after), np.float64(metal_after), time + step
        step = min(step * 1.02, 10.0)
    return None
