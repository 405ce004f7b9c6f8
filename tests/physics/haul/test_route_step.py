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
        # A kilometre downhill takes some ten grams: a gram or two of it is no longer a share.
        assert abs(pair.fuel) < 5e-3 or abs(pair.grams) < 2.0


@pytest.mark.slow
def test_stronger_and_lighter_machines_are_no_slower_where_no_file_fixes_their_downshifts():
    # A gearbox with fixed shift speeds can make them so: see docs/route.md.
    random = np.random.default_rng(3)
    pairs = [compared(random, k) for k in range(KINDS // 2, KINDS)]
    free = [pair for pair in pairs if pair.own_rule and pair.arrives]
    assert len(free) >= KINDS // 4
    for pair in free:
        assert max(pair.slower) < 5e-3
