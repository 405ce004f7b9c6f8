import json
import math

import numpy as np
import pytest

from converter_match.components.driveline import DrivelineLimits
from converter_match.components.machine import Cooler, Oil, Tracks
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.tractive import tractive, with_lock_up
from converter_match.physics.heat.continuous import heat_on_grades
from tests.examples import RPM, converter, engine, hole_engine
from tests.machines import driveline, gear, machine, surface

GRADES = (0.0, 0.1, 0.2)


def result(*, chain=None, body=None, ground=None, site=None, hydraulics=0.0, bare=None, **options):
    match = solve(engine(), bare or converter(), site=site, hydraulic_torque=hydraulics)
    return tractive(
        match,
        chain or driveline(),
        body or machine(),
        ground or surface(),
        **({"grades": GRADES} | options),
    )


@pytest.fixture(scope="module")
def usual():
    return result()


def codes(found):
    return {note.code for note in found.notes}


def test_every_gear_has_a_row_in_each_of_its_drives(usual):
    rows = [(row.gear, row.drive) for row in usual.gears]
    assert rows == [
        ("1", "converter"),
        ("2", "converter"),
        ("2", "lock-up"),
        ("3", "converter"),
        ("3", "lock-up"),
        ("R", "converter"),
    ]


def test_stall_effort_is_that_of_the_match(usual):
    row, stall = usual.gears[0], usual.match.stall
    drag = 5.0
    by_hand = (stall.turbine_torque - drag) * 4.0 * 20.0 * 0.96 * 0.95 / 0.75
    assert row.stall_effort == pytest.approx(by_hand)
    # At stall nothing comes out: all that goes in is heat (drag has no speed).
    assert row.stall_heat == pytest.approx(stall.input_power)


def test_effort_at_the_coupling_point_is_that_of_the_match(usual):
    row, point = usual.gears[0], usual.match.coupling
    drag = 5.0 + 15.0 * point.turbine_speed / (2000 * RPM)
    by_hand = (point.turbine_torque - drag) * 80.0 * 0.96 * 0.95 / 0.75
    assert row.coupling_effort == pytest.approx(by_hand)


def test_speed_on_a_grade_balances_effort_and_resistance(usual):
    for row in usual.grades:
        assert row.resistance == pytest.approx(
            float(usual.road_loads[0].resistance(row.grade, row.speed))
        )
    speeds = [row.speed for row in usual.grades]
    assert speeds == sorted(speeds, reverse=True)


def test_gradeability_at_rest_is_the_steepest_start(usual):
    assert usual.gradeability[0] == pytest.approx(usual.steepest_start.steepest_start, rel=1e-6)
    assert np.all(np.diff(usual.gradeability) <= 2e-3)


def test_drawbar_pull_is_what_rolling_leaves(usual):
    rest = usual.road_loads[0].resistance(0.0, 0.0)
    assert usual.drawbar[0] == pytest.approx(usual.envelope.force[0] - float(rest))


def test_cooler_is_compared_with_heat_at_the_oil_limit(usual):
    # 60 kW at 70 K; limit 120 degC in air of 25 degC, which is assumed and said.
    assert usual.cooler_capacity == pytest.approx(60e3 * 95.0 / 70.0)
    assert "cooler-air-temperature" in codes(usual)
    for row in usual.grades:
        assert row.cooled is (row.heat <= usual.cooler_capacity)
        assert row.oil_temperature == pytest.approx(298.15 + row.heat * 70.0 / 60e3)


def test_site_thins_the_air_and_warms_the_cooler():
    site = Site(id="s", name="s", source="s", altitude=2500.0, air_temperature=308.15)
    high = result(site=site)
    assert high.air_temperature == 308.15
    assert high.road_loads[0].air_density < 1.0
    assert high.gears[0].stall_effort < result().gears[0].stall_effort
    assert not codes(high) & {"cooler-air-temperature", "air-density-standard"}


def test_hydraulic_load_takes_from_the_effort(usual):
    loaded = result(hydraulics=150.0)
    assert loaded.gears[0].stall_effort < usual.gears[0].stall_effort
    taken = loaded.match.hydraulic_torque
    assert f"hydraulic torque deducted: {taken:.0f} N·m" in loaded.text()


def test_limiter_caps_the_top_speed():
    found = result(chain=driveline(speed_limit=5.0))
    assert (found.top_speed.speed, found.top_speed.limited_by) == (5.0, "limiter")
    assert found.top_speed.heat is None  # part throttle: not known from full throttle


def test_empty_machine_climbs_faster():
    laden, empty = result(), result(load="empty")
    assert empty.grades[-1].speed > laden.grades[-1].speed


