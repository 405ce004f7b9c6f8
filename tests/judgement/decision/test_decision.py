"""The decision follows from verdicts by a table made by hand; units and words decide nothing."""

from __future__ import annotations

import itertools
import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.converter import ConverterLimits
from converter_match.errors import InputError
from converter_match.judgement.decision import words
from converter_match.judgement.decision.bolt_on import bolt_on_sheet
from converter_match.judgement.decision.comparison import SAME, ComparedFigure, Comparison
from converter_match.judgement.decision.decision import decide
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.match.interface import same_designation
from converter_match.judgement.uncertainty.result import CombinationDraws, UncertaintyResult
from converter_match.judgement.verdict.assessment import Assessment
from converter_match.judgement.verdict.measure import Measure, judge
from converter_match.library.study_file import read_study
from converter_match.study.criteria import CATALOGUE
from converter_match.study.study import PRESENT, DecisionRule, Duty
from converter_match.units import note_text, to_si
from tests.examples import RPM, converter
from tests.machines import surface
from tests.study_examples import combination, flat_engine, study, study_file

# A bound of 1 and a margin of 3 %: met, met with too little to spare, not met, not known.
MEASURES = {
    "pass": Measure(value=2.0, least=1.0, dimension="ratio"),
    "marginal": Measure(value=1.01, least=1.0, dimension="ratio"),
    "fail": Measure(value=0.5, least=1.0, dimension="ratio"),
    "not known": Measure(value=None, dimension="ratio", missing=("a datum",)),
}
FIGURE = ComparedFigure(
    key="k", title="pull", dimension="force", better=1, condition="here",
    values=((PRESENT, 100.0), ("a", 110.0), ("b", 90.0), ("c", 100.0)),
)  # fmt: skip
COMPARISON = Comparison(names=(("a", "A"),), figures=(FIGURE,), gears=())


def assessed(key, must="pass", should="pass", another_must=None):
    """Return an assessment of one required and one preferred criterion, or of one more."""
    given = [
        ("converter-input-torque", "must", must),
        ("stall-speed-window", "should", should),
        ("converter-input-power", "must", another_must),
    ]
    findings = tuple(
        judge(CATALOGUE[name].choice(weight, margin=0.03), [("here", MEASURES[verdict])])
        for name, weight, verdict in given
        if verdict is not None
    )
    return Assessment(combination=key, name=f"The {key} one", findings=findings)


def decided(*assessments, **interfaces):
    sheets = [
        bolt_on_sheet(
            combination(
                item.combination,
                engine=flat_engine(interface=(("housing", "SAE 2"),)),
                converter=converter(
                    interface=(("housing", interfaces.get(item.combination, "SAE 2")),)
                ),
            )
        )
        for item in assessments
    ]
    return decide(study(), assessments, sheets, COMPARISON)


# What the rules of docs/study.md make of one required and one preferred criterion.
TABLE = {
    ("pass", "pass"): "order",
    ("pass", "marginal"): "conditional",
    ("pass", "fail"): "conditional",
    ("pass", "not known"): "conditional",
    ("marginal", "pass"): "conditional",
    ("marginal", "marginal"): "conditional",
    ("marginal", "fail"): "conditional",
    ("marginal", "not known"): "conditional",
    ("not known", "pass"): "not-known",
    ("not known", "marginal"): "not-known",
    ("not known", "fail"): "not-known",
    ("not known", "not known"): "not-known",
    ("fail", "pass"): "no",
    ("fail", "marginal"): "no",
    ("fail", "fail"): "no",
    ("fail", "not known"): "no",
}


@pytest.mark.parametrize(("must", "should"), list(TABLE))
def test_decision_follows_from_the_verdicts(must, should):
    assert decided(assessed("a", must, should)).code == TABLE[must, should]


def test_every_pair_of_verdicts_is_in_the_table():
    assert set(TABLE) == set(itertools.product(MEASURES, repeat=2))


