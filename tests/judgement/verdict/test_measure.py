"""From a value and its bounds to a verdict: by hand, on both sides of every edge."""

import numpy as np
import pytest

from converter_match.answer.block import NoValue
from converter_match.judgement.decision.thresholds import deciding_thresholds
from converter_match.judgement.verdict.assessment import Assessment
from converter_match.judgement.verdict.measure import (
    Measure,
    Measures,
    Verdict,
    figure_value,
    holds,
    judge,
    missing,
    reserve,
    together,
    unit_of,
    verdict_of,
)
from converter_match.study.criteria import CATALOGUE
from converter_match.study.study import PRESENT

NAN, INF = np.nan, np.inf


@pytest.mark.parametrize(
    ("least", "most", "absolute", "kept"),
    [
        (None, None, False, [INF, INF]),
        (100.0, None, False, [-0.2, 0.5]),
        (None, 100.0, False, [0.2, -0.5]),
        (100.0, 160.0, False, [-0.2, 10 / 160]),
        (100.0, None, True, [-20.0, 50.0]),
        (None, 100.0, True, [20.0, -50.0]),
        (0.0, None, False, [80.0, 150.0]),  # of a bound of zero there is no share
        (-40.0, None, False, [3.0, 4.75]),  # a share of its size
        ([100.0, 200.0], None, False, [-0.2, -0.25]),
    ],
)
def test_reserve_is_the_share_of_the_nearer_bound_or_the_difference(least, most, absolute, kept):
    found = reserve([80.0, 150.0], least, most, absolute=absolute)
    assert found == pytest.approx(kept)


@pytest.mark.parametrize(
    ("kept", "verdict"),
    [
        (None, Verdict.NOT_KNOWN),
        (NAN, Verdict.NOT_KNOWN),
        (-1e-6, Verdict.FAIL),
        (-1e-12, Verdict.MARGINAL),  # exactly met, but for the last digit
        (0.0, Verdict.MARGINAL),
        (0.0299, Verdict.MARGINAL),
        (0.03 - 1e-12, Verdict.PASS),
        (0.03, Verdict.PASS),
    ],
)
def test_verdict_hangs_on_the_reserve_and_the_margin(kept, verdict):
    assert verdict_of(kept, 0.03) is verdict
    if kept is not None and not np.isnan(kept):
        assert holds(np.array([kept])).tolist() == [verdict is not Verdict.FAIL]
        without = Verdict.FAIL if verdict is Verdict.FAIL else Verdict.PASS
        assert verdict_of(kept, 0.0) is without


def test_what_is_not_known_does_not_hold():
    assert holds(np.array([NAN, INF, -INF])).tolist() == [False, True, False]


def test_severity_rises_from_pass_to_fail():
    order = ["pass", "marginal", "not known", "fail"]
    assert [str(item) for item in sorted(Verdict, key=lambda item: item.severity)] == order


def test_several_reserves_fail_where_one_fails_and_are_not_known_where_one_is_not():
    first = np.array([0.1, 0.1, -0.1, NAN, NAN, -1e-12])
    other = np.array([0.3, -0.2, NAN, 0.2, NAN, NAN])
    least = together([first, other])
    assert least == pytest.approx([0.1, -0.2, -0.1, NAN, NAN, NAN], nan_ok=True)


def measures(**changes):
    fields = {"value": np.array([90.0, 110.0, NAN]), "dimension": "torque", "least": 100.0}
    return Measures(**(fields | changes))


def where(*rows):
    return np.isin(np.arange(3), rows)


@pytest.mark.parametrize(
    ("changes", "kept"),
    [
        ({}, [-0.1, 0.1, NAN]),
        ({"passes": where(0, 2)}, [1.0, 0.1, 1.0]),
        ({"marginal": where(0)}, [0.0, 0.1, NAN]),
        ({"fails": where(1)}, [-0.1, -1.0, NAN]),
        # The last named goes before the others.
        ({"passes": where(0), "marginal": where(0)}, [0.0, 0.1, NAN]),
        ({"marginal": where(0), "fails": where(0)}, [-1.0, 0.1, NAN]),
        ({"fails": where(0), "no_match": where(0)}, [NAN, 0.1, NAN]),
        ({"passes": where(1), "unknown": where(1)}, [-0.1, NAN, NAN]),
        ({"absolute": True}, [-10.0, 10.0, NAN]),
    ],
)
def test_what_settles_a_draw_goes_before_its_bounds(changes, kept):
    assert measures(**changes).kept == pytest.approx(kept, nan_ok=True)


@pytest.mark.parametrize(
    ("changes", "value", "least", "verdict"),
    [
        ({}, 90.0, 100.0, None),
        ({"passes": where(0)}, 90.0, None, Verdict.PASS),
        ({"fails": where(0)}, 90.0, None, Verdict.FAIL),
        ({"marginal": where(0)}, 90.0, 100.0, Verdict.MARGINAL),
        ({"passes": where(0), "marginal": where(0), "fails": where(0)}, 90.0, None, Verdict.FAIL),
        ({"passes": where(0), "marginal": where(0)}, 90.0, 100.0, Verdict.MARGINAL),
        ({"passes": where(1), "fails": where(2)}, 90.0, 100.0, None),
        ({"no_match": where(0)}, None, None, None),
        ({"unknown": where(0), "passes": where(0)}, None, None, None),
        ({"no_match": where(1)}, 90.0, 100.0, None),
        ({"missing": ("mass",)}, None, None, None),
    ],
)
def test_nominal_measure_is_that_of_the_first_draw(changes, value, least, verdict):
    found = measures(**changes).nominal
    assert (found.value, found.least, found.verdict) == (value, least, verdict)
    assert found.missing == changes.get("missing", ())
    assert found.dimension == "torque"


