import numpy as np
import pytest

from converter_match.components.engine import SpeedTable
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.part_load_map import default_settings, idle_creep, part_load_map
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine

NU = np.linspace(0.0, 0.98, 50)


def pedal_engine():
    drag = SpeedTable(speed=[600 * RPM, 2400 * RPM], value=[60.0, 140.0], name="motoring")
    return engine(governing="torque", motoring=drag)


def test_full_setting_is_the_plain_match():
    for machine, full in ((engine(), engine().high_idle), (pedal_engine(), 1.0)):
        found = part_load_map(machine, converter(), [full], NU)
        plain = match(engine_supply(machine), converter(), NU).from_idle()
        np.testing.assert_allclose(found.points.engine_speed[0], plain.engine_speed, rtol=1e-12)
        np.testing.assert_allclose(found.points.turbine_torque[0], plain.turbine_torque, rtol=1e-12)


@pytest.mark.parametrize("machine", [engine(), pedal_engine()], ids=["speed", "torque"])
def test_more_setting_gives_more_speed_and_torque_and_balances_power(machine):
    settings = default_settings(machine)
    found = part_load_map(machine, converter(), settings, NU)
    points = found.points
    assert points.engine_speed.shape == (len(settings), NU.size)
    # A lower setting is interpolated through fewer rows: up to 0.2 % of torque, half as much speed.
    assert np.all(np.diff(points.engine_speed, axis=0) >= -1e-3 * points.engine_speed[1:])
    assert np.all(np.diff(points.turbine_torque, axis=0) >= -2e-3 * points.turbine_torque[1:])
    balance = points.input_power - points.output_power - points.heat
    assert np.all(np.abs(balance) <= 1e-9 * points.input_power)


def test_droop_line_is_met_where_the_governor_cuts_in():
    # Along the droop, T = T_full(onset) (no-load - w) / (no-load - onset): at the match both hold.
    machine = engine(accessories=())
    no_load = 1500 * RPM
    onset = no_load * machine.rated_speed / machine.high_idle
    found = part_load_map(machine, converter(), [no_load], [0.5]).points
    omega, torque = float(found.engine_speed[0, 0]), float(found.input_torque[0, 0])
    assert onset < omega < no_load
    line = float(machine.full_load(onset)) * (no_load - omega) / (no_load - onset)
    assert torque == pytest.approx(line, rel=1e-10)
    assert torque == pytest.approx(float(converter().capacity_at(0.5)) * omega**2, rel=1e-10)


def test_a_light_pedal_leaves_the_idle_governor_in_charge():
    found = part_load_map(pedal_engine(), converter(), [0.15], [0.0, 0.97])
    assert bool(found.at_idle[0, 0])
    assert bool(found.points.stable[0, 0])
    assert float(found.points.engine_speed[0, 0]) == pytest.approx(800 * RPM)
    assert float(found.points.input_torque[0, 0]) == pytest.approx(
        float(converter().capacity_at(0.0)) * (800 * RPM) ** 2
    )


def test_creep_and_holding_torque_at_idle_follow_from_the_definition_of_capacity():
    creep = idle_creep(engine(), converter(), NU)
    # K at stall is 60 rpm/sqrt(N.m): T = (800 / 60)^2 N.m into the impeller, 2.2 times that out.
    assert creep.holding_torque == pytest.approx(2.2 * (800 / 60) ** 2, rel=1e-9)
    assert creep.can_hold.all()
    # Letting the machine creep relieves the brakes.
    assert np.all(np.diff(creep.points.turbine_torque) < 0)


def test_an_engine_that_cannot_hold_idle_in_gear_is_told():
    tight = converter().replace(capacity=6 * converter().capacity)
    creep = idle_creep(engine(), tight, 0.0)
    assert not bool(creep.can_hold[0])


def test_notes_and_refusals():
    no_drag = engine(governing="torque")
    codes = {note.code for note in part_load_map(no_drag, converter(), [0.5, 0.8], NU).notes}
    assert codes == {"motoring-not-known"}
    with pytest.raises(InputError, match="no setting"):
        part_load_map(engine(), converter(), [], NU)
    with pytest.raises(InputError, match="above high idle"):
        part_load_map(engine(), converter(), [3000 * RPM], NU)
