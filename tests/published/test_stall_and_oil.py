"""Stall readings, hot oil and acceleration against manuals and closed forms."""

import numpy as np
import pytest

from converter_match.components.reading import StallReading
from converter_match.judgement.conditions.oil import STOP_AT
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.setup import WARM_OIL, StallSetup
from converter_match.physics.heat.oil import OilCircuit, hold
from converter_match.units import to_si
from tests.examples import RPM, converter, engine

STALL, OIL = {"topic": "Stall test"}, {"topic": "Oil"}
MANUAL = {"source": "US Army TM 10-3930-671-24", "tag": "seen"}


def read_at(rpm):
    """A machine whose sheets give 2080 rpm, with the manual's span beside them."""
    made = engine(
        rated_speed=2600 * RPM,
        high_idle=2750 * RPM,
        speed=np.linspace(800, 2600, 8) * RPM,
        torque=[700, 850, 950, 1000, 980, 940, 880, 800],
    )
    base = converter()
    setup = StallSetup(
        engine=made,
        converter=base.replace(capacity=base.capacity * (60 / 70) ** 2),
        published=(2000 * RPM, 2500 * RPM),
    )
    reading = StallReading(engine_speed=rpm * RPM, gear="3", oil_temperature=WARM_OIL)
    return diagnose(setup, [reading], [])


@pytest.mark.parametrize(
    ("rpm", "says", "place"),
    [
        (1650, "1500 to 1800 is low", "below"),
        (2100, "nominal; 2000 to 2500 accepted", "inside"),
        (2600, "above the accepted span", "above"),
    ],
)
def test_reading_is_placed_in_the_span_of_the_manual(rpm, says, place, published_case):
    found = read_at(rpm)
    published_case(
        **STALL, **MANUAL, quantity="where a stall reading lies",
        inputs=f"{rpm} rpm, span 2000 to 2500 rpm", published=says, ours=found.judged[0].published,
        agrees=found.judged[0].published == place, why="limits of the span",
    )  # fmt: skip
    assert found.outside == (place != "inside")


def test_low_reading_points_to_the_engine_first():
    # The fact makes its row in test_stall_manuals.py.
    assert read_at(1650).findings[0].code == "engine-down"


def test_high_reading_points_to_slip_or_to_the_oil(published_case):
    # One reading cannot tell slip from aerated oil; the manual goes to the clutches at once.
    best = read_at(2600).findings[:2]
    published_case(
        **STALL, **MANUAL, quantity="what a high stall speed points to",
        inputs="2600 rpm where 2080 is expected", published="slipping clutches",
        ours=", or ".join(item.title for item in best),
        agrees={item.family for item in best} == {"clutch-slips", "oil-low-or-aerated"},
        why="among the two most likely findings; a second gear, as it should be, tells them apart",
    )  # fmt: skip


def test_oil_temperature_at_which_to_stop():
    # The manual prints both 149 degC, which makes its row in test_stall_manuals.py, and 300 degF.
    assert to_si(300.0, "degF", "temperature") == pytest.approx(STOP_AT, abs=0.5)


def test_150_kw_into_30_litres(published_case):
    # 870 kg/m3 and 2.06 kJ/(kg.K): 2.79 K/s; with 2.0 kJ/(kg.K) the usual 2.9. Two digits.
    answer = hold(OilCircuit(0.030 * 870.0 * 2060.0, air_temperature=298.15), 150e3, 353.15, 393.15)
    published_case(
        **OIL, source="public data of mineral transmission oil (870 to 900 kg/m³, about 2.06 "
        "kJ/(kg·K))", tag="computed", quantity="rise of the oil temperature [K/s]",
        inputs="150 kW into 30 L, no cooler, no metal", published=2.9, ours=answer.first_rate,
        relative=0.05, why="two digits of a round figure",
    )  # fmt: skip
    assert answer.time_to_limit == pytest.approx(40.0 / answer.first_rate, rel=1e-12)
