"""Fuel: a Willans line at every speed, through full load and the motored engine, or a map.

At one speed fuel flow is nearly linear in torque (Willans). The line goes through two points: full
load, where the sheet gives the specific consumption b, and no fuel at minus the motoring torque, so

    m_dot = b_i(omega) (T + T_m(omega)) omega,       b_i = b T_full / (T_full + T_m),

with T the torque at the flywheel on the rating's own basis (accessories not yet deducted) and never
below zero: a driven engine gets no fuel. b_i is the indicated specific consumption. It is held
beyond the ends of the sheet's speeds.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.engine import Engine
from converter_match.components.fuel_map import FuelMap
from converter_match.curves import FloatArray
from converter_match.notes import Note, assumption

# Where a sheet says neither: friction torque as a share of the peak torque. Common practice, no
# source.
TYPICAL_FRICTION_SHARE = 0.09
# From memory of diesel fuel; used for litres where the engine's file gives no density, and noted.
TYPICAL_DENSITY = 835.0  # kg/m^3, EN 590 allows 820 to 845 at 15 degC


@dataclass(frozen=True, eq=False)
class FuelLaw:
    """Fuel flow of an engine at any load.

    Parameters
    ----------
    speed, indicated, friction : ndarray, shape (n,)
        Engine speed [rad/s], indicated specific consumption [kg/J], friction torque [N.m].
    map : FuelMap, optional
        Used inside its grid; the line elsewhere.
    notes : tuple of Note
    """

    speed: FloatArray
    indicated: FloatArray
    friction: FloatArray
    map: FuelMap | None = None
    notes: tuple[Note, ...] = field(default=())

    def rate(self, torque: ArrayLike, speed: ArrayLike) -> FloatArray:
        """Return the fuel flow [kg/s] at flywheel torque [N.m] and engine speed [rad/s]."""
        w = np.asarray(speed, dtype=np.float64)
        load = np.asarray(torque, dtype=np.float64) + np.interp(w, self.speed, self.friction)
        flow = np.interp(w, self.speed, self.indicated) * np.maximum(load, 0.0) * w
        if self.map is None:
            return np.asarray(flow)
        mapped, inside = self.map.at(torque, speed)
        return np.where(inside, mapped, flow)


def fuel_law(engine: Engine, fuel_map: FuelMap | None = None) -> FuelLaw | None:
    """Return the fuel law of an engine, or None where its data give no consumption.

    Parameters
    ----------
    engine : Engine
        With full-load specific consumption.
    fuel_map : FuelMap, optional

    Notes
    -----
    The friction torque is, in this order: the motoring table; from the fuel at idle,
    ``T_m = m_dot / (b omega)`` there, constant; a typical share of the peak torque. Which one was
    taken is noted.
    """
    fuel = engine.fuel
    notes: list[Note] = []
    if fuel is None or fuel.specific is None:
        if fuel_map is None:
            return None
        zero = np.zeros(2)
        note = assumption(
            "fuel-map-only",
            "Fuel comes from a map alone: outside it, where the engine is driven or faster than "
            "the map goes, none is counted.",
        )
        return FuelLaw(np.array([engine.low_idle, engine.high_idle]), zero, zero, fuel_map, (note,))
    low, high = fuel.specific.curve.domain
    top = min(high, engine.rated_speed)
    speed = np.unique(np.concatenate([np.linspace(low, top, 60), fuel.specific.speed]))
    speed = speed[(speed <= top) & (speed >= engine.full_load.domain[0])]
    specific = np.asarray(fuel.specific.curve(speed))
    full = np.asarray(engine.full_load(speed))
    friction_speed = np.unique(np.append(speed, [engine.low_idle, engine.high_idle]))
    friction = _friction(engine, friction_speed, specific, notes)
    at_speed = np.interp(speed, friction_speed, friction)
    indicated = np.interp(friction_speed, speed, specific * full / (full + at_speed))
    if high < engine.rated_speed * (1 - 1e-6) or low > engine.low_idle * (1 + 1e-6):
        notes.append(
            assumption(
                "fuel-held-beyond-table",
                "The fuel table does not cover idle to rated speed: the indicated specific "
                "consumption is held at its ends.",
            )
        )
    return FuelLaw(friction_speed, indicated, friction, fuel_map, tuple(notes))


def _friction(
    engine: Engine, speed: FloatArray, specific: FloatArray, notes: list[Note]
) -> FloatArray:
    table, fuel = engine.motoring, engine.fuel
    if table is not None:
        notes.append(
            assumption(
                "fuel-willans",
                "Fuel at part load: a straight line at each speed from full load to none at the "
                "motoring torque.",
            )
        )
        return np.asarray(np.interp(speed, table.speed, table.value))
    if fuel is not None and fuel.idle_rate is not None:
        torque = fuel.idle_rate / (float(specific[0]) * engine.low_idle)
        # The table's b counts per unit of brake work; per unit of indicated work it is less, by
        # the same torque: solve T_m = m_dot (T_f + T_m) / (b T_f omega).
        full = float(engine.full_load(max(engine.low_idle, engine.full_load.domain[0])))
        torque = torque / (1.0 - torque / full) if torque < 0.5 * full else torque
        notes.append(
            assumption(
                "fuel-willans-idle",
                "No motoring torque is given: the fuel line's friction, {torque:torque .0f} at "
                "every speed, comes from the fuel at idle.",
                torque=torque,
            )
        )
        return np.full(speed.shape, torque)
    torque = TYPICAL_FRICTION_SHARE * engine.peak_torque[1]
    notes.append(
        assumption(
            "fuel-willans-typical",
            f"Neither motoring torque nor fuel at idle is given: {100 * TYPICAL_FRICTION_SHARE:.0f}"
            " % of the peak torque, {torque:torque .0f}, is taken as friction (common practice, "
            "no source): fuel at light load is rough.",
            torque=torque,
        )
    )
    return np.full(speed.shape, torque)


def iso_3046_consumption(
    specific: float, k: float, alpha: float, heating_value_ratio: float = 1.0
) -> float:
    """Return the specific consumption at a site by ISO 3046-1.

    ``b = b_ref (LHV_ref / LHV) beta`` with ``beta = k / alpha``.

    Parameters
    ----------
    specific : float
        In reference air [kg/J].
    k : float
        Ratio of indicated power.
    alpha : float
        Power adjustment factor.
    heating_value_ratio : float
        LHV of the reference fuel / LHV of the fuel used.
    """
    return specific * heating_value_ratio * k / alpha
