import numpy as np
import pytest

from converter_match.components.machine import Cooler
from converter_match.physics.continuous_heat import heat_on_grades, oil_temperature
from converter_match.physics.road_load import RoadLoad
from converter_match.physics.supply import engine_supply
from converter_match.physics.tractive import equilibria
from converter_match.physics.turbine import TurbineShaft
from converter_match.physics.wheels import gear_drives
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
