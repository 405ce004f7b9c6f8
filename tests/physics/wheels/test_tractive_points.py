"""Equilibria, envelope and root search: every quantity they return, where the answer is known."""

from types import SimpleNamespace

import numpy as np
import pytest

from converter_match.components.driveline import LockUp, Stage
from converter_match.components.machine import Slip
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.envelope import effort_at, envelope
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import equilibria, refined, steepest_start, surplus
from converter_match.physics.wheels.wheels import GearDrive, gear_drives
from tests.examples import converter, engine
from tests.machines import driveline, gear, machine

SLIPPERY = machine(slip=Slip(use=[0.0, 1.0], slip=[0.0, 0.4]), running_drag=0.0)


@pytest.fixture(scope="module")
def shaft():
    return TurbineShaft(engine_supply(engine()), converter())


@pytest.fixture(scope="module")
def drives(shaft):
    return gear_drives(shaft, driveline(), SLIPPERY)


def loads_of(drives, **changes):
    fields = {"mass": 15_000.0, "rolling_resistance": 0.03, "traction": 0.6, "air_density": 1.2}
    return [RoadLoad(**(fields | changes)) for _ in drives]


def test_every_quantity_at_an_equilibrium_is_that_of_its_drive(drives):
    loads = loads_of(drives, drag_area=6.0)
    found = equilibria(drives, loads, [0.02, 0.1])
    assert found.drive.min() == 0
    assert found.drive.max() == len(drives) - 1
    assert np.all(np.diff(found.drive) >= 0)
    assert set(found.grade) == {0.02, 0.1}
    for i, index in enumerate(found.drive):
        drive, load, grade = drives[index], loads[index], found.grade[i]
        points = drive.at(found.wheels.turbine.parameter[i])
        adhesion = float(load.adhesion(grade))
        speed = float(points.road_speed(drive.machine, adhesion))
        assert found.speed[i] == pytest.approx(speed, rel=1e-12)
        assert speed < float(points.wheel_speed)
        assert float(points.force) == pytest.approx(float(load.resistance(grade, speed)), rel=1e-9)
        assert found.active[i] == drive.active(points.turbine.turbine_speed)
        assert found.grips[i] == (points.force <= adhesion)
        assert found.wheels.force[i] == points.force
    assert np.array_equal(found.held, found.stable & found.active & found.grips)


def test_grades_may_be_one_number_of_any_precision(drives):
    loads = loads_of(drives)
    one = equilibria(drives, loads, np.float32(0.1))
    listed = equilibria(drives, loads, [float(np.float32(0.1))])
    for name in ("drive", "grade", "speed", "stable", "active", "grips"):
        np.testing.assert_array_equal(getattr(one, name), getattr(listed, name))


def test_one_load_belongs_to_each_drive(drives):
    with pytest.raises(ValueError, match="argument 2"):
        equilibria(drives, loads_of(drives)[:-1], 0.0)


def test_picked_points_keep_all_their_quantities(drives):
    found = equilibria(drives, loads_of(drives), [0.02, 0.1])
    rows = found.grade > 0.05
    assert 0 < rows.sum() < rows.size
    some = found.picked(rows)
    for name in ("drive", "grade", "speed", "stable", "active", "grips"):
        np.testing.assert_array_equal(getattr(some, name), getattr(found, name)[rows])
    np.testing.assert_array_equal(some.wheels.force, found.wheels.force[rows])
    np.testing.assert_array_equal(
        some.wheels.turbine.engine_speed, found.wheels.turbine.engine_speed[rows]
    )


def test_surplus_is_effort_less_resistance_at_the_speed_that_slip_leaves(drives):
    drive, [load] = drives[0], loads_of(drives[:1], drag_area=6.0)
    points = drive.at([0.2, 0.6])
    found = surplus(drive, load, points, 0.05)
    use = points.force / float(load.adhesion(0.05))
    speed = points.wheel_speed * (1 - 0.4 * np.minimum(use, 1.0))
    angle = np.arctan(0.05)
    resistance = load.weight * (0.03 * np.cos(angle) + np.sin(angle)) + 0.5 * 1.2 * 6.0 * speed**2
    np.testing.assert_allclose(found, points.force - resistance, rtol=1e-12)


