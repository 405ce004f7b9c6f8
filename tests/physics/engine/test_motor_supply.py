"""A motor as a supply: closed forms against the converter's K, voltage, reduction."""

import numpy as np
import pytest
from scipy.optimize import brentq

from converter_match.errors import InputError
from converter_match.physics.engine.motor import (
    CUT,
    electric_power,
    motor_supply,
    reduced,
    regenerative_torque,
    torque_curve,
)
from converter_match.physics.match.solver import match
from tests.examples import converter
from tests.motors import RPM, motor


class Constant:
    """A converter whose capacity is one number, and its torque ratio two."""

    def __init__(self, capacity):
        self.capacity = capacity

    def capacity_at(self, speed_ratio):
        return np.full(np.shape(speed_ratio), self.capacity)

    def torque_ratio_at(self, speed_ratio):
        return np.full(np.shape(speed_ratio), 2.0)


@pytest.mark.parametrize("factor", [1.0, 1.4, 2.0])
def test_constant_torque_meets_at_k_times_the_root_of_the_torque(factor):
    # T = C omega^2, so omega = K sqrt(T) with K = 1 / sqrt(C): definition of the K-factor.
    capacity = factor * 200.0 / (1500.0 * RPM) ** 2
    point = match(motor_supply(motor(), "peak"), Constant(capacity), 0.0).from_idle()
    assert point.engine_speed == pytest.approx(np.sqrt(200.0 / capacity), rel=1e-12)


@pytest.mark.parametrize("factor", [0.9, 0.4, 0.1])
def test_constant_power_meets_at_the_cube_root(factor):
    # P / omega = C omega^2, so omega^3 = P / C.
    power = 200.0 * 1500.0 * RPM
    capacity = factor * 200.0 / (1500.0 * RPM) ** 2
    point = match(motor_supply(motor(), "peak"), Constant(capacity), 0.0).from_idle()
    # The rows are 50 rpm apart, and a hyperbola between them is good to a few 1e-5.
    assert point.engine_speed == pytest.approx((power / capacity) ** (1 / 3), rel=1e-4)


def test_match_of_a_shipped_sheet_agrees_with_a_root_finder_of_another_library():
    sheet, supply = converter(), motor_supply(motor(), "continuous")
    for nu in (0.0, 0.4, 0.8):
        c = float(sheet.capacity_at(nu))
        root = brentq(lambda w, c=c: float(supply.torque(w)) - c * w * w, *supply.domain)
        assert match(supply, sheet, nu).from_idle().engine_speed == pytest.approx(root, rel=1e-9)


def test_speed_limit_takes_the_torque_away():
    supply = motor_supply(motor(), "peak")
    top = 4500.0 * RPM
    assert supply.domain[1] == pytest.approx(top * (1 + CUT))
    assert float(supply.torque(top)) == pytest.approx(200.0 / 3.0)
    assert float(supply.torque(supply.domain[1])) == pytest.approx(0.0, abs=1e-9)
    point = match(supply, Constant(1e-5), 0.0).from_idle()
    assert top <= point.engine_speed <= top * (1 + CUT)


@pytest.mark.parametrize("share", [0.8, 1.0, 1.2])
def test_voltage_stretches_the_curve_along_the_speed(share):
    from converter_match.components.motor import Supply

    given = motor(voltage=Supply(nominal=100.0, least=50.0, most=150.0))
    curve = torque_curve(given, "peak", voltage=100.0 * share)
    corner = 1500.0 * RPM * share
    assert float(curve(0.5 * corner)) == pytest.approx(200.0)
    # Beyond the corner the power goes with the voltage: T omega = U / U_n P_n.
    speed = 1.5 * corner
    assert float(curve(speed)) * speed == pytest.approx(200.0 * corner, rel=1e-4)


def test_voltage_outside_the_sheet_is_refused():
    from converter_match.components.motor import Supply

    with pytest.raises(InputError, match="outside the voltages"):
        torque_curve(motor(voltage=Supply(nominal=80.0)), "peak", voltage=60.0)
    with pytest.raises(InputError, match="states no nominal voltage"):
        torque_curve(motor(), "peak", voltage=60.0)


def test_reduction_keeps_the_power_but_for_its_loss():
    supply = motor_supply(motor(), "peak", hydraulic_torque=10.0, slowest=0.0)
    behind = reduced(supply, 3.2, 0.97)
    speed = np.linspace(0.0, 4500.0, 31) * RPM
    power = behind.torque(speed / 3.2) * (speed / 3.2)
    assert power == pytest.approx(0.97 * supply.torque(speed) * speed, rel=1e-12)


def test_electric_power_is_shaft_power_and_losses_both_ways():
    given, speed = motor(), 100.0
    # By hand: 100 W + 1500 W (50/100)^2 = 475 W.
    assert electric_power(given, 50.0, speed) == pytest.approx(5000.0 + 475.0)
    assert electric_power(given, -50.0, speed) == pytest.approx(-5000.0 + 475.0)
    with pytest.raises(InputError, match="needs the motor's losses"):
        electric_power(given.replace(losses=None), 1.0, 1.0)


def test_braking_torque_is_that_of_the_sheet_and_none_beyond():
    found = regenerative_torque(motor(), np.array([750.0, 3000.0, 6000.0]) * RPM)
    assert found == pytest.approx([-160.0, -80.0, 0.0], rel=1e-4)
    assert regenerative_torque(motor(regenerative=None), 100.0) == 0.0
