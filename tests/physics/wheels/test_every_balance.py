"""Every balance of a gear, engine branch by engine branch: brute force and own integration."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from converter_match.components.machine import Slip
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import equilibria
from converter_match.physics.wheels.wheels import gear_drives
from tests.examples import RPM, converter, engine, hole_engine
from tests.machines import driveline, gear, machine, surface
from tests.properties.depth import depth

NO_SLIP = Slip(use=np.array([0.0, 1.0]), slip=np.array([0.0, 0.0]))
RATIO = 4.0
# A torque hole under a tight converter: three matches over a range of turbine speeds.
HOLE, LATE = engine_supply(hole_engine()), converter(capacity=1.7 * converter().capacity)


def in_gear(supply, unit):
    """One gear without losses beside its meshes, on ground that holds whatever is pulled."""
    line = driveline(gears=(gear("1", RATIO),))
    [drive] = gear_drives(TurbineShaft(supply, unit), line, machine(slip=NO_SLIP))
    load = RoadLoad.of(drive.machine, surface(traction=None), load="laden", air_density=1.2)
    return drive, load


def by_hand(drive, load, grade):
    """Excess of torque [N.m] and of effort [N] for engine and turbine speeds, from the curves."""
    supply, unit = drive.shaft.supply, drive.shaft.converter
    ratio = drive.driveline.overall_ratio(drive.gear)
    radius = drive.machine.rolling_radius
    share = drive.driveline.efficiency(drive.gear)
    end = min(unit.domain[1], 1.0)

    def torque(omega, turbine):
        nu = np.clip(turbine / omega, 0.0, end)
        return supply.torque(omega) - unit.capacity_at(nu) * omega**2

    def effort(omega, turbine):
        nu = np.clip(turbine / omega, 0.0, end)
        shaft = unit.torque_ratio_at(nu) * unit.capacity_at(nu) * omega**2
        left = shaft - drive.gear.drag_torque(turbine)
        pull = left * np.where(left >= 0.0, share, 1.0 / share) * ratio / radius
        return pull - load.resistance(grade, turbine * radius / ratio)

    return torque, effort


@st.composite
def awkward(draw):
    torque = draw(st.lists(st.floats(350.0, 1100.0), min_size=9, max_size=9))
    speed = np.array([700, 900, 1000, 1100, 1200, 1350, 1500, 1800, 2200]) * RPM
    made = engine(low_idle=700 * RPM, speed=speed, torque=torque, accessories=())
    shape = draw(st.lists(st.floats(0.9, 1.15), min_size=4, max_size=4))
    first = draw(st.floats(0.015, 0.06)) * np.cumprod([1.0, *shape[:3]])
    tail = first[-1] * np.array([0.8, 0.6, 0.25, 0.05])
    return engine_supply(made), converter(capacity=[*first, *tail])


@pytest.mark.slow
@given(awkward(), st.floats(0.0, 0.2))
@depth(8, 150)
def test_every_point_is_a_balance_and_none_of_a_scan_by_engine_speed_is_missing(pair, grade):
    drive, load = in_gear(*pair)
    supply, unit = pair
    torque, effort = by_hand(drive, load, grade)
    found = equilibria([drive], [load], [grade])
    omegas, turbines = found.wheels.turbine.engine_speed, found.wheels.turbine.turbine_speed
    assert np.all(np.abs(torque(omegas, turbines)) < 1e-9 * 1100.0)
    pull = np.abs(load.resistance(grade, found.speed))
    assert np.all(np.abs(effort(omegas, turbines)) < 1e-8 * (pull + 1e3))
    # The other way round: by engine speed, and by stretches of speed ratio between the rows of the
    # data, in which the capacity only rises or only falls, so that the speed ratio is known.
    speeds = np.linspace(*supply.domain, 3001)
    wanted = np.asarray(supply.torque(speeds)) / speeds**2
    rows = unit.characteristic.speed_ratio
    for low, high in pairwise(rows):
        nu = np.linspace(low, high, 801)
        capacity = np.asarray(unit.capacity_at(nu))
        order = np.argsort(capacity)
        inside = (wanted > capacity.min()) & (wanted < capacity.max())
        ratio = np.interp(wanted, capacity[order], nu[order])
        spare = effort(speeds, ratio * speeds)
        size = np.abs(load.resistance(grade, 1.0))
        cells = inside[:-1] & inside[1:] & (np.sign(spare[:-1]) != np.sign(spare[1:]))
        # Next to nothing is told by a scan of straight lines.
        cells &= np.minimum(np.abs(spare[:-1]), np.abs(spare[1:])) > 1e-3 * size
        for cell in np.flatnonzero(cells):
            near = (omegas >= speeds[cell] * (1 - 1e-6)) & (omegas <= speeds[cell + 1] * (1 + 1e-6))
            assert near.any(), (grade, speeds[cell], spare[cell : cell + 2])
    assert not np.any((found.coming_up | found.coming_down) & ~found.stable)
    assert found.coming_up.sum() <= 1
    assert found.coming_down.sum() <= 1


def followed_in_time(drive, load, grade, omega, speed, seconds=400.0):
    """Engine and machine at full throttle, integrated: J domega/dt and m dv/dt by themselves."""
    torque, effort = by_hand(drive, load, grade)
    low, high = drive.shaft.supply.domain
    gain = drive.driveline.overall_ratio(drive.gear) / drive.machine.rolling_radius

    def rate(_, y):
        engine = float(np.clip(y[0], low, high))
        turbine = max(float(y[1]), 0.0) * gain
        return [
            float(torque(engine, turbine)) / 0.02,
            float(effort(engine, turbine)) / float(load.mass),
        ]

    run = solve_ivp(rate, (0.0, seconds), [omega, speed], method="LSODA", rtol=1e-8, atol=1e-8)
    return run.y[:, -1]


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.5, 0.85, 0.95])
def test_labels_are_where_a_machine_settles_that_is_followed_in_time(share):
    drive, load = in_gear(HOLE, LATE)
    grade = share * float(load.grade_held(drive.curve().force[0], 0.0))
    found = equilibria([drive], [load], [grade])
    top = drive.curve()
    starts = {
        "coming_up": (HOLE.domain[0], 0.0),
        "coming_down": (float(top.turbine.engine_speed[-1]), float(top.wheel_speed[-1])),
    }
    for label, start in starts.items():
        omega, speed = followed_in_time(drive, load, grade, *start)
        told = getattr(found, label)
        assert told.sum() == 1
        assert float(found.speed[told][0]) == pytest.approx(speed, rel=1e-4)
        assert float(found.wheels.turbine.engine_speed[told][0]) == pytest.approx(omega, rel=1e-4)


def test_a_load_between_two_branches_is_held_fast_or_slow_by_how_the_machine_comes_to_it():
    # Somewhere the slow and the fast branch both hold one load: the labels part.
    drive, load = in_gear(HOLE, LATE)
    stall = float(load.grade_held(drive.curve().force[0], 0.0))
    found = equilibria([drive], [load], np.linspace(0.7, 0.99, 12) * stall)
    parted = found.coming_down & ~found.coming_up
    assert parted.any()
    for grade in np.unique(found.grade[parted]):
        mine = found.grade == grade
        assert found.coming_up[mine].sum() == 1
        assert found.speed[mine & found.coming_down] > found.speed[mine & found.coming_up]


def test_what_only_a_machine_that_is_slowed_down_holds_is_told_from_what_it_comes_up_to():
    # At these turbine speeds the engine of a machine that comes up is still in its torque hole.
    drive, load = in_gear(HOLE, LATE)
    slowed = drive.of_turbine(drive.shaft.slowed_down)
    force = float(np.nanmedian(slowed.force))
    grade = float(load.grade_held(force, 0.0))
    found = equilibria([drive], [load], [grade])
    only = found.could_be_held & ~found.held
    assert only.sum() == 1
    assert found.coming_down[only].all()
    assert not found.coming_up.any()
    assert float(found.wheels.force[only][0]) == pytest.approx(force, rel=1e-3)
