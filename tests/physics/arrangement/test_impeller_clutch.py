import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from converter_match.components.arrangement import ImpellerClutch
from converter_match.errors import InputError
from converter_match.physics.arrangement.impeller_clutch import setting_for_torque, through_clutch
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from tests.examples import RPM, converter, engine, hole_engine

SUPPLY, UNIT = engine_supply(engine()), converter()
HELD = ImpellerClutch(torque_capacity=900.0, engine_speed=1700 * RPM)
OPEN_THROTTLE = ImpellerClutch(torque_capacity=1500.0)


def test_full_pressure_at_full_throttle_is_the_plain_match():
    speeds = np.linspace(0, 2200, 45) * RPM
    plain = match_at_turbine_speed(SUPPLY, UNIT, speeds)
    found = through_clutch(SUPPLY, UNIT, OPEN_THROTTLE, 1.0, speeds)
    assert not found.slipping.any()
    np.testing.assert_allclose(found.engine_speed, plain.engine_speed, rtol=1e-9)
    np.testing.assert_allclose(found.turbine_torque, plain.turbine_torque, rtol=1e-9)
    np.testing.assert_allclose(found.converter_heat, plain.heat, rtol=1e-8, atol=1e-6)
    assert np.nanmax(np.abs(found.clutch_heat)) < 1e-6


@given(
    st.floats(0.0, 1.0),
    st.lists(st.floats(0.0, 230.0), min_size=1, max_size=6),
    st.sampled_from([HELD, OPEN_THROTTLE]),
)
# So slow a turbine that the step to its speed ratio is lost in rounding.
@example(0.14435813656979504, [1.175494351e-38], OPEN_THROTTLE)
@pytest.mark.slow
def test_power_in_is_power_out_plus_both_heats(setting, speeds, clutch):
    found = through_clutch(SUPPLY, UNIT, clutch, setting, np.array(speeds))
    known = np.isfinite(found.torque)
    engine_power = found.engine_power[known]
    out = (found.output_power + found.clutch_heat + found.converter_heat)[known]
    assert np.all(np.abs(engine_power - out) <= 1e-9 * (1.0 + engine_power))
    assert np.all(found.clutch_heat[known] >= -1e-6)
    assert np.all(found.converter_heat[known] >= -1e-6)
    assert np.all(found.impeller_speed[known] <= found.engine_speed[known] * (1 + 1e-12))
    assert np.all(found.torque[known] <= setting * clutch.torque_capacity * (1 + 1e-12))
    assert np.all(found.power_left[known] >= 0)


def test_slipping_at_stall_follows_from_the_definition_of_capacity():
    found = through_clutch(SUPPLY, UNIT, HELD, 0.5, 0.0)
    torque = 0.5 * 900.0
    impeller = np.sqrt(torque / float(UNIT.capacity_at(0.0)))
    omega = 1700 * RPM
    assert float(found.impeller_speed) == pytest.approx(impeller, rel=1e-12)
    assert float(found.turbine_torque) == pytest.approx(2.2 * torque, rel=1e-12)
    assert float(found.clutch_heat) == pytest.approx(torque * (omega - impeller), rel=1e-12)
    assert float(found.engine_speed) == omega
    assert bool(found.held)
    # What the engine has beyond the clutch's torque is left for the pumps.
    spare = (float(SUPPLY.torque(omega)) - torque) * omega
    assert float(found.power_left) == pytest.approx(spare, rel=1e-12)


def test_an_engine_short_of_torque_comes_down_and_says_so():
    # At 1700 rpm the engine has about 890 N.m net; a clutch asking for 930 pulls it down the curve
    # to where it has that much, unless the converter takes less.
    strong = ImpellerClutch(torque_capacity=930.0, engine_speed=1950 * RPM)
    found = through_clutch(SUPPLY, UNIT, strong, 1.0, 0.0)
    assert not bool(found.held)
    assert float(found.engine_speed) < 1950 * RPM
    plain = match(SUPPLY, UNIT, 0.0).from_idle()
    assert float(found.torque) <= float(plain.input_torque) * (1 + 1e-12)


def test_full_throttle_with_a_slipping_clutch_settles_where_engine_and_clutch_agree():
    found = through_clutch(SUPPLY, UNIT, OPEN_THROTTLE, 0.3, 50.0)
    assert bool(found.slipping)
    assert float(SUPPLY.torque(found.engine_speed)) == pytest.approx(450.0, rel=1e-10)
    assert float(found.power_left) == pytest.approx(0.0, abs=1e-6)


