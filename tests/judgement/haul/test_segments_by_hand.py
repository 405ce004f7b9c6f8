"""Segments, cycle and steps of a route against what follows from their definition.

Whoever covers a segment does so in its length over its mean speed; parts add up to the whole; what
stands at the end of a segment is what stands in its last step.
"""

import dataclasses

import numpy as np
import pytest

from converter_match.components.machine import Cooler, Oil
from converter_match.judgement.haul.haul import haul
from tests.haul_examples import parts, road

STOPS = np.array([np.nan, 20.0, np.nan, 5.0])


@pytest.fixture(scope="module")
def run():
    """Level, up, down a tenth, level and empty; stands 20 s after the second, 5 s at the end."""
    way = road([0.0, 0.06, -0.1, 0.0], [300.0, 150.0, 400.0, 200.0], [8.0, np.inf, 12.0, np.inf])
    return haul(*parts(), way.replace(stop_time=STOPS, load=("laden",) * 3 + ("empty",)))


@pytest.fixture(scope="module")
def steps(run):
    frame = run.to_frame()
    return [frame[frame["segment"] == number] for number in (1, 2, 3, 4)]


def test_segment_takes_its_length_over_its_mean_speed_and_its_stop(run):
    for row, stop in zip(run.segments, np.nan_to_num(STOPS), strict=True):
        assert row.time == pytest.approx(row.length / row.mean_speed + stop, rel=1e-9)
    assert sum(row.time for row in run.segments) == pytest.approx(run.time)
    assert run.distance == pytest.approx(1050.0)
    moving = run.time - np.nansum(STOPS)
    assert run.to_dict()["cycle"]["mean_speed_moving_kmh"] == pytest.approx(3.6 * 1050.0 / moving)


def test_segment_says_what_it_is(run):
    assert [(r.segment, r.length, r.grade, r.load) for r in run.segments] == [
        (1, 300.0, 0.0, "laden"), (2, 150.0, 0.06, "laden"), (3, 400.0, -0.1, "laden"),
        (4, 200.0, 0.0, "empty"),
    ]  # fmt: skip
    assert [r.speed_limit for r in run.segments] == [8.0, np.inf, 12.0, np.inf]
    assert {r.surface for r in run.segments} == {"firm smooth earth"}


def test_fastest_hottest_end_and_gears_of_a_segment_are_those_of_its_steps(run, steps):
    before = 0.0
    for row, frame in zip(run.segments, steps, strict=True):
        speeds = [before, *frame["speed_kmh"]]
        before = speeds[-1]
        assert row.top_speed == pytest.approx(max(speeds) / 3.6)
        assert row.oil_end - 273.15 == pytest.approx(frame["oil_degc"].iloc[-1])
        driven = frame[frame["gear"] != "neutral"]
        names = [
            f"{gear}{'L' if held else ''}"
            for gear, held in zip(driven["gear"], driven["lock_up"], strict=True)
        ]
        order = [name for k, name in enumerate(names) if k == 0 or name != names[k - 1]]
        assert list(row.gears) == order
        assert (frame["grade_percent"] == 100.0 * row.grade).all()
    # The limits hold in their segments; it stands where the load changes, too.
    assert run.segments[0].top_speed == pytest.approx(8.0, rel=1e-6)
    assert run.segments[2].top_speed == pytest.approx(12.0, rel=1e-6)
    assert [(frame["gear"] == "neutral").sum() for frame in steps] == [0, 1, 1, 1]
    assert not np.concatenate([f["lock_up"][f["gear"] == "neutral"] for f in steps]).any()


def test_heat_work_and_fuel_of_the_segments_add_up_to_those_of_the_cycle(run, steps):
    cycle, energy = run.to_dict()["cycle"], run.to_dict()["energy_mj"]
    total = {
        name: sum(getattr(row, name) for row in run.segments)
        for name in ("fuel", "converter_heat", "service_brake_work")
    }
    assert total["fuel"] == pytest.approx(cycle["fuel_kg"])
    assert total["converter_heat"] == pytest.approx(1e6 * cycle["converter_heat_mj"])
    assert total["service_brake_work"] == pytest.approx(1e6 * cycle["service_brake_work_mj"])
    assert energy["converter"] == cycle["converter_heat_mj"]
    assert energy["engine"] == cycle["engine_work_mj"]
    assert energy["brakes"] == cycle["service_brake_work_mj"]
    # Fuel of the steps is counted up from the start.
    so_far = np.cumsum([row.fuel for row in run.segments])
    assert [frame["fuel_kg"].iloc[-1] for frame in steps] == pytest.approx(so_far)
    # Heat in the converter: power of each step times its time.
    clock = 0.0
    for row, frame in zip(run.segments, steps, strict=True):
        time = np.diff([clock, *frame["time_s"]])
        clock = frame["time_s"].iloc[-1]
        heat = float((frame["converter_heat_kw"] * time).sum())
        assert 1e-3 * row.converter_heat == pytest.approx(heat)