def test_stable_is_where_effort_falls_through_the_resistance(shaft):
    # Locked up, torque rises to its peak and falls: the lower crossing leaves, the upper holds.
    locked = gear("3", 1.2, lock_up=LockUp(allowed=True))
    drives = gear_drives(shaft, driveline(gears=(locked,)), machine(slip=Slip()))
    [load] = loads_of(drives[1:])
    force = drives[1].curve().force
    grade = float(load.grade_held(0.5 * (force[0] + force.max()), 0.0))
    found = equilibria(drives[1:], [load], grade)
    assert found.stable[np.argsort(found.speed)].tolist() == [False, True]


# --- the envelope --------------------------------------------------------------------------------


def test_effort_is_that_of_the_curve_and_unknown_where_the_drive_is_not_in_force(drives):
    drive, [load] = drives[1], loads_of(drives[:1])
    curve = drive.curve()
    road = curve.road_speed(drive.machine, load.adhesion(0.1))
    inside = curve.turbine.turbine_speed <= drive.engages
    found = effort_at(drive, load, road, 0.1)
    np.testing.assert_allclose(found[inside], curve.force[inside], rtol=1e-12)
    assert inside.any()
    assert not inside.all()
    assert np.isnan(found[~inside][1:]).all()
    assert np.isnan(effort_at(drive, load, np.array([-0.1, 99.0]))).all()
    # On the level unless a grade is named.
    np.testing.assert_array_equal(
        effort_at(drive, load, road), effort_at(drive, load, road, grade=0.0)
    )


def test_envelope_names_its_drive_among_all_of_them(shaft):
    # Reverse first in the list, so that the place among forward gears is another number.
    back = gear("R", 8.0, direction="reverse")
    line = driveline(gears=(gear("1", 4.0), gear("2", 2.0), back))
    one, two, reverse = gear_drives(shaft, line, SLIPPERY)
    drives = [reverse, two, one]
    loads = loads_of(drives, traction=0.35)
    cover = envelope(drives, loads, points=101)
    top = float(two.curve().road_speed(SLIPPERY, loads[0].adhesion(0.0)).max())
    np.testing.assert_allclose(cover.speed, np.linspace(0.0, top, 101))
    low, high = (effort_at(drive, loads[0], cover.speed) for drive in (one, two))
    better = np.where(np.isnan(high) | (low > high), 2, 1)
    best = np.fmax(low, high)
    reach = np.isfinite(best)
    np.testing.assert_array_equal(cover.drive[reach], better[reach])
    np.testing.assert_array_equal(cover.effort[reach], best[reach])
    assert {1, 2} <= set(cover.drive)
    grip = 0.35 * 15_000.0 * 9.80665
    np.testing.assert_allclose(cover.force[reach], np.minimum(best[reach], grip))
    np.testing.assert_array_equal(cover.slips, np.where(reach, best > grip, False))
    assert cover.slips.any()
    assert not cover.slips.all()
    assert envelope(drives, loads).speed.size == 401


def test_envelope_says_where_no_drive_reaches(shaft):
    # Locked up only, a drive begins at idle: below that speed nothing is in force.
    locked = gear("2", 2.2, lock_up=LockUp(allowed=True))
    line = driveline(gears=(locked,))
    closed = GearDrive(shaft, line, locked, machine(slip=Slip()), "lock-up", 0.0, 0.0)
    cover = envelope([closed], loads_of([closed]), points=51)
    idle = float(closed.curve().wheel_speed[0])
    below = cover.speed < idle
    assert below.any()
    assert np.all(cover.drive[below] == -1)
    assert np.isnan(cover.effort[below]).all()
    assert np.isnan(cover.force[below]).all()
    assert not cover.slips[below].any()
    assert np.all(cover.drive[~below] == 0)


