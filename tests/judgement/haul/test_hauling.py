"""What is said about a run: cautions, limits, assumptions, and the cycle in numbers."""

import dataclasses
import json
import math

import numpy as np
import pytest

from converter_match.components.machine import Balance
from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.constants import GRAVITY
from converter_match.errors import InputError
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


@pytest.mark.slow
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
@pytest.mark.slow
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
@pytest.mark.slow
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


@pytest.mark.slow
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


@pytest.mark.slow
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
    assert cools.run.oil.first[:, 0].max() < 383.2
    assert warms.run.oil.first[:, 0].max() > 304.0
    assert "110 °C (the start)" in cools.text()
    assert "230 °F (the start)" in cools.text("us")
    assert "(the start)" not in warms.text()
    for run, start in ((cools, 110.0), (warms, 30.0)):
        assert run.to_dict()["cycle"]["oil_start_degc"] == pytest.approx(start)
    assert warms.to_dict()["cycle"]["hottest_oil_first_lap_degc"] > 30.0


def test_hottest_oil_is_that_of_the_lap_that_ends_as_it_starts():
    # Where the first lap started does not matter after many.
    runs = [haul(*parts(), road(0.0, 2000.0), oil_start=start) for start in (303.15, 383.15)]
    one, other = (run.to_dict()["cycle"]["hottest_oil_degc"] for run in runs)
    assert one == pytest.approx(other, abs=0.05)
    settled = runs[0].run.oil.settled[:, 0]
    assert settled[0] == pytest.approx(settled[-1], abs=0.02)
    assert "oil-lap-after-lap" in codes(runs[0])


def test_gear_that_is_held_on_a_climb_is_named():
    # A climb on which a gear gathers speed up to its shift and the next one does not hold it.
    result = haul(*parts(), road(0.095, 800.0))
    [note] = [note for note in result.notes if note.code == "gearbox-would-hunt"]
    assert note.kind == "warning"
    said = note_text(note, "si")
    assert "in segment 1:" in said
    assert any(f"holds gear {name.rstrip('L')} there" in said for name in result.segments[0].gears)
    assert "gearbox-would-hunt" not in codes(haul(*parts(), road(0.0, 800.0)))


def test_gearbox_that_hunts_is_named_with_the_place_on_the_route():
    # On this climb second gear settles at 2.6 m/s. Shifted up at 2.5 m/s, third needs 8 % more
    # than it has, and falls back. On the easier road before there is nothing to name.
    match, line, machine = parts()
    second = next(gear for gear in line.gears if gear.name == "2")
    turns = line.overall_ratio(second) / machine.rolling_radius
    early = second.replace(upshift_turbine_speed=2.5 * turns)
    gears = tuple(early if gear.name == "2" else gear for gear in line.gears)
    line = line.replace(gears=gears, shift_time=0.0, shift_hysteresis=0.1)
    easy, steep = road([0.02, 0.02], [50.0, 300.0]), road([0.02, 0.1325], [50.0, 300.0])
    assert "gearbox-hunts" not in codes(haul(match, line, machine, easy))
    result = haul(match, line, machine, steep)
    [note] = [note for note in result.notes if note.code == "gearbox-hunts"]
    assert note.kind == "warning"
    assert dict(note.values)["segments"] == "2"
    assert 50.0 < dict(note.values)["start"] < 350.0
    assert dict(note.values)["count"] == result.totals.hunts[0] > 3
    assert "between gears 2 - 3 in segment 2" in result.text()
    assert "gearbox-hunts" in [item["code"] for item in result.to_dict()["warnings"]]


def test_gear_that_is_kept_though_another_is_faster_is_named_with_what_it_costs():
    # With the downshifts of the file second gear balances on the climb above its own, where first
    # is the faster one; on the level before there is nothing to name.
    match, line, machine = parts(LOADER)
    line = line.replace(shift_time=0.0)
    level, climb = road([0.0, 0.0], [60.0, 900.0]), road([0.0, 0.264], [60.0, 900.0])
    assert "kept-in-slower-gear" not in codes(haul(match, line, machine, level))
    result = haul(match, line, machine, climb)
    [note] = [note for note in result.notes if note.code == "kept-in-slower-gear"]
    assert note.kind == "warning"
    said = note_text(note, "si")
    assert "in segment 2: 2 where 1 would be faster" in said
    assert dict(note.values)["time"] == result.totals.hysteresis_costs[0]
    assert 0.05 < result.totals.hysteresis_costs[0] / result.totals.time[0] < 0.5


# --- in reverse ----------------------------------------------------------------------------------


