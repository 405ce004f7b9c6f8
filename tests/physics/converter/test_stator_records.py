"""What is carried over when the stator is held, let go or taken out, and the two side by side."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.notes import assumption
from converter_match.physics.converter.stator import (
    fixed_from_one_way,
    one_way_from_fixed,
    without_stator,
)
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.side_by_side import SideBySide, side_by_side
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from tests.examples import converter, engine

BEFORE = assumption("of-the-converter", "Something assumed before.")
SUPPLY = engine_supply(engine())


def fixed(**changes):
    fields = {
        "stator": "fixed",
        "speed_ratio": [0, 0.2, 0.4, 0.6, 0.76, 0.8, 0.9, 1.0],
        "torque_ratio": [3.2, 2.5, 1.93, 1.4, 1.0, 0.9, 0.66, 0.42],
        "capacity": [0.026, 0.0255, 0.0245, 0.023, 0.0212, 0.0205, 0.0185, 0.016],
        "coupling_speed_ratio": None,
        "given_notes": (BEFORE,),
    }
    return converter(**(fields | changes))


def test_one_way_from_fixed_keeps_the_rows_below_and_what_belongs_to_the_converter():
    found = one_way_from_fixed(fixed(kinks=(0.4, 0.8), impeller_inertia=0.3))
    assert found.id == "test-converter+one-way"
    assert found.name == "Test converter, stator on a one-way clutch"
    assert found.source == "round numbers for a test"
    assert found.speed_ratio == pytest.approx([0, 0.2, 0.4, 0.6, 0.76, 1.0], abs=1e-9)
    assert found.torque_ratio.tolist() == [3.2, 2.5, 1.93, 1.4, 1.0, 1.0]
    assert found.capacity == pytest.approx([0.026, 0.0255, 0.0245, 0.023, 0.0212, 0.0], abs=1e-9)
    assert found.coupling_speed_ratio == pytest.approx(0.76, abs=1e-9)
    # A corner beyond the cut is gone with its rows.
    assert found.kinks == (0.4,)
    assert [n.code for n in found.given_notes] == ["of-the-converter", "one-way-from-fixed"]
    assert "(speed ratio 0.76)" in found.given_notes[-1].message
    assert (found.profile_diameter, found.impeller_inertia) == (0.345, 0.3)
    # In a straight line to zero at 1.
    assert float(found.capacity_at(0.88)) == pytest.approx(0.5 * 0.0212, rel=1e-9)


def test_row_that_is_the_point_of_letting_go_is_not_doubled():
    # Torque ratio 1 between two rows: 0.7 is kept, the unity point is a row of its own.
    unit = fixed(
        speed_ratio=[0, 0.4, 0.7, 0.8, 0.9],
        torque_ratio=[3.2, 1.93, 1.1, 0.9, 0.66],
        capacity=[0.026, 0.0245, 0.022, 0.0205, 0.0185],
    )
    found = one_way_from_fixed(unit)
    assert found.speed_ratio.size == 5
    assert 0.7 < found.coupling < 0.8
    assert found.speed_ratio[-2] == found.coupling
    assert float(unit.torque_ratio_at(found.coupling)) == pytest.approx(1.0, abs=1e-9)


def test_fixed_from_one_way_keeps_the_rows_below_and_what_belongs_to_the_converter():
    unit, other = converter(kinks=(0.4,), given_notes=(BEFORE,)), fixed(name="The relative")
    found = fixed_from_one_way(unit, beyond=other)
    assert found.id == "test-converter+fixed"
    assert found.name == "Test converter, stator held"
    assert found.coupling_speed_ratio is None
    assert found.kinks == (0.4,)
    kept = found.speed_ratio <= 0.86
    assert found.speed_ratio[kept].tolist() == unit.speed_ratio[:6].tolist()
    assert found.capacity[kept].tolist() == unit.capacity[:6].tolist()
    # Beyond: twenty even steps and the rows of the other.
    beyond = np.union1d(np.linspace(0.86, 1.0, 21)[1:], [0.9, 1.0])
    assert found.speed_ratio[~kept] == pytest.approx(beyond, rel=1e-12)
    assert [n.code for n in found.given_notes] == ["of-the-converter", "fixed-from-one-way"]
    words = found.given_notes[-1].message
    scale = 1 / float(other.torque_ratio_at(0.86))
    assert "'The relative'" in words
    assert f"torque ratio by {scale:.3f}" in words
    ratio = float(unit.capacity_at(0.86) / other.capacity_at(0.86))
    assert f"capacity by {ratio:.3f}" in words


@pytest.mark.parametrize(
    ("rows", "borrowed"),
    [
        (slice(0, 7), True),  # up to 0.9
        (slice(0, 6), False),  # up to 0.8
        (slice(6, 8), False),  # from 0.9
    ],
)
def test_course_to_borrow_must_pass_the_coupling_point(rows, borrowed):
    given = fixed()
    other = given.replace(
        speed_ratio=given.speed_ratio[rows],
        torque_ratio=given.torque_ratio[rows],
        capacity=given.capacity[rows],
    )
    if borrowed:
        assert fixed_from_one_way(converter(), beyond=other).domain[1] == 0.9
        return
    with pytest.raises(InputError, match="does not reach beyond") as caught:
        fixed_from_one_way(converter(), beyond=other.replace(id="other"))
    assert (caught.value.source, caught.value.field) == ("other", "speed_ratio")
    low, high = other.domain
    assert caught.value.found == f"{low:.4g} .. {high:.4g}"


def test_course_that_begins_at_the_coupling_point_is_enough_and_one_that_ends_there_is_not():
    begins = fixed(
        speed_ratio=[0.86, 0.9, 1.0], torque_ratio=[1.0, 0.8, 0.5], capacity=[0.02, 0.018, 0.015]
    )
    assert fixed_from_one_way(converter(), beyond=begins).domain == (0.0, 1.0)
    ends = fixed(
        speed_ratio=[0, 0.5, 0.86], torque_ratio=[3, 1.6, 1.0], capacity=[0.026, 0.024, 0.02]
    )
    with pytest.raises(InputError, match="does not reach beyond"):
        fixed_from_one_way(converter(), beyond=ends)


@pytest.mark.parametrize(
    ("ask", "source", "field"),
    [
        (lambda: fixed_from_one_way(converter()), "test-converter", "stator"),
        (lambda: fixed_from_one_way(without_stator(converter())), None, "stator"),
        (lambda: fixed_from_one_way(converter(), beyond=converter()), "test-converter", "stator"),
        (lambda: one_way_from_fixed(without_stator(converter())), None, "stator"),
        (
            lambda: one_way_from_fixed(
                fixed(speed_ratio=[0, 0.4], torque_ratio=[3.2, 1.93], capacity=[0.026, 0.0245])
            ),
            "test-converter",
            "torque_ratio",
        ),
        (lambda: without_stator(converter(), stall_capacity_factor=0.0), None,
         "stall_capacity_factor"),
        (lambda: without_stator(converter(), stall_capacity_factor=np.inf), None,
         "stall_capacity_factor"),
        (
            lambda: without_stator(
                converter(
                    speed_ratio=[0, 0.4], torque_ratio=[2.2, 1.7], capacity=[0.02, 0.018],
                    coupling_speed_ratio=None,
                ),
                stall_capacity_factor=2.0,
            ),
            "test-converter",
            "stall_capacity_factor",
        ),
    ],
)  # fmt: skip
def test_refusals_name_converter_and_field(ask, source, field):
    with pytest.raises(InputError) as caught:
        ask()
    assert caught.value.field == field
    if source:
        assert caught.value.source == source


def test_without_a_coupling_point_the_capacity_may_stay_as_it_is():
    short = converter(
        speed_ratio=[0, 0.4], torque_ratio=[2.2, 1.7], capacity=[0.02, 0.018],
        coupling_speed_ratio=None,
    )  # fmt: skip
    found = without_stator(short)
    assert found.capacity.tolist() == [0.02, 0.018]
    assert "as that of the converter." in found.given_notes[-1].message


def test_taken_out_keeps_rows_to_one_and_what_belongs_to_the_converter():
    base = converter()
    unit = base.replace(
        speed_ratio=[*base.speed_ratio, 1.0, 1.1],
        torque_ratio=[*base.torque_ratio, 1.0, 1.0],
        capacity=[*base.capacity, 0.0, -0.004],
        kinks=(0.4, 1.0),
        given_notes=(BEFORE,),
    )
    found = without_stator(unit, stall_capacity_factor=2.0)
    assert found.id == "test-converter+coupling"
    assert found.name == "Test converter, stator taken out"
    assert found.speed_ratio.tolist() == unit.speed_ratio[:-1].tolist()
    assert found.torque_ratio.tolist() == [1.0] * 9
    # Corners inside: one of the data, and the one at the coupling point.
    assert found.kinks == (0.4, 0.86)
    # The factor falls in a straight line from 2 at stall to 1 at 0.86.
    share = 1 - np.minimum(found.speed_ratio / 0.86, 1)
    assert found.capacity == pytest.approx(unit.capacity[:-1] * (1 + share), rel=1e-12)
    codes = [note.code for note in found.given_notes]
    assert (codes[0], codes[-1]) == ("of-the-converter", "stator-removed")
    assert "2 times that of the converter at stall" in found.given_notes[-1].message
    assert without_stator(found) is found
    held = without_stator(fixed())
    assert held.id == "test-converter+one-way+coupling"
    assert held.speed_ratio == pytest.approx([0, 0.2, 0.4, 0.6, 0.76, 1.0], abs=1e-9)


# --- side by side ---------------------------------------------------------------------------------


def test_both_sides_are_matched_at_the_same_turbine_speeds():
    first, second = converter(), fixed()
    pair = side_by_side(SUPPLY, first, second)
    assert (pair.supply, pair.first, pair.second) == (SUPPLY, first, second)
    assert pair.turbine_speed == pytest.approx(np.linspace(0, SUPPLY.domain[1], 201))
    for unit, stall, points in (
        (first, pair.first_stall, pair.first_points),
        (second, pair.second_stall, pair.second_points),
    ):
        plain = match(SUPPLY, unit, 0.0).from_idle()
        assert float(stall.engine_speed) == float(plain.engine_speed)
        assert stall.engine_speed.shape == ()
        known = match_at_turbine_speed(SUPPLY, unit, pair.turbine_speed)
        np.testing.assert_array_equal(points.turbine_torque, known.turbine_torque)
    gained = pair.second_points.turbine_torque - pair.first_points.turbine_torque
    np.testing.assert_array_equal(pair.torque_gained, gained)
    saved = pair.first_points.heat - pair.second_points.heat
    np.testing.assert_array_equal(pair.heat_saved, saved)
    lost = float(pair.first_stall.turbine_torque) - float(pair.second_stall.turbine_torque)
    assert pair.stall_torque_lost == pytest.approx(lost)
    given = side_by_side(SUPPLY, first, second, [10.0, 50.0])
    assert given.turbine_speed.tolist() == [10.0, 50.0]
    assert side_by_side(SUPPLY, first, second, 10.0).turbine_speed.shape == (1,)


@pytest.mark.parametrize(
    ("gained", "start"),
    [
        ([-5.0, -1.0, 2.0, 3.0], 20.0),
        ([5.0, -1.0, 2.0, np.nan], 20.0),
        ([1.0, 2.0, 3.0, 4.0], 0.0),
        ([-5.0, -4.0, -3.0, -2.0], None),
        ([-5.0, 0.0, 0.0, np.nan], None),
        # Alike to a millionth of the torque at stall counts as alike.
        ([-5.0, -0.9e-3, 2.0, 2.0], 10.0),
        ([-5.0, 1.0, -1.1e-3, 2.0], 30.0),
        ([-5.0, 0.9e-3, 0.9e-3, 0.9e-3], None),
        ([-5.0, 0.9e-3, 1.1e-3, 0.0], 10.0),
        ([np.nan] * 4, None),
    ],
)
def test_second_pulls_more_from_where_it_never_pulls_less_again(gained, start):
    plain = match(SUPPLY, converter(), np.zeros(4)).from_idle()
    torque = np.full(4, 500.0)

    def with_torque(values):
        return type(plain)(np.zeros(4), np.ones(4), np.full(4, 100.0), values, plain.stable)

    stall = type(plain)(np.array(0.0), np.array(2.0), np.array(100.0), np.array(500.0),
                        np.array(True))  # fmt: skip
    pair = SideBySide(
        SUPPLY, converter(), converter(), stall, stall, np.array([0.0, 10.0, 20.0, 30.0]),
        with_torque(torque), with_torque(torque + np.array(gained)), *(np.zeros((2, 4), bool)),
    )  # fmt: skip
    assert pair.second_pulls_more_from == start


@pytest.mark.parametrize("order", [1, -1])
def test_either_side_without_stall_is_refused(order):
    late = converter(
        speed_ratio=[0.2, 0.86, 0.95], torque_ratio=[2, 1, 1], capacity=[0.02, 0.013, 0.005]
    )
    with pytest.raises(InputError, match="does not include stall"):
        side_by_side(SUPPLY, *(late, converter())[::order])
