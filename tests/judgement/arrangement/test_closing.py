"""A lock-up clutch that closes on a machine on the move."""

import dataclasses

import pytest

import converter_match as cm
from converter_match.judgement.arrangement.closing import close_lock_up, run_up

PARTS = ("six-cylinder-9l-240kw", "single-stage-390mm-full-range", "six-speed-hauler",
         "articulated-hauler-25t")  # fmt: skip


@pytest.fixture(scope="module")
def machine():
    engine, converter, line, truck = cm.read(*PARTS)
    return cm.solve(engine, converter), line, truck


@pytest.fixture(scope="module")
def clutch():
    return cm.read("ore-hauler-lock-up").lock_up


@pytest.fixture(scope="module")
def closing(machine, clutch):
    match, line, truck = machine
    return close_lock_up(match, clutch, line, truck, gear="4")


@pytest.mark.slow
def test_the_machine_is_seen_through_the_gear(machine, closing):
    # m (r / i)^2, by hand.
    _, line, truck = machine
    ratio = line.overall_ratio(line.gear("4"))
    seen = truck.mass("laden") * (truck.rolling_radius / ratio) ** 2
    own = machine[0].converter.turbine_inertia
    assert closing.transient.train.output_inertia == pytest.approx(seen + own, rel=1e-12)


def test_what_the_clutch_takes_is_what_engine_and_impeller_lose_and_more(machine, clutch, closing):
    # Work of the slipping clutch is no less than the kinetic energy that is lost on the way.
    engine, converter = machine[0].engine, machine[0].converter
    turning = engine.inertia + converter.impeller_inertia
    step = closing.in_time.speed_step
    assert closing.in_time.dissipated > 0.5 * turning * step**2
    assert 0.0 < closing.slips_for < 0.8  # before its full torque is there


@pytest.mark.slow
def test_a_slower_closing_puts_more_heat_into_the_clutch(machine, clutch, closing):
    match, line, truck = machine
    slow = close_lock_up(match, clutch, line, truck, gear="4", closing_time=1.5, duration=3.5)
    assert slow.in_time.dissipated > closing.in_time.dissipated
    assert slow.slips_for > closing.slips_for


def test_an_empty_machine_is_another_run(machine, clutch, closing):
    match, line, truck = machine
    empty = close_lock_up(match, clutch, line, truck, gear="4", load="empty")
    assert "empty, gear 4" in empty.title
    assert empty.transient.train.output_inertia < closing.transient.train.output_inertia


@pytest.mark.slow
def test_a_clutch_that_is_too_weak_never_sticks(machine, clutch):
    match, line, truck = machine
    weak = dataclasses.replace(clutch, torque_capacity=100.0)
    slipping = close_lock_up(match, weak, line, truck, gear="4")
    assert slipping.slips_for is None
    assert "slips for: never sticks" in slipping.text()
    assert slipping.to_dict()["lock_up_closing"]["slips_for_s"] is None


def test_answer_stands_in_the_units_of_the_reader(closing):
    kilojoules = closing.in_time.dissipated / 1e3
    assert f"closing in time: {kilojoules:.1f} kJ" in closing.text()
    # 1055.056 J to the BTU (ISO 31-4)
    assert f"closing in time: {kilojoules * 1e3 / 1055.056:.1f} BTU" in closing.text("us")
    assert closing.to_dict()["lock_up_closing"]["heat_kj"] == pytest.approx(kilojoules)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"torque_capacity": None}, r"^lock_up\.torque_capacity: the closing cannot be followed"),
        ({"engage_by": "turbine-speed", "engage": 150.0, "release": 120.0},
         r"^lock_up\.engage_by: .*found 'turbine-speed'; expected speed-ratio"),
    ],
)  # fmt: skip
def test_a_clutch_of_which_too_little_is_known_is_refused(machine, clutch, change, says):
    match, line, truck = machine
    with pytest.raises(cm.InputError, match=says):
        close_lock_up(match, dataclasses.replace(clutch, **change), line, truck, gear="4")


def test_a_gear_that_is_none_is_refused(machine, clutch):
    match, line, truck = machine
    with pytest.raises(cm.InputError, match="gear"):
        close_lock_up(match, clutch, line, truck, gear="9")


@pytest.mark.slow
def test_the_run_up_ends_at_the_stall_that_the_solver_finds(machine):
    match = machine[0]
    course = run_up(match, duration=8.0)
    assert course.engine_speed[-1] == pytest.approx(match.stall.engine_speed, rel=1e-3)
    assert course.engine_speed[0] == pytest.approx(match.engine.low_idle)
    assert max(course.turbine_speed) == 0.0
