"""Torques and accelerations at one instant by hand; schedules, starts and accounts."""

import numpy as np
import pytest

from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.physics.dynamics.drive_train import (
    OPEN,
    STUCK,
    Commands,
    DriveTrain,
    Mode,
    Schedule,
    drawn_to_unity,
    torques,
)
from converter_match.physics.dynamics.dynamics import (
    STALL_CAUTION,
    drive_train,
    load_step,
    lock_up_engagement,
    stall_run_up,
    steady_start,
)
from converter_match.physics.dynamics.simulation import Start, simulate
from converter_match.physics.dynamics.transient import EnergyAccount, Happening, Transient
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine

CONVERTER = drawn_to_unity(converter())
# 800 N.m at every speed, so that accelerations can be worked out by hand.
FLAT = TorqueSupply(Curve([80.0, 260.0], [800.0, 800.0], name="torque", x_name="speed"))
TRAIN = DriveTrain(FLAT, CONVERTER, 2.0, 0.5, 40.0)
REAL = DriveTrain(engine_supply(engine()), CONVERTER, 2.0, 0.5, 40.0)


def at(mode, speeds=(200.0, 180.0, 90.0), time=0.0, **commands):
    return torques(TRAIN, Commands(**commands), mode, time, np.array(speeds, float))


def hydraulic(w_p, w_t):
    nu = w_t / w_p
    impeller = float(CONVERTER.capacity_at(nu)) * w_p**2
    return impeller, float(CONVERTER.torque_ratio_at(nu)) * impeller


# --- one instant ---------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [1, -1])
def test_slipping_impeller_clutch_carries_its_capacity_against_the_slip(way):
    now = at(
        Mode(way, OPEN, False), load=Schedule.constant(300.0),
        impeller_clutch=Schedule.constant(500.0),
    )  # fmt: skip
    impeller, turbine = hydraulic(180.0, 90.0)
    assert (now.engine, now.impeller, now.turbine, now.load) == pytest.approx(
        (800.0, impeller, turbine, 300.0)
    )
    assert (now.impeller_clutch, now.lock_up) == (way * 500.0, 0.0)
    assert now.acceleration == pytest.approx(
        ((800 - way * 500) / 2.0, (way * 500 - impeller) / 0.5, (turbine - 300.0) / 40.0)
    )


@pytest.mark.parametrize("way", [1, -1])
def test_rigid_shaft_with_a_slipping_lock_up(way):
    now = at(Mode(STUCK, way, False), (180.0, 180.0, 90.0), lock_up=Schedule.constant(200.0))
    impeller, turbine = hydraulic(180.0, 90.0)
    together = (800.0 - impeller - way * 200.0) / 2.5
    assert now.acceleration == pytest.approx((together, together, (turbine + way * 200.0) / 40.0))
    # What the shaft carries is what speeds the impeller up and holds its loads.
    assert now.impeller_clutch == pytest.approx(impeller + way * 200.0 + 0.5 * together)


def test_stuck_lock_up_with_a_slipping_impeller_clutch():
    now = at(
        Mode(1, STUCK, False), (200.0, 120.0, 120.0), load=Schedule.constant(900.0),
        impeller_clutch=Schedule.constant(600.0), lock_up=Schedule.constant(1e4),
    )  # fmt: skip
    # At speed ratio 1 the converter does nothing: 600 N.m less the load turn 40.5 kg.m^2.
    together = (600.0 - 900.0) / 40.5
    assert now.acceleration == pytest.approx((100.0, together, together))
    assert now.lock_up == pytest.approx(900.0 + 40.0 * together)


def test_both_clutches_stuck_make_one_shaft():
    now = at(
        Mode(STUCK, STUCK, False), (150.0, 150.0, 150.0), load=Schedule.constant(500.0),
        lock_up=Schedule.constant(1e4),
    )  # fmt: skip
    together = (800.0 - 500.0) / 42.5
    assert now.acceleration == pytest.approx((together,) * 3)
    assert now.impeller_clutch == pytest.approx(800.0 - 2.0 * together)
    assert now.lock_up == pytest.approx(500.0 + 40.0 * together)


