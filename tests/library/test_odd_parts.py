"""What machines, drivelines, motors and engines are asked about: on which side of which end.

The ends are common practice, no source. The parts are those of round numbers: a machine of 15 t
that rolls on 0.75 m; an axle of 20 behind gears of 4, 2.2 and 1.2, 3.8 in reverse.
"""

import numpy as np
import pytest

from converter_match.components.driveline import DragLaw, DragTable, Stage
from converter_match.components.engine_limits import EngineLimits
from converter_match.components.machine import Balance, Cooler, Oil
from converter_match.components.motor_losses import LossModel
from converter_match.library.check import oddities
from tests.examples import RPM, converter, engine
from tests.machines import driveline, gear, machine
from tests.motors import motor

MASS, WEIGHT = 15_000.0, 15_000.0 * 9.80665
SITES = {"aspiration-missing", "reference-air-missing"}  # of the engine of round numbers


def codes(component):
    return [note.code for note in oddities(component)]


def values(component, code):
    [found] = [dict(note.values) for note in oddities(component) if note.code == code]
    return found


def ends(low, high):
    """Return numbers a hundredth inside and outside of both ends, and whether they are asked of."""
    return [(0.99 * low, True), (1.01 * low, False), (0.99 * high, False), (1.01 * high, True)]


def test_round_numbers_are_asked_nothing():
    assert codes(machine()) == codes(driveline()) == codes(motor()) == []


# --- machines ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("value", "odd"), ends(0.3, 1.5))
def test_drag_coefficient(value, odd):
    assert codes(machine(drag_coefficient=value)) == (["drag-coefficient-unusual"] if odd else [])


@pytest.mark.parametrize(("area", "odd"), ends(0.5, 40.0))
def test_frontal_area(area, odd):
    assert codes(machine(frontal_area=area)) == (["frontal-area-unusual"] if odd else [])


def test_machine_without_data_of_the_air_is_asked_nothing_of_them():
    assert codes(machine(frontal_area=None, drag_coefficient=None)) == []


@pytest.mark.parametrize(("per_mass", "odd"), ends(6e-3, 0.3))
def test_cooler_is_held_against_the_empty_mass(per_mass, odd):
    # Heat per kelvin between 30 degC and 100 degC.
    cooler = Cooler.from_rating(per_mass * MASS * 70.0, 373.15, 303.15)
    given = machine(cooler=cooler)
    assert codes(given) == (["cooler-size-unusual"] if odd else [])
    if odd:
        said = values(given, "cooler-size-unusual")
        assert said["conductance"] == pytest.approx(per_mass * MASS)
        assert (said["low"], said["high"]) == pytest.approx((90.0, 4500.0))  # W/K


@pytest.mark.parametrize(("litres", "odd"), ends(0.4 * 15, 15.0 * 15))
def test_oil_is_held_against_the_empty_mass(litres, odd):
    oil = Oil(volume=litres * 1e-3, temperature_limit=393.15)
    assert codes(machine(oil=oil)) == (["oil-volume-unusual"] if odd else [])


@pytest.mark.parametrize(("celsius", "odd"), [(79, True), (81, False), (149, False), (151, True)])
def test_temperature_limit_of_the_oil(celsius, odd):
    oil = Oil(volume=0.04, temperature_limit=celsius + 273.15)
    assert codes(machine(oil=oil)) == (["oil-limit-unusual"] if odd else [])


def test_machine_without_cooler_and_oil_is_asked_nothing_of_them():
    assert codes(machine(cooler=None, oil=Oil())) == []


@pytest.mark.parametrize(("payload", "odd"), [(2.99, False), (3.01, True)])
def test_payload_above_three_times_the_empty_mass(payload, odd):
    assert codes(machine(payload=payload * MASS)) == (["payload-unusual"] if odd else [])


@pytest.mark.parametrize(("share", "odd"), ends(0.008, 0.22))
def test_wheels_add_a_share_of_the_mass(share, odd):
    given = machine(wheel_inertia=share * MASS * 0.75**2)  # J = m r^2
    assert codes(given) == (["wheel-inertia-unusual"] if odd else [])
    if odd:
        assert values(given, "wheel-inertia-unusual")["share"] == pytest.approx(share)


