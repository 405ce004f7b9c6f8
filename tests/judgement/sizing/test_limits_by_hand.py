"""Which limits a trial breaks, on an engine whose figures are a square root.

As in the tests of the criteria: 900 N.m at every speed up to 2200 rpm, K = 60 rpm/sqrt(N.m) and
torque ratio 2.2 at stall. So stall is at 60 sqrt(900) = 1800 rpm with 2.2 x 900 = 1980 N.m behind
the converter; the input torque is 900 N.m, and the highest input power 900 N.m at 2200 rpm.
"""

import math

import numpy as np
import pytest

from converter_match.components.converter import ConverterLimits
from converter_match.components.driveline import DrivelineLimits
from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.limits import TrialLimits, judged
from converter_match.judgement.sizing.trials import Trial, Trials
from tests.examples import RPM, converter
from tests.machines import driveline, machine
from tests.study_examples import flat_engine, loose

POWER = 900.0 * 2200 * RPM
OIL = 393.15  # limit of the machine of the tests, K


def broken(hottest=350.0, unit=None, line=None, **limits):
    match = solve(flat_engine(), unit or converter())
    found, unknown = judged(match, line or driveline(), machine(), hottest, TrialLimits(**limits))
    return [note.code for note in found], [note.code for note in unknown]


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [
        ("input_torque", 900.0, "input-torque"),
        ("input_power", POWER, "input-power"),
        ("turbine_torque", 1980.0, "turbine-torque-at-stall"),
    ],
)
def test_limit_is_broken_just_above_and_kept_just_below(name, value, code):
    assert broken(**{name: 0.999 * value}) == ([code], [])
    assert broken(**{name: 1.001 * value}) == ([], [])


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [("input_torque", 900.0, "input-torque"), ("input_power", POWER, "input-power")],
)
def test_lower_of_the_converter_s_limit_and_the_one_asked_for_holds(name, value, code):
    for own, asked, expected in ((0.9, 1.1, [code]), (1.1, 0.9, [code]), (1.1, 1.2, [])):
        unit = converter(limits=ConverterLimits(**{name: own * value}))
        assert broken(unit=unit, **{name: asked * value})[0] == expected


def test_driveline_s_own_limit_of_turbine_torque_counts():
    line = driveline(limits=DrivelineLimits(turbine_torque=1900.0))
    assert broken(line=line)[0] == ["turbine-torque-at-stall"]
    assert broken(line=line, turbine_torque=2500.0)[0] == ["turbine-torque-at-stall"]


@pytest.mark.parametrize(
    ("hottest", "own", "asked", "breaks"),
    [
        (OIL - 1, None, None, False),
        (OIL + 1, None, None, True),
        (OIL - 5, OIL - 6, None, True),
        (OIL - 5, None, OIL - 6, True),
        (OIL - 7, OIL - 6, OIL - 6, False),
    ],
)
def test_lowest_oil_limit_of_machine_converter_and_trial_holds(hottest, own, asked, breaks):
    unit = converter(limits=ConverterLimits(oil_temperature=own))
    assert broken(hottest, unit, oil_temperature=asked)[0] == (["hottest-oil"] if breaks else [])


def test_oil_that_is_not_known_is_said_not_to_be_checked():
    assert broken(None) == ([], ["limit-not-checked"])


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ({"stall_speed_least": 1801.0}, "below"),
        ({"stall_speed_least": 1799.0}, None),
        ({"stall_speed_most": 1799.0}, "above"),
        ({"stall_speed_most": 1801.0}, None),
    ],
)
def test_stall_speed_is_held_between_its_bounds(limits, expected):
    given = TrialLimits(**{name: rpm * RPM for name, rpm in limits.items()})
    match = solve(flat_engine(), converter())
    found, _ = judged(match, driveline(), machine(), 350.0, given)
    assert [dict(note.values)["side"] for note in found] == ([expected] if expected else [])
    for note in found:
        assert dict(note.values)["bound"] == next(iter(limits.values())) * RPM