def test_turbine_at_rest_is_not_accelerated():
    for mode, speeds in (
        (Mode(STUCK, OPEN, True), (180.0, 180.0, 0.0)),
        (Mode(1, -1, True), (180.0, 150.0, 0.0)),
        (Mode(STUCK, STUCK, True), (180.0, 180.0, 0.0)),
    ):
        now = at(
            mode, speeds, load=Schedule.constant(1e4), impeller_clutch=Schedule.constant(300.0),
            lock_up=Schedule.constant(100.0),
        )  # fmt: skip
        assert now.acceleration[2] == 0.0


def test_parts_of_the_load_grow_with_turbine_speed():
    now = at(
        Mode(STUCK, OPEN, False), (180.0, 180.0, 90.0), time=1.0,
        load=Schedule.ramp(100.0, 300.0, 0.5, 1.0), load_per_speed=2.0, load_per_speed_squared=0.1,
    )  # fmt: skip
    assert now.load == pytest.approx(200.0 + 2.0 * 90.0 + 0.1 * 8100.0)
    commands = Commands(
        load=Schedule.constant(50.0), load_per_speed=2.0, load_per_speed_squared=0.1
    )
    assert commands.load_torque(0.0, [0.0, 10.0]) == pytest.approx([50.0, 80.0])


def test_clutch_without_a_schedule_carries_nothing_when_it_slips():
    now = at(Mode(1, 1, False))
    assert (now.impeller_clutch, now.lock_up) == (0.0, 0.0)


def test_speeds_a_rounding_error_outside_the_data_are_held_at_the_edge():
    edge = DriveTrain(REAL.supply, converter(), 2.0, 0.5, 40.0)
    low, high = edge.supply.domain
    for speed, inside in ((0.9 * low, low), (1.1 * high, high)):
        now = torques(edge, Commands(), Mode(1, OPEN, False), 0.0, np.array([speed, 100.0, 50.0]))
        assert now.engine == pytest.approx(float(edge.supply.torque(inside)))
    now = torques(edge, Commands(), Mode(1, OPEN, False), 0.0, np.array([200.0, 100.0, 120.0]))
    assert now.impeller == pytest.approx(float(converter().capacity_at(0.99)) * 1e4)
    still = torques(edge, Commands(), Mode(1, OPEN, False), 0.0, np.array([200.0, 0.0, 0.0]))
    assert (still.impeller, still.turbine) == (0.0, 0.0)
    back = torques(edge, Commands(), Mode(1, OPEN, False), 0.0, np.array([200.0, 100.0, -5.0]))
    assert back.impeller == pytest.approx(float(converter().capacity_at(0.0)) * 1e4)
    assert back.load == 0.0


# --- schedules and requests ----------------------------------------------------------------------


def test_schedule_is_straight_between_points_and_held_beyond():
    ramp = Schedule.ramp(10.0, 30.0, 1.0, 4.0)
    np.testing.assert_allclose(ramp([0.0, 1.0, 2.0, 5.0, 9.0]), [10.0, 10.0, 15.0, 30.0, 30.0])
    assert Schedule.constant(7.0)([-1.0, 0.0, 99.0]) == pytest.approx([7.0] * 3)
    assert Schedule(3.0, 4.0)(0.0) == 4.0


