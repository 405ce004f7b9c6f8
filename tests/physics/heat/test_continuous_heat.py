import dataclasses

import numpy as np
import pytest

from converter_match.components.machine import Cooler
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.heat.continuous import (
    _steepest_cooled,
    heat_on_grades,
    oil_temperature,
)
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import equilibria
from converter_match.physics.wheels.wheels import gear_drives
from tests.examples import converter, engine
from tests.machines import driveline, machine, surface


@pytest.fixture(scope="module")
def drive():
    return gear_drives(TurbineShaft(engine_supply(engine()), converter()), driveline(), machine())[
        1
    ]


@pytest.fixture(scope="module")
def load():
    return RoadLoad.of(machine(), surface(), load="laden", air_density=1.225)


def test_on_the_steepest_cooled_grade_the_heat_is_what_the_cooler_carries(drive, load):
    capacity = 60e3
    found = heat_on_grades(drive, load, capacity)
    assert found.limited_by == "cooler"
    # The same from the other side: settle on that grade and look at the heat.
    settled = equilibria([drive], [load], [found.steepest_cooled])
    assert settled.held.any()
    heat = float(settled.wheels.oil_heat[settled.held][0])
    assert heat == pytest.approx(capacity, rel=2e-3)  # straight lines between sampled points
    gentler = equilibria([drive], [load], np.linspace(0.1, 0.99, 12) * found.steepest_cooled)
    assert np.all(gentler.wheels.oil_heat[gentler.held] <= capacity * 1.001)


def test_a_larger_cooler_holds_a_steeper_grade(drive, load):
    steepest = [heat_on_grades(drive, load, q).steepest_cooled for q in (40e3, 60e3, 90e3)]
    assert steepest == sorted(steepest)
    assert steepest[0] < steepest[-1]


def test_without_a_cooler_nothing_is_said(drive, load):
    found = heat_on_grades(drive, load, None)
    assert (found.steepest_cooled, found.limited_by) == (None, "none")


def test_cooler_too_small_for_the_light_end(drive, load):
    found = heat_on_grades(drive, load, 10.0)
    assert (found.steepest_cooled, found.limited_by) == (None, "cooler")


def test_cooler_beyond_all_heat_leaves_grip_or_effort_as_the_limit(drive, load):
    assert heat_on_grades(drive, load, 1e9).limited_by in ("grip", "effort")


def test_oil_settles_where_the_cooler_carries_the_heat():
    for cooler in (
        Cooler.from_conductance(900.0),
        Cooler(difference=[0.0, 40.0, 100.0], heat=[0.0, 30e3, 60e3]),
    ):
        heat = np.array([5e3, 30e3, 55e3])
        settled = oil_temperature(cooler, heat, 298.15)
        np.testing.assert_allclose(cooler.heat_at(settled - 298.15), heat, rtol=1e-3)
    assert np.isnan(oil_temperature(cooler, np.array(70e3), 298.15))


# --- the walk from the light end, on a curve of a few points -------------------------------------

GRADES = np.array([0.30, 0.20, 0.10, 0.05])
HEATS = np.array([90e3, 60e3, 30e3, 10e3])


def walked(capacity, holds=(True,) * 4, grips=(True,) * 4):
    return _steepest_cooled(GRADES, HEATS, np.array(holds), np.array(grips), capacity)


def test_steepest_lies_on_the_straight_line_at_the_coolers_heat():
    # 45 kW is half-way between 30 and 60 kW: 15 %.
    steepest, why = walked(45e3)
    assert (steepest, why) == (pytest.approx(0.15), "cooler")
    assert walked(60e3) == (pytest.approx(0.20), "cooler")


def test_cooler_that_carries_everything_leaves_effort_or_grip():
    assert walked(90e3) == (0.30, "effort")
    assert walked(1e9, (False, True, True, True)) == (0.20, "effort")
    assert walked(1e9, (False, True, True, True), (False, True, True, True)) == (0.20, "grip")
    # Grip is gone at stall only; two points below it another thing ends the holding.
    assert walked(1e9, (False, False, True, True), (False, True, True, True)) == (0.10, "effort")


def test_light_end_decides_whether_anything_is_cooled():
    assert walked(10e3) == (pytest.approx(0.05), "cooler")
    assert walked(np.nextafter(10e3, 0.0)) == (None, "cooler")
    # The last point that holds is the light end.
    assert walked(20e3, (True, True, True, False)) == (None, "cooler")
    assert walked(30e3, (True, True, True, False)) == (pytest.approx(0.10), "cooler")


def test_nothing_that_holds_and_no_cooler_say_nothing():
    assert walked(1e9, (False,) * 4) == (None, "none")
    assert walked(None) == (None, "none")


def test_points_hold_their_grade_where_they_grip_and_are_in_force(drive, load):
    found = heat_on_grades(drive, load, 60e3)
    curve = drive.curve()
    some = found.holds
    assert some.any()
    # The road asks at that grade and speed what the wheels give.
    need = load.resistance(found.grade[some], found.speed[some])
    np.testing.assert_allclose(need, curve.force[some], rtol=1e-6)
    slip = machine().slip.at(curve.force[some] / load.adhesion(found.grade[some]))
    np.testing.assert_allclose(found.speed[some], curve.wheel_speed[some] * (1 - slip), rtol=1e-4)
    np.testing.assert_array_equal(found.heat, curve.oil_heat)
    assert np.all(curve.force[some] <= load.adhesion(found.grade[some]))
    assert np.all(curve.turbine.turbine_speed[some] <= drive.engages)
    # Steeper is slower: each point that holds has a gentler one after it.
    rows = np.flatnonzero(some)
    rows = rows[rows < some.size - 1]
    assert np.all(found.grade[rows + 1] < found.grade[rows])


def test_point_without_grip_does_not_hold(drive, load):
    slippery = dataclasses.replace(load, traction=0.25)
    found = heat_on_grades(drive, slippery, 1e9)
    assert found.limited_by == "grip"
    pull = drive.curve().force[found.holds]
    assert pull.max() <= float(slippery.adhesion(0.0))
    # The steepest grade on which 0.25 of the weight is enough, to one point of the curve.
    assert found.steepest_cooled <= slippery.steepest_by_adhesion()
    assert found.steepest_cooled == pytest.approx(slippery.steepest_by_adhesion(), rel=0.05)
