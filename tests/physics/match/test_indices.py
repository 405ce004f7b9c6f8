"""Indices of a working range against integrals by hand and by scipy."""

import numpy as np
import pytest
from scipy.integrate import quad

from converter_match.judgement.match.solve import solve
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.indices import matching_indices
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine


def flat(torque=800.0):
    """An engine with one torque from idle to rated speed."""
    return engine(torque=[torque] * 8, accessories=())


def straight(capacity=0.02):
    """Torque ratio 2 - nu up to 0.9 and constant capacity: the engine stays at one speed."""
    nu = np.linspace(0.0, 0.9, 10)
    return converter(speed_ratio=nu, torque_ratio=2.0 - nu, capacity=np.full(10, capacity),
                     coupling_speed_ratio=None)  # fmt: skip


def test_flat_engine_and_straight_torque_ratio_against_the_integrals_by_hand():
    # omega is constant, so dn goes with d nu; eta = nu (2 - nu), P = T omega eta. Over a..b:
    # mean eta = (b^2 - a^2 - (b^3 - a^3) / 3) / (b - a).
    low, high = 0.5, 0.85
    found = matching_indices(engine_supply(flat()), straight(), low, high, 0.75)
    omega = np.sqrt(800.0 / 0.02)
    mean = (high**2 - low**2 - (high**3 - low**3) / 3.0) / (high - low)
    assert found.mean_efficiency == pytest.approx(mean, rel=1e-5)
    assert found.mean_output_power == pytest.approx(800.0 * omega * mean, rel=1e-5)
    assert found.low_speed == pytest.approx(low * omega)
    assert found.high_speed == pytest.approx(high * omega)
    assert found.span == pytest.approx(high / low)
    assert found.mean_specific_fuel is None


@pytest.mark.slow
def test_averages_over_turbine_speed_agree_with_scipy():
    supply, unit = engine_supply(engine()), converter()
    low, high = (float(nu) for nu in (unit.efficiency_crossings(0.75)[0], 0.9))

    def at(nu, name):
        return float(getattr(match(supply, unit, nu).from_idle(), name))

    def slope(nu):
        return (at(nu + 1e-6, "turbine_speed") - at(nu - 1e-6, "turbine_speed")) / 2e-6

    places = [0.6, 0.8, 0.86]
    power = quad(lambda nu: at(nu, "output_power") * slope(nu), low, high, points=places)[0]
    width = at(high, "turbine_speed") - at(low, "turbine_speed")
    found = matching_indices(supply, unit, low, high, 0.75)
    assert found.mean_output_power == pytest.approx(power / width, rel=1e-4)


def test_fuel_over_output_is_that_of_the_engine_over_the_efficiency_where_both_are_flat():
    # 220 g/kWh at every speed; all of the engine's torque goes into the converter.
    from converter_match.components.engine import Fuel, SpeedTable

    speed = np.array([800, 1500, 2200]) * RPM
    specific = 220.0 / 3.6e9
    burning = flat().replace(
        fuel=Fuel(specific=SpeedTable(speed=speed, value=[specific] * 3, name="fuel"))
    )
    found = matching_indices(engine_supply(burning), straight(), 0.5, 0.85, 0.75, fuel_law(burning))
    assert found.mean_specific_fuel * 3.6e9 == pytest.approx(
        220.0 / found.mean_efficiency, rel=1e-3
    )


def test_a_range_that_the_pair_does_not_run_in_has_no_indices():
    supply = engine_supply(flat())
    assert matching_indices(supply, straight(), 0.8, 0.8, 0.75) is None
    # 0.2 N.m/(rad/s)^2 would pull the engine down below idle.
    assert matching_indices(supply, straight(0.2), 0.5, 0.85, 0.75) is None


def test_range_ends_at_the_governed_limit():
    result = solve(engine(), converter())
    assert [item.level for item in result.indices] == [0.75, 0.8]
    for item in result.indices:
        assert item.high_speed == pytest.approx(result.governed_limit.turbine_speed, rel=1e-9)
    wide, narrow = result.indices
    assert wide.low_speed < narrow.low_speed
    assert wide.span > narrow.span
