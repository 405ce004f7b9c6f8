"""Reports, sheets, the bench and pages read back: the same in both systems, and from the result."""

from __future__ import annotations

import re

import ipywidgets as widgets
import numpy as np
import pytest

from converter_match.judgement.verdict.words import REQUIREMENTS, VERDICTS
from converter_match.present.bench.controls import buttons, controls
from converter_match.present.bench.sliders import slider, wanted
from converter_match.present.bench.state import BenchState
from converter_match.present.figures.comparison import letters
from converter_match.present.pages.slider import slider_data
from converter_match.present.report.model import ReportTable, SmallTables
from tests.present import read_back as back
from tests.present.documents import DOCUMENTS, PAIR, document, shelf, subject_of

every = pytest.mark.parametrize("name", DOCUMENTS)
REPORTS = [name for name in DOCUMENTS if name.startswith("report ")]
# A number of the typed files as it was typed, and what is a law of probability.
NOT_OF_THE_RESULT = re.compile(
    r"11\.5 in|2\.5 % \.\. 50 % \.\. 97\.5 %|US Army TM|for 60 s or more"
)
# Names, not words.
NAMES = re.compile(r"\.(gid|key|code|name|kind|look|id|paper|stroke|side|amounts.*|words\..*)$")
WITH_NUMBERS = [name for name in DOCUMENTS if name not in ("handout", "slider page")]


def tables(report):
    for section in report.sections:
        for part in section.parts:
            if isinstance(part, ReportTable):
                yield part
            elif isinstance(part, SmallTables):
                yield from part.tables


@every
def test_a_document_in_us_units_says_the_same(name):
    si, us = (dict(back.strings(document(name, system), system)) for system in ("si", "us"))
    if name in REPORTS:
        titles = [[part.title for part in document(name, x).sections] for x in ("si", "us")]
        assert titles[0] == titles[1]
        # A table of another length moves what stands behind it: part by part instead.
        long = {
            re.match(r"\.sections\[\d+\]\.parts\[\d+\]", place)[0]
            for place in si.keys() ^ us.keys()
        }
        assert len(long) <= 3
        si, us = (
            {k: v for k, v in each.items() if not any(k.startswith(part) for part in long)}
            for each in (si, us)
        )
    assert si.keys() == us.keys()
    for place, ours in si.items():
        theirs = us[place]
        if place.endswith((".system", ".paper")) or re.fullmatch(r"[-\d. /]+", ours):
            continue
        if re.match(r"[\d.]+: -?\d+, left ", ours):  # of the cooler: the units stand above
            ours, theirs = (
                re.sub(r"(-?[\d.]+): (-?\d+), left (-?\d+)", text, cell)
                for cell, text in ((ours, r"\1 km/h: \2 kW, left \3 kW"),
                                   (theirs, r"\1 mph: \2 hp, left \3 hp"))
            )  # fmt: skip
        assert back.without_units(ours) == back.without_units(theirs), place
        for one, other in zip(back.amounts(ours), back.amounts(theirs), strict=True):
            assert back.agree(one, other), (place, ours, theirs)


@pytest.mark.parametrize("name", WITH_NUMBERS)
@pytest.mark.parametrize("system", ["si", "us"])
def test_every_amount_said_is_one_of_the_result(name, system):
    subject = subject_of(name)
    if name.startswith("bench"):
        subject = bench_results(subject)
    held = back.scalars(subject)
    for place, text in back.strings(document(name, system), system):
        if NOT_OF_THE_RESULT.search(text) or (name.startswith("bench") and ".b" in place):
            continue
        # A difference to the present machine: see the test of it.
        for said in back.amounts(re.sub(r"\([-+]\d+ %\)", "", text)):
            assert back.stands_in(said, held), (place, text)


def bench_results(settings):
    from converter_match.present.bench.view import solve_setting

    return [solve_setting(setting, shelf()) for setting in settings], settings


@every
def test_words_are_words(name, known):
    for place, text in back.strings(document(name), "si"):
        if ".words." in place or re.search(
            r"\.(gid|key|code|name|kind|look|id|paper|stroke|side|amounts.*)$", place
        ):
            continue
        assert back.unknown(text, known) == [], (place, text)
        assert not re.search(r"\bNone\b|\bnan\b|\binf\b|[{}]", text), (place, text)
        assert back.small_starts(text) == [], (place, text)
        assert back.foreign(text) == [], (place, text)


@pytest.fixture(scope="module")
def known():
    return back.known_words()


