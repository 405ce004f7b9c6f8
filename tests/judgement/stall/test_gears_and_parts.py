"""In which gears a stall is no test, and a band in two parts: what the sheet of a test rests on."""

import json

import numpy as np
import pytest

from converter_match.components.reading import StallReading
from converter_match.errors import InputError
from converter_match.judgement.stall.band import Band, band_of
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.gears import to_be_held
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.stall.settling import density_factor, settling_speed
from tests.examples import RPM, converter, hole_engine
from tests.judgement.stall.test_stall import OIL, setup
from tests.machines import driveline, gear, machine, surface

WEIGHT = 15_000.0 * 9.80665  # of the empty test machine, all wheels driven [N]


def codes(answer):
    return {note.code: note.kind for note in answer.notes}


# --- pull and grip --------------------------------------------------------------------------------


def test_gears_stand_from_the_highest_down_then_reverse():
    tests = expect(setup()).gears
    ratios = [test.overall_ratio for test in tests if test.direction == "forward"]
    assert ratios == sorted(ratios)
    assert len(ratios) == 3
    assert [test.direction for test in tests] == ["forward"] * 3 + ["reverse"]


def test_pull_is_that_of_the_highest_stall_speed_and_grip_that_of_the_empty_machine():
    found = expect(setup(surface=surface(traction=0.6)))
    # By hand: mu(0) C(0) omega^2 less the drag of 5 N.m, times ratio and both efficiencies over the
    # radius of the test driveline and machine.
    torque = 2.2 * found.setup.capacity() * found.band.high**2 - 5.0
    for test in found.gears:
        by_hand = torque * test.overall_ratio * 0.96 * 0.95 / 0.75
        assert test.pull == pytest.approx(by_hand)
        assert test.grip == pytest.approx(0.6 * WEIGHT)
        assert test.breaks_loose is (by_hand > 0.6 * WEIGHT)
    laden = expect(setup(surface=surface(traction=0.6), load="laden")).gears[0]
    assert laden.grip == pytest.approx(0.6 * WEIGHT * 20 / 15)


def test_gear_that_breaks_loose_is_named_and_no_test():
    pulls = sorted(test.pull for test in expect(setup()).gears)
    between = 0.5 * (pulls[-1] + pulls[-2]) / WEIGHT
    found = expect(setup(surface=surface(traction=between)))
    [loose] = [test for test in found.gears if test.breaks_loose]
    assert loose.pull == pytest.approx(pulls[-1])
    assert loose not in to_be_held(found.gears)
    assert codes(found)["breaks-loose"] == "warning"
    assert not found.fails
    told = {row["gear"]: row["breaks_loose"] for row in found.to_dict()["gears"]}
    assert told[loose.gear] is True
    assert sum(told.values()) == 1
    every = expect(setup(surface=surface(traction=0.5 * pulls[0] / WEIGHT)))
    assert codes(every)["breaks-loose-in-every-gear"] == "limit"
    assert every.fails
    assert to_be_held(every.gears) == []


@pytest.mark.slow
def test_what_is_not_known_of_pull_and_grip_is_said_and_strikes_nothing_out():
    plain = expect(setup())
    assert codes(plain)["ground-not-given"] == "caution"
    assert {test.breaks_loose for test in plain.gears} == {None}
    no_grip = expect(setup(surface=surface(traction=None)))
    assert "traction-not-known" in codes(no_grip)
    assert {test.grip for test in no_grip.gears} == {None}
    bare = expect(setup(machine=None))
    assert codes(bare)["pull-not-known"] == "caution"
    assert {test.pull for test in bare.gears} == {None}
    assert expect(setup(driveline=None)).gears == ()
    with pytest.raises(InputError, match="load"):
        setup(load="half")


def test_keys_of_the_gears():
    [row, *_] = json.loads(json.dumps(expect(setup()).to_dict()["gears"]))
    assert row.keys() == {
        "gear", "direction", "overall_ratio", "pull_kn", "grip_kn", "breaks_loose"
    }  # fmt: skip