def test_cycle_is_what_a_trip_moves_in_its_time(run):
    told, payload = run.to_dict()["cycle"], run.hauler.machine.payload
    hour = 3600.0 / run.time
    assert told["cycles_per_hour"] == pytest.approx(hour)
    assert told["payload_t"] == pytest.approx(payload / 1e3)
    assert told["production_t_per_h"] == pytest.approx(payload / 1e3 * hour)
    litres = run.fuel / run.fuel_density * 1e3
    assert told["fuel_l"] == pytest.approx(litres)
    assert told["fuel_l_per_h"] == pytest.approx(litres * hour)
    assert told["fuel_l_per_t"] == pytest.approx(litres / (payload / 1e3))
    assert told["time_min"] == pytest.approx(run.time / 60.0)
    assert told["distance_km"] == pytest.approx(1.05)
    # Share of the way, not of the time, in lock-up.
    frame = run.to_frame()
    covered = np.diff([0.0, *frame["distance_m"]])
    share = float(covered[frame["lock_up"].to_numpy(bool)].sum()) / 1050.0
    assert told["lock_up_share_of_distance"] == pytest.approx(share)
    assert 0.0 < share < 1.0


def test_descent_needs_what_the_slope_gives_at_its_hardest_step(run):
    row = run.segments[2]
    # Weight along the slope less rolling, times the speed; at most the limit of 12 m/s. The air
    # and the running drag take the rest.
    weight = run.hauler.machine.mass_empty + run.hauler.machine.payload
    slope = weight * 9.80665 / np.hypot(1.0, 0.1)
    rolling = run.route.surface[2].rolling_resistance
    most = slope * (0.1 - rolling) * row.top_speed
    assert 0.8 * most < row.retarding_needed <= most
    assert row.retarding_available > 0.0
    assert all(r.retarding_needed is None for r in run.segments if r.grade >= 0.0)
    assert all(r.retarding_available is None for r in run.segments if r.grade >= 0.0)


def test_only_the_first_and_the_last_of_many_gears_are_said(run):
    row = run.segments[0]
    many = dataclasses.replace(row, gears=("1", "2", "3", "4", "5L", "6L"))
    few = dataclasses.replace(row, gears=("1", "2", "3", "4", "5L"))
    assert "1 2 .. 6L" in many.cells()
    assert ("1", "2", "3", "4", "5L", "6L") in many.cells()
    assert "1 2 3 4 5L" in few.cells()


# --- where it stands ------------------------------------------------------------------------------


def test_standstill_is_told_with_place_grade_and_what_was_missing():
    result = haul(*parts(), road([0.0, 0.6], [100.0, 400.0]))
    stands = result.standstill
    told = result.to_dict()["standstill"]
    assert (stands.segment, stands.grade) == (2, 0.6)
    assert stands.distance == pytest.approx(100.0 + stands.into_segment)
    assert result.distance == pytest.approx(stands.distance, rel=1e-6)
    assert told["distance_m"] == pytest.approx(stands.distance)
    assert told["into_segment_m"] == pytest.approx(stands.into_segment)
    assert stands.effort < stands.resistance
    machine = result.hauler.machine
    weight = (machine.mass_empty + machine.payload) * 9.80665 / np.hypot(1.0, 0.6)
    rolling = result.route.surface[1].rolling_resistance
    drag = machine.running_drag or 0.0
    assert stands.resistance == pytest.approx(weight * (0.6 + rolling) + drag, rel=1e-3)
    [note] = [n for n in result.notes if n.code == "cannot-move-on"]
    assert dict(note.values) == {
        "segment": "2", "into": stands.into_segment, "grade": 0.6, "effort": stands.effort,
        "need": stands.resistance,
    }  # fmt: skip
    assert note.kind == "limit"
    assert result.payload == 0.0
    assert result.to_dict()["cycle"]["cycles_per_hour"] is None
    # What lies beyond is left out.
    assert len(result.segments) == 2
    assert len(haul(*parts(), road([0.0, 0.6, 0.0], [100.0, 400.0, 50.0])).segments) == 2