def test_broken_limit_says_what_was_reached_and_what_is_allowed():
    match = solve(flat_engine(), converter())
    [note], _ = judged(match, driveline(), machine(), None, TrialLimits(input_torque=800.0))
    values = dict(note.values)
    assert (values["value"], values["most"]) == (pytest.approx(900.0, rel=1e-9), 800.0)


def test_engine_that_cannot_hold_idle_has_no_stall_and_breaks_for_that():
    # K = 15 rpm/sqrt(N.m): (800 / 15)^2 = 2844 N.m at idle of 900 N.m.
    codes, unknown = broken(unit=loose(15.0), turbine_torque=1e6, stall_speed_least=1.0)
    assert "no-stall-match" in codes
    assert "stall-speed" not in codes
    assert unknown == ["limit-not-checked"]


@pytest.mark.parametrize("value", [0.0, -1.0, math.inf, math.nan])
@pytest.mark.parametrize("name", ["stall_speed_most", "oil_temperature"])
def test_limit_that_is_none_is_refused_by_its_name(name, value):
    with pytest.raises(InputError, match=rf"limits\.{name}"):
        TrialLimits(**{name: value})


# --- the answer over all trials ------------------------------------------------------------------


def trial(name, time, ratio=None, **fields):
    return Trial(name=name, converter=converter(), time=time, diameter_ratio=ratio, **fields)


def said(*trials, diameters=None):
    answer = Trials(trials=trials, route="hill", diameters=diameters).answer
    return {note.code: dict(note.values) for note in answer}


def test_converters_within_a_thousandth_of_the_quickest_time_are_called_as_quick():
    found = said(trial("a", 100.0), trial("b", 100.09), trial("c", 100.11))
    assert set(found) == {"quickest", "as-quick-converters"}
    assert found["quickest"] == {"name": "a", "time": 100.0}
    assert found["as-quick-converters"]["which"] == "b"
    assert set(said(trial("a", 100.0), trial("c", 100.11))) == {"quickest"}


def test_sizes_as_quick_are_given_as_a_range_of_diameters():
    rows = (trial("a", 100.0, 1.0), trial("b", 100.05, 0.98), trial("c", 100.05, 1.04))
    found = said(*rows, trial("d", 120.0, 1.2), diameters=(0.8, 1.2))
    assert found["as-quick-sizes"]["low"] == 0.98
    assert found["as-quick-sizes"]["high"] == 1.04


@pytest.mark.parametrize(
    ("ratio", "at_end", "stretched"),
    [(1.0, False, False), (0.80001, True, True), (1.2, True, True), (1.1, False, False),
     (1.11, False, True), (0.89, False, True), (0.9, False, False)],
)  # fmt: skip
def test_size_at_the_end_of_its_range_or_far_from_the_original_is_said(ratio, at_end, stretched):
    # Similarity is taken to hold to 10 % of the diameter (common practice, no source).
    found = said(trial("a", 100.0, ratio), diameters=(0.8, 1.2))
    assert ("at-end-of-range" in found) == at_end
    assert ("winner-stretched" in found) == stretched
    if stretched:
        assert found["winner-stretched"]["change"] == pytest.approx(ratio - 1.0)
    assert "by-similarity" in found


def test_trial_that_breaks_a_limit_is_no_winner_however_quick():
    match = solve(flat_engine(), converter())
    why, _ = judged(match, driveline(), machine(), None, TrialLimits(input_torque=800.0))
    trials = Trials(trials=(trial("a", 1.0, broken=why),), route="hill")
    assert trials.winner is None
    assert [note.code for note in trials.answer] == ["no-such-converter"]
    assert Trials(trials=(trial("a", None),), route="hill").winner is None
    assert np.isfinite(Trials(trials=(trial("a", 1.0),), route="hill").winner.time)
