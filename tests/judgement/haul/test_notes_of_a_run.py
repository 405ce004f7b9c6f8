"""Each warning about a run appears where it should, and stays away just short of there.

A run of the demo hauler, some number of which is set by hand; the bounds are common practice, no
source, where no other is named.
"""

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest

from converter_match.components.machine import Oil
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.haul.notes import notes_of
from converter_match.physics.heat.oil import UNSETTLED
from tests.haul_examples import parts, road


@pytest.fixture(scope="module")
def level():
    return haul(*parts(), road(0.0, 100.0))


def said(base, code, run=None, rows=None, stands=None):
    """Values of the notes of a code on a run that was changed."""
    found = notes_of(
        base.match, base.hauler, run or base.run, rows or base.segments, stands, braking=1.0,
        oil_start=None,
    )  # fmt: skip
    return [dict(note.values) for note in found if note.code == code]


def with_states(base, **changes):
    return dataclasses.replace(base.run, states=dataclasses.replace(base.run.states, **changes))


@pytest.mark.parametrize(("share", "odd"), [(1.049, False), (1.051, True)])
def test_engine_that_is_driven_faster_than_high_idle_is_a_warning(level, share, odd):
    idle = level.match.engine.high_idle
    speed = level.run.states.engine_speed.copy()
    speed[-1] = share * idle
    found = said(level, "engine-overspeeds", with_states(level, engine_speed=speed))
    assert found == ([{"speed": share * idle, "idle": idle}] if odd else [])


def test_gear_for_braking_is_an_assumption_where_the_engine_brakes_at_all(level):
    still = np.zeros_like(level.run.states.retarding)
    assert said(level, "retarding-gear-chosen", with_states(level, retarding=still)) == []
    still[-1] = 1.0
    assert said(level, "retarding-gear-chosen", with_states(level, retarding=still)) == [{}]


@pytest.mark.parametrize(
    ("short", "work", "odd"), [(1.019, 1e6, False), (1.021, 1e6, True), (1.021, 0.0, False)]
)
def test_brakes_carry_a_descent_where_the_engine_lacks_two_percent(level, short, work, odd):
    row = dataclasses.replace(
        level.segments[0], retarding_needed=short * 90e3, retarding_available=90e3,
        service_brake_work=work,
    )  # fmt: skip
    found = said(level, "service-brakes-carry-descent", rows=(row,))
    assert found == (
        [{"segments": "1", "worst": "1", "need": short * 90e3, "able": 90e3}] if odd else []
    )


def test_worst_descent_is_the_one_that_lacks_most_power(level):
    powers = [(200e3, 190e3), (120e3, 60e3), (40e3, None)]
    rows = tuple(
        dataclasses.replace(
            level.segments[0],
            segment=k,
            retarding_needed=need,
            retarding_available=able,
            service_brake_work=1e6,
        )
        for k, (need, able) in enumerate(powers, 1)
    )
    [values] = said(level, "service-brakes-carry-descent", rows=rows)
    assert (values["segments"], values["worst"]) == ("1, 2, 3", "2")
    assert (values["need"], values["able"]) == (120e3, 60e3)


def with_oil(base, kelvin):
    """The run with oil that is as hot throughout, lap after lap."""
    settled = np.full_like(base.run.oil.settled, kelvin)
    return dataclasses.replace(base.run, oil=dataclasses.replace(base.run.oil, settled=settled))


@pytest.mark.parametrize(("settled", "odd"), [(UNSETTLED - 1.0, False), (UNSETTLED, True)])
def test_oil_that_gets_hotter_with_every_lap_is_no_temperature(level, settled, odd):
    run = with_oil(level, settled)
    assert said(level, "oil-does-not-settle", run) == ([{}] if odd else [])
    for code in ("oil-above-limit", "hot-oil", "cooler-held-beyond-table"):
        assert bool(said(level, code, run)) is not odd


@pytest.mark.slow
def test_without_a_cooler_the_only_lap_counts():
    match, line, truck = parts()
    found = haul(match, line, truck.replace(cooler=None), road(0.1, 60.0), oil_start=330.0)
    codes = [note.code for note in found.notes]
    assert "no-cooler" in codes
    assert found.hottest_oil is None
    assert not {"oil-does-not-settle", "oil-above-limit", "cooler-at-bulk"} & set(codes)


@pytest.mark.parametrize(("celsius", "odd"), [(148.9, False), (149.1, True)])
def test_oil_of_a_run_at_149_degrees_is_a_caution(level, celsius, odd):
    # 149 degC, 300 degF: US Army TM 9-2320-283-10, as the note names it.
    found = said(level, "hot-oil", with_oil(level, celsius + 273.15))
    assert [values["hottest"] for values in found] == ([celsius + 273.15] if odd else [])


def test_hottest_oil_is_the_first_lap_s_where_that_is_hotter(level):
    first = level.run.oil.first.copy()
    first[3] = 430.0
    oil = dataclasses.replace(level.run.oil, first=first)
    [values] = said(level, "hot-oil", dataclasses.replace(level.run, oil=oil))
    assert values["hottest"] == 430.0