@pytest.mark.parametrize("must", ["pass", "marginal", "not known", "fail"])
def test_interface_that_differs_takes_a_clear_yes_away_and_mends_nothing(must):
    same, differs = (decided(assessed("a", must), a=size).code for size in ("SAE 2", "SAE 3"))
    assert differs == ("conditional" if same == "order" else same)


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        (("pass", "pass"), ("pass", "marginal")),
        (("pass", "fail"), ("not known", "pass")),
        (("marginal", "fail"), ("not known", "pass")),
        (("not known", "fail"), ("fail", "pass")),
        (("pass", "marginal"), ("pass", "fail")),
        (("pass", "not known"), ("pass", "fail")),
    ],
)
def test_candidates_rank_by_verdict_first_whatever_their_order(better, worse):
    one, other = assessed("a", *better), assessed("b", *worse)
    assert decided(one, other).ranking == decided(other, one).ranking == ("a", "b")


def test_among_those_that_fail_fewer_required_criteria_come_first():
    two = assessed("a", "fail", "pass", "fail")
    one = assessed("b", "fail", "fail", "pass")
    result = decided(two, one)
    assert result.ranking == ("b", "a")
    assert result.code == "no"
    assert "The b one" in note_text(result.headline, "si")
    assert "converter input torque" in note_text(result.headline, "si")


def test_of_two_alike_the_one_that_bolts_on_comes_first():
    assert decided(assessed("a"), assessed("b"), a="SAE 3").ranking == ("b", "a")


def test_of_two_alike_in_all_the_order_of_the_study_stays():
    assert decided(assessed("b"), assessed("a")).ranking == ("b", "a")


def test_present_machine_is_never_ordered():
    result = decided(assessed(PRESENT), assessed("a", "fail"))
    assert result.ranking == ("a",)
    assert result.code == "no"


def test_missing_data_are_the_first_thing_to_do_and_brakes_the_last():
    result = decided(assessed("a", "not known"), a="SAE 3")
    steps = [note.code for note in result.before_ordering]
    assert steps == ["find-out", "tolerances", "settle", "measure", "confirm", "prove"]
    assert "a datum" in note_text(result.before_ordering[0], "si")
    assert "machine maker's procedure" in note_text(result.before_ordering[-1], "si")


def test_codes_are_said_in_json_beside_the_kind_that_scripts_know():
    kinds = {
        "order": "can be ordered", "conditional": "only with reservations",
        "not-known": "not decided", "no": "do not order",
    }  # fmt: skip
    for must, should in TABLE:
        result = decided(assessed("a", must, should))
        plain = json.loads(json.dumps(result.to_dict()))["decision"]
        assert (plain["code"], plain["kind"]) == (result.code, kinds[result.code])
    assert set(words.DECISIONS) == set(kinds)


@pytest.mark.slow
def test_units_change_what_is_read_and_nothing_that_is_decided():
    weak = combination("weak", engine=flat_engine(500.0))
    result = run_study(study(candidates=(weak, combination("same"))))
    before = json.dumps(result.to_dict())
    si, us = result.text("si").splitlines(), result.text("us").splitlines()
    assert si != us
    assert len(si) == len(us)
    assert "N·m" not in "".join(us)
    verdicts = [line for line in si if line.split()[-1:] in (["FAIL"], ["pass"], ["known"])]
    assert [line for line in us if line in verdicts] == verdicts
    assert json.dumps(result.to_dict()) == before


# --- comparison ----------------------------------------------------------------------------------


@given(share=st.floats(-0.5, 0.5), better=st.sampled_from([1, -1, 0]))
def test_a_change_is_judged_by_its_sign_and_by_what_is_wanted(share, better):
    item = ComparedFigure(
        key="k", title="t", dimension="force", better=better, condition="here",
        values=((PRESENT, 1000.0), ("a", 1000.0 * (1.0 + share))),
    )  # fmt: skip
    if abs(abs(share) - SAME) < 1e-9:
        return
    wanted = "same" if abs(share) < SAME else "other" if not better else (
        "better" if (share > 0) == (better > 0) else "worse")  # fmt: skip
    assert item.judged("a") == wanted


def test_a_figure_below_zero_gets_better_upwards():
    # -100 today and -90: 10 more, a tenth of today's size
    item = ComparedFigure(
        key="k", title="t", dimension="force", better=1, condition="here",
        values=((PRESENT, -100.0), ("a", -90.0), ("b", -110.0)),
    )  # fmt: skip
    assert item.share("a") == pytest.approx(0.1)
    assert (item.judged("a"), item.judged("b")) == ("better", "worse")