def test_grade_that_cannot_be_climbed_says_why():
    found = result(grades=(0.0, 0.5), ground=surface(traction=0.3))
    row = found.grades[-1]
    assert (row.speed, row.gear, row.limited_by) == (None, None, "grip")
    assert "cannot-climb-grip" in codes(found)
    slow = driveline(gears=(gear(ratio=1.2),))
    weak = result(grades=(0.9,), ground=surface(traction=None), chain=slow)
    assert weak.grades[0].limited_by == "too weak"
    assert {"cannot-climb-too-weak", "traction-not-known"} <= codes(weak)


def test_converter_data_that_end_early_are_said_to_set_the_speed():
    bare = converter()
    short = bare.replace(
        speed_ratio=bare.speed_ratio[:-2],
        torque_ratio=bare.torque_ratio[:-2],
        capacity=bare.capacity[:-2],
    )
    found = result(bare=short, chain=driveline(gears=(gear(),)))
    assert found.grades[0].limited_by == "data end"
    assert {"speed-at-data-end", "drive-curve-ends-with-data"} <= codes(found)


def test_exceeded_ratings_are_limits():
    tight = DrivelineLimits(
        turbine_torque=100.0, turbine_speed=50.0, input_power=1e3, lock_up_torque=100.0
    )
    found = result(chain=driveline(limits=tight))
    assert {
        "limit-turbine-torque",
        "limit-turbine-speed",
        "limit-input-power",
        "limit-lock-up-torque",
    } <= codes(found)
    assert found.fails
    assert not result().fails


def test_cautions_stand_on_every_result(usual):
    cautions = {note.code for note in usual.notes if note.kind == "caution"}
    assert {"grades-and-brakes", "towing-needs-care", "stall-effort-is-short"} <= cautions


def test_missing_cooling_data_are_listed():
    for body in (machine(cooler=None), machine(oil=Oil())):
        found = result(body=body)
        assert "cooling-not-known" in codes(found)
        assert found.steepest_cooled is None
        assert all(row.cooled is None for row in found.grades)


def test_cooler_curve_that_ends_short_is_said():
    short = Cooler(difference=[0.0, 50.0], heat=[0.0, 40e3])
    found = result(body=machine(cooler=short))
    assert "cooler-curve-short" in codes(found)
    assert found.cooler_capacity == 40e3


def test_hunting_is_warned_of_and_missing_shift_data_are_listed():
    assert "shift-hunting" in codes(result(chain=driveline(shift_hysteresis=0.01)))
    assert "shift-time-not-given" in codes(result(chain=driveline(shift_time=None)))
    assert "shift-hysteresis-not-given" in codes(result(chain=driveline(shift_hysteresis=None)))
    early = driveline(gears=(gear("1", 4.0, upshift_turbine_speed=90.0), gear("2", 2.2)))
    assert "shift-hunting-band" in codes(result(chain=early))


def test_tracks_on_a_surface_for_wheels_are_warned_of():
    found = result(
        body=machine(running_gear=Tracks(sprocket_radius=0.4)),
        ground=surface(vehicle="wheeled machine", source="a table"),
    )
    assert {"surface-for-other-vehicle", "surface-from-table"} <= codes(found)


def test_lock_up_can_be_asked_for_gear_by_gear():
    chain = with_lock_up(driveline(), ["1", "3"])
    assert [item.lock_up.rule for item in chain.gears] == [
        "not-stated",
        "not-allowed",
        "speed-ratio",
        "not-allowed",
    ]
    with pytest.raises(InputError, match="no such gear"):
        with_lock_up(driveline(), ["9"])


@pytest.mark.parametrize(
    ("grades", "message"),
    [
        ((), "no grades"),
        ((-0.05,), "found '-5 %'; expected 0 to 100 %; downhill"),
        ((1.2,), "found '120 %'"),
        ((math.nan,), "expected 0 to 100 %"),
    ],
)
def test_grades_out_of_range_are_refused(grades, message):
    with pytest.raises(InputError, match=message):
        result(grades=grades)


def test_driveline_without_a_forward_gear_is_refused():
    backwards = driveline(gears=(gear("R", direction="reverse"),))
    with pytest.raises(InputError, match="test-driveline: gear: no forward gear"):
        result(chain=backwards)


def test_result_is_plain_data_without_nan(usual):
    data = json.loads(json.dumps(usual.to_dict(), allow_nan=False))
    assert data["machine"]["load"] == "laden"
    assert len(data["gears"]) == len(usual.gears)
    assert {row["gear"] for row in data["equilibria"]} == {"1", "2", "3", "R"}
    assert data["gears"][0]["stall_effort_kn"] == pytest.approx(usual.gears[0].stall_effort / 1e3)
    assert data["grades"][1]["grade_percent"] == pytest.approx(10.0)


