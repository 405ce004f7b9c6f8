"""From the turbine shaft to the ground by hand, in both directions of power; rotating masses."""

import numpy as np
import pytest

from converter_match.components.driveline import DragTable, LockUp, Stage
from converter_match.components.machine import Slip
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.turbine import TurbinePoints, TurbineShaft
from converter_match.physics.wheels.rotating import Inertias, engine_follows, textbook_mass_factor
from converter_match.physics.wheels.wheels import GearDrive, at_wheels, gear_drives
from tests.examples import converter, engine
from tests.machines import driveline, gear, machine

FLAT_DRAG = DragTable(speed=[0.0, 400.0], value=[20.0, 20.0])
STAGES = (
    Stage(name="axle", ratio=5.0, efficiency=0.96),
    Stage(name="hub", ratio=4.0, efficiency=0.98),
)
ETA, ETA_STAGES = 0.95, 0.96 * 0.98
RATIO, RADIUS = 3.0 * 20.0, 0.75


def chain(**changes):
    low = gear("1", 3.0, efficiency=ETA, drag=FLAT_DRAG)
    return driveline(**({"gears": (low,), "stages": STAGES} | changes))


def shaft_points(turbine_speed, turbine_torque, input_torque=None, engine_speed=None):
    speed, torque = np.asarray(turbine_speed, float), np.asarray(turbine_torque, float)
    spin = speed + 20.0 if engine_speed is None else np.asarray(engine_speed, float)
    taken = torque / 1.5 if input_torque is None else np.asarray(input_torque, float)
    return TurbinePoints(
        parameter=speed / spin,
        speed_ratio=speed / spin,
        engine_speed=spin,
        input_torque=taken,
        turbine_speed=speed,
        turbine_torque=torque,
    )


def to_ground(points):
    line = chain()
    return at_wheels(points, line, line.gears[0], machine())


def test_driving_pays_drag_meshes_and_stages_in_turn():
    found = to_ground(shaft_points([0.0, 100.0, 200.0], [1020.0, 520.0, 20.5]))
    left = np.array([1000.0, 500.0, 0.5])
    omega = np.array([0.0, 100.0, 200.0])
    np.testing.assert_allclose(found.wheel_speed, omega * RADIUS / RATIO, rtol=1e-14)
    np.testing.assert_allclose(found.force, left * ETA * ETA_STAGES * RATIO / RADIUS, rtol=1e-14)
    np.testing.assert_allclose(
        found.gearbox_heat, 20.0 * omega + left * omega * (1 - ETA), rtol=1e-13
    )
    np.testing.assert_allclose(found.final_heat, left * omega * ETA * (1 - ETA_STAGES), rtol=1e-12)


def test_wheels_that_drive_pay_the_losses_themselves():
    found = to_ground(shaft_points([100.0, 200.0], [19.5, -80.0]))
    left, omega = np.array([-0.5, -100.0]), np.array([100.0, 200.0])
    np.testing.assert_allclose(found.force, left / ETA / ETA_STAGES * RATIO / RADIUS, rtol=1e-13)
    # Power into the turbine shaft and out at the tread, and both heats, add up to nothing.
    spent = found.force * found.wheel_speed + found.gearbox_heat + found.final_heat
    np.testing.assert_allclose(spent, found.turbine.turbine_torque * omega, rtol=1e-12)
    assert np.all(found.gearbox_heat > 0)
    assert np.all(found.final_heat > 0)


def test_torque_that_drag_just_eats_leaves_none():
    found = to_ground(shaft_points([100.0], [20.0]))
    assert (found.force[0], found.final_heat[0], found.gearbox_heat[0]) == (0.0, 0.0, 2000.0)


def test_point_that_does_not_exist_stays_unknown_and_asks_no_drag_table():
    found = to_ground(shaft_points([100.0, np.nan], [520.0, np.nan]))
    assert np.isfinite(found.force).tolist() == [True, False]
    assert np.isnan(found.wheel_speed[1])
    # The drag law of the example grows with the speed: where there is a speed it is that one's.
    law = at_wheels(shaft_points([100.0], [520.0]), driveline(), gear(), machine())
    drag = float(gear().drag.at(100.0))
    assert law.force[0] == pytest.approx((520.0 - drag) * 0.96 * 0.95 * 4.0 * 20.0 / 0.75)