@pytest.mark.parametrize("name", [*REPORTS, "handout", "stall sheet", "stall sheet of a motor"])
def test_sentences_begin_with_a_capital_letter_and_end(name):
    report = document(name)
    for place, text in back.strings(report, "si"):
        # What begins with the letters of those it is said of, or with a name, is no sentence.
        if not place.endswith(".text") or re.match(r"[\w, ]+: |[a-z]+[.\[(]", text):
            continue
        if len(text.split()) > 6:
            assert re.match(r"[^a-z]", text), (place, text)


def figure_of(text):
    """Return the figure that stands in a cell, which may be one without a unit."""
    return back.amounts(text if " " in text else f"{text} rpm")[0]


@pytest.mark.parametrize("name", REPORTS[:2])
def test_a_share_beside_a_figure_is_its_difference_to_the_present_machine(name):
    found = 0
    for table in tables(document(name)):
        for row in table.rows:
            for cell in row[2:]:
                share = re.search(r"\(([-+]\d+) %\)", cell)
                if share is None:
                    continue
                first, here = (figure_of(text.partition(" (")[0]) for text in (row[1], cell))
                least = (here.value - here.half) / (first.value + first.half) - 1
                most = (here.value + here.half) / (first.value - first.half) - 1
                assert 100 * least - 0.51 <= float(share[1]) <= 100 * most + 0.51, row
                found += 1
    assert found > 5


@pytest.mark.parametrize("name", REPORTS[:2])
@pytest.mark.parametrize("system", ["si", "us"])
def test_every_cell_of_the_criteria_is_verdict_value_and_bounds_of_its_finding(name, system):
    result, report = subject_of(name), document(name, system)
    table = next(item for item in tables(report) if item.name == "criteria-overview")
    assert table.head == (
        "criterion",
        *(letters(result)[item.combination] for item in result.assessments),
    )
    rows = {row[0]: row[1:] for row in table.rows}
    used = [
        choice
        for choice in result.study.criteria
        if any(item.finding(choice.name) for item in result.assessments)
    ]
    assert len(rows) == len(used) + 1
    for choice in used:
        cells = rows[f"{choice.spec.title}, {REQUIREMENTS[choice.weight]}"]
        for cell, item in zip(cells, result.assessments, strict=True):
            finding = item.finding(choice.name)
            if finding is None:
                assert cell == "–"
                continue
            assert cell.startswith(VERDICTS[finding.verdict])
            measure = finding.worst.measure
            if measure.value is None or measure.missing:
                assert cell == VERDICTS[finding.verdict]
                continue
            bounds = [bound for bound in (measure.least, measure.most) if bound is not None]
            said = back.amounts(cell)
            if len(said) == 1 + len(bounds):
                for one, value in zip(said, (measure.value, *bounds), strict=True):
                    assert one.value == pytest.approx(value, abs=1.001 * one.half)
            words = [word for word, bound in (("min.", measure.least), ("max.", measure.most))
                     if bound is not None]  # fmt: skip
            assert re.findall(r"min\.|max\.", cell) == words
    assert rows["Overall"] == tuple(VERDICTS[item.verdict] for item in result.assessments)


@pytest.mark.parametrize("name", REPORTS[:2])
@pytest.mark.parametrize("system", ["si", "us"])
def test_points_of_the_match_stand_in_their_columns(name, system):
    result, report = subject_of(name), document(name, system)
    section = next(
        item for item in report.sections if item.title == "Where engine and converter meet"
    )
    [own] = [
        table
        for part in section.parts if isinstance(part, SmallTables)
        for table in part.tables
        if table.caption.startswith(f"{letters(result)[result.decision.combination]}: ")
        and table.caption.endswith(result.study.conditions[0].name)
    ][:1]  # fmt: skip
    match = result.outcome(result.decision.combination).match
    heads = [head.replace("\n", " ") for head in own.head]
    row = dict(zip(heads, next(row for row in own.rows if row[0].startswith("stall")), strict=True))
    said = {key.partition(" (")[0]: (text, back.unit_of(key)) for key, text in row.items()}
    for words, value in (
        ("engine", match.stall.engine_speed), ("input torque", match.stall.input_torque),
        ("turbine torque", match.stall.turbine_torque), ("heat", match.stall.heat),
        ("turbine", 0.0),
    ):  # fmt: skip
        text, unit = said[words]
        shown = back.amounts(text if unit is None else f"{text} {unit}")[0]
        assert shown.value == pytest.approx(value, abs=1.001 * shown.half), words


