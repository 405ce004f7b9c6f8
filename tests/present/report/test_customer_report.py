"""What the customer finds in a report: the answer on page one, every number, nothing twice."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.library.shipped import shipped
from converter_match.library.study_file import read_study
from converter_match.notes import Note
from converter_match.present.drawing import style
from converter_match.present.figures.comparison import compared_efforts
from converter_match.present.report import study_folder
from converter_match.present.report.content import report_of
from converter_match.present.report.first_page import next_step
from converter_match.present.report.model import (
    Bullets,
    Paragraph,
    ReportTable,
    SmallTables,
    Verdicts,
)
from converter_match.present.report.pdf import report_pdf
from converter_match.present.report.sources import remark
from converter_match.present.report.typed import (
    _rows_table,
    columns_beside,
    csv_table,
    toml_tables,
)
from converter_match.study.study import Duty, Limits
from converter_match.units import note_text
from tests.study_examples import combination, flat_engine, study, study_file

LIMITS = (
    "[duty]",
    '[limits]\ntop_speed_least = { unit = "mph", value = 20 }\n'
    'heat = { unit = "hp", value = 60 }\n[duty]',
)


def tables_of(report):
    """Return every table of a report."""
    for section in report.sections:
        for part in section.parts:
            if isinstance(part, ReportTable):
                yield part
            elif isinstance(part, SmallTables):
                yield from part.tables


def rows_of(table):
    return {row[0]: row[1:] for row in table.rows}


@pytest.fixture(scope="module")
def shipped_result():
    return with_extras(run_study(read_study("quarry-loader-repower")), draws=200)


@pytest.fixture(scope="module")
def shipped_report(shipped_result):
    return report_of(shipped_result)


# --- as a whole ----------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("system", ["si", "us"])
def test_report_of_the_shipped_study_has_10_to_14_pages(shipped_result, system):
    pages = int(re.search(rb"/Count (\d+)", report_pdf(report_of(shipped_result, system)))[1])
    assert 10 <= pages <= 14


@pytest.mark.slow
def test_no_sentence_stands_twice(shipped_report):
    said = []
    titles = [section.title for section in shipped_report.sections]
    for section in shipped_report.sections[: titles.index("Assumptions and cautions")]:
        for part in section.parts:
            if isinstance(part, Paragraph | Verdicts):
                said.append(part.text)
            elif isinstance(part, Bullets):
                said += part.items
    sentences = [
        text for item in said for text in re.split(r"(?<=[.;])\s+", item) if len(text) > 40
    ]
    assert len(sentences) > 30
    assert sorted(sentences) == sorted(set(sentences))


@pytest.mark.slow
def test_no_candidate_that_fails_is_left_out():
    weak = [
        combination(f"weak-{n}", name=f"Weak number {n}", engine=flat_engine(500.0 + n))
        for n in range(8)
    ]
    result = run_study(study(candidates=tuple(weak)))
    words = " ".join(note_text(note, "si") for note in result.decision.reasons)
    for item in weak:
        assert item.name in words


# --- page one ------------------------------------------------------------------------------------


@pytest.mark.slow
def test_page_one_answers_in_the_units_of_the_study(tmp_path):
    result = run_study(read_study(study_file(tmp_path, LIMITS)))
    first = report_of(result).sections[0]
    rows = rows_of(next(part for part in first.parts if isinstance(part, ReportTable)))
    grade = result.outcome("new-engine").tractive.grades[1]
    assert grade.grade == pytest.approx(0.04)
    # 1 mph is 0.44704 m/s, 1 hp (mechanical) 745.7 W.
    assert rows["Speed on 4 percent grade"][1] == f"{grade.speed / 0.44704:#.3g} mph"
    heat = rows["Continuous heat there, of what the cooler takes"][1]
    assert heat == f"{grade.heat / 745.6999:#.3g} hp of 60.0 hp"
    assert rows["Top speed (required: min. 20.0 mph)"][0].endswith(" mph")
    answer = " ".join(part.text for part in first.parts if isinstance(part, Paragraph))
    assert (
        f"On the continuous grade of 4 percent it runs {grade.speed / 0.44704:#.3g} mph" in answer
    )


@pytest.mark.slow
def test_what_the_study_does_not_say_is_left_to_be_filled_in(tmp_path):
    path = study_file(tmp_path, ("[present]", 'customer = "A quarry"\n[present]'))
    given = dict(report_of(run_study(read_study(path))).particulars)
    assert (given["Customer"], given["Serial number"], given["Date"]) == ("A quarry", "", "")


@pytest.mark.slow
def test_probability_and_verdict_stand_on_page_one(shipped_report):
    first = shipped_report.sections[0]
    rows = rows_of(next(part for part in first.parts if isinstance(part, ReportTable)))
    chances = rows["Probability of all required criteria"]
    assert len(chances) == 4
    verdicts = rows["Verdict, over all criteria and conditions"]
    looks = [getattr(cell, "look", "plain") for cell in verdicts]
    assert looks == ["plain", "shaded", "shaded", "dark"]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"limits": Limits(input_torque=300.0)}, "No candidate meets what is required"),
        ({"duty": Duty(surface=None)}, "Find out: "),
    ],
)
def test_one_thing_is_to_be_settled_next(changes, says):
    step = note_text(next_step(run_study(study(**changes))), "si")
    assert step.startswith(says)


# --- at the wheels -------------------------------------------------------------------------------


@pytest.mark.slow
def test_effort_of_each_gear_at_rest_is_the_stall_effort_within_grip(
    shipped_result, shipped_report
):
    table = next(item for item in tables_of(shipped_report) if item.head[0] == "speed")
    assert table.rows[0][0] == "0"
    at_rest = dict(zip(table.head[1:], table.rows[0][1:], strict=True))
    wheels = shipped_result.outcome("present").tractive
    grip = float(wheels.road_loads[0].adhesion(0.0))
    forward = [row for row in wheels.gears if row.direction == "forward"]
    assert len(forward) == 4
    for row in forward:
        effort = min(row.stall_effort, grip) / 1e3
        assert float(at_rest[f"today\n{row.gear}"]) == pytest.approx(effort, abs=0.051)  # kN


@pytest.mark.slow
def test_heat_and_what_the_cooler_has_left_make_its_capacity(shipped_result, shipped_report):
    table = next(item for item in tables_of(shipped_report) if item.head[:2] == ("grade", "gear"))
    capacity = float(re.search(r"cooler (\d+) kW", table.head[2])[1])
    known = shipped_result.outcome("present").tractive.cooler_capacity / 1e3
    assert capacity == pytest.approx(known, abs=0.51)
    found = [
        re.fullmatch(r"[\d.]+: (\d+), left (-?\d+)", cell) for row in table.rows for cell in row
    ]
    sums = [int(item[1]) + int(item[2]) for item in found if item]
    assert len(sums) > 20
    assert np.abs(np.array(sums) - capacity).max() <= 1.0  # three roundings to whole kW


@pytest.mark.slow
def test_outlet_and_cooler_needed_are_those_of_each_grade_in_its_fastest_gear(
    shipped_result, shipped_report
):
    table = next(
        item for item in tables_of(shipped_report)
        if item.head[0] == "grade" and "kW/K" in item.rows[0][1]
    )  # fmt: skip
    wheels = shipped_result.outcome("present").tractive
    flow = wheels.machine.oil.charge_flow * 870.0 * 2060.0  # kg/m3 and J/(kg K) of mineral oil
    rows = {f"{100 * row.grade:g} %": row for row in wheels.grades if row.heat is not None}
    assert len(rows) >= 2
    for place, cell, *_ in table.rows:
        if place not in rows:
            continue
        outlet, cooler = re.fullmatch(r"(\d+) °C; ([\d.]+) kW/K", cell).groups()
        row = rows[place]
        rise = row.converter_heat / flow
        assert float(outlet) == pytest.approx(row.oil_temperature + rise - 273.15, abs=0.51)
        assert float(cooler) == pytest.approx(row.cooler_needed / 1e3, abs=5.1e-4)


# --- the input sheet -----------------------------------------------------------------------------


def numbers_typed(text):
    """Return the numbers of a TOML file, outside comments and texts."""
    text = re.sub(r'"""[\s\S]*?"""|"[^"\n]*"|#.*', " ", text)
    return re.findall(r"(?<=[\s\[=,])[+-]?\d[\d_]*(?:\.\d+)?(?:[eE][+-]?\d+)?(?=[\s\],}])", text)


@pytest.mark.parametrize(
    "kind", ["engines", "converters", "drivelines", "machines", "sites", "arrangements", "studies"]
)
@pytest.mark.slow
def test_every_number_typed_stands_on_the_sheet_with_its_unit(kind):
    for path in shipped(kind).values():
        # The same figure in a second unit is left out: a page has every number once.
        typed = re.sub(r", also = \{[^{}]*\}", "", path.read_text(encoding="utf-8"))
        tables = toml_tables(path.read_bytes(), "A", "A", skip=frozenset({"schema"}))
        said = " ".join(
            " ".join([one.caption, *one.head, *(cell for row in one.rows for cell in row)])
            for one in tables
        )
        words = re.split(r"[\s(),;]+", said)
        for number in numbers_typed(typed):
            assert number in words, (path.name, number)
        for unit in re.findall(r'unit = "([^"]+)"', typed):
            assert unit in said, (path.name, unit)


def test_source_stands_above_what_a_file_says():
    content = b'name = "N"\nsource = "a brochure"\n[full_load]\nx = { unit = "rpm", values = [1] }'
    single, column = toml_tables(
        content + b"\n[low]\ny = 7", "Engine: a.toml", "Engine", skip=frozenset()
    )
    assert single.caption == "Engine: a.toml; N; a brochure"
    assert column.head == ("x (rpm)", "1")


def test_route_stands_on_the_sheet_as_typed():
    path = shipped("routes")["quarry-to-crusher"]
    table = csv_table(path.read_bytes(), "Route", only={})
    assert table.head[1:3] == ("length [m]", "grade [%]")
    assert len(table.rows) == 14
    assert table.rows[2][:3] == ("ramp", "340", "11")
    assert sum(len(part.rows) for part in columns_beside(replace(table, rows=table.rows * 4))) == 56


@pytest.mark.slow
def test_input_sheet_says_who_uses_a_file_and_lists_every_checksum(shipped_result, shipped_report):
    said = [table.caption for table in tables_of(shipped_report)]
    assert any(text.startswith("Engine (A, B): six-cylinder-7l-185kw.toml") for text in said)
    assert any(text.startswith("Converter (today, A): single-stage-345mm-tight") for text in said)
    sums = [cell for table in tables_of(shipped_report) for row in table.rows for cell in row]
    assert all(item.sha256 in sums for item in shipped_result.study.inputs)


# --- remarks and lines ---------------------------------------------------------------------------


def test_remark_that_differs_in_values_only_is_said_once():
    message = "Turns at {v:angular_speed .0f} and not more."
    notes = [Note("turns", message, values=(("v", value),)) for value in (100.0, 200.0)]
    said = remark({notes[0]: ["today", "A"], notes[1]: ["B"]}, "si")
    assert said == "Turns at 955 rpm and not more. [turns; today, A] Likewise for B: 1910 rpm."


@pytest.mark.slow
def test_lines_of_six_and_more_combinations_are_told_apart_without_colour():
    looks = [(str(style.series(row).dash), style.series(row).marker) for row in range(8)]
    assert len({mark for _, mark in looks}) == 8
    others = tuple(combination(f"c{n}", engine=flat_engine(900.0 + 20 * n)) for n in range(5))
    ax = compared_efforts(run_study(study(candidates=others)))
    drawn = [line for line in ax.get_lines() if str(line.get_gid()).startswith("effort-")]
    assert len(drawn) == 6
    assert len({line.get_marker() for line in drawn}) == 6
    names = {text.get_text() for text in ax.texts}
    assert {"today", "A", "B", "C", "D", "E"} <= names


@pytest.mark.parametrize(
    ("other", "head", "cells"),
    [
        ({"unit": "mm", "value": 2}, "mm", ["1", "2"]),  # said once, in the head
        ({"unit": "in", "value": 2}, "", ["1 mm", "2 in"]),  # each has its own
    ],
)
def test_column_says_its_unit_once_only_where_all_its_rows_share_it(other, head, cells):
    found = _rows_table("sizes", [{"size": {"unit": "mm", "value": 1}}, {"size": other}])
    assert [row[-1] for row in found.rows] == cells
    assert ("mm" in found.head[-1]) is bool(head)


def test_what_lies_among_the_inputs_of_a_report_and_is_none_is_a_stranger(tmp_path, monkeypatch):
    (tmp_path / "inputs" / "engines").mkdir(parents=True)
    ours, theirs = "inputs/engines/own.toml", "inputs/engines/notes.txt"
    for name in (ours, theirs):
        (tmp_path / name).write_text("x", encoding="utf-8")
    for known, strangers in ((frozenset({ours}), [theirs]), (None, ["inputs"])):
        monkeypatch.setattr(study_folder, "inputs_as_written", lambda folder, known=known: known)
        assert study_folder._strangers(tmp_path) == strangers
