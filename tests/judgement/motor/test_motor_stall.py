"""The stall test with a motor: the band by hand, the gears, the battery, and what it refuses."""

import math

import numpy as np
import pytest

from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.motor.size import motor_size
from converter_match.judgement.motor.solve import solve_with
from converter_match.judgement.motor.stall import MotorStallSetup, expect_motor
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_machine,
    read_motor,
)
from converter_match.library.shipped import shipped
from converter_match.present.stall.motor_sheet import motor_sheet_of
from converter_match.present.stall.sheet import sheet_html
from tests.motors import RPM, motor

TRUCK = read_motor(shipped("motors")["lift-truck-80v-30kw"])
CONVERTER = read_converter(shipped("converters")["single-stage-260mm"])
LINE = read_driveline(shipped("drivelines")["two-speed-lift-truck"])
MACHINE = read_machine(shipped("machines")["lift-truck-5t"])
ROAD = Surface(name="road", rolling_resistance=0.02, traction=0.9, source="test")


def flat():
    """Return a motor of 100 N.m at every speed, 80 for good."""
    speed = np.array([0.0, 1500.0, 4500.0]) * RPM
    return motor(
        speed=speed, peak=np.full(3, 100.0), continuous=np.full(3, 80.0), regenerative=None
    )


def stall_of(mover=TRUCK, voltage=None, **asked):
    drive = MotorDrive(MotorSetup(mover, voltage=voltage), CONVERTER)
    return expect_motor(MotorStallSetup(drive=drive, **asked))


def test_with_a_constant_torque_the_band_is_that_of_half_the_tolerances():
    # omega = sqrt(f T / (g C)), so d omega / omega = (d f - d g) / 2; the shares are independent.
    band = stall_of(flat(), oil_temperature=363.15).bands["peak"]
    middle = math.sqrt(100.0 / float(CONVERTER.capacity_at(0.0)))
    assert band.middle == pytest.approx(middle, rel=1e-6)
    oil = 6.75e-4 * 5.0  # beta times 5 K
    wide = math.hypot(0.5 * math.hypot(0.03, 0.05, oil) * middle, 20.0 * RPM)
    # Quantiles of 2048 even draws, and the square root is not quite a straight line.
    assert band.high - band.low == pytest.approx(2.0 * wide, rel=0.02)


def test_a_low_battery_stalls_at_less_where_the_corner_lies_below():
    answer = stall_of()
    rows = dict(answer.setup.by_voltage)
    assert set(rows) == {64.0, 92.0}
    # At 64 V the same motor asked for at 64 V.
    assert rows[64.0] == pytest.approx(stall_of(voltage=64.0).bands["peak"].middle)
    assert rows[64.0] < answer.bands["peak"].low
    assert "stall-goes-with-voltage" in {note.code for note in answer.notes}


def test_gears_that_break_loose_are_struck_out_of_the_sheet():
    answer = stall_of(driveline=LINE, machine=MACHINE, surface=ROAD)
    assert [test.gear for test in answer.gears if test.breaks_loose] == ["1", "R1"]
    page = sheet_html(motor_sheet_of(answer, machine_name="truck 3"))
    assert page.count("<s>") or page.count('class="struck"')
    assert "accelerator" in page
    assert "engine" not in page.casefold().replace("for engines", "")


def test_limit_that_comes_first_is_that_of_the_hold():
    answer = stall_of(machine=MACHINE)
    assert answer.hold.first == "oil"
    assert stall_of(machine=MACHINE, maker_hold=3.0).hold.set_by == "maker"
    assert not answer.fails


def test_what_means_nothing_with_a_motor_is_named():
    said = " ".join(stall_of().to_dict()["does_not_apply"])
    assert "idle" in said
    assert "droop" in said
    assert "high idle" in said


def test_without_a_converter_there_is_no_stall_speed_to_read():
    with pytest.raises(InputError, match="stands still at stall"):
        MotorStallSetup(drive=MotorDrive(MotorSetup(TRUCK), ratio=1.6))
    for asked, said in (
        ({"coverage": 0.2}, "coverage"),
        ({"oil_temperature": 900.0}, "oil temperature"),
        ({"maker_hold": 0.1}, "stall hold"),
        ({"published": (300.0, 200.0)}, "not a span"),
        ({"published": (900.0, 1200.0)}, "not a speed of this motor"),
    ):
        with pytest.raises(InputError, match=said):
            stall_of(**asked)


def test_a_size_for_a_stall_speed_is_torque_over_speed_squared():
    # C = T / omega^2 and D ~ C^(1/5); with a constant torque the speed goes as D^(-5/2).
    setup, wanted = MotorSetup(flat()), 1500.0 * RPM
    size = motor_size(setup, CONVERTER, wanted)
    own = math.sqrt(100.0 / float(CONVERTER.capacity_at(0.0)))
    assert size.diameter_ratio == pytest.approx((own / wanted) ** 0.4)
    stall = solve_with(setup, size.converter).peak.stall
    assert stall.engine_speed == pytest.approx(wanted)
    assert not motor_size(setup, CONVERTER, 4600.0 * RPM).possible
    with pytest.raises(InputError, match="above zero"):
        motor_size(setup, CONVERTER, 0.0)