@pytest.mark.parametrize(("share", "odd"), [(0.0299, False), (0.0301, True)])
def test_running_drag_of_three_percent_of_the_weight_is_rolling_resistance(share, odd):
    given = machine(running_drag=share * WEIGHT)
    assert codes(given) == (["running-drag-high"] if odd else [])
    if odd:
        assert values(given, "running-drag-high")["share"] == pytest.approx(share)


@pytest.mark.parametrize(
    ("empty", "laden", "said"),
    [(0.201, 0.201, []), (0.199, 0.5, ["empty"]), (0.5, 0.199, ["laden"])],
)
def test_weight_on_driven_wheels_is_looked_at_empty_and_laden(empty, laden, said):
    balance = Balance(driven_axle="rear", driven_share_empty=empty, driven_share_laden=laden)
    found = oddities(machine(balance=balance))
    assert [note.code for note in found] == ["driven-share-low"] * len(said)
    assert [dict(note.values)["load"] for note in found] == said


# --- drivelines ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("efficiency", "odd"), [
    (0.849, True), (0.851, False), (0.994, False), (0.996, True)
])  # fmt: skip
def test_efficiency_of_a_gear(efficiency, odd):
    given = driveline(gears=(gear("1", 4.0, efficiency=efficiency), gear("2", 2.2)))
    assert codes(given) == (["efficiency-unusual"] if odd else [])
    if odd:
        assert values(given, "efficiency-unusual")["what"] == "gear 1"


@pytest.mark.parametrize(("efficiency", "odd"), [
    (0.899, True), (0.901, False), (0.994, False), (0.996, True)
])  # fmt: skip
def test_efficiency_of_a_stage(efficiency, odd):
    given = driveline(stages=(Stage(name="axle", ratio=20.0, efficiency=efficiency),))
    assert codes(given) == (["efficiency-unusual"] if odd else [])
    if odd:
        assert values(given, "efficiency-unusual")["what"] == "stage 'axle'"


@pytest.mark.parametrize(("overall", "odd"), ends(4.0, 200.0))
def test_ratio_from_the_turbine_to_the_wheels(overall, odd):
    given = driveline(
        gears=(gear("1", 2.0),),
        stages=(Stage(name="axle", ratio=overall / 2.0, efficiency=0.95),),
    )
    assert codes(given) == (["overall-ratio-unusual"] if odd else [])
    if odd:
        assert values(given, "overall-ratio-unusual")["ratio"] == pytest.approx(overall)


@pytest.mark.parametrize(("share", "odd"), ends(0.5, 1.6))
def test_first_gear_back_is_held_against_the_first_ahead(share, odd):
    back = gear("R1", 4.0 * share, direction="reverse")
    given = driveline(gears=(gear("1", 4.0), gear("2", 2.2), back))
    assert codes(given) == (["reverse-ratio-unusual"] if odd else [])


def test_gearbox_without_reverse_is_not_asked_about_it():
    assert codes(driveline(gears=(gear("1", 4.0),))) == []


@pytest.mark.parametrize("direction", ["forward", "reverse"])
@pytest.mark.parametrize(
    ("step", "code"),
    [
        (0.99, "gear-order-odd"),
        (1.07, "gear-step-unusual"),
        (1.09, None),
        (2.99, None),
        (3.01, "gear-step-unusual"),
    ],
)
def test_steps_from_gear_to_gear_in_the_order_of_the_lever(direction, step, code):
    pair = (
        gear("a", 3.0, direction=direction),
        gear("b", 3.0 / step, direction=direction),
    )
    other = gear("c", 3.0, direction="reverse" if direction == "forward" else "forward")
    given = driveline(gears=(pair[0], other, pair[1]))
    assert codes(given) == ([code] if code else [])
    if code:
        said = values(given, code)
        assert (said["before"], said["gear"]) == ("a", "b")


