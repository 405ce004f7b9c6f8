import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from converter_match.components.arrangement import LockUpClutch
from converter_match.errors import InputError
from converter_match.physics.arrangement.lockup import (
    Engagement,
    _slipping_evenly,
    engagement,
    lock_up,
    locked_points,
)
from converter_match.physics.dynamics.drive_train import drawn_to_unity
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from tests.examples import RPM, converter, engine

BY_RATIO = LockUpClutch(engage_by="speed-ratio", engage=0.92, release=0.8, engagement_time=0.5)
SPEEDS = np.linspace(0, 2300, 231) * RPM


def test_match_at_turbine_speed_inverts_the_match():
    supply, unit = engine_supply(engine()), converter()
    nu = np.array([0.0, 0.1, 0.45, 0.8, 0.86, 0.9, 0.97])
    direct = match(supply, unit, nu).from_idle()
    found = match_at_turbine_speed(supply, unit, direct.turbine_speed)
    # The turbine speed is closed in on to 1e-13; digits are lost where it hardly changes.
    assert found.speed_ratio == pytest.approx(nu, abs=1e-10)
    assert found.turbine_torque == pytest.approx(direct.turbine_torque, rel=1e-9)


def test_turbine_speeds_that_no_match_has_are_left_blank():
    supply, unit = engine_supply(engine()), converter()
    found = match_at_turbine_speed(supply, unit, [100.0, 2500 * RPM])
    assert found.found.tolist() == [True, False]
    assert np.isnan(found.speed_ratio[1])


def test_locked_up_the_engine_curve_is_the_output_and_there_is_no_heat():
    supply = engine_supply(engine())
    omega = np.linspace(*supply.domain, 50)
    points = locked_points(supply, omega)
    assert points.turbine_torque == pytest.approx(supply.torque(omega), rel=1e-12)
    assert points.turbine_speed == pytest.approx(omega)
    assert points.heat == pytest.approx(0.0, abs=1e-9)
    assert points.output_power == pytest.approx(points.input_power)


def test_hysteresis_keeps_the_clutch_closed_below_where_it_closes():
    supply, unit = engine_supply(engine()), converter()
    run = lock_up(supply, unit, BY_RATIO, SPEEDS)
    closes, opens = (float(match(supply, unit, nu).from_idle().turbine_speed) for nu in (0.92, 0.8))
    can = run.locked.found
    np.testing.assert_array_equal(run.rising, can & (closes <= SPEEDS))
    np.testing.assert_array_equal(run.falling, can & (opens <= SPEEDS))
    assert (run.closes, run.lets_go) == pytest.approx((closes, opens), rel=1e-12)
    between = (opens <= SPEEDS) & (closes > SPEEDS)
    assert between.any()
    assert run.driven().heat[between].min() > 0
    assert run.driven(falling=True).heat[between] == pytest.approx(0.0, abs=1e-9)


def test_rule_by_turbine_speed_and_by_gear():
    supply, unit = engine_supply(engine()), converter()
    by_speed = LockUpClutch(engage_by="turbine-speed", engage=1500 * RPM, release=1300 * RPM)
    run = lock_up(supply, unit, by_speed, np.array([1200, 1400, 1600]) * RPM)
    assert run.rising.tolist() == [False, False, True]
    assert run.falling.tolist() == [False, True, True]
    by_gear = LockUpClutch(engage_by="gear", engage=3, release=2)
    for gear, rising, falling in ((1, False, False), (2, False, True), (3, True, True)):
        run = lock_up(supply, unit, by_gear, [1600 * RPM], gear=gear)
        assert (bool(run.rising[0]), bool(run.falling[0])) == (rising, falling)
        # By gear it holds wherever the engine runs, or nowhere.
        idle = pytest.approx(supply.domain[0])
        assert run.closes == (idle if rising else pytest.approx(np.nan, nan_ok=True))
        assert run.lets_go == (idle if falling else pytest.approx(np.nan, nan_ok=True))
    with pytest.raises(InputError, match="the gear is needed"):
        lock_up(supply, unit, by_gear, SPEEDS)
    beyond = LockUpClutch(engage_by="speed-ratio", engage=1.0, release=0.8)
    with pytest.raises(InputError, match="beyond the converter's data"):
        lock_up(supply, unit, beyond, SPEEDS)


@pytest.mark.slow
@given(st.floats(0.5, 5.0), st.floats(1.0, 500.0))
def test_heat_of_engagement_is_the_kinetic_energy_lost_at_kept_momentum(inertia, driven):
    # Two discs brought to one speed keep their angular momentum; what kinetic energy is gone is
    # heat (any dynamics textbook).
    supply, unit = engine_supply(engine()), converter()
    shock = engagement(supply, unit, BY_RATIO, engine_inertia=inertia, driven_inertia=driven)
    a, b = shock.engine_speed, shock.turbine_speed
    common = (inertia * a + driven * b) / (inertia + driven)
    before = 0.5 * inertia * a**2 + 0.5 * driven * b**2
    after = 0.5 * (inertia + driven) * common**2
    assert shock.energy == pytest.approx(before - after, rel=1e-6)
    held = engagement(supply, unit, BY_RATIO, engine_inertia=inertia)
    # A machine much heavier than the engine keeps its speed.
    assert held.energy == pytest.approx(0.5 * inertia * (a - b) ** 2, rel=1e-12)
    assert held.energy > shock.energy


