"""The solver against scipy's scalar root finder, and against what must hold of any match."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from converter_match.components.engine import Accessory
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import engine_speeds, match
from tests.examples import RPM, converter, engine, hole_engine

REFERENCE_MATCHES = 10_000


class Plain:
    """The least that can be matched: a capacity and a torque ratio, straight in speed ratio."""

    def __init__(self, capacity, torque_ratio=2.0):
        self.capacity, self.torque_ratio = capacity, torque_ratio

    def capacity_at(self, speed_ratio):
        return self.capacity * (1.0 - np.asarray(speed_ratio, dtype=float))

    def torque_ratio_at(self, speed_ratio):
        nu = np.asarray(speed_ratio, dtype=float)
        return self.torque_ratio + (1.0 - self.torque_ratio) * nu


def found(array):
    return array[np.isfinite(array)]


def scanned(net, knots, capacity, cells=120):
    """Every intersection by scipy: a dense scan for changes of sign, and brentq in each."""
    steps = [np.linspace(a, b, cells) for a, b in pairwise(knots)]
    omega = np.unique(np.concatenate(steps))
    excess = net(omega) - capacity * omega**2
    return np.array(
        [
            brentq(
                lambda w: float(net(w)) - capacity * w * w,
                omega[i],
                omega[i + 1],
                xtol=1e-13,
                rtol=1e-15,
            )
            for i in np.flatnonzero(excess[:-1] * excess[1:] < 0)
        ]
    )


def random_engine(rng):
    """Any curve: smooth, wavy, with torque holes; up to three accessories of any exponent."""
    idle, rated = rng.uniform(500, 1000), rng.uniform(1700, 3000)
    inner = np.sort(rng.uniform(idle, rated, rng.integers(2, 12)))
    speed = np.concatenate([[idle], inner[np.diff(inner, prepend=idle) > 5], [rated]])
    speed = speed[(speed < rated - 5) | (speed == rated)]
    waves = 1 + rng.uniform(0.02, 0.35) * rng.normal(size=speed.size)
    accessories = tuple(
        Accessory(
            name=f"load {i}",
            power=rng.uniform(0, 15e3),
            at_speed=rated * RPM,
            exponent=float(rng.choice([1, 2, 3, rng.uniform(0, 5)])),
        )
        for i in range(rng.integers(0, 4))
    )
    return engine(
        low_idle=idle * rng.choice([0.9, 1.0, 1.05]) * RPM,
        rated_speed=rated * RPM,
        high_idle=rated * rng.uniform(1.03, 1.2) * RPM,
        speed=speed * RPM,
        torque=rng.uniform(300, 1500) * waves.clip(0.1),
        accessories=accessories,
    )


def random_supply(rng):
    """A supply, and its net torque written out term by term."""
    made = random_engine(rng)
    factor, hydraulic = rng.uniform(0.8, 1.1), rng.choice([0.0, rng.uniform(0, 300)])
    tables = []
    if rng.random() < 0.3:
        x = np.linspace(0.3, 1.3, 5) * made.rated_speed
        tables.append(Curve(x, rng.uniform(0, 100, 5)))

    def net(omega):
        total = factor * made.full_load(omega) - hydraulic
        for item in made.accessories:
            total = total - item.power / omega * (omega / item.at_speed) ** item.exponent
        for table in tables:
            total = total - table(omega)
        return total

    supply = engine_supply(made, torque_factor=factor, hydraulic_torque=hydraulic, tables=tables)
    return supply, net


def random_capacities(rng, supply, n):
    """Capacities that the engine meets somewhere, and some that it does not."""
    low, high = supply.domain
    omega = np.linspace(low, high, 300)
    reach = supply.torque(omega) / omega**2
    return rng.uniform(max(0.8 * reach.min(), 1e-6), 1.05 * max(reach.max(), 1e-5), n)


# --- against an independent solver ---------------------------------------------------------------


@pytest.mark.slow
def test_random_matches_agree_with_a_scalar_solver():
    rng = np.random.default_rng(7)
    checked = several = 0
    while checked < REFERENCE_MATCHES:
        supply, net = random_supply(rng)
        capacity = random_capacities(rng, supply, 40)
        speed, stable = engine_speeds(supply, capacity)
        for i, c in enumerate(capacity):
            expected = scanned(net, supply.knots, c)
            got = found(speed[:, i])
            assert got.size == expected.size
            np.testing.assert_allclose(got, expected, rtol=1e-9, atol=0)
            # Rising along axis 0, and every second one unstable: the excess changes sign each time.
            kind = stable[np.isfinite(speed[:, i]), i]
            assert np.all(np.diff(got) > 0)
            assert np.all(kind[1:] != kind[:-1])
            if got.size:
                assert kind[0] == (net(supply.domain[0]) > c * supply.domain[0] ** 2)
            several += got.size > 1
        checked += capacity.size
    assert several > 0.05 * checked  # torque holes are among them


@pytest.mark.slow
def test_scan_for_many_torque_factors_finds_what_the_table_for_one_finds():
    rng = np.random.default_rng(8)
    several = 0
    for _ in range(50):
        supply, _ = random_supply(rng)
        capacity = random_capacities(rng, supply, 100)
        factor = rng.uniform(0.85, 1.1, 100)
        speed, stable = engine_speeds(supply, capacity, factor)
        for i in range(20):  # a table for one factor takes its time to build
            one, kind = engine_speeds(supply, capacity[i], factor[i])
            np.testing.assert_allclose(found(speed[:, i]), found(one), rtol=1e-12)
            assert np.array_equal(stable[np.isfinite(speed[:, i]), i], kind[np.isfinite(one)])
            several += found(one).size > 1
    assert several > 50


def test_scan_finds_two_intersections_closer_than_its_cells():
    supply = engine_supply(hole_engine())
    low, high = supply.domain
    omega = np.linspace(low, high, 200_001)
    reach = supply.torque(omega) / omega**2
    dip = np.argmin(np.where(omega < 1300 * RPM, reach, np.inf))
    for nearness in (1e-3, 1e-5, 1e-7):
        capacity = reach[dip] * (1 + nearness)
        factor = 1 + 1e-12 * np.arange(100)  # more than get a table each, and all but 1
        by_scan = engine_speeds(supply, np.full(100, capacity), factor)[0][:, 0]
        by_table = engine_speeds(supply, capacity)[0]
        assert found(by_table).size == 3
        np.testing.assert_allclose(found(by_scan), found(by_table), rtol=1e-9)
        assert np.ptp(found(by_table)[:2]) < 0.1 * np.ptp(supply.domain)


# --- all intersections, and which is reached -----------------------------------------------------


def hole():
    return engine_supply(hole_engine())


def stall(supply, k):
    """Match at stall of a converter with K in rpm/sqrt(N.m)."""
    return match(supply, Plain(1.0 / (k * RPM) ** 2), 0.0)


def test_torque_hole_gives_one_then_three_then_one_intersection():
    # Late boost: torque lies low up to 1200 rpm and then rises steeply (invented numbers). Looser
    # converters (higher K) meet the engine in the hole, then on both sides of it, then above.
    supply, net = hole(), hole_engine().full_load
    counts, speeds = [], []
    for k in np.arange(40.0, 60.0, 0.25):
        result = stall(supply, k)
        expected = scanned(net, supply.knots, 1.0 / (k * RPM) ** 2)
        np.testing.assert_allclose(found(result.points.engine_speed), expected, rtol=1e-9)
        counts.append(int(result.count))
        speeds.append(float(result.from_idle().engine_speed) / RPM)
    order = [counts[0]] + [b for a, b in pairwise(counts) if a != b]
    assert [n for n in order if n != 5] == [1, 3, 1]  # 5 for a moment at a shoulder of the curve
    # A small step in K, and the stall reached from idle jumps by hundreds of rpm.
    jump = np.diff(speeds)
    assert np.sum(jump > 300) == 1
    assert np.all(np.delete(jump, np.argmax(jump)) < 60)
    assert np.all(jump > 0)


def test_middle_one_of_three_is_unstable_and_the_outer_two_are_reached_from_either_side():
    result = stall(hole(), 48.0)
    speeds = found(result.points.engine_speed)
    assert result.count == speeds.size == 3
    assert result.points.stable[np.isfinite(result.points.engine_speed)].tolist() == [1, 0, 1]
    assert result.from_idle().engine_speed == speeds[0]
    assert result.from_high_idle().engine_speed == speeds[2]
    assert result.from_idle().stable
    assert result.from_high_idle().stable


@pytest.mark.slow
@pytest.mark.parametrize("start", ["from_idle", "from_high_idle"])
def test_engine_let_go_settles_where_the_result_says(start):
    # J domega/dt = T_net - C omega^2, with the inertia and the time step chosen to be slow enough.
    supply, capacity = hole(), 1.0 / (48.0 * RPM) ** 2
    low, high = supply.domain
    omega = low if start == "from_idle" else high
    for _ in range(20_000):
        excess = float(supply.torque(omega)) - capacity * omega**2
        omega = min(max(omega + 0.02 * excess, low), high)
    assert omega == pytest.approx(float(getattr(stall(supply, 48.0), start)().engine_speed))


def test_stability_is_the_sign_of_the_slope_of_the_excess():
    rng = np.random.default_rng(9)
    for _ in range(30):
        supply, _ = random_supply(rng)
        capacity = random_capacities(rng, supply, 20)
        speed, stable = engine_speeds(supply, capacity)
        at = np.isfinite(speed)
        slope = supply.with_slope(speed[at])[1]
        absorbed = 2 * np.broadcast_to(capacity, speed.shape)[at] * speed[at]
        clear = np.abs(slope - absorbed) > 1e-6 * absorbed
        assert np.array_equal(stable[at][clear], (slope < absorbed)[clear])


def test_engine_that_cannot_hold_the_converter_at_idle_has_no_stall_from_idle():
    # Hydraulics leave 80 of 500 N.m at idle, where the converter asks for 100.
    supply = engine_supply(hole_engine(), hydraulic_torque=420.0)
    result = stall(supply, 70.0)
    assert not result.pulls_away
    assert np.isnan(result.from_idle().engine_speed)
    assert np.isnan(result.from_idle().input_torque)
    assert not result.from_idle().stable
    # The upper intersections are there all the same, and one is reached from above.
    assert result.count == 2
    assert found(result.points.stable[result.points.found]).tolist() == [False, True]
    assert result.from_high_idle().engine_speed == np.nanmax(result.points.engine_speed)


def test_engine_that_is_too_weak_everywhere_has_no_match_at_all():
    result = match(engine_supply(engine()), Plain(1.0), [0.0, 0.3])
    assert np.array_equal(result.count, [0, 0])
    assert not result.pulls_away.any()
    assert result.held_back.all()
    assert np.isnan(result.from_idle().engine_speed).all()
    assert np.isnan(result.from_high_idle().engine_speed).all()
    assert np.isnan(result.from_high_idle().heat).all()


def test_converter_that_absorbs_nothing_leaves_the_engine_at_high_idle():
    # Without loads the net torque at high idle is exactly zero, and so is C at speed ratio 1.
    rng = np.random.default_rng(10)
    for _ in range(50):
        made = engine(torque=rng.uniform(500, 1000, 8), accessories=())
        result = match(engine_supply(made), Plain(0.02), 1.0)
        assert result.from_idle().engine_speed == made.high_idle
        assert result.from_high_idle().engine_speed == made.high_idle
        many = match(
            engine_supply(made), Plain(0.02), 1.0, torque_factor=rng.uniform(0.9, 1.1, 100)
        )
        assert np.all(many.from_idle().engine_speed == made.high_idle)


def test_run_out_that_reaches_zero_before_high_idle_is_matched():
    made = engine(
        speed=np.array([800, 1400, 2200, 2350]) * RPM, torque=[700, 1000, 803, 0], accessories=()
    )
    supply = engine_supply(made)
    loose = match(supply, Plain(0.02), [0.0, 0.9, 0.999, 1.0]).from_idle().engine_speed
    assert np.all(np.diff(loose) > 0)
    assert loose[-1] == pytest.approx(2350 * RPM)
    assert loose[0] == pytest.approx(
        brentq(lambda w: float(made.full_load(w)) - 0.02 * w * w, 100, 240), rel=1e-12
    )


# --- near the turning points of the engine's capacity function -----------------------------------


def turning_capacity(supply, below):
    """(speed, c_e) at the lowest point of the hole, to about the square root of rounding."""
    omega = np.linspace(supply.domain[0], below, 400_001)
    reach = supply.torque(omega) / omega**2
    i = int(np.argmin(reach))
    return omega[i], reach[i]


@pytest.mark.parametrize("offset", [1e-3, 1e-6, 1e-9])
def test_intersections_near_a_turning_point_come_and_go_in_pairs(offset):
    supply = hole()
    at, lowest = turning_capacity(supply, 1300 * RPM)
    above, kind = engine_speeds(supply, lowest * (1 + offset))
    below, _ = engine_speeds(supply, lowest * (1 - offset))
    assert found(above).size == 3
    assert found(below).size == 1
    # Near its lowest point c_e is a parabola, so the pair lies at +- sqrt(offset) x something.
    pair = found(above)[:2]
    assert pair[0] < at < pair[1]
    assert np.ptp(pair) < 2.0 * at * np.sqrt(offset)
    excess = supply.torque(found(above)) - lowest * (1 + offset) * found(above) ** 2
    np.testing.assert_allclose(excess, 0, atol=1e-9)
    assert kind[np.isfinite(above)].tolist() == [True, False, True]


@pytest.mark.parametrize("exponent", range(-16, -3))
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_knot_next_to_a_turning_point_changes_nothing(exponent, side):
    # A load table with nothing in it only adds a knot, as near to the turning point as you like.
    supply = hole()
    low, high = supply.domain
    at, lowest = turning_capacity(supply, 1300 * RPM)
    knot = at * (1 + side * 10.0**exponent)
    other = engine_supply(hole_engine(), tables=[Curve([low, knot, high], [0.0, 0.0, 0.0])])
    for capacity in lowest * (1 + np.array([-1e-3, -1e-6, -1e-9, 1e-9, 1e-6, 1e-3])):
        expected, got = (found(engine_speeds(s, capacity)[0]) for s in (supply, other))
        np.testing.assert_allclose(got, expected, rtol=1e-9)


def test_capacity_at_a_corner_of_the_engine_curve():
    # At rated speed the run-out begins: a corner, not a turning point, and exactly at a knot.
    made = engine(accessories=())
    supply = engine_supply(made)
    capacity = 803.0 / made.rated_speed**2
    speed, stable = engine_speeds(supply, capacity * (1 + np.array([-1e-12, 0.0, 1e-12])))
    assert np.array_equal(np.isfinite(speed).sum(axis=0), [1, 1, 1])
    np.testing.assert_allclose(found(speed[:, 1]), made.rated_speed, rtol=1e-14)
    assert stable[np.isfinite(speed)].all()


# --- shapes --------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("nu", "capacity", "ratio", "torque", "shape"),
    [
        ((), (), (), (), ()),
        ((5,), (), (), (), (5,)),
        ((), (3,), (), (), (3,)),
        ((), (), (3,), (), (3,)),
        ((), (), (), (3,), (3,)),
        ((5,), (3, 1), (), (), (3, 5)),
        ((5,), (), (3, 1), (), (3, 5)),
        ((5,), (), (), (3, 1), (3, 5)),
        ((5,), (), (), (100, 1), (100, 5)),
        ((4, 1, 5), (3, 1), (1, 5), (3, 5), (4, 3, 5)),
        ((0,), (), (), (), (0,)),
        ((), (), (), (0,), (0,)),
        ((2, 0), (), (), (2, 1), (2, 0)),
    ],
)
def test_arguments_broadcast(nu, capacity, ratio, torque, shape):
    def spread(low, high, over):
        return np.linspace(low, high, int(np.prod(over))).reshape(over)

    arguments = (
        spread(0.0, 0.9, nu),
        spread(0.9, 1.1, capacity),
        spread(1.0, 1.05, ratio),
        spread(0.9, 1.1, torque),
    )
    supply, unit = hole(), converter()
    result = match(
        supply,
        unit,
        arguments[0],
        capacity_factor=arguments[1],
        torque_ratio_factor=arguments[2],
        torque_factor=arguments[3],
    )
    points = result.points
    rows = points.engine_speed.shape[0]
    for array in (
        points.speed_ratio,
        points.torque_ratio,
        points.engine_speed,
        points.input_torque,
        points.stable,
        points.turbine_speed,
        points.efficiency,
        points.heat,
    ):
        assert array.shape == (rows, *shape)
    for array in (result.count, result.pulls_away, result.held_back):
        assert array.shape == shape
    for settled in (result.from_idle(), result.from_high_idle()):
        assert settled.engine_speed.shape == settled.stable.shape == shape
    # Every member is what it would be alone.
    for index in np.ndindex(shape):
        alone = match(
            supply,
            unit,
            np.broadcast_to(arguments[0], shape)[index],
            capacity_factor=np.broadcast_to(arguments[1], shape)[index],
            torque_ratio_factor=np.broadcast_to(arguments[2], shape)[index],
            torque_factor=np.broadcast_to(arguments[3], shape)[index],
        ).from_idle()
        together = result.from_idle()
        for name in ("engine_speed", "turbine_torque", "heat"):
            np.testing.assert_allclose(
                getattr(together, name)[index], getattr(alone, name), rtol=1e-12
            )


def test_points_can_be_picked_by_index():
    result = match(engine_supply(engine()), converter(), [0.0, 0.5, 0.9])
    one = result.from_idle().at(1)
    assert one.engine_speed == result.points.at((0, 1)).engine_speed
    assert one.engine_speed == result.points.engine_speed[0, 1]
    assert one.speed_ratio == 0.5


def test_few_distinct_torque_factors_give_the_same_as_each_alone():
    factor = np.repeat([0.8, 0.9, 1.0, 1.1], 5)
    nu = np.tile(np.linspace(0, 0.9, 5), 4)
    together = match(hole(), converter(), nu, torque_factor=factor).from_idle().engine_speed
    alone = [
        float(match(hole(), converter(), n, torque_factor=f).from_idle().engine_speed)
        for n, f in zip(nu, factor, strict=True)
    ]
    np.testing.assert_allclose(together, alone, rtol=1e-13)


def test_answers_do_not_depend_on_how_many_are_asked_at_once():
    # More points than are handled in one go, in an order of their own.
    rng = np.random.default_rng(11)
    nu = rng.uniform(0, 0.99, 100_003)
    supply, unit = engine_supply(engine()), converter()
    together = match(supply, unit, nu).from_idle().engine_speed
    some = rng.integers(0, nu.size, 200)
    alone = [float(match(supply, unit, nu[i]).from_idle().engine_speed) for i in some]
    np.testing.assert_allclose(together[some], alone, rtol=1e-14)


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["torque_factor", "capacity_factor", "torque_ratio_factor"])
@pytest.mark.parametrize("value", [0.0, -1.0, np.nan, np.inf, [1.0, -0.5]], ids=str)
def test_factors_must_be_above_zero(name, value):
    with pytest.raises(InputError, match=f"{name}: not a usable .*expected numbers above zero"):
        match(hole(), converter(), 0.0, **{name: value})


def test_speed_ratio_outside_the_data_and_capacity_that_is_no_number_are_refused():
    with pytest.raises(InputError, match=r"speed ratio: capacity is not known there"):
        match(hole(), converter(), [0.5, 1.0])
    with pytest.raises(InputError, match="capacity: not finite"):
        engine_speeds(hole(), [0.01, np.nan])


# --- what must hold of any match -----------------------------------------------------------------


def test_energy_is_conserved():
    result = match(
        engine_supply(engine()),
        converter(),
        np.linspace(0, 0.99, 100),
        capacity_factor=np.array([[0.9], [1.1]]),
    ).points
    balance = result.output_power + result.heat
    np.testing.assert_allclose(balance, result.input_power, rtol=1e-12)
    at = result.found
    assert np.all(result.heat[at] >= 0)
    np.testing.assert_allclose(
        (result.output_power / result.input_power)[at], result.efficiency[at], rtol=1e-12
    )
    np.testing.assert_allclose(
        result.input_torque[at],
        engine_supply(engine()).torque(result.engine_speed[at]),
        rtol=1e-12,
        atol=1e-9,
    )


@given(st.floats(0.2, 5.0), st.floats(0.0, 0.95))
@pytest.mark.slow
def test_torque_and_capacity_times_the_same_leave_the_speeds_alone(scale, nu):
    def speeds(k):
        made = engine(
            torque=k * np.array([700, 850, 950, 1000, 980, 940, 880, 803]),
            accessories=(
                Accessory(name="fan", power=k * 11e3, at_speed=2200 * RPM, exponent=3),
                Accessory(name="pump", power=k * 3e3, at_speed=2200 * RPM, exponent=1.4),
            ),
        )
        supply = engine_supply(made, hydraulic_torque=k * 50.0)
        return match(supply, converter(), nu, capacity_factor=k).points

    one, other = speeds(1.0), speeds(scale)
    np.testing.assert_allclose(other.engine_speed, one.engine_speed, rtol=1e-12)
    np.testing.assert_allclose(other.input_torque, scale * one.input_torque, rtol=1e-12)


@given(st.integers(0, 2**32 - 1))
@pytest.mark.slow
def test_more_capacity_lowers_the_stall_speed_and_more_torque_raises_it(seed):
    rng = np.random.default_rng(seed)
    supply, _ = random_supply(rng)
    capacity = float(random_capacities(rng, supply, 1)[0])
    tighter = match(supply, Plain(capacity), 0.0, capacity_factor=np.linspace(0.7, 1.4, 50))
    stronger = match(supply, Plain(capacity), 0.0, torque_factor=np.linspace(0.7, 1.4, 50))
    # As reached from idle and from high idle, holes and jumps included.
    for settle in ("from_idle", "from_high_idle"):
        down = found(getattr(tighter, settle)().engine_speed)
        up = found(getattr(stronger, settle)().engine_speed)
        assert np.all(np.diff(down) < 0)
        assert np.all(np.diff(up) > 0)


@given(st.floats(40.0, 70.0), st.sampled_from([-1.0, 1.0]))
def test_small_torque_change_moves_stall_by_the_elasticity_formula(k, side):
    # ln T - 2 ln omega = ln C: a relative torque change d moves stall speed by d / (2 - e), with
    # e = dlnT/dlnomega of the engine there (derived; exact to first order in d).
    made = engine(accessories=())
    supply, unit = engine_supply(made), Plain(1.0 / (k * RPM) ** 2)
    before = match(supply, unit, 0.0).from_idle()
    omega = float(before.engine_speed)
    assume(np.isfinite(omega))
    d = side * 1e-5
    # The formula is for a smooth curve: stay clear of rows, where the curvature jumps.
    assume(np.min(np.abs(supply.knots / omega - 1)) > 1e-3)
    torque, slope = supply.with_slope(omega)
    elasticity = slope * omega / torque
    after = float(match(supply, unit, 0.0, torque_factor=1 + d).from_idle().engine_speed)
    # Second order in d, with a curvature of the steep run-out of up to a few tens.
    assert after / omega - 1 == pytest.approx(float(d / (2 - elasticity)), rel=1e-2)


def test_flat_engine_gives_the_closed_form():
    # T constant: omega = sqrt(T / C), so speed goes with the square root of the torque.
    flat = Curve([800 * RPM, 2380 * RPM], [900.0, 900.0])
    supply = engine_supply(engine(accessories=()), source=flat)
    capacity = np.linspace(0.016, 0.1, 50)
    speed, stable = engine_speeds(supply, capacity)
    expected = np.sqrt(900.0 / capacity)
    inside = (expected >= 800 * RPM) & (expected <= 2380 * RPM)
    np.testing.assert_allclose(speed[0][inside], expected[inside], rtol=1e-14)
    assert np.isnan(speed[0][~inside]).all()
    assert stable[0][inside].all()