# --- notes ----------------------------------------------------------------------------------------


def said(result, code):
    return [dict(note.values) for note in result.notes if note.code == code]


def test_brakes_on_a_descent_are_said_with_the_worst_segment(run):
    steep = road([-0.05, -0.12, -0.14, 0.0], [200.0, 400.0, 400.0, 50.0], 35 / 3.6)
    result = haul(*parts(), steep)
    [values] = said(result, "service-brakes-carry-descent")
    worst = max(
        (row for row in result.segments if row.retarding_needed),
        key=lambda row: row.retarding_needed - row.retarding_available,
    )
    assert worst.segment == 3
    assert values == {
        "segments": "2, 3",
        "worst": "3",
        "need": worst.retarding_needed,
        "able": worst.retarding_available,
    }
    many = haul(*parts(), road([-0.12] * 12, 60.0, 35 / 3.6))
    [values] = said(many, "service-brakes-carry-descent")
    assert values["segments"].endswith(" more")
    assert len(values["segments"].split(" and ")[0].split(", ")) == 10


def test_oil_notes_name_the_lower_limit_and_the_hottest_oil():
    match, line, truck = parts()
    for own, unit, lowest in ((400.0, 380.0, 380.0), (370.0, 390.0, 370.0), (370.0, None, 370.0)):
        body = truck.replace(oil=dataclasses.replace(truck.oil, temperature_limit=own))
        limits = dataclasses.replace(match.converter.limits, oil_temperature=unit)
        # The limits are the converter's own, which the match carries.
        given = dataclasses.replace(match, converter=match.converter.replace(limits=limits))
        result = haul(given, line, body, road(0.0), oil_start=395.0)
        [values] = said(result, "oil-above-limit")
        # The first moments, at stall, warm it by hundredths before the cooler has it going down.
        assert values["hottest"] == pytest.approx(395.0, abs=0.05)
        assert values["limit"] == lowest
    cold = haul(match, line, truck, road(0.0), oil_start=300.0)
    assert said(cold, "oil-above-limit") == []


def test_cooler_that_is_missing_or_used_beyond_its_table_is_said():
    match, line, truck = parts()
    assert len(said(haul(match, line, truck.replace(cooler=None), road(0.0)), "no-cooler")) == 1
    short = Cooler(difference=[0.0, 50.0], heat=[0.0, 50e3])
    for start, beyond in ((298.15 + 49.0, 0), (298.15 + 60.0, 1)):
        result = haul(match, line, truck.replace(cooler=short), road(0.0, 20.0), oil_start=start)
        assert len(said(result, "cooler-held-beyond-table")) == beyond
        assert said(result, "no-cooler") == []
    none = haul(match, line, truck.replace(oil=Oil()), road(0.0))
    assert len(said(none, "oil-volume-not-given")) == 1
    assert none.segments[0].oil_end is None


def test_assumptions_of_a_run_name_their_figures():
    match, line, truck = parts()
    usual = haul(match, line, truck, road(0.0), braking=1.1)
    assert said(usual, "driven-hard") == [{"rate": 1.1}]
    fuel = match.engine.fuel
    bare = match.engine.replace(fuel=dataclasses.replace(fuel, density=None))
    result = haul(dataclasses.replace(match, engine=bare), line, truck, road(0.0))
    # Diesel fuel, EN 590: 820 to 845 kg/m3 at 15 degC.
    [values] = said(result, "fuel-density-typical")
    assert 820.0 <= values["density"] <= 845.0
    assert result.fuel_density == values["density"]
    heavy = match.engine.replace(fuel=dataclasses.replace(fuel, density=900.0))
    result = haul(dataclasses.replace(match, engine=heavy), line, truck, road(0.0))
    assert said(result, "fuel-density-typical") == []
    assert result.fuel_density == 900.0


def test_surfaces_without_a_traction_coefficient_are_named_once():
    way = road([0.0, 0.0, 0.0], 50.0)
    earth = way.surface[0]
    names = ("a", "b", "a")
    silent = tuple(earth.replace(name=name, traction=None) for name in names)
    result = haul(*parts(), way.replace(surface=silent))
    assert said(result, "traction-not-given") == [{"surfaces": "a, b"}]
    assert said(haul(*parts(), way), "traction-not-given") == []
