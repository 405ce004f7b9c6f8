"""Kinds of stator, and the fluid coupling beside the converter."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.errors import InputError
from converter_match.physics.converter.stator import (
    fixed_from_one_way,
    one_way_from_fixed,
    without_stator,
)
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.side_by_side import side_by_side
from converter_match.physics.match.solver import match
from tests.examples import converter, engine

NU = np.linspace(0.0, 0.98, 99)


def fixed():
    return converter(
        stator="fixed",
        speed_ratio=[0, 0.2, 0.4, 0.6, 0.76, 0.8, 0.9, 1.0],
        torque_ratio=[3.2, 2.5, 1.93, 1.4, 1.0, 0.9, 0.66, 0.42],
        capacity=[0.026, 0.0255, 0.0245, 0.023, 0.0212, 0.0205, 0.0185, 0.016],
        coupling_speed_ratio=None,
    )


def test_coupling_has_efficiency_equal_to_speed_ratio():
    # Without a stator the torques on impeller and turbine are equal, so eta = nu: the definition
    # of a fluid coupling.
    for unit in (converter(), fixed()):
        coupling = without_stator(unit)
        assert coupling.stator == "none"
        nu = NU[NU <= coupling.domain[1]]
        assert coupling.efficiency_at(nu) == pytest.approx(nu, abs=1e-12)
        assert float(coupling.torque_ratio_at(0.0)) == 1.0


def test_past_the_coupling_point_a_one_way_stator_is_a_coupling_already():
    supply = engine_supply(engine())
    pair = side_by_side(supply, converter(), without_stator(converter()))
    nu = pair.first_points.speed_ratio
    past = np.isfinite(nu) & (nu >= 0.86)
    assert past.any()
    np.testing.assert_allclose(pair.torque_gained[past], 0.0, atol=1e-6)
    assert pair.second_pulls_more_from is None
    # Lost at stall: with the same capacity, all that the stator multiplies.
    torque = float(pair.first_stall.input_torque)
    assert pair.stall_torque_lost == pytest.approx((2.2 - 1.0) * torque, rel=1e-12)
    before = np.isfinite(nu) & (nu < 0.85)
    assert np.all(pair.torque_gained[before] < 0)


def test_past_its_unity_point_a_fixed_stator_loses_to_the_coupling():
    supply = engine_supply(engine())
    pair = side_by_side(supply, fixed(), without_stator(fixed()))
    start = pair.second_pulls_more_from
    assert start is not None
    at_unity = match(supply, fixed(), 0.76).from_idle().turbine_speed
    # From the turbine speed at which the torque ratio passes 1, to the step of the grid.
    step = pair.turbine_speed[1] - pair.turbine_speed[0]
    assert start == pytest.approx(float(at_unity), abs=1.01 * step)
    past = pair.turbine_speed > start
    saved = pair.heat_saved[past & np.isfinite(pair.heat_saved)]
    assert saved.size
    # Less heat too, but for the last stretch, where the coupling is loading the engine less.
    assert np.all(saved > 0)


def test_stall_capacity_factor_follows_the_lore_of_the_freewheeling_stator():
    # Common practice, no source: a stator that freewheels lowers stall speed by about a third; on
    # a flat torque curve that is a capacity (3/2)^2 = 2.25 times as high.
    unit = converter()
    coupling = without_stator(unit, stall_capacity_factor=2.25)
    assert float(coupling.capacity_at(0.0)) == pytest.approx(2.25 * float(unit.capacity_at(0.0)))
    past = np.array([0.86, 0.9, 0.97])
    assert coupling.capacity_at(past) == pytest.approx(unit.capacity_at(past), rel=1e-12)
    with pytest.raises(InputError, match="stall_capacity_factor"):
        without_stator(unit, stall_capacity_factor=-1.0)


def test_one_way_from_fixed_is_cut_at_torque_ratio_one_and_says_so():
    found = one_way_from_fixed(fixed())
    assert found.stator == "one-way"
    assert found.coupling == pytest.approx(0.76, abs=1e-9)
    below = NU[NU <= 0.76]
    assert found.torque_ratio_at(below) == pytest.approx(fixed().torque_ratio_at(below), rel=0.01)
    rows = fixed().speed_ratio[:5]
    assert found.torque_ratio_at(rows) == pytest.approx(fixed().torque_ratio[:5], rel=1e-12)
    assert found.torque_ratio_at(np.linspace(0.76, 1.0, 9)) == pytest.approx(np.ones(9))
    assert float(found.capacity_at(1.0)) == 0.0
    notes = {note.code: note.kind for note in found.notes}
    assert notes["one-way-from-fixed"] == "assumption"
    assert one_way_from_fixed(found) is found


def test_one_way_from_fixed_needs_the_unity_point():
    short = fixed().replace(
        speed_ratio=[0, 0.2, 0.4], torque_ratio=[3.2, 2.5, 1.93], capacity=[0.026, 0.0255, 0.0245]
    )
    with pytest.raises(InputError, match="does not fall to 1"):
        one_way_from_fixed(short)
    with pytest.raises(InputError, match=r"stator: not a converter with a stator that is fixed"):
        one_way_from_fixed(without_stator(converter()))


def test_fixed_from_one_way_is_refused_without_another_source():
    with pytest.raises(InputError, match=r"cannot be derived .*beyond the coupling point"):
        fixed_from_one_way(converter())
    with pytest.raises(InputError, match="stator"):
        fixed_from_one_way(converter(), beyond=converter())


def test_fixed_from_one_way_borrows_the_course_beyond_the_coupling_point():
    unit, other = converter(), fixed()
    found = fixed_from_one_way(unit, beyond=other)
    assert found.stator == "fixed"
    below = unit.speed_ratio[unit.speed_ratio <= 0.86]
    assert found.torque_ratio_at(below) == pytest.approx(unit.torque_ratio_at(below), rel=1e-12)
    for nu in (0.9, 1.0):
        ratio = float(other.torque_ratio_at(nu) / other.torque_ratio_at(0.86))
        assert float(found.torque_ratio_at(nu)) == pytest.approx(ratio, rel=1e-9)
        ratio = float(other.capacity_at(nu) / other.capacity_at(0.86))
        assert float(found.capacity_at(nu)) == pytest.approx(
            ratio * float(unit.capacity_at(0.86)), rel=1e-9
        )
    assert "fixed-from-one-way" in {note.code for note in found.notes if note.kind == "assumption"}
    assert fixed_from_one_way(other) is other
    short = other.replace(
        speed_ratio=other.speed_ratio[:6],
        torque_ratio=other.torque_ratio[:6],
        capacity=other.capacity[:6],
    )
    with pytest.raises(InputError, match="does not reach beyond"):
        fixed_from_one_way(unit, beyond=short)


@pytest.mark.slow
@given(st.lists(st.floats(0.0, 0.97), min_size=1, max_size=8), st.sampled_from(range(4)))
def test_power_in_is_power_out_plus_heat_for_every_stator(nu, which):
    units = (converter(), fixed(), without_stator(fixed()), one_way_from_fixed(fixed()))
    points = match(engine_supply(engine()), units[which], np.array(nu)).from_idle()
    known = points.found
    out = (points.output_power + points.heat)[known]
    assert np.all(np.abs(points.input_power[known] - out) <= 1e-9 * points.input_power[known])
    assert np.all(points.heat[known] >= -1e-6)


def test_comparison_needs_stall():
    late = converter(
        speed_ratio=[0.2, 0.86, 0.95], torque_ratio=[2, 1, 1], capacity=[0.02, 0.013, 0.005]
    )
    with pytest.raises(InputError, match="does not include stall"):
        side_by_side(engine_supply(engine()), late, converter())