# --- the steepest start --------------------------------------------------------------------------


@pytest.mark.parametrize(("traction", "by_grip"), [(0.2, True), (None, False)])
def test_steepest_start_is_by_stall_effort_or_by_grip(shaft, traction, by_grip):
    line = driveline(
        gears=(gear("1", 1.0, efficiency=1.0, drag=None),),
        stages=(Stage(name="axle", ratio=20.0, efficiency=1.0),),
    )
    [drive] = gear_drives(shaft, line, machine())
    [load] = loads_of([drive], traction=traction)
    stall = float(shaft.at("converter", 0.0).turbine_torque) * 20.0 / 0.75
    # q = F / (m g) = c cos a + sin a, or mu - c on all wheels.
    q = stall / (15_000.0 * 9.80665)
    slope = np.tan(np.arcsin(q / np.hypot(1.0, 0.03)) - np.arctan(0.03))
    grade, limited = steepest_start(drive, load)
    assert bool(limited) is by_grip
    assert grade == pytest.approx(0.17 if by_grip else slope, rel=1e-9)


# --- the root search -----------------------------------------------------------------------------


def counted(function):
    calls = SimpleNamespace(rows=[])

    def excess(x, rows):
        calls.rows.append(rows.copy())
        return function(x, rows)

    return excess, calls


def search(function, low, high):
    low, high = np.array(low, float), np.array(high, float)
    rows = np.arange(low.size)
    excess, calls = counted(function)
    values = (function(low, rows), function(high, rows))
    kept = [array.copy() for array in (low, high, *values)]
    found = refined(excess, (low, high), values)
    for before, after in zip(kept, (low, high, *values), strict=True):
        np.testing.assert_array_equal(before, after)  # what was handed in is not written to
    return found, calls.rows


def test_root_at_either_end_is_taken_without_a_step():
    found, calls = search(lambda x, rows: x - np.array([1.0, 3.0])[rows], [1.0, 1.0], [3.0, 3.0])
    assert found.tolist() == [1.0, 3.0]
    assert calls == []


def test_straight_line_takes_one_step_and_rising_and_falling_are_alike():
    goal, sign = np.array([0.25, 1.5, 2.75]), np.array([1.0, -1.0, 2.0])
    found, calls = search(
        lambda x, rows: sign[rows] * (x - goal[rows]), [0.0, 0.0, 0.0], [4.0, 4.0, 4.0]
    )
    np.testing.assert_allclose(found, goal, rtol=1e-15)
    assert len(calls) <= 3


def test_each_row_stops_by_itself_and_only_the_others_go_on():
    # The first row is a line, done at once; the second has all its bend at one end.
    def function(x, rows):
        return np.where(rows == 0, x - 0.5, x**9 - 0.5)

    found, calls = search(function, [0.0, 0.0], [1.0, 1.0])
    np.testing.assert_allclose(found, [0.5, 0.5 ** (1 / 9)], rtol=1e-13)
    assert calls[0].tolist() == [0, 1]
    assert calls[-1].tolist() == [1]


def test_bracket_whose_one_end_would_stay_for_ever_closes_in_few_steps():
    # Plain false position creeps here: an end that stays is given half its weight (Illinois).
    for power in (5, 15):
        for sign in (1.0, -1.0):
            for flip in (False, True):

                def function(x, rows, power=power, sign=sign, flip=flip):
                    y = 1.0 - x if flip else x
                    return sign * (y**power - 0.5)

                found, calls = search(function, [0.0], [1.0])
                root = 0.5 ** (1 / power)
                np.testing.assert_allclose(found, 1 - root if flip else root, rtol=1e-12)
                assert len(calls) <= 25


def test_no_rows_need_no_steps():
    found, calls = search(lambda x, rows: x, [], [])
    assert found.size == 0
    assert calls == []