@pytest.mark.parametrize(
    ("build", "field", "words"),
    [
        (lambda: Schedule([0.0, 1.0], [1.0]), "schedule", "found .1 values for 2 times"),
        (lambda: Schedule([], []), "schedule", "one length"),
        (lambda: Schedule([[0.0, 1.0]], [[1.0, 2.0]]), "schedule", "one length"),
        (lambda: Schedule([np.nan], [1.0]), "schedule", "not finite; expected a number in every"),
        (lambda: Schedule([0.0], [np.inf]), "schedule", "not finite"),
        (lambda: Schedule([0.0, 0.0], [1.0, 2.0]), "schedule.time", r"found \[0.0, 0.0\].*ramp"),
        (lambda: Schedule([0.0, 1.0], [1.0, -2.0]), "schedule.value", "below zero; found -2"),
        (lambda: Schedule.ramp(0.0, 1.0, 0.0, 0.0), "takes", "a time above zero, s"),
        (lambda: Commands(load_per_speed=-1e-9), "load_per_speed", "zero or more"),
        (lambda: Commands(load_per_speed=np.inf), "load_per_speed", "zero or more"),
        (lambda: Commands(load_per_speed_squared=-1.0), "load_per_speed_squared", "found -1"),
        (lambda: DriveTrain(FLAT, CONVERTER, 0.0, 1.0, 1.0), "engine_inertia", "an inertia above"),
        (lambda: DriveTrain(FLAT, CONVERTER, 1.0, 0.0, 1.0), "impeller_inertia", "above zero, kg"),
        (lambda: DriveTrain(FLAT, CONVERTER, 1.0, 1.0, -1.0), "output_inertia", "above zero, kg"),
        (
            lambda: simulate(REAL, Commands(), Start(150.0), 0.0),
            "duration", "a time above zero, s",
        ),
        (
            lambda: simulate(REAL, Commands(), Start(150.0), 1.0, samples=1),
            "samples", "too few; found 1; expected 2 or more",
        ),
        (lambda: simulate(REAL, Commands(), Start(-1.0), 1.0), "start", "zero or more, rad/s"),
        (lambda: simulate(REAL, Commands(), Start(150.0, np.inf), 1.0), "start", "not usable"),
        (
            lambda: simulate(REAL, Commands(), Start(83.0), 1.0),
            "start.engine_speed", r"found 83; expected 83.7758 .. 249.233 rad/s",
        ),
        (
            lambda: simulate(REAL, Commands(), Start(150.0, 0.0, 149.0), 1.0),
            "start.impeller_speed", "found 149; expected 150 rad/s",
        ),
        (
            lambda: simulate(REAL, Commands(turbine_held=True), Start(150.0, 1.0), 1.0),
            "start.turbine_speed", "found 1; expected 0",
        ),
        (
            lambda: simulate(REAL, Commands(), Start(150.0, 165.0), 1.0),
            "start: speed ratio", r"found 1.1; expected 0 .. 1",
        ),
        (
            lambda: simulate(
                REAL, Commands(impeller_clutch=Schedule.constant(1.0)), Start(150.0, 5.0, 0.0), 1.0
            ),
            "start: speed ratio", "found inf",
        ),
        (
            lambda: load_step(REAL, speed_ratio=0.5, load_after=0.0, rise_time=1.0),
            "load_after", "a torque above zero, N.m",
        ),
        (
            lambda: load_step(REAL, speed_ratio=0.5, load_after=9.0, rise_time=0.0),
            "rise_time", "a time above zero, s",
        ),
        (
            lambda: lock_up_engagement(REAL, speed_ratio=0.8, capacity=0.0, closing_time=1.0),
            "capacity", "a torque above zero, N.m",
        ),
        (
            lambda: lock_up_engagement(REAL, speed_ratio=0.8, capacity=9.0, closing_time=0.0),
            "closing_time", "a time above zero, s",
        ),
        (
            lambda: load_step(REAL, speed_ratio=0.5, load_after=9.0, rise_time=1.0, begins=10.0),
            "begins", "found 10; expected 0 .. 10 s, before the end",
        ),
        (
            lambda: lock_up_engagement(
                REAL, speed_ratio=0.8, capacity=9.0, closing_time=1.0, begins=-0.1, duration=2.0
            ),
            "begins", "found -0.1; expected 0 .. 2 s, before the end",
        ),
    ],
)  # fmt: skip
def test_request_that_cannot_be_is_refused_by_its_field(build, field, words):
    with pytest.raises(InputError, match=words) as error:
        build()
    assert error.value.field == field