def test_speed_beyond_the_drag_table_names_driveline_and_gear():
    with pytest.raises(InputError) as caught:
        to_ground(shaft_points([401.0], [520.0]))
    assert caught.value.source == "test-driveline: gear '1'"
    assert caught.value.field == "drag.speed"


def test_oil_heat_is_that_of_converter_and_gearbox_and_efficiency_is_over_all():
    points = shaft_points([100.0, 100.0, 100.0], [520.0, 520.0, 520.0], [400.0, 0.0, -10.0])
    found = to_ground(points)
    converter_heat = 400.0 * 120.0 - 520.0 * 100.0
    assert found.oil_heat[0] == pytest.approx(converter_heat + found.gearbox_heat[0])
    expected = 500.0 * 100.0 * ETA * ETA_STAGES / (400.0 * 120.0)
    assert found.efficiency[0] == pytest.approx(expected, rel=1e-13)
    assert np.isnan(found.efficiency[1:]).all()


def test_slip_goes_by_the_share_of_the_ground_s_pull():
    found = to_ground(shaft_points([100.0], [520.0]))
    linear = machine(slip=Slip(use=[0.0, 1.0], slip=[0.0, 0.3]))
    speed, force = found.wheel_speed[0], found.force[0]
    half = found.road_speed(linear, 2.0 * force)
    assert half[0] == pytest.approx(speed * (1 - 0.15))
    assert found.road_speed(linear)[0] == speed  # no limit, no use of it
    for none in (0.0, -1.0):
        assert found.road_speed(linear, none)[0] == pytest.approx(speed * 0.7)
    small = found.road_speed(linear, 0.5)  # less than a newton is a limit all the same
    assert small[0] == pytest.approx(speed * 0.7)
    np.testing.assert_array_equal(
        found.road_speed(linear, np.float32([2e5, 3e5])),
        found.road_speed(linear, np.array([2e5, 3e5])),
    )


# --- drives --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def shaft():
    return TurbineShaft(engine_supply(engine()), converter())


def test_drives_are_listed_forward_from_the_lowest_then_reverse(shaft):
    drives = gear_drives(shaft, driveline(), machine())
    assert [(drive.gear.name, drive.drive) for drive in drives] == [
        ("1", "converter"),
        ("2", "converter"),
        ("2", "lock-up"),
        ("3", "converter"),
        ("3", "lock-up"),
        ("R", "converter"),
    ]
    assert (drives[0].engages, drives[0].releases) == (np.inf, np.inf)
    assert (drives[1].engages, drives[1].releases) == (drives[2].engages, drives[2].releases)
    assert drives[1].releases < drives[1].engages < np.inf
    for drive in drives:
        assert (drive.shaft, drive.machine, drive.driveline) == (shaft, machine(), driveline())


def test_drive_is_in_force_up_to_where_it_engages_and_from_where_it_releases(shaft):
    line = driveline()
    parts = (shaft, line, line.gears[1], machine())
    open_drive = GearDrive(*parts, "converter", 150.0, 120.0)
    locked = GearDrive(*parts, "lock-up", 150.0, 120.0)
    speed = np.array([119.999, 120.0, 150.0, 150.001])
    assert open_drive.active(speed).tolist() == [True, True, True, False]
    assert locked.active(speed).tolist() == [False, True, True, True]
    always = GearDrive(*parts, "converter")
    assert (always.engages, always.releases) == (np.inf, np.inf)
    assert always.active(1e9)


def test_drive_at_a_parameter_is_the_shaft_there_carried_to_the_wheels(shaft):
    drives = gear_drives(shaft, driveline(), machine())
    for drive, parameter in ((drives[1], 0.5), (drives[2], 180.0)):
        found = drive.at(parameter)
        by_hand = at_wheels(
            shaft.at(drive.drive, parameter), drive.driveline, drive.gear, drive.machine
        )
        assert float(found.force) == float(by_hand.force)
        assert float(found.turbine.parameter) == parameter
        assert drive.curve() is drive.curve()


# --- rotating masses -----------------------------------------------------------------------------


def parts(**missing):
    given = {"engine": 2.0, "impeller": 0.5, "turbine": 0.3, "input": 0.2, "output": 0.7,
             "wheels": 90.0} | missing  # fmt: skip
    return (
        engine(inertia=given["engine"]),
        converter(impeller_inertia=given["impeller"], turbine_inertia=given["turbine"]),
        chain(input_inertia=given["input"], output_inertia=given["output"]),
        machine(wheel_inertia=given["wheels"]),
    )


