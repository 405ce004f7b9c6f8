"""Rows, columns and captions of a report's tables are those of the result, each in its place."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import groupby

import numpy as np
import pytest

from converter_match.judgement.decision.run import run_study
from converter_match.judgement.verdict.words import REQUIREMENTS
from converter_match.present.report.first_page import first_page
from converter_match.present.report.model import Paragraph, ReportTable, SmallTables, Verdicts
from converter_match.present.report.sure import _interval_table
from converter_match.study.study import PRESENT, Duty, Limits
from tests.examples import RPM
from tests.haul_examples import road
from tests.machines import surface
from tests.present import read_back as back
from tests.present.documents import DOCUMENTS, document, subject_of
from tests.study_examples import combination, flat_engine, study

REPORTS = [name for name in DOCUMENTS if name.startswith("report ")]
DRAWN = "report with claims"
SYSTEMS = pytest.mark.parametrize("system", ["si", "us"])


def tables(report):
    for section in report.sections:
        for part in section.parts:
            if isinstance(part, ReportTable):
                yield section, part
            elif isinstance(part, SmallTables):
                yield from ((section, each) for each in part.tables)


def confidence(system):
    [section] = [item for item in document(DRAWN, system).sections if item.title == "Confidence"]
    return section.parts


def letter_of(result):
    """Today, A, B, ... in the order of the study."""
    ids = [item.id for item in result.study.combinations]
    return dict(zip(ids, ["today", "A", "B"][: len(ids)], strict=True))


# --- every table ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", REPORTS)
@SYSTEMS
def test_every_row_has_a_cell_under_every_head_and_no_two_heads_are_one(name, system):
    for section, table in tables(document(name, system)):
        where = (section.title, table.caption)
        assert {len(row) for row in table.rows} <= {len(table.head)}, where
        assert len(table.left) == len(table.head), where
        assert len(table.widths) in (0, len(table.head)), where
        if any(table.head):
            assert len(set(table.head)) == len(table.head), where


@pytest.mark.parametrize("name", REPORTS)
def test_numbers_stand_under_each_other_and_words_begin_on_the_left(name):
    # A number of its own or with its unit goes to the right, a sentence to the left (a rule of
    # setting tables: common practice, no source).
    for section, table in tables(document(name)):
        if section.title == "Sources and inputs":
            continue  # as it was typed
        for column, left in enumerate(table.left):
            cells = [row[column] for row in table.rows if row[column] != "–"]
            if len(cells) > 1 and all(re.fullmatch(r"-?\d[\d.]*", cell) for cell in cells):
                assert not left or column == 0, (section.title, table.head[column])
            if any(len(cell.split()) > 12 for cell in cells):
                assert left, (section.title, table.head[column])


# --- how sure it is ------------------------------------------------------------------------------


@SYSTEMS
def test_intervals_go_figure_by_figure_and_in_each_by_the_conditions_of_the_study(system):
    result = subject_of(DRAWN)
    sure, conditions = result.uncertainty, [item.name for item in result.study.conditions]
    assert len(conditions) >= 2
    [part] = [each for each in confidence(system) if isinstance(each, SmallTables)]
    listed = "; ".join(f"({row}) {name}" for row, name in enumerate(conditions, 1))
    assert part.caption.endswith(f" {listed}.")
    [table] = part.tables
    letters = letter_of(result)
    assert table.head == (
        "figure",
        "at",
        *(letters[item.combination] for item in sure.combinations),
    )
    places = [(row[0], int(row[1].strip("()"))) for row in table.rows]
    titles = [title for title, _ in groupby(places, key=lambda place: place[0])]
    assert len(titles) == len(set(titles))
    assert titles == list(dict.fromkeys(one.title for one in sure.combinations[0].figures))
    for title in titles:
        at = [condition for name, condition in places if name == title]
        assert at == sorted(at)
    known = {
        (one.title, conditions.index(one.condition) + 1)
        for item in sure.combinations
        for one in item.figures
    }
    assert sorted(places) == sorted(known)


@SYSTEMS
def test_an_interval_is_that_of_its_figure_condition_and_combination(system):
    result = subject_of(DRAWN)
    conditions = [item.name for item in result.study.conditions]
    [table] = next(each for each in confidence(system) if isinstance(each, SmallTables)).tables
    compared = 0
    for title, at, *cells in table.rows:
        for cell, item in zip(cells, result.uncertainty.combinations, strict=True):
            [one] = [
                each
                for each in item.figures
                if each.title == title and each.condition == conditions[int(at.strip("()")) - 1]
            ]
            if one.low is None:
                assert cell == "–"
                continue
            low, high = back.amounts(cell)
            assert low.value == pytest.approx(one.low, abs=1.001 * low.half), title
            assert high.value == pytest.approx(one.high, abs=1.001 * high.half), title
            compared += 1
    assert compared >= 20


def test_a_figure_that_the_first_combination_lacks_stands_after_its_own():
    sure = subject_of(DRAWN).uncertainty
    first, *others = sure.combinations
    short = replace(first, figures=tuple(one for one in first.figures if one.name != "stall-heat"))
    numbers = {one.condition: one.condition for one in first.figures}
    block = _interval_table(replace(sure, combinations=(short, *others)), (), numbers)
    titles = [row[0] for row in block.rows]
    own = list(dict.fromkeys(one.title for one in short.figures))
    assert list(dict.fromkeys(titles)) == [*own, "heat at stall"]
    lacking = [row[2] for row in block.rows if row[0] == "heat at stall"]
    assert lacking == [None] * len(lacking)


def in_words(share):
    """No draw claims more than 99 % or less than 1 %."""
    if share > 0.99:
        return "more than 99 %"
    return "less than 1 %" if share < 0.01 else f"{round(100 * share)} %"


def test_odds_are_those_of_each_criterion_in_the_order_of_the_study():
    result = subject_of(DRAWN)
    sure = result.uncertainty
    rows, certain = [], []
    for choice in result.study.criteria:
        held = [
            next((row.probability for row in item.criteria if row.name == choice.name), None)
            for item in sure.combinations
        ]
        said = ["–" if share is None else in_words(share) for share in held]
        if set(said) - {"–"} == {"more than 99 %"}:
            certain.append(choice.spec.title.lower())
        elif set(said) != {"–"}:
            rows.append((choice.spec.title, REQUIREMENTS[choice.weight], *said))
    parts = confidence("si")
    table = next(each for each in parts if isinstance(each, ReportTable))
    assert table.rows == tuple(rows)
    assert len(rows) >= 2
    assert table.head[2:] == tuple(
        letter_of(result)[item.combination] for item in sure.combinations
    )
    said = [each.text for each in parts if isinstance(each, Paragraph)]
    assert f"{sure.draws} draws (seed {sure.seed})" in said[0]
    [met] = [text for text in said if text.startswith("Met in more than 99 %")]
    assert met.endswith(f": {', '.join(certain)}.")


# --- page one ------------------------------------------------------------------------------------


def asked_study(**changes):
    """Everything that page one can be asked about, of two candidates."""
    weak = combination("weak", name="The weak one", engine=flat_engine(700.0))
    fields = {
        "candidates": (combination(), weak),
        "limits": Limits(
            stall_speed_least=1500 * RPM, stall_speed_most=2000 * RPM, engine_speed=2500 * RPM,
            top_speed_least=5.0, top_speed_most=15.0,
        ),
        "duty": Duty(
            surface=surface(), grades=(0.0, 0.1), continuous_grade=0.05,
            routes=(road(0.02, id="up", name="Up"), road(0.0, id="on", name="On")),
        ),
    }  # fmt: skip
    return study(**(fields | changes))


@pytest.fixture(scope="module")
def asked_result():
    return run_study(asked_study())


def rows_of(section):
    [table] = [part for part in section.parts if isinstance(part, ReportTable)]
    return table


def read(cell):
    return back.amounts(cell)[0]


@SYSTEMS
def test_page_one_has_what_is_asked_about_in_its_order_with_what_is_required(asked_result, system):
    table = rows_of(first_page(asked_result, system))
    speed, velocity = ("rpm", "km/h") if system == "si" else ("rpm", "mph")
    titles = [row[0] for row in table.rows]
    starts = ["Stall speed (required: min. ", "High idle (required: max. ", "Maximum drawbar pull",
              "Speed on 5.0 % grade", "Continuous heat there, of what the cooler takes",
              "Top speed (required: min. ", "Time, Up", "Time, On",
              "Verdict, over all criteria and conditions"]  # fmt: skip
    assert [title[: len(start)] for title, start in zip(titles, starts, strict=True)] == starts
    bounds = {title.partition(" (")[0]: back.amounts(title) for title in titles}
    for name, unit, values in (
        ("Stall speed", speed, (1500 * RPM, 2000 * RPM)),
        ("High idle", speed, (2500 * RPM,)),
        ("Top speed", velocity, (5.0, 15.0)),
    ):
        assert [said.unit for said in bounds[name]] == [unit] * len(values)
        for said, value in zip(bounds[name], values, strict=True):
            assert said.value == pytest.approx(value, abs=1.001 * said.half)
    assert "max. 2000 rpm" in titles[0].replace("2,000", "2000")
    assert table.head == ("asked about", "today", "A", "B")
    assert table.caption == (
        f"{asked_result.study.conditions[0].name}. today: The present one; A: The new one; "
        "B: The weak one."
    )


@SYSTEMS
def test_page_one_shows_each_combination_in_the_first_condition(asked_result, system):
    rows = {
        row[0].partition(" (")[0]: row[1:] for row in rows_of(first_page(asked_result, system)).rows
    }
    for column, items in enumerate(asked_result.outcomes):
        item = items[0]
        wheels = item.tractive
        grade = next(row for row in wheels.grades if row.grade == 0.05)
        pulls = [row.greatest_drawbar or 0.0 for row in wheels.gears if row.direction == "forward"]
        expected = {
            "Stall speed": item.match.stall.engine_speed,
            "High idle": 2380 * RPM,
            "Maximum drawbar pull": max(pulls),
            "Speed on 5.0 % grade": grade.speed,
            "Continuous heat there, of what the cooler takes": grade.heat,
            "Top speed": wheels.top_speed.speed,
            "Time, Up": item.routes[0].time,
            "Time, On": item.routes[1].time,
        }
        for name, value in expected.items():
            said = read(rows[name][column])
            assert said.value == pytest.approx(value, abs=1.001 * said.half), (name, column)
        takes = back.amounts(rows["Continuous heat there, of what the cooler takes"][column])[1]
        assert takes.value == pytest.approx(wheels.cooler_capacity, abs=1.001 * takes.half)
    # 60 sqrt(T) rpm with a K of 60 rpm/sqrt(N m): 900 N m and 700 N m.
    assert rows["Stall speed"][0].startswith("1800")
    assert read(rows["Stall speed"][2]).value == pytest.approx(60 * 700**0.5 * RPM, abs=0.6 * RPM)


def test_heat_on_page_one_is_held_against_the_lower_of_cooler_and_limit():
    capacity = run_study(asked_study()).outcomes[0][0].tractive.cooler_capacity
    for share, lower in ((0.5, 0.5), (2.0, 1.0)):
        limits = Limits(heat=share * capacity)
        page = first_page(run_study(asked_study(limits=limits)), "si")
        [row] = [row for row in rows_of(page).rows if row[0].startswith("Continuous heat")]
        said = back.amounts(row[1])[1]
        assert said.value == pytest.approx(lower * capacity, abs=1.001 * said.half)


def test_the_answer_is_that_of_the_candidate_that_comes_first_beside_today(asked_result):
    page = first_page(asked_result, "si")
    text = next(part.text for part in page.parts if isinstance(part, Paragraph))
    first = asked_result.outcome(asked_result.decision.combination)
    today = asked_result.outcome(PRESENT)
    row, before = (
        next(each for each in item.tractive.grades if each.grade == 0.05) for item in (first, today)
    )
    answer = text.partition(". ")[0]
    said = back.amounts(answer)
    values = (0.05, row.speed, before.speed, row.heat, first.tractive.cooler_capacity,
              first.routes[0].time, today.routes[0].time)  # fmt: skip
    for one, value in zip(said, values, strict=True):
        assert one.value == pytest.approx(value, abs=1.001 * one.half), answer
    assert [part.word for part in page.parts if isinstance(part, Verdicts)] == [
        asked_result.decision.word.upper()
    ]


def test_a_grade_that_nobody_climbs_is_said_and_one_that_is_not_asked_about_is_not_shown():
    steep = Duty(surface=surface(), grades=(0.0, 0.9))
    page = first_page(run_study(asked_study(duty=steep)), "si")
    rows = {row[0]: row[1:] for row in rows_of(page).rows}
    assert set(rows["Speed on 90.0 % grade"]) == {"does not climb it"}
    text = next(part.text for part in page.parts if isinstance(part, Paragraph))
    assert text.startswith("It does not climb the grade of 90.0 %.")
    level = first_page(run_study(asked_study(duty=Duty(surface=surface(), grades=(0.0,)))), "si")
    assert not [row for row in rows_of(level).rows if "grade" in row[0]]


def test_the_steepest_grade_is_the_question_where_none_is_continuous():
    duty = Duty(surface=surface(), grades=(0.0, 0.1, 0.04))
    page = first_page(run_study(asked_study(duty=duty)), "si")
    text = next(part.text for part in page.parts if isinstance(part, Paragraph))
    assert text.startswith("On the steepest grade asked about, 10.0 %, it runs ")


def test_without_wheels_page_one_has_no_picture_and_no_row_of_wheels():
    bare = combination(driveline=None, machine=None)
    result = run_study(
        study(bare, present=combination(PRESENT, driveline=None, machine=None), duty=Duty())
    )
    page = first_page(result, "si")
    assert [part.kind for part in page.parts].count("picture") == 0
    titles = [row[0] for row in rows_of(page).rows]
    assert titles == ["Stall speed", "Verdict, over all criteria and conditions"]


# --- side by side --------------------------------------------------------------------------------


@SYSTEMS
def test_effort_of_a_gear_stands_in_its_column_at_its_speed(system):
    result = subject_of(DRAWN)
    report = document(DRAWN, system)
    found = [table for _, table in tables(report) if table.head[0] == "speed"]
    assert found
    letters = {letter: key for key, letter in letter_of(result).items()}
    unit, force = ("km/h", "kN") if system == "si" else ("mph", "lbf")
    compared = 0
    for table in found:
        for column, head in enumerate(table.head[1:], 1):
            letter, name = head.split("\n")
            wheels = result.outcome(letters[letter]).tractive
            gear, _, locked = name.partition(" ")
            [drive] = [
                each for each in wheels.drives
                if each.gear.name == gear and (each.drive == "lock-up") == bool(locked)
            ]  # fmt: skip
            curve, grip = drive.curve(), float(wheels.road_loads[0].adhesion(0.0))
            speed = curve.road_speed(wheels.machine, grip)
            for row in table.rows:
                if row[column] == "–":
                    continue
                at = back.to_si(float(row[0]), unit)
                half = back.to_si(0.5 * 10.0 ** -len(row[column].partition(".")[2]), force)
                # The speed is rounded to three digits: the effort may be that of its neighbours.
                near = np.interp(
                    at * np.array([0.995, 1.0, 1.005]), speed, np.minimum(curve.force, grip)
                )
                value = back.to_si(float(row[column]), force)
                assert near.min() - 1.01 * half <= value <= near.max() + 1.01 * half, (head, row[0])
                compared += 1
    assert compared > 30


def test_pictures_say_whose_they_are_and_in_which_condition():
    for name in REPORTS[:2]:
        result, report = subject_of(name), document(name)
        first = result.decision.combination
        letter, here = letter_of(result)[first], result.study.conditions[0].name
        captions = {picture.name: picture.caption for picture in report.pictures}
        for picture in ("match-overlay", "effort-by-gear"):
            assert captions[picture].startswith(f"{letter}: "), picture
            assert here in captions[picture]
        assert here in captions["effort-compared"]
        drawn = {picture.name: picture.figure for picture in report.pictures}
        engine = result.outcome(first).match.engine
        assert drawn["match-overlay"].get_label().startswith(engine.name)
        for picture in drawn.values():
            assert picture.get_label()
