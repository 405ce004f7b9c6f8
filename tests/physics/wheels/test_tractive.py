import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from converter_match.components.driveline import DragTable, LockUp
from converter_match.components.machine import Slip
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.envelope import effort_at, envelope
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import equilibria, refined, steepest_start, surplus
from converter_match.physics.wheels.wheels import gear_drives
from tests.examples import converter, engine, hole_engine
from tests.machines import driveline, gear, machine, surface


@pytest.fixture(scope="module")
def shaft():
    return TurbineShaft(engine_supply(engine()), converter())


@pytest.fixture(scope="module")
def drives(shaft):
    return gear_drives(shaft, driveline(), machine())


@pytest.fixture(scope="module")
def loads(drives):
    return loads_of(drives)


def loads_of(drives, **changes):
    return [
        RoadLoad.of(
            drive.machine,
            surface(**changes),
            load="laden",
            air_density=1.225,
            direction=drive.gear.direction,
        )
        for drive in drives
    ]


def test_power_is_kept_from_engine_to_ground(drives):
    for drive in drives:
        points = drive.curve()
        driving = points.force > 0
        spent = (
            points.force * points.wheel_speed
            + points.final_heat
            + points.gearbox_heat
            + points.turbine.heat
        )
        np.testing.assert_allclose(
            spent[driving], points.turbine.input_power[driving], rtol=1e-12, atol=1e-6
        )
        assert np.all(points.gearbox_heat >= 0)
        assert np.all(points.oil_heat >= -1e-9)


def test_effort_follows_the_ratio_and_speed_its_inverse(shaft):
    plain = driveline(gears=(gear("1", 4.0, drag=None), gear("2", 2.0, drag=None)))
    low, high = gear_drives(shaft, plain, machine())
    np.testing.assert_allclose(low.curve().force, 2.0 * high.curve().force)
    np.testing.assert_allclose(low.curve().wheel_speed, 0.5 * high.curve().wheel_speed)


def test_drag_alone_makes_the_effort_negative_at_the_light_end(shaft):
    # Speed ratio 0.99 of a converter whose data end there: turbine torque is small, drag is not.
    heavy = DragTable(speed=[0.0, 400.0], value=[150.0, 150.0])
    drive = gear_drives(shaft, driveline(gears=(gear(drag=heavy),)), machine())[0]
    points = drive.curve()
    assert points.force[0] > 0 > points.force[-1]
    assert np.all(points.gearbox_heat >= 0)


def test_drag_table_that_ends_short_is_named_with_its_gear(shaft):
    short = DragTable(speed=[0.0, 50.0], value=[5.0, 5.0])
    drive = gear_drives(shaft, driveline(gears=(gear("2", drag=short),)), machine())[0]
    with pytest.raises(InputError, match=r"test-driveline: gear '2': drag\.speed: the drag"):
        drive.curve()


def test_equilibrium_agrees_with_an_independent_root_finder(drives, loads):
    grades = np.array([0.0, 0.04, 0.12, 0.25])
    found = equilibria(drives, loads, grades)
    assert found.grade.size > 10
    for i in range(found.grade.size):
        drive, load = drives[found.drive[i]], loads[found.drive[i]]
        grade, parameter = found.grade[i], found.wheels.turbine.parameter[i]

        def excess(p, drive=drive, load=load, grade=grade):
            return float(surplus(drive, load, drive.at(p), grade))

        width = 2e-3 if drive.drive == "converter" else 1.0
        low, high = drive.curve().turbine.parameter[[0, -1]]
        root = brentq(excess, max(parameter - width, low), min(parameter + width, high))
        assert parameter == pytest.approx(root, rel=1e-9)
        assert found.wheels.force[i] == pytest.approx(
            float(load.resistance(grade, found.speed[i])), rel=1e-9
        )


@pytest.mark.slow
@given(st.floats(0.0, 0.5), st.floats(0.0, 0.2))
def test_a_steeper_grade_is_never_climbed_faster(grade, more):
    drives = gear_drives(TurbineShaft(engine_supply(engine()), converter()), driveline(), machine())
    loads = loads_of(drives)
    found = equilibria(drives, loads, [grade, grade + more])

    def fastest(value):
        speeds = found.speed[found.held & (found.grade == value)]
        return speeds.max() if speeds.size else None

    gentle, steep = fastest(grade), fastest(grade + more)
    if steep is not None and gentle is not None:
        assert steep <= gentle + 1e-9


def test_many_grades_at_once_are_the_same_as_one_by_one(drives, loads):
    grades = np.linspace(0.0, 0.4, 17)
    together = equilibria(drives, loads, grades)
    alone = [equilibria(drives, loads, grade) for grade in grades]
    assert sum(part.speed.size for part in alone) == together.speed.size
    for grade, part in zip(grades, alone, strict=True):
        np.testing.assert_allclose(np.sort(together.speed[together.grade == grade]),
                                   np.sort(part.speed), rtol=1e-9)  # fmt: skip


