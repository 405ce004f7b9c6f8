"""Criteria against hand calculations.

The engine has the same torque T = 900 N.m at every speed and drives nothing else, the converter
has K = 60 rpm/sqrt(N.m) at stall. So the stall speed is K sqrt(T) = 60 * 30 = 1800 rpm, the input
torque 900 N.m everywhere below rated speed, the turbine torque at stall 2.2 * 900 = 1980 N.m.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from converter_match.components.converter import ConverterLimits
from converter_match.components.driveline import DrivelineLimits
from converter_match.components.engine import SpeedTable
from converter_match.errors import InputError
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.verdict.assessment import Assessment
from converter_match.judgement.verdict.criteria_match import stall_speed_window
from converter_match.judgement.verdict.measure import (
    Measure,
    Measures,
    Verdict,
    holds,
    judge,
    missing,
    reserve,
    verdict_of,
)
from converter_match.judgement.verdict.outcome import outcome
from converter_match.judgement.verdict.view import Nominal
from converter_match.notes import Note
from converter_match.study.criteria import CATALOGUE, Choice, spec_of
from converter_match.study.study import Duty, Limits
from tests.examples import RPM, converter, hole_engine, with_row
from tests.machines import driveline, machine, surface
from tests.study_examples import combination, flat_engine, loose, study

ROUNDING = 1e-9


def finding(name, own=None, **changes):
    """Return one finding of the candidate of a study made by hand."""
    found = run_study(study(own, **changes)).candidates[0].finding(name)
    assert found is not None
    return found


def limited(**limits):
    return combination(converter=converter(limits=ConverterLimits(**limits)))


# --- reserve and verdict -------------------------------------------------------------------------


def test_reserve_is_the_share_by_which_the_nearer_bound_is_kept():
    assert reserve(110.0, least=100.0) == pytest.approx(0.10)
    assert reserve(90.0, most=100.0) == pytest.approx(0.10)
    assert reserve(110.0, least=100.0, most=112.0) == pytest.approx(2 / 112)
    assert reserve(113.0, least=100.0, most=112.0) == pytest.approx(-1 / 112)
    assert reserve(393.0, most=393.15, absolute=True) == pytest.approx(0.15)
    assert np.isinf(reserve(1.0))
    values = reserve(np.array([[1.0, 2.0]]), least=np.array([[2.0], [1.0]]))
    assert values.tolist() == [[-0.5, 0.0], [0.0, 1.0]]


@pytest.mark.parametrize(
    ("kept", "verdict"),
    [
        (0.031, Verdict.PASS),
        (0.03, Verdict.PASS),
        (0.029, Verdict.MARGINAL),
        (0.0, Verdict.MARGINAL),
        (-0.001, Verdict.FAIL),
        (math.inf, Verdict.PASS),
        (None, Verdict.NOT_KNOWN),
        (math.nan, Verdict.NOT_KNOWN),
    ],
)
def test_verdict_follows_from_the_reserve(kept, verdict):
    assert verdict_of(kept, 0.03) is verdict


def test_measures_hold_draw_by_draw_and_the_first_is_the_nominal_one():
    values = np.array([95.0, 105.0, math.nan, 101.0, 101.0, 90.0])
    measures = Measures(
        value=values,
        dimension="torque",
        most=100.0,
        fails=np.array([False, False, False, True, False, False]),
        marginal=np.array([False, False, False, False, True, False]),
        passes=np.array([False, True, False, True, False, False]),
    )
    # Within by 5 %, let pass, no answer, fails whatever else, let pass with nothing to spare, 10 %.
    wanted = [0.05, 1.0, math.nan, -1.0, 0.0, 0.10]
    assert measures.kept == pytest.approx(wanted, nan_ok=True)
    assert holds(measures.kept).tolist() == [True, True, False, False, True, True]
    assert (measures.nominal.value, measures.nominal.most) == (95.0, 100.0)
    assert measures.nominal.verdict is None


def test_a_draw_without_a_stall_match_does_not_hold_a_criterion_that_asks_for_one():
    class Drawn(Nominal):
        stall_speed = np.array([1800.0, math.nan, 2500.0]) * RPM

    own = study().candidates[0]
    view = Drawn(outcome(own, study().conditions[0], study().duty))
    measures = stall_speed_window(study(), spec_of("stall-speed-window").choice(), view, None)
    # 760 to 2156 rpm, see below; the third draw is above it.
    assert holds(measures.kept).tolist() == [True, False, False]


# --- the criteria, one by one --------------------------------------------------------------------


def test_stall_speed_window_by_hand():
    found = finding("stall-speed-window")
    measure = found.worst.measure
    assert measure.value == pytest.approx(1800 * RPM, rel=ROUNDING)
    # Flat torque has its peak from low idle on: 0.95 * 800; and 0.98 of rated 2200.
    assert measure.least == pytest.approx(0.95 * 800 * RPM)
    assert measure.most == pytest.approx(0.98 * 2200 * RPM)
    assert found.verdict is Verdict.PASS
    assert "stall at 1800 rpm" in found.words()


def test_study_narrows_the_stall_window():
    found = finding("stall-speed-window", limits=Limits(stall_speed_most=1750 * RPM))
    assert found.worst.measure.most == pytest.approx(1750 * RPM)
    assert found.verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("limit", "verdict"),
    [(1000.0, Verdict.PASS), (910.0, Verdict.MARGINAL), (890.0, Verdict.FAIL)],
)
def test_converter_input_torque_against_its_limit(limit, verdict):
    found = finding("converter-input-torque", limited(input_torque=limit))
    assert found.worst.measure.value == pytest.approx(900.0, rel=ROUNDING)
    assert found.worst.measure.reserve == pytest.approx((limit - 900) / limit, rel=1e-6)
    assert found.verdict is verdict


def test_lower_of_two_limits_holds():
    own = limited(input_torque=1000.0)
    found = finding("converter-input-torque", own, limits=Limits(input_torque=880.0))
    assert found.worst.measure.most == 880.0
    assert found.verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("name", "datum"),
    [
        ("converter-input-torque", "input torque limit of the converter 'test-converter'"),
        ("converter-input-power", "input power limit of the converter"),
        ("converter-input-speed", "input speed limit of the converter"),
        ("turbine-stall-torque", "turbine torque limit of the driveline 'test-driveline'"),
        ("governed-overspeed", "speed limit of transmission and pumps"),
    ],
)
def test_missing_limit_is_named_and_not_taken_for_kept(name, datum):
    found = finding(name)
    assert found.verdict is Verdict.NOT_KNOWN
    assert datum in found.words()
    assert found.missing[0].startswith(datum)


def test_input_power_is_greatest_torque_times_speed_on_the_locus():
    # Flat torque up to rated speed: the greatest power is 900 N.m at 2200 rpm.
    found = finding("converter-input-power", limited(input_power=250e3))
    assert found.worst.measure.value == pytest.approx(900 * 2200 * RPM, rel=1e-6)


def test_input_speed_is_that_of_high_idle():
    found = finding("converter-input-speed", limited(input_speed=2350 * RPM))
    assert found.worst.measure.value == pytest.approx(2380 * RPM)
    assert found.verdict is Verdict.FAIL


def test_turbine_stall_torque_against_the_transmission_rating():
    own = combination(driveline=driveline(limits=DrivelineLimits(turbine_torque=2000.0)))
    found = finding("turbine-stall-torque", own)
    assert found.worst.measure.value == pytest.approx(1980.0, rel=ROUNDING)
    assert found.verdict is Verdict.MARGINAL  # 1 % to spare, 3 % asked for


def test_governed_speed_against_the_lowest_limit_of_what_is_driven():
    own = combination(driveline=driveline(limits=DrivelineLimits(turbine_speed=2600 * RPM)))
    assert finding("governed-overspeed", own).verdict is Verdict.PASS
    found = finding("governed-overspeed", own, limits=Limits(engine_speed=2300 * RPM))
    assert found.verdict is Verdict.FAIL


def test_rated_power_is_usable_where_the_converter_reaches_it_at_80_percent():
    found = finding("rated-power-usable")
    assert found.worst.measure.value == pytest.approx(1.0, abs=1e-6)
    # So tight a converter holds this engine down to K sqrt(T) = 82 / 2 * 30 = 1230 rpm at the
    # coupling point, where this sheet ends. Beyond it the efficiency goes on rising with the speed
    # ratio, and nobody knows how much more is absorbed there.
    tight = combination(converter=loose(30.0))
    short = tight.converter.replace(
        speed_ratio=[0, 0.2, 0.4, 0.6, 0.8, 0.86],
        torque_ratio=[2.2, 1.95, 1.7, 1.43, 1.12, 1.0],
        capacity=tight.converter.capacity[:6],
    )
    found = finding("rated-power-usable", combination(converter=short))
    assert found.verdict is Verdict.NOT_KNOWN
    assert found.missing == (
        "characteristic of the converter 'test-converter' from speed ratio 0.86 to 1.00",
    )


def test_rated_power_that_is_not_absorbed_in_the_working_range_fails():
    # With a fixed stator the working range ends where the torque ratio has fallen: at 0.8 the
    # efficiency is 0.8 x 1.0, and K = 75 / 2 holds the engine down to 1125 rpm there.
    tight = combination(converter=loose(30.0)).converter.replace(
        stator="fixed", coupling_speed_ratio=None,
        torque_ratio=[2.2, 1.95, 1.7, 1.4, 1.0, 0.9, 0.5, 0.1],
    )  # fmt: skip
    found = finding("rated-power-usable", combination(converter=tight))
    assert found.verdict is Verdict.FAIL
    assert found.worst.measure.value == pytest.approx(1125 / 2200, rel=1e-6)


def test_three_intersections_fail_and_say_how_many():
    # At 1100 rpm the engine has 545 N.m, and K = 46.7 absorbs (1100 / 46.7)^2 = 555; at 1350 rpm it
    # has 850 against 836. So the lines cross below 1100, between, and above 1350 rpm.
    own = combination(engine=with_row(hole_engine(), 2000), converter=loose(46.7))
    found = finding("single-stable-match", own)
    assert found.verdict is Verdict.FAIL
    assert "match at 3 engine speeds" in found.words()


def test_engine_that_cannot_hold_the_converter_at_idle_fails_and_does_not_crash():
    # At 800 rpm a converter of K = 20 absorbs (800 / 20)^2 = 1600 N.m; the engine has 900.
    own = combination(converter=loose(20.0))
    result = run_study(study(own))
    found = result.candidates[0]
    assert found.finding("single-stable-match").verdict is Verdict.FAIL
    assert "cannot hold the converter" in found.finding("stall-speed-window").words()
    assert found.verdict is Verdict.FAIL


def test_same_machine_keeps_everything_exactly():
    result = run_study(study())
    for name in (
        "tractive-effort-kept",
        "grade-start-kept",
        "speed-on-grades-kept",
        "idle-creep",
        "engine-braking-kept",
    ):
        found = result.candidates[0].finding(name)
        assert found.worst.measure.value == pytest.approx(1.0, rel=1e-12), name
        assert found.verdict is Verdict.PASS, name


def test_a_tenth_less_torque_is_a_tenth_less_pull_at_stall():
    ground = surface(traction=None)  # or grip, the same for both, would set the pull
    duty = Duty(surface=ground, grades=(0.0, 0.1), continuous_grade=0.05)
    weak = combination(engine=flat_engine(810.0))
    result = run_study(study(weak, duty=duty))
    speed = np.linspace(0.0, 5.0, 11)
    after, before = (
        Nominal(result.outcome(name)).effort(speed)[:, 0] for name in ("new", "present")
    )
    # T_t = mu T less the constant drag of 5 N.m in the gearbox, at v = 0.
    at_stall = (2.2 * 810 - 5) / (2.2 * 900 - 5)
    assert after[0] / before[0] == pytest.approx(at_stall, rel=ROUNDING)
    found = result.candidates[0].finding("tractive-effort-kept")
    assert found.worst.measure.value <= at_stall + ROUNDING
    assert found.verdict is Verdict.FAIL
    # Less power: no gear gains anywhere.
    assert all(gear.most < 1.0 for gear in result.comparison.gears[0][2])


def test_creep_goes_with_the_capacity_at_idle():
    # T = (N / K)^2 at the same idle: (60 / 50)^2 = 1.44 times the push.
    found = finding("idle-creep", combination(converter=loose(50.0)))
    assert found.worst.measure.value == pytest.approx(1.44, rel=ROUNDING)
    assert found.verdict is Verdict.FAIL


@pytest.mark.parametrize("which", ["new", "present"])
def test_creep_is_not_known_where_an_engine_cannot_hold_idle_in_gear(which):
    # K = 15 rpm/sqrt(N.m): (800 / 15)^2 = 2844 N.m at idle, three times what the engine has.
    tight = combination(which, converter=loose(15.0))
    whole = study(tight) if which == "new" else study(combination(), present=tight)
    found = run_study(whole).candidates[0].finding("idle-creep")
    assert found.verdict is Verdict.NOT_KNOWN
    assert "cannot hold the converter in gear" in found.words()
    assert ("the present engine" in found.words()) == (which == "present")


def test_engine_braking_is_motoring_torque_times_rated_speed():
    speed = np.array([800, 2500]) * RPM
    table = SpeedTable(speed=speed, value=[45.0, 90.0], name="motoring torque")
    own = combination(engine=flat_engine(motoring=table))
    at_rated = 45 + 45 * (2200 - 800) / (2500 - 800)  # two rows: a straight line
    found = finding("engine-braking-kept", own)
    assert found.worst.measure.value == pytest.approx(at_rated / 100.0, rel=ROUNDING)
    bare = combination(engine=flat_engine(motoring=None))
    found = finding("engine-braking-kept", bare)
    assert found.verdict is Verdict.NOT_KNOWN
    assert found.missing == ("motoring torque of the engine 'test-engine'",)


@pytest.mark.slow
def test_continuous_heat_needs_a_grade_and_a_cooler():
    duty = Duty(surface=surface(), grades=(0.0, 0.1))
    assert finding("continuous-heat", duty=duty).missing == (
        "the continuous grade (duty.continuous_grade)",
    )
    bare = combination(machine=machine(cooler=None))
    assert "cooler of the machine 'test-machine'" in finding("continuous-heat", bare).words()
    # A stated limit stands in for the cooler.
    found = finding("continuous-heat", bare, limits=Limits(heat=500e3))
    assert found.verdict is Verdict.PASS
    assert finding("continuous-heat", limits=Limits(heat=1e3)).verdict is Verdict.FAIL


@pytest.mark.slow
def test_top_speed_against_the_limits_of_the_study():
    found = finding("top-speed-kept")
    speed = found.worst.measure.value
    assert finding("top-speed-kept", limits=Limits(top_speed_most=0.9 * speed)).verdict is (
        Verdict.FAIL
    )
    assert finding("top-speed-kept", limits=Limits(top_speed_least=1.1 * speed)).verdict is (
        Verdict.FAIL
    )


def test_without_driveline_and_machine_the_wheels_are_not_known():
    bare = combination(driveline=None, machine=None)
    result = run_study(study(bare))
    found = result.candidates[0].finding("tractive-effort-kept")
    assert found.verdict is Verdict.NOT_KNOWN
    assert found.missing == (
        "a driveline file for 'The new one'",
        "a machine file for 'The new one'",
    )


# --- choices -------------------------------------------------------------------------------------


def test_unknown_criterion_names_the_nearest():
    with pytest.raises(InputError, match="did you mean 'tractive-effort-kept'"):
        spec_of("tractive-efort-kept")


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"leest": 0.9}, r"no such threshold.*did you mean 'least'"),
        ({"least": -0.1}, "cannot be below zero"),
        ({"margin": math.nan}, "cannot be below zero"),
    ],
)
def test_threshold_that_cannot_be_is_refused(changes, says):
    with pytest.raises(InputError, match=says):
        spec_of("tractive-effort-kept").choice(**changes)


def test_weight_that_is_none_is_refused():
    with pytest.raises(InputError, match=r"must \| should \| off"):
        spec_of("fuel-kept").choice("mst")


def test_choice_needs_every_threshold():
    with pytest.raises(InputError, match="missing; expected margin"):
        Choice(name="fuel-kept", weight="must", thresholds=(("most", 1.0),))


def test_every_criterion_has_a_reason_of_one_sentence_and_a_margin_or_none():
    for name, spec in CATALOGUE.items():
        assert spec.name == name
        assert spec.reason.endswith("."), name
        assert ". " not in spec.reason, name
        assert spec.asks, name


# --- overall -------------------------------------------------------------------------------------


def assessed(**verdicts):
    """Return an assessment from verdicts by criterion: must with a leading ``must_``."""
    findings = []
    for key, verdict in verdicts.items():
        weight, name = key.split("_", 1)
        choice = spec_of(name.replace("_", "-")).choice(weight)
        measure = (
            missing("a datum").nominal
            if verdict is Verdict.NOT_KNOWN
            else Measure(value=1.0, dimension="ratio", verdict=verdict, said=Note("a", "a"))
        )
        findings.append(judge(choice, [("here", measure)]))
    return Assessment(combination="x", name="X", findings=tuple(findings))


P, M, F, N = Verdict.PASS, Verdict.MARGINAL, Verdict.FAIL, Verdict.NOT_KNOWN


@pytest.mark.parametrize(
    ("must", "should", "overall"),
    [
        (P, P, P),
        (M, P, M),
        (P, M, M),
        (P, F, M),
        (P, N, M),
        (N, P, N),
        (N, F, N),
        (F, P, F),
        (F, N, F),
    ],
)
def test_overall_verdict(must, should, overall):
    assert assessed(must_continuous_heat=must, should_fuel_kept=should).verdict is overall


@pytest.mark.parametrize("must", [P, M, F])
def test_overall_never_hides_what_is_not_known(must):
    found = assessed(must_continuous_heat=must, should_fuel_kept=N)
    assert "1 criterion is not known (fuel no worse than present)" in found.headline
    assert found.missing == ("a datum",)


def test_datum_missing_in_one_condition_is_told_beside_a_failure_in_another():
    choice = spec_of("fuel-kept").choice()
    failed = Measure(value=1.5, dimension="ratio", most=1.0, said=Note("a", "a"))
    found = judge(choice, [("hot", missing("fuel data").nominal), ("cold", failed)])
    assert found.verdict is Verdict.FAIL
    assert "not known elsewhere, missing: fuel data" in found.words()


def test_worst_condition_decides_and_is_named():
    choice = spec_of("fuel-kept").choice()
    good, bad = (
        Measure(
            value=share,
            dimension="ratio",
            most=1.0,
            said=Note("a", "{share:weight_share .1f} of the fuel", values=(("share", share),)),
        )
        for share in (0.8, 1.2)
    )
    found = judge(choice, [("cold", good), ("hot", bad)])
    assert found.verdict is Verdict.FAIL
    assert found.words() == "120.0 % of the fuel; required: max. 100.0 % (hot)"


def test_assessment_says_every_verdict_in_the_units_asked_for():
    found = run_study(study(limited(input_torque=1000.0))).candidates[0]
    text = found.text("us")
    assert text.startswith("The new one\n")
    assert re.search(r"^  Converter input torque +mandatory +pass$", text, re.MULTILINE)
    # 900 N.m and 1000 N.m in lbf.ft (NIST SP 811, from memory: 1.3558179483)
    assert "highest input torque 664 lbf·ft; required: max. 738 lbf·ft" in text
