"""A route's steps, ceiling, oil and totals, each against what it is made of."""

from dataclasses import fields, replace

import numpy as np
import pytest

from converter_match.components.engine import Fuel, SpeedTable
from converter_match.components.machine import Oil
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.haul.energy import Ledger
from converter_match.physics.haul.route import hauler, run_many, run_route, totals
from converter_match.physics.haul.speed_profile import Draws
from converter_match.physics.haul.steps import RouteSteps, route_steps, speed_ceiling
from converter_match.physics.heat.oil import OilCircuit, march
from converter_match.physics.wheels.road_load import RoadLoad
from tests.examples import RPM, converter, engine
from tests.haul_examples import road
from tests.machines import driveline, machine, surface

ENGINE = engine(
    fuel=Fuel(
        specific=SpeedTable(
            name="fuel", speed=np.array([800, 2200]) * RPM, value=np.full(2, 5.8e-8)
        )
    )
)
OIL = Oil(volume=0.04, temperature_limit=393.15, working_temperature=350.0)


def ready(own=ENGINE, line=None, mine=None, torque=0.0):
    mine = mine or machine(oil=OIL)
    supply = engine_supply(own, hydraulic_torque=torque)
    return hauler(
        own, converter(), line or driveline(), mine, supply,
        RoadLoad.of(mine, surface(), load="laden", air_density=1.2),
        air_density=1.2, air_temperature=290.0, hydraulic_torque=torque,
    )  # fmt: skip


READY = ready()
ROUTE = road([0.02, 0.08, -0.04], [60.0, 90.0, 70.0], [8.0, 6.0, 5.0])

# --- steps and ceiling ---------------------------------------------------------------------------


def test_steps_are_fine_after_the_start_and_end_with_each_segment():
    # Marks after a start: 0.25 0.5 1 2 3 5 7 10 15 20 25 30 m, then at most 10 m, evenly.
    steps = route_steps(road([0.0, 0.0], [27.0, 36.0]))
    ends = steps.distance[steps.segment.size * 0 :]
    first = [0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 25.0, 27.0]
    # 30 m still belongs to the fine steps; the 33 m that are left are four equal steps.
    then = [30.0, 38.25, 46.5, 54.75, 63.0]
    np.testing.assert_allclose(ends, [0.0, *first, *then, 63.0])
    assert steps.segment.tolist() == [0] * 12 + [1] * 6
    assert steps.is_stop.tolist() == [False] * 17 + [True]
    assert steps.stop_time.tolist() == [0.0] * 18


def test_steps_are_fine_again_after_a_stop_and_scale_with_the_longest():
    route = road([0.0, 0.0], [12.0, 3.0], stop_time=np.array([7.0, np.nan]))
    steps = route_steps(route, 5.0)
    half = np.array([0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0]) / 2
    expected = [0.0, *half, 12.0, 12.0, *(12.0 + half[:5]), 14.5, 15.0, 15.0]
    np.testing.assert_allclose(steps.distance, expected)
    assert steps.stop_time[11] == 7.0
    assert np.count_nonzero(steps.is_stop) == 2


def test_fine_steps_are_counted_from_the_stop_across_segments():
    steps = route_steps(road([0.0] * 3, [4.0, 4.0, 4.0]))
    inner = [0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 7.0, 8.0, 10.0, 12.0, 12.0]
    np.testing.assert_allclose(steps.distance, [0.0, *inner])
    assert steps.segment.tolist() == [0] * 6 + [1] * 3 + [2] * 3


def test_ceiling_is_the_lower_limit_where_two_meet_and_nothing_at_stops():
    steps = RouteSteps(
        np.array([0, 0, 1, 1, 2]), np.array([400.0, 400.0, 400.0, 400.0, 0.0]), np.zeros(5)
    )
    route = road([0.0] * 3, 800.0, [9.0, 5.0, 9.0])
    # Steps so long that braking never reaches back over one, 0.5 m/s^2.
    assert speed_ceiling(steps, route, 100.0, 0.5) == pytest.approx([9.0, 9.0, 5.0, 5.0, 0.0, 0.0])
    slow = speed_ceiling(steps, route, 6.0, 0.5)
    assert slow == pytest.approx([6.0, 6.0, 5.0, 5.0, 0.0, 0.0])


# --- a run ---------------------------------------------------------------------------------------


def test_oil_is_warmed_from_its_start_by_the_heat_of_each_step():
    circuit = OilCircuit.of(READY.machine, 290.0)
    for given, begin in ((None, 350.0), (310.0, 310.0)):
        run = run_route(READY, ROUTE, oil_start=given)
        assert run.oil[0, 0] == begin
        expected = march(circuit, run.states.oil_heat, run.profile.time, begin)[0]
        np.testing.assert_allclose(run.oil, expected)
    cold = ready(mine=machine(oil=Oil(volume=0.04, temperature_limit=393.15)))
    assert run_route(cold, ROUTE).oil[0, 0] == 290.0
    unknown = ready(mine=machine(oil=Oil(temperature_limit=393.15)))
    assert run_route(unknown, ROUTE).oil is None
    assert totals(run_route(unknown, ROUTE)).hottest is None
    assert run_many(unknown, ROUTE, Draws.of([1.0, 1.1])).hottest is None


