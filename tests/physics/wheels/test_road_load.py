from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from converter_match.components.machine import Balance
from converter_match.physics.wheels.road_load import RoadLoad, air_density
from tests.machines import machine, surface

loads = st.builds(
    RoadLoad,
    mass=st.floats(1e3, 1e5),
    rolling_resistance=st.floats(0.0, 0.3),
    traction=st.floats(0.1, 1.0),
    driven_share=st.floats(0.2, 1.0),
    transfer=st.floats(-0.6, 0.6),
    drag_area=st.floats(0.0, 12.0),
    air_density=st.floats(0.6, 1.5),
    running_drag=st.floats(0.0, 2e3),
)


@given(loads, st.floats(-0.5, 1.0), st.floats(0.0, 20.0))
def test_force_equal_to_the_resistance_holds_the_grade(load, grade, speed):
    held = load.grade_held(load.resistance(grade, speed), speed)
    assert float(held) == pytest.approx(grade, abs=1e-9)


@given(loads, st.floats(0.0, 1.0))
def test_driven_weight_is_between_nothing_and_all_of_it(load, grade):
    weight = float(load.driven_weight(grade))
    assert 0.0 <= weight <= load.weight * np.cos(np.arctan(grade)) * (1 + 1e-12)


def weak_grip(**changes):
    fields = {"mass": 1e3, "rolling_resistance": 0.25, "traction": 0.125, "air_density": 1.2}
    return RoadLoad(**(fields | changes))


@example(weak_grip(driven_share=0.95, transfer=-0.6))  # all of it on the driven wheels
@example(weak_grip(driven_share=0.2, transfer=0.6, running_drag=1500.0))  # nothing on them
@given(loads)
def test_on_the_steepest_grade_by_grip_the_grip_equals_the_resistance(load):
    grade = load.steepest_by_adhesion()
    if not np.isfinite(grade) or grade < -0.5:
        return
    assert float(load.adhesion(grade)) == pytest.approx(
        float(load.resistance(grade, 0.0)), rel=1e-9, abs=1e-6 * load.weight
    )


def test_all_wheel_drive_climbs_traction_less_rolling_resistance():
    # Closed form: mu cos a = c cos a + sin a.
    load = RoadLoad.of(machine(running_drag=0.0), surface(), air_density=1.225)
    assert load.steepest_by_adhesion() == pytest.approx(0.6 - 0.03)


def test_front_drive_loses_grip_on_a_climb_and_gains_it_in_reverse():
    truck = machine(
        balance=Balance(
            driven_axle="front",
            driven_share_empty=0.5,
            driven_share_laden=0.9,
            wheelbase=2.0,
            gravity_height_empty=0.9,
            gravity_height_laden=1.0,
        )
    )
    ahead = RoadLoad.of(truck, surface(), load="laden", air_density=1.225)
    back = RoadLoad.of(truck, surface(), load="laden", air_density=1.225, direction="reverse")
    assert float(ahead.driven_weight(0.2)) < 0.9 * ahead.weight < float(back.driven_weight(0.1))
    # Speeding up does what climbing does: g sin a of acceleration on the level.
    angle = np.arctan(0.2)
    level = float(ahead.driven_weight(0.0, 9.80665 * np.sin(angle)))
    climb = float(ahead.driven_weight(0.2))
    assert level - climb == pytest.approx(0.9 * ahead.weight * (1 - np.cos(angle)))


def test_no_traction_coefficient_sets_no_limit():
    load = RoadLoad.of(machine(), surface(traction=None), air_density=1.225)
    assert np.isinf(load.adhesion([0.0, 0.3])).all()
    assert load.steepest_by_adhesion() == np.inf


def slope_of(**changes):
    """A machine of 10 kN weight on a slope of 3 in 4, where cos a = 0.8 and sin a = 0.6."""
    fields = {"mass": 1e4 / 9.80665, "rolling_resistance": 0.05, "air_density": 1.2}
    return RoadLoad(**(fields | changes))


