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
from converter_match.judgement.stall_diagnosis import diagnose
from converter_match.judgement.stall_expectation import expect
from converter_match.judgement.stall_hold import _STOP_AT
from converter_match.judgement.stall_setup import WARM_OIL, StallSetup
from converter_match.library.read import read_converter
from converter_match.library.shipped import data_folder, shipped
from converter_match.physics.stall import settling_speed
from converter_match.physics.supply import engine_supply
from tests.examples import RPM, engine
from tests.machines import driveline

NOMINAL = 2100.0


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


def test_expected_band_lies_in_the_accepted_span_of_the_example(lift_truck):
    band = expect(lift_truck).band
    low, high = fact("stall speed, accepted")
    assert fact("stall speed, nominal") == (NOMINAL, NOMINAL)
    assert band.middle / RPM == pytest.approx(NOMINAL, rel=1e-6)
    assert low < band.low / RPM < band.high / RPM < high


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_low_reading_of_the_example_points_to_the_engine_first(lift_truck, share):
    low, high = fact("stall speed, low")
    speed = low + share * (high - low)
    found = findings(lift_truck, speed)
    assert found.findings[0].code == "engine-down"
    assert found.judged[0].published == "below"


def test_high_reading_of_the_example_points_to_slip(lift_truck):
    above, _ = fact("stall speed, above the accepted band")
    found = findings(lift_truck, above + 50, NOMINAL)
    assert found.findings[0].code.startswith("clutch-slips:gear 1")
    assert found.judged[0].published == "above"


def test_a_little_below_is_the_engine_and_far_below_the_converter(lift_truck):
    # TM 5-3820-245-14&P. Far below: where a freewheeling stator would put it, a third lower
    # (common practice, no source).
    little = findings(lift_truck, 1960, 1960, 1962)
    assert little.findings[0].code == "engine-down"
    far = findings(lift_truck, NOMINAL * 0.68)
    near = findings(lift_truck, 1850)

    def share(found):
        return next(f.share for f in found.findings if f.code == "stator-slips")

    assert share(far) > 3 * share(near)
    assert share(far) > 0.2


def test_a_third_lower_is_what_a_freewheeling_stator_would_read(lift_truck):
    # Common practice, no source.
    far = findings(lift_truck, NOMINAL * 0.68)
    stator = next(f for f in far.findings if f.code == "stator-slips")
    assert stator.would_read[0] / RPM / NOMINAL == pytest.approx(2 / 3, abs=0.08)


def test_oil_for_the_test_is_within_the_manual_s_span():
    low, high = fact("oil temperature before the stall test")
    assert low < WARM_OIL - 273.15 < high


def test_hottest_oil_is_the_manual_s():
    assert _STOP_AT - 273.15 == pytest.approx(fact("oil temperature at which to stop")[0], abs=0.1)


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
    assert stall / RPM == pytest.approx(0.70 * rated, rel=1e-9)
