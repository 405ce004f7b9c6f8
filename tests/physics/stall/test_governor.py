"""Governor set off, loads not as listed: against roots found by scipy, written out here."""

import numpy as np
import pytest
from scipy.optimize import brentq

from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.stall.governor import settled_near
from converter_match.physics.stall.settling import settling_speed
from tests.examples import RPM, converter, engine

RATED, HIGH = 2200 * RPM, 2380 * RPM


def by_scipy(capacity, factor, load, shift):
    """The full-load line up to the governor, beyond it a droop line moved by the shift."""
    unit = engine()

    def excess(w):
        onset = RATED + shift
        if w > onset:
            torque = 803.0 * (HIGH + shift - w) / (HIGH - RATED)
        else:
            torque = float(unit.full_load(np.asarray(min(w, RATED))))
        own = w - shift if w > onset else min(w, RATED)
        taken = 11e3 / RATED * (own / RATED) ** 2 + 3e3 / RATED * (own / RATED) ** 0.4
        return factor * torque - taken - load - capacity * w * w

    return brentq(excess, 1200 * RPM, HIGH + shift)


@pytest.mark.parametrize("shift", [-30.0, 0.0, 25.0])
@pytest.mark.parametrize("load", [-20.0, 0.0, 80.0])
@pytest.mark.parametrize("scale", [0.0, 0.45, 0.6, 1.0])
def test_draws_settle_where_torque_meets_capacity_load_and_a_governor_set_off(scale, load, shift):
    supply, capacity = engine_supply(engine()), scale * float(converter().capacity_at(0.0))
    near = np.atleast_1d(settling_speed(supply, capacity))
    found = settled_near(
        supply, RATED, near, np.full(1, capacity), np.full(1, 0.97), load=load, shift=shift * RPM
    )
    assert found[0] == pytest.approx(by_scipy(capacity, 0.97, load, shift * RPM), rel=1e-4)


def test_without_load_and_shift_nothing_moves():
    supply, capacity = engine_supply(engine()), float(converter().capacity_at(0.0))
    scales = np.linspace(0.4, 1.6, 25)
    near = settling_speed(supply, capacity * scales)
    found = settled_near(supply, RATED, near, capacity * scales, np.ones(25))
    assert found == pytest.approx(near, rel=1e-9)


def test_engine_that_cannot_leave_idle_stays_there():
    supply, capacity = engine_supply(engine()), 20 * float(converter().capacity_at(0.0))
    near = np.atleast_1d(settling_speed(supply, capacity))
    assert settled_near(supply, RATED, near, capacity, np.ones(1), load=50.0, shift=2.0) == near
