"""A motor on a route: the energy closes both ways, and a converter hardly gives any back."""

import json

import numpy as np
import pytest

from converter_match.components.route import Route
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.route import motor_route
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.library.read import read_converter, read_driveline, read_machine, read_motor
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.shipped import shipped
from converter_match.physics.arrangement.motor_demand import MotorDemand, Regeneration
from converter_match.physics.arrangement.overrun import with_overrun

TRUCK = read_motor(shipped("motors")["lift-truck-80v-30kw"])
CONVERTER = read_converter(shipped("converters")["single-stage-260mm"])
LINE = read_driveline(shipped("drivelines")["two-speed-lift-truck"])
MACHINE = read_machine(shipped("machines")["lift-truck-5t"])
YARD = read_route(find_route("timber-stack-to-kiln"))


def run(converter=None, route=YARD, motor=TRUCK, **asked):
    drive = (
        MotorDrive(MotorSetup(motor), converter)
        if converter
        else MotorDrive(MotorSetup(motor), ratio=1.6)
    )
    return motor_route(drive, LINE, MACHINE, route, **asked)


def long_descent(speed=10.0):
    ground = Surface(name="road", rolling_resistance=0.015, traction=0.9, source="test")
    return Route(
        id="down", name="down", source="test", length=np.array([400.0]), grade=np.array([-0.08]),
        surface=(ground,), speed_limit=np.array([speed / 3.6]), load=("laden",),
        stop_time=np.array([0.0]),
    )  # fmt: skip


def codes(answer):
    return {note.code for note in answer.notes}


@pytest.mark.slow
@pytest.mark.parametrize("converter", [None, CONVERTER])
def test_energy_closes_over_a_cycle_with_recuperation(converter):
    # What is drawn less what comes back is the sum of what is lost and gained: first law.
    for each in run(converter).runs.values():
        energy = each.energy
        assert energy.returned > 0.0
        assert energy.net == pytest.approx(energy.spent, rel=1e-9)
        assert energy.reduction == pytest.approx(0.0) if converter else energy.reduction > 0.0


@pytest.mark.slow
def test_direct_coupling_gives_back_what_a_descent_leaves_and_a_converter_little():
    fast = long_descent(18.0)
    direct, behind = (run(way, fast).runs["peak"].energy for way in (None, CONVERTER))
    # m g h less rolling, by hand: what there is to get back, before losses on the way.
    height = 400.0 * np.sin(np.arctan(0.08))
    there = 12300 * 9.80665 * (height - 0.015 * 400.0 * np.cos(np.arctan(0.08)))
    assert 0.5 * there < direct.returned < there
    assert behind.returned < 0.25 * direct.returned
    assert behind.brakes > 10.0 * direct.brakes


@pytest.mark.slow
def test_near_a_stop_a_converter_gives_nothing_back_and_the_band_says_how_sure_that_is():
    slow = run(CONVERTER, long_descent(3.0))
    # C(nu) omega^2 at walking pace is less than what the accessories take.
    assert slow.runs["peak"].energy.returned == 0.0
    fast = run(CONVERTER, long_descent(12.0))
    low, high = fast.returned_spread
    assert 0.0 < low < fast.runs["peak"].energy.returned < high
    assert {"regeneration-through-converter", "regeneration-band", "overrun-assumed"} <= codes(fast)


def test_motor_that_cannot_brake_leaves_it_to_the_service_brakes():
    found = run(None, long_descent(), TRUCK.replace(regenerative=None))
    energy = found.runs["peak"].energy
    assert energy.returned == 0.0
    assert energy.brakes > 0.0
    assert "no-regeneration" in codes(found)


def test_retarding_through_the_converter_is_what_its_overrun_data_transmit():
    sheet = with_overrun(CONVERTER, assume=True)
    regeneration = Regeneration(np.array([0.0, 400.0]), np.array([-500.0, -500.0]))
    demand = MotorDemand.of(CONVERTER, regeneration)
    open_drive = np.array([False])
    speed = np.array([200.0])
    # T = C(nu) (omega_t / nu)^2 at a nu of the table, asked for and found again.
    nu = 1.5
    torque = float(sheet.capacity_at(nu)) * (speed / nu) ** 2
    shafts = demand.at(speed, torque, open_drive)
    assert shafts.engine_speed == pytest.approx(speed / nu, rel=2e-3)
    assert shafts.turbine_torque == pytest.approx(torque)
    # What the turbine gives less what the motor gets is heat in the oil.
    assert shafts.heat == pytest.approx(-torque * (speed - shafts.engine_speed))
    # More than any speed ratio of the data transmits cannot be asked.
    ratios = np.linspace(1.0, sheet.domain[1], 2001)
    most = float((sheet.capacity_at(ratios) * (speed[0] / ratios) ** 2).min())
    assert demand.least_torque(speed, open_drive) == pytest.approx(most, rel=5e-3)


def test_weak_motor_retards_no_more_than_it_brakes():
    weak = Regeneration(np.array([0.0, 400.0]), np.array([-5.0, -5.0]))
    demand = MotorDemand.of(CONVERTER, weak)
    least = demand.least_torque(np.array([200.0]), np.array([False]))
    assert -5.0 <= float(least[0]) < -4.0
    locked = demand.least_torque(np.array([200.0]), np.array([True]))
    assert float(locked[0]) == -5.0


@pytest.mark.slow
def test_winding_lap_after_lap_is_that_of_many_laps():
    from converter_match.physics.heat.winding import rise_after

    found = run()
    one = found.runs["peak"]
    square = found.drive.setup.share(one.motor_torque, one.motor_speed) ** 2
    time = one.run.profile.time[:, 0]
    many = rise_after(TRUCK, np.tile(square, 60), np.tile(time, 60))
    assert one.winding.hottest == pytest.approx(float(many[-time.size :].max()), rel=1e-6)
    assert one.winding.hottest_first < one.winding.hottest < one.winding.permitted


def test_peak_that_the_winding_does_not_stand_for_good_fails_the_route():
    ground = Surface(name="road", rolling_resistance=0.02, traction=0.9, source="test")
    climb = Route(
        id="up", name="up", source="test", length=np.array([3000.0]), grade=np.array([0.12]),
        surface=(ground,), speed_limit=np.array([np.inf]), load=("laden",),
        stop_time=np.array([0.0]),
    )  # fmt: skip
    found = run(None, climb)
    assert "winding-above-limit-on-route" in codes(found)
    assert "route-not-driven" in codes(found)  # with the continuous torque it does not climb
    assert found.fails
    json.dumps(found.to_dict(), allow_nan=False)


def test_motor_without_losses_is_refused_on_a_route():
    with pytest.raises(InputError, match="needs the motor's losses"):
        run(None, long_descent(), TRUCK.replace(losses=None))
