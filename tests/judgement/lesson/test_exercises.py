"""Answers of the lesson against sums done by hand on round numbers.

The hand sums use the definitions alone (K = N / sqrt(T), eta = nu mu, torques on the oil add up to
zero, T_sun : T_ring : T_carrier = 1 : k : 1 + k), not the solver.
"""

import math
import re

import numpy as np
import pytest

from converter_match import InputError, shipped
from converter_match.judgement.lesson.exercises import TOPICS, exercises
from converter_match.judgement.lesson.misconceptions import misconceptions
from converter_match.library.read import read_blading, read_converter, read_engine
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
    # a flat curve: speed goes with the root of torque, so it falls by so many percent
    "weaker-engine": 100.0 * (1.0 - math.sqrt(0.9)),
    # 400 N.m behind the same converter: 60 x 20
    "another-engine": 1200.0,
    # K is 82 at the coupling point: 82 x 30 = 2460 rpm is above rated, see the test below
    # clutch: nine tenths of 1800 rpm is 1600 to the nearest 50; half of (1600 / 60)^2 N.m there
    "clutch-heat": 0.5 * (1600 / 60) ** 2 * 1600 * math.pi / 30 * (1 - math.sqrt(0.5)) / 1e3,
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
    assert found["slip-at-coupling"].shown == pytest.approx(0.14 * 82 * math.sqrt(500.0), rel=1e-6)
    # without a stator at speed ratio 0.7 the loss is 30 %. K lies between those of 0.6 and 0.8,
    # less what the impeller takes more without a stator: a factor up to 2.6 at stall (capacity of
    # the coupling range, or the rule of thumb) falling in a straight line to 1 at 0.86.
    slip = found["heat-of-slip"].shown
    most = 1.0 + 1.6 * (1.0 - 0.7 / 0.86)
    assert 0.3 * 500 * 66 * math.sqrt(500 / most) < slip * 1e3 / (math.pi / 30)
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
    assert first["divider-at-stall"].answer == pytest.approx(
        second["divider-at-stall"].answer, rel=1e-9
    )


def demo_converter():
    return read_converter(shipped("converters")["single-stage-345mm-tight"])


def shipped_pair(engine_id, converter_id):
    return (
        read_engine(shipped("engines")[engine_id]),
        read_converter(shipped("converters")[converter_id]),
    )


LOOSE = ("six-cylinder-15l-400kw", "single-stage-260mm")
LATE = ("six-cylinder-8l-205kw-late-boost", "single-stage-380mm-tight")


@pytest.mark.parametrize("pair", [("six-cylinder-7l-185kw", "single-stage-345mm-tight"), LOOSE])
def test_no_question_of_a_number_holds_its_answer(pair, blading):
    for item in exercises(*shipped_pair(*pair), blading=blading):
        if item.key != "power-at-stall":  # whose answer is 0
            assert f"{item.shown:{item.form}} {item.unit}".strip() not in item.question, item.key


@pytest.mark.parametrize("pair", [("six-cylinder-7l-185kw", "single-stage-345mm-tight"), LOOSE])
def test_the_root_is_right_only_where_the_torque_is_flat(pair):
    naive = 100.0 * (1.0 - math.sqrt(0.9))
    item = by_key(*shipped_pair(*pair))["weaker-engine"]
    assert item.is_close(item.shown)
    assert not item.is_close(naive)
    assert by_key(flat(900.0), converter())["weaker-engine"].is_close(naive)


def test_an_engine_on_its_governor_hardly_shows_that_it_is_weak():
    item = by_key(*shipped_pair(*LOOSE))["weaker-engine"]
    assert "the governor holds the speed" in item.working
    assert "% for each % of speed" not in item.working
    item = by_key(flat(900.0), converter())["weaker-engine"]
    assert "governor" not in item.working


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


def lock_up(*pair):
    [found] = [item for item in misconceptions(*pair) if item.belief == "Lock-up gives more pull."]
    gains = [float(locked) / float(opened) for _, opened, locked, _ in found.rows]
    return found.truth, gains


def test_what_is_said_of_lock_up_is_what_the_table_shows():
    # The columns themselves are checked by hand above: a flat curve is flat when locked.
    truth, gains = lock_up(*shipped_pair(*LOOSE))
    assert min(gains) > 1.5
    assert "never loads it; there lock-up pulls far more" in truth
    truth, gains = lock_up(*shipped_pair("six-cylinder-15l-400kw", "single-stage-420mm"))
    assert gains[0] < 1 < gains[1]
    assert "less at low turbine speed and more at high" in truth
    # 500 N.m at every speed: at the coupling point (torque ratio 1) both pull the same.
    truth, gains = lock_up(flat(500.0), converter())
    assert max(gains[:-1]) < 1
    assert gains[-1] == pytest.approx(1.0, abs=0.005)
    assert "never pulls more: less, or at best the same" in truth
    # Torque that rises with speed: locked the engine runs slower and has less.
    speed = np.linspace(800, 2200, 15) * RPM
    rising = engine(speed=speed, torque=900.0 * (speed / speed[-1]) ** 1.5, accessories=())
    truth, gains = lock_up(rising, converter())
    assert max(gains) < 1
    assert "less at every speed" in truth


def test_a_pair_with_three_matches_says_why_its_power_jumps():
    [power, *_] = misconceptions(*shipped_pair(*LATE))
    inputs = [float(row[2]) for row in power.rows]
    assert max(np.diff(inputs)) > 100.0
    assert "three matches" in power.truth
    assert "jump, in the table too" in power.truth
    [power, *_] = misconceptions(flat(900.0), converter())
    assert "matches" not in power.truth