def test_inertias_are_added_shaft_by_shaft():
    found = Inertias.of(*parts())
    assert (found.engine, found.turbine, found.output, found.wheels) == (2.5, 0.5, 0.7, 90.0)
    assert found.notes == ()


@pytest.mark.parametrize(
    ("name", "said", "left"),
    [
        ("engine", "engine", (0.5, 0.5, 0.7, 90.0)),
        ("impeller", "impeller", (2.0, 0.5, 0.7, 90.0)),
        ("turbine", "turbine", (2.5, 0.2, 0.7, 90.0)),
        ("input", "gearbox input", (2.5, 0.3, 0.7, 90.0)),
        ("output", "gearbox output", (2.5, 0.5, 0.0, 90.0)),
        ("wheels", "wheels", (2.5, 0.5, 0.7, 0.0)),
    ],
)
def test_inertia_that_is_not_given_counts_as_zero_and_is_named(name, said, left):
    found = Inertias.of(*parts(**{name: None}))
    assert (found.engine, found.turbine, found.output, found.wheels) == pytest.approx(left)
    [note] = found.notes
    assert (note.code, note.kind) == ("inertia-not-given", "assumption")
    assert f"given for: {said}." in note.message


def test_mass_in_gear_is_each_inertia_times_its_ratio_squared():
    inertias = Inertias.of(*parts())
    line = chain()
    expected = 90.0 + ETA_STAGES * 20.0**2 * 0.7 + ETA * ETA_STAGES * RATIO**2 * 0.5
    found = inertias.in_gear(line, line.gears[0], machine())
    assert found == pytest.approx(expected / RADIUS**2, rel=1e-14)


def drive_of(kind):
    line = chain()
    return GearDrive(
        TurbineShaft(engine_supply(engine()), converter()), line, line.gears[0], machine(), kind
    )


def test_engine_counts_as_far_as_its_speed_follows_the_turbine():
    # Engine speed 150 + 0.25 w: the slope is a quarter; torque ratio 2, 1.5 and none to speak of.
    omega = np.array([0.0, 50.0, 120.0, 130.0])
    points = shaft_points(
        omega, [1000.0, 600.0, 5.0, -5.0], [500.0, 400.0, 0.0, -4.0], 150.0 + 0.25 * omega
    )
    wheels = to_ground(points)
    drive = drive_of("converter")
    np.testing.assert_allclose(engine_follows(drive, wheels), [0.5, 0.375, 0.25, 0.25])
    inertias = Inertias.of(*parts())
    behind = inertias.in_gear(drive.driveline, drive.gear, drive.machine)
    factor = ETA * ETA_STAGES * (RATIO / RADIUS) ** 2
    expected = behind + factor * 2.5 * np.array([0.5, 0.375, 0.25, 0.25])
    np.testing.assert_allclose(inertias.with_engine(drive, wheels), expected, rtol=1e-13)


def test_locked_up_the_whole_engine_counts():
    wheels = to_ground(shaft_points([100.0, 150.0], [500.0, 400.0], [500.0, 400.0], [100.0, 150.0]))
    drive = drive_of("lock-up")
    np.testing.assert_array_equal(engine_follows(drive, wheels), [1.0, 1.0])
    # Energy: M v^2 / 2 of the rotating parts is the sum of J w^2 / 2 where nothing is lost.
    lossless = driveline(
        gears=(gear("1", 3.0, efficiency=1.0, drag=None, lock_up=LockUp(allowed=True)),),
        stages=(Stage(name="axle", ratio=20.0, efficiency=1.0),),
    )
    ideal = GearDrive(drive.shaft, lossless, lossless.gears[0], machine(), "lock-up")
    mass = Inertias(engine=2.5, turbine=0.5, output=0.7, wheels=90.0).with_engine(ideal, wheels)
    v = 100.0 * RADIUS / RATIO
    stored = 0.5 * (3.0 * 100.0**2 + 0.7 * (100.0 / 3.0) ** 2 + 90.0 * (100.0 / 60.0) ** 2)
    assert 0.5 * mass[0] * v**2 == pytest.approx(stored, rel=1e-13)


def test_rule_of_thumb_for_road_vehicles():
    # 1.04 + 0.0025 i^2, second-hand: 2.04 at an overall ratio of 20.
    assert textbook_mass_factor(20.0) == pytest.approx(2.04, rel=1e-14)
    assert textbook_mass_factor(0.0) == 1.04
