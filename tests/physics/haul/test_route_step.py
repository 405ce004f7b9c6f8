"""The default step of a route against a ten times finer one, on climbs where gearboxes hunt."""

import numpy as np
import pytest

from tests.haul_random import KINDS, compared


@pytest.mark.slow
def test_time_and_fuel_hold_to_half_a_percent_on_routes_at_random():
    # What docs/route.md promises; the seed is one of those that benchmarks/route_accuracy.py runs.
    random = np.random.default_rng(3)
    arrives = [pair for pair in (compared(random, k) for k in range(KINDS)) if pair.arrives]
    assert len(arrives) >= KINDS // 2
    for pair in arrives:
        assert abs(pair.time) < 5e-3
        assert abs(pair.fuel) < 5e-3
        # A shift that only the stronger machine makes costs it the interruption: no more than that.
        assert max(pair.slower) < 0.03
