"""Engine torque shared with the implement pumps, by what the implement does.

``T_net(omega) = T_engine(omega) - accessories - T_pump(omega)``: the match slides down along the
converter's curve. Pump torque at relief is what remains to be carried when the implement stalls.
"""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.components.arrangement import HydraulicSharing
from converter_match.components.base import in_rpm
from converter_match.components.engine import Engine, SpeedTable
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.physics.engine.supply import TorqueSupply, engine_supply


@dataclass(frozen=True)
class SharedSupply:
    """Net torque of the engine in one state of the implement.

    Parameters
    ----------
    state : str
        ``without``, ``standby``, ``partial`` or ``relief``.
    supply : TorqueSupply
    pump : SpeedTable or None
        Pump torque [N.m] against engine speed [rad/s].
    """

    state: str
    supply: TorqueSupply
    pump: SpeedTable | None


def shared_supplies(
    engine: Engine,
    sharing: HydraulicSharing,
    *,
    torque_factor: float = 1.0,
    hydraulic_torque: float = 0.0,
) -> tuple[SharedSupply, ...]:
    """Return the net torque without the pumps and in each state given, least load first.

    Parameters
    ----------
    engine : Engine
    sharing : HydraulicSharing
    torque_factor, hydraulic_torque : float
        As in `physics.engine.supply.engine_supply`; a further constant torque is deducted in all
        states.

    Raises
    ------
    InputError
        If a pump table does not cover the engine's speeds from low idle to high idle: the match
        could lie where nothing is known.
    """
    found = [
        SharedSupply(
            "without",
            engine_supply(engine, torque_factor=torque_factor, hydraulic_torque=hydraulic_torque),
            None,
        )
    ]
    for state, table in sharing.states:
        supply = engine_supply(
            engine,
            torque_factor=torque_factor,
            hydraulic_torque=hydraulic_torque,
            tables=[pump_curve(engine, table, state)],
        )
        found.append(SharedSupply(state, supply, table))
    return tuple(found)


def pump_curve(engine: Engine, table: SpeedTable, state: str) -> Curve:
    """Return the pump torque over engine speed, refused where it does not cover the engine.

    Parameters
    ----------
    engine : Engine
    table : SpeedTable
        Torque [N.m] over engine speed [rad/s].
    state : str
        Of the pumps, for the message.

    Raises
    ------
    InputError
        As in `shared_supplies`.
    """
    low, high = table.curve.domain
    need_low, need_high = max(engine.low_idle, engine.full_load.domain[0]), engine.high_idle
    if low > need_low * (1 + 1e-9) or high < need_high * (1 - 1e-9):
        raise InputError(
            "the pump torque does not cover the engine's speeds, and nothing is extrapolated",
            field=f"hydraulic_sharing.{state}",
            found=in_rpm(low, high),
            expected=f"{in_rpm(need_low, need_high)} (low idle to high idle)",
        )
    return table.curve
