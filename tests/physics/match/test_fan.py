"""Matches with a torque factor a point by the fan of tables: against scipy, one point at a time."""

import numpy as np
import pytest
from scipy.optimize import brentq

from converter_match.components.engine import Accessory
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.fan import FEWEST, Fan, by_fan
from converter_match.physics.match.scan import by_scan
from converter_match.physics.match.solver import engine_speeds
from tests.examples import RPM, engine, hole_engine

FANNED = engine_supply(
    engine(
        accessories=(
            Accessory(name="fan", power=14e3, at_speed=2200 * RPM, exponent=3),
            Accessory(name="odd pump", power=5e3, at_speed=2200 * RPM, exponent=1.7),
        )
    )
)
COUNT = 3000


def drawn(supply, low, high, seed=3):
    """Capacities from far above what the engine reaches to almost none, and factors."""
    rng = np.random.default_rng(seed)
    start, _ = supply.domain
    most = float(supply.torque(start)) / start**2
    return most * rng.uniform(1e-4, 1.3, COUNT), rng.uniform(low, high, COUNT)


@pytest.mark.parametrize(("low", "high"), [(0.9, 1.1), (0.4, 1.6), (1.0, 1.0 + 1e-12)])
def test_speeds_are_those_that_scipy_finds_one_by_one(low, high):
    c, factor = drawn(FANNED, low, high)
    assert Fan.of(FANNED, factor) is not None
    speed, stable = by_fan(FANNED, c, factor)
    assert speed.shape == (1, COUNT)
    assert np.array_equal(stable, np.isfinite(speed))
    start, end = FANNED.domain
    for k in range(0, COUNT, 37):

        def excess(w, k=k):
            return float(FANNED.torque(w, factor[k])) - c[k] * w * w

        if excess(start) <= 0.0:
            assert np.isnan(speed[0, k])
        else:
            # brentq ends within 2e-12 rad/s and four roundings.
            expected = brentq(excess, start, end, xtol=2e-12, rtol=8.9e-16)
            assert speed[0, k] == pytest.approx(expected, rel=1e-13)
    scanned, _ = by_scan(FANNED, c, factor)
    np.testing.assert_allclose(speed, scanned[:1], rtol=1e-14)


def test_points_at_the_ends_of_the_domain_and_beyond():
    start, end = FANNED.domain
    factor = np.array([0.9, 1.0, 1.1, 0.95])
    at_start = FANNED.torque(start, factor) / start**2
    c = np.concatenate([at_start * (1 - 1e-12), at_start * (1 + 1e-12), [0.0, 1e9, 1e-300, 1e-9]])
    factors = np.concatenate([factor, factor, factor])
    speed, _ = by_fan(FANNED, c, factors)
    expected, _ = by_scan(FANNED, c, factors)
    np.testing.assert_allclose(speed, expected, rtol=1e-14)
    assert np.all(
        (speed[0][np.isfinite(speed[0])] >= start) & (speed[0][np.isfinite(speed[0])] <= end)
    )


def test_an_engine_with_a_hole_in_its_torque_keeps_all_its_matches():
    supply = engine_supply(hole_engine())
    c, factor = drawn(supply, 0.9, 1.1)
    assert Fan.of(supply, factor) is None
    many = np.tile(c, 1 + FEWEST // COUNT), np.tile(factor, 1 + FEWEST // COUNT)
    speed, stable = engine_speeds(supply, *many)
    assert len(speed) == 3  # stable, unstable, stable
    expected, is_stable = by_scan(supply, c, factor)
    assert np.array_equal(speed[:, :COUNT], expected, equal_nan=True)
    assert np.array_equal(stable[:, :COUNT], is_stable)