def test_resistance_is_its_four_terms():
    load = slope_of(drag_area=5.0, running_drag=300.0)
    # 10 kN (0.05 x 0.8 + 0.6) + 1.2 x 5 / 2 x 10^2 + 300.
    assert float(load.resistance(0.75, 10.0)) == pytest.approx(6400.0 + 300.0 + 300.0, rel=1e-12)
    # The wind of a machine that rolls back pushes the other way.
    assert float(load.resistance(0.75, -10.0)) == pytest.approx(6400.0 - 300.0 + 300.0, rel=1e-12)
    assert float(load.resistance(-0.75, 0.0)) == pytest.approx(400.0 - 6000.0 + 300.0, rel=1e-12)
    both = load.resistance(np.float32([0.1, 0.3]), np.float32([0.1, 7.3]))
    exact = load.resistance(
        np.float32([0.1, 0.3]).astype(float), np.float32([0.1, 7.3]).astype(float)
    )
    np.testing.assert_array_equal(both, exact)
    assert load.weight == pytest.approx(1e4)
    assert load.resistance([[0.0], [0.1]], [1.0, 2.0, 3.0]).shape == (2, 3)


def test_force_that_lifts_the_machine_holds_any_grade():
    load = slope_of(rolling_resistance=0.0, running_drag=100.0)
    held = load.grade_held([6100.0, 10_099.0, 10_100.1, 5e4], 0.0)
    assert held[0] == pytest.approx(0.75, rel=1e-12)
    assert 10 < held[1] < np.inf
    assert np.isinf(held[2:]).all()
    single = np.float32(6100.3)
    assert float(load.grade_held(single, 0.0)) == float(load.grade_held(float(single), 0.0))


def test_weight_on_driven_wheels_is_shared_moved_and_never_negative_nor_all_of_it_twice():
    load = slope_of(driven_share=0.5, transfer=0.25, traction=0.4)
    # 10 kN (0.5 x 0.8 + 0.25 x 0.6), and 0.25 more per g of acceleration.
    assert float(load.driven_weight(0.75)) == pytest.approx(5500.0, rel=1e-12)
    assert float(load.driven_weight(0.75, 0.5 * 9.80665)) == pytest.approx(6750.0, rel=1e-12)
    assert float(load.adhesion(0.75, 0.5 * 9.80665)) == pytest.approx(2700.0, rel=1e-12)
    assert float(load.driven_weight(0.75, 9.80665)) == pytest.approx(8000.0, rel=1e-12)
    assert float(load.driven_weight(0.75, 99.0)) == pytest.approx(8000.0, rel=1e-12)
    assert float(load.driven_weight(0.75, -99.0)) == 0.0
    grade, rate = np.float32([0.1, 0.3]), np.float32([0.1, 0.7])
    np.testing.assert_array_equal(
        load.driven_weight(grade, rate), load.driven_weight(grade.astype(float), rate.astype(float))
    )
    free = slope_of()
    assert np.isinf(free.adhesion([[0.0, 0.1]], [[0.1], [0.2]])).all()
    assert free.adhesion([[0.0, 0.1]], [[0.1], [0.2]]).shape == (2, 2)


@pytest.mark.parametrize("axle", ["front", "rear", "all"])
@pytest.mark.parametrize("direction", ["forward", "reverse"])
@pytest.mark.parametrize("state", ["empty", "laden"])
def test_road_load_takes_over_what_machine_and_surface_say(axle, direction, state):
    shares = {"driven_share_empty": 0.4, "driven_share_laden": 0.7}
    balance = Balance(
        driven_axle=axle,
        wheelbase=2.0,
        gravity_height_empty=0.5,
        gravity_height_laden=1.0,
        **({} if axle == "all" else shares),
    )
    made = machine(balance=balance)
    load = RoadLoad.of(made, surface(), load=state, air_density=1.1, direction=direction)
    assert load.mass == (15_000.0 if state == "empty" else 20_000.0)
    assert (load.rolling_resistance, load.traction) == (0.03, 0.6)
    assert (load.air_density, load.running_drag) == (1.1, 800.0)
    assert load.drag_area == pytest.approx(6.3)
    moved = 0.25 if state == "empty" else 0.5
    if axle == "all":
        assert (load.driven_share, load.transfer) == (1.0, 0.0)
    else:
        assert load.driven_share == (0.4 if state == "empty" else 0.7)
        # Climbing loads the rear axle forwards and the front axle in reverse.
        loaded = (axle == "rear") == (direction == "forward")
        assert load.transfer == (moved if loaded else -moved)
    assert RoadLoad.of(made, surface(), air_density=1.1).mass == 15_000.0
    assert RoadLoad.of(made, surface(), air_density=1.1).transfer == {"rear": 0.25, "front": -0.25,
                                                                      "all": 0.0}[axle]  # fmt: skip
    assert RoadLoad.of(machine(), surface(), air_density=1.1).transfer == 0.0