@pytest.mark.slow
def test_gears_without_shift_speeds_are_changed_where_it_pays():
    match, line, truck = parts()
    gears = line.gears
    speeds = {"upshift_turbine_speed": None, "downshift_turbine_speed": None}
    bare = line.replace(
        gears=tuple(dataclasses.replace(gear, **speeds) for gear in gears), shift_hysteresis=None
    )
    found = {n.code: dict(n.values) for n in haul(match, bare, truck, road(0.0)).notes}
    forward = [gear.name for gear in gears if gear.direction == "forward"]
    assert found["upshift-where-it-pays"]["gears"] == ", ".join(forward[:-1])
    assert found["downshift-where-it-pays"]["gears"] == ", ".join(forward[1:])
    given = tuple(
        dataclasses.replace(gear, upshift_turbine_speed=200.0, downshift_turbine_speed=100.0)
        for gear in gears
    )
    full = haul(match, line.replace(gears=given), truck, road(0.0))
    codes = {note.code for note in full.notes}
    assert not codes & {"upshift-where-it-pays", "downshift-where-it-pays"}


def held(base, rows, seconds):
    """The run with some steps of one second each, in which a gear is held."""
    profile = base.run.profile
    time = np.zeros_like(profile.time)
    time[:rows] = seconds / rows
    mark = np.zeros_like(profile.held)
    mark[:rows] = True
    return dataclasses.replace(
        base.run, profile=dataclasses.replace(profile, time=time, held=mark)
    )  # fmt: skip


@pytest.mark.parametrize(("seconds", "odd"), [(2.9, False), (3.1, True)])
def test_gear_is_held_where_it_is_held_for_three_seconds(level, seconds, odd):
    found = said(level, "gearbox-would-hunt", held(level, 4, seconds))
    assert [values["segments"] for values in found] == (["1"] if odd else [])
    if odd:
        state = level.run.profile.state[:4, 0]
        names = dict.fromkeys(level.hauler.chain.drives[k].gear.name for k in state)
        assert found[0]["gears"] == ", ".join(names)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("own", "hottest", "code"),
    [
        (None, 148.9, None),
        (None, 149.1, "outlet-above-level"),
        (120.0, 119.9, None),
        (120.0, 120.1, "outlet-above-limit"),
        (160.0, 159.0, "outlet-above-level"),
    ],
)
def test_outlet_is_held_against_its_limit_or_the_level_at_which_one_stops(own, hottest, code):
    # 149 degC: US Army TM 9-2320-283-10, as the note names it; a stated limit goes before it.
    match, line, truck = parts()
    limit = None if own is None else own + 273.15
    oil = dataclasses.replace(truck.oil, charge_flow=2e-3, outlet_temperature_limit=limit)
    base = haul(match, line, truck.replace(oil=oil), road(0.0, 60.0), oil_start=330.0)
    settled = np.full_like(base.run.outlet.settled, hottest + 273.15)
    outlet = dataclasses.replace(base.run.outlet, settled=settled)
    run = dataclasses.replace(base.run, outlet=outlet)
    for each in ("outlet-above-level", "outlet-above-limit"):
        found = said(base, each, run)
        assert [values["hottest"] for values in found] == (
            [hottest + 273.15] if each == code else []
        )  # fmt: skip


@pytest.mark.slow
def test_oil_of_unknown_volume_says_nothing_of_the_outlet():
    match, line, truck = parts()
    found = haul(match, line, truck.replace(oil=Oil()), road(0.0, 60.0))
    codes = {note.code for note in found.notes}
    assert "oil-volume-not-given" in codes
    assert not codes & {"outlet-levels", "cooler-at-bulk", "charge-flow-not-given"}


def test_ten_segments_are_named_and_the_others_counted(level):
    from converter_match.judgement.haul.notes import _listed

    assert _listed(range(1, 11)) == "1, 2, 3, 4, 5, 6, 7, 8, 9, 10"
    assert _listed([*range(1, 13), 3, 3]) == "1, 2, 3, 4, 5, 6, 7, 8, 9, 10 and 2 more"


def hunting(base, spans):
    """Values of the note of shifts made in vain, from row to row of the run."""
    up, down = (np.array(rows) for rows in zip(*spans, strict=True))
    made = SimpleNamespace(
        draw=np.zeros(up.size, dtype=int), up=up, down=down, state=base.run.profile.state[up - 1, 0]
    )
    [values] = said(base, "gearbox-hunts", dataclasses.replace(base.run, hunting=made))
    return values


def test_hunting_is_told_with_where_it_begins_how_often_and_how_long(level):
    profile = level.run.profile
    values = hunting(level, [(5, 8), (10, 12)])
    assert values["count"] == 2.0
    assert values["start"] == pytest.approx(float(profile.length[:5, 0].sum()))
    # From the step of the shift up to the one before the shift down.
    assert values["time"] == pytest.approx(
        float(profile.time[5:8, 0].sum() + profile.time[10:12, 0].sum())
    )
    assert values["segments"] == "1"
