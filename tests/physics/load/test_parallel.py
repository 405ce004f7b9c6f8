"""Two on one shaft: sums by hand, closed forms, and nothing out of nothing."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.load.parallel import combined_converters, combined_supply, geared
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine, hole_engine
from tests.load_examples import CAPACITY, TORQUE, made
from tests.study_examples import flat_engine


def test_a_gear_changes_speed_and_torque_of_an_engine_and_of_all_it_drives():
    supply = engine_supply(engine(), torque_factor=0.9, hydraulic_torque=40.0)
    at = geared(supply, 1.25, 0.96)
    shaft = np.linspace(*at.domain, 50)
    assert at.domain == pytest.approx([end / 1.25 for end in supply.domain])
    by_hand = 1.25 * 0.96 * supply.torque(np.clip(1.25 * shaft, *supply.domain))
    assert at.torque(shaft) == pytest.approx(by_hand, rel=1e-9, abs=1e-9)


def test_torques_of_two_engines_on_one_shaft_add_up_where_both_are_known():
    one = engine_supply(engine(), hydraulic_torque=40.0)
    two = geared(engine_supply(hole_engine(), torque_factor=0.8), 1.1, 0.98)
    both = combined_supply([one, two])
    assert both.domain == pytest.approx(
        (max(one.domain[0], two.domain[0]), min(one.domain[1], two.domain[1]))
    )
    speed = np.linspace(*both.domain, 60)
    assert both.torque(speed) == pytest.approx(one.torque(speed) + two.torque(speed), rel=1e-9)


def test_two_flat_engines_stall_one_converter_at_the_square_root_of_twice_their_torque():
    one = engine_supply(flat_engine(TORQUE))
    both = combined_supply([geared(one, 1.0, 1.0), geared(one, 1.0, 1.0)])
    unit = made(lambda nu: 2.0 - nu).replace(capacity=np.full(12, 2.5 * CAPACITY))
    found = match(both, unit, 0.0).from_idle()
    assert float(found.engine_speed) == pytest.approx(np.sqrt(2.0 * TORQUE / (2.5 * CAPACITY)))


def test_two_converters_on_one_engine_add_their_capacities():
    first, second = made(lambda nu: 2.0 - nu), made(lambda nu: 1.5 - 0.5 * nu)
    second = second.replace(capacity=0.5 * second.capacity)
    both = combined_converters(first, second)
    nu = np.linspace(0.0, 0.99, 37)
    assert both.capacity_at(nu) == pytest.approx(np.full(37, 1.5 * CAPACITY), rel=1e-9)
    mean = ((2.0 - nu) + 0.5 * (1.5 - 0.5 * nu)) / 1.5
    assert both.torque_ratio_at(nu) == pytest.approx(mean, rel=1e-6)


def test_corners_of_both_converters_stay_corners_and_the_sum_is_theirs():
    first = converter()
    second = converter(
        speed_ratio=[0, 0.3, 0.6, 0.78, 0.9, 1.0],
        torque_ratio=[2.0, 1.6, 1.2, 1.0, 1.0, 1.0],
        capacity=0.02 * np.array([1.0, 0.98, 0.93, 0.86, 0.4, 0.0]),
        coupling_speed_ratio=0.78,
    )
    both = combined_converters(first, second)
    nu = np.linspace(0.0, 0.99, 500)
    total = first.capacity_at(nu) + second.capacity_at(nu)
    turbine = sum(unit.torque_ratio_at(nu) * unit.capacity_at(nu) for unit in (first, second))
    assert both.capacity_at(nu) == pytest.approx(total, rel=1e-4)
    assert both.torque_ratio_at(nu) == pytest.approx(turbine / total, rel=1e-4)
    assert both.coupling == 0.86
    assert 0.78 in both.kinks
    assert both.efficiency_at(nu).max() <= 1.0
    assert both.domain == (0.0, 0.99)


def test_two_of_a_kind_absorb_twice_at_the_same_torque_ratio():
    both = combined_converters(converter(), converter())
    nu = np.linspace(0.0, 0.99, 60)
    assert both.capacity_at(nu) == pytest.approx(2.0 * converter().capacity_at(nu), rel=2e-4)
    assert both.torque_ratio_at(nu) == pytest.approx(converter().torque_ratio_at(nu), rel=1e-4)
    assert both.limits.input_torque is None


def test_two_kinds_of_stator_are_not_joined():
    with pytest.raises(InputError, match=r"parallel\.converter.*one-way and fixed"):
        combined_converters(converter(), made(lambda nu: 2.0 - nu))


def test_speeds_that_two_engines_do_not_share_are_refused():
    slow = geared(engine_supply(engine()), 5.0, 1.0)
    with pytest.raises(InputError, match="no speed in common"):
        combined_supply([engine_supply(engine()), slow])
    assert slow.domain[1] < 800 * RPM