def slipping(law, inertia, omega_t, begin, until):
    """Follow J domega/dt = T_net - C omega^2 - T_c in time; return times, speeds, heat.

    Nothing of the package but the two curves; the converter is drawn to no torque at ratio 1.
    """
    supply, unit = engine_supply(engine()), drawn_to_unity(converter())

    def rate(t, y):
        omega = max(float(y[0]), omega_t)
        taken = float(unit.capacity_at(min(omega_t / omega, 1.0))) * omega**2
        carried = law(t, omega, float(supply.torque(omega)) - taken)
        left = float(supply.torque(omega)) - taken - carried
        return [left / inertia, carried * (omega - omega_t)]

    def met(t, y):
        return y[0] - omega_t - 1e-9

    met.terminal = True
    done = solve_ivp(
        rate, (0.0, until), [begin, 0.0], events=met, rtol=1e-10, atol=1e-10, max_step=until / 200
    )
    return done.t, done.y[0], float(done.y[1, -1])


def test_slip_in_a_straight_line_is_what_an_integration_in_time_gives():
    supply, unit = engine_supply(engine()), converter()
    shock = engagement(supply, unit, BY_RATIO, engine_inertia=2.0)
    step, time = shock.speed_step, 0.5
    point = match(supply, unit, 0.92).from_idle()
    assert step == pytest.approx(float(point.engine_speed) * (1 - 0.92), rel=1e-9)
    when, speed, heat = slipping(
        lambda t, omega, spare: spare + 2.0 * step / time,
        2.0,
        shock.turbine_speed,
        shock.engine_speed,
        time,
    )
    line = shock.engine_speed - step * when / time
    assert speed == pytest.approx(line, abs=1e-6)
    assert shock.energy_with_torque == pytest.approx(heat, rel=1e-4)
    # At the end the clutch carries all of the engine's torque, and the change of its momentum.
    locked = float(supply.torque(shock.turbine_speed))
    assert shock.clutch_torque == pytest.approx(locked + 2.0 * step / time, rel=1e-6)
    # More than at once, and less than if the converter had let go when the clutch took hold: then
    # the clutch carries torque x slip angle, (T + J step / t) (step t / 2).
    alone = (float(point.input_torque) + 2.0 * step / time) * step * time / 2
    assert shock.energy < shock.energy_with_torque < alone


def test_with_its_capacity_built_up_it_is_the_closing_followed_in_time():
    supply, unit = engine_supply(engine()), converter()
    clutch = dataclasses.replace(BY_RATIO, torque_capacity=1500.0)
    shock = engagement(supply, unit, clutch, engine_inertia=2.0)
    assert shock.in_time is not None
    when, _, heat = slipping(
        lambda t, omega, spare: 1500.0 * min(t / 0.5, 1.0),
        2.0,
        shock.turbine_speed,
        shock.engine_speed,
        1.5,
    )
    assert shock.in_time.slips_for == pytest.approx(when[-1], rel=1e-4)
    assert shock.in_time.dissipated == pytest.approx(heat, rel=1e-4)
    assert shock.in_time.dissipated > shock.energy
    account = shock.in_time.transient.energy
    assert abs(account.missing) <= 1e-6 * account.engine_work


def test_constant_clutch_torque_and_linear_slip_are_the_textbook_s_numbers():
    # Without a converter beside it and with a flat torque curve: slip time t = J step / (T_c - T),
    # heat = T_c step t / 2 (textbook of clutches).
    flat = engine_supply(engine(torque=[900.0] * 8, accessories=()))
    nothing = drawn_to_unity(converter(capacity=1e-12 * converter().capacity))
    step, time = 40.0, 0.4
    shock = Engagement(150.0, 190.0, step, 900.0, 900.0, 0.0, None, None)
    heat, torque = _slipping_evenly(flat, nothing, shock, 2.0, time)
    assert torque == pytest.approx(900.0 + 2.0 * step / time, rel=1e-9)
    assert time == pytest.approx(2.0 * step / (torque - 900.0), rel=1e-9)
    assert heat == pytest.approx(torque * step * time / 2, rel=1e-5)


def test_engagement_without_inertia_gives_the_step_and_no_heat():
    supply, unit = engine_supply(engine()), converter()
    shock = engagement(supply, unit, BY_RATIO)
    assert shock.speed_step > 0
    assert (shock.energy, shock.energy_with_torque, shock.clutch_torque) == (None, None, None)
    by_gear = LockUpClutch(engage_by="gear", engage=2, release=2)
    with pytest.raises(InputError, match="turbine speed of the engagement"):
        engagement(supply, unit, by_gear)
    assert engagement(supply, unit, by_gear, turbine_speed=400 * RPM) is None
    with pytest.raises(InputError, match="engine_inertia"):
        engagement(supply, unit, BY_RATIO, engine_inertia=-1.0)