def test_table_has_a_row_for_each_point_of_each_curve(usual):
    frame = usual.to_frame()
    assert len(frame) == sum(drive.curve().force.size for drive in usual.drives)
    assert frame["speed_kmh"].notna().all()
    locked = frame[frame["drive"] == "lock-up"]
    assert (locked["converter_heat_kw"].abs() < 1e-9).all()


@pytest.mark.parametrize(("system", "force", "speed"), [("si", "kN", "km/h"), ("us", "lbf", "mph")])
def test_text_names_units_grades_and_notes(usual, system, force, speed):
    text = usual.text(system)
    assert force in text
    assert speed in text
    climbs = text[text.index("Top speed on a grade") :].splitlines()
    assert any(line.split()[0] == "20" for line in climbs if line.strip())
    for note in usual.notes:
        assert f"[{note.code}]" in text


def test_engine_that_cannot_stall_the_converter_has_no_stall_row():
    # Ten times the capacity: the engine cannot hold it at idle; it can only roll faster.
    found = result(bare=converter().replace(capacity=10 * converter().capacity))
    row = found.gears[0]
    assert (row.stall_effort, row.steepest_start) == (None, None)
    assert "cannot-hold-idle" in codes(found)
    assert found.fails
    json.dumps(found.to_dict(), allow_nan=False)
    assert found.text()


def test_machine_too_heavy_for_its_engine_moves_nowhere_and_says_so():
    found = result(body=machine(mass_empty=900_000.0), grades=(0.0, 0.2))
    assert [row.limited_by for row in found.grades] == ["too weak", "too weak"]
    assert found.top_speed.speed is None
    assert "-" in found.text()


def test_a_gear_too_tall_to_start_on_the_level_says_so_and_names_no_grade():
    # By hand: stall effort of a gear of 0.1 against c_r m g + running drag.
    found = result(chain=driveline(gears=(gear("1", 4.0), gear("top", 0.1))))
    low, tall = found.gears
    need = 20_000.0 * 9.80665 * 0.03 + 800.0
    effort = (found.match.stall.turbine_torque - 5.0) * 0.1 * 20.0 * 0.96 * 0.95 / 0.75
    assert tall.stall_effort == pytest.approx(effort)
    assert effort < need
    assert (tall.steepest_start, tall.start_limited_by) == (None, "cannot start")
    assert (low.start_limited_by, found.steepest_start.gear) == ("grip", "1")
    row = next(
        line for line in found.text().splitlines() if line.split()[:2] == ["top", "converter"]
    )
    assert "cannot start" in row
    assert found.to_dict()["gears"][1]["steepest_start_percent"] is None


def test_a_hair_of_surplus_does_not_make_a_start():
    # Ratio for a stall effort 0.1 % above the resistance at rest (0.003 % of grade), by hand; and
    # for one that makes 0.1 % of grade.
    weight, stall = 20_000.0 * 9.80665, result().match.stall
    rest = weight * 0.03 + 800.0
    per_ratio = (stall.turbine_torque - 5.0) * 20.0 * 0.96 * 0.95 / 0.75
    for effort, starts in ((1.001 * rest, False), (rest + 0.001 * weight, True)):
        chain = driveline(gears=(gear("1", 4.0), gear("top", effort / per_ratio)))
        row = result(chain=chain).gears[1]
        assert row.stall_effort == pytest.approx(effort)
        assert row.start_limited_by == ("effort" if starts else "cannot start")
        assert row.steepest_start == (pytest.approx(0.001, rel=1e-3) if starts else None)


def test_a_cooler_that_carries_only_the_heat_of_a_descent_carries_no_grade(usual):
    # A cooler for a little less than the heat on the level: enough only where it goes downhill.
    level = usual.gears[0].top_heat
    rated = 60e3 * 0.97 * level / usual.cooler_capacity
    found = result(body=machine(cooler=Cooler.from_rating(rated, 383.15, 313.15)))
    downhill = heat_on_grades(found.drives[0], found.road_loads[0], found.cooler_capacity)
    assert downhill.steepest_cooled < 0.0
    row = found.gears[0]
    assert (row.steepest_cooled, row.cooled_limited_by) == (None, "cooler")
    assert usual.gears[0].steepest_cooled > 0.0


# --- the converter's outlet, and the cooler that is needed ----------------------------------------


def flowing(**changes):
    oil = {"volume": 0.04, "temperature_limit": 393.15, "charge_flow": 2e-3}
    return machine(oil=Oil(**(oil | changes)))


