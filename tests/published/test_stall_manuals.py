"""The stall test against what government maintenance manuals say (facts only).

Sources: US Army TM 10-3930-671-24 (example machine), TM 5-3820-245-14&P (order of suspicion), TM
9-2320-283-10 (hot oil): public domain, read in the source's own text. The engine and the converter
here are made up so that their stall lies at the nominal speed of the example machine.
"""

import csv
import math

import numpy as np
import pytest

from converter_match.components.reading import StallReading
from converter_match.judgement.conditions.oil import STOP_AT
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.expectation import expect
from converter_match.judgement.stall.setup import WARM_OIL, StallSetup
from converter_match.library.read import read_converter
from converter_match.library.shipped import data_folder, shipped
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.stall.settling import settling_speed
from tests.examples import RPM, engine
from tests.machines import driveline

NOMINAL = 2100.0
TOPIC = "Stall test"
EXAMPLE = "US Army TM 10-3930-671-24"
MACHINE = "made-up engine and converter that stall at the nominal 2100 rpm"


def fact(subject):
    """Return (low, high) of a fact, as printed."""
    with (data_folder() / "published" / "manual_facts.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["subject"] == subject]
    [row] = rows
    assert row["tag"] == "seen"
    return tuple(float(row[name]) if row[name] else math.nan for name in ("low", "high"))


@pytest.fixture(scope="module")
def lift_truck():
    """A machine that stalls at 2100 rpm, its published span beside it."""
    gas = engine(
        low_idle=750 * RPM, rated_speed=2800 * RPM, high_idle=3000 * RPM,
        speed=np.array([750, 1000, 1400, 1800, 2200, 2600, 2800]) * RPM,
        torque=[230, 250, 268, 272, 265, 248, 236], accessories=(),
    )  # fmt: skip
    at = NOMINAL * RPM
    shape = read_converter(shipped("converters")["single-stage-345mm-tight"])
    scale = float(engine_supply(gas).torque(at)) / at**2 / float(shape.capacity_at(0.0))
    fitted = shape.replace(capacity=shape.capacity * scale)
    low, high = fact("stall speed, accepted")
    return StallSetup(
        engine=gas, converter=fitted, driveline=driveline(), oil_temperature=363.15,
        published=(low * RPM, high * RPM),
    )  # fmt: skip


def findings(given, *speeds, gears=("1", "2", "R")):
    readings = [
        StallReading(engine_speed=speed * RPM, gear=gear, brakes="held")
        for speed, gear in zip(speeds, gears, strict=False)
    ]
    return diagnose(given, readings)


def test_expected_band_lies_in_the_accepted_span_of_the_example(lift_truck, published_case):
    band = expect(lift_truck).band
    low, high = fact("stall speed, accepted")
    assert fact("stall speed, nominal") == (NOMINAL, NOMINAL)
    assert band.middle / RPM == pytest.approx(NOMINAL, rel=1e-6)
    published_case(
        topic=TOPIC,
        quantity="band of healthy machines, rpm",
        source=EXAMPLE,
        tag="seen",
        inputs=f"{MACHINE}; default tolerances",
        published=f"{low:.0f} to {high:.0f} accepted",
        ours=f"{band.low / RPM:.0f} to {band.high / RPM:.0f}",
        agrees=low < band.low / RPM < band.high / RPM < high,
        why="a computed band is narrower than what a maker accepts of all machines and days",
    )


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_low_reading_of_the_example_points_to_the_engine_first(lift_truck, published_case, share):
    low, high = fact("stall speed, low")
    speed = low + share * (high - low)
    found = findings(lift_truck, speed)
    assert found.findings[0].code == "engine-down"
    if share == 0.5:  # one fact, one row
        published_case(
            topic=TOPIC,
            quantity="first suspect of a low reading",
            source=EXAMPLE,
            tag="seen",
            inputs=f"{MACHINE}; {speed:.0f} rpm; at the ends of {low:.0f} to {high:.0f} as well",
            published="engine first",
            ours=found.findings[0].title,
            agrees=found.findings[0].code == "engine-down",
            why="agrees because the weight of an engine fault is chosen so; common practice",
        )
    assert found.judged[0].published == "below"


def test_high_reading_of_the_example_points_to_slip(lift_truck):
    # The manual's "slipping clutches" makes its row in test_stall_and_oil.py, from one gear.
    above, _ = fact("stall speed, above the accepted band")
    found = findings(lift_truck, above + 50, NOMINAL)
    assert found.findings[0].code == "clutch-slips:gear 1"
    assert found.judged[0].published == "above"


def test_a_little_below_is_the_engine_and_far_below_the_converter(lift_truck, published_case):
    # TM 5-3820-245-14&P. Far below: where a freewheeling stator would put it, a third lower
    # (common practice, no source).
    little = findings(lift_truck, 1960, 1960, 1962)
    assert little.findings[0].code == "engine-down"
    far = findings(lift_truck, NOMINAL * 0.68)
    near = findings(lift_truck, 1850)

    def share(found):
        return next(f.share for f in found.findings if f.code == "stator-slips")

    published_case(
        topic=TOPIC,
        quantity="suspicion of the converter's stator",
        source="US Army TM 5-3820-245-14&P",
        tag="seen",
        inputs=f"{MACHINE}; 1850 rpm, and {NOMINAL * 0.68:.0f} rpm",
        published="a little below: engine; far below: converter",
        ours=f"share of the stator {100 * share(near):.0f} %, and {100 * share(far):.0f} %",
        agrees=share(far) > 3 * share(near) and share(far) > 0.2,
        why="the engine stays as likely until a combined test: the order, not a certainty",
    )


def test_a_third_lower_is_what_a_freewheeling_stator_would_read(lift_truck, published_case):
    far = findings(lift_truck, NOMINAL * 0.68)
    stator = next(f for f in far.findings if f.code == "stator-slips")
    published_case(
        topic=TOPIC,
        quantity="stall speed with a freewheeling stator / sound",
        source="workshop practice: about a third lower",
        tag="practice",
        inputs=f"{MACHINE}; coupling range extrapolated to stall, and practice",
        published=2 / 3,
        ours=stator.would_read[0] / RPM / NOMINAL,
        tolerance=0.08,
        why="'about', and an engine curve that is not flat",
    )


def test_oil_for_the_test_is_within_the_manual_s_span(published_case):
    low, high = fact("oil temperature before the stall test")
    published_case(
        topic=TOPIC,
        quantity="oil temperature before the test, degC",
        source=EXAMPLE,
        tag="seen",
        inputs="where no oil temperature is given",
        published=f"{low:.0f} to {high:.0f}",
        ours=f"{WARM_OIL - 273.15:.1f}",
        agrees=low < WARM_OIL - 273.15 < high,
        why="its middle",
    )


def test_hottest_oil_is_the_manual_s(published_case):
    published_case(
        topic="Oil",
        quantity="oil temperature at which to stop, degC",
        source="US Army TM 9-2320-283-10",
        tag="seen",
        inputs="where neither machine nor converter states a limit",
        published=fact("oil temperature at which to stop")[0],
        ours=STOP_AT - 273.15,
        tolerance=0.5,
        why="printed in whole degrees, from 300 degF",
    )


def test_stall_of_the_generic_converter_is_at_seventy_percent_of_rated_speed():
    # EU 2017/2400 Annex VI appendix 9: T_pump(1000) = 0.80 T_max (1000 / (0.70 n_rated))^2, so a
    # flat engine of 0.80 T_max stalls at 0.70 n_rated by construction.
    t_max, rated = 1000.0, 2000.0
    flat = engine(
        speed=np.array([800, 1200, 1600, 2000]) * RPM, torque=[0.8 * t_max] * 4,
        rated_speed=rated * RPM, high_idle=2150 * RPM, accessories=(),
    )  # fmt: skip
    capacity = 0.80 * t_max * (1000 / (0.70 * rated)) ** 2 / (1000 * RPM) ** 2
    stall = float(settling_speed(engine_supply(flat), capacity))
    # The same fact makes its rows in test_converter_test_points.py, by way of the match.
    assert stall / RPM == pytest.approx(0.70 * rated, rel=1e-9)
