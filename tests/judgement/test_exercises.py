"""Answers of the lesson against sums done by hand on round numbers.

The hand sums use the definitions alone (K = N / sqrt(T), eta = nu mu, torques on the oil add up to
zero, T_sun : T_ring : T_carrier = 1 : k : 1 + k), not the solver.
"""

import math
import re

import numpy as np
import pytest

from converter_match import InputError, read_converter, read_engine, shipped
from converter_match.judgement.exercises import TOPICS, exercises
from converter_match.judgement.misconceptions import misconceptions
from converter_match.library.read import read_blading
from tests.examples import RPM, converter, engine


@pytest.fixture(scope="module")
def blading():
    return read_blading(shipped("blading")["loader-390mm"])


def flat(torque, **changes):
    """An engine of one torque at every speed, with nothing to drive but the converter."""
    speed = np.array([800, 2200]) * RPM
    return engine(speed=speed, torque=[torque, torque], accessories=(), **changes)


def by_key(*pair, **options):
    return {item.key: item for item in exercises(*pair, **options)}


# K at stall is 60 rpm/sqrt(N.m) and the torque ratio 2.2; 900 N.m make 60 x 30 = 1800 rpm.
HAND = {
    "stall-speed": 1800.0,
    "stator-torque": 1.2 * 900.0,
    "power-at-stall": 0.0,
    # a flat curve: speed goes with the root of torque
    "weaker-engine": 1800.0 * math.sqrt(0.9),
    # 400 N.m behind the same converter: 60 x 20
    "another-engine": 1200.0,
    "efficiency-at-coupling": 0.86,
    # K is 82 at the coupling point: 82 x 30 = 2460 rpm is above rated, see the test below
    # clutch: 450 N.m x 1800 rpm x (1 - sqrt(0.5))
    "clutch-heat": 450.0 * 1800 * math.pi / 30 * (1 - math.sqrt(0.5)) / 1e3,
    # m = 2.2, k = 2.5: 2.2 x 1.4 / (1 + 0.88)
    "divider-at-stall": 2.2 * 1.4 / 1.88,
}


@pytest.mark.parametrize("key", HAND)
def test_answer_agrees_with_the_sum_done_by_hand(key):
    found = by_key(flat(900.0), converter(), other_engine=flat(400.0))
    assert found[key].shown == pytest.approx(HAND[key], rel=1e-6, abs=1e-9)


def test_slip_of_a_coupling_and_heat_spared_by_hand():
    # 500 N.m: at the coupling point 82 x sqrt(500) = 1833.6 rpm, below rated speed 2200.
    found = by_key(flat(500.0), converter())
    power = 500.0 * 82 * math.sqrt(500.0) * math.pi / 30 / 1e3
    assert found["heat-spared"].shown == pytest.approx(0.14 * power, rel=1e-6)
    # without a stator at speed ratio 0.7: K lies between those of 0.6 and 0.8, the loss is 30 %
    slip = found["heat-of-slip"].shown
    assert 0.3 * 500 * 66 * math.sqrt(500) < slip * 1e3 / (math.pi / 30)
    assert slip * 1e3 / (math.pi / 30) < 0.3 * 500 * 75 * math.sqrt(500)


def test_seized_stator_is_worse_than_a_free_one_past_the_coupling_point(blading):
    item = by_key(flat(900.0), converter(), blading=blading)["stator-held"]
    assert 0.5 < item.answer < 0.95


@pytest.mark.parametrize("converter_id", ["single-stage-345mm-tight", "single-stage-345mm-loose"])
def test_a_pocket_calculator_agrees_with_the_product_that_is_printed(blading, converter_id):
    item = by_key(
        read_engine(shipped("engines")["six-cylinder-7l-185kw"]),
        read_converter(shipped("converters")[converter_id]),
        blading=blading,
    )["stator-held"]
    [(one, two, product)] = re.findall(r"([\d.]+) x ([\d.]+) = ([\d.]+),", item.working)
    assert float(one) * float(two) == pytest.approx(float(product), abs=0.001)
    assert f"falls to {two} " in item.question


def test_another_engine_changes_the_answers():
    first = by_key(read_engine(shipped("engines")["six-cylinder-7l-185kw"]), demo_converter())
    second = by_key(read_engine(shipped("engines")["six-cylinder-10l5-138kw"]), demo_converter())
    for key in ("stall-speed", "stator-torque", "weaker-engine", "clutch-heat", "heat-spared"):
        assert first[key].answer != pytest.approx(second[key].answer, rel=0.01)
    # but what belongs to the converter alone stays
    for key in ("efficiency-at-coupling", "divider-at-stall"):
        assert first[key].answer == pytest.approx(second[key].answer, rel=1e-9)


def demo_converter():
    return read_converter(shipped("converters")["single-stage-345mm-tight"])


def test_every_topic_has_an_exercise(blading):
    found = exercises(flat(900.0), converter(), other_engine=flat(400.0), blading=blading)
    assert {item.topic for item in found} == {key for key, _ in TOPICS}


def test_answers_in_us_units_are_the_same_quantities():
    si, us = (by_key(flat(900.0), converter(), system=system) for system in ("si", "us"))
    assert us["stator-torque"].unit == "lbf·ft"
    assert us["stator-torque"].shown == pytest.approx(
        si["stator-torque"].shown / 1.3558179483, 1e-9
    )
    assert "N·m" not in us["stator-torque"].question + us["stator-torque"].working


def test_a_prediction_is_judged_by_how_near_it_is():
    item = by_key(flat(900.0), converter())["stall-speed"]
    assert item.is_close(1800.0 * 1.02)
    assert not item.is_close(1800.0 * 1.05)
    assert "too high" in item.verdict(2000.0)
    assert "too low" in item.verdict(1500.0)
    assert item.verdict(1800.0).startswith("You predicted 1800 rpm: right.")
    for nothing in (None, math.nan):
        assert item.verdict(nothing) == "No prediction was made. Answer: 1800 rpm."


def test_a_zero_answer_accepts_only_a_small_prediction():
    item = by_key(flat(900.0), converter())["power-at-stall"]
    assert item.is_close(0.0)
    assert not item.is_close(50.0)


def test_a_converter_without_a_coupling_point_cannot_carry_the_lesson():
    fixed = read_converter(shipped("converters")["fixed-stator-400mm-high-ratio"])
    with pytest.raises(InputError, match="coupling point"):
        exercises(flat(900.0), fixed)


def test_an_engine_that_cannot_hold_the_converter_is_named():
    with pytest.raises(InputError, match="weakling"):
        exercises(flat(50.0, id="weakling"), converter())


def test_misconceptions_are_answered_with_numbers_that_add_up():
    found = misconceptions(flat(900.0), converter(), other_engines=[flat(400.0)])
    power = found[0]
    for _, mu, power_in, power_out, heat in power.rows:
        assert float(power_out) <= float(power_in)
        assert float(power_in) - float(power_out) == pytest.approx(float(heat), abs=0.11)
        assert float(mu) >= 1
    assert [row[2] for row in found[1].rows] == ["1800", "1200"]
    locked = found[3].rows
    assert [row[2] for row in locked] == ["900", "900", "900"]
    assert float(locked[0][1]) > 900
