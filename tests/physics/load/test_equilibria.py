"""Where a load runs: closed forms, and every equilibrium against a search in two unknowns."""

import numpy as np
import pytest

from converter_match.components.load import LoadLine
from converter_match.curves import Curve
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.load.equilibria import load_equilibria
from converter_match.physics.load.shaft import Unit, shaft_states
from tests.examples import RPM, converter, full_range, hole_engine
from tests.load_examples import SPEED, TORQUE, flat, made
from tests.study_examples import flat_engine


def test_a_constant_torque_ratio_meets_a_pump_in_closed_form():
    # T_t = mu T at every speed, so k omega^2 = mu T.
    half = Unit(engine_supply(flat_engine(TORQUE)), made(lambda nu: 0.9 + 0.0 * nu))
    found = load_equilibria([half], LoadLine(squared=0.05))
    assert found.speed == pytest.approx([np.sqrt(0.9 * TORQUE / 0.05)], rel=1e-12)
    assert found.stable.tolist() == [True]
    assert (found.starts, found.reached, found.runs_off) == (True, 0, False)
    assert found.states.units[0].engine_speed == pytest.approx([SPEED], rel=1e-12)


def test_a_falling_torque_ratio_meets_a_conveyor_in_closed_form():
    # mu = 2 - nu: T_t = T (2 - omega / omega_e), so omega = omega_e (2 - T_L / T).
    found = load_equilibria([flat()], LoadLine(constant=1300.0, breakaway=1500.0))
    assert found.stall_torque == pytest.approx(1600.0)
    assert found.speed == pytest.approx([SPEED * (2.0 - 1300.0 / 800.0)], rel=1e-12)
    assert found.reached == 0


def test_a_load_that_falls_faster_than_the_turbine_torque_is_unstable_there():
    # T_t = 1600 - 4 omega; T_L = 1700 - 8 omega up to 100 rad/s, then level at 900: they cross at
    # 25 rad/s, where the load is the steeper, and at 175.
    table = Curve([0.0, 100.0, 198.0], [1700.0, 900.0, 900.0], kinks=(100.0,))
    found = load_equilibria([flat()], LoadLine(table=table, breakaway=1700.0))
    assert found.speed == pytest.approx([25.0, 175.0], rel=1e-9)
    assert found.stable.tolist() == [False, True]
    assert not found.starts  # 1600 at stall against 1700
    assert found.reached is None


def test_a_load_is_come_to_from_rest_only_if_it_starts():
    unit = flat()
    easy = load_equilibria([unit], LoadLine(constant=1000.0, breakaway=1599.0))
    hard = load_equilibria([unit], LoadLine(constant=1000.0, breakaway=1601.0))
    assert easy.speed == pytest.approx(hard.speed)
    assert (easy.reached, hard.reached) == (0, None)


def test_a_load_lighter_than_the_end_of_the_data_runs_off():
    found = load_equilibria([flat(last=0.9)], LoadLine(constant=850.0))
    assert (found.speed.size, found.reached, found.runs_off) == (0, None, True)


def test_a_table_ends_where_it_ends():
    table = Curve([0.0, 50.0], [100.0, 100.0])
    found = load_equilibria([flat()], LoadLine(table=table))
    assert found.runs_off


def test_a_hanging_load_is_met_on_both_sides_of_rest_each_with_its_own_torque():
    # Stall torque 1600 with mu = 2 - nu: driven backwards it gives more, and holds 1800 at
    # nu = -0.25. Hoisting takes 2000, which the turbine does not give.
    unit = flat(first=-0.5)
    found = load_equilibria([unit], LoadLine(constant=2000.0, breakaway=2000.0, lowering=1800.0))
    assert found.speed == pytest.approx([-0.25 * SPEED], rel=1e-9)
    assert found.stable.tolist() == [True]
    assert not found.starts
    # Between the two it rests: no point but rest itself.
    rests = load_equilibria([unit], LoadLine(constant=1700.0, breakaway=1700.0, lowering=1500.0))
    assert rests.speed.size == 0


