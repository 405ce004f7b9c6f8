"""A load behind a match: what is said of it, layer by layer, and what is refused."""

import json

import numpy as np
import pytest

from converter_match.components.load import Conveyor, FlowMachine
from converter_match.errors import InputError
from converter_match.judgement.load.load import over_load
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter, read_engine, read_load
from converter_match.library.shipped import find
from tests.examples import RPM, converter, engine, full_range
from tests.load_examples import load, winch
from tests.study_examples import flat_engine


def hoist(**changes):
    return load(winch(**changes), ratio=25.0, efficiency=0.9)


@pytest.fixture(scope="module")
def match():
    return solve(engine(), full_range())


def codes(answer):
    return [note.code for note in answer.notes]


@pytest.mark.slow
def test_each_layer_runs_at_the_speed_at_which_the_turbine_gives_its_torque(match):
    answer = over_load(match, hoist())
    data = answer.to_dict()["load"]
    assert [row["layer"] for row in data["lines"]] == [1, 2, 3]
    for row, radius in zip(data["lines"], (0.21, 0.23, 0.25), strict=True):
        assert row["torque_at_rest_nm"] == pytest.approx(50e3 * radius / (25.0 * 0.9))
        rope = row["turbine_speed_rpm"] * RPM / 25.0 * radius * 60.0
        assert row["rope_speed_m_per_min"] == pytest.approx(rope)
        stall = row["stall_torque_nm"] * 25.0 * 0.9 / radius / 1e3
        assert row["pull_at_stall_kn"] == pytest.approx(stall)
    for row in data["equilibria"]:
        if row["turbine_speed_rpm"] > 0.0:
            held = 50e3 * (0.19 + 0.02 * row["layer"]) / (25.0 * 0.9)
            assert row["turbine_torque_nm"] == pytest.approx(held, rel=1e-9)
            given = row["input_torque_nm"] * row["engine_speed_rpm"] * RPM / 1e3
            assert given == pytest.approx(row["output_power_kw"] + row["heat_kw"], rel=1e-9)


@pytest.mark.slow
def test_every_word_of_the_answer_is_plain_data(match):
    answer = over_load(match, hoist())
    json.dumps(answer.to_dict(), allow_nan=False)
    assert "rope" in answer.text("us", 100)
    assert "ft/min" in answer.text("us")


@pytest.mark.slow
def test_a_hanging_load_is_held_between_two_engine_speeds(match):
    # T = mu(0) C(0) omega^2, by hand for the first layer.
    data = over_load(match, hoist(breakaway_pull=60e3, lowering_efficiency=0.8)).to_dict()["load"]
    unit = match.converter
    per = float(unit.torque_ratio_at(0.0) * unit.capacity_at(0.0))
    sinks = np.sqrt(50e3 * 0.21 * 0.8 / 25.0 / per)
    rises = np.sqrt(60e3 * 0.21 / (25.0 * 0.9) / per)
    first = data["holding"][0]
    assert first["sinks_below_rpm"] == pytest.approx(sinks / RPM)
    assert first["rises_above_rpm"] == pytest.approx(rises / RPM)
    assert first["heat_kw"] == pytest.approx(float(unit.capacity_at(0.0)) * rises**3 / 1e3)
    assert first["at_idle"] == "rests"


@pytest.mark.parametrize(("pull", "does"), [(120e3, "sinks"), (60e3, "rests"), (21e3, "rises")])
def test_what_a_hanging_load_does_in_gear_at_idle_is_said(match, pull, does):
    answer = over_load(match, hoist(line_pull=pull, layers=1, lowering_efficiency=0.5))
    low, high = answer.hanging[0].sinks_below, answer.hanging[0].rises_above
    idle = match.engine.low_idle
    assert answer.hanging[0].at_idle == does
    assert {"sinks": low > idle, "rests": low <= idle <= high, "rises": high < idle}[does]


@pytest.mark.slow
def test_lowering_turns_the_work_of_load_and_engine_into_heat(match):
    rows = over_load(match, hoist()).to_dict()["load"]["lowering"]
    assert {row["speed_ratio"] for row in rows} == {-0.2, -0.4, -0.7}
    for row in rows:
        engine_power = row["input_torque_nm"] * row["engine_speed_rpm"] * RPM / 1e3
        load_power = row["turbine_torque_nm"] * -row["turbine_speed_rpm"] * RPM / 1e3
        assert row["heat_kw"] == pytest.approx(engine_power + load_power)
        assert row["rope_speed_m_per_min"] < 0.0
        assert row["turbine_speed_rpm"] == pytest.approx(
            row["speed_ratio"] * row["engine_speed_rpm"]
        )