@pytest.mark.parametrize("name", ["bench", "bench of two"])
def test_lines_and_marks_of_the_bench_are_the_same_in_both_systems(name):
    si, us = (document(name, system)[0] for system in ("si", "us"))
    for ours, theirs in zip(si.panels, us.panels, strict=True):
        across = [back.unit_of(panel.x_label) for panel in (ours, theirs)]
        up = [back.unit_of(panel.y_label) for panel in (ours, theirs)]
        assert None not in (*across, *up)
        for one, other in zip(ours.lines, theirs.lines, strict=True):
            assert back.to_si(one.x, across[0]) == pytest.approx(
                back.to_si(other.x, across[1]), rel=1e-6, nan_ok=True
            )
            assert back.to_si(one.y, up[0]) == pytest.approx(
                back.to_si(other.y, up[1]), rel=1e-6, nan_ok=True, abs=1e-6
            )
            assert (one.id, one.side, one.label) == (other.id, other.side, other.label)
        for one, other in zip(ours.marks, theirs.marks, strict=True):
            assert back.to_si(one.x, across[0]) == pytest.approx(
                back.to_si(other.x, across[1]), rel=1e-6
            )
            assert back.to_si(one.y, up[0]) == pytest.approx(back.to_si(other.y, up[1]), rel=1e-6)


def test_rows_of_the_slider_page_are_the_same_in_both_systems():
    si, us = (slider_data(subject_of("slider page"), system=x) for x in ("si", "us"))
    assert si["nu"] == us["nu"]
    for key, ours in si["rows"].items():
        unit, us_unit = si["amounts"][key][0], us["amounts"][key][0]
        if (unit, us_unit) == ("K", "°F"):  # a difference of temperatures
            us["rows"][key], us_unit = [value / 1.8 for value in us["rows"][key]], "K"
        one, other = (
            back.to_si([np.nan if value is None else value for value in values], name or None)
            for values, name in ((ours, unit), (us["rows"][key], us_unit))
        )
        size = np.nanmax(np.abs(one))
        np.testing.assert_allclose(other, one, rtol=1e-5, atol=1e-5 * size, err_msg=key)


def test_every_control_of_the_bench_says_what_it_does(known):
    state = BenchState(a=PAIR)
    every = {**controls(shelf(), state), **buttons()}
    for name, control in every.items():
        tips = getattr(control, "tooltips", None) or [getattr(control, "tooltip", None)]
        said = [getattr(control, "description", ""), *(tip for tip in tips if tip is not None)]
        for text in said:
            assert back.unknown(text, known) == [], (name, text)
        if isinstance(control, widgets.Button | widgets.ToggleButton):
            assert control.tooltip, name


@pytest.mark.parametrize("system", ["si", "us"])
def test_sliders_go_by_the_steps_that_they_show(system):
    for name, item in wanted(PAIR, system).items():
        made = slider(item)
        assert (made.min, made.max, made.step, made.value) == pytest.approx(
            (item.low, item.high, item.step, item.value)
        ), name
        # The last digit shown is that of a step: whole steps have none behind the point.
        assert made.readout_format == (".0f" if item.step == round(item.step) else ".1f")
        assert made.disabled == item.off


@pytest.mark.parametrize("name", [*REPORTS, "handout"])
def test_pictures_in_a_report_are_drawn_in_the_units_of_the_report(name):
    if name == "handout":  # which is in SI
        pictures = [(picture.figure, None) for picture in document(name).pictures]
    else:
        si, us = (document(name, system).pictures for system in ("si", "us"))
        assert [each.name for each in si] == [each.name for each in us]
        pictures = [(one.figure, other.figure) for one, other in zip(si, us, strict=True)]
    assert pictures
    for ours, theirs in pictures:
        units = {back.unit_of(label.partition(",\n")[0]) for label in back.names(ours)}
        assert not units & back.US_ONLY
        assert [back.foreign(text.get_text()) for text in back.texts(ours)].count([]) == len(
            back.texts(ours)
        )
        if theirs is None:
            continue
        one, other = back.drawn(ours), back.drawn(theirs)
        assert one.keys() == other.keys()
        for gid, line in one.items():
            for ours_si, theirs_si in zip(line.si, other[gid].si, strict=True):
                size = np.abs(ours_si[np.isfinite(ours_si)]).max(initial=0.0)
                np.testing.assert_allclose(
                    theirs_si, ours_si, rtol=2e-6, atol=2e-6 * size, err_msg=gid
                )
