"""The stall equation and its separation written out with numbers, on both sides of each bound."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.stall.settling import (
    Absorber,
    ReadingCondition,
    capacity_factor_for,
    coupling_law,
    density_factor,
    elasticity,
    freewheeling_capacity,
    healthy_torque,
    separate,
    settling_speed,
    torque_factor_for,
)
from tests.examples import RPM, converter, engine

C0 = float(converter().capacity_at(0.0))
SINGLE = np.float32([150.1, 190.7])


def plain(**changes):
    return engine_supply(engine(accessories=()), **changes)


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


def test_absorber_takes_the_same_at_every_speed_ratio():
    made = Absorber(0.02)
    nu = np.zeros((2, 3))
    np.testing.assert_array_equal(made.capacity_at(nu), np.full((2, 3), 0.02))
    np.testing.assert_array_equal(made.torque_ratio_at(nu), np.ones((2, 3)))
    assert made.capacity_at(0.0).shape == ()


def test_density_goes_by_the_stated_expansion_from_the_stated_temperature():
    # 1 / (1 + beta dt): 40 K colder and 7e-4 per kelvin.
    found = density_factor([323.15, 363.15, 403.15], 363.15, 7e-4)
    np.testing.assert_allclose(found, [1 / 0.972, 1.0, 1 / 1.028], rtol=1e-14)
    assert float(density_factor(350.0, reference=350.0)) == 1.0
    single = np.float32(340.3)
    assert float(density_factor(single)) == float(density_factor(float(single)))


def test_torque_and_capacity_of_a_reading_by_hand():
    supply = plain(hydraulic_torque=50.0)
    # 1400 rpm is a row of the sheet: 1000 N.m there.
    omega, capacity = 1400 * RPM, 0.04
    taken = capacity * omega**2
    assert float(healthy_torque(supply, omega)) == pytest.approx(1000.0)
    assert float(torque_factor_for(supply, capacity, omega)) == pytest.approx(
        (taken + 50.0) / 1000.0, rel=1e-12
    )
    assert float(torque_factor_for(supply, capacity, omega, 1.2)) == pytest.approx(
        (1.2 * taken + 50.0) / 1000.0, rel=1e-12
    )
    assert float(capacity_factor_for(supply, capacity, omega)) == pytest.approx(
        950.0 / taken, rel=1e-12
    )
    assert float(capacity_factor_for(supply, capacity, omega, 0.8)) == pytest.approx(
        750.0 / taken, rel=1e-12
    )
    weak = plain(torque_factor=0.9)
    assert float(healthy_torque(weak, omega)) == pytest.approx(900.0)


def test_readings_in_single_precision_are_computed_in_double():
    supply, exact = plain(hydraulic_torque=50.0), SINGLE.astype(float)
    one, c = np.float32(1.1), np.float32(0.03)
    for function in (torque_factor_for, capacity_factor_for):
        np.testing.assert_array_equal(
            function(supply, c, SINGLE, one), function(supply, float(c), exact, float(one))
        )
    np.testing.assert_array_equal(healthy_torque(supply, SINGLE), healthy_torque(supply, exact))
    np.testing.assert_array_equal(elasticity(supply, SINGLE), elasticity(supply, exact))
    np.testing.assert_array_equal(
        settling_speed(supply, np.float32([0.03, 0.0]), one),
        settling_speed(supply, np.float32([0.03, 0.0]).astype(float), float(one)),
    )
    nu = np.float32([0.1, 0.7])
    np.testing.assert_array_equal(coupling_law(nu), coupling_law(nu.astype(float)))


def test_little_torque_is_torque_and_none_is_refused_with_its_speed():
    weak = plain(torque_factor=1e-6)
    assert float(healthy_torque(weak, 1400 * RPM)) == pytest.approx(1e-3)
    error = refusal(lambda: healthy_torque(plain(), [1400 * RPM, 2380 * RPM]))
    assert error.field == "engine speed"
    assert error.found == "2380 rpm"
    assert refusal(lambda: healthy_torque(plain(), 100 * RPM)) is not None


def test_elasticity_is_the_slope_in_logarithms():
    supply, omega, step = plain(), 1700 * RPM, 1e-5
    near = np.log(supply.torque(omega * np.array([1 - step, 1 + step])))
    assert float(elasticity(supply, omega)) == pytest.approx(
        (near[1] - near[0]) / (2 * step), rel=1e-6
    )


def test_engine_settles_where_the_balance_says_with_the_pump_and_the_factor_in_it():
    supply = engine_supply(engine(), hydraulic_torque=80.0)
    found = settling_speed(supply, [C0, 1.3 * C0], [[1.0], [0.85]])
    assert found.shape == (2, 2)
    torque = np.array([[1.0], [0.85]]) * healthy_torque(supply, found)
    np.testing.assert_allclose(
        torque - supply.load_torque(found), np.array([C0, 1.3 * C0]) * found**2, rtol=1e-10
    )


def test_engine_in_neutral_runs_to_where_its_loads_hold_it():
    bare = plain()
    for from_high_idle in (False, True):
        found = float(settling_speed(bare, 0.0, from_high_idle=from_high_idle))
        assert found == pytest.approx(2380 * RPM, rel=1e-9)
    loaded = plain(hydraulic_torque=100.0)
    # The run-out is a line from 803 N.m at 2200 to none at 2380 rpm: 100 N.m are left at 2357.6.
    expected = (2380 - 180 * 100 / 803) * RPM
    assert float(settling_speed(loaded, 0.0)) == pytest.approx(expected, rel=1e-9)
    both = settling_speed(loaded, [[0.0], [C0]], [1.0, 0.9])
    assert both.shape == (2, 2)
    half = (2380 - 180 * 100 / 0.9 / 803) * RPM
    np.testing.assert_allclose(both[0], [expected, half], rtol=1e-9)


def test_engine_held_back_at_once_stays_at_the_end_it_came_from():
    supply = plain()
    low, high = supply.domain
    assert float(settling_speed(supply, 1.0)) == low
    assert float(settling_speed(supply, 1.0, from_high_idle=True)) == low
    # An engine that still gives torque where its data end goes on to that end.
    rising = engine_supply(
        engine(
            accessories=(),
            speed=np.array([800, 2200, 2380]) * RPM,
            torque=[700.0, 800.0, 800.0],
        )
    )
    assert float(settling_speed(rising, 1e-6)) == high
    assert float(settling_speed(rising, 1e-6, from_high_idle=True)) == high


# --- separation ----------------------------------------------------------------------------------


def reading(supply, f, g, *, sigma=2.0, load_sigma=0.0, shift=0.0, down=False):
    speed = float(settling_speed(supply, C0 * g, f, from_high_idle=down))
    return ReadingCondition(supply, C0, speed + shift, sigma, load_sigma)


def row(item, w):
    torque = float(item.supply.factor * item.supply.source(w))
    return np.array([torque, -item.capacity * w**2])


def left_over(item, factors, w):
    return float(row(item, w) @ factors - item.supply.load_torque(np.asarray(w)))


def by_normal_equations(conditions):
    """f, g, their covariance and the misfit, from the definition; slopes by differences."""
    factors = np.ones(2)
    for _ in range(50):
        normal, side, misfit = np.zeros((2, 2)), np.zeros(2), 0.0
        for item in conditions:
            w, step = item.speed, 1e-3
            ends = [left_over(item, factors, w + sign * step) for sign in (-1, 1)]
            variance = ((ends[1] - ends[0]) / (2 * step) * item.speed_sigma) ** 2
            variance += item.load_sigma**2
            normal += np.outer(row(item, w), row(item, w)) / variance
            side += row(item, w) * float(item.supply.load_torque(np.asarray(w))) / variance
            misfit += left_over(item, factors, w) ** 2 / variance
        factors = np.linalg.solve(normal, side)
    return *factors, np.linalg.inv(normal), misfit


@pytest.mark.parametrize("load_sigma", [0.0, 15.0])
def test_separation_is_that_of_the_weighted_normal_equations(load_sigma):
    supplies = [plain(), plain(hydraulic_torque=250.0), plain(hydraulic_torque=400.0)]
    conditions = tuple(
        reading(supply, 0.9, 1.1, sigma=1.0 + i, load_sigma=load_sigma, shift=shift, down=i > 0)
        for i, (supply, shift) in enumerate(zip(supplies, (0.6, -0.9, 0.8), strict=True))
    )
    found = separate(conditions)
    f, g, covariance, misfit = by_normal_equations(conditions)
    # The weights are taken at the solution: four rounds leave less than a ten-thousandth.
    assert (found.torque_factor, found.capacity_factor) == pytest.approx((f, g), rel=1e-4)
    assert found.torque_sigma == pytest.approx(covariance[0, 0] ** 0.5, rel=1e-3)
    assert found.capacity_sigma == pytest.approx(covariance[1, 1] ** 0.5, rel=1e-3)
    expected = covariance[0, 1] / (covariance[0, 0] * covariance[1, 1]) ** 0.5
    assert found.correlation == pytest.approx(expected, rel=1e-3)
    assert 0.5 < found.correlation < 1.0
    assert found.misfit == pytest.approx(misfit, rel=1e-2)
    assert found.misfit > 0.01
    assert found.surplus == 1


def test_two_readings_are_met_exactly():
    found = separate((reading(plain(), 0.9, 1.1),
                      reading(plain(hydraulic_torque=300.0), 0.9, 1.1, down=True)))  # fmt: skip
    assert found.misfit == pytest.approx(0.0, abs=1e-12)
    assert found.surplus == 0


def test_readings_without_stated_error_are_separated_all_the_same():
    found = separate((reading(plain(), 0.9, 1.1, sigma=0.0),
                      reading(plain(hydraulic_torque=300.0), 0.9, 1.1, sigma=0.0)))  # fmt: skip
    assert (found.torque_factor, found.capacity_factor) == pytest.approx((0.9, 1.1), rel=1e-9)
    assert max(found.torque_sigma, found.capacity_sigma) < 1e-6


def test_factor_that_is_no_better_known_than_asked_counts_as_not_told():
    conditions = (reading(plain(), 0.9, 1.1), reading(plain(hydraulic_torque=300.0), 0.9, 1.1))
    found = separate(conditions)
    larger = max(found.torque_sigma, found.capacity_sigma)
    assert separate(conditions, larger) is None
    assert separate(conditions, np.nextafter(larger, 1.0)) == found
    assert min(found.torque_sigma, found.capacity_sigma) < larger
    blurred = tuple(
        ReadingCondition(item.supply, item.capacity, item.speed, 100 * item.speed_sigma)
        for item in conditions
    )
    assert separate(blurred) is None
    assert separate(()) is None


# --- the stator that does not hold ---------------------------------------------------------------


def test_capacity_with_the_stator_free_is_carried_to_stall_row_by_row():
    # C = (0.01 + nu / 100) times the law, so that each row leads to 0.01 + nu / 100 at stall.
    nu = np.array([0.86, 0.90, 0.95])
    m = 0.3
    law = np.sqrt(1 - nu**2) * (1 - m * nu)
    least, most = freewheeling_capacity(lambda asked: (0.01 + asked / 100) * law, nu)
    assert (least, most) == pytest.approx((0.0186, 0.0195), rel=1e-12)


def test_coupling_law_ends_at_synchronism():
    assert float(coupling_law(0.0)) == 1.0
    assert float(coupling_law(1.0)) == 0.0
    assert float(coupling_law(1.5)) == 0.0
    # sqrt(1 - 0.36) (1 - 0.6 m).
    assert float(coupling_law(0.6)) == pytest.approx(0.8 * 0.82, rel=1e-14)
    assert float(coupling_law(0.6, 0.5)) == pytest.approx(0.8 * 0.7, rel=1e-14)
