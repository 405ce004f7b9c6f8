"""Haul routes: energy balance, closed forms on simple roads, standstill, draws."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from converter_match.components.surface import Surface
from converter_match.constants import GRAVITY
from converter_match.errors import InputError
from converter_match.library.route_csv import find_route, read_route
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.haul.loads import Draws, SegmentLoads
from converter_match.physics.haul.route import run_many, run_route, totals
from tests.haul_examples import earth, hauler, parts, road

KMH = 1 / 3.6


@pytest.mark.parametrize("name", ["quarry-to-crusher", "island-round-20km", "too-steep"])
@pytest.mark.slow
def test_energy_closes_to_a_millionth(name):
    # First law of thermodynamics; every share is computed by itself, none as the remainder.
    run = run_route(hauler(), read_route(find_route(name)))
    ledger = totals(run).ledger
    assert abs(float((ledger.engine - ledger.spent)[0])) <= 1e-6 * float(ledger.turnover[0])
    assert float(ledger.turnover[0]) > 1e7


@settings(max_examples=20)
@given(
    grades=st.lists(st.floats(-0.25, 0.25), min_size=1, max_size=6),
    limits=st.lists(st.floats(3.0, 60.0), min_size=6, max_size=6),
    mass=st.floats(0.7, 1.3),
    rolling=st.floats(0.5, 3.0),
)
@pytest.mark.slow
def test_energy_closes_on_any_road(grades, limits, mass, rolling):
    route = road(grades, 150.0, np.array(limits[: len(grades)]) * KMH)
    run = run_route(hauler(), route, Draws.of(mass, 1.0, rolling))
    ledger = totals(run).ledger
    assert abs(float((ledger.engine - ledger.spent)[0])) <= 1e-6 * float(ledger.turnover[0])
    assert np.all(run.profile.speed[:, 0] <= run.ceiling[:, 0] + 1e-9)
    for share in ("rolling", "air", "slip", "stages", "meshes", "drag", "converter", "brakes"):
        assert float(getattr(run.ledger, share).min()) >= -1e-3  # J in a step


def test_potential_and_rolling_work_are_those_of_the_road():
    # Worked by hand: m g h, and c_r m g cos(a) L.
    machine = hauler().machine
    route = road([0.08, 0.0, -0.03], [300.0, 200.0, 400.0], 30 * KMH)
    ledger = totals(run_route(hauler(), route)).ledger
    angle = np.arctan(route.grade)
    mass = machine.mass("laden")
    assert float(ledger.potential[0]) == pytest.approx(
        mass * GRAVITY * float((route.length * np.sin(angle)).sum()), rel=1e-9
    )
    assert float(ledger.rolling[0]) == pytest.approx(
        0.0325 * mass * GRAVITY * float((route.length * np.cos(angle)).sum()), rel=1e-9
    )


def test_resistance_of_the_published_worked_answers():
    # University construction-equipment course (homework set): 86 short tons, 120 lb/ton rolling:
    # level 10,320 lb, +2 % 13,760 lb, -5 % 1,720 lb. Grade taken as percent of weight there; the
    # sine of the slope is 0.02 % and 0.13 % less, and the cosine on rolling as little.
    pound = 4.4482216152605
    mass = 86 * 907.18474
    machine = hauler().machine.replace(
        mass_empty=mass, payload=0.0, running_drag=0.0, frontal_area=None, drag_coefficient=None
    )
    ready = dataclasses.replace(hauler(), machine=machine)
    ground = Surface(name="haul road", rolling_resistance=0.06, traction=0.8)
    route = road([0.0, 0.02, -0.05], surface=(ground,) * 3)
    loads = SegmentLoads.of(route, ready.machine, 1.2)
    force = loads.mass * GRAVITY * (loads.rolling + loads.climbing) / pound
    assert force.tolist() == pytest.approx([10_320, 13_760, 1_720], rel=5e-3)


def test_ceiling_before_a_stop_is_the_braking_parabola():
    # v^2 = 2 b s, constant deceleration.
    route = road([0.0, 0.0], [300.0, 100.0], [50 * KMH, 20 * KMH])
    allowed = AllowedSpeed.of(route, 100.0, 0.8)
    left = np.array([0.0, 1.0, 5.0, 15.0])
    assert allowed.at(np.full(4, 1), left) == pytest.approx(np.sqrt(2 * 0.8 * left))
    before = np.linspace(0.0, 300.0, 31)
    expected = np.sqrt((20 * KMH) ** 2 + 2 * 0.8 * before)
    found = allowed.at(np.zeros(31, dtype=int), before)
    assert found == pytest.approx(np.minimum(expected, 50 * KMH))


@pytest.mark.slow
def test_half_the_step_gives_the_same_cycle():
    # Discretisation error at the default step: time and fuel to half a percent, oil to 0.5 K.
    route = read_route(find_route("island-round-20km"))
    coarse, fine = (totals(run_route(hauler(), route, longest_step=s)) for s in (50.0, 5.0))
    assert float(coarse.time[0]) == pytest.approx(float(fine.time[0]), rel=5e-3)
    assert float(coarse.fuel[0]) == pytest.approx(float(fine.fuel[0]), rel=5e-3)
    assert float(coarse.hottest[0]) == pytest.approx(float(fine.hottest[0]), abs=0.5)


def test_long_climb_settles_at_the_speed_of_the_tractive_diagram():
    # Another way to the same number: the crossing of effort and resistance.
    from converter_match.physics.wheels.road_load import RoadLoad
    from converter_match.physics.wheels.tractive import equilibria

    run = run_route(hauler(), road(0.08, 1500.0))
    there = run.profile.left[:, 0] > 100.0
    settled = float(run.profile.speed[1:, 0][there][-1])
    chain = hauler().chain
    load = RoadLoad.of(hauler().machine, earth(), load="laden", air_density=1.225)
    points = equilibria(chain.drives, [load] * chain.size, [0.08])
    assert np.min(np.abs(points.speed[points.held] - settled)) < 0.01 * settled


def test_machine_that_cannot_move_stops_there_and_the_march_ends():
    run = run_route(hauler(), road([0.0, 0.6, 0.0], [100.0, 60.0, 100.0]))
    step = int(run.profile.stuck[0])
    assert run.profile.segment[step, 0] == 1
    assert np.all(run.profile.speed[step + 1 :, 0] == 0.0)
    assert np.all(run.profile.time[step + 1 :, 0] == 0.0)
    assert np.isfinite(totals(run).time[0])


def test_machine_that_cannot_start_stands_at_the_start():
    run = run_route(hauler(), road([0.9], 100.0))
    assert int(run.profile.stuck[0]) == 0
    assert float(totals(run).time[0]) == 0.0


@pytest.mark.slow
def test_draws_together_are_the_draws_alone():
    route = read_route(find_route("quarry-to-crusher"))
    mass, torque, rolling = [0.9, 1.0, 1.1], [1.02, 1.0, 0.97], [1.2, 1.0, 0.8]
    many = run_many(hauler(), route, Draws.of(mass, torque, rolling))
    for k in range(3):
        # Alone the torque factor has a table of its own; together it lies between tabulated ones.
        alone = totals(run_route(hauler(), route, Draws.of(mass[k], torque[k], rolling[k])))
        assert many.time[k] == pytest.approx(float(alone.time[0]), rel=2e-3)
        assert many.fuel[k] == pytest.approx(float(alone.fuel[0]), rel=2e-3)
    assert many.time[0] < many.time[2]


@pytest.mark.slow
def test_more_mass_takes_more_fuel_and_more_time():
    route = read_route(find_route("quarry-to-crusher"))
    many = run_many(hauler(), route, Draws.of(np.linspace(0.8, 1.2, 9)))
    assert np.all(np.diff(many.fuel) > 0)
    assert np.all(np.diff(many.time) > 0)


def test_descent_is_held_by_engine_and_brakes_together():
    run = run_route(hauler(), road(-0.12, 600.0, 25 * KMH))
    middle = int(np.searchsorted(run.profile.distance[:, 0], 0.5 * run.route.total_length)) - 1
    hold = run.states.retarding[middle, 0] + run.states.brake_force[middle, 0]
    loads = hauler().machine.mass("laden") * GRAVITY
    angle = np.arctan(0.12)
    need = loads * (np.sin(angle) - 0.0325 * np.cos(angle))
    # Air and running drag help a little.
    assert hold == pytest.approx(need, rel=0.05)
    assert run.states.brake_force[middle, 0] > 0
    assert run.states.engine_torque[middle, 0] < 0
    assert float(run.states.fuel[middle, 0]) == 0.0


def test_engine_holds_a_gentle_descent_without_brakes():
    run = run_route(hauler(), road(-0.055, 800.0, 30 * KMH))
    middle = int(np.searchsorted(run.profile.distance[:, 0], 0.5 * run.route.total_length)) - 1
    assert abs(run.states.brake_force[middle, 0]) < 1.0


def test_engine_without_motoring_table_leaves_descents_to_the_brakes():
    from converter_match.judgement.haul.haul import prepare

    match, line, machine = parts()
    bare = dataclasses.replace(
        match, engine=match.engine.replace(motoring=None, exhaust_brake=None)
    )
    ready = prepare(bare, line, machine, road(0.0))
    assert "no-engine-braking" in {note.code for note in ready.notes}
    run = run_route(ready, road(-0.12, 600.0, 25 * KMH))
    middle = int(np.searchsorted(run.profile.distance[:, 0], 0.5 * run.route.total_length)) - 1
    assert run.states.engine_torque[middle, 0] >= 0


@pytest.mark.parametrize(("mass", "message"), [(0.0, "mass: not usable"), (np.nan, "mass: not")])
def test_factors_that_cannot_be_are_refused(mass, message):
    with pytest.raises(InputError, match=message):
        Draws.of([1.0, mass])


@pytest.mark.parametrize("rate", [0.0, np.nan, 1e308])
def test_braking_rate_that_no_machine_has_is_refused(rate):
    with pytest.raises(InputError, match="braking: out of range"):
        run_route(hauler(), road(0.0), braking=rate)