def test_metal_that_lags_is_not_what_is_called_the_oil():
    lumps = Oil(
        volume=0.04, temperature_limit=393.15, working_temperature=340.0, metal_mass=300.0,
        metal_conductance=500.0,
    )  # fmt: skip
    run = run_route(ready(mine=machine(oil=lumps)), ROUTE)
    oil, metal = march(
        OilCircuit.of(machine(oil=lumps), 290.0), run.states.oil_heat, run.profile.time, 340.0
    )
    np.testing.assert_allclose(run.oil, oil)
    assert np.abs(oil - metal).max() > 0.1


def test_totals_are_sums_and_the_hottest_is_a_maximum():
    # From cold oil, so that the heavier machine, with more heat, ends hotter.
    run = run_route(READY, ROUTE, Draws.of([0.9, 1.1]), oil_start=300.0)
    found = totals(run)
    np.testing.assert_allclose(found.time, run.profile.time.sum(axis=0))
    np.testing.assert_allclose(found.fuel, run.states.fuel.sum(axis=0))
    np.testing.assert_allclose(found.hottest, run.oil.max(axis=0))
    for field in fields(Ledger):
        each = getattr(run.ledger, field.name).sum(axis=0)
        np.testing.assert_allclose(getattr(found.ledger, field.name), each)
    np.testing.assert_array_equal(found.shifts, run.profile.shifts)
    assert found.stuck_segment.tolist() == [-1, -1]
    assert found.hottest[0] < found.hottest[1]


def test_segment_in_which_a_draw_is_stuck_is_named():
    steep = road([0.0, 0.4, 0.0], 60.0)
    run = run_route(READY, steep, Draws.of([0.5, 3.0]))
    assert totals(run).stuck_segment.tolist() == [-1, 1]
    np.testing.assert_array_equal(
        run_many(READY, steep, Draws.of([0.5, 3.0])).stuck_segment, [-1, 1]
    )


def test_many_draws_in_groups_are_the_draws_in_one_run():
    mass = np.linspace(0.8, 1.2, 35)  # more than two groups of sixteen
    for changes in ({}, {"longest_step": 4.0, "braking": 0.4, "oil_start": 330.0}):
        many = run_many(READY, ROUTE, Draws.of(mass), **changes)
        whole = totals(run_route(READY, ROUTE, Draws.of(mass), **changes))
        for name in ("time", "fuel", "hottest", "stuck_segment", "shifts"):
            np.testing.assert_allclose(getattr(many, name), getattr(whole, name), rtol=1e-12)
            assert getattr(many, name).shape == (35,)
        for field in fields(Ledger):
            one, other = (getattr(t.ledger, field.name) for t in (many, whole))
            np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-3)


def test_speed_limit_of_the_driveline_and_its_shift_time_count():
    slow = ready(line=driveline(speed_limit=3.0))
    free = road(0.0, 150.0)
    for fastest in (
        float(run_route(slow, free).profile.speed.max()),
        float(run_route(slow, free).ceiling.max()),
    ):
        assert fastest == pytest.approx(3.0)
    assert run_many(slow, free, Draws.of()).time[0] > 50.0
    quick, late = (
        run_route(ready(line=driveline(shift_time=t)), free) for t in (None, 2.0)
    )  # fmt: skip
    assert totals(late).time[0] > totals(quick).time[0] + 0.5
    many = [run_many(ready(line=driveline(shift_time=t)), free, Draws.of()) for t in (None, 2.0)]
    assert many[1].time[0] == pytest.approx(float(totals(late).time[0]), rel=1e-12)
    assert run_route(READY, free).ceiling.max() == pytest.approx(READY.chain.fastest)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("braking", 0.0), ("braking", -1.0), ("braking", np.nan),
        ("braking", np.nextafter(20.0, 21)),
        ("longest_step", 0.0), ("longest_step", np.inf), ("longest_step", np.nan),
    ],
)  # fmt: skip
def test_braking_or_step_that_cannot_be_is_refused(field, value):
    with pytest.raises(InputError, match="out of range") as error:
        run_route(READY, ROUTE, **{field: value})
    assert (error.value.field, error.value.expected) == (field, "above zero")


def test_hardest_braking_is_taken():
    run = run_route(READY, ROUTE, braking=20.0)
    assert run.ceiling[0] == pytest.approx(min(8.0, READY.chain.fastest))


# --- the machine on its own ----------------------------------------------------------------------


def test_loads_of_the_engine_are_its_accessories_and_pumps():
    model = ready(torque=100.0).model
    rated = 2200 * RPM
    w = model.load_speed
    expected = 11e3 / rated * (w / rated) ** 2 + 3e3 / rated * (w / rated) ** 0.4 + 100.0
    np.testing.assert_allclose(model.load_torque, expected, rtol=1e-9)
    assert (w[0], w[-1], w.size) == (800 * RPM, pytest.approx(2380 * RPM), 121)


def test_notes_of_a_machine_are_those_of_all_its_parts():
    codes = [note.code for note in READY.notes]
    assert codes[:2] == ["inertia-not-given", "shift-speed-computed"]
    assert codes[2:] == ["no-engine-braking", "fuel-willans-typical"]
    assert "fuel-willans-typical" not in {n.code for n in ready(own=engine()).notes}


def test_machine_keeps_what_it_was_built_of():
    assert READY.engine is ENGINE
    assert (READY.air_density, READY.air_temperature) == (1.2, 290.0)
    assert READY.model.chain is READY.chain
    assert READY.model.inertias is READY.inertias
    other = replace(READY, air_temperature=300.0)
    assert run_route(other, ROUTE).oil[-1, 0] > run_route(READY, ROUTE).oil[-1, 0]