def test_gears_of_one_ratio_keep_forward_before_reverse():
    line = driveline(gears=(gear("1", 4.0), gear("R", 1.0, direction="reverse"), gear("2", 2.0)))
    names = [test.label for test in expect(setup(driveline=line, machine=machine())).gears]
    assert names == ["2", "1", "R"]


# --- a band in two parts --------------------------------------------------------------------------


def edge(**changes):
    """Return a setup whose converter takes just what the engine has in its torque hole."""
    supply = engine_supply(hole_engine())
    speeds = np.linspace(900, 1250, 200) * RPM
    bottom = float((supply.torque(speeds) / speeds**2).min())
    scale = bottom / float(converter().capacity_at(0.0))
    unit = converter(capacity=converter().capacity * scale)
    return setup(engine=hole_engine(), converter=unit, relief_torque=None, **changes)


@pytest.fixture(scope="module")
def split():
    return expect(edge())


@pytest.mark.parametrize("coverage", [0.8, 0.95])
def test_both_parts_together_hold_as_many_healthy_machines_as_they_say(coverage):
    given = edge(coverage=coverage)
    band = expect(given).band
    assert len(band.parts) == 2
    tol, rng, n = given.tolerances, np.random.default_rng(5), 4000
    f = 1 + tol.sigma("engine_torque") * rng.standard_normal(n)
    f *= 1 + tol.sigma("air") * rng.standard_normal(n)
    g = 1 + tol.sigma("capacity") * rng.standard_normal(n)
    g *= density_factor(OIL + tol.sigma("oil_temperature") * rng.standard_normal(n))
    read = settling_speed(engine_supply(given.engine), given.stall_capacity * g, f)
    read = read[~given.stuck(read)]
    read = read + tol.sigma("reading") * rng.standard_normal(read.size)
    inside = np.mean([band.place(speed) == "inside" for speed in read])
    assert inside == pytest.approx(coverage, abs=0.03)
    between = np.mean([band.place(speed) == "outside" for speed in read])
    assert between < 1.0 - coverage


def test_reading_between_the_parts_is_outside(split):
    low, high = split.band.gap
    assert split.band.low < low < high < split.band.high
    middle = 0.5 * (low + high)
    assert [split.band.place(v) for v in (low, middle, high)] == ["inside", "outside", "inside"]
    found = diagnose(split.setup, [StallReading(engine_speed=middle, gear="3", brakes="held")])
    assert found.judged[0].place == "outside"
    assert found.fails
    assert "is in two parts" in found.text()


def test_both_parts_stand_in_text_and_data(split):
    lines = [line.split() for line in split.text().splitlines()]
    at = next(row for row, line in enumerate(lines) if line[:2] == ["converter", "stall"])
    low, high = split.band.gap
    numbers = [[float(word) for word in line if word.isdigit()] for line in lines[at : at + 2]]
    assert numbers[0][:2] == pytest.approx([split.band.low / RPM, low / RPM], abs=0.51)
    assert numbers[1] == pytest.approx([high / RPM, split.band.high / RPM], abs=0.51)
    told = split.to_dict()["expected"]["gap_rpm"]
    assert told == pytest.approx([low / RPM, high / RPM])
    [note] = [note for note in split.notes if note.code == "band-in-two-parts"]
    assert dict(note.values)["low"] == low
    assert expect(setup()).to_dict()["expected"]["gap_rpm"] is None


def test_published_span_in_the_gap_meets_neither_part(split):
    low, high = split.band.gap
    third = (high - low) / 3
    inside = expect(edge(published=(low + third, high - third)))
    assert "published-elsewhere" in codes(inside)
    over = expect(edge(published=(low - 1.0, high - third)))
    assert "published-elsewhere" not in codes(over)


def test_a_few_stray_machines_are_no_part_of_a_band():
    given = setup()
    speeds = np.concatenate([np.full(2040, 180.0), np.full(8, 120.0)])
    assert band_of(given, None, speeds).gap is None
    many = np.concatenate([np.full(1900, 180.0), np.full(148, 120.0)])
    gap = band_of(given, None, many).gap
    assert 120.0 < gap[0] < gap[1] < 180.0
    assert Band(None, None, None, 0.95).parts == ()
