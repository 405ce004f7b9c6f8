"""From a log to a characteristic: stretches, bounded memory, bands with their coverage."""

import numpy as np
import pytest

from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.physics.identify.identify import (
    Steadiness,
    calm,
    find_kink,
    fit_curve,
    nodes_for,
    stretches,
)
from converter_match.physics.identify.reservoir import Reservoir
from tests.examples import converter

KINK = 0.86


def test_stretch_sums_are_means_slopes_and_scatter():
    rng = np.random.default_rng(2)
    time = np.arange(0, 30, 0.05) + 1e6
    speed = 150 + 0.3 * (time - 1e6) + rng.standard_normal(time.size)
    found = stretches({"time": time, "engine speed": speed}, 1.0)
    for k, index in enumerate(found.index):
        rows = np.floor(time) == index
        t = time[rows] - (index + 0.5)
        line = np.polyfit(t, speed[rows], 1)
        rest = speed[rows] - np.polyval(line, t)
        assert found.mean["engine speed"][k] == pytest.approx(speed[rows].mean(), rel=1e-10)
        assert found.slope["engine speed"][k] == pytest.approx(line[0], rel=1e-6)
        expected = np.sqrt((rest**2).sum() / (rows.sum() - 2))
        assert found.scatter["engine speed"][k] == pytest.approx(expected, rel=1e-6)


def test_only_stretches_after_a_quiet_one_are_steady():
    time = np.arange(0, 12, 0.1)
    speed = np.where(time < 6, 180.0, 150.0)
    columns = {
        "time": time,
        "engine speed": speed,
        "turbine speed": 0.5 * speed,
        "engine torque": np.full(time.size, 800.0),
    }
    found = stretches(columns, 1.0)
    steady = calm(found, Steadiness(), 0.1)
    assert found.index[steady].tolist() == [1, 2, 3, 4, 5, 7, 8, 9, 10, 11]


def test_reservoir_is_bounded_and_fair():
    kept = Reservoir(room=50)
    for piece in range(40):
        nu = np.full(500, 0.505)
        value = np.full(500, float(piece))
        kept = kept.plus({"nu": nu, "capacity": value, "torque_ratio": value, "oil": value,
                  "episode": value})  # fmt: skip
    samples = kept.samples()
    assert samples["nu"].size == 50
    assert kept.seen == 20_000
    # The mean of 50 fair draws from 0 .. 39 lies within three standard errors of 19.5.
    assert samples["capacity"].mean() == pytest.approx(19.5, abs=3 * 11.5 / np.sqrt(50))


def planted(seed, *, episodes=120, outliers=0.03):
    """Samples in episodes that share an error, some of them wild."""
    c, rng = converter(), np.random.default_rng(seed)
    centre = np.concatenate([rng.uniform(0, 0.97, episodes), np.zeros(10)])
    count = rng.integers(3, 10, centre.size)
    nu = np.clip(np.repeat(centre, count) + 0.004 * rng.standard_normal(count.sum()), 0, 0.985)
    who = np.repeat(np.arange(centre.size), count).astype(float)
    shared = np.repeat(0.008 * rng.standard_normal(centre.size), count)
    y = c.capacity_at(nu) * (1 + shared + 0.012 * rng.standard_normal(nu.size))
    wild = rng.random(nu.size) < outliers
    y[wild] *= rng.uniform(0.6, 1.6, wild.sum())
    return nu, y, who


@pytest.mark.slow
@pytest.mark.parametrize("coverage", [0.95, 0.8])
def test_bands_hold_the_planted_curve_as_often_as_they_say(coverage):
    nodes = nodes_for(KINK)
    truth = converter().capacity_at(nodes)
    hit = told = 0
    for seed in range(40):
        fitted = fit_curve(*planted(seed), nodes, coverage=coverage, kink=KINK)
        at = fitted.covered
        hit += int(((fitted.low <= truth) & (truth <= fitted.high))[at].sum())
        told += int(at.sum())
    # Some 850 nodes, neighbours not quite independent: two to three points either way.
    assert told > 750
    assert hit / told == pytest.approx(coverage, abs=0.035)


def test_fit_is_not_drawn_by_wild_samples():
    nodes = nodes_for(KINK)
    truth = converter().capacity_at(nodes)
    fitted = fit_curve(*planted(3, episodes=300, outliers=0.10), nodes, kink=KINK)
    at = fitted.covered
    assert at.sum() > 20
    assert np.abs(fitted.value[at] / truth[at] - 1).max() < 0.02


def test_nothing_is_said_where_there_are_no_samples():
    nu, y, who = planted(4)
    away = (nu < 0.3) | (nu > 0.55)
    fitted = fit_curve(nu[away], y[away], who[away], nodes_for(KINK), kink=KINK)
    inside = (fitted.node > 0.31) & (fitted.node < 0.54)
    assert inside.any()
    assert not fitted.covered[inside].any()


def test_samples_bunched_beside_a_node_are_no_slope():
    rng = np.random.default_rng(1)
    x = 0.52 + 0.001 * rng.standard_normal(200)
    fitted = fit_curve(x, np.ones(200), np.arange(200.0) // 10, np.array([0.45, 0.5, 0.55]))
    assert not fitted.covered.any()


@pytest.mark.parametrize(
    "name", ["single-stage-260mm", "single-stage-345mm-tight", "single-stage-420mm"]
)
def test_coupling_point_is_found_where_the_slope_jumps(name):
    c, rng = read_converter(shipped("converters")[name]), np.random.default_rng(0)
    x = rng.uniform(0.4, 0.97, 600)
    y = c.capacity_at(x) * (1 + 0.012 * rng.standard_normal(x.size))
    # The grid has steps of 0.005.
    assert find_kink(x, y) == pytest.approx(c.coupling, abs=0.0101)


def test_no_coupling_point_is_made_up_on_a_smooth_curve():
    rng = np.random.default_rng(5)
    x = rng.uniform(0.4, 0.98, 2000)
    y = 0.02 * np.sqrt(1 - x * x) * (1 + 0.01 * rng.standard_normal(x.size))
    assert find_kink(x, y) is None
