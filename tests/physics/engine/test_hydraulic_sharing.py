import numpy as np
import pytest

from converter_match.components.arrangement import HydraulicSharing
from converter_match.components.engine import SpeedTable
from converter_match.errors import InputError
from converter_match.physics.engine.hydraulic_sharing import shared_supplies
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine

SPEED = np.array([700, 1500, 2400]) * RPM


def pumps(*torque):
    return SpeedTable(speed=SPEED, value=torque, name="pump torque")


def test_pump_torque_is_deducted_at_every_speed():
    sharing = HydraulicSharing(standby=pumps(20, 22, 25), relief=pumps(200, 260, 270))
    states = shared_supplies(engine(), sharing)
    assert [state.state for state in states] == ["without", "standby", "relief"]
    plain = engine_supply(engine())
    omega = np.linspace(*plain.domain, 33)
    for state in states[1:]:
        expected = plain.torque(omega) - state.pump.curve(omega)
        assert state.supply.torque(omega) == pytest.approx(expected, rel=1e-12, abs=1e-9)


def test_a_constant_pump_torque_is_the_hydraulic_torque_of_the_plain_match():
    sharing = HydraulicSharing(relief=pumps(180, 180, 180))
    found = shared_supplies(engine(), sharing)[-1]
    expected = engine_supply(engine(), hydraulic_torque=180.0)
    nu = np.linspace(0, 0.95, 20)
    a, b = (match(each, converter(), nu).from_idle() for each in (found.supply, expected))
    np.testing.assert_allclose(a.turbine_torque, b.turbine_torque, rtol=1e-10)


def test_engine_power_is_shared_without_remainder():
    sharing = HydraulicSharing(partial=pumps(100, 150, 160))
    state = shared_supplies(engine(), sharing)[-1]
    points = match(state.supply, converter(), np.linspace(0, 0.98, 30)).from_idle()
    omega = points.engine_speed
    engine_power = engine_supply(engine()).torque(omega) * omega
    pump_power = state.pump.curve(omega) * omega
    used = pump_power + points.output_power + points.heat
    assert engine_power == pytest.approx(used, rel=1e-10)


def test_more_pump_torque_leaves_less_at_the_wheels():
    sharing = HydraulicSharing(
        standby=pumps(20, 22, 25), partial=pumps(100, 150, 160), relief=pumps(200, 260, 270)
    )
    torque = [
        float(match(state.supply, converter(), 0.0).from_idle().turbine_torque)
        for state in shared_supplies(engine(), sharing)
    ]
    assert torque == sorted(torque, reverse=True)


def test_pumps_too_heavy_for_the_engine_leave_no_stall_match():
    state = shared_supplies(engine(), HydraulicSharing(relief=pumps(900, 900, 900)))[-1]
    assert not bool(match(state.supply, converter(), 0.0).from_idle().found)


def test_a_pump_table_that_does_not_cover_the_engine_is_refused():
    short = SpeedTable(speed=[1000 * RPM, 2000 * RPM], value=[100, 120], name="pump torque")
    with pytest.raises(InputError, match=r"hydraulic_sharing\.relief: .*low idle to high idle"):
        shared_supplies(engine(), HydraulicSharing(relief=short))
