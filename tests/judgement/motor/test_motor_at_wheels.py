"""A motor at the wheels and held at stall: by hand, direct and behind a converter."""

import json
import math

import pytest

from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.hold import motor_hold
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.motor.tractive import motor_tractive
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_machine,
    read_motor,
)
from converter_match.library.shipped import shipped
from tests.motors import RPM, motor

TRUCK = read_motor(shipped("motors")["lift-truck-80v-30kw"])
CONVERTER = read_converter(shipped("converters")["single-stage-260mm"])
LINE = read_driveline(shipped("drivelines")["two-speed-lift-truck"])
MACHINE = read_machine(shipped("machines")["lift-truck-5t"])
ROAD = Surface(name="road", rolling_resistance=0.02, traction=0.9, source="test")


def direct(ratio=1.6, **changes):
    return MotorDrive(MotorSetup(TRUCK), ratio=ratio, **changes)


def behind():
    return MotorDrive(MotorSetup(TRUCK), CONVERTER)


def wheels(drive, **asked):
    return motor_tractive(drive, LINE, MACHINE, ROAD, **asked)


def codes(answer):
    return {note.code for note in answer.notes}


def test_effort_at_rest_of_a_direct_coupling_is_torque_times_ratio_over_radius():
    row = wheels(direct(efficiency=0.97)).gears[0]
    pump = 1000.0 / (2800 * RPM)
    # F = ((T - pump) i eta_r - drag) i_g eta / r, by hand; 2 N.m of drag at standstill.
    turbine = (240.0 - pump) * 1.6 * 0.97 - 2.0
    expected = turbine * 2.95 * 4.1 * 3.3 * 0.96 * 0.97 * 0.98 / MACHINE.rolling_radius
    assert row.effort_peak == pytest.approx(expected, rel=1e-9)
    assert row.overall_ratio == pytest.approx(2.95 * 4.1 * 3.3 * 1.6)
    assert row.drive == "direct"


def test_speed_limit_of_the_motor_is_the_top_speed():
    # v = omega r (1 - slip) / i; the machine slips 1.5 % (file).
    result = wheels(direct())
    level = result.grades[0]
    expected = 4000 * RPM * MACHINE.rolling_radius * 0.985 / (1.28 * 4.1 * 3.3 * 1.6)
    assert level.speed == pytest.approx(expected, rel=2e-4)
    assert level.limited_by == "speed limit"
    assert level.motor_speed == pytest.approx(4000 * RPM, rel=2e-4)


def test_a_grade_is_climbed_where_the_power_of_the_motor_is_that_of_the_resistance():
    row = next(row for row in wheels(direct(), grades=[0.1]).grades)
    out = row.resistance * row.speed / 0.985
    into = (row.motor_torque - 1000.0 / (2800 * RPM)) * row.motor_speed
    loss = 1.0 - out / into
    # Reduction 2 %, mesh 3 to 4 %, stages 3 and 2 %, and some drag.
    assert 0.08 < loss < 0.13


def test_both_torques_have_their_speeds_and_the_peak_its_time():
    rows = {round(row.grade, 2): row for row in wheels(direct()).grades}
    assert rows[0.0].held == math.inf
    steep = rows[0.2]
    assert steep.continuous_speed is None
    assert steep.held == pytest.approx(180.0, rel=0.01)
    assert "grade-on-peak-only" in codes(wheels(direct()))


def test_a_higher_reduction_starts_steeper_and_runs_slower():
    results = [wheels(direct(ratio)) for ratio in (1.0, 1.6, 2.4)]
    starts = [result.startability["peak"] for result in results]
    tops = [result.grades[0].speed for result in results]
    assert starts == sorted(starts)
    assert tops == sorted(tops, reverse=True)


def test_converter_multiplies_the_torque_at_rest_and_heats_the_oil():
    with_it, without = wheels(behind()), wheels(direct(ratio=1.0))
    ratio = with_it.gears[0].effort_peak / without.gears[0].effort_peak
    # 2.45 times the torque at stall speed, which is a little below that at standstill.
    assert 2.1 < ratio < 2.45
    assert with_it.gears[0].rest_heat > 50e3
    assert without.gears[0].rest_heat == 0.0
    assert "rest-on-the-oil" in codes(with_it)
    assert "rest-on-the-winding" in codes(without)
    # 548 N.m at stall against the gearbox's 520.
    assert with_it.fails
    assert not without.fails


def test_answer_is_plain_data():
    data = wheels(direct()).to_dict()
    json.dumps(data, allow_nan=False)
    assert data["startability"]["peak_percent"] > data["startability"]["continuous_percent"]
    assert {"motor", "gears", "grades", "envelope_peak"} <= data.keys()
    assert "does not apply" in wheels(direct()).text()


def test_what_cannot_be_coupled_is_refused():
    with pytest.raises(InputError, match="stands in the converter's place"):
        MotorDrive(MotorSetup(TRUCK), CONVERTER, ratio=2.0)
    with pytest.raises(InputError, match="out of range"):
        direct(ratio=0.0)
    with pytest.raises(InputError, match="efficiency"):
        direct(efficiency=1.2)


def test_behind_a_converter_the_oil_is_hot_before_the_winding():
    held = motor_hold(behind(), MACHINE)
    assert held.first == "oil"
    assert held.motor_speed == pytest.approx(2327 * RPM, rel=1e-3)
    # t = m c (T_limit - T_start) / Q with 14 L of oil, by the file and the typical values said.
    capacity = 0.014 * 870.0 * 2060.0
    expected = capacity * (115.0 - 93.0) / held.oil_heat
    assert held.to_oil_limit == pytest.approx(expected, rel=0.01)
    assert held.seconds == math.floor(0.8 * held.to_oil_limit)
    assert held.to_winding_limit[1] < held.to_winding_limit[0]


def test_coupled_directly_the_winding_comes_first_and_the_motor_stands():
    held = motor_hold(direct(), MACHINE)
    assert (held.first, held.motor_speed, held.oil_heat) == ("winding", 0.0, 0.0)
    # 240 N.m against 105 N.m that it can hold at rest; tau and limit as in the note.
    q, m = (240.0 / 105.0) ** 2, 105.0 / 90.0
    full = (240.0 / 130.0) ** 2
    tau = 180.0 / math.log(full / (full - m))
    assert held.to_winding_limit[0] == pytest.approx(tau * math.log(q / (q - m)))
    assert held.to_winding_limit[1] == pytest.approx(tau * math.log((q - 1) / (q - m)))
    assert "rest-on-the-winding" in codes(held)


def test_hold_without_room_in_the_winding_is_counted_from_cold():
    held = motor_hold(MotorDrive(MotorSetup(motor())), MACHINE)
    assert "winding-from-cold" in codes(held)
    assert held.seconds == 30.0  # 120 s from cold; common practice is the shorter
    json.dumps(held.to_dict(), allow_nan=False)


def test_machine_without_oil_data_is_held_no_longer_than_the_shortest_practice():
    held = motor_hold(behind(), None)
    assert held.seconds <= 10.0
    assert "hold-not-calculated" in codes(held)