@pytest.mark.slow
def test_a_hanging_load_never_goes_without_its_cautions(match):
    answer = over_load(match, hoist())
    assert {"load-hangs", "rope-under-tension", "lowering-heats-oil"} <= set(codes(answer))
    said = answer.text()
    assert "brake" in said
    assert "maker's procedure" in said
    hauled = over_load(match, load(winch(work="haul"), ratio=25.0))
    assert "load-hangs" not in codes(hauled)
    assert hauled.hanging == ()


def test_without_data_below_zero_lowering_is_not_looked_at_and_that_is_said():
    answer = over_load(solve(engine(), converter()), hoist())
    assert "lowering-not-known" in codes(answer)
    assert "lowering" not in answer.to_dict()["load"]


def test_a_load_that_pulls_the_turbine_backwards_without_data_there_is_refused_in_one_line():
    with pytest.raises(InputError) as refused:
        over_load(solve(engine(), converter()), hoist(line_pull=300e3))
    said = str(refused.value)
    assert "layer 1 of rope pulls the turbine backwards" in said
    assert "begin at speed ratio 0" in said
    assert "\n" not in said


def test_a_load_that_pulls_the_turbine_backwards_is_a_limit_where_that_is_known(match):
    # With the engine's torque about the same, the turbine gives at most 2.6 / 2.2 of it backwards.
    stall = match.stall.turbine_torque
    held, falls = (
        over_load(match, hoist(line_pull=share * stall * 25.0 / 0.9 / 0.21, layers=1))
        for share in (1.03, 1.4)
    )
    for answer in (held, falls):
        assert answer.fails
        assert {"load-does-not-start", "load-not-held"} <= set(codes(answer))
    found = held.carried[0].found
    assert found.stable.tolist() == [True]
    assert found.speed.max() < 0.0
    assert found.states.units[0].speed_ratio.min() >= -0.7
    assert "load-falls" in codes(falls)
    assert "load-falls" not in codes(held)


def test_a_load_that_does_not_start_fails_and_a_little_less_does_not(match):
    stall = match.stall.turbine_torque
    heavy, light = (
        over_load(match, load(Conveyor(torque=500.0, breakaway_torque=share * stall)))
        for share in (1.001, 0.999)
    )
    assert heavy.fails
    assert "load-does-not-start" in codes(heavy)
    assert not light.fails
    assert light.starts


def test_a_load_deep_in_slip_is_warned_of(match):
    stall = match.stall.turbine_torque
    slow, fast = (over_load(match, load(Conveyor(torque=share * stall))) for share in (0.9, 0.5))
    assert "load-in-slip" in codes(slow)
    assert "load-in-slip" not in codes(fast)


def test_an_engine_that_cannot_hold_idle_starts_nothing():
    weak = solve(flat_engine(120.0), converter())
    answer = over_load(weak, load(Conveyor(torque=50.0)))
    assert answer.fails
    assert "load-start-not-known" in codes(answer)


def test_the_run_up_says_what_it_lacks(match):
    pump = FlowMachine(machine="pump", torque=600.0, speed=200.0)
    without = over_load(match, load(pump))
    assert "run-up-not-timed" in codes(without)
    assert "gives no inertia" in without.text()
    lacking = over_load(match, load(pump, inertia=3.0))
    assert "test-engine gives no inertia" in lacking.text()


@pytest.mark.slow
def test_the_longer_the_run_up_the_greater_the_inertia():
    pair = solve(
        read_engine(find("engines", "six-cylinder-7l-185kw")),
        read_converter(find("converters", "single-stage-345mm-tight")),
    )
    pump = read_load(find("loads", "quarry-drain-pump"))
    one, two = (
        over_load(pair, pump.replace(inertia=factor * pump.inertia)).run_up for factor in (1, 3)
    )
    assert one.time < two.time
    assert one.heat < two.heat


@pytest.mark.slow
def test_an_estimated_converter_gives_a_band():
    from converter_match.components.converter_estimate import estimated_converter
    from converter_match.components.stall_datum import StallDatum

    datum = StallDatum(engine_speed=1800 * RPM, input_torque=850.0)
    unit = estimated_converter(datum, id="e", name="e", source="a test", stator="one-way")
    answer = over_load(solve(engine(), unit), load(Conveyor(torque=600.0)))
    assert answer.alternatives
    band = answer.to_dict()["load"]["estimate"]["turbine_speed_rpm"]
    assert band["low"] < band["high"]
