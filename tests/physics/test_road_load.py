import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from converter_match.components.machine import Balance
from converter_match.physics.road_load import RoadLoad
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