@pytest.mark.parametrize(("drag", "odd"), [(149.0, False), (151.0, True)])
def test_drag_of_a_gear_at_2000_rpm(drag, odd):
    # Half of it at rest, the rest in proportion to speed: all of it at 2000 rpm.
    law = DragLaw(constant=drag / 2, torque=drag / 2, at_speed=2000 * RPM)
    given = driveline(gears=(gear("1", 4.0, drag=law),))
    assert codes(given) == (["drag-torque-high"] if odd else [])
    if odd:
        said = values(given, "drag-torque-high")
        assert (said["gear"], said["drag"]) == ("1", pytest.approx(drag))
        assert said["speed"] == pytest.approx(2000 * RPM)


@pytest.mark.parametrize(("last", "odd"), [(1000.0, False), (2000.0, True), (4000.0, True)])
def test_drag_of_a_table_is_looked_at_within_it(last, odd):
    # 80 N.m per 1000 rpm: 80 N.m where the table ends at 1000 rpm, 160 N.m at 2000 rpm.
    table = DragTable(speed=np.array([0.0, last]) * RPM, value=[0.0, 0.08 * last])
    given = driveline(gears=(gear("1", 4.0, drag=table),))
    assert codes(given) == (["drag-torque-high"] if odd else [])
    if odd:
        assert values(given, "drag-torque-high")["drag"] == pytest.approx(160.0)


@pytest.mark.parametrize(("time", "odd"), [(2.9, False), (3.1, True)])
def test_shift_time(time, odd):
    assert codes(driveline(shift_time=time)) == (["shift-time-long"] if odd else [])


@pytest.mark.parametrize(("speed", "odd"), [(99.0, False), (101.0, True)])
def test_speed_limit(speed, odd):
    assert codes(driveline(speed_limit=speed / 3.6)) == (["speed-limit-high"] if odd else [])


# --- motors: 200 N.m to 1500 rpm, constant power beyond -------------------------------------------

PEAK = motor().peak


@pytest.mark.parametrize(("share", "odd"), ends(1.2, 4.0))
def test_overload_of_a_motor_is_peak_over_continuous_torque(share, odd):
    given = motor(continuous=PEAK / share)
    assert codes(given) == (["motor-overload-unusual"] if odd else [])
    if odd:
        assert values(given, "motor-overload-unusual")["share"] == pytest.approx(share)


@pytest.mark.parametrize(("rise", "odd"), [(1.14, False), (1.16, True)])
def test_power_of_a_motor_stays_where_its_field_is_weakened(rise, odd):
    speed = np.array([0.0, 500.0, 1000.0, 1500.0, 3000.0]) * RPM
    peak = np.array([200.0, 200.0, 200.0, 200.0, 100.0 * rise])
    given = motor(
        speed=speed, peak=peak, continuous=0.5 * peak, regenerative=None, speed_limit=speed[-1]
    )
    assert codes(given) == (["motor-power-rises"] if odd else [])
    if odd:
        said = values(given, "motor-power-rises")
        assert said["corner"] == pytest.approx(200.0 * 1500 * RPM)
        assert said["highest"] == pytest.approx(rise * 200.0 * 1500 * RPM)


@pytest.mark.parametrize(("efficiency", "odd"), [
    (0.69, True), (0.71, False), (0.97, False), (0.985, True)
])  # fmt: skip
def test_efficiency_of_a_motor_where_its_continuous_power_is_greatest(efficiency, odd):
    # Only the copper loses, in proportion to the square of the torque; at 1500 rpm the motor gives
    # 100 N.m for good, and loses P (1 / eta - 1).
    speed = np.array([0.0, 500.0, 1000.0, 1500.0, 2000.0]) * RPM
    continuous = np.array([100.0, 100.0, 100.0, 100.0, 40.0])
    power = 100.0 * 1500 * RPM
    losses = LossModel(copper_power=power * (1 / efficiency - 1), copper_torque=100.0)
    given = motor(
        speed=speed, peak=2 * continuous, continuous=continuous, regenerative=None,
        speed_limit=speed[-1], losses=losses,
    )  # fmt: skip
    assert codes(given) == (["motor-efficiency-unusual"] if odd else [])
    if odd:
        said = values(given, "motor-efficiency-unusual")
        assert said["share"] == pytest.approx(efficiency)
        assert said["speed"] == pytest.approx(1500 * RPM)