def test_corners_are_those_of_every_schedule():
    commands = Commands(
        load=Schedule([0.0, 2.0], [1.0, 2.0]),
        impeller_clutch=Schedule([1.0, 2.0], [1.0, 2.0]),
        lock_up=Schedule([0.5, 3.0], [1.0, 2.0]),
    )
    assert commands.corners().tolist() == [0.0, 0.5, 1.0, 2.0, 3.0]
    assert Commands().corners().tolist() == [0.0]
    assert float(Commands().load(5.0)) == 0.0


def test_data_are_drawn_to_unity_from_nine_tenths():
    nu, ratio, capacity = [0.0, 0.5, 0.9], [2.2, 1.5, 1.0], [0.02, 0.02, 0.01]
    some = converter(
        speed_ratio=nu, torque_ratio=ratio, capacity=capacity, coupling_speed_ratio=None
    )
    drawn = drawn_to_unity(some)
    assert drawn.domain == (0.0, 1.0)
    # A straight line from the last row to nothing, the torque ratio kept.
    assert drawn.capacity_at(0.95) == pytest.approx(0.005)
    assert drawn.torque_ratio_at(0.97) == pytest.approx(1.0)
    (note,) = [n for n in drawn.notes if n.code == "capacity-drawn-to-zero"]
    assert note.message.startswith("The data end at speed ratio 0.9; from there to 1 the capacity")
    short = some.replace(speed_ratio=[0.0, 0.5, 0.8999])
    with pytest.raises(InputError, match="too far below speed ratio 1") as error:
        drawn_to_unity(short)
    assert (error.value.source, error.value.field) == ("test-converter", "speed_ratio")
    assert (error.value.found, error.value.expected) == (0.8999, "0.9 or more")
    fixed = some.replace(stator="fixed")
    with pytest.raises(InputError, match="with a fixed stator the capacity") as error:
        drawn_to_unity(fixed)
    assert (error.value.field, error.value.found) == ("speed_ratio", 0.9)
    assert (error.value.source, error.value.expected) == ("test-converter", "data up to 1")


@pytest.mark.parametrize(
    ("own", "box", "field", "source"),
    [
        ({}, {"impeller_inertia": 0.4, "turbine_inertia": 0.2}, "inertia", "test-engine"),
        ({"inertia": 1.5}, {"turbine_inertia": 0.2}, "inertia.impeller", "test-converter"),
        ({"inertia": 1.5}, {"impeller_inertia": 0.4}, "inertia.turbine", "test-converter"),
    ],
)
def test_each_inertia_that_is_not_stated_is_asked_for(own, box, field, source):
    with pytest.raises(InputError, match="not given, and a course in time needs it") as error:
        drive_train(engine(**own), FLAT, converter(**box), 50.0)
    assert (error.value.field, error.value.source) == (field, source)
    assert error.value.expected == "a moment of inertia"
    assert "build a DriveTrain with plain numbers" in error.value.hint


def test_driven_inertia_must_be_above_zero():
    whole = engine(inertia=1.5), FLAT, converter(impeller_inertia=0.4, turbine_inertia=0.2)
    with pytest.raises(InputError, match="an inertia above zero") as error:
        drive_train(*whole, 0.0)
    assert error.value.field == "driven_inertia"
    train = drive_train(*whole, 3.0)
    assert (train.engine_inertia, train.impeller_inertia) == (1.5, 0.4)
    assert train.output_inertia == pytest.approx(3.2)
    assert train.supply is FLAT


# --- courses -------------------------------------------------------------------------------------