def mirrored():
    """The demo hauler with gears in reverse as those ahead, all wheels driven and no lock-up."""
    match, line, machine = parts()
    ahead = tuple(
        gear.replace(lock_up=type(gear.lock_up)())
        for gear in line.gears
        if gear.direction == "forward"
    )
    back = tuple(gear.replace(name=f"R{gear.name}", direction="reverse") for gear in ahead)
    return match, line.replace(gears=(*ahead, *back), shift_time=0.5), machine


def test_leg_in_reverse_takes_what_it_takes_ahead_where_the_driveline_is_symmetrical():
    grades = [0.04, -0.03, 0.0]
    ahead = haul(*mirrored(), road(grades, 150.0))
    back = haul(*mirrored(), road(grades, 150.0, direction=("reverse",) * 3))
    for name in ("time", "fuel", "distance", "hottest_oil"):
        assert getattr(back, name) == pytest.approx(getattr(ahead, name), rel=1e-9)
    assert [row.direction for row in back.segments] == ["reverse"] * 3
    assert all(name.startswith("R") for row in back.segments for name in row.gears)


@pytest.mark.slow
def test_shuttle_is_both_legs_and_the_change_of_direction():
    ways = ("forward", "reverse")
    there, back = (haul(*mirrored(), road(0.0, 100.0, direction=(way,))).time for way in ways)
    both = haul(*mirrored(), road([0.0, 0.0], 100.0, direction=ways))
    # The change of direction takes the shift time of the driveline, 0.5 s.
    assert both.time == pytest.approx(there + back + 0.5, rel=1e-6)
    assert "direction-change-takes-a-shift" in codes(both)
    # A stop that is given holds the change of direction.
    route = road([0.0, 0.0], 100.0, direction=ways, stop_time=np.array([9.0, np.nan]))
    assert haul(*mirrored(), route).time == pytest.approx(there + back + 9.0, rel=1e-6)
    assert abs(both.balance) < 1e-9


def test_reverse_leg_without_a_reverse_gear_is_refused():
    match, line, machine = parts()
    only = line.replace(gears=tuple(g for g in line.gears if g.direction == "forward"))
    with pytest.raises(InputError, match="no reverse gear"):
        haul(match, only, machine, road(0.0, direction=("reverse",)))


# --- the cooler in thin air ----------------------------------------------------------------------


@pytest.mark.slow
def test_cooler_of_a_high_site_carries_less_and_the_oil_settles_hotter():
    match, line, machine = parts()
    low, high = (
        Site(id="s", name="Site", source="test", altitude=height, air_temperature=298.15)
        for height in (0.0, 3000.0)
    )
    engine = match.engine
    runs = [
        haul(solve(engine, match.converter, site=site), line, machine, road(0.06, 3000.0))
        for site in (low, high)
    ]
    shares = [float(run.hauler.cooler.heat_at(40.0) / machine.cooler.heat_at(40.0)) for run in runs]
    # Density goes with pressure at the same temperature: ISO 2533, 70.1 / 101.3 kPa at 3000 m.
    assert shares[1] / shares[0] == pytest.approx((70.11 / 101.325) ** 0.8, rel=2e-3)
    assert all("cooler-in-thin-air" in codes(run) for run in runs)
    assert all("cooler-air-standard" in codes(run) for run in runs)
    given = machine.replace(cooler=machine.cooler.replace(air_density=1.0))
    run = haul(solve(engine, match.converter, site=low), line, given, road(0.0))
    assert "cooler-air-standard" not in codes(run)
    assert "cooler-in-thin-air" not in codes(haul(*parts(), road(0.0)))


def with_oil(**changes):
    match, line, machine = parts()
    return match, line, machine.replace(oil=dataclasses.replace(machine.oil, **changes))


def test_outlet_of_the_converter_stands_beside_the_bulk_on_every_step():
    climb = road(0.2, 300.0)
    result = haul(*with_oil(charge_flow=2e-3), climb)
    outlet, bulk = result.run.outlet.counted[:, 0], result.run.oil.counted[:, 0]
    heat = result.run.states.converter_heat[:, 0]
    # Never more above the bulk than the greatest heat makes of the flow in the long run.
    assert 1.0 < (outlet - bulk).max() <= heat.max() / (2e-3 * 870 * 2060)
    cycle = result.to_dict()["cycle"]
    assert cycle["hottest_outlet_degc"] == pytest.approx(outlet.max() - 273.15)
    assert result.to_frame()["outlet_degc"].max() == pytest.approx(outlet[1:].max() - 273.15)
    assert "maximum at the converter outlet" in result.text()
    assert {"outlet-levels", "converter-oil-assumed", "cooler-at-bulk"} <= codes(result).keys()


