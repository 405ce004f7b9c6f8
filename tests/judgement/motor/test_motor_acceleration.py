"""A machine with a motor from rest: closed forms of a constant torque, and both ways."""

import numpy as np
import pytest

from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.judgement.motor.acceleration import motor_acceleration
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.library.read import read_converter, read_driveline, read_machine, read_motor
from converter_match.library.shipped import shipped
from tests.motors import RPM, motor

TRUCK = read_motor(shipped("motors")["lift-truck-80v-30kw"])
CONVERTER = read_converter(shipped("converters")["single-stage-260mm"])
LINE = read_driveline(shipped("drivelines")["two-speed-lift-truck"])
MACHINE = read_machine(shipped("machines")["lift-truck-5t"])
ROAD = Surface(name="road", rolling_resistance=0.02, traction=0.9, source="test")
RATIO = 2.95 * 4.1 * 3.3 * 1.6  # of the shipped gearbox in first, and a reduction of 1.6


def flat():
    """Return a motor of 100 N.m at every speed, and without a rotor to speed up."""
    speed = np.array([0.0, 1500.0, 4500.0]) * RPM
    return motor(
        speed=speed, peak=np.full(3, 100.0), continuous=np.full(3, 80.0), regenerative=None
    )


def run(mover, *, converter=None, **asked):
    ratio = 1.0 if converter else 1.6
    drive = MotorDrive(MotorSetup(mover), converter, ratio=ratio)
    words = {"to_speed": 1.5, "gear": "1"} | asked
    return motor_acceleration(drive, LINE, MACHINE, ROAD, **words)


def test_a_constant_torque_speeds_up_evenly_and_takes_torque_times_angle_and_losses():
    result = run(flat())
    went = result.run
    assert result.gears()[0].drive == "direct"
    # a = (F - R) / M is the same all the way but for a little air: v = a t, x = v t / 2.
    time, way = went.time_to(1.5), went.distance_to(1.5)
    assert way == pytest.approx(0.5 * 1.5 * time, rel=5e-3)
    # Torque times the angle turned, 100 W standing and 1500 W copper at 100 N.m. The tyres
    # slip, so the angle is read off the speed of the motor itself.
    angle = float(np.trapezoid(went.engine_speed * 1.6, went.time))
    assert result.spent["peak"].energy == pytest.approx(
        100.0 * angle + 1600.0 * float(went.time[-1]), rel=1e-6
    )
    assert angle == pytest.approx(RATIO * way / MACHINE.rolling_radius, rel=0.03)
    assert result.spent["peak"].oil_heat == 0.0


def test_effort_by_hand_gives_the_time():
    # F by hand as at rest, without the drag's rise; mass of the laden truck and of what turns.
    result = run(flat(), to_speed=0.3)
    force = (100.0 * 1.6 * 0.98 - 2.0) * 2.95 * 4.1 * 3.3 * 0.96 * 0.97 * 0.98
    force /= MACHINE.rolling_radius
    weight = MACHINE.mass("laden")
    rate = (force - 0.02 * weight * 9.80665) / weight
    # What turns adds a few percent to the mass; nothing is taken away.
    assert 1.0 < result.run.time_to(0.3) * rate / 0.3 < 1.2


def test_both_torques_and_both_ways_reach_the_speed_the_continuous_later():
    for converter in (None, CONVERTER):
        result = run(TRUCK, converter=converter, gear=None, to_speed=3.0)
        assert not result.fails
        assert result.steady.time_to(3.0) > result.run.time_to(3.0)
        assert result.spent["peak"].warmest_cold < 0.1
        assert (result.spent["peak"].oil_heat > 0.0) is (converter is not None)


def test_grip_takes_torque_away_and_energy_with_it():
    ice = Surface(name="ice", rolling_resistance=0.02, traction=0.15, source="test")
    drive = MotorDrive(MotorSetup(TRUCK), ratio=1.6)
    slow = motor_acceleration(drive, LINE, MACHINE, ice, to_speed=1.5, gear="1")
    fast = motor_acceleration(drive, LINE, MACHINE, ROAD, to_speed=1.5, gear="1")
    assert slow.run.grip_limited
    mean = [a.spent["peak"].energy / a.run.time_to(1.5) for a in (slow, fast)]
    assert mean[0] < mean[1]


def test_a_speed_beyond_the_motor_is_not_reached_and_no_speed_of_its_own_is_followed():
    assert run(TRUCK, gear=None, to_speed=15.0).fails
    with pytest.raises(InputError, match="quasi-steady"):
        run(TRUCK, method="dynamic")
