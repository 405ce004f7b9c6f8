"""Figures of a study as they are read, and what was found for a criterion."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from converter_match.answer.block import Heading
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.verdict.measure import figure_value
from converter_match.judgement.verdict.view import gears_cooled_on
from converter_match.study.study import PRESENT, Duty
from converter_match.units import note_text
from tests.machines import surface
from tests.study_examples import combination, flat_engine, study


@pytest.mark.parametrize(
    ("value", "dimension", "si", "us"),
    [
        # 1 lbf.ft = 1.3558179 N.m, 1 lb = 0.45359237 kg, 1 mi = 1609.344 m (NIST SP 811)
        (1355.8179, "torque", "1356 N·m", "1000 lbf·ft"),
        (90.0, "time", "1.5 min", "1.5 min"),
        (3.749, "mass", "3.75 kg", "8.27 lb"),
        (250.04, "mass", "250.0 kg", "551.2 lb"),
        (0.9534, "ratio", "95.3 %", "95.3 %"),
        (0.125, "weight_share", "12.5 %", "12.5 %"),
        (10.0, "velocity", "36.0 km/h", "22.4 mph"),
        (358.15, "temperature", "85 °C", "185 °F"),
        (3.0, "count", "3", "3"),
        (math.inf, "weight_share", "any", "any"),
    ],
)
def test_figure_is_read_in_the_trade_s_units(value, dimension, si, us):
    cell = Heading("", "")
    shown = figure_value(value, dimension)
    assert (cell.text(shown, "si"), cell.text(shown, "us")) == (si, us)


def found_for(name, **changes):
    result = run_study(study(combination("new", engine=flat_engine(400.0)), **changes))
    return result, result.assessment("new").finding(name)


@pytest.mark.slow
def test_sentence_names_the_condition_only_where_they_differ():
    duty = Duty(surface=surface(), grades=(0.0,), continuous_grade=0.0, hydraulic_torque=100.0)
    result, finding = found_for("stall-speed-window", duty=duty)
    # 60 sqrt(300) with the pumps at work, 60 sqrt(400) = 1200 rpm at rest: the lower is the worse
    text = note_text(finding.note, "si")
    assert "1039 rpm" in text
    assert text.endswith("(reference air, implement working)")
    assert [item.name for item in result.study.conditions][1] == "reference air, implement working"
    _, alone = found_for("stall-speed-window")
    assert "1200 rpm" in note_text(alone.note, "si")
    assert "reference air" not in note_text(alone.note, "si")


def test_what_is_not_known_names_the_datum():
    _, finding = found_for("converter-input-torque")
    text = note_text(finding.note, "si")
    assert text.startswith("not known; missing: input torque limit of the converter")


def test_bounds_stand_behind_in_the_reader_s_units():
    _, finding = found_for("tractive-effort-kept")
    # at least 95 percent of today's effort: the default of the criterion
    assert note_text(finding.note, "si").endswith("required: min. 95.0 %")


@pytest.mark.slow
def test_grade_without_bound_is_said_in_words():
    # A pull beyond the weight holds the machine on any grade; its tangent is infinite.
    duty = Duty(surface=surface(traction=None), grades=(0.0,), continuous_grade=0.0)
    strong, weak = combination("new", engine=flat_engine(9000.0)), combination(PRESENT)
    for own, present, said in (
        (strong, weak, "starts on any grade, at present "),
        (strong, replace(strong, id=PRESENT), "100.0 % of the present grade: starts on any, at"),
        (replace(weak, id="new"), replace(strong, id=PRESENT), "0.0 % of the present grade: star"),
    ):
        result = run_study(study(own, present=present, duty=duty))
        text = result.assessment("new").finding("grade-start-kept").words()
        assert text.startswith(said)
        assert "inf" not in text
        assert text.endswith("required: min. 97.0 %")


def test_gears_that_stay_cool_are_those_with_no_more_heat_than_the_cooler_carries():
    # Balances on the grade: at the limit, above it, below it but not held, below it in reverse.
    names = (("1", "forward"), ("2", "forward"), ("3", "forward"), ("R", "reverse"))
    drives = [SimpleNamespace(gear=SimpleNamespace(name=n, direction=d)) for n, d in names]
    points = SimpleNamespace(
        grade=np.array([0.1, 0.1, 0.1, 0.1, 0.2]),
        held=np.array([True, True, False, True, True]),
        wheels=SimpleNamespace(oil_heat=np.array([50e3, 50.1e3, 20e3, 20e3, 20e3])),
        drive=np.array([0, 1, 2, 3, 1]),
    )
    wheels = SimpleNamespace(cooler_capacity=50e3, points=points, drives=drives)
    assert gears_cooled_on(SimpleNamespace(tractive=wheels), 0.1) == ["1"]
    assert gears_cooled_on(SimpleNamespace(tractive=wheels), 0.2) == ["2"]
    wheels.cooler_capacity = None
    assert gears_cooled_on(SimpleNamespace(tractive=wheels), 0.1) == []
