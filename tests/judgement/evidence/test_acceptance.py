"""After the swap: bands that machines as ordered keep, and readings beside them."""

import numpy as np
import pytest

from converter_match.constants import RPM
from converter_match.errors import InputError
from converter_match.judgement.decision.commissioning import acceptance_of
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.evidence.acceptance import COVERAGE, judge_acceptance
from converter_match.library.acceptance_text import parse_acceptance
from converter_match.library.study_file import read_study

DRAWS = 2048
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def result():
    run = run_study(read_study("loader-nothing-to-measure"))
    return with_extras(run, draws=DRAWS, ranked=False)


@pytest.fixture(scope="module")
def given(result):
    return acceptance_of(result)


def judged(given, *texts):
    return judge_acceptance(given, [parse_acceptance(text) for text in texts])


def test_the_band_of_the_stall_speed_is_that_of_its_draws_with_instrument_and_model(result, given):
    band = given.band("stall-speed")
    drawn = result.uncertainty.of("new-engine").figure("stall-speed")
    # Normal parts, a normal instrument of 0.7 % and a model of 1 %: widths add as squares. Each of
    # two bands leaves half of the 5 %: 2.2414 deviations either way (table of the normal
    # distribution), against 1.9600 for the 95 % of the draws.
    spread = (drawn.high - drawn.low) / (2 * 1.9600)
    whole = np.hypot(spread, np.hypot(0.007, 0.01) * drawn.middle)
    assert band.coverage == pytest.approx(1.0 - (1.0 - COVERAGE) / 2.0)
    assert (band.high - band.low) / (2 * 2.2414) == pytest.approx(whole, rel=0.06)
    assert band.middle == pytest.approx(drawn.middle, rel=0.003)


def test_readings_inside_are_as_predicted_and_need_no_reasons(given):
    stall, grade = (given.band(name).middle for name in ("stall-speed", "speed-on-grade"))
    found = judged(
        given, f"stall speed={stall / RPM:.0f} rpm", f"speed on grade={3.6 * grade:.2f} km/h"
    )
    assert found.verdict == "as-predicted"
    assert found.diagnosis is None
    assert not found.fails


def test_a_stall_speed_below_is_investigated_with_an_engine_that_is_down_first(given):
    low = given.band("stall-speed").low
    found = judged(given, f"stall speed={0.93 * low / RPM:.0f} rpm; brakes=held; oil=88 degC")
    assert found.verdict == "investigate"
    assert found.places == ("below",)
    # Common practice (no source): below the band first suspects are torque, then the stator.
    assert found.diagnosis.findings[0].code == "engine-down"
    assert found.fails


def test_brakes_that_let_go_make_a_reading_void_not_good(given):
    middle = given.band("stall-speed").middle
    found = judged(given, f"stall speed={middle / RPM:.0f} rpm; brakes=let-go")
    assert found.places == ("void",)
    assert found.verdict == "investigate"


def test_a_grade_run_without_the_engine_speed_gives_no_reasons_and_says_so(given):
    found = judged(given, "speed on grade=2 km/h")
    assert found.verdict == "investigate"
    assert found.diagnosis is None
    assert "without the engine speed" in found.text()


def test_readings_sharpen_the_band():
    run = run_study(read_study("loader-in-the-yard"))
    after = acceptance_of(with_extras(run, draws=DRAWS, ranked=False))
    bare = run_study(run.study.replace(measurements=()))
    before = acceptance_of(with_extras(bare, draws=DRAWS, ranked=False))
    widths = [one.band("stall-speed").high - one.band("stall-speed").low for one in (after, before)]
    assert widths[0] < 0.8 * widths[1]


def test_nothing_follows_from_readings_that_contradict():
    run = with_extras(run_study(read_study("loader-stall-too-low")), draws=DRAWS, ranked=False)
    with pytest.raises(InputError, match="not settled"):
        acceptance_of(run)


def test_what_was_not_ordered_is_not_accepted(result):
    with pytest.raises(InputError, match="no such candidate"):
        acceptance_of(result, "present")
