"""The choice of the gear to hold back in, against a look at every gear by itself."""

import numpy as np
import pytest

from converter_match.components.driveline import DragTable
from converter_match.components.engine import SpeedTable
from converter_match.physics.arrangement.overrun import motoring_supply
from converter_match.physics.arrangement.shaft_demand import ShaftDemand
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.haul.retarding import RetardingChoice
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drive_chain import drive_chain
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias
from tests.examples import RPM, converter, engine
from tests.machines import driveline, gear, machine, surface

ENGINE = engine(
    motoring=SpeedTable(
        name="table", speed=np.array([800, 2400]) * RPM, value=np.array([80.0, 240.0])
    )
)
LIMIT = 2300 * RPM


def setting(line=None, own=ENGINE):
    line = line or driveline()
    shaft = TurbineShaft(engine_supply(own), converter())
    road = RoadLoad.of(machine(), surface(), air_density=1.2)
    chain = drive_chain(shaft, line, machine(), Inertias(2.0, 0.3, 0.2, 80.0), road)
    return chain, ShaftDemand.of(own, converter())


CHAIN, DEMAND = setting()
CHOICE = RetardingChoice.of(CHAIN, DEMAND, LIMIT)
FORWARD = np.array(False)
LOCKED = np.flatnonzero(CHAIN.locked)


def engine_drag(speed):
    """Motoring and accessories of the locked engine [N.m], through its own curve."""
    return -np.asarray(motoring_supply(ENGINE, exhaust_brake=False).torque(speed))


def test_locked_up_engine_and_gearbox_hold_back_through_all_losses():
    # The wheels drive: F = (T_engine + T_drag) i / (eta r); friction of the gearing helps.
    for state in LOCKED:
        ratio = CHAIN.ratio_over_radius[state]
        speed = np.array([1000, 1500, 2100]) * RPM / ratio
        drag = 5.0 + 15.0 * speed * ratio / (2000 * RPM)
        expected = (engine_drag(speed * ratio) + drag) * ratio / (0.96 * 0.95)
        found = np.interp(speed, CHOICE.speed, CHOICE.by_state[state])
        assert found == pytest.approx(expected, rel=2e-3)  # straight lines between 401 speeds


def test_open_converter_pushes_below_idle_and_that_is_no_retarding():
    # Creep at a stand: mu C omega_idle^2 at the turbine, less drag, through the gears.
    creep = 2.2 * (800.0 / 60.0) ** 2 - 5.0
    for state in np.flatnonzero(~CHAIN.locked):
        push = creep * 0.96 * 0.95 * CHAIN.ratio_over_radius[state]
        assert CHOICE.by_state[state, 0] == pytest.approx(-push, rel=1e-6)
    assert CHOICE.best[0][0] == -1
    assert CHOICE.force[0][0] == 0.0


def test_chosen_is_the_strongest_of_the_gears_that_are_within_their_limits():
    turbine = CHOICE.speed[None, :] * CHAIN.ratio_over_radius[:, None]
    least = DEMAND.least_torque(turbine, CHAIN.locked[:, None])
    usable = (turbine <= LIMIT) & (least < 0.0)
    usable &= ~CHAIN.locked[:, None] | (turbine >= 800 * RPM)
    held = np.where(usable, CHOICE.by_state, 0.0)
    best = held.max(axis=0)
    np.testing.assert_allclose(CHOICE.force[0], np.maximum(best, 0.0))
    some = best > 0.0
    np.testing.assert_array_equal(CHOICE.best[0] == -1, ~some)
    at = np.flatnonzero(some)
    np.testing.assert_allclose(held[CHOICE.best[0][at], at], best[at])
    # Somewhere a locked gear, somewhere none at all: the table is not one-sided.
    assert set(LOCKED) & set(CHOICE.best[0].tolist())
    assert (CHOICE.best[0] == -1).any()


def test_beyond_the_turbine_limit_a_higher_gear_holds_back():
    for state in LOCKED:
        fastest = LIMIT / CHAIN.ratio_over_radius[state]
        beyond = CHOICE.best[0][CHOICE.speed > fastest]
        assert state not in beyond
    lower = RetardingChoice.of(CHAIN, DEMAND, 0.5 * LIMIT)
    assert np.count_nonzero(lower.best[0] == LOCKED[0]) < np.count_nonzero(
        CHOICE.best[0] == LOCKED[0]
    )


def test_table_runs_two_percent_past_the_fastest_gear():
    assert CHOICE.speed[0] == 0.0
    assert CHOICE.speed[-1] == pytest.approx(1.02 * CHAIN.top.max())
    np.testing.assert_allclose(np.diff(CHOICE.speed), CHOICE.speed[1])


