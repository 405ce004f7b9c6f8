"""From the torque asked of the turbine shaft back to the engine, at any load, driving or retarding.

Open converter, driving: ``T_t = mu C omega^2`` and ``omega_t = nu omega``, so

    omega_t / sqrt(T_t) = nu / sqrt(mu C),

which rises with nu from 0 at stall: one look-up gives nu, and with it engine speed and torque.
The engine's full-load curve does not enter; the governor or the driver's foot provides. Below low
idle the engine does not go: the converter then pulls at least what it does at idle (creep), and the
brakes hold the rest.

Retarding: the equilibrium of `physics.arrangement.overrun` in the open converter, the engine's
drag as it is
when locked up. Locked up, the shafts are one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note, assumption
from converter_match.physics.arrangement.overrun import (
    braking,
    braking_range,
    locked_braking,
    motoring_supply,
    with_overrun,
)
from converter_match.physics.engine.supply import TorqueSupply

_ROWS = 1201
_BRAKE_ROWS = 161


@dataclass(frozen=True, eq=False)
class Shafts:
    """Engine and impeller at points of the turbine shaft; arrays of one shape.

    Parameters
    ----------
    engine_speed, impeller_torque, turbine_torque : ndarray
        [rad/s], [N.m], [N.m]; the last may exceed what was asked for (creep), or fall short of the
        retarding that was asked for.
    heat : ndarray
        In the converter [W].
    """

    engine_speed: FloatArray
    impeller_torque: FloatArray
    turbine_torque: FloatArray
    heat: FloatArray


class Demand(Protocol):
    """What a route asks: from the turbine shaft back to an engine, or to a motor."""

    @property
    def idle(self) -> float:
        """Speed with the machine standing [rad/s]."""

    @property
    def notes(self) -> tuple[Note, ...]:
        """What was assumed."""

    def least_torque(self, turbine_speed: FloatArray, locked: NDArray[np.bool_]) -> FloatArray:
        """Return the least turbine torque [N.m]: full retarding, or creep; broadcast."""

    def at(
        self, turbine_speed: FloatArray, torque: FloatArray, locked: NDArray[np.bool_]
    ) -> Shafts:
        """Return the shafts at turbine speeds [rad/s] and torques [N.m] asked for; one shape."""


@dataclass(frozen=True, eq=False)
class ShaftDemand:
    """Look-ups of one engine and converter.

    Parameters
    ----------
    converter : Converter
    idle : float
        Low idle [rad/s].
    scaled_speed, speed_ratio : ndarray
        ``nu / sqrt(mu C)`` and nu.
    brake_speed, brake_torque, brake_engine, brake_share : ndarray
        Retarding in the open converter over turbine speed: torque there (below zero), engine
        speed, impeller torque / turbine torque. Empty where there is none.
    locked_speed, locked_torque : ndarray
        Engine drag over speed (below zero); empty where not known.
    notes : tuple of Note
    """

    converter: Converter
    idle: float
    scaled_speed: FloatArray
    speed_ratio: FloatArray
    brake_speed: FloatArray
    brake_torque: FloatArray
    brake_engine: FloatArray
    brake_share: FloatArray
    locked_speed: FloatArray
    locked_torque: FloatArray
    notes: tuple[Note, ...] = ()

    @classmethod
    def of(
        cls, engine: Engine, converter: Converter, *, hydraulic_torque: float = 0.0
    ) -> ShaftDemand:
        """Tabulate; what is missing for retarding is noted and counts as none."""
        nu = np.linspace(0.0, min(converter.domain[1], 1.0), _ROWS)
        mu, c = converter.torque_ratio_at(nu), converter.capacity_at(nu)
        with np.errstate(divide="ignore", invalid="ignore"):
            scaled = np.where(mu * c > 0.0, nu / np.sqrt(np.maximum(mu * c, 1e-300)), np.inf)
        keep = np.isfinite(scaled) & (scaled > np.maximum.accumulate(np.append(-1.0, scaled[:-1])))
        notes: list[Note] = []
        empty = np.empty(0)
        open_rows = (empty, empty, empty, empty)
        locked_rows = (empty, empty)
        supply = _drag(engine, hydraulic_torque, notes)
        if supply is not None:
            speeds = np.linspace(*supply.domain, _BRAKE_ROWS)
            locked_rows = (speeds, np.asarray(locked_braking(supply, speeds).turbine_torque))
            open_rows = _open_braking(supply, converter, notes) or open_rows
        return cls(
            converter, engine.low_idle, scaled[keep], nu[keep], *open_rows, *locked_rows,
            notes=tuple(notes),
        )  # fmt: skip

    def least_torque(self, turbine_speed: FloatArray, locked: NDArray[np.bool_]) -> FloatArray:
        """Return the least turbine torque [N.m]: full retarding, or creep below idle; broadcast."""
        speed = np.asarray(turbine_speed, dtype=np.float64)
        held = _in_range(speed, self.locked_speed, self.locked_torque)
        dragged = _in_range(speed, self.brake_speed, self.brake_torque)
        ratio = np.clip(speed / self.idle, 0.0, self.speed_ratio[-1])
        creep = self.converter.torque_ratio_at(ratio) * self.converter.capacity_at(ratio)
        creep = np.where(speed < self.idle * self.speed_ratio[-1], creep * self.idle**2, 0.0)
        return np.where(locked, held, creep + dragged)

    def at(
        self, turbine_speed: FloatArray, torque: FloatArray, locked: NDArray[np.bool_]
    ) -> Shafts:
        """Return the engine at turbine speeds [rad/s] and torques [N.m] asked for; one shape.

        A torque below `least_torque` is raised to it.
        """
        speed = turbine_speed
        given = np.maximum(torque, self.least_torque(speed, locked))
        pulls = given > 0.0
        pull = np.where(pulls, given, 1.0)
        nu = np.interp(speed / np.sqrt(pull), self.scaled_speed, self.speed_ratio)
        mu = np.asarray(self.converter.torque_ratio_at(nu))
        capacity = np.asarray(self.converter.capacity_at(nu))
        with np.errstate(divide="ignore", invalid="ignore"):
            by_ratio = speed / nu
            by_torque = np.sqrt(pull / (mu * capacity))
        engine = np.where(nu > 0.3, by_ratio, by_torque)
        impeller = pull / mu
        idles = pulls & (engine < self.idle)
        # At idle the turbine torque was raised to creep already: only rounding is left.
        engine = np.where(idles, self.idle, engine)
        if self.brake_speed.size:
            driven = np.interp(speed, self.brake_speed, self.brake_engine)
            part = np.interp(speed, self.brake_speed, self.brake_share)
        else:
            driven, part = np.maximum(speed, self.idle), np.ones(speed.shape)
        engine = np.where(pulls, engine, np.maximum(driven, self.idle))
        impeller = np.where(pulls, impeller, given * part)
        engine = np.where(locked, speed, engine)
        impeller = np.where(locked, given, impeller)
        heat = impeller * engine - given * speed
        return Shafts(engine, impeller, given, np.asarray(heat))


def _in_range(speed: FloatArray, rows: FloatArray, values: FloatArray) -> FloatArray:
    if not rows.size:
        return np.zeros(speed.shape)
    # Faster than the table the last row is held: less braking than there is.
    return np.asarray(np.interp(speed, rows, values, left=0.0))


def _drag(engine: Engine, hydraulic_torque: float, notes: list[Note]) -> TorqueSupply | None:
    brake = engine.exhaust_brake is not None
    if not brake and engine.motoring is None:
        notes.append(
            assumption(
                "no-engine-braking",
                "The engine's file has no motoring torque: engine braking counts as none, and the "
                "service brakes carry every descent.",
            )
        )
        return None
    return motoring_supply(engine, exhaust_brake=brake, hydraulic_torque=hydraulic_torque)


def _open_braking(
    supply: TorqueSupply, converter: Converter, notes: list[Note]
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray] | None:
    try:
        extended = with_overrun(converter, assume=True)
        if extended is not converter:
            notes += [n for n in extended.notes if n.code == "overrun-assumed"]
        low, high = braking_range(supply, extended)
    except InputError as error:
        notes.append(
            assumption(
                "no-overrun-braking",
                "Braking through the open converter counts as none: " + error.problem + ".",
            )
        )
        return None
    speeds = np.linspace(low, high, _BRAKE_ROWS)
    braked = braking(supply, extended, speeds)
    good = np.isfinite(braked.turbine_torque) & np.isfinite(braked.engine_speed)
    if good.sum() < 2:
        return None
    return (
        speeds[good],
        braked.turbine_torque[good],
        braked.engine_speed[good],
        (braked.impeller_torque / braked.turbine_torque)[good],
    )