def test_bounds_of_the_nominal_measure_are_those_of_the_first_draw():
    found = measures(least=np.array([1.0, 2.0, 3.0]), most=np.array([4.0, 5.0, 6.0])).nominal
    assert (found.least, found.most) == (1.0, 4.0)


def test_measure_without_a_value_or_a_datum_has_no_reserve():
    assert Measure(value=None, dimension="torque", least=1.0).reserve is None
    assert Measure(value=2.0, dimension="torque", least=1.0, missing=("x",)).reserve is None
    assert Measure(value=2.0, dimension="torque", least=1.0).reserve == 1.0
    assert missing("mass", "grade").nominal.missing == ("mass", "grade")
    assert not holds(missing("mass").kept).any()


# --- over the conditions -------------------------------------------------------------------------

CHOICE = CATALOGUE["converter-input-torque"].choice(margin=0.05)


def torque(value, **changes):
    return Measure(value=value, dimension="torque", most=100.0, **changes)


@pytest.mark.parametrize(
    ("values", "worst"),
    [
        ([94.0, 96.0, 90.0], ("b", "marginal")),
        ([94.0, 101.0, 99.0], ("b", "fail")),
        ([101.0, 102.0, 99.0], ("b", "fail")),  # of several that fail, by the most
        ([94.0, None, 99.0], ("b", "not known")),
        ([94.0, None, 101.0], ("c", "fail")),
        ([80.0, 90.0, 85.0], ("b", "pass")),
    ],
)
def test_worst_condition_counts(values, worst):
    found = judge(CHOICE, [(n, torque(v)) for n, v in zip("abc", values, strict=True)])
    assert (found.worst.condition, str(found.verdict)) == worst


def test_missing_datum_is_not_known_whatever_else_is_said_and_is_named():
    known = torque(50.0)
    lacking = torque(50.0, missing=("mass",), verdict=Verdict.PASS)
    found = judge(CHOICE, [("a", known), ("b", lacking), ("c", lacking)])
    assert [str(item.verdict) for item in found.judged] == ["pass", "not known", "not known"]
    assert found.missing == ("mass",)
    assert str(found.verdict) == "not known"


def test_verdict_that_is_settled_goes_before_the_bounds():
    found = judge(CHOICE, [("a", torque(50.0, verdict=Verdict.FAIL))])
    assert found.verdict is Verdict.FAIL


# --- how far from a bound ------------------------------------------------------------------------


def thresholds(combination="new", choice=CHOICE, **fields):
    measure = Measure(**({"value": 96.0, "dimension": "torque", "most": 100.0} | fields))
    item = Assessment(
        combination=combination, name="", findings=(judge(choice, [("site", measure)]),)
    )
    return deciding_thresholds([item])


def test_nearer_bound_is_the_deciding_one():
    [low] = thresholds(value=91.0, least=90.0, most=100.0)
    assert (low.bound, low.threshold, low.reserve) == ("least", 90.0, pytest.approx(1 / 90))
    [high] = thresholds(value=99.0, least=90.0, most=100.0)
    assert (high.bound, high.threshold, high.reserve) == ("most", 100.0, pytest.approx(0.01))
    assert (high.combination, high.condition, high.verdict) == ("new", "site", Verdict.MARGINAL)


def test_margin_stands_in_for_a_bound_of_zero():
    [found] = thresholds(value=0.06, dimension="ratio", least=0.0, most=None)
    assert (found.threshold, found.reserve) == (0.05, pytest.approx(0.01 / 0.05))


@pytest.mark.parametrize(
    "fields",
    [
        {"value": None},
        {"missing": ("mass",)},
        {"most": None},
        {"combination": PRESENT},
    ],
)
def test_what_is_not_known_or_not_decided_on_has_no_threshold(fields):
    assert thresholds(**fields) == ()


def test_kelvin_is_set_beside_a_percent():
    # Common practice, no source: 3 K below a limit is as near as 3 %.
    [oil] = thresholds(
        value=390.0, most=393.0, dimension="temperature", absolute=True,
        choice=CATALOGUE["oil-temperature"].choice(),
    )  # fmt: skip
    assert (oil.reserve, oil.nearness) == (pytest.approx(3.0), pytest.approx(0.03))
    [broken] = thresholds(value=104.0)
    assert (broken.reserve, broken.nearness) == (pytest.approx(-0.04), pytest.approx(0.04))


# --- as it is shown ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "dimension", "amount", "form"),
    [
        (0.953, "ratio", "weight_share", ".1f"),
        (300.0, "time", "minutes", ".1f"),
        (5.0, "velocity", "velocity", ".1f"),
        (900.0, "torque", "torque", ".0f"),
        (9e4, "force", "force", ""),
        (3.0, "count", None, ".0f"),
        (99.9, "mass", "mass", ".2f"),
        (100.1, "mass", "mass", ".1f"),
    ],
)
def test_figure_is_shown_in_the_amount_and_digits_of_its_dimension(value, dimension, amount, form):
    found = figure_value(value, dimension)
    assert (found.value, found.amount, found.form) == (value, amount, form)


def test_share_without_bound_is_any():
    assert isinstance(figure_value(INF, "ratio"), NoValue)
    assert isinstance(figure_value(-INF, "ratio"), NoValue)
    assert figure_value(10.0, "power", change=-0.1).change == -0.1
    assert figure_value(10.0, "mass", change=-0.1).change == -0.1


def test_unit_is_the_si_unit_and_one_for_a_number():
    assert (unit_of("torque"), unit_of("ratio"), unit_of("count")) == ("N.m", "1", "1")