def test_torques_of_two_units_add_on_one_shaft_each_through_its_own_gear():
    one, two = flat(), flat()
    geared = Unit(two.supply, two.converter, ratio=1.5, efficiency=0.9)
    speed = np.array([0.0, 40.0, 90.0])
    states = shaft_states([one, geared], speed)
    by_hand = TORQUE * (2.0 - speed / SPEED) + 1.5 * 0.9 * TORQUE * (2.0 - 1.5 * speed / SPEED)
    assert states.torque[0] == pytest.approx(by_hand, rel=1e-12)
    assert states.units[1].turbine_speed[0] == pytest.approx(1.5 * speed)
    # Two alike carry twice the load at the same speed.
    load = load_equilibria([one], LoadLine(constant=1300.0))
    twice = load_equilibria([one, two], LoadLine(constant=2600.0))
    assert twice.speed == pytest.approx(load.speed, rel=1e-12)


def roots_in_two_unknowns(supply, unit, line):
    """Return (turbine speed, engine speed) of balances, by scipy from every cell that may hold one.

    The two equations T_net = C omega^2 and mu C omega^2 = T_L(nu omega) over (nu, omega): a way of
    its own, that knows nothing of branches.
    """
    from scipy.optimize import root

    low, high = supply.domain
    nu = np.linspace(0.0, min(unit.domain[1], 1.0), 181)
    omega = np.linspace(low, high, 241)
    n, w = np.meshgrid(nu, omega, indexing="ij")

    def both(at, speed):
        taken = unit.capacity_at(at) * speed**2
        given = unit.torque_ratio_at(at) * taken
        return supply.net_torque(speed) - taken, given - line(at * speed)

    changes = []
    for value in both(n, w):
        sign = value > 0.0
        corners = [sign[:-1, :-1], sign[1:, :-1], sign[:-1, 1:], sign[1:, 1:]]
        changes.append(np.any(corners, axis=0) & ~np.all(corners, axis=0))
    found = set()
    for i, j in np.argwhere(changes[0] & changes[1]):

        def inside(x):
            return np.clip(x[0], nu[0], nu[-1]), np.clip(x[1], low, high)

        start = [0.5 * (nu[i] + nu[i + 1]), 0.5 * (omega[j] + omega[j + 1])]
        solved = root(lambda x: np.array(both(*inside(x))), start, tol=1e-12)
        at = np.array([float(value) for value in inside(solved.x)])
        residual = np.abs(both(*at)).max()
        if residual < 1e-6 and np.allclose(at, solved.x):
            found.add((round(at[0] * at[1], 5), round(at[1], 5)))
    return sorted(found)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_every_equilibrium_of_a_random_machine_is_found_by_a_search_in_two_unknowns(seed):
    random = np.random.default_rng(seed)
    supply = engine_supply(hole_engine() if seed % 2 else flat_engine(random.uniform(500, 900)))
    base = converter()
    unit = base.replace(capacity=base.capacity * random.uniform(0.6, 1.1))
    speed = np.linspace(0.0, supply.domain[1], 7)
    stall = 1000.0
    line = LoadLine(table=Curve(speed, stall * random.uniform(0.1, 1.6, 7)))
    found = load_equilibria([Unit(supply, unit)], line)
    ours = sorted(zip(found.speed, found.states.units[0].engine_speed, strict=True))
    theirs = roots_in_two_unknowns(supply, unit, line)
    assert len(ours) == len(theirs)
    assert np.ravel(ours) == pytest.approx(np.ravel(theirs), abs=2e-5)


def test_stable_and_unstable_points_of_one_branch_alternate():
    table = Curve(np.array([0.0, 40.0, 80.0, 120.0, 160.0, 198.0]),
                  np.array([1500.0, 1500.0, 1200.0, 1200.0, 900.0, 900.0]))  # fmt: skip
    found = load_equilibria([flat()], LoadLine(table=table))
    assert found.stable.size >= 3
    assert np.all(np.diff(found.stable.astype(int)) != 0)
    assert found.reached == 0


def test_a_converter_with_data_below_zero_changes_nothing_for_a_load_that_only_resists():
    supply = engine_supply(flat_engine(TORQUE))
    line = LoadLine(squared=0.02, breakaway=50.0)
    one, other = (
        load_equilibria([Unit(supply, unit)], line).speed for unit in (converter(), full_range())
    )
    assert one == pytest.approx(other, rel=1e-9)
    assert one.size == 1
    assert 0.0 < one[0] < 2380 * RPM
