"""Heat in the clutches of a powershift gearbox: changes of gear on the move, changes of direction.

The clutch that takes over brings the turbine side to its new speed. With the machine's speed kept,
a steady torque and a slip s_0 that falls in a straight line over the time t of the change (textbook
of clutches),

    E = 1/2 J s_0^2 + 1/2 |T| s_0 t,

J the inertia of turbine and gearbox input, T the torque that the turbine side carries on with. In a
change of direction at rest the turbine has come up to the engine in neutral, the throttle eased to
low idle, and is stopped: s_0 is idle speed, T the turbine's torque at stall and idle.
"""

from __future__ import annotations

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.curves import FloatArray
from converter_match.physics.haul.energy import StepStates
from converter_match.physics.haul.steps import SpeedProfile
from converter_match.physics.wheels.drive_chain import DriveChain

# Where the driveline's file gives no shift time: common practice, no source.
TYPICAL_CHANGE = 0.5


def slip_heat(
    inertia: float, slip: FloatArray | float, torque: FloatArray | float, time: float
) -> FloatArray:
    """Return the heat of a clutch that takes over [J]; broadcast.

    Parameters
    ----------
    inertia : float
        [kg.m^2].
    slip : array_like
        At the beginning [rad/s].
    torque : array_like
        That the turbine side carries on [N.m].
    time : float
        Of the change [s].

    Examples
    --------
    >>> float(slip_heat(0.5, 100.0, 400.0, 0.5))
    12500.0
    """
    step = np.abs(slip)
    return np.asarray(0.5 * inertia * step**2 + 0.5 * np.abs(torque) * step * time)


def of_shifts(
    chain: DriveChain, profile: SpeedProfile, states: StepStates, inertia: float, time: float
) -> float:
    """Return the heat of all changes of gear of one run [J].

    Parameters
    ----------
    chain : DriveChain
    profile : SpeedProfile
    states : StepStates
    inertia : float
        Turbine and gearbox input [kg.m^2].
    time : float
        Of a change [s].
    """
    state = profile.state[:, 0]
    gear = chain.gear_index[state]
    at = np.flatnonzero(gear[1:] != gear[:-1]) + 1
    speed = profile.speed[at, 0]
    turning = chain.ratio_over_radius
    slip = speed * (turning[state[at]] - turning[state[at - 1]])
    return float(slip_heat(inertia, slip, states.turbine_torque[at, 0], time).sum())


def of_reversal(engine: Engine, converter: Converter, inertia: float, time: float) -> float:
    """Return the heat of a change of direction at rest [J].

    Parameters
    ----------
    engine : Engine
    converter : Converter
    inertia : float
        Turbine and gearbox input [kg.m^2].
    time : float
        Of the change [s].
    """
    idle = engine.low_idle
    torque = float(converter.torque_ratio_at(0.0) * converter.capacity_at(0.0)) * idle**2
    return float(slip_heat(inertia, idle, torque, time))
