"""The margin of a match against closed forms, and against pairs that are solved anew."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar

from converter_match.components.engine import Accessory
from converter_match.curves import Curve
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply, engine_supply
from converter_match.physics.match.margin import match_margin
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine, hole_engine

BESIDE = 1e-4


def of_k(k: float) -> float:
    """Capacity of a converter with K [rpm/sqrt(N.m)]."""
    return 1.0 / (k * RPM) ** 2


def falling_then_rising() -> TorqueSupply:
    """T = 1000 - 8 w + 0.02 w^2, whose c_e = 0.02 - 8 / w + 1000 / w^2 has a closed form.

    The square comes in as a load below zero, so that every term is exact. c_e is least where
    8 / w^2 = 2000 / w^3: at w = 250 rad/s, with 0.02 - 64 / 4000 = 0.004.
    """
    line = Curve(np.array([50.0, 500.0]), np.array([600.0, -3000.0]), name="torque", x_name="speed")
    return TorqueSupply(source=line, laws=(PowerLaw(torque=-200.0, speed=100.0, exponent=2.0),))


def test_tangent_of_a_parabola_is_where_its_discriminant_is_zero():
    # T = C w^2 is (0.02 - C) w^2 - 8 w + 1000 = 0: a double root at 64 = 4000 (0.02 - C).
    tangent = 0.02 - 64.0 / 4000.0
    for share in (0.05, 0.3):
        margin = match_margin(falling_then_rising(), tangent * (1 + share), tangent * (1 + share))
        assert margin.less_capacity == pytest.approx([1.0 - 1.0 / (1.0 + share)], rel=1e-12)
        at_start = 1000.0 / 50.0**2 - 8.0 / 50.0 + 0.02
        assert margin.more_capacity == pytest.approx(
            [at_start / (tangent * (1 + share)) - 1.0], rel=1e-12
        )


def test_lowest_torque_of_a_line_through_a_kink_is_by_hand():
    # 500 N.m up to 1000 rpm, 1000 N.m from 1010 rpm on; nothing else is driven. Flat torque has its
    # lowest capacity at the end of the flat part: K there is 1000 / sqrt(500) = 44.72.
    speed = np.array([700, 800, 900, 1000, 1010, 1500, 1800, 2200]) * RPM
    torque = [500, 500, 500, 500, 1000, 1000, 1000, 1000]
    supply = engine_supply(engine(low_idle=700 * RPM, speed=speed, torque=torque, accessories=()))
    k = 50.0
    margin = match_margin(supply, of_k(k), of_k(k))
    # The curve leaves 1000 rpm level, and its lowest point lies a fraction of these 10 rpm above.
    assert margin.less_torque == pytest.approx([1.0 - 1000**2 / 500 / k**2], abs=1e-3)
    assert margin.more_capacity == pytest.approx([k**2 / (1000**2 / 500) - 1.0], abs=1.5e-3)


def test_torque_margin_is_that_of_the_capacity_where_nothing_else_is_driven():
    # f T = C w^2 is T = (C / f) w^2.
    supply = engine_supply(hole_engine())
    margin = match_margin(supply, of_k(52.0), of_k(52.0))
    assert 1.0 / (1.0 - margin.less_torque) - 1.0 == pytest.approx(margin.more_capacity, rel=1e-9)


def test_extremum_is_the_one_that_an_optimizer_finds():
    loads = (Accessory(name="fan", power=20e3, at_speed=2200 * RPM, exponent=3.3),)
    supply = engine_supply(hole_engine().replace(accessories=loads))
    made = engine_supply(hole_engine())
    c = of_k(56.0)

    def needed(omega):
        taken = made.torque(omega) - supply.torque(omega)
        return (c * omega**2 + taken) / made.torque(omega)

    found = minimize_scalar(
        lambda w: -float(needed(w)), bounds=(1000 * RPM, 1400 * RPM), method="bounded",
        options={"xatol": 1e-9},
    )  # fmt: skip
    margin = match_margin(supply, c, c)
    assert margin.less_torque == pytest.approx([1.0 + found.fun], rel=1e-9)


def test_small_change_of_torque_jumps_past_the_margin_and_not_before():
    # A near tangent: 1 % or so less torque, and the engine stays in the hole.
    supply, pair = engine_supply(hole_engine()), converter()
    tight = pair.replace(capacity=pair.capacity * (60.0 / 49.4) ** 2)
    margin = match_margin(supply, of_k(49.4), of_k(49.4))
    assert 0.005 < margin.less_torque[0] < 0.03
    lost = float(margin.less_torque[0])
    before, after = (
        float(match(supply, tight, 0.0, torque_factor=1.0 - lost * share).from_idle().engine_speed)
        for share in (1 - BESIDE, 1 + BESIDE)
    )
    assert before > 1500 * RPM
    assert after < 1250 * RPM


def test_capacity_range_counts_as_a_whole():
    supply = engine_supply(hole_engine())
    # K = 46 and K = 50 have one match each, and everything between has three.
    assert match_margin(supply, of_k(50.0), of_k(50.0)).single.all()
    assert match_margin(supply, of_k(46.0), of_k(46.0)).single.all()
    both = match_margin(supply, of_k(50.0), of_k(46.0))
    assert not both.single.any()
    assert both.least.tolist() == [0.0]
    # Three matches at every capacity of a range are not one either.
    assert not match_margin(supply, of_k(48.0), of_k(47.5)).single.any()
    # Nor is an engine that the converter holds at idle: (700 / 20)^2 = 1225 N.m against 500.
    assert not match_margin(supply, of_k(20.0), of_k(20.0)).single.any()


def test_draws_have_each_their_own_margin():
    supply = engine_supply(engine())
    factors, loads = np.array([0.9, 1.0, 1.1]), np.array([1.2, 1.0, 0.8])
    capacity = of_k(60.0) * np.array([1.05, 1.0, 0.95])
    together = match_margin(supply, capacity, capacity, torque_factor=factors, load_factor=loads)
    for row in range(3):
        alone = match_margin(
            supply, capacity[row], capacity[row],
            torque_factor=factors[row], load_factor=loads[row],
        )  # fmt: skip
        for name in ("less_torque", "more_torque", "less_capacity", "more_capacity"):
            assert getattr(together, name)[row] == getattr(alone, name)[0], name


@pytest.mark.slow
@given(
    k=st.floats(35.0, 75.0),
    depth=st.floats(0.6, 1.1),
    fan=st.floats(0.0, 40e3),
    which=st.sampled_from(["less_torque", "more_torque", "less_capacity", "more_capacity"]),
)
def test_number_of_matches_changes_at_the_margin_and_not_before(k, depth, fan, which):
    """Brute force: each change a little less than the margin, and a little more."""
    hole = hole_engine()
    torque = hole.torque.copy()
    torque[2:5] *= depth
    fans = (Accessory(name="fan", power=fan, at_speed=2200 * RPM, exponent=3),)
    supply = engine_supply(hole.replace(torque=torque, accessories=fans))
    pair = converter().replace(capacity=converter().capacity * (60.0 / k) ** 2)
    c = float(pair.capacity_at(0.0))
    margin = match_margin(supply, c, c)
    here = match(supply, pair, 0.0)
    single = int(here.count) == 1 and bool(here.pulls_away)
    assert bool(margin.single[0]) == single
    change = float(getattr(margin, which)[0])
    if not single or not np.isfinite(change) or change < 1e-3 or change > 3.0:
        return
    sign = 1.0 if which.startswith("more") else -1.0
    key = "torque_factor" if which.endswith("torque") else "capacity_factor"

    def state(share):
        found = match(supply, pair, 0.0, **{key: 1.0 + sign * change * share})
        return int(found.count), bool(found.pulls_away)

    assert state(1 - BESIDE) == (1, True)
    assert state(1 + BESIDE) != (1, True)
    # And nowhere between: none is nearer.
    assert all(state(share) == (1, True) for share in np.linspace(0.0, 0.99, 12))


def test_margin_in_torque_is_a_root_of_the_jump_itself():
    supply = engine_supply(hole_engine())
    pair = converter().replace(capacity=converter().capacity * (60.0 / 55.0) ** 2)

    def stays(factor):
        speed = float(match(supply, pair, 0.0, torque_factor=factor).from_idle().engine_speed)
        return speed - 1400 * RPM

    edge = brentq(stays, 0.7, 1.0, xtol=1e-12)
    margin = match_margin(supply, of_k(55.0), of_k(55.0))
    assert margin.less_torque == pytest.approx([1.0 - edge], abs=1e-9)
