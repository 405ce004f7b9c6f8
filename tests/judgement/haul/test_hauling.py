"""What is said about a run: cautions, limits, assumptions, and the cycle in numbers."""

import dataclasses
import json

import pytest

from converter_match.components.site import Site
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.haul.short_cycle import work_cycle
from converter_match.judgement.match.solve import solve
from converter_match.judgement.stall.hold import stall_hold
from converter_match.judgement.stall.setup import StallSetup
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.shipped import find
from converter_match.units import note_text
from tests.haul_examples import HAULER, LOADER, parts, road

HOT_DAY = Site(id="hot", name="Hot day", source="test", altitude=0.0, air_temperature=308.15)


def codes(result):
    return {note.code: note.kind for note in result.notes}


def test_oil_at_149_degrees_is_a_caution_with_its_source():
    # TM 9-2320-283-10 (US Army, public domain): oil at 149 degC (300 degF) or more: stop.
    result = haul(*parts(), road(0.0), oil_start=423.0)
    assert codes(result)["hot-oil"] == "caution"
    assert codes(result)["oil-above-limit"] == "limit"
    assert result.fails
    text = result.text("us")
    assert "TM 9-2320-283-10" in text
    assert "300 °F" in text


def test_source_of_every_surface_on_the_way_is_listed_once():
    match, line, machine = parts()
    route = read_route(find_route("quarry-to-crusher"))
    result = haul(match, line, machine, route)
    used = {surface.name: surface for surface in route.surface}
    listed = result.to_dict()["surfaces"]
    assert [row["name"] for row in listed] == list(dict.fromkeys(s.name for s in route.surface))
    said = [note_text(note, "si") for note in result.notes if note.code == "surface-from-table"]
    assert len(said) == len(listed) < len(route.surface)
    for row, words in zip(listed, said, strict=True):
        surface = used[row["name"]]
        assert row["source"] == surface.source
        assert row["rolling_resistance_percent"] == pytest.approx(100 * surface.rolling_resistance)
        assert row["traction_coefficient"] == surface.traction
        assert repr(row["name"]) in words
        assert (surface.source or "not stated") in words


def test_source_of_the_surface_is_listed_for_a_short_cycle():
    match, line, machine = parts(LOADER)
    cycle = read_cycle(find("cycles", "loader-truck-loading"))
    result = work_cycle(match, line, machine, cycle)
    (row,) = result.to_dict()["surfaces"]
    assert row["source"] == cycle.surface.source
    said = [note_text(note, "si") for note in result.notes if note.code == "surface-from-table"]
    assert len(said) == 1
    assert cycle.surface.source in said[0]


@pytest.mark.parametrize(
    ("what", "assumed"),
    [
        ("route", {"cooler-air-temperature", "air-density-standard"}),
        ("cycle", {"cooler-air-temperature", "air-density-standard"}),
        ("hold", {"cooler-air-temperature"}),
    ],
)
def test_air_that_nobody_gave_is_listed_as_assumed(what, assumed):
    def run(site):
        match, line, machine = parts(HAULER if what == "route" else LOADER)
        match = solve(match.engine, match.converter, site=site)
        if what == "route":
            return haul(match, line, machine, road(0.0))
        if what == "cycle":
            cycle = read_cycle(find("cycles", "loader-truck-loading"))
            return work_cycle(match, line, machine, cycle)
        setup = StallSetup(
            engine=match.engine, converter=match.converter, site=site, machine=machine
        )
        return stall_hold(setup)

    air = {"cooler-air-temperature", "air-density-standard"}
    assert {code for code in codes(run(None)) if code in air} == assumed
    assert not codes(run(HOT_DAY)).keys() & air


def test_surface_without_a_source_is_said_to_have_none():
    level = road(0.0)
    bare = level.replace(surface=tuple(s.replace(source="") for s in level.surface))
    result = haul(*parts(), bare)
    assert result.to_dict()["surfaces"][0]["source"] == ""
    assert "source: not stated" in result.text()


def test_warm_oil_below_its_limit_says_nothing():
    assert not {"hot-oil", "oil-above-limit"} & set(codes(haul(*parts(), road(0.0))))


@pytest.mark.parametrize("asked", ["route", "cycle"])
def test_oil_taken_to_start_as_cold_as_the_air_is_said(asked):
    def answer(machine, start):
        if asked == "route":
            match, line, _ = parts()
            return haul(match, line, machine, road(0.0), oil_start=start)
        match, line, _ = parts(LOADER)
        cycle = read_cycle(find("cycles", "loader-truck-loading"))
        return work_cycle(match, line, machine, cycle, oil_start=start)

    known = parts()[2] if asked == "route" else parts(LOADER)[2]
    unknown = known.replace(oil=dataclasses.replace(known.oil, working_temperature=None))
    assert codes(answer(unknown, None))["oil-starts-cold"] == "assumption"
    assert "oil-starts-cold" not in codes(answer(unknown, 350.0))
    assert "oil-starts-cold" not in codes(answer(known, None))


def test_service_brakes_on_a_descent_are_a_caution():
    result = haul(*parts(), road(-0.12, 600.0, 35 / 3.6))
    assert codes(result)["service-brakes-carry-descent"] == "caution"
    assert not result.fails
    gentle = haul(*parts(), road(-0.05, 600.0, 25 / 3.6))
    assert "service-brakes-carry-descent" not in codes(gentle)


