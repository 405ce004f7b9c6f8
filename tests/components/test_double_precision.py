"""Whatever numbers come in, single precision or whole, what comes out is computed in double."""

import numpy as np
import pytest

from converter_match.components.arrangement import Wheels
from converter_match.components.capacity_forms import (
    FORMS,
    CapacityBasis,
    from_capacity,
    to_capacity,
)
from converter_match.components.cooling import Cooler
from converter_match.components.fuel_map import FuelMap
from converter_match.components.machine import Slip
from converter_match.errors import InputError
from tests.machines import DRAG, gear

BASIS = CapacityBasis(
    reference_speed=150.0, profile_diameter=0.345, oil_density=840.0, reference_torque=120.0
)
TABLE = Cooler(difference=[0.0, 50.0, 90.0], heat=[0.0, 30e3, 45e3])
MAP = FuelMap([0.0, 200.0], [0.0, 500.0], [[0.0, 2.0], [4.0, 8.0]])
WHEELS = Wheels(overall_ratio=40.0, rolling_radius=0.5, efficiency=0.8)
FUNCTIONS = {
    "cooler by table": TABLE.heat_at,
    "cooler by conductance": Cooler.from_conductance(700.0).heat_at,
    "slip by table": Slip(use=[0.0, 1.0], slip=[0.0, 0.3]).at,
    "constant slip": Slip(constant=0.03).at,
    "drag law": DRAG.at,
    "gear drag": gear().drag_torque,
    "no drag": gear(drag=None).drag_torque,
    "fuel over torque": lambda values: MAP.at(values, 120.0)[0],
    "fuel over speed": lambda values: MAP.at(120.0, values)[0],
    "effort": WHEELS.tractive_effort,
    "travel speed": WHEELS.travel_speed,
} | {
    f"{way.__name__} {form}": lambda values, way=way, form=form: way(form, values, BASIS)
    for way in (to_capacity, from_capacity)
    for form in FORMS
}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_numbers_of_lower_precision_give_what_their_exact_values_give(name):
    function = FUNCTIONS[name]
    for given in (np.float32([[0.1, 0.3], [0.7, 33.3]]), np.array([[1, 2], [3, 47]])):
        found = function(given)
        assert found.dtype == np.float64
        assert found.shape == (2, 2)
        np.testing.assert_array_equal(found, function(given.astype(np.float64)))
        np.testing.assert_array_equal(found, function(given.astype(np.float64).tolist()))


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: to_capacity("k_factor", [70.0, 0.0], BASIS), "capacity.values"),
        (lambda: from_capacity("k_factor", [0.01, -5e-324], BASIS), "capacity"),
        (lambda: to_capacity("kfactor", 1.0, BASIS), "capacity.form"),
        (lambda: from_capacity("kfactor", 1.0, BASIS), "capacity.form"),
        (lambda: to_capacity("torque_at_speed", 1.0, CapacityBasis()), "capacity.reference_speed"),
        (lambda: to_capacity("power_at_speed", 1.0, CapacityBasis()), "capacity.reference_speed"),
        (
            lambda: to_capacity("performance_coefficient", 1.0, CapacityBasis(oil_density=840.0)),
            "profile_diameter",
        ),
        (
            lambda: to_capacity(
                "performance_coefficient", 1.0, CapacityBasis(profile_diameter=0.3)
            ),
            "oil_density",
        ),
    ],
)
def test_form_that_cannot_be_computed_is_refused_by_its_field(call, field):
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.field == field


def test_the_value_that_is_no_k_factor_is_shown():
    with pytest.raises(InputError) as caught:
        to_capacity("k_factor", [[70.0, 60.0], [-3.0, 0.0]], BASIS)
    assert caught.value.found == -3.0
    assert "torque_at_speed" in caught.value.hint
    with pytest.raises(InputError) as caught:
        from_capacity("k_factor", [[0.01, 0.0], [-0.02, -0.03]], BASIS)
    assert caught.value.found == -0.02