def test_figures_are_those_of_a_calculation_by_hand():
    # Flat torque T and K at stall: n = K sqrt(T); the converter turns all of P = T omega into heat.
    result = run_study(study(combination("new", engine=flat_engine(400.0))))
    figures = {item.key: item for item in result.comparison.figures}
    for name, torque in ((PRESENT, 900.0), ("new", 400.0)):
        speed = 60.0 * np.sqrt(torque) * RPM
        assert figures["stall_speed"][name] == pytest.approx(speed, rel=1e-6)
        assert figures["stall_turbine_torque"][name] == pytest.approx(2.2 * torque, rel=1e-6)
        assert figures["stall_heat"][name] == pytest.approx(torque * speed, rel=1e-6)
    # 400 / 900, and its square root
    assert figures["stall_turbine_torque"].share("new") == pytest.approx(-5 / 9, rel=1e-6)
    assert figures["stall_speed"].share("new") == pytest.approx(-1 / 3, rel=1e-6)
    assert figures["stall_heat"].share("new") == pytest.approx(8 / 27 - 1, rel=1e-6)


def test_json_of_a_figure_names_the_unit_of_the_number_beside_it():
    result = run_study(study())
    for item in result.to_dict()["comparison"]["figures"]:
        # what stands there is SI: read in its unit it is the same number
        dimension = item["dimension"]
        assert to_si(1.0, item["unit"], dimension) == pytest.approx(1.0, rel=1e-12), item["key"]


def test_span_of_turbine_speed_is_said_as_a_match_says_it():
    # A ratio of two speeds, as 2.57: nobody in the trade gives it in percent.
    result = run_study(study())
    spans = [item for item in result.comparison.figures if item.key.startswith("span")]
    assert spans
    for item in spans:
        shown = item.shown(PRESENT)
        assert (shown.amount, shown.form, shown.value) == (None, ".2f", item[PRESENT])
        assert item[PRESENT] > 1.0


def test_the_same_engine_pulls_the_same_in_every_gear():
    result = run_study(study())
    for _, _, gears in result.comparison.gears:
        for item in gears:
            assert (item.least, item.most) == pytest.approx((1.0, 1.0), rel=1e-9)


def test_where_the_wheels_of_both_spin_the_efforts_are_the_same():
    # A tenth less torque in first gear: both pull more than the ground takes, so the share is 1
    # there; on ground without a traction limit it is 1 nowhere.
    weaker = combination("new", engine=flat_engine(810.0))
    most = {}
    for traction in (0.55, None):
        ground = Duty(surface=surface(traction=traction), grades=(0.0,), continuous_grade=0.0)
        result = run_study(study(weaker, duty=ground))
        wheels = result.outcome("new").tractive
        if traction:
            grip = float(wheels.road_loads[0].adhesion(0.0))
            assert wheels.drives[0].curve().force[0] > grip
        [(_, _, (first, *_)), *_] = result.comparison.gears
        assert first.gear == "1"
        most[traction] = first.most
    assert most[0.55] == pytest.approx(1.0, abs=1e-12)
    # Flat torque with a fixed K: at the same speed 0.9 of the effort at stall, less farther on,
    # more (but never all of it) where the governor has cut the stronger one back.
    assert 0.9 - 1e-9 <= most[None] < 1.0


def test_of_one_family_only_the_largest_change_is_told():
    figures = tuple(
        ComparedFigure(
            key=f"speed_on_{grade}", title=f"speed on {grade} %", dimension="velocity", better=1,
            condition="here", values=((PRESENT, 10.0), ("a", 10.0 * (1 + share))), family=family,
        )
        for grade, share, family in ((4, 0.1, "speed_on"), (8, 0.3, "speed_on"), (12, 0.2, ""))
    )  # fmt: skip
    comparison = Comparison(names=(("a", "A"),), figures=figures, gears=())
    changes = [note_text(note, "si") for note in comparison.changes("a", "better")]
    # 10 m/s = 36 km/h
    assert changes == [
        "speed on 8 %: 36.0 km/h → 46.8 km/h (+30 %)",
        "speed on 12 %: 36.0 km/h → 43.2 km/h (+20 %)",
    ]


def test_texts_of_users_are_said_as_they_stand():
    name = "{0.__class__} {x} 100 %"
    result = run_study(study(combination("new", name=name)))
    assert name in result.text()
    assert name in result.to_dict()["decision"]["headline"]