def test_a_converter_that_holds_the_engine_down_runs_on_a_slipping_clutch_only():
    tight = UNIT.replace(capacity=8 * UNIT.capacity)
    assert not bool(match(SUPPLY, tight, 0.0).from_idle().found)
    clutch = ImpellerClutch(torque_capacity=1000.0, engine_speed=1500 * RPM)
    found = through_clutch(SUPPLY, tight, clutch, [0.4, 1.0], 0.0)
    assert found.slipping.tolist() == [True, False]
    assert float(found.torque[0]) == pytest.approx(400.0)
    assert bool(found.held[0])
    # At full pressure it takes more than the engine has at any speed down to idle: no operation.
    assert np.isnan(found.torque[1])


def test_an_engine_kept_slow_does_not_run_up_to_find_torque():
    # At 850 rpm the engine has about 735 N.m net, at 1500 rpm more than 900: a clutch that asks for
    # 850 stalls it and does not make it faster than the operator set it.
    tight = UNIT.replace(capacity=8 * UNIT.capacity)
    clutch = ImpellerClutch(torque_capacity=850.0, engine_speed=850 * RPM)
    found = through_clutch(SUPPLY, tight, clutch, 1.0, 0.0)
    assert float(SUPPLY.torque(1500 * RPM)) > 850 > float(SUPPLY.torque(850 * RPM))
    assert np.isnan(found.engine_speed)


def test_clutch_fully_open_passes_nothing():
    found = through_clutch(SUPPLY, UNIT, HELD, 0.0, np.array([0.0, 100.0]))
    assert found.turbine_torque.tolist() == [0.0, 0.0]
    assert found.clutch_heat.tolist() == [0.0, 0.0]
    assert found.power_left == pytest.approx(float(SUPPLY.torque(1700 * RPM)) * 1700 * RPM)


def test_shapes_follow_setting_and_turbine_speed():
    assert through_clutch(SUPPLY, UNIT, HELD, 0.5, 10.0).torque.shape == ()
    assert through_clutch(SUPPLY, UNIT, HELD, [0.2, 0.5], 10.0).torque.shape == (2,)
    assert through_clutch(SUPPLY, UNIT, HELD, 0.5, [10.0, 20.0]).torque.shape == (2,)
    assert through_clutch(SUPPLY, UNIT, HELD, [0.2, 0.5], [1.0, 2.0, 3.0]).torque.shape == (2, 3)


@pytest.mark.slow
@given(st.floats(300.0, 1500.0), st.floats(0.0, 150.0))
def test_inverse_gives_the_setting_that_keeps_the_limit(limit, turbine_speed):
    found = setting_for_torque(SUPPLY, UNIT, HELD, limit, turbine_speed)
    setting = float(found.setting)
    assert 0.0 < setting <= 1.0
    again = through_clutch(SUPPLY, UNIT, HELD, setting, turbine_speed)
    if setting < 1.0:
        assert float(again.turbine_torque) == pytest.approx(limit, rel=1e-7)
    else:
        assert float(again.turbine_torque) <= limit * (1 + 1e-9)
    assert float(found.turbine_torque) == float(again.turbine_torque)


def test_inverse_lets_go_of_the_clutch_only_where_the_limit_is_reached():
    speeds = np.linspace(0, 1500, 16) * RPM
    found = setting_for_torque(SUPPLY, UNIT, HELD, 1000.0, speeds)
    assert np.all(np.diff(found.setting) >= 0)  # less has to be let out as the wheels speed up
    assert found.setting[0] == pytest.approx(1000.0 / 2.2 / 900.0, rel=1e-9)
    assert found.setting[-1] == 1.0


def test_impossible_questions_are_refused():
    with pytest.raises(InputError, match=r"setting: out of range; found 1\.2"):
        through_clutch(SUPPLY, UNIT, HELD, [0.5, 1.2], 0.0)
    with pytest.raises(InputError, match="setting"):
        through_clutch(SUPPLY, UNIT, HELD, -0.1, 0.0)
    fast = ImpellerClutch(torque_capacity=900.0, engine_speed=2600 * RPM)
    with pytest.raises(InputError, match="cannot be held at that speed"):
        through_clutch(SUPPLY, UNIT, fast, 0.5, 0.0)
    with pytest.raises(InputError, match="turbine_torque"):
        setting_for_torque(SUPPLY, UNIT, HELD, -5.0, 0.0)
    late = UNIT.replace(
        speed_ratio=UNIT.speed_ratio[1:],
        torque_ratio=UNIT.torque_ratio[1:],
        capacity=UNIT.capacity[1:],
    )
    with pytest.raises(InputError, match="does not include stall"):
        through_clutch(SUPPLY, late, HELD, 0.5, 0.0)


