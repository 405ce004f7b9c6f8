"""Every match at a turbine speed, against brute force, own integration in time, and itself."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from converter_match.components.machine import Slip
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.match_set import crossed
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.match.turbine_speed import (
    match_at_turbine_speed,
    matches_at_turbine_speed,
    passage,
)
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import equilibria
from converter_match.physics.wheels.wheels import gear_drives
from tests.examples import RPM, converter, engine, hole_engine
from tests.machines import driveline, gear, machine, surface

# Capacity that rises with the speed ratio at first and so pulls the engine into its torque hole.
RISING = converter(capacity=[0.035, 0.0365, 0.0395, 0.035, 0.028, 0.022, 0.009, 0.002])
# One that holds the engine in the hole up to a turbine speed.
LATE = converter(capacity=1.7 * converter().capacity)
HOLE = engine_supply(hole_engine())
NO_SLIP = Slip(use=np.array([0.0, 1.0]), slip=np.array([0.0, 0.0]))


def excess(supply, unit, omega, turbine):
    """T_net - C(omega_t / omega) omega^2, with nothing but the two curves."""
    return float(supply.torque(omega)) - float(unit.capacity_at(turbine / omega)) * omega**2


@st.composite
def awkward(draw):
    """An engine with steep ups and downs of torque, and a converter of random capacity."""
    torque = draw(st.lists(st.floats(350.0, 1100.0), min_size=9, max_size=9))
    speed = np.array([700, 900, 1000, 1100, 1200, 1350, 1500, 1800, 2200]) * RPM
    made = engine(low_idle=700 * RPM, speed=speed, torque=torque, accessories=())
    shape = draw(st.lists(st.floats(0.9, 1.15), min_size=4, max_size=4))
    first = draw(st.floats(0.015, 0.06)) * np.cumprod([1.0, *shape[:3]])
    tail = first[-1] * np.array([0.8, 0.6, 0.25, 0.05])
    return engine_supply(made), converter(capacity=[*first, *tail])


@pytest.mark.slow
@given(awkward(), st.lists(st.floats(0.0, 230.0), min_size=1, max_size=4))
def test_every_point_is_a_balance_and_none_of_a_brute_scan_is_missing(pair, speeds):
    supply, unit = pair
    found = matches_at_turbine_speed(supply, unit, speeds)
    points = found.points
    low, high = supply.domain
    for k, turbine in enumerate(speeds):
        roots = points.engine_speed[:, k]
        for omega, torque in zip(roots, points.input_torque[:, k], strict=True):
            if np.isnan(omega):
                continue
            made = float(supply.torque(omega))
            assert abs(made - torque) <= 1e-9 * 1100.0
            assert abs(excess(supply, unit, omega, turbine)) <= 1e-9 * 1100.0
        begin = max(low, turbine / unit.domain[1])
        if begin >= high:
            continue
        scan = np.linspace(begin, high, 4001)
        values = (
            np.array(supply.torque(scan))
            - unit.capacity_at(np.clip(turbine / scan, *unit.domain)) * scan**2
        )
        cells = np.flatnonzero(np.sign(values[:-1]) * np.sign(values[1:]) < 0)
        for cell in cells:
            inside = (roots >= scan[cell] - 1e-9) & (roots <= scan[cell + 1] + 1e-9)
            assert inside.sum() >= 1
            at = int(np.flatnonzero(inside)[0])
            assert bool(points.stable[at, k]) is bool(values[cell] > 0)
    assert np.all(found.coming_up.sum(axis=0) <= 1)
    assert not np.any(found.coming_up & ~points.stable)
    assert not np.any(found.coming_down & ~points.stable)


def led(supply, unit, begin, speeds):
    """Lead an engine of little inertia along turbine speeds in time; return its speed at each.

    J domega/dt = T_net - C omega^2 with the turbine's speed given over time, slowly.
    """
    way = np.array(speeds)
    pause = 4.0

    def rate(t, y):
        turbine = np.interp(t, pause * np.arange(way.size), way)
        omega = float(np.clip(y[0], *supply.domain))
        nu = min(turbine / omega, unit.domain[1])
        return [(float(supply.torque(omega)) - float(unit.capacity_at(nu)) * omega**2) / 0.5]

    times = pause * np.arange(way.size)
    return solve_ivp(
        rate, (0.0, times[-1]), [begin], t_eval=times, rtol=1e-8, atol=1e-8, max_step=0.05
    ).y[0]


@pytest.mark.slow
def test_branches_coming_up_and_down_are_those_an_engine_is_led_along_in_time():
    hole, unit = HOLE, LATE
    speeds = np.linspace(0.0, 150.0, 61)
    found = matches_at_turbine_speed(hole, unit, speeds)
    assert found.count.max() == 3
    up, down = found.reached("up").engine_speed, found.reached("down").engine_speed
    apart = np.abs(up - down) > 1.0
    assert apart.any()  # hysteresis
    assert not apart[-1]
    in_time = led(hole, unit, hole.domain[0], speeds)
    back = led(hole, unit, float(down[-1]), speeds[::-1])[::-1]
    # Close to a fold the engine has not moved off yet: it leaves that within a step or two.
    assert np.mean(np.abs(in_time - up) < 0.5) > 0.93
    assert np.mean(np.abs(back - down) < 0.5) > 0.93


def test_between_two_matches_of_the_speed_ratio_the_balance_is_the_one_in_between():
    # At a speed ratio held, the engine jumps from its hole to above it; at a turbine speed held
    # there is a balance on the way, and it is stable.
    unit = LATE
    nu = np.linspace(0.0, 0.95, 2001)
    plain = match(HOLE, unit, nu).from_idle().turbine_speed
    jump = int(np.argmax(np.diff(plain)))
    assert plain[jump + 1] - plain[jump] > 5.0
    inside = np.linspace(plain[jump], plain[jump + 1], 7)[1:-1]
    found = match_at_turbine_speed(HOLE, unit, inside)
    assert found.found.all()
    for omega, turbine in zip(found.engine_speed, inside, strict=True):
        assert abs(excess(HOLE, unit, omega, turbine)) < 1e-6


def test_a_machine_that_comes_up_is_followed_with_its_jumps():
    speeds = np.linspace(0.0, 180.0, 361)
    run = passage(HOLE, LATE, speeds)
    single = match_at_turbine_speed(HOLE, LATE, run.points.turbine_speed).engine_speed
    assert run.points.engine_speed == pytest.approx(single, rel=1e-9)
    steps = np.abs(np.diff(run.points.engine_speed))
    assert run.jumps_before.sum() == 1
    assert steps.max() > 20.0
    assert int(np.argmax(steps)) == int(np.flatnonzero(run.jumps_before[1:])[0])
    assert not passage(HOLE, RISING, speeds).jumps_before.any()


def test_a_branch_jumps_only_where_an_unstable_one_lies_between():
    speed = np.array([100.0, 101.0, 120.0, 121.0, 140.0])
    unstable = np.array([[np.nan, 110.0, np.nan, np.nan, np.nan], [np.nan] * 5])
    assert crossed(speed, unstable).tolist() == [False, False, True, False, False]
    assert crossed(speed[:1], unstable[:, :1]).tolist() == [False]


def test_drive_curve_of_a_jumping_pair_is_broken_and_each_point_of_it_is_a_balance():
    shaft = TurbineShaft(HOLE, LATE)
    drive = shaft.converter_drive
    assert not shaft.one_to_one
    assert shaft.jumps_before.sum() == 1
    assert np.all(np.diff(drive.turbine_speed) > 0.0)
    for omega, turbine in zip(drive.engine_speed, drive.turbine_speed, strict=True):
        assert abs(excess(HOLE, LATE, omega, turbine)) < 1e-6
    again = shaft.at_turbine_speed("converter", drive.turbine_speed[::20])
    assert again.turbine_torque == pytest.approx(drive.turbine_torque[::20], rel=1e-9)
    assert next(n.code for n in shaft.notes) == "engine-jumps-along-locus"


def test_nothing_is_in_balance_on_the_edges_of_a_jump():
    # A load between the two efforts at the jump has no balance there: more than what pulls below
    # it, less than what pulls above it.
    shaft = TurbineShaft(HOLE, LATE)
    line, truck = driveline(gears=(gear("1", 4.0),)), machine(slip=NO_SLIP)
    drive = gear_drives(shaft, line, truck)[0]
    curve = drive.curve()
    at = int(np.flatnonzero(drive.jumps_before)[0])
    assert curve.force[at] > 1.2 * curve.force[at - 1]
    load = RoadLoad.of(truck, surface(traction=None), load="laden", air_density=0.0)
    wanted = 0.5 * (curve.force[at - 1] + curve.force[at])
    grade = float(load.grade_held(wanted, 0.0))
    found = equilibria([drive], [load], [grade])
    turbine = found.wheels.turbine
    for omega, speed, force in zip(
        turbine.engine_speed, turbine.turbine_speed, found.wheels.force, strict=True
    ):
        assert abs(excess(HOLE, LATE, omega, speed)) < 1e-6
        assert force == pytest.approx(float(load.resistance(grade, 1.0)), rel=1e-6)
    assert not np.any(np.abs(turbine.turbine_speed - curve.turbine.turbine_speed[at]) < 0.5)
