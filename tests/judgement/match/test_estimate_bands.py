"""What an estimated converter leaves open: a band on every figure that a decision rests on."""

import dataclasses
import json
import math

import pytest

from converter_match.components.converter_estimate import estimated_converter
from converter_match.components.duty_points import DutyPoints
from converter_match.components.stall_datum import StallDatum
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.haul.short_cycle import work_cycle
from converter_match.judgement.match.duty import over_duty
from converter_match.judgement.match.governed import governed_lower
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.size import size_for_efficiency, size_for_speed
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.hold import stall_hold
from converter_match.judgement.stall.setup import StallSetup
from converter_match.judgement.wheels.acceleration import acceleration
from converter_match.judgement.wheels.tractive import tractive
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.read import read_driveline, read_machine
from converter_match.library.shipped import find
from tests.examples import RPM, converter, engine
from tests.haul_examples import road
from tests.machines import driveline, machine, surface

DATUM = StallDatum(engine_speed=1850 * RPM, input_torque=830.0, torque_ratio=(2.0, 2.4))
PARTS = (driveline(), machine())
CYCLE = "loader-truck-loading"
LOADER = (
    read_driveline(find("drivelines", "four-speed-loader")),
    read_machine(find("machines", "wheel-loader-17t")),
)
DAY = DutyPoints(
    id="day", name="A day", source="a test", label=("dig", "drive"), share=[0.4, 0.6],
    speed_ratio=[0.2, 0.7], turbine_speed=[math.nan] * 2,
)  # fmt: skip


def unit():
    return estimated_converter(
        DATUM, id="e", name="Unit of the winch", source="a test", stator="one-way",
        profile_diameter=0.345,
    )  # fmt: skip


ANSWERS = {
    "tractive": lambda match: tractive(match, *PARTS, surface(), grades=(0.0, 0.1, 0.25)),
    "accelerate": lambda match: acceleration(match, *PARTS, surface(), to_speed=5.0),
    "route": lambda match: haul(match, *PARTS, road([0.02, 0.08], [200.0, 100.0], limit=8.0)),
    "cycle": lambda match: work_cycle(match, *LOADER, read_cycle(find("cycles", CYCLE))),
    "duty": lambda match: over_duty(match, DAY),
    "governed": lambda match: governed_lower(match, [2000 * RPM]),
}


def band_in(told):
    found = told.get("estimate")
    for part in ("duty", "governed_lower"):
        found = told.get(part, {}).get("estimate", found) if isinstance(told, dict) else found
    return found


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(ANSWERS))
def test_band_is_least_and_most_of_what_the_converter_may_be_each_by_itself(name):
    given, answer = unit(), ANSWERS[name]
    middle = answer(solve(engine(), given))
    # Each published shape by itself, taken for data: nothing of the estimate is left.
    alone = [answer(solve(engine(), other)) for other in given.alternatives]
    assert len(alone) >= 4
    assert all(one.alternatives == () for one in alone)
    told = json.loads(json.dumps(middle.to_dict(), allow_nan=False))
    spread = band_in(told)
    assert spread
    everywhere = [dict(one.decisive()) for one in (middle, *alone)]
    plain = [{head.plain_key: head.plain(v) for head, v in one.items()} for one in everywhere]
    for key, found in spread.items():
        values = [one.get(key) for one in plain]
        known = [value for value in values if value is not None]
        if not known:
            assert found is None
            continue
        assert found["low"] == pytest.approx(min(known))
        assert found["high"] == pytest.approx(max(known))
        assert found["value"] == (None if values[0] is None else pytest.approx(values[0]))
    assert any(f and f["high"] > f["low"] * 1.01 for f in spread.values())
    assert "ESTIMATED converter" in middle.text()
    assert "ESTIMATED converter" in middle.text("us")
    assert band_in(ANSWERS[name](solve(engine(), converter())).to_dict()) is None


@pytest.mark.slow
def test_name_of_an_estimate_says_so_wherever_it_stands():
    match = solve(engine(), unit())
    assert "Unit of the winch (estimated)" in match.text()
    assert "Unit of the winch (estimated)" in ANSWERS["tractive"](match).text()
    named = unit().replace(name="Estimated unit")
    assert named.title == "Estimated unit"
    assert converter().title == converter().name


def test_stall_and_hold_of_an_estimate_have_the_spread_of_its_torque_ratio():
    given = StallSetup(
        engine=engine(), converter=unit(), driveline=driveline(), machine=machine(),
        surface=surface(),
    )  # fmt: skip
    found = expect(given)
    spread = found.to_dict()["estimate"]
    assert (spread["stall_torque_ratio"]["low"], spread["stall_torque_ratio"]["high"]) == (
        pytest.approx((2.0, 2.4))
    )
    # The stall is what is known: all of them take 830 N.m at 1850 rpm.
    speed = spread["stall_speed_rpm"]
    assert speed["low"] == pytest.approx(speed["high"])
    for test in found.gears:
        pull = spread[f"pull_gear_{test.gear}_kn"]
        # The table of gears, and what is struck out, count with the most.
        assert pull["high"] == pytest.approx(test.pull / 1e3)
        assert pull["low"] / pull["high"] == pytest.approx(2.0 / 2.4)
    assert "ESTIMATED converter" in found.text()
    held = stall_hold(given)
    assert held.to_dict()["estimate"]["stall_speed_rpm"]["value"] == pytest.approx(speed["value"])
    assert "ESTIMATED converter" in held.text()
    bare = StallSetup(engine=engine(), converter=converter())
    assert "estimate" not in expect(bare).to_dict()


@pytest.mark.slow
def test_size_from_an_estimate_has_a_band_where_the_shapes_differ():
    at_stall = size_for_speed(engine(), unit(), 2000 * RPM)
    factor = dict(at_stall.to_dict()["estimate"])["capacity_factor"]
    assert factor["low"] == pytest.approx(factor["high"])
    moving = size_for_speed(engine(), unit(), 2000 * RPM, speed_ratio=0.7)
    efficient = size_for_efficiency(engine(), unit(), 2000 * RPM, level=0.75)
    for size in (moving, efficient):
        found = size.to_dict()["estimate"]["capacity_factor"]
        alone = [other.capacity_factor for other in size.alternatives if other.possible]
        assert found["low"] == pytest.approx(min([*alone, size.capacity_factor]))
        assert found["high"] == pytest.approx(max([*alone, size.capacity_factor]))
        assert found["high"] > found["low"] * 1.01
        assert "ESTIMATED converter" in size.text()
    assert "estimate" not in size_for_speed(engine(), converter(), 2000 * RPM).to_dict()


@pytest.mark.slow
def test_figure_that_only_some_can_have_says_in_how_many():
    match = solve(engine(), unit())
    found = ANSWERS["accelerate"](match)
    none = dataclasses.replace(
        found,
        alternatives=(
            *found.alternatives[1:], dataclasses.replace(found.alternatives[0], to_speed=500.0),
        ),
    )  # fmt: skip
    count = len(found.alternatives) + 1
    assert f"time to the target speed (in {count - 1} of {count})" in none.text()