def test_outlet_is_the_bulk_and_the_heat_of_the_converter_over_the_flow():
    found = result(body=flowing(), grades=(0.1, 0.25, 0.3))
    told = found.to_dict()
    # 2 L/s of 870 kg/m3 and 2060 J/(kg K).
    flow = 2e-3 * 870 * 2060
    climbing = [row for row in told["grades"] if row["oil_temperature_degc"] is not None]
    assert {row["drive"] for row in climbing} == {"lock-up", "converter"}
    for row in climbing:
        rise = row["converter_heat_kw"] * 1e3 / flow
        assert row["outlet_temperature_degc"] == pytest.approx(row["oil_temperature_degc"] + rise)
        if row["drive"] == "converter":
            assert rise > 1.0
    assert {"outlet-levels", "cooler-at-bulk"} <= codes(found)
    assert "charge-flow-not-given" not in codes(found)
    assert "converter outlet" in found.text()


def test_without_a_charge_flow_the_outlet_is_not_known_and_said_so(usual):
    assert {row.outlet_temperature for row in usual.grades} == {None}
    assert "charge-flow-not-given" in codes(usual)
    assert "outlet-levels" not in codes(usual)


def test_outlet_above_120_degrees_is_named_with_its_grades():
    # Common practice, no source: no lasting work with more than 120 degC at the outlet.
    slow = result(body=flowing(charge_flow=0.1e-3), grades=(0.05, 0.1, 0.15, 0.25))
    hot = [row.grade for row in slow.grades if (row.outlet_temperature or 0.0) > 393.15]
    assert hot
    [note] = [note for note in slow.notes if note.code == "outlet-hot"]
    assert f"{100 * hot[0]:g} %" in dict(note.values)["grades"]
    assert "outlet-hot" not in codes(result(body=flowing(charge_flow=0.02)))


def test_cooler_needed_carries_the_heat_with_the_oil_at_its_limit_in_the_air_of_the_site(usual):
    for row in usual.grades:
        if row.heat is not None:
            assert row.cooler_needed == pytest.approx(row.heat / (393.15 - 298.15))
    # Thin warm air takes less: its density by the gas law and the standard atmosphere at 2500 m
    # (74.68 kPa, from memory), to the power 0.8.
    high = result(site=Site(id="s", name="s", source="t", altitude=2500.0, air_temperature=313.15))
    density = 74.68e3 / 287.05 / 313.15
    [row, *_] = [row for row in high.grades if row.heat is not None]
    share = (density / 1.225) ** 0.8
    assert row.cooler_needed == pytest.approx(row.heat / (393.15 - 313.15) / share, rel=2e-3)
    [table] = [block for block in high.blocks() if block.name == "cooler_needed"]
    assert len(table.rows) == len([row for row in high.grades if row.heat is not None])
    assert "BTU/min" in high.text("us")
    bare = result(body=machine(oil=Oil(volume=0.04)))
    assert {row.cooler_needed for row in bare.grades} == {None}
    assert "Cooler needed" not in bare.text()


def jumping(grades):
    """A torque hole under a tight converter: three matches over a range of turbine speeds."""
    match = solve(hole_engine(), converter(capacity=1.7 * converter().capacity))
    return tractive(match, driveline(), machine(), surface(), grades=grades)


@pytest.mark.slow
def test_every_balance_is_listed_with_how_it_is_come_to_where_the_engine_has_several_matches():
    told = jumping([0.12])
    rows = [row for row in told.to_dict()["equilibria"]
            if (row["gear"], row["drive"]) == ("3", "converter")]  # fmt: skip
    assert [row["stable"] for row in rows] == [True, False, True]
    assert [row["coming_up"] for row in rows] == [True, False, False]
    assert [row["coming_down"] for row in rows] == [False, False, True]
    assert "Every balance on these grades" in str(told)
    assert "Every balance on these grades" not in str(result())


@pytest.mark.slow
def test_a_state_that_only_a_machine_that_is_slowed_down_holds_is_said():
    # Third gear between the speeds at which the engine jumps down and up.
    calm = jumping([0.1])
    third = next(d for d in calm.drives if (d.gear.name, d.drive) == ("3", "converter"))
    slowed = third.of_turbine(third.shaft.slowed_down)
    grade = float(calm.road_loads[0].grade_held(np.nanmedian(slowed.force), 0.0))
    assert "held-only-slowed-down" not in codes(calm)
    single = driveline(gears=(gear("3", 1.2),))
    match = solve(hole_engine(), converter(capacity=1.7 * converter().capacity))
    told = tractive(match, single, machine(), surface(), grades=[grade])
    assert "held-only-slowed-down" in codes(told)
    assert told.grades[0].speed is None or told.grades[0].speed < 2.0