def test_outlet_is_not_known_without_a_flow_and_judged_with_one():
    climb = road(0.2, 300.0)
    silent = haul(*with_oil(charge_flow=None), climb)
    assert silent.to_dict()["cycle"]["hottest_outlet_degc"] is None
    assert codes(silent)["charge-flow-not-given"] == "assumption"
    assert "converter outlet" not in silent.text().split("Assumptions")[0]
    limit = haul(*with_oil(charge_flow=2e-3, outlet_temperature_limit=330.0), climb)
    assert codes(limit)["outlet-above-limit"] == "limit"
    assert limit.fails
    # 149 degC (US Army TM 9-2320-283-10) where nothing is stated.
    hot = haul(*with_oil(charge_flow=0.02e-3, temperature_limit=450.0), climb, oil_start=400.0)
    assert codes(hot)["outlet-above-level"] == "warning"


def test_cooler_that_is_needed_keeps_the_oil_at_its_limit_lap_after_lap():
    from converter_match.components.cooling import Cooler

    match, line, machine = parts()
    match = solve(match.engine, match.converter.replace(limits=type(match.converter.limits)()))
    climb = road(0.15, 900.0)
    needed = haul(match, line, machine, climb).cooler_needed
    fitted = machine.replace(cooler=Cooler.from_conductance(needed))
    again = haul(match, line, fitted, climb)
    assert again.hottest_oil == pytest.approx(machine.oil.temperature_limit, abs=0.1)
    assert (
        "oil-above-limit" not in codes(again) or again.hottest_oil > machine.oil.temperature_limit
    )
    cycle = again.to_dict()["cycle"]
    assert cycle["cooler_needed_kw_per_k"] == pytest.approx(needed / 1e3, rel=1e-6)
    energy = (again.run.states.oil_heat * again.run.profile.time).sum()
    assert cycle["mean_oil_heat_kw"] == pytest.approx(energy / again.time / 1e3)
    assert "BTU/min" in again.text("us")


def on_slippery(axle, stop=False):
    """The hauler, braked by one axle's engine down a slippery slope at 20 km/h."""
    match, line, body = parts()
    balance = Balance(
        driven_axle=axle, driven_share_empty=0.55, driven_share_laden=0.6, wheelbase=3.0,
        gravity_height_empty=1.5, gravity_height_laden=1.5,
    )  # fmt: skip
    ground = Surface(name="ice", rolling_resistance=0.01, traction=0.11)
    grade = -0.05 if stop else -0.09
    route = road(grade, 300.0, 20 / 3.6, surface=(ground,))
    found = haul(match, line, body.replace(balance=balance), route, braking=1.5 if stop else 0.8)
    return {note.code: dict(note.values) for note in found.notes}, body.mass("laden")


@pytest.mark.parametrize(("axle", "sign"), [("rear", 1.0), ("front", -1.0)])
def test_engine_braking_is_held_against_the_weight_that_is_left_on_the_driven_axle(axle, sign):
    # Moments about the other axle's contact line (textbook of vehicle dynamics), on the slope and
    # slowing down at 0.8 m/s2 to the end of the route: N = m g (s cos a +- h/L (sin a + a / g)).
    found, mass = on_slippery(axle)
    angle = math.atan(-0.09)
    moved = 0.5 * (math.sin(angle) - 0.8 / GRAVITY)
    said = found["retarding-beyond-grip"]
    assert said["rate"] == pytest.approx(0.8)
    share = 0.6 * math.cos(angle) + sign * moved
    assert said["most"] == pytest.approx(0.11 * mass * GRAVITY * share, rel=1e-6)
    assert said["force"] > said["most"]


def test_a_stop_that_the_ground_does_not_give_to_all_wheels_is_a_caution():
    # 1.5 m/s2 and 5 % downhill are 20 % of the weight, on 11 % of traction.
    found, mass = on_slippery("rear", stop=True)
    said = found["braking-beyond-grip"]
    assert said["most"] == pytest.approx(0.11 * mass * GRAVITY * math.cos(math.atan(0.05)))
    assert said["force"] > said["most"]
    # The shipped route on the ground of its file is braked within the grip.
    dry = haul(*parts(), read_route(find_route("quarry-to-crusher")))
    assert not {"braking-beyond-grip", "retarding-beyond-grip"} & set(codes(dry))


def test_a_route_says_that_its_engine_is_ideal():
    found = {note.code: dict(note.values) for note in haul(*parts(), road(0.0)).notes}
    assert "ideal-engine" in found
    # Usual of a turbocharged engine here: 60 % at once, the rest in 0.8 s: 0.4 x 0.8 s.
    assert found["starts-of-an-ideal-engine"] == {"count": 1.0, "lost": pytest.approx(0.32)}
