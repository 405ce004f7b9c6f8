"""The one solver with torque and capacity below zero, against a closed form."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.curves import Curve
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply
from converter_match.physics.match.solver import engine_speeds


@given(st.floats(20, 300), st.floats(0.0, 1.5), st.floats(80, 240))
def test_linear_drag_against_the_root_of_a_quadratic(constant, slope, omega):
    # -(a + b w) = C w^2 with C < 0: w = (b + sqrt(b^2 + 4 |C| a)) / (2 |C|).
    x = np.array([60.0, 260.0])
    supply = TorqueSupply(source=Curve(x, -(constant + slope * x)))
    capacity = -(constant + slope * omega) / omega**2
    speed, _ = engine_speeds(supply, capacity)
    c = -capacity
    closed = (slope + np.sqrt(slope**2 + 4 * c * constant)) / (2 * c)
    assert closed == pytest.approx(omega, rel=1e-9)
    found = speed[np.isfinite(speed)]
    assert found == pytest.approx([closed], rel=1e-11)


@given(st.lists(st.floats(61, 259), min_size=1, max_size=30), st.sampled_from([1.0, 1.7]))
def test_every_point_satisfies_the_equation_with_accessories(omegas, exponent):
    x = np.array([60.0, 120.0, 200.0, 260.0])
    supply = TorqueSupply(
        source=Curve(x, [-60.0, -80.0, -120.0, -170.0]),
        constant=15.0,
        laws=(PowerLaw(9.0, 220.0, 2.0), PowerLaw(4.0, 220.0, exponent)),
    )
    omega = np.array(omegas)
    capacity = supply.torque(omega) / omega**2
    speed, _ = engine_speeds(supply, capacity)
    found = np.nanmin(np.abs(speed - omega), axis=0)
    assert np.all(found <= 1e-9 * omega)
    at = np.where(np.isfinite(speed), speed, omega)
    residual = np.where(np.isfinite(speed), supply.torque(at) - capacity * at**2, 0.0)
    assert np.abs(residual).max() < 1e-9