@pytest.mark.parametrize(("rows", "odd"), [(4, True), (5, False)])
def test_rows_of_a_motor(rows, odd):
    speed = np.linspace(0.0, 1500.0, rows) * RPM
    flat = np.full(rows, 200.0)
    given = motor(
        speed=speed, peak=flat, continuous=0.5 * flat, regenerative=None, speed_limit=speed[-1]
    )
    assert codes(given) == (["motor-few-rows"] if odd else [])


@pytest.mark.parametrize(("hours", "share", "odd"), [
    (0.99, 2.0, False), (1.01, 2.0, True), (1.01, 1.21, True)
])  # fmt: skip
def test_peak_torque_that_is_held_for_an_hour(hours, share, odd):
    given = motor(peak_time=3600.0 * hours, continuous=PEAK / share)
    assert codes(given) == (["motor-peak-time-long"] if odd else [])


def test_peak_torque_that_is_hardly_above_the_continuous_one_may_be_held_for_hours():
    given = motor(peak_time=7200.0, continuous=PEAK / 1.19)
    assert codes(given) == ["motor-overload-unusual"]


@pytest.mark.parametrize(("share", "odd"), [(1.24, False), (1.26, True)])
def test_motor_that_brakes_with_more_than_its_peak_torque(share, odd):
    given = motor(regenerative=-share * PEAK)
    assert codes(given) == (["motor-regenerates-more"] if odd else [])
    if odd:
        said = values(given, "motor-regenerates-more")
        assert (said["speed"], said["peak"]) == (0.0, 200.0)
        assert said["back"] == pytest.approx(200.0 * share)


# --- engines -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("torque", "odd"), [(0.84 * 980, True), (0.86 * 980, False), (1.24e3, False), (1.26e3, True)]
)
def test_row_of_an_engine_well_off_both_its_neighbours(torque, odd):
    # At 1400 rpm, between 1000 N.m before and 980 N.m after.
    rows = [700, 850, 950, 1000, torque, 980, 880, 803]
    given = engine(torque=rows)
    assert ("torque-row-off" in codes(given)) is odd
    if odd:
        said = values(given, "torque-row-off")
        assert said["speed"] == pytest.approx(1600 * RPM)
        assert (said["torque"], said["before"], said["after"]) == (torque, 1000.0, 980.0)


def test_row_of_an_engine_that_is_off_one_neighbour_only_is_its_boost():
    rows = [500, 520, 950, 1000, 980, 940, 880, 803]
    assert set(codes(engine(torque=rows))) <= SITES


def test_first_row_that_is_off_is_the_one_named():
    rows = [700, 850, 500, 1000, 980, 500, 880, 803]
    given = engine(torque=rows)
    assert codes(given).count("torque-row-off") == 1
    assert values(given, "torque-row-off")["speed"] == pytest.approx(1200 * RPM)


def test_limits_that_could_not_be_read_are_named_one_by_one():
    given = engine(limits=EngineLimits(unread=(("pumps", "5000 or so"), ("speed", "as fast"))))
    found = [dict(note.values) for note in oddities(given) if note.code == "engine-limit-unread"]
    assert [(said["key"], said["text"]) for said in found] == [
        ("pumps", "'5000 or so'"),
        ("speed", "'as fast'"),
    ]


# --- converters ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "last", "odd"),
    [(0.0, 1.0, True), (0.02, 1.0, True), (0.0, 1.02, False), (-0.02, 0.9, False)],
)
def test_torque_ratio_that_rises_is_asked_about_from_stall_to_equal_speeds(first, last, odd):
    # Driven backwards or beyond equal speeds it may rise: there it is no torque ratio of a drive.
    if last >= 0.95:
        nu, mu = [first, 0.4, 0.8, 0.95, last], [2.2, 1.7, 1.12, 0.9, 0.95]
    else:
        nu, mu = [first, 0.2, 0.4, 0.8, last], [1.9, 1.95, 1.7, 1.12, 1.05]
    given = converter(
        speed_ratio=nu, torque_ratio=mu, capacity=[0.02, 0.02, 0.018, 0.012, 0.006],
        stator="fixed", coupling_speed_ratio=None,
    )  # fmt: skip
    assert ("torque-ratio-rises" in codes(given)) is odd
