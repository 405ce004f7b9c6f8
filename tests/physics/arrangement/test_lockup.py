import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.arrangement import LockUpClutch
from converter_match.errors import InputError
from converter_match.physics.arrangement.lockup import engagement, lock_up, locked_points
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


def test_engagement_under_pull_adds_the_engines_torque_over_half_the_slip():
    supply, unit = engine_supply(engine()), converter()
    shock = engagement(supply, unit, BY_RATIO, engine_inertia=2.0)
    point = match(supply, unit, 0.92).from_idle()
    step = float(point.engine_speed) * (1 - 0.92)
    assert shock.speed_step == pytest.approx(step, rel=1e-9)
    torque = float(point.input_torque)
    # The slip falls in a straight line to zero in 0.5 s at a steady clutch torque T + J step / t:
    # heat = torque x slip angle = (T + J step / t) (step t / 2).
    clutch = torque + 2.0 * step / 0.5
    assert shock.clutch_torque == pytest.approx(clutch, rel=1e-9)
    assert shock.energy_with_torque == pytest.approx(clutch * step * 0.5 / 2, rel=1e-9)


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
