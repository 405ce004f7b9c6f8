"""Rows of an acceleration run: heat, shifts, grip and endings, on chains of simple effort."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from converter_match.components.machine import Slip
from converter_match.components.response import EngineResponse
from converter_match.constants import GRAVITY
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drive_chain import drive_chain
from converter_match.physics.wheels.motion import accelerate
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias
from converter_match.physics.wheels.run_rows import Acceleration
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine, surface

SUPPLY = engine_supply(engine())
SHAFT = TurbineShaft(SUPPLY, converter())
LIGHT = Inertias(1.5, 0.2, 0.3, 80.0)
BARE = machine(slip=Slip(), frontal_area=None, drag_coefficient=None, running_drag=0.0)
ROAD = RoadLoad.of(BARE, surface(traction=None), air_density=1.2)
METHODS = pytest.mark.parametrize("method", ["quasi-steady", "dynamic"])


def real(own=BARE, road=ROAD, inertias=LIGHT, **changes):
    return drive_chain(SHAFT, driveline(**changes), own, inertias, road)


REAL = real()


def simple(*forces, rotating=0.0, up=5.0, own=BARE, one_gear=False):
    """States of constant effort [N] up to 20 m/s, each a gear; the upshift at 5 m/s."""
    count, numbers = len(forces), np.arange(len(forces))
    return replace(
        REAL,
        drives=tuple(replace(d, machine=own) for d in REAL.drives[:count]),
        up_speed=np.where(numbers < count - 1, up, np.inf),
        down_speed=np.full(count, -np.inf),
        up_to=np.minimum(numbers + 1, count - 1),
        down_to=np.maximum(numbers - 1, 0),
        gear_index=np.zeros(count, dtype=int) if one_gear else numbers,
        top=np.full(count, 20.0),
        force=np.repeat(np.array(forces, float)[:, None], 401, axis=1),
        rotating=np.full((count, 401), float(rotating)),
        follows=np.zeros((count, 401)),
    )


FREE = RoadLoad(mass=10_000.0, rolling_resistance=0.02, air_density=1.2)
R0 = 10_000.0 * GRAVITY * 0.02


# --- quasi-steady, closed forms ------------------------------------------------------------------


def test_constant_force_gives_straight_rows():
    # v = a t, x = v^2 / 2 a with a = (F - R) / (m + m_rot).
    run = accelerate(simple(20e3, rotating=1500.0), LIGHT, FREE, to_speed=8.0)
    rate = (20e3 - R0) / 11_500.0
    np.testing.assert_allclose(run.speed, rate * run.time, atol=1e-9)
    np.testing.assert_allclose(run.distance, run.speed**2 / (2 * rate), atol=1e-4)
    assert run.ending == "reached"
    assert run.time_to(8.0) == pytest.approx(8.0 / rate, rel=1e-9)
    assert run.distance_to(8.0) == pytest.approx(32.0 / rate, rel=1e-5)
    assert run.time_to(3.3) == pytest.approx(3.3 / rate, rel=1e-9)
    assert (run.time_to(0.0), run.distance_to(0.0)) == (0.0, 0.0)
    assert run.time_to(run.speed[-1] * 1.01) is None
    assert run.speed[-1] == pytest.approx(8.0, abs=20.0 / 599)
    assert np.all(run.state == 0)


def test_turbine_turns_with_the_tread_and_the_engine_stands_on_its_match():
    run = accelerate(simple(20e3), LIGHT, FREE, to_speed=1.5)
    np.testing.assert_allclose(run.turbine_speed, run.speed * 80.0 / 0.75, rtol=1e-9)
    for k in (10, 40):
        nu = run.turbine_speed[k] / run.engine_speed[k]
        point = match(SUPPLY, converter(), float(nu)).from_idle()
        assert run.engine_speed[k] == pytest.approx(float(point.engine_speed), rel=1e-4)


def test_heat_is_what_goes_into_the_converter_less_what_comes_out():
    run = accelerate(simple(20e3), LIGHT, FREE, to_speed=1.5)
    for k in (0, 20, 40):
        nu = run.turbine_speed[k] / run.engine_speed[k]
        torque = float(converter().capacity_at(nu)) * run.engine_speed[k] ** 2
        out = float(converter().torque_ratio_at(nu)) * torque * run.turbine_speed[k]
        assert run.heat[k] == pytest.approx(torque * run.engine_speed[k] - out, rel=1e-9)
    assert run.heat[0] > 50e3


def test_shift_rolls_without_drive_for_its_time():
    # a = -R / (m + m_rot of the wheels and shafts in the new gear) for half a second.
    run = accelerate(simple(20e3, 15e3), LIGHT, FREE, to_speed=9.0, shift_time=0.5)
    k = int(np.flatnonzero(run.state == -1)[0])
    assert np.count_nonzero(run.state == -1) == 1
    assert run.heat[k] == 0.0
    line = driveline()
    second = line.gear("2")
    rolling = LIGHT.in_gear(line, second, BARE)
    slowing = R0 / (10_000.0 + rolling)
    assert run.time[k] - run.time[k - 1] == pytest.approx(0.5)
    assert run.speed[k - 1] - run.speed[k] == pytest.approx(0.5 * slowing, rel=1e-9)
    mean = 0.5 * (run.speed[k] + run.speed[k - 1])
    assert run.distance[k] - run.distance[k - 1] == pytest.approx(0.5 * mean, rel=1e-9)
    assert run.turbine_speed[k] == pytest.approx(run.speed[k] * 2.2 * 20 / 0.75)
    assert run.engine_speed[k] == run.engine_speed[k - 1]
    # Both drives with constant acceleration, the pause between.
    first, then = (20e3 - R0) / 10_000.0, (15e3 - R0) / 10_000.0
    expected = 5.0 / first + 0.5 + (9.0 - 5.0 + 0.5 * slowing) / then
    assert run.time_to(9.0) == pytest.approx(expected, rel=2e-3)


def test_change_within_a_gear_is_not_interrupted():
    run = accelerate(simple(20e3, 20e3, one_gear=True), LIGHT, FREE, to_speed=9.0, shift_time=0.5)
    assert -1 not in run.state
    assert set(run.state.tolist()) == {0, 1}
    assert run.time_to(9.0) == pytest.approx(9.0 / ((20e3 - R0) / 1e4), rel=1e-9)


def test_shift_that_takes_no_time_leaves_no_row():
    run = accelerate(simple(20e3, 15e3), LIGHT, FREE, to_speed=9.0)
    assert -1 not in run.state
    first, then = (20e3 - R0) / 10_000.0, (15e3 - R0) / 10_000.0
    assert run.time_to(9.0) == pytest.approx(5.0 / first + 4.0 / then, rel=1e-3)


def test_gear_is_held_where_the_next_would_not_keep_the_speed():
    run = accelerate(simple(20e3, 1.5e3), LIGHT, FREE, to_speed=9.0)
    assert set(run.state.tolist()) == {0}
    assert run.ending == "reached"
    steep = accelerate(simple(20e3, 1.5e3), LIGHT, FREE, to_speed=30.0)
    assert (steep.ending, set(steep.state.tolist())) == ("end-of-gears", {0})
    assert steep.speed[-1] == pytest.approx(20.0)


def test_lock_up_of_the_next_gear_may_keep_the_speed():
    three = replace(
        simple(20e3, 1.5e3, 10e3), gear_index=np.array([0, 1, 1]),
        up_speed=np.array([5.0, 4.5, np.inf]),
    )  # fmt: skip
    run = accelerate(three, LIGHT, FREE, to_speed=9.0)
    assert run.ending == "reached"
    assert run.state[-1] == 2
    later = replace(three, up_speed=np.array([5.0, 8.0, np.inf]))
    assert set(accelerate(later, LIGHT, FREE, to_speed=9.0).state.tolist()) == {0}


def test_run_ends_with_the_gears():
    run = accelerate(REAL.limited_to("1"), LIGHT, ROAD, to_speed=15.0)
    assert run.ending == "end-of-gears"
    assert run.speed[-1] == pytest.approx(REAL.top[0], rel=1e-3)
    assert run.time_to(15.0) is None


def test_upshift_beyond_the_end_of_the_curve_is_not_made():
    beyond = simple(20e3, 15e3, up=25.0)
    run = accelerate(beyond, LIGHT, FREE, to_speed=30.0)
    # There is effort left: what ends the run is the end of the converter's data.
    assert run.ending == "end-of-data"
    assert set(run.state.tolist()) == {0}


@METHODS
def test_run_that_does_not_start_has_one_row_at_stall(method):
    run = accelerate(REAL, LIGHT, ROAD, to_speed=2.0, grade=1.0, method=method)
    stall = float(match(SUPPLY, converter(), 0.0).from_idle().engine_speed)
    if run.ending == "no-start":
        assert run.time.tolist() == run.speed.tolist() == run.distance.tolist() == [0.0]
        assert run.engine_speed.tolist() == [stall]
        assert run.turbine_speed.tolist() == [0.0]
        assert run.state.tolist() == [0]
    heavy = replace(ROAD, mass=10 * ROAD.mass)
    run = accelerate(REAL, LIGHT, heavy, to_speed=2.0, grade=0.5, method=method)
    assert run.ending == "no-start"
    assert [run.time[0], run.speed[0], run.distance[0], run.turbine_speed[0]] == [0.0] * 4
    assert run.engine_speed[0] == stall
    # Full throttle against a standing turbine: all of the power is heat.
    assert run.heat[0] == pytest.approx((1 / (60 * RPM) ** 2) * stall**3, rel=1e-9)
    assert (run.state.tolist(), run.time_to(2.0)) == ([0], None)


def test_just_no_more_effort_than_resistance_is_no_start():
    assert accelerate(simple(R0), LIGHT, FREE, to_speed=1.0).ending == "no-start"
    assert accelerate(simple(R0 + 50.0), LIGHT, FREE, to_speed=1.0).ending == "reached"
    # 1e-4 m/s^2 is 1 N here: less is a balance.
    assert accelerate(simple(R0 + 0.5), LIGHT, FREE, to_speed=1.0).ending == "balance"


def test_balance_below_the_speed_asked_for_is_where_air_drag_takes_the_effort():
    airy = replace(FREE, drag_area=50.0)
    run = accelerate(simple(4e3), LIGHT, airy, to_speed=15.0)
    top = np.sqrt((4e3 - R0) / (0.5 * 1.2 * 50.0))
    assert run.ending == "balance"
    assert run.speed[-1] == pytest.approx(top, abs=2 * 20.0 / 599)
    assert run.time_to(15.0) is None
    # t = (v_b m / 2 (F - R0)) ln((v_b + v) / (v_b - v)), towards a balance with v^2.
    speed = 0.8 * top
    expected = top * 1e4 / (2 * (4e3 - R0)) * np.log((top + speed) / (top - speed))
    assert run.time_to(speed) == pytest.approx(expected, rel=1e-3)


def test_grip_sets_the_acceleration_and_slip_the_tread():
    # (mu m g - R) / m; the tread turns 1 / (1 - s) as fast, s = 0.25 at full use.
    own = machine(slip=Slip(use=np.array([0.0, 0.5, 1.0]), slip=np.array([0.0, 0.03, 0.25])))
    icy = replace(FREE, traction=0.1)
    run = accelerate(simple(20e3, rotating=1500.0, own=own), LIGHT, icy, to_speed=4.0)
    rate = (0.1 - 0.02) * GRAVITY
    assert run.time_to(4.0) == pytest.approx(4.0 / rate, rel=1e-6)
    k = 100
    assert run.turbine_speed[k] == pytest.approx(run.speed[k] / 0.75 * 80.0 / 0.75, rel=1e-9)


def test_use_of_the_grip_without_the_rotating_share_sets_the_slip():
    own = machine(slip=Slip(use=np.array([0.0, 0.5, 1.0]), slip=np.array([0.0, 0.03, 0.25])))
    road = replace(FREE, traction=0.5)
    run = accelerate(simple(20e3, rotating=10_000.0, own=own), LIGHT, road, to_speed=4.0)
    # The ground passes on R + m a of the effort: half of what lies above R.
    use = (R0 + 0.5 * (20e3 - R0)) / (0.5 * 1e4 * GRAVITY)
    share = 1.0 - float(own.slip.at(use))
    assert run.turbine_speed[100] == pytest.approx(run.speed[100] / share * 80.0 / 0.75, rel=1e-6)


@METHODS
def test_run_says_whether_the_grip_cut_its_effort(method):
    chain = REAL.limited_to("1")
    firm = accelerate(chain, LIGHT, ROAD, to_speed=1.0, method=method)
    loose = replace(ROAD, traction=0.3)
    slid = accelerate(chain, LIGHT, loose, to_speed=1.0, method=method)
    assert (firm.grip_limited, slid.grip_limited) == (False, True)
    # At a stand, of the torque that the ground takes: T_t = mu C omega^2, heat = T_t omega / mu.
    drive, rate = chain.drives[0], (0.3 * ROAD.weight - ROAD.resistance(0.0, 0.0)) / ROAD.mass
    gain = drive.driveline.overall_ratio(drive.gear) / BARE.rolling_radius
    gain *= drive.driveline.efficiency(drive.gear)
    turning = LIGHT.in_gear(drive.driveline, drive.gear, BARE) * rate
    passed = (0.3 * ROAD.weight + turning) / gain + float(drive.gear.drag_torque(0.0))
    unit = converter()
    omega = np.sqrt(passed / (unit.torque_ratio[0] * unit.capacity[0]))
    assert slid.engine_speed[0] == pytest.approx(omega, rel=1e-6)
    assert slid.heat[0] == pytest.approx(passed / unit.torque_ratio[0] * omega, rel=1e-6)
    assert slid.heat[0] < 0.5 * firm.heat[0]
    # A limit just above the effort at a stand cuts nothing: what is left is R + m a of it.
    enough = float(chain.force[0, 0]) / (ROAD.mass * GRAVITY)
    held = replace(ROAD, traction=enough * 1.001)
    assert not accelerate(chain, LIGHT, held, to_speed=1.0, method=method).grip_limited


# --- dynamic -------------------------------------------------------------------------------------


def test_engine_and_machine_obey_newton_between_the_rows():
    # Heavy flywheel, no slip: J w' = T - C w^2 and M v' = eta i / r (mu C w^2 - T_d) - R.
    heavy = replace(LIGHT, engine=6.0)
    chain = real(inertias=heavy)
    run = accelerate(chain.limited_to("1"), heavy, ROAD, to_speed=2.0, method="dynamic")
    w, turbine = run.engine_speed, run.turbine_speed
    np.testing.assert_allclose(turbine, run.speed * 80.0 / 0.75, rtol=1e-9)
    nu = np.minimum(turbine / w, 0.99)
    impeller = converter().capacity_at(nu) * w**2
    left = SUPPLY.torque(w) - impeller
    # Work of the torques over time is what the inertia has gained.
    gained = np.trapezoid(left * w, run.time)
    assert 0.5 * 6.0 * (w[-1] ** 2 - w[0] ** 2) == pytest.approx(
        gained, abs=0.02 * np.trapezoid(np.abs(left * w), run.time) + 50.0
    )
    mass = ROAD.mass + heavy.in_gear(driveline(), driveline().gear("1"), BARE)
    drag = 5.0 + 15.0 * turbine / (2000 * RPM)
    push = (converter().torque_ratio_at(nu) * impeller - drag) * 0.96 * 0.95 * 80.0 / 0.75
    speed = np.trapezoid(push - ROAD.resistance(0.0, 0.0), run.time) / mass
    assert run.speed[-1] == pytest.approx(speed, rel=5e-3)
    assert run.distance[-1] == pytest.approx(np.trapezoid(run.speed, run.time), rel=5e-3)
    made = impeller * w - converter().torque_ratio_at(nu) * impeller * turbine
    np.testing.assert_allclose(run.heat, made, rtol=1e-9)


def test_locked_up_engine_turns_with_the_turbine_and_makes_no_heat():
    run = accelerate(REAL, LIGHT, ROAD, to_speed=7.0, method="dynamic")
    locked = (run.state >= 0) & REAL.locked[run.state]
    assert locked.any()
    np.testing.assert_allclose(run.engine_speed[locked], run.turbine_speed[locked])
    assert np.all(run.heat[locked] == 0.0)
    assert np.all(run.heat[~locked & (run.state >= 0) & (run.turbine_speed < 100.0)] > 0.0)
    steady = accelerate(REAL, LIGHT, ROAD, to_speed=7.0)
    held = (steady.state >= 0) & REAL.locked[steady.state]
    np.testing.assert_allclose(steady.engine_speed[held], steady.turbine_speed[held])
    assert np.all(steady.heat[held] == 0.0)


def test_locked_up_acceleration_carries_the_engines_inertia():
    # M = m + m_rot + eta i^2 J_e / r^2 and F = (T - T_drag) eta i / r, on the last locked stretch.
    run = accelerate(REAL, LIGHT, ROAD, to_speed=7.0, method="dynamic")
    state = int(run.state[-1])
    assert REAL.locked[state]
    rows = np.flatnonzero(run.state == state)
    i, j = rows[len(rows) // 3], rows[-1]
    drive = REAL.drives[state]
    ratio = float(REAL.ratio_over_radius[state])
    gain = 0.96 * 0.95 * ratio
    mass = ROAD.mass + LIGHT.in_gear(driveline(), drive.gear, BARE) + gain * ratio * 1.5

    def rate(speed):
        w = speed * ratio
        torque = float(SUPPLY.torque(w)) - 5.0 - 15.0 * w / (2000 * RPM)
        return (torque * gain - float(ROAD.resistance(0.0, speed))) / mass

    fine = np.linspace(run.speed[i], run.speed[j], 400)
    expected = np.trapezoid([1 / rate(v) for v in fine], fine)
    assert run.time[j] - run.time[i] == pytest.approx(expected, rel=1e-4)


def test_on_ice_the_dynamic_method_accelerates_as_the_ground_allows():
    icy = replace(ROAD, traction=0.08)
    own = machine(
        slip=Slip(constant=0.2), frontal_area=None, drag_coefficient=None, running_drag=0.0
    )
    chain = real(own=own, road=icy).limited_to("1")
    run = accelerate(chain, LIGHT, icy, to_speed=1.5, method="dynamic")
    rate = (0.08 - 0.03) * GRAVITY
    assert run.ending == "reached"
    assert run.time_to(1.5) == pytest.approx(1.5 / rate, rel=1e-5)
    assert run.distance_to(1.5) == pytest.approx(1.5**2 / (2 * rate), rel=1e-3)
    np.testing.assert_allclose(run.turbine_speed, run.speed / 0.8 * 80.0 / 0.75, rtol=1e-6)


@METHODS
def test_dynamic_and_quasi_steady_shift_at_the_same_speeds(method):
    run = accelerate(REAL, LIGHT, ROAD, to_speed=8.0, shift_time=0.3, method=method)
    gears = np.flatnonzero(run.state == -1)
    assert gears.size == 2
    for place, k in enumerate(gears):
        before = run.speed[k - 1]
        state = int(run.state[k - 1])
        assert before == pytest.approx(float(REAL.up_speed[state]), rel=2e-3)
        assert REAL.gear_index[state] == place
    assert np.all(np.diff(run.time) >= 0)
    assert np.all(np.diff(run.distance) >= -1e-9)


def test_dynamic_run_up_a_grade_ends_at_its_balance():
    run = accelerate(REAL, LIGHT, ROAD, to_speed=15.0, grade=0.06, method="dynamic")
    assert run.ending == "balance"
    state = int(run.state[-1])
    curve = REAL.drives[state].curve()
    force = float(np.interp(run.speed[-1], curve.wheel_speed, curve.force))
    assert force == pytest.approx(float(ROAD.resistance(0.06, run.speed[-1])), rel=0.02)


# --- the result by itself ------------------------------------------------------------------------


def rows(speed, time):
    speed, time = np.array(speed, float), np.array(time, float)
    zero = np.zeros(speed.size)
    return Acceleration(
        time, speed, 10.0 * time, zero, zero, zero, np.zeros(speed.size, int), "reached"
    )


def test_time_to_a_speed_lies_on_the_straight_line_between_rows():
    run = rows([0, 2, 4, 3, 6], [0, 1, 3, 4, 6])
    assert run.time_to(1.0) == pytest.approx(0.5)
    assert run.distance_to(3.0) == pytest.approx(20.0)
    assert run.time_to(4.0) == pytest.approx(3.0)
    assert run.time_to(5.0) == pytest.approx(4 + 2 / 3 * 2)
    assert run.time_to(6.0) == pytest.approx(6.0)
    # A speed missed by a rounding error is reached with the row; more is not.
    assert run.time_to(6.0 * (1 + 5e-13)) == 6.0
    assert run.time_to(6.0 * (1 + 5e-12)) is None


@pytest.mark.parametrize("speed", [0.0, -1.0, np.inf, np.nan])
def test_speed_that_is_no_aim_is_refused(speed):
    with pytest.raises(InputError, match="out of range") as error:
        accelerate(REAL, LIGHT, ROAD, to_speed=speed)
    assert (error.value.field, error.value.expected) == ("to_speed", "above zero")


def test_unknown_method_is_refused_with_the_known_ones():
    with pytest.raises(InputError, match="unknown method") as error:
        accelerate(REAL, LIGHT, ROAD, to_speed=1.0, method="steady")
    assert (error.value.field, error.value.found) == ("method", "steady")
    assert error.value.expected == "quasi-steady | dynamic"


# --- weight that the acceleration moves ----------------------------------------------------------


@METHODS
@pytest.mark.parametrize("transfer", [0.3, -0.25])
def test_acceleration_moves_weight_on_or_off_the_driven_wheels(method, transfer):
    # Rear axle drive, textbook of vehicle dynamics: m a = mu (m g s + m a h/L) - R, whatever way
    # it is solved: here by stepping it to its fixed point.
    road = replace(ROAD, traction=0.45, driven_share=0.55, transfer=transfer)
    run = accelerate(REAL.limited_to("1"), LIGHT, road, to_speed=1.0, method=method)
    need, rate = float(road.resistance(0.0, 0.0)), 0.0
    for _ in range(60):
        pull = 0.45 * road.mass * (GRAVITY * 0.55 + rate * transfer)
        rate = (pull - need) / road.mass
    assert run.grip_limited
    assert run.time_to(1.0) == pytest.approx(1.0 / rate, rel=2e-3)
    still = replace(road, transfer=0.0)
    plain = accelerate(REAL.limited_to("1"), LIGHT, still, to_speed=1.0, method=method)
    assert (run.time_to(1.0) < plain.time_to(1.0)) is (transfer > 0.0)


def test_no_more_weight_than_the_machine_s_own_comes_on_the_driven_wheels():
    road = replace(ROAD, traction=0.9, driven_share=0.9, transfer=0.9)
    need = float(road.resistance(0.0, 0.0))
    assert float(road.grip_rate(0.0, need)) == pytest.approx((0.9 * road.weight - need) / road.mass)
    light = replace(ROAD, traction=0.5, driven_share=0.02, transfer=-1.5)
    assert float(light.adhesion(0.0, light.grip_rate(0.0, -9e5))) == pytest.approx(0.0, abs=1e-9)
    assert np.isinf(ROAD.grip_rate([0.0, 0.1], 100.0)).all()


# --- an engine whose torque takes time -----------------------------------------------------------


def test_torque_that_takes_time_is_what_an_integration_of_our_own_gives():
    slow = EngineResponse(share=0.5, time=1.2)
    chain = REAL.limited_to("1")
    run = accelerate(chain, LIGHT, ROAD, to_speed=1.2, method="dynamic", response=slow)
    drive, unit = chain.drives[0], converter()
    ratio = drive.driveline.overall_ratio(drive.gear) / BARE.rolling_radius
    eta = drive.driveline.efficiency(drive.gear)
    mass = ROAD.mass + LIGHT.in_gear(drive.driveline, drive.gear, BARE)
    need = float(ROAD.resistance(0.0, 0.0))  # no air drag on this machine

    def rate(t, y):
        omega, v = float(np.clip(y[0], *SUPPLY.domain)), max(float(y[1]), 0.0)
        turbine = v * ratio
        nu = min(turbine / omega, 0.99)
        taken = float(unit.capacity_at(nu)) * omega**2
        made = float(SUPPLY.source(omega)) * (1 - 0.5 * np.exp(-t / 1.2))
        left = made - float(SUPPLY.load_torque(np.asarray(omega))) - taken
        pull = float(unit.torque_ratio_at(nu)) * taken - float(drive.gear.drag_torque(turbine))
        gain = (pull * eta * ratio - need) / mass
        return [left / LIGHT.engine, max(gain, 0.0) if y[1] <= 0 else gain]

    ends = run.time_to(1.2)
    own = solve_ivp(rate, (0.0, ends), [SUPPLY.domain[0], 0.0], rtol=1e-9, atol=1e-9, max_step=0.01)
    assert own.y[1, -1] == pytest.approx(1.2, rel=2e-3)
    assert run.engine_speed[0] == pytest.approx(SUPPLY.domain[0])
    at_once = accelerate(chain, LIGHT, ROAD, to_speed=1.2, method="dynamic")
    ideal = EngineResponse(share=1.0, time=1.0)
    from_idle = accelerate(chain, LIGHT, ROAD, to_speed=1.2, method="dynamic", response=ideal)
    assert at_once.time_to(1.2) < from_idle.time_to(1.2) < run.time_to(1.2)


def test_quasi_steady_knows_no_time_and_says_so():
    slow = EngineResponse(share=0.5, time=1.0)
    with pytest.raises(InputError, match=r"method: .*found 'quasi-steady'; expected dynamic"):
        accelerate(REAL, LIGHT, ROAD, to_speed=1.0, response=slow)
