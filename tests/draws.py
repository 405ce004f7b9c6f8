"""The balance of many draws, as the tests read it."""

from types import SimpleNamespace

import numpy as np

from converter_match.physics.wheels.drawn_road import DrawnRoad


def steady_state(drive, load, grade, drawn):
    """Return speed, engine speed and heat of each draw in one drive, NaN where it holds none."""
    state = DrawnRoad((drive,), (load,), drawn).held(0, grade)
    return SimpleNamespace(
        speed=np.where(state.held, state.speed, np.nan),
        engine=np.where(state.held, state.engine_speed, np.nan),
        heat=np.where(state.held, state.heat, np.nan),
    )