def test_weight_that_is_not_known_to_move_stays():
    half = Balance(driven_axle="rear", driven_share_empty=0.4, driven_share_laden=0.7)
    assert RoadLoad.of(machine(balance=half), surface(), air_density=1.1).transfer == 0.0


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        # All wheels: mu cos a = c cos a + sin a + F.
        ({"traction": 0.8}, 0.75),
        # 0.75 cos a - sin a = 0.35 has a = arccos(0.28) - arctan(4 / 3).
        ({"traction": 0.8, "running_drag": 3500.0}, np.tan(np.arccos(0.28) - np.arctan(4 / 3))),
        # One axle: (0.8 x 0.5 - 0.05) cos a = (1 - 0.8 x 0.25) sin a.
        ({"traction": 0.8, "driven_share": 0.5, "transfer": 0.25}, 0.35 / 0.8),
        ({"traction": 0.8, "driven_share": 0.5, "transfer": -0.25}, 0.35 / 1.2),
        # All the weight on the one axle before its grip ends: as all wheels.
        ({"traction": 0.8, "driven_share": 0.9, "transfer": 0.5}, 0.75),
        # None on it already where its grip would do: it rolls back at 5 %.
        ({"traction": 0.01, "driven_share": 0.01, "transfer": 0.5}, -0.05),
        # More drag than grip on the level and on every slope.
        ({"traction": 0.8, "running_drag": 12_600.0}, -np.inf),
        ({}, np.inf),
    ],
)
def test_steepest_grade_by_adhesion_in_closed_form(changes, expected):
    assert slope_of(**changes).steepest_by_adhesion() == pytest.approx(expected, rel=1e-9)


def test_pull_that_grows_faster_than_the_grade_still_ends_with_all_the_weight():
    # mu h / L = 1.2: on the one axle alone there would be no end, with all of it there is 0.95.
    load = slope_of(traction=1.0, driven_share=0.5, transfer=1.2)
    assert load.steepest_by_adhesion() == pytest.approx(0.95, rel=1e-12)


def test_density_of_dry_air_is_the_gas_law_in_double_precision():
    # ISO 2533 at sea level: 1.225 kg/m3 at 101 325 Pa and 288.15 K.
    assert float(air_density(101_325.0, 288.15)) == pytest.approx(1.225, rel=1e-5)
    p, t = np.float32([90_000.1, 80_000.3]), np.float32([[280.1], [300.3]])
    np.testing.assert_array_equal(air_density(p, t), air_density(p.astype(float), t.astype(float)))


def test_draws_of_a_load_are_the_loads_one_by_one():
    own = RoadLoad.of(
        machine(
            balance=Balance(
                driven_axle="rear", driven_share_empty=0.4, driven_share_laden=0.7, wheelbase=2.0,
                gravity_height_empty=0.5, gravity_height_laden=1.0,
            )
        ),
        surface(), load="laden", air_density=1.2,
    )  # fmt: skip
    mass, rolling, air = np.array([0.9, 1.1]), np.array([1.2, 20.0]), np.array([1.0, 3.0])
    drawn = own.drawn(mass, rolling, air)
    for k in range(2):
        alone = replace(
            own, mass=own.mass * mass[k], air_density=1.2 * air[k],
            rolling_resistance=own.rolling_resistance * rolling[k],
        )  # fmt: skip
        for name, arguments in (
            ("resistance", (0.1, 8.0)), ("grade_held", (3e4, 8.0)), ("adhesion", (0.1,)),
            ("steepest_by_adhesion", ()),
        ):  # fmt: skip
            together = getattr(drawn, name)(*arguments)
            assert together[k] == pytest.approx(float(getattr(alone, name)(*arguments)), rel=1e-14)