def test_lugging_side_of_a_locked_engine_is_unstable():
    # Torque that rises with speed against a constant resistance: the lower crossing drives the
    # engine down, the upper one back.
    locked = gear("3", 1.2, lock_up=LockUp(allowed=True))
    drives = gear_drives(
        TurbineShaft(engine_supply(engine()), converter()), driveline(gears=(locked,)), machine()
    )
    drive, load = drives[1], loads_of(drives)[1]
    force = drive.curve().force
    level = 0.5 * (force[0] + force.max())
    grade = float(load.grade_held(level, 0.0))
    found = equilibria([drive], [load], grade)
    assert found.speed.size == 2
    slow, fast = np.argsort(found.speed)
    assert not found.stable[slow]
    assert found.stable[fast]


def test_slip_slows_the_machine_by_its_share(shaft):
    chain, bare = driveline(), machine(slip=Slip())
    slipping = machine(slip=Slip(constant=0.1))
    points = gear_drives(shaft, chain, bare)[0].curve()
    np.testing.assert_allclose(points.road_speed(slipping), 0.9 * points.road_speed(bare))


def test_adhesion_makes_a_crossing_one_without_grip(drives):
    loads = loads_of(drives, traction=0.15)
    found = equilibria(drives, loads, [0.15])
    assert found.speed.size
    assert not found.grips.any()
    assert not found.held.any()


def test_envelope_is_the_greatest_effort_in_force(drives, loads):
    cover = envelope(drives, loads)
    grip = float(loads[0].adhesion(0.0))
    forward = [i for i, drive in enumerate(drives) if drive.gear.direction == "forward"]
    forces = np.stack([effort_at(drives[i], loads[i], cover.speed) for i in forward])
    assert np.all(cover.force <= grip)
    assert np.all(np.nan_to_num(forces, nan=-np.inf).max(axis=0) <= cover.effort + 1e-9)
    assert np.all(np.diff(cover.effort) <= 1e-6 * cover.effort[0] + 60.0)
    assert cover.slips[0] == (cover.effort[0] > grip)


def test_converter_gives_way_to_lock_up_by_its_rule(drives):
    by_name = {(drive.gear.name, drive.drive): drive for drive in drives}
    assert ("1", "lock-up") not in by_name
    open_drive, locked = by_name["2", "converter"], by_name["2", "lock-up"]
    engage = float(open_drive.at(0.84).turbine.turbine_speed)
    release = float(open_drive.at(0.70).turbine.turbine_speed)
    assert open_drive.engages == pytest.approx(engage)
    assert locked.releases == pytest.approx(release)
    between = 0.5 * (engage + release)
    assert open_drive.active(between)
    assert locked.active(between)
    assert not open_drive.active(1.01 * engage)
    assert not locked.active(0.99 * release)


def test_lock_up_without_a_rule_closes_where_it_pulls_no_less(shaft):
    speeds = shaft.lock_up_speeds(LockUp(allowed=True))
    assert speeds is not None
    engage = speeds[0]
    curve = shaft.converter_drive
    for speed, better in ((0.97 * engage, False), (1.01 * engage, True)):
        open_torque = np.interp(speed, curve.turbine_speed, curve.turbine_torque)
        assert bool(shaft.supply.torque(speed) >= open_torque) is better


def test_engine_that_jumps_along_the_locus_is_said_so():
    loose = converter().replace(capacity=1.05 * converter().capacity)
    jumping = TurbineShaft(engine_supply(hole_engine()), loose)
    speeds = jumping.converter_drive.turbine_speed
    assert np.all(np.diff(speeds) > 0)
    codes = {note.code for note in jumping.notes}
    assert ("engine-jumps-along-locus" in codes) is jumping.jumps


def test_converter_without_stall_is_refused():
    bare = converter()
    late = bare.replace(
        speed_ratio=bare.speed_ratio[1:],
        torque_ratio=bare.torque_ratio[1:],
        capacity=bare.capacity[1:],
    )
    with pytest.raises(InputError, match="does not reach from stall into drive"):
        _ = TurbineShaft(engine_supply(engine()), late).converter_drive


def test_steepest_start_is_the_lesser_of_effort_and_grip(drives, loads):
    grade, by_grip = steepest_start(drives[0], loads[0])
    assert by_grip
    assert float(loads[0].adhesion(grade)) == pytest.approx(float(loads[0].resistance(grade, 0.0)))
    weak, weak_by_grip = steepest_start(drives[3], loads[3])
    assert not weak_by_grip
    assert float(loads[3].resistance(weak, 0.0)) == pytest.approx(float(drives[3].curve().force[0]))


@given(st.lists(st.floats(-3.0, 3.0), min_size=1, max_size=8))
def test_refinement_finds_roots_to_rounding(targets):
    goal = np.array(targets)
    low, high = np.full(goal.size, -2.0), np.full(goal.size, 2.0)

    def excess(x, rows):
        return x**3 + x - goal[rows]

    everywhere = np.arange(goal.size)
    found = refined(excess, (low, high), (excess(low, everywhere), excess(high, everywhere)))
    np.testing.assert_allclose(found**3 + found, goal, atol=1e-12)