def test_look_up_is_linear_between_rows_and_takes_the_lower_gear():
    rows = np.array([60, 130, 200, 300])
    rows = rows[(CHOICE.best[0][rows] >= 0) & (CHOICE.best[0][rows] == CHOICE.best[0][rows + 1])]
    assert rows.size > 1
    quarter = CHOICE.speed[rows] + 0.25 * CHOICE.speed[1]
    best, force = CHOICE.at(quarter, FORWARD)
    np.testing.assert_array_equal(best, CHOICE.best[0][rows])
    np.testing.assert_allclose(
        force, 0.75 * CHOICE.force[0][rows] + 0.25 * CHOICE.force[0][rows + 1]
    )
    change = np.flatnonzero(
        (CHOICE.best[0][1:] != CHOICE.best[0][:-1]) & (CHOICE.best[0][:-1] >= 0)
    )
    assert change.size
    for k in change:
        best, _ = CHOICE.at(np.array([0.5 * (CHOICE.speed[k] + CHOICE.speed[k + 1])]), FORWARD)
        assert best[0] == min(CHOICE.best[0][k], CHOICE.best[0][k + 1])


def test_look_up_is_held_at_both_ends():
    best, force = CHOICE.at(np.array([-1.0, 0.0, 1e3]), FORWARD)
    assert best[:2].tolist() == [-1, -1]
    assert force[:2].tolist() == [0.0, 0.0]
    assert best[2] == min(CHOICE.best[0][-2:])
    if best[2] >= 0:
        assert force[2] == pytest.approx(CHOICE.force[0][-1], rel=1e-3)


def test_retarding_gear_is_taken_only_on_descents_that_ask_for_more_than_the_own_gear_gives():
    row = int(np.flatnonzero(CHOICE.best[0] == LOCKED[0])[-1]) - 2
    tread = np.full(4, CHOICE.speed[row])
    own = np.full(4, LOCKED[-1])
    gives = CHOICE.by_state[LOCKED[-1], row]
    assert CHOICE.force[0][row] > gives > 0
    ground = np.array([-1.01 * gives, -0.99 * gives, -1.01 * gives, 500.0])
    descending = np.array([True, True, False, True])
    chosen = CHOICE.chosen(own, tread, descending, ground)
    assert chosen.tolist() == [LOCKED[0], LOCKED[-1], LOCKED[-1], LOCKED[-1]]


def test_own_gear_is_judged_at_the_nearest_speed_of_the_table():
    row = int(np.flatnonzero(CHOICE.best[0] == LOCKED[0])[-1]) - 6
    own = np.array([LOCKED[-1]])
    for off, near in ((0.45, row), (0.55, row + 1)):
        gives = CHOICE.by_state[LOCKED[-1], near]
        tread = np.array([CHOICE.speed[row] + off * CHOICE.speed[1]])
        for share, taken in ((1.0 - 1e-6, False), (1.0 + 1e-6, True)):
            chosen = CHOICE.chosen(own, tread, np.array([True]), np.array([-share * gives]))
            assert bool(chosen[0] == LOCKED[0]) is taken


def test_without_any_retarding_the_state_stays():
    chain, demand = setting(own=engine())
    choice = RetardingChoice.of(chain, demand, LIMIT)
    # Gearbox drag is no engine braking: a gear is not chosen for it.
    assert np.all(choice.best[0] == -1)
    assert np.all(choice.force[0] == 0.0)
    state = np.arange(chain.size)
    speed = np.full(chain.size, 3.0)
    chosen = choice.chosen(state, speed, np.ones(chain.size, bool), np.full(chain.size, -1e6))
    np.testing.assert_array_equal(chosen, state)


def test_drag_table_is_held_at_its_end_where_the_descent_is_faster():
    table = DragTable(speed=np.array([0.0, 1000, 2400]) * RPM, value=np.array([5.0, 12.0, 23.0]))
    line = driveline(gears=(gear("1", 4.0, drag=table), gear("2", 1.2, drag=table)))
    chain, demand = setting(line)
    choice = RetardingChoice.of(chain, demand, LIMIT)
    # At the highest speed of second gear the first would turn three times too fast.
    ratio = chain.ratio_over_radius[0]
    last = choice.speed[-1] * ratio
    assert last > 2 * 2400 * RPM
    torque = float(demand.least_torque(np.array([last]), np.array([False]))[0])
    expected = (23.0 - torque) * ratio / (0.96 * 0.95)
    assert choice.by_state[0, -1] == pytest.approx(expected)