def test_steady_start_is_the_match():
    found = steady_start(REAL, 0.6)
    point = match(REAL.supply, CONVERTER, 0.6).from_idle()
    assert found.start.engine_speed == float(point.engine_speed)
    assert found.start.turbine_speed == 0.6 * float(point.engine_speed)
    assert found.load == pytest.approx(float(point.turbine_torque))
    weak = DriveTrain(engine_supply(engine(), hydraulic_torque=690.0), CONVERTER, 2.0, 0.5, 40.0)
    with pytest.raises(InputError, match="do not run together at this speed ratio") as error:
        steady_start(weak, 0.0)
    assert (error.value.source, error.value.field) == ("test-converter", "speed_ratio")
    assert error.value.found == 0.0


def test_stall_run_up_begins_at_low_idle_and_carries_its_caution():
    course = stall_run_up(REAL, duration=1.0)
    assert course.engine_speed[0] == pytest.approx(800 * RPM)
    assert course.time[-1] == pytest.approx(1.0)
    assert course.notes[-1] == STALL_CAUTION
    assert (STALL_CAUTION.code, STALL_CAUTION.kind) == ("stall-hold-is-hazardous", "caution")
    assert "machine maker's procedure" in STALL_CAUTION.message
    later = stall_run_up(REAL, start_speed=1200 * RPM, duration=0.5)
    assert later.engine_speed[0] == pytest.approx(1200 * RPM)
    np.testing.assert_array_equal(course.turbine_speed, 0.0)


def test_lock_up_that_never_closes_says_so():
    found = lock_up_engagement(
        REAL, speed_ratio=0.8, capacity=1.0, closing_time=0.2, begins=0.3, duration=0.8
    )
    assert (found.locked_at, found.holds, found.begins) == (None, False, 0.3)
    before = steady_start(REAL, 0.8).start
    assert found.engine_speed_before == pytest.approx(before.engine_speed, rel=1e-6)
    assert found.speed_step == pytest.approx(0.2 * before.engine_speed, rel=1e-6)
    assert found.engine_speed_after == found.transient.engine_speed[-1]
    assert found.highest_torque == pytest.approx(1.0)
    assert found.dissipated == pytest.approx(found.transient.lock_up_heat[-1])
    # One newton metre over the slip, half of it while it builds up.
    assert found.dissipated == pytest.approx(0.4 * found.speed_step, rel=0.02)


def test_lock_up_that_closes_is_described_by_its_course():
    found = lock_up_engagement(
        REAL, speed_ratio=0.86, capacity=3000.0, closing_time=0.4, begins=0.2, duration=1.5
    )
    course = found.transient
    assert found.holds
    assert [h.code for h in course.happenings] == ["lock-up-sticks"]
    assert found.locked_at == course.happenings[0].time == course.first("lock-up-sticks")
    assert 0.2 < found.locked_at < 0.6
    after = float(np.interp(found.locked_at, course.time, course.engine_speed))
    assert found.engine_speed_after == pytest.approx(after, rel=1e-6)
    late = course.time > found.locked_at + 1e-6
    np.testing.assert_allclose(course.impeller_speed[late], course.turbine_speed[late], rtol=1e-9)
    assert found.highest_torque == np.abs(course.lock_up_torque).max()
    assert course.first("turbine-stops") is None


def test_load_step_begins_and_rises_when_it_is_told():
    course = load_step(
        REAL, speed_ratio=0.6, load_after=1500.0, rise_time=0.4, begins=0.2, duration=1.0
    )
    before = steady_start(REAL, 0.6).load
    expected = np.interp(course.time, [0.2, 0.6], [before, 1500.0])
    np.testing.assert_allclose(course.load_torque, expected, rtol=1e-9)
    assert course.time[0] == 0.0
    assert course.time[-1] == pytest.approx(1.0)
    slipping = load_step(
        REAL, speed_ratio=0.6, load_after=1500.0, rise_time=0.4, begins=0.2, duration=1.0,
        impeller_clutch=Schedule.constant(200.0),
    )  # fmt: skip
    assert np.abs(slipping.impeller_clutch_torque).max() <= 200.0 * (1 + 1e-9)


