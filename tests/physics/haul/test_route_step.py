"""The default step of a route against a ten times finer one, on climbs where gearboxes hunt.

A small version of `benchmarks/route_accuracy.py`, whose figures stand in docs/route.md.
"""

import numpy as np
import pytest

from tests.haul_random import KINDS, compared

SEED = 3


@pytest.fixture(scope="module")
def pairs():
    found = [pair for pair in compared(2 * KINDS, SEED) if pair.arrives]
    assert len(found) >= KINDS
    return found


@pytest.mark.slow
def test_time_holds_to_half_a_percent_on_routes_at_random(pairs):
    assert np.abs([pair.time for pair in pairs]).max() < 5e-3


@pytest.mark.slow
def test_fuel_holds_to_half_a_percent_where_both_steps_change_gear_alike(pairs):
    alike = np.array([pair.alike for pair in pairs])
    assert alike.mean() > 0.9
    assert np.abs([pair.fuel for pair in pairs])[alike].max() < 5e-3


@pytest.mark.slow
def test_machines_that_have_it_easier_are_no_slower_unless_the_gearbox_is_named_as_hunting(pairs):
    slower = np.array([pair.slower for pair in pairs])
    named = np.array([pair.hunts for pair in pairs])
    # Few enough are named that the test says something.
    assert named.mean() < 0.1
    assert slower[~named].max() < 5e-3
