"""What a converter of a library is ranked by, and what its figures are made of."""

from __future__ import annotations

import pytest

from converter_match.judgement.haul.haul import haul
from converter_match.judgement.match.solve import solve
from converter_match.judgement.verdict.assessment import Assessment
from converter_match.judgement.verdict.measure import Measure, judge
from converter_match.judgement.verdict.ranking import Ranked, _ordered, rank_library
from converter_match.library.read import read_engine
from converter_match.library.shipped import find
from converter_match.study.criteria import CATALOGUE
from converter_match.study.study import Duty
from tests.examples import RPM, converter
from tests.haul_examples import road
from tests.machines import driveline, machine, surface
from tests.study_examples import combination, loose, study

# One more than asked for, as much, a little less than the margin, less; None is not known.
FIGURES = {"pass": 1.5, "marginal": 1.01, "fail": 0.5, "not known": None}


def found(weight, verdict):
    choice = CATALOGUE["grade-start-kept"].choice(weight, least=1.0)
    value = FIGURES[verdict]
    missing = () if value is not None else ("a datum",)
    measure = Measure(value=value, dimension="ratio", least=1.0, missing=missing)
    finding = judge(choice, [("here", measure)])
    assert str(finding.verdict) == verdict
    return finding


def ranked(name, *findings, **figures):
    made = tuple(found(*item) for item in findings)
    assessment = Assessment(combination="new", name="New", findings=made)
    return Ranked(converter=converter(id=name), assessment=assessment, **figures)


def test_order_goes_by_musts_then_what_is_not_known_then_shoulds_then_margins_then_time():
    # Each is worse than the one before in one matter, and better in every matter that counts less.
    rows = [
        ranked("quick", ("must", "pass"), time=100.0),
        ranked("slow", ("must", "pass"), time=200.0),
        ranked("no-time", ("must", "pass")),
        ranked("marginal", ("must", "marginal"), time=1.0),
        ranked("should", ("should", "fail"), ("must", "pass"), time=1.0),
        ranked("two-shoulds", *[("should", "fail")] * 2, time=1.0),
        ranked("unknown", ("must", "not known"), time=1.0),
        ranked("must", ("must", "fail"), time=1.0),
        ranked("two-musts", *[("must", "fail")] * 2, time=1.0),
        Ranked(converter=converter(id="refused"), assessment=None, refused="no stall"),
    ]
    ordered = _ordered(rows[::-1])
    assert [row.converter.id for row in ordered] == [row.converter.id for row in rows]


def test_preferred_criterion_that_is_not_known_does_not_count_as_a_required_one():
    unknown, failed = ranked("a", ("should", "not known")), ranked("b", ("should", "fail"))
    assert [row.converter.id for row in _ordered([failed, unknown])] == ["a", "b"]


def test_pareto_mark_is_for_those_that_no_other_with_every_must_met_beats():
    figures = {"time": 100.0, "fuel": 10.0, "heat": 5.0, "stall_torque": 1000.0}
    rows = _ordered(
        [
            ranked("a", ("must", "pass"), **figures),
            # A little of everything worse: beaten. More torque for more time: not beaten.
            ranked("b", ("must", "pass"), **figures | {"time": 101.0, "stall_torque": 999.0}),
            ranked("c", ("must", "pass"), **figures | {"time": 150.0, "stall_torque": 1200.0}),
            ranked("d", ("must", "pass"), **figures | {"time": 150.0, "fuel": 9.0}),
            ranked("e", ("must", "pass"), **figures | {"time": 150.0, "heat": 4.0}),
            # Quickest of all, but a must fails.
            ranked("f", ("must", "fail"), **figures | {"time": 1.0}),
        ]
    )
    assert {row.converter.id for row in rows if row.best} == {"a", "c", "d", "e"}


# --- figures -------------------------------------------------------------------------------------


def level(length):
    return road([0.0, 0.02], length, surface=(surface(),) * 2, id=f"level-{length:.0f}")


@pytest.mark.slow
def test_time_fuel_and_heat_are_sums_over_the_routes():
    duty = Duty(surface=surface(), routes=(level(300.0), level(600.0)))
    with_fuel = read_engine(find("engines", "six-cylinder-9l-240kw"))
    own = combination(engine=with_fuel)
    rows = rank_library(study(own, duty=duty, present=None), [loose(66.0, id="loose")]).rows
    assert len(rows) == 2
    for row in rows:
        match = solve(with_fuel, row.converter)
        runs = [haul(match, driveline(), machine(), route) for route in duty.routes]
        assert row.time == pytest.approx(runs[0].time + runs[1].time, rel=1e-12)
        assert row.fuel == pytest.approx(runs[0].fuel + runs[1].fuel, rel=1e-12)
        heats = [float(run.totals.ledger.converter[0]) for run in runs]
        assert row.heat == pytest.approx(heats[0] + heats[1], rel=1e-12)
        assert row.stall_torque == pytest.approx(match.stall.turbine_torque)


def test_engine_without_fuel_data_has_no_fuel_and_still_a_time():
    duty = Duty(surface=surface(), routes=(level(300.0),))
    [row] = rank_library(study(combination(), duty=duty, present=None), []).rows
    assert row.fuel is None
    # 300 m, no faster than in top gear at high idle: 2380 rpm / (1.2 x 20) x 0.75 m.
    assert row.time > 300.0 / (2380 * RPM / 24.0 * 0.75)
    assert row.heat > 0.0


def test_machine_that_stops_on_one_route_has_no_time_fuel_or_heat_at_all():
    steep = road([0.9], 300.0, surface=(surface(),))
    duty = Duty(surface=surface(), routes=(level(300.0), steep))
    [row] = rank_library(study(combination(), duty=duty, present=None), []).rows
    assert (row.time, row.fuel, row.heat) == (None, None, None)
    assert row.stall_torque is not None


def test_study_without_a_route_has_a_stall_torque_only():
    [row] = rank_library(study(combination(), present=None), []).rows
    assert (row.time, row.fuel, row.heat) == (None, None, None)
    # 2.2 x 900 N.m, see test_criteria.
    assert row.stall_torque == pytest.approx(1980.0, rel=1e-9)


def test_progress_is_told_after_each_converter():
    told = []
    found = rank_library(
        study(present=None), [loose(66.0, id="loose")], progress=lambda *given: told.append(given)
    )
    own = study().candidates[0].converter.id
    assert told == [(1, 2, own), (2, 2, "loose")]
    assert len(found.rows) == 2
