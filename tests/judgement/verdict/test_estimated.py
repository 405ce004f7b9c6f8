"""A verdict on an estimated converter is met only where it is met with every published shape."""

import numpy as np
import pytest

from converter_match.components.converter_estimate import estimated_converter
from converter_match.components.stall_datum import StallDatum
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.match.solve import solve
from converter_match.judgement.verdict.assessment import assess
from converter_match.judgement.verdict.measure import Verdict
from converter_match.judgement.verdict.outcome import outcome
from converter_match.study.criteria import CATALOGUE
from converter_match.study.study import PRESENT
from tests.examples import RPM, converter
from tests.study_examples import combination, flat_engine, study

# So loose that 80 % efficiency comes on the droop line: what is taken there hangs on the shape.
TORQUE, STALL = 900.0, 2180 * RPM


def known_by_stall(key="known", ratio=(2.2, 2.2), speed=STALL, **more):
    datum = StallDatum(engine_speed=speed, input_torque=TORQUE, torque_ratio=ratio)
    fields = {"id": key, "name": f"Known {key}", "source": "test", "stator": "one-way"}
    return estimated_converter(datum, **(fields | more))


def asked(name, **thresholds):
    return CATALOGUE[name].choice("must", **thresholds)


def finding(choice, own, present=None):
    # Without a present machine a study has nothing to compare with.
    asks = study(own, present=present, criteria=(choice,))
    sides = [
        None if item is None else tuple(outcome(item, k, asks.duty) for k in asks.conditions)
        for item in (own, present)
    ]
    result = assess(asks, *sides)
    return result, result.findings[0]


def usable(unit):
    """Greatest share of the power that is taken at 80 % efficiency and above, by the locus."""
    match = solve(flat_engine(), unit)
    points = match.locus.from_idle()
    good = points.found & (points.efficiency >= 0.8) & (points.speed_ratio <= 1.0)
    speed = np.linspace(*match.supply.domain, 20001)
    return float(points.input_power[good].max() / np.max(match.supply.torque(speed) * speed))


@pytest.fixture(scope="module")
def shares():
    unit = known_by_stall()
    return sorted(usable(each) for each in (unit, *unit.alternatives))


def test_what_some_shapes_meet_and_others_do_not_is_not_known(shares):
    between = 0.5 * (shares[0] + shares[-1])
    assert shares[-1] - shares[0] > 0.01
    result, found = finding(
        asked("rated-power-usable", least=between, margin=0.0),
        combination(converter=known_by_stall()),
    )
    assert found.verdict is Verdict.NOT_KNOWN
    assert any("'known'" in what and "stall alone" in what for what in found.missing)
    assert result.estimated == ("known",)
    assert result.to_dict()["estimated"] == ["known"]


@pytest.mark.slow
def test_what_every_shape_meets_is_met_and_what_none_meets_is_not(shares):
    own = combination(converter=known_by_stall())
    _, met = finding(asked("rated-power-usable", least=0.98 * shares[0], margin=0.0), own)
    _, missed = finding(asked("rated-power-usable", least=1.02 * shares[-1], margin=0.0), own)
    assert (met.verdict, missed.verdict) == (Verdict.PASS, Verdict.FAIL)


def test_what_is_met_with_little_to_spare_on_one_shape_is_marginal(shares):
    least = 0.995 * shares[0]
    margin = 0.5 * (shares[0] / least - 1.0 + shares[-1] / least - 1.0)
    _, found = finding(
        asked("rated-power-usable", least=least, margin=margin),
        combination(converter=known_by_stall()),
    )
    assert found.verdict is Verdict.MARGINAL


@pytest.mark.slow
def test_stall_is_known_exactly_so_its_criterion_is_decided():
    own = combination(converter=known_by_stall())
    _, found = finding(asked("stall-speed-window"), own)
    assert found.verdict is not Verdict.NOT_KNOWN
    assert found.missing == ()


@pytest.mark.slow
def test_an_estimated_converter_compared_with_itself_is_the_same_one_on_both_sides():
    # Whatever it may be, it is the same in both machines: nothing changes, nothing is unknown.
    unit = known_by_stall()
    _, found = finding(
        asked("tractive-effort-kept", margin=0.0),
        combination(converter=unit),
        combination(PRESENT, converter=unit),
    )
    assert found.verdict is Verdict.PASS


@pytest.mark.slow
def test_an_estimated_present_machine_leaves_a_comparison_open_too():
    whole = known_by_stall()
    middle = whole.replace(alternatives=(), stall_datum=None, id="measured")
    _, alike = finding(
        asked("tractive-effort-kept", least=1.0, margin=0.0),
        combination(converter=middle),
        combination(PRESENT, converter=middle),
    )
    result, found = finding(
        asked("tractive-effort-kept", least=1.0, margin=0.0),
        combination(converter=middle),
        combination(PRESENT, converter=whole),
    )
    assert alike.verdict is Verdict.PASS
    assert found.verdict is Verdict.NOT_KNOWN
    assert result.estimated == ("known",)


@pytest.mark.slow
def test_a_candidate_on_an_estimate_is_conditional_at_best_and_says_what_to_get():
    choice = asked("single-stable-match")
    measured = run_study(study(combination(converter=converter()), criteria=(choice,)))
    guessed = run_study(study(combination(converter=known_by_stall()), criteria=(choice,)))
    assert measured.decision.code == "order"
    assert guessed.assessments[1].verdict is Verdict.PASS
    assert guessed.decision.code == "conditional"
    assert "characteristic" in [step.code for step in guessed.decision.before_ordering]
    assert "estimated" in [reason.code for reason in guessed.decision.reasons]
    assert "characteristic" not in [step.code for step in measured.decision.before_ordering]


@pytest.mark.slow
def test_the_side_by_side_table_shows_what_an_estimate_leaves_open():
    unit = known_by_stall()
    found = run_study(
        study(combination(converter=unit), present=combination(PRESENT, converter=converter()))
    )
    by_key = {item.key: item for item in found.comparison.figures}
    item = by_key["coupling_engine_speed"]
    own = next(name for name, _ in item.values if name != PRESENT)
    each = [solve(flat_engine(), one).coupling.engine_speed for one in (unit, *unit.alternatives)]
    assert dict(item.spans) == {own: pytest.approx((min(each), max(each)))}
    assert max(each) > min(each)
    plain = {row["key"]: row for row in found.to_dict()["comparison"]["figures"]}
    assert plain["coupling_engine_speed"]["estimate"] == {own: list(dict(item.spans)[own])}
    assert plain["high_idle"]["estimate"] == {own: pytest.approx([flat_engine().high_idle] * 2)}
    text = found.text()
    lines = text.splitlines()
    at = next(i for i, line in enumerate(lines) if "engine speed at the coupling point" in line)
    assert "least to most: converter ESTIMATED" in lines[at + 1]
    low, high = (round(value / RPM) for value in (min(each), max(each)))
    assert f"{low} .. {high} rpm" in lines[at + 1]