def test_parted_engine_and_impeller_follow_their_closed_forms():
    # An open clutch and a held turbine: J_e omega' = T, and J_p omega' = -C(0) omega^2.
    commands = Commands(impeller_clutch=Schedule.constant(0.0), turbine_held=True)
    course = simulate(TRAIN, commands, Start(100.0, 0.0, 50.0), 0.3)
    np.testing.assert_allclose(course.engine_speed, 100.0 + 400.0 * course.time, rtol=1e-9)
    slows = 50.0 / (60 * RPM) ** 2 / 0.5
    np.testing.assert_allclose(course.impeller_speed, 50.0 / (1 + slows * course.time), rtol=1e-8)
    np.testing.assert_array_equal(course.speed_ratio, 0.0)
    work = 0.5 * 2.0 * (course.engine_speed**2 - 100.0**2)
    np.testing.assert_allclose(course.engine_work, work, atol=1e-4)
    heat = 0.5 * 0.5 * (50.0**2 - course.impeller_speed**2)
    np.testing.assert_allclose(course.converter_heat, heat, atol=1e-4)
    assert course.energy.kinetic_change == pytest.approx(work[-1] - heat[-1])
    assert course.time.size == 400
    assert course.stopped is None


def test_more_samples_are_more_points():
    few, many = (
        simulate(REAL, Commands(turbine_held=True), Start(100.0), 1.0, samples=n) for n in (20, 200)
    )
    assert (few.time.size, many.time.size) == (20, 200)
    least = simulate(REAL, Commands(turbine_held=True), Start(100.0), 1.0, samples=2)
    assert least.time.size == 12  # enough to draw a curve


def test_engine_above_its_data_ends_the_course_with_the_reason():
    light = DriveTrain(FLAT, CONVERTER, 0.2, 0.1, 40.0)
    course = simulate(
        light,
        Commands(impeller_clutch=Schedule.constant(0.0), turbine_held=True),
        Start(200.0, 0.0, 50.0),
        1.0,
    )
    assert course.stopped.code == "engine-above-known-speeds"
    assert course.time[-1] == pytest.approx(60.0 * 0.2 / 800.0, rel=1e-4)
    assert course.engine_speed[-1] == pytest.approx(260.0)
    assert course.notes[-1] is course.stopped
    words = course.stopped.message
    assert words.startswith("The simulation ended at 0.015 s: the engine was driven above")
    assert words.endswith("Nothing is extrapolated.")


# --- results -------------------------------------------------------------------------------------


def test_account_misses_what_is_in_none_of_its_parts():
    account = EnergyAccount(1000.0, 100.0, 200.0, 30.0, 40.0, 500.0)
    assert account.missing == pytest.approx(130.0)


def test_account_is_from_start_to_end():
    n = np.arange(3.0)
    course = Transient(
        TRAIN, n, n + 1, n + 2, n + 0.5, *(n,) * 6, 10 * n, 20 * n, 30 * n, 40 * n, 50 * n,
        (Happening(1.0, "a"), Happening(2.0, "b"), Happening(2.5, "a")), None, (),
    )  # fmt: skip
    kinetic = 0.5 * (2.0 * (9 - 1) + 0.5 * (16 - 4) + 40.0 * (2.5**2 - 0.5**2))
    account = course.energy
    assert (account.engine_work, account.load_work, account.converter_heat) == (20.0, 40.0, 60.0)
    assert (account.impeller_clutch_heat, account.lock_up_heat) == (80.0, 100.0)
    assert account.kinetic_change == pytest.approx(kinetic)
    assert (course.first("a"), course.first("b"), course.first("c")) == (1.0, 2.0, None)
    np.testing.assert_allclose(course.speed_ratio, (n + 0.5) / (n + 2))
    with pytest.raises(ValueError, match="read-only"):
        course.time[0] = 1.0
