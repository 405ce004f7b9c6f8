"""The balance of many draws, as the tests read it."""

from types import SimpleNamespace

import numpy as np

from converter_match.physics.wheels.tractive import settled


def steady_state(drive, load, grade, drawn):
    """Return speed, engine speed and heat of each draw, NaN where it holds none."""
    balance = settled(drive, load, grade, drawn)
    held = balance.picked(balance.held)
    state = SimpleNamespace(**{k: np.full(drawn.size, np.nan) for k in ("speed", "engine", "heat")})
    state.speed[held.draw] = held.speed
    state.engine[held.draw] = held.wheels.turbine.engine_speed
    state.heat[held.draw] = held.wheels.oil_heat
    return state
