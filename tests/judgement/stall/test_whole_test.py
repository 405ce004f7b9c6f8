"""The stall test on machines simulated apart from the package: false alarms, findings, checks."""

import numpy as np
import pytest

from converter_match.components.reading import StallReading
from converter_match.judgement.stall.checks import CHECKS, HARMFUL, next_check
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.inversion import invert, together
from converter_match.judgement.stall.whole_test import bands_of_test
from tests.simulated_stalls import (
    FAMILY,
    PLANS,
    READING,
    RIGS,
    RPM,
    Planted,
    case,
    drawn,
    not_told_from,
    readings_of,
    settles,
)


@pytest.mark.slow
def test_as_many_healthy_machines_as_stated_are_inside_in_every_reading():
    rng = np.random.default_rng(31)
    rig, plan = RIGS[0], PLANS["with governed speed"]
    bands = bands_of_test(rig.setup(), readings_of(rig, plan, Planted()))
    inside, one = 0, 0
    for _ in range(600):
        read = readings_of(
            rig, plan, drawn(Planted(), rng), lambda: rng.standard_normal() * READING / 1.96
        )
        places = [
            band.place(reading.engine_speed) == "inside"
            for band, reading in zip(bands, read, strict=True)
        ]
        inside += all(places)
        one += places[0]
    # 600 machines: standard error 0.9 %.
    assert inside / 600 == pytest.approx(0.95, abs=0.027)
    assert one > inside


def test_single_reading_has_the_band_of_one_reading():
    rig = RIGS[0]
    setup = rig.setup()
    [reading] = readings_of(rig, ["1"], Planted())
    [band] = bands_of_test(setup, [reading])
    twice = bands_of_test(setup, [reading, reading])
    assert band.coverage == twice[0].coverage == setup.coverage
    assert twice[0].high - twice[0].low > band.high - band.low


@pytest.mark.parametrize("rig", RIGS, ids=lambda rig: rig.name)
def test_a_third_low_in_one_gear_puts_the_stator_first(rig):
    # About a third lower: common practice, no source.
    low = 0.67 * settles(rig, "1", Planted())[0]
    reading = StallReading(engine_speed=low, gear="1", brakes="held", oil_temperature=361.15)
    assert diagnose(rig.setup(), [reading], rig.library()).findings[0].code == "stator-slips"


@pytest.mark.slow
@pytest.mark.parametrize(
    "state",
    ["engine-down", "stator-slips", "clutch-gear", "other-size", "load-stuck-on", "tachometer-off"],
)
def test_what_is_planted_is_among_the_first_two_where_the_readings_separate_it(state):
    rng, plan = np.random.default_rng(7), PLANS["with governed speed"]
    asked = found = 0
    for rig in RIGS[:3]:
        planted, readings = case(rig, state, plan, rng)
        if len(not_told_from(rig, state, plan, planted)) > 1:
            continue
        told = diagnose(rig.setup(), readings, rig.library())
        families = list(dict.fromkeys(finding.family for finding in told.findings))
        asked += 1
        found += FAMILY[state] in families[:2]
    assert found == asked


def test_top_governed_speed_tells_the_tachometer_from_the_engine():
    rig = RIGS[0]
    wrong = Planted(tachometer=0.95)
    without = diagnose(rig.setup(), readings_of(rig, ["1"], wrong))
    told = diagnose(rig.setup(), readings_of(rig, ["1", "governed"], wrong))
    assert next(f for f in without.findings if f.family == "tachometer-off").share < 0.5
    assert told.findings[0].code == "tachometer-off"
    middle, low, high = told.findings[0].unknown
    assert low < 0.95 < high
    assert middle == pytest.approx(0.95, abs=0.01)


def test_reading_at_idle_is_never_taken_as_a_balance_of_torques():
    rig = RIGS[0]
    setup = rig.setup()
    gear, hydraulic = readings_of(rig, ["1", "hydraulic"], Planted())
    idling = StallReading(engine_speed=810 * RPM, gear="1", brakes="held")
    governed = readings_of(rig, ["governed"], Planted())[0]
    assert invert(setup, idling) is None
    assert invert(setup, governed) is None
    assert together(setup, [hydraulic, idling]) is None
    assert together(setup, [gear, governed]) is None
    assert together(setup, [gear, hydraulic, idling, governed]).readings == (gear, hydraulic)


@pytest.mark.parametrize("suspect", ["clutch-slips", "oil-low-or-aerated"])
@pytest.mark.parametrize(
    "first", ["engine-down", "stator-slips", "nothing-to-see", "load-stuck-on"]
)
def test_next_check_is_never_one_that_harms_what_is_suspected(first, suspect):
    done: list[str] = []
    for _ in CHECKS:  # whatever has been done already
        check = next_check([(first, 0.6), (suspect, 0.3)], done)
        assert suspect not in HARMFUL.get(check.code, ())
        done.append(check.code)
        if len(done) > 6:
            break
