"""The fuel map against numpy's own straight lines, and what it refuses."""

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from converter_match.components.fuel_map import FuelMap
from converter_match.errors import InputError

SPEED, TORQUE = [100.0, 150.0, 230.0], [0.0, 400.0, 700.0, 1000.0]
RATE = np.array([[1.0, 3.0, 4.0, 6.5], [1.5, 4.0, 7.0, 9.0], [2.5, 6.0, 10.0, 16.0]]) * 1e-3


def fuel_map(**changes):
    return FuelMap(**({"speed": SPEED, "torque": TORQUE, "rate": RATE} | changes))


def test_inside_the_grid_it_is_the_bilinear_interpolant_of_scipy():
    reference = RegularGridInterpolator((SPEED, TORQUE), RATE)
    speed, torque = np.meshgrid(np.linspace(100, 230, 27), np.linspace(0, 1000, 31))
    found, inside = fuel_map().at(torque, speed)
    np.testing.assert_allclose(found, reference((speed, torque)), rtol=1e-12)
    assert inside.all()
    rows = fuel_map().at(TORQUE, np.array(SPEED)[:, np.newaxis])[0]
    np.testing.assert_allclose(rows, RATE, rtol=1e-14)


@pytest.mark.parametrize(
    ("torque", "speed", "at_edge"),
    [
        (500.0, 99.9, (500.0, 100.0)),
        (500.0, 230.1, (500.0, 230.0)),
        (-0.1, 120.0, (0.0, 120.0)),
        (1000.1, 120.0, (1000.0, 120.0)),
        (2000.0, 900.0, (1000.0, 230.0)),
        (-200.0, 10.0, (0.0, 100.0)),
    ],
)
def test_beyond_the_edge_the_edge_stands_and_is_said_to_be_outside(torque, speed, at_edge):
    found, inside = fuel_map().at(torque, speed)
    edge, edge_inside = fuel_map().at(*at_edge)
    assert float(found) == float(edge)
    assert not inside
    assert edge_inside


def test_smallest_grid_has_one_cell():
    one = FuelMap([100.0, 200.0], [0.0, 500.0], [[0.0, 2.0], [4.0, 8.0]])
    assert float(one.at(250.0, 150.0)[0]) == pytest.approx(3.5)
    assert float(one.at(125.0, 100.0)[0]) == pytest.approx(0.5)
    assert float(one.at(500.0, 175.0)[0]) == pytest.approx(6.5)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"speed": [100.0, 100.0, 230.0]}, "speed"),
        ({"torque": [0.0, 400.0, 300.0, 1000.0]}, "torque"),
        ({"speed": ["a", "b", "c"]}, "speed"),
        ({"torque": None}, "torque"),
        ({"rate": "none"}, "rate"),
        ({"rate": RATE.T}, "rate"),
        ({"rate": RATE[:, :3]}, "rate"),
        ({"rate": RATE[0]}, "rate"),
        ({"rate": np.where(RATE == 4e-3, -1e-12, RATE)}, "rate"),
        ({"rate": np.where(RATE == 4e-3, np.nan, RATE)}, "rate"),
        ({"rate": np.where(RATE == 4e-3, np.inf, RATE)}, "rate"),
    ],
)
def test_map_that_cannot_be_is_refused_by_its_field(changes, field):
    with pytest.raises(InputError) as caught:
        fuel_map(**changes)
    assert caught.value.field == field


def test_map_may_have_no_flow_and_is_a_value():
    assert fuel_map(rate=0 * RATE) != fuel_map()
    assert fuel_map() == fuel_map()
    assert not fuel_map().rate.flags.writeable