# --- bolt-on sheet -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("left", "right", "same"),
    [
        ("11.5 in", "292.1 mm", True),  # 1 in = 25.4 mm exactly (NIST SP 811)
        ("50 mm", "50.02 mm", False),  # 0.02 mm: an H7/g6 pilot of 50 mm has 9 to 50 µm (ISO 286)
        ("75 kg", "165.35 lb", True),  # 1 lb = 0.45359237 kg
        ("50 mm", "50 kg", False),
        ("SAE 2", "SAE  2", True),
        ("2", "2.0", False),  # a designation without a unit is no quantity
    ],
)
def test_two_roundings_of_one_dimension_are_the_same_and_a_fit_is_not(left, right, same):
    assert same_designation(left, right) is same
    assert same_designation(right, left) is same


# --- how sure it is ------------------------------------------------------------------------------


def drawn(**together):
    """Draws in which all required criteria of a candidate hold together so often."""
    rows = tuple(
        CombinationDraws(
            combination=name, name=name, figures=(), criteria=(), all_musts=share,
            sensitivities=(), measure_first=(),
        )
        for name, share in together.items()
    )  # fmt: skip
    return UncertaintyResult(
        study="test-study", draws=1000, seed=0, tolerances=(), combinations=rows, notes=()
    )


def decided_with(draws, *assessments, rule=None):
    whole = study() if rule is None else study(rule=rule)
    sheets = [bolt_on_sheet(combination(item.combination)) for item in assessments]
    return decide(whole, assessments, sheets, COMPARISON, draws)


@pytest.mark.parametrize(
    ("must", "should", "together", "code"),
    [
        ("pass", "pass", 1.0, "order"),
        ("pass", "pass", 0.90, "order"),
        ("pass", "pass", 0.899, "conditional"),
        ("pass", "pass", 0.55, "conditional"),
        ("pass", "pass", 0.50, "conditional"),
        ("pass", "pass", 0.499, "no"),
        ("pass", "pass", 0.17, "no"),
        ("pass", "fail", 0.99, "conditional"),
        ("marginal", "pass", 0.17, "no"),
        ("not known", "pass", None, "not-known"),
        ("not known", "pass", 0.0, "no"),  # another required criterion fails in every draw
        ("fail", "pass", 0.49, "no"),
        ("fail", "pass", 0.60, "no"),  # by the data as they stand
    ],
)
def test_doubt_about_the_required_criteria_governs_the_decision(must, should, together, code):
    result = decided_with(drawn(a=together), assessed("a", must, should))
    assert result.code == code
    assert result.probability == together
    plain = result.to_dict()["decision"]
    assert (plain["code"], plain["probability"]) == (code, together)
    assert "50 %" in plain["rule"]
    assert "90 %" in plain["rule"]


def test_yes_that_holds_in_few_draws_says_so_in_the_headline():
    for together, said in ((0.55, "55.0 %"), (0.17, "17.0 %")):
        result = decided_with(drawn(a=together), assessed("a"))
        assert said in note_text(result.headline, "si")
        assert any(said in note_text(note, "si") for note in result.reasons)


def test_study_sets_how_sure_the_decision_has_to_be():
    rule = DecisionRule(order_probability=0.5, reject_probability=0.1)
    draws = drawn(a=0.55)
    assert decided_with(draws, assessed("a"), rule=rule).code == "order"
    assert decided_with(drawn(a=0.17), assessed("a"), rule=rule).code == "conditional"
    assert decided_with(drawn(a=0.09), assessed("a"), rule=rule).code == "no"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"order_probability": 1.2}, "decision.order_probability: out of range"),
        ({"reject_probability": -0.1}, "decision.reject_probability: out of range"),
        ({"reject_probability": 0.95}, "yes and no at once"),
    ],
)
def test_rule_that_cannot_be_is_refused(given, says):
    with pytest.raises(InputError, match=says):
        DecisionRule(**given)


