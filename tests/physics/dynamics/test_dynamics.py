"""Courses in time against closed forms, the steady match, and energy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from converter_match.components.converter import Converter
from converter_match.components.response import EngineResponse
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.physics.dynamics.drive_train import (
    Commands,
    DriveTrain,
    Schedule,
    drawn_to_unity,
)
from converter_match.physics.dynamics.dynamics import (
    drive_train,
    load_step,
    lock_up_engagement,
    stall_run_up,
    steady_start,
)
from converter_match.physics.dynamics.simulation import Start, simulate
from converter_match.physics.engine.part_load import part_load_supply
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine


def train(**changes):
    fields = {
        "supply": engine_supply(engine()),
        "converter": drawn_to_unity(converter()),
        "engine_inertia": 2.0,
        "impeller_inertia": 0.5,
        "output_inertia": 40.0,
    }
    return DriveTrain(**(fields | changes))


def straight(low, high, first, last):
    """Engine torque on a straight line between two speeds."""
    return TorqueSupply(Curve([low, high], [first, last], name="torque", x_name="speed"))


def assert_energy_closes(course):
    account = course.energy
    scale = max(abs(account.engine_work), abs(account.kinetic_change), account.load_work)
    assert abs(account.missing) < 1e-6 * scale
    # The same by another way: trapezoids over the torques and speeds that were handed out.
    t = course.time
    power = {
        "engine_work": course.engine_torque * course.engine_speed,
        "load_work": course.load_torque * course.turbine_speed,
        "converter_heat": course.impeller_torque * course.impeller_speed
        - course.turbine_torque * course.turbine_speed,
        "impeller_clutch_heat": course.impeller_clutch_torque
        * (course.engine_speed - course.impeller_speed),
        "lock_up_heat": course.lock_up_torque * (course.impeller_speed - course.turbine_speed),
    }
    for name, rate in power.items():
        by_trapezoids = np.trapezoid(rate, t)
        # 2nd-order rule on a few thousand points, so a thousandth and not a millionth.
        assert by_trapezoids == pytest.approx(getattr(account, name), rel=2e-3, abs=2e-5 * scale)
    for heat in (course.converter_heat, course.impeller_clutch_heat, course.lock_up_heat):
        assert np.all(np.diff(heat) >= -1e-9 * scale)


# --- closed forms --------------------------------------------------------------------------------


def test_run_up_at_constant_torque_is_a_hyperbolic_tangent():
    """J w' = T - C w^2 has w = w_s tanh(t/tau + artanh(w_0/w_s)), w_s = sqrt(T/C),
    tau = J/sqrt(T C) (separation of variables).
    """
    torque, c, inertia, w0 = 600.0, 0.02, 2.5, 80.0
    flat = Converter(
        id="flat", name="flat", source="a closed form", stator="fixed",
        speed_ratio=[0.0, 0.9], torque_ratio=[2.0, 0.9], capacity=[c, c],
    )  # fmt: skip
    course = stall_run_up(
        DriveTrain(straight(50.0, 400.0, torque, torque), flat, 2.0, 0.5, 1.0),
        start_speed=w0,
        duration=3.0,
    )
    settled, tau = np.sqrt(torque / c), inertia / np.sqrt(torque * c)
    expected = settled * np.tanh(course.time / tau + np.arctanh(w0 / settled))
    np.testing.assert_allclose(course.engine_speed, expected, rtol=1e-8)
    heat = np.trapezoid(c * expected**3, course.time)
    assert course.converter_heat[-1] == pytest.approx(heat, rel=1e-4)


def test_two_discs_meet_as_the_textbook_says():
    """Without other torques: energy 1/2 J1 J2/(J1 + J2) step^2, time step/(T (1/J1 + 1/J2)), and
    the common speed keeps the angular momentum.
    """
    idle = Converter(
        id="idle", name="idle", source="a closed form", stator="none",
        speed_ratio=[0.0, 1.0], torque_ratio=[1.0, 1.0], capacity=[1e-12, 0.0],
    )  # fmt: skip
    j1, j2, w1, w2, capacity = 2.5, 7.0, 220.0, 150.0, 800.0
    course = simulate(
        DriveTrain(straight(50.0, 400.0, 0.0, 0.0), idle, 2.0, 0.5, j2),
        Commands(lock_up=Schedule.constant(capacity)),
        Start(w1, w2),
        2.0,
    )
    energy = 0.5 * j1 * j2 / (j1 + j2) * (w1 - w2) ** 2
    assert course.energy.lock_up_heat == pytest.approx(energy, rel=1e-8)
    assert course.first("lock-up-sticks") == pytest.approx(
        (w1 - w2) / (capacity * (1 / j1 + 1 / j2)), rel=1e-8
    )
    together = (j1 * w1 + j2 * w2) / (j1 + j2)
    np.testing.assert_allclose(
        [course.engine_speed[-1], course.turbine_speed[-1]], together, rtol=1e-9
    )


@pytest.mark.slow
def test_slipping_impeller_clutch_sets_the_impeller_speed_at_a_standing_turbine():
    """Steady: C(0) omega_p^2 = clutch capacity, and the engine runs where its torque is that."""
    course = simulate(
        train(),
        Commands(turbine_held=True, impeller_clutch=Schedule.constant(400.0)),
        Start(1800 * RPM, impeller_speed=0.0),
        12.0,
    )
    expected = np.sqrt(400.0 / converter().capacity[0])
    assert course.impeller_speed[-1] == pytest.approx(expected, rel=1e-6)
    assert course.engine_torque[-1] == pytest.approx(400.0, rel=1e-6)
    assert_energy_closes(course)


# --- the steady match ----------------------------------------------------------------------------


def test_stall_run_up_settles_at_the_stall_match():
    course = stall_run_up(train(), duration=8.0)
    stall = match(train().supply, train().converter, 0.0).from_idle()
    assert course.engine_speed[0] == pytest.approx(800 * RPM, rel=1e-12)
    assert course.engine_speed[-1] == pytest.approx(float(stall.engine_speed), rel=1e-6)
    assert course.turbine_torque[-1] == pytest.approx(float(stall.turbine_torque), rel=1e-6)
    assert course.stopped is None
    assert [note.kind for note in course.notes][-1] == "caution"
    assert_energy_closes(course)


@pytest.mark.slow
@pytest.mark.parametrize("drag", [0.005, 0.02, 0.08])
def test_any_load_settles_at_the_match_of_its_speed_ratio(drag):
    course = simulate(
        train(output_inertia=3.0), Commands(load_per_speed_squared=drag), Start(800 * RPM), 40.0
    )
    point = match(train().supply, train().converter, course.speed_ratio[-1]).from_idle()
    assert course.engine_speed[-1] == pytest.approx(float(point.engine_speed), rel=1e-6)
    assert course.load_torque[-1] == pytest.approx(float(point.turbine_torque), rel=1e-6)
    assert_energy_closes(course)


def test_part_load_settles_at_the_part_load_match():
    supply, _ = part_load_supply(engine(), setting=1700 * RPM)
    course = stall_run_up(train(supply=supply), duration=8.0)
    stall = match(supply, converter(), 0.0).from_idle()
    assert course.engine_speed[-1] == pytest.approx(float(stall.engine_speed), rel=1e-6)


def test_steady_start_stays_where_it_is():
    before = steady_start(train(), 0.7)
    course = simulate(train(), Commands(load=Schedule.constant(before.load)), before.start, 5.0)
    np.testing.assert_allclose(course.engine_speed, before.start.engine_speed, rtol=1e-9)
    np.testing.assert_allclose(course.speed_ratio, 0.7, rtol=1e-9)


@pytest.mark.slow
def test_locked_up_engine_and_turbine_settle_where_engine_torque_is_load():
    done = lock_up_engagement(
        train(), speed_ratio=0.88, capacity=2000.0, closing_time=0.5, duration=40.0
    )
    course = done.transient
    load = course.load_torque[-1]
    assert float(train().supply.torque(course.turbine_speed[-1])) == pytest.approx(load, rel=1e-6)
    assert_energy_closes(course)


# --- lock-up -------------------------------------------------------------------------------------


def test_lock_up_closes_the_speed_step_and_heats_the_clutch():
    done = lock_up_engagement(train(), speed_ratio=0.86, capacity=1500.0, closing_time=0.6)
    course = done.transient
    assert done.holds
    assert done.begins < done.locked_at < done.begins + 0.6
    assert done.speed_step == pytest.approx(0.14 * done.engine_speed_before, rel=1e-9)
    assert done.engine_speed_after < done.engine_speed_before
    # No less than two free discs would lose, the engine pulling on top of it.
    free = 0.5 * 2.5 * 40.0 / 42.5 * done.speed_step**2
    assert done.dissipated > free
    locked = course.time > done.locked_at
    np.testing.assert_allclose(course.speed_ratio[locked], 1.0, rtol=1e-9)
    assert course.converter_heat[-1] == pytest.approx(course.converter_heat[locked][0], rel=1e-9)
    assert_energy_closes(course)


def test_constant_clutch_torque_slips_linearly_as_in_the_textbooks():
    # Two free discs under a constant torque T (any textbook of machine elements): the slip falls in
    # a straight line, t = dw / (T (1/J1 + 1/J2)), and the heat is half of the product, T dw t / 2.
    # Engine and converter are a thousandth of the clutch, and it closes in a hundredth of t.
    weak = drawn_to_unity(converter(capacity=1e-3 * converter().capacity))
    discs = train(supply=straight(80.0, 300.0, 2.0, -1.0), converter=weak)
    done = lock_up_engagement(discs, speed_ratio=0.8, capacity=500.0, closing_time=1e-3)
    time = done.speed_step / (500.0 * (1.0 / 2.5 + 1.0 / 40.0))
    assert done.slips_for == pytest.approx(time, rel=0.01)
    assert done.dissipated == pytest.approx(0.5 * 500.0 * done.speed_step * time, rel=0.01)


@pytest.mark.slow
def test_faster_closing_dissipates_less_and_pulls_harder():
    quick, slow = (
        lock_up_engagement(train(), speed_ratio=0.86, capacity=1500.0, closing_time=time)
        for time in (0.2, 1.5)
    )
    assert quick.dissipated < slow.dissipated
    assert quick.highest_torque > slow.highest_torque


def test_lock_up_too_weak_for_the_load_slips_on():
    done = lock_up_engagement(train(), speed_ratio=0.86, capacity=300.0, closing_time=0.6)
    assert not done.holds
    assert done.locked_at is None
    assert done.highest_torque == pytest.approx(300.0)
    assert_energy_closes(done.transient)


def test_stuck_lock_up_slips_once_the_load_exceeds_its_capacity():
    before = steady_start(train(), 0.9)
    course = simulate(
        train(),
        Commands(
            load=Schedule(np.array([0.0, 3.0, 3.2]), before.load * np.array([1.0, 1.0, 3.0])),
            lock_up=Schedule.constant(1.15 * before.load),
        ),
        Start(before.start.engine_speed, before.start.engine_speed),
        5.0,
    )
    assert [happening.code for happening in course.happenings][:1] == ["lock-up-slips"]
    assert np.abs(course.lock_up_torque).max() <= 1.15 * before.load * (1 + 1e-6)
    assert_energy_closes(course)


def test_lock_up_on_data_that_end_early_stops_with_a_flag_instead_of_extrapolating():
    done = lock_up_engagement(
        train(converter=converter()), speed_ratio=0.86, capacity=1500.0, closing_time=0.6
    )
    course = done.transient
    assert course.stopped.code == "speed-ratio-above-data"
    assert course.stopped in course.notes
    assert course.time[-1] < 5.0
    assert course.speed_ratio.max() == pytest.approx(0.99, abs=1e-7)
    assert done.locked_at is None


# --- driving into a pile -------------------------------------------------------------------------


def pile(**changes):
    arguments = {"speed_ratio": 0.8, "load_after": 3500.0, "rise_time": 0.5, "duration": 8.0}
    return load_step(train(), **(arguments | changes))


def test_pile_brings_the_machine_to_stall():
    course = pile()
    stall = match(train().supply, train().converter, 0.0).from_idle()
    assert course.turbine_speed[-1] == 0
    assert course.first("turbine-stops") is not None
    assert course.engine_speed[-1] == pytest.approx(float(stall.engine_speed), rel=1e-6)
    assert_energy_closes(course)


@pytest.mark.slow
def test_impeller_clutch_keeps_the_engine_up_and_cuts_the_push():
    without = pile()
    clutch = Schedule(np.array([0.0, 0.5, 0.8]), np.array([2000.0, 2000.0, 400.0]))
    with_clutch = pile(impeller_clutch=clutch)
    assert with_clutch.engine_speed[-1] > without.engine_speed[-1] + 200 * RPM
    assert with_clutch.turbine_torque[-1] < 0.5 * without.turbine_torque[-1]
    # At rest: clutch capacity times the stall torque ratio, 2.2 on the sheet.
    assert with_clutch.turbine_torque[-1] == pytest.approx(400.0 * 2.2, rel=1e-5)
    assert with_clutch.impeller_clutch_heat[-1] > 0
    assert with_clutch.converter_heat[-1] < without.converter_heat[-1]
    assert_energy_closes(with_clutch)


@pytest.mark.slow
def test_impeller_clutch_that_never_slips_changes_nothing():
    rigid, clutched = pile(), pile(impeller_clutch=Schedule.constant(1e5))
    assert clutched.energy.impeller_clutch_heat == 0
    at = np.linspace(0, 8, 50)
    np.testing.assert_allclose(
        np.interp(at, clutched.time, clutched.engine_speed),
        np.interp(at, rigid.time, rigid.engine_speed),
        rtol=1e-6,
    )


@pytest.mark.slow
def test_opened_impeller_clutch_closes_again():
    clutch = Schedule(
        np.array([0.0, 0.5, 0.8, 2.0, 2.5]), np.array([2000.0, 2000.0, 0.0, 0.0, 2000.0])
    )
    course = pile(impeller_clutch=clutch, load_after=1800.0)
    codes = [happening.code for happening in course.happenings]
    assert codes.index("impeller-clutch-slips") < codes.index("impeller-clutch-sticks")
    np.testing.assert_allclose(course.engine_speed[-1], course.impeller_speed[-1], rtol=1e-9)
    assert_energy_closes(course)


def test_load_never_drives_a_machine_that_it_brought_to_rest():
    course = pile(load_after=20e3)
    assert course.turbine_speed.min() == 0


def test_machine_moves_off_again_when_the_load_gives_way():
    before = steady_start(train(), 0.5)
    load = Schedule(np.array([0.0, 0.5, 5.0, 5.5]), np.array([before.load, 6000.0, 6000.0, 200.0]))
    course = simulate(train(), Commands(load=load), before.start, 9.0)
    codes = [happening.code for happening in course.happenings]
    assert codes == ["turbine-stops", "turbine-starts"]
    assert course.turbine_speed[-1] > before.start.turbine_speed
    assert_energy_closes(course)


# --- where the data end --------------------------------------------------------------------------


def test_locked_engine_that_lugs_down_is_flagged():
    course = simulate(
        train(),
        Commands(load=Schedule.ramp(700.0, 3000.0, 0.5, 0.5), lock_up=Schedule.constant(1e4)),
        Start(2000 * RPM, 2000 * RPM),
        10.0,
    )
    assert course.stopped.code == "engine-below-known-speeds"
    assert course.engine_speed[-1] == pytest.approx(800 * RPM, rel=1e-6)
    assert "Nothing is extrapolated" in course.stopped.message


def overrunning(converter):
    """At high idle the accessories slow the engine down, and a heavy machine runs on."""
    return simulate(
        train(converter=converter, output_inertia=4000.0),
        Commands(),
        Start(2380 * RPM, 2375 * RPM),
        5.0,
    )


def test_machine_that_overruns_is_flagged_where_there_are_no_data():
    course = overrunning(drawn_to_unity(converter()))
    assert course.stopped.code == "speed-ratio-above-data"
    assert course.speed_ratio[-1] == pytest.approx(1.0, abs=1e-7)


def test_machine_that_overruns_drives_the_engine_where_there_are_data():
    drawn = drawn_to_unity(converter())
    course = overrunning(
        drawn.replace(
            speed_ratio=np.append(drawn.speed_ratio, 1.2),
            torque_ratio=np.append(drawn.torque_ratio, 1.0),
            capacity=np.append(drawn.capacity, -5e-3),
            kinks=(*drawn.kinks, 1.0),
        )
    )
    assert course.stopped is None
    assert 1.0 < course.speed_ratio[-1] < 1.2
    # The converter gives the engine what its accessories lack.
    assert course.impeller_torque[-1] == pytest.approx(course.engine_torque[-1], rel=0.05)
    assert course.engine_torque[-1] < 0
    assert_energy_closes(course)


@pytest.mark.parametrize(
    ("start", "words"),
    [
        (Start(700 * RPM), "start.engine_speed.*rad/s"),
        (Start(2500 * RPM), "start.engine_speed"),
        (Start(1500 * RPM, -1.0), "not usable speeds"),
        (Start(np.nan), "not usable speeds"),
        (Start(1500 * RPM, 1600 * RPM), "speed ratio.*nothing is extrapolated|nothing is extrap"),
        (Start(1500 * RPM, 0.0, 1400 * RPM), "without an impeller clutch"),
    ],
)
def test_start_outside_the_data_is_refused(start, words):
    with pytest.raises(InputError, match=words):
        simulate(train(), Commands(), start, 1.0)


def test_held_turbine_that_turns_is_refused():
    with pytest.raises(InputError, match="does not turn"):
        simulate(train(), Commands(turbine_held=True), Start(1500 * RPM, 10.0), 1.0)


# --- other bad input -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: Schedule(np.array([0.0, 0.0]), np.array([1.0, 2.0])), "do not increase"),
        (lambda: Schedule(np.array([0.0, 1.0]), np.array([1.0])), "one length"),
        (lambda: Schedule(np.array([0.0]), np.array([-1.0])), "below zero"),
        (lambda: Schedule(np.array([0.0]), np.array([np.nan])), "not finite"),
        (lambda: Schedule.ramp(0.0, 1.0, 0.0, 0.0), "takes"),
        (lambda: Commands(load_per_speed=-1.0), "load_per_speed"),
        (lambda: train(output_inertia=0.0), "output_inertia"),
        (lambda: simulate(train(), Commands(), Start(1500 * RPM), 0.0), "duration"),
        (lambda: simulate(train(), Commands(), Start(1500 * RPM), 1.0, samples=1), "samples"),
        (lambda: pile(load_after=-5.0), "load_after"),
        (lambda: pile(rise_time=0.0), "rise_time"),
        (lambda: load_step(train(), speed_ratio=1.2, load_after=1.0, rise_time=1.0), "speed ratio"),
        (
            lambda: load_step(
                train(), speed_ratio=0.5, load_after=1.0, rise_time=1.0, begins=9.0, duration=5.0
            ),
            "begins",
        ),
        (
            lambda: lock_up_engagement(train(), speed_ratio=0.86, capacity=-1.0, closing_time=0.5),
            "capacity",
        ),
    ],
)
def test_bad_request_is_refused(build, words):
    with pytest.raises(InputError, match=words):
        build()


def test_speed_ratio_without_a_match_is_refused():
    hardly = engine_supply(engine(), hydraulic_torque=690.0)
    with pytest.raises(InputError, match="do not run together"):
        steady_start(train(supply=hardly), 0.0)


def test_inertia_that_is_not_stated_is_asked_for_and_not_guessed():
    supply = engine_supply(engine())
    with pytest.raises(InputError, match=r"test-engine: inertia: not given"):
        drive_train(engine(), supply, converter(), 50.0)
    with pytest.raises(InputError, match=r"test-converter: inertia\.turbine"):
        drive_train(engine(inertia=1.5), supply, converter(impeller_inertia=0.4), 50.0)
    whole = drive_train(
        engine(inertia=1.5), supply, converter(impeller_inertia=0.4, turbine_inertia=0.2), 50.0
    )
    assert (whole.engine_inertia, whole.impeller_inertia, whole.output_inertia) == (1.5, 0.4, 50.2)


def test_data_are_drawn_to_unity_only_with_a_note_and_only_where_it_makes_sense():
    drawn = drawn_to_unity(converter())
    assert drawn.capacity_at(1.0) == 0
    nu = np.linspace(0, 0.99, 100)
    np.testing.assert_array_equal(drawn.capacity_at(nu), converter().capacity_at(nu))
    assert "capacity-drawn-to-zero" in {note.code for note in drawn.notes}
    assert drawn_to_unity(drawn) is drawn
    fixed = converter(stator="fixed", coupling_speed_ratio=None, torque_ratio=[
        2.2, 1.95, 1.7, 1.43, 1.12, 1.0, 0.9, 0.8])  # fmt: skip
    with pytest.raises(InputError, match="fixed stator"):
        drawn_to_unity(fixed)
    short = converter(
        speed_ratio=[0, 0.2, 0.4], torque_ratio=[2.2, 1.95, 1.7], capacity=[0.02, 0.02, 0.02],
        coupling_speed_ratio=None,
    )  # fmt: skip
    with pytest.raises(InputError, match="too far below"):
        drawn_to_unity(short)


# --- energy in general ---------------------------------------------------------------------------


@pytest.mark.slow
@given(
    speed_ratio=st.floats(0.1, 0.85),
    factor=st.floats(0.2, 4.0),
    clutch=st.lists(st.floats(0.0, 2000.0), min_size=3, max_size=3) | st.none(),
    lock=st.lists(st.floats(0.0, 2000.0), min_size=3, max_size=3) | st.none(),
    inertia=st.floats(2.0, 200.0),
)
@settings(max_examples=12)
def test_energy_closes_whatever_the_commands(speed_ratio, factor, clutch, lock, inertia):
    whole = train(output_inertia=inertia)
    before = steady_start(whole, speed_ratio)
    times = np.array([0.5, 1.0, 1.6])
    course = simulate(
        whole,
        Commands(
            load=Schedule.ramp(before.load, factor * before.load, 0.4, 0.3),
            impeller_clutch=None if clutch is None else Schedule(times, np.array(clutch)),
            lock_up=None if lock is None else Schedule(times, np.array(lock)),
        ),
        before.start,
        3.0,
        samples=3000,
    )
    assert_energy_closes(course)
    assert np.all(np.diff(course.time) >= 0)
    low, high = whole.converter.domain
    assert low - 1e-7 <= course.speed_ratio.min() <= course.speed_ratio.max() <= high + 1e-7
    if clutch is not None:
        capacity = np.interp(course.time, times, clutch)
        assert np.all(np.abs(course.impeller_clutch_torque) <= capacity + 1e-3)


@pytest.mark.slow
def test_run_up_of_an_engine_whose_torque_takes_time_is_an_integration_of_our_own():
    slow = EngineResponse(share=0.5, time=1.5)
    course = stall_run_up(train(), duration=6.0, response=slow)
    unit, supply = train().converter, train().supply
    inertia = train().engine_inertia + train().impeller_inertia

    def rate(t, y):
        omega = float(y[0])
        made = float(supply.source(omega)) * (1 - 0.5 * np.exp(-t / 1.5))
        left = made - float(supply.load_torque(np.asarray(omega)))
        return [(left - float(unit.capacity_at(0.0)) * omega**2) / inertia]

    own = solve_ivp(rate, (0.0, 6.0), [supply.domain[0]], rtol=1e-10, atol=1e-10, t_eval=[1.0, 6.0])
    for when, speed in zip(own.t, own.y[0], strict=True):
        assert np.interp(when, course.time, course.engine_speed) == pytest.approx(speed, rel=1e-4)
    account = course.energy
    assert abs(account.missing) <= 1e-6 * account.engine_work
    at_once = stall_run_up(train(), duration=6.0)
    assert np.interp(1.0, at_once.time, at_once.engine_speed) > own.y[0][0] * 1.02
