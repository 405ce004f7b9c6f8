"""A route's steps, ceiling, oil and totals, each against what it is made of."""

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from converter_match.components.engine import Fuel, SpeedTable
from converter_match.components.machine import Cooler, Oil
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.haul.energy import Ledger
from converter_match.physics.haul.loads import Draws
from converter_match.physics.haul.route import hauler, run_many, run_route, totals
from converter_match.physics.heat.oil import UNSETTLED, OilCircuit
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
        air_density=1.2, air_temperature=290.0, hydraulic_torque=torque, cooler=mine.cooler,
    )  # fmt: skip


READY = ready()
ROUTE = road([0.02, 0.08, -0.04], [60.0, 90.0, 70.0], [8.0, 6.0, 5.0])

# --- what is allowed -----------------------------------------------------------------------------


def test_allowed_is_the_lower_limit_where_two_meet_and_nothing_at_stops():
    # 800 m are more than braking at 0.5 m/s^2 reaches back.
    route = road([0.0] * 3, 800.0, [9.0, 5.0, 9.0])
    for fastest, limits in ((100.0, [9.0, 5.0, 9.0]), (6.0, [6.0, 5.0, 6.0])):
        allowed = AllowedSpeed.of(route, fastest, 0.5)
        assert allowed.limit == pytest.approx(limits)
        assert allowed.end == pytest.approx([5.0, 5.0, 0.0])


def test_braking_reaches_back_over_a_short_segment():
    # v^2 = 2 b s from the stop at the end of both.
    allowed = AllowedSpeed.of(road([0.0, 0.0], [400.0, 10.0], 20.0), 100.0, 0.5)
    assert allowed.end == pytest.approx([np.sqrt(10.0), 0.0])


# --- a run ---------------------------------------------------------------------------------------


def by_scipy(circuit, heat, time, start):
    """Oil at the ends of the steps, from the differential equations as they stand."""

    def rates(_, y, q):
        oil, metal = y
        cooled = float(circuit.cooler.heat_at(oil - circuit.air_temperature))
        if circuit.metal_capacity == 0.0:
            return [(q - cooled) / circuit.oil_capacity, 0.0]
        passed = circuit.conductance * (oil - metal)
        return [
            (q - cooled - passed) / circuit.oil_capacity, passed / circuit.metal_capacity
        ]  # fmt: skip

    state, found = np.array(start, float), [start[0]]
    for q, span in zip(heat, time, strict=True):
        if span > 0.0:
            state = solve_ivp(rates, (0.0, span), state, args=(q,), rtol=1e-8, atol=1e-8).y[:, -1]
        found.append(state[0])
    return np.array(found), state


LUMPS = Oil(
    volume=0.04, temperature_limit=393.15, working_temperature=340.0, metal_mass=300.0,
    metal_conductance=500.0,
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("oil", [OIL, LUMPS], ids=["one lump", "oil and metal"])
@pytest.mark.parametrize("curved", [False, True], ids=["proportional", "table"])
def test_oil_lap_after_lap_is_that_of_many_laps(oil, curved):
    # scipy, lap after lap, until the lap ends as it starts.
    cooler = Cooler(difference=[0.0, 30.0, 60.0, 120.0], heat=[0.0, 30e3, 50e3, 80e3])
    own = machine(oil=oil, cooler=cooler) if curved else machine(oil=oil)
    run = run_route(ready(mine=own), ROUTE)
    circuit = OilCircuit.of(own, 290.0, own.cooler)
    heat, time = run.states.oil_heat[:, 0], run.profile.time[:, 0]
    start = run.oil.first[0, 0]
    first, state = by_scipy(circuit, heat, time, (start, start))
    np.testing.assert_allclose(run.oil.first[:, 0], first, atol=0.1)
    for _ in range(60):
        lap, after = by_scipy(circuit, heat, time, state)
        if np.abs(after - state).max() < 1e-4:
            break
        state = after
    np.testing.assert_allclose(run.oil.settled[:, 0], lap, atol=0.1)
    assert totals(run).hottest[0] == pytest.approx(lap.max(), abs=0.1)
    assert totals(run).hottest_first[0] == pytest.approx(first.max(), abs=0.1)


def test_oil_that_no_lap_leaves_as_cold_as_it_found_it_does_not_settle():
    # The table ends at 100 W, and less than the heat is held beyond it.
    weak = Cooler(difference=[0.0, 30.0], heat=[0.0, 100.0])
    run = run_route(ready(mine=machine(oil=OIL, cooler=weak)), ROUTE)
    assert totals(run).hottest[0] == UNSETTLED
    bare = run_route(ready(mine=machine(oil=OIL, cooler=None)), ROUTE)
    assert np.isnan(totals(bare).hottest[0])
    assert np.isfinite(totals(bare).hottest_first[0])


def test_run_that_ends_on_the_way_has_no_lap_to_repeat():
    run = run_route(READY, road([0.0, 0.9], 60.0))
    assert run.profile.stuck[0] >= 0
    np.testing.assert_array_equal(run.oil.counted, run.oil.first)


@pytest.mark.slow
def test_oil_starts_where_it_is_said_to_or_at_work_or_in_the_air():
    for given, begin in ((None, 350.0), (310.0, 310.0)):
        assert run_route(READY, ROUTE, oil_start=given).oil.first[0, 0] == pytest.approx(begin)
    cold = ready(mine=machine(oil=Oil(volume=0.04, temperature_limit=393.15)))
    assert run_route(cold, ROUTE).oil.first[0, 0] == pytest.approx(290.0)
    unknown = ready(mine=machine(oil=Oil(temperature_limit=393.15)))
    assert run_route(unknown, ROUTE).oil is None
    assert totals(run_route(unknown, ROUTE)).hottest is None
    assert run_many(unknown, ROUTE, Draws.of([1.0, 1.1])).hottest is None


def test_totals_are_sums_and_the_hottest_is_a_maximum():
    # From cold oil, so that the heavier machine, with more heat, ends hotter.
    run = run_route(READY, ROUTE, Draws.of([0.9, 1.1]), oil_start=300.0)
    found = totals(run)
    np.testing.assert_allclose(found.time, run.profile.time.sum(axis=0))
    np.testing.assert_allclose(found.fuel, run.states.fuel.sum(axis=0))
    np.testing.assert_allclose(found.hottest, run.oil.settled.max(axis=0))
    np.testing.assert_allclose(found.hottest_first, run.oil.first.max(axis=0))
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


@pytest.mark.slow
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


@pytest.mark.slow
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
    assert run.ceiling[0, 0] == pytest.approx(min(8.0, READY.chain.fastest))


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
    assert run_route(other, ROUTE).oil.first[-1, 0] > run_route(READY, ROUTE).oil.first[-1, 0]
