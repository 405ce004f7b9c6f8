"""The default step of a route against a ten times finer one, on climbs where gearboxes hunt.

A smaller version of `benchmarks/route_accuracy.py`, whose figures stand in docs/route.md.
"""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.physics.haul.route import run_route
from tests.haul_examples import road
from tests.haul_random import KINDS, compared, machine

SEED = 3
NAMED = 5e-3
"""Share of the time from which on a hysteresis that costs it is named in the answer."""


@pytest.fixture(scope="module")
def pairs():
    found = [pair for pair in compared(6 * KINDS, SEED) if pair.arrives]
    assert len(found) >= 5 * KINDS
    return found


@pytest.mark.slow
def test_time_holds_to_half_a_percent_on_routes_at_random(pairs):
    assert np.abs([pair.time for pair in pairs]).max() < 5e-3


@pytest.mark.slow
def test_fuel_holds_to_half_a_percent_where_both_steps_change_gear_alike(pairs):
    alike = np.array([pair.alike for pair in pairs])
    assert alike.mean() > 0.98
    assert np.abs([pair.fuel for pair in pairs])[alike].max() < 5e-3


@pytest.fixture(scope="module")
def easier():
    """With the default step only."""
    return [pair for pair in compared(600, SEED, finer=1.0) if pair.arrives]


@pytest.mark.slow
def test_machines_that_have_it_easier_are_no_slower_where_the_gear_changes_are_the_tools_own(
    easier,
):
    slower = np.array([pair.slower for pair in easier if pair.own_rule])
    assert slower.shape[0] > 250
    assert slower.max() < 5e-3


@pytest.mark.slow
def test_machines_that_have_it_easier_are_slower_only_where_the_answer_says_that_they_may_be(
    easier,
):
    slower = np.array([pair.slower for pair in easier])
    named = np.array([pair.hunts | (pair.costs > NAMED) for pair in easier])
    # Few enough are named that the test says something.
    assert named.mean() < 0.3
    assert slower[~named].max() < 5e-3


@pytest.mark.slow
def test_what_a_late_downshift_costs_is_what_the_lower_gear_saves_by_hand():
    # A loader comes onto this climb at speed, and its second gear balances above its downshift. The
    # climb is long, so that how both gears come into it does not count.
    free = machine(1)
    way = road([0.0, 0.264], [60.0, 8000.0])
    run = run_route(free, way)
    step = int(np.argmax(run.profile.costs[:, 0]))
    kept, better = (getattr(run.profile, name)[step, 0] for name in ("state", "better"))
    assert [free.chain.names[kept], free.chain.names[better]] == ["2", "1"]
    by_hand = replace(free, chain=free.chain.limited_to("1"))
    times = [_on_the_climb(run_route(drive, way)) for drive in (free, by_hand)]
    assert run.hysteresis_costs.sum() > 0.1 * times[0]
    assert times[0] - times[1] == pytest.approx(run.hysteresis_costs.sum(), rel=0.02)


def _on_the_climb(run):
    return float(run.profile.time[run.profile.segment[:, 0] == 1, 0].sum())