def test_nothing_said_of_doubt_is_said():
    bare = decided_with(None, assessed("a"))
    assert bare.code == "order"
    assert bare.probability is None
    assert bare.to_dict()["decision"]["probability"] is None
    assert "no-probability" in [note.code for note in bare.reasons]
    assert "tolerances" in [note.code for note in bare.before_ordering]
    assert "nothing is said of doubt" in bare.to_dict()["decision"]["rule"]
    sure = decided_with(drawn(a=0.99), assessed("a"))
    assert "tolerances" not in [note.code for note in sure.before_ordering]
    assert "no-probability" not in [note.code for note in sure.reasons]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ((("pass", "pass"), 0.95), (("pass", "pass"), 0.80)),
        ((("pass", "fail"), 0.95), (("pass", "pass"), 0.80)),  # both conditional; the surer one
        ((("pass", "pass"), 0.92), (("pass", "fail"), 1.0)),  # sure enough: the clear yes first
        ((("pass", "fail"), 0.99), (("pass", "fail"), 0.93)),  # alike in all else
        ((("not known", "pass"), None), (("pass", "pass"), 0.40)),
    ],
)
def test_probability_takes_part_in_the_ranking(first, second):
    (a, sure_a), (b, sure_b) = first, second
    draws = drawn(a=sure_a, b=sure_b)
    one, other = assessed("a", *a), assessed("b", *b)
    for pair in ((one, other), (other, one)):
        result = decided_with(draws, *pair)
        assert result.ranking == ("a", "b")
        assert [item.probability for item in result.candidates] == [sure_a, sure_b]


@pytest.mark.slow
def test_decision_of_a_result_is_that_of_its_draws(tmp_path):
    tolerance = """
[decision]
order_probability = { unit = "percent", value = 99.9 }

[[criterion]]
name = "stall-speed-window"
weight = "must"

[limits]
stall_speed_least = { unit = "rpm", value = 1720 }

[[tolerance]]
quantity = "engine-torque"
half_width = { unit = "percent", value = 5 }
"""
    whole = read_study(study_file(tmp_path, more=tolerance))
    assert whole.rule.order_probability == pytest.approx(0.999)
    assert whole.rule.reject_probability == 0.5
    plain = run_study(whole)
    result = with_extras(plain, draws=500)
    # The stall speed is some 1740 rpm with nothing to spare: half the draws or so keep the limit.
    shares = result.uncertainty.of("new-engine").all_musts
    assert result.decision.probability == shares
    assert 0.1 < shares < 0.95
    assert (plain.decision.probability, plain.decision.rule.code) == (None, "rule-no-draws")
    other = result.assessment("new-engine").verdict
    wanted = {"marginal": "conditional", "not known": "not-known", "fail": "no"}[str(other)]
    assert result.decision.code == ("no" if shares < 0.5 else wanted)


def test_decision_table_of_a_study_is_checked(tmp_path):
    bad = '\n[decision]\norder_probability = { unit = "percent", value = 120 }\n'
    with pytest.raises(InputError, match=r"decision\.order_probability"):
        read_study(study_file(tmp_path, more=bad))


# --- thresholds ----------------------------------------------------------------------------------


def test_thresholds_are_told_with_their_distance_the_nearest_first():
    # 900 N.m against 910: 1.1 % to spare; stall at 1800 rpm against 2156: 16.5 %.
    own = combination(converter=converter(limits=ConverterLimits(input_torque=910.0)))
    result = run_study(study(own))
    rows = result.to_dict()["thresholds"]
    assert [abs(row["reserve"]) for row in rows if row["dimension"] != "temperature"] == sorted(
        abs(row["reserve"]) for row in rows if row["dimension"] != "temperature"
    )
    by_name = {row["criterion"]: row for row in rows}
    torque = by_name["converter-input-torque"]
    assert (torque["value"], torque["threshold"]) == pytest.approx((900.0, 910.0))
    assert (torque["bound"], torque["unit"]) == ("most", "N.m")
    assert torque["reserve"] == pytest.approx(10 / 910)
    assert torque["probability"] is None
    stall = by_name["stall-speed-window"]
    assert stall["reserve"] == pytest.approx(1 - 1800 / (0.98 * 2200))
    # What is not known has no distance, and the present machine is not what is decided on.
    assert "converter-input-power" not in by_name
    assert {row["combination"] for row in rows} == {"new"}
    text = result.text("us")
    assert "max. 671 lbf·ft" in text  # 910 N.m


@pytest.mark.slow
def test_thresholds_carry_the_probability_of_their_criterion(tmp_path):
    tolerance = '\n[[tolerance]]\nquantity = "engine-torque"\nhalf_width = 0.05\n'
    result = with_extras(run_study(read_study(study_file(tmp_path, more=tolerance))), draws=100)
    for row in result.thresholds:
        known = result.uncertainty.probability(row.combination, row.criterion)
        assert row.probability == known