def test_missing_data_are_listed():
    match, line, machine = parts()
    bare = machine.replace(
        cooler=None, oil=type(machine.oil)(), wheel_inertia=None, frontal_area=None,
        drag_coefficient=None,
    )  # fmt: skip
    result = haul(
        dataclasses.replace(match, engine=match.engine.replace(fuel=None)), line, bare, road(0.0)
    )
    expected = {"oil-volume-not-given", "inertia-not-given", "air-drag-not-given", "driven-hard"}
    assert expected <= set(codes(result))
    assert result.fuel is None
    assert result.to_dict()["cycle"]["fuel_l_per_h"] is None
    assert "not known: no consumption" in result.text()


def test_plain_data_and_frame_carry_the_same_run():
    result = haul(*parts(), read_route(find_route("quarry-to-crusher")))
    frame = result.to_frame()
    assert frame["time_s"].iloc[-1] == pytest.approx(result.time)
    assert frame["fuel_kg"].iloc[-1] == pytest.approx(result.fuel)
    assert frame["speed_kmh"].le(frame["allowed_speed_kmh"] + 1e-6).all()
    assert len(result.to_dict()["segments"]) == 14


def test_short_cycle_needs_no_more_time_with_less_way():
    cycle = read_cycle(find("cycles", "loader-truck-loading"))
    usual = work_cycle(*parts(LOADER), cycle)
    near = cycle.replace(
        phases=tuple(
            dataclasses.replace(p, distance=0.5 * p.distance) if p.distance else p
            for p in cycle.phases
        )
    )
    assert work_cycle(*parts(LOADER), near).time < usual.time


def test_crowding_at_stall_takes_the_most_heat_and_hydraulics_slow_the_engine():
    match, line, machine = parts(LOADER)
    cycle = read_cycle(find("cycles", "loader-truck-loading"))
    # Without a traction coefficient the ground does not help the engine out.
    firm = cycle.replace(surface=cycle.surface.replace(traction=None))
    result = work_cycle(match, line, machine, firm)
    crowd = next(run for run in result.phases if run.phase.kind == "crowd")
    assert crowd.oil_heat / crowd.time == max(r.oil_heat / r.time for r in result.phases)
    assert crowd.engine_speed < match.stall.engine_speed
    assert not crowd.grip_limited


WEAK = ("four-cylinder-2l5-45kw", "single-stage-420mm", *HAULER[2:])


@pytest.mark.parametrize(
    ("which", "ground", "words"),
    [
        (WEAK, 0.55, "does not start: insufficient tractive effort"),
        (HAULER, 0.02, "does not start: traction-limited"),  # 2 % of the weight; rolling takes 3.25
    ],
)
def test_a_machine_that_does_not_start_has_no_figures_but_says_why(which, ground, words):
    level = road(0.0)
    slippery = tuple(dataclasses.replace(s, traction=ground) for s in level.surface)
    result = haul(*parts(which), level.replace(surface=slippery))
    assert result.no_start == words
    assert result.fails
    plain = json.loads(json.dumps(result.to_dict(), allow_nan=False))
    assert plain["energy_imbalance"] is None
    assert plain["arrives"] is False
    cycle = plain["cycle"]
    assert {key for key, value in cycle.items() if value is not None} == {
        "distance_km",
        "payload_t",
    }
    assert (cycle["distance_km"], cycle["payload_t"]) == (0.0, 0.0)
    assert set(plain["energy_mj"].values()) == {None}
    row = plain["segments"][0]
    for key in ("time_s", "mean_speed_kmh", "top_speed_kmh", "fuel_kg", "converter_heat_kj"):
        assert row[key] is None
    for system in ("si", "us"):
        lines = result.text(system).splitlines()
        assert lines.count(words) == 1
        assert not any(
            line.strip().startswith(("time", "maximum oil temperature", "distance"))
            for line in lines
        )


def test_a_machine_that_comes_to_a_stand_on_the_way_keeps_its_figures():
    result = haul(*parts(), road([0.0, 0.9], [200.0, 50.0]))
    assert result.no_start == ""
    assert result.standstill.segment == 2
    cycle = result.to_dict()["cycle"]
    assert cycle["time_min"] > 0.0
    assert cycle["production_t_per_h"] is None
    assert abs(result.balance) < 1e-9


def test_hottest_oil_is_said_to_be_that_of_the_start_where_the_oil_only_cools():
    # 110 degC in a machine that makes little heat on the level; then cold oil that warms.
    cools = haul(*parts(), road(0.0, 2000.0), oil_start=383.15)
    warms = haul(*parts(), road(0.0, 2000.0), oil_start=303.15)
    assert cools.run.oil[:, 0].argmax() == 0 < warms.run.oil[:, 0].argmax()
    assert "110 °C (the start)" in cools.text()
    assert "230 °F (the start)" in cools.text("us")
    assert "(the start)" not in warms.text()
    for run, start in ((cools, 110.0), (warms, 30.0)):
        assert run.to_dict()["cycle"]["oil_start_degc"] == pytest.approx(start)
    assert warms.to_dict()["cycle"]["hottest_oil_degc"] > 30.0