def test_a_limit_that_only_a_slipping_clutch_reaches_has_its_setting():
    # Closed, the clutch would hold the engine down; at 400 N.m of 1000 it slips and the engine
    # lives, with 2.2 times as much at the turbine.
    tight = UNIT.replace(capacity=8 * UNIT.capacity)
    clutch = ImpellerClutch(torque_capacity=1000.0, engine_speed=1500 * RPM)
    assert np.isnan(through_clutch(SUPPLY, tight, clutch, 1.0, 0.0).torque)
    found = setting_for_torque(SUPPLY, tight, clutch, 2.2 * 400.0, 0.0)
    assert float(found.setting) == pytest.approx(0.4, rel=1e-9)
    assert float(found.turbine_torque) == pytest.approx(880.0, rel=1e-9)


# --- history -------------------------------------------------------------------------------------

# A converter that an engine with a torque hole either lives above or is caught in.
CAUGHT = converter(capacity=1.7 * converter().capacity)
HOLE = engine_supply(hole_engine())
IN_HOLE = ImpellerClutch(torque_capacity=1300.0, engine_speed=1400 * RPM)


def test_an_engine_with_torque_to_spare_at_its_speed_is_held_at_every_setting():
    # At 1900 rpm it has more than the converter takes at stall, but less than the clutch could
    # carry, and more torque further down its curve: that is no reason to go there.
    unit = converter(capacity=0.85 * converter().capacity)
    held = ImpellerClutch(torque_capacity=1500.0, engine_speed=1900 * RPM)
    needs = float(unit.capacity_at(0.0)) * (1900 * RPM) ** 2
    has = float(SUPPLY.torque(1900 * RPM))
    assert needs < has < float(np.max(SUPPLY.torque(SUPPLY.knots)))
    settings = np.linspace(0.02, 1.0, 50)
    found = through_clutch(SUPPLY, unit, held, settings, [0.0, 20.0, 60.0])
    assert found.held.all()
    assert np.all(found.engine_speed == 1900 * RPM)
    assert found.torque[:, 0] == pytest.approx(np.minimum(settings * 1500.0, needs), rel=1e-12)


@pytest.mark.slow
@pytest.mark.parametrize("turbine", [20.0, 30.0])
def test_closing_and_opening_are_what_an_engine_does_in_time(turbine):
    # J domega/dt = T - D, the governor a steep line above the speed that is held, the setting led
    # up to full pressure and back in steps, the engine up from idle, with the clutch closed, on
    # the way back. Nothing of the package but the curves.
    top = IN_HOLE.engine_speed
    steps = np.linspace(0.02, 1.0, 40)

    def led(settings, begin):
        def rate(t, y):
            share = settings[min(int(t / 3.0), settings.size - 1)]
            omega = float(np.clip(y[0], HOLE.domain[0], HOLE.domain[1]))
            made = float(HOLE.torque(min(omega, top))) * np.clip(1 - (omega - top) / 0.01, 0, 1)
            taken = float(CAUGHT.capacity_at(min(turbine / omega, 0.99))) * omega**2
            return [(made - min(share * 1300.0, taken)) / 0.3]

        ends = 3.0 * (np.arange(settings.size) + 1) - 1e-6
        return solve_ivp(
            rate, (0.0, ends[-1]), [begin], method="LSODA", t_eval=ends, rtol=1e-7, max_step=0.1
        ).y[0]

    closing = through_clutch(HOLE, CAUGHT, IN_HOLE, steps, turbine)
    opening = through_clutch(HOLE, CAUGHT, IN_HOLE, steps, turbine, "opening")
    assert closing.held.all()
    assert not opening.held[-1]
    assert (closing.engine_speed - opening.engine_speed).max() > 20.0
    up, down = led(steps, top), led(steps[::-1], HOLE.domain[0])[::-1]
    assert np.mean(np.abs(up - closing.engine_speed) < 0.3) == 1.0
    # Just where it lets go the engine is still on its way.
    assert np.mean(np.abs(down - opening.engine_speed) < 0.3) > 0.95


@pytest.mark.slow
@given(
    st.floats(0.01, 1.0),
    st.floats(0.0, 120.0),
    st.sampled_from(["closing", "opening"]),
    st.sampled_from([IN_HOLE, ImpellerClutch(torque_capacity=1300.0)]),
)
def test_with_several_matches_every_answer_is_a_balance_too(setting, turbine, moving, clutch):
    found = through_clutch(HOLE, CAUGHT, clutch, setting, turbine, moving)
    if np.isnan(found.engine_speed):
        return
    taken = float(CAUGHT.capacity_at(found.speed_ratio)) * float(found.impeller_speed) ** 2
    assert float(found.torque) == pytest.approx(taken, rel=1e-9)
    made = float(HOLE.torque(found.engine_speed))
    if found.held:
        assert made >= float(found.torque) * (1 - 1e-9)
    else:
        assert made == pytest.approx(float(found.torque), abs=1e-6)
    assert float(found.torque) <= setting * clutch.torque_capacity * (1 + 1e-9)
    if found.slipping:
        assert float(found.torque) == pytest.approx(setting * clutch.torque_capacity, rel=1e-12)
