"""The report of a study: web page, PDF, tables."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from types import SimpleNamespace

import pytest
from jinja2 import UndefinedError
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from converter_match.answer.csv_table import cell, csv_text
from converter_match.errors import InputError
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.present.figures.comparison import compared_efforts, letters
from converter_match.present.pages.page_template import template
from converter_match.present.report.asked import Asked
from converter_match.present.report.columns import natural_widths, wrapped
from converter_match.present.report.content import report_of
from converter_match.present.report.first_page import chance
from converter_match.present.report.html import report_html
from converter_match.present.report.model import (
    MarkedCell,
    Paragraph,
    Report,
    Section,
    Signature,
    SmallTables,
    table,
)
from converter_match.present.report.pdf import _Flow, report_pdf
from converter_match.present.report.study_tables import study_tables
from converter_match.study.study import PRESENT, Claim, Correlation, Tolerance
from tests.examples import RPM, converter
from tests.study_examples import combination, flat_engine, study

NASTY = '<script>alert("x")</script> & <b>'
FORMULA = '=HYPERLINK("http://example.invalid")'


@pytest.fixture(scope="module")
def result():
    weak = combination("weak", name=NASTY, engine=flat_engine(810.0, name=NASTY))
    wild = combination(
        "wild", name=FORMULA, converter=converter(interface=(("housing", "+SUM(A1:A2)"),))
    )
    tolerances = (
        Tolerance(quantity="engine-torque", half_width=0.03, distribution="normal"),
        Tolerance(quantity="mass", half_width=0.05, shared=True),
    )
    claims = (
        # The stall speed is 60 sqrt(900) = 1800 rpm: one claim agrees, one does not.
        Claim(quantity="stall-speed", value=1801 * RPM, given="1801 rpm", combination="wild"),
        Claim(quantity="stall-speed", value=1555 * RPM, given="1555 rpm", combination="wild",
              source=NASTY, tolerance=0.001),
    )  # fmt: skip
    base = study(
        candidates=(weak, wild), name=f"Study {NASTY}", tolerances=tolerances, claims=claims
    )
    return with_extras(run_study(base), draws=64)


@pytest.fixture(scope="module")
def report(result):
    return report_of(result)


@pytest.fixture(scope="module")
def page(report):
    return report_html(report)


class Reader(HTMLParser):
    """Gathers tags, ids, links and words of a page."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.ids, self.links, self.words = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value)
            if name in ("src", "href", "xlink:href", "action", "data"):
                self.links.append(value)

    def handle_data(self, data):
        self.words.append(data)


# --- web page ------------------------------------------------------------------------------------


@pytest.mark.slow
def test_names_that_look_like_markup_stay_names(page):
    assert "<script" not in page
    assert "&lt;script&gt;alert(&#34;x&#34;)&lt;/script&gt; &amp; &lt;b&gt;" in page
    assert "script" not in Reader(page).tags
    # matplotlib repeats what it draws in comments of the SVG.
    assert "<!--" not in page


def test_page_needs_nothing_from_elsewhere(page):
    links = Reader(page).links
    assert links, "the figures refer to their own parts"
    assert all(link.startswith("#") for link in links)
    assert not re.search(r"url\((?!#)", page)
    assert "@import" not in page


def test_ids_of_several_figures_do_not_clash(page):
    ids = Reader(page).ids
    assert len(ids) == len(set(ids))
    used = set(re.findall(r'(?:href="#|url\(#)([^")]+)', page))
    assert used <= set(ids)


def test_first_page_has_answer_table_picture_and_one_thing_to_settle(report, page):
    first, second = report.sections[:2]
    assert not first.own_page
    assert second.own_page
    kinds = [block.kind for block in first.parts]
    assert kinds == [
        "verdict", "paragraph", "paragraph", "table", "picture", "heading", "paragraph",
        "paragraph", "signature",
    ]  # fmt: skip
    words = " ".join(Reader(page).words)
    assert "Find out: input torque limit of the converter" in words
    assert "converter-match 0.1.0" in words


def test_missing_value_is_an_error_and_not_a_gap():
    with pytest.raises(UndefinedError):
        template("report.html.j2").render(report={"title": "t"}, pictures={})


@pytest.mark.slow
def test_report_in_us_units_has_no_metric_torque(result):
    words = " ".join(Reader(report_html(report_of(result, "us"))).words)
    assert "lbf·ft" in words
    assert "N·m" not in words


def test_verdicts_differ_in_more_than_colour(page):
    style = page[page.index("<style>") : page.index("</style>")]
    assert "td.dark" in style
    assert "dashed" in style  # not known
    assert not re.search(r"(?i)\b(red|green|#f00|#0f0)\b", style)


def test_chance_claims_no_more_than_draws_know():
    assert [chance(p) for p in (1.0, 0.995, 0.5, 0.004)] == [
        "more than 99 %", "more than 99 %", "50 %", "less than 1 %",
    ]  # fmt: skip


def test_claims_are_set_against_our_figures(report):
    section = next(item for item in report.sections if item.title == "Basis of the claims")
    table = section.parts[1]
    assert [row[7] for row in table.rows] == ["agrees", "disagrees"]
    assert table.head[2:6] == ("as stated", "claimed", "calculated", "difference (%)")
    # 1555 / 1800 - 1
    assert table.rows[1][2:6] == ("1555 rpm", "1555 rpm", "1800 rpm", "-13.6")
    first = [item for block in report.sections[1].parts if block.kind == "bullets"
             for item in block.items]  # fmt: skip
    claim = "Claim that disagrees, for B: stall speed: 1555 rpm"
    assert sum(item.startswith(claim) for item in first)


@pytest.mark.slow
def test_without_tolerances_the_report_says_that_nothing_was_drawn():
    report = report_of(run_study(study()))
    words = [block.text for block in report.sections[0].parts if block.kind == "paragraph"]
    assert any("no probabilities were calculated" in text for text in words)
    assert "Confidence" not in [section.title for section in report.sections]


# --- PDF -----------------------------------------------------------------------------------------


def small(text="One paragraph.", rows=3, paper="a4"):
    return Report(
        paper=paper,
        title="T",
        subtitle="S",
        footer="F",
        sections=(
            Section(
                title="A",
                parts=(
                    Paragraph(text=text),
                    table("c", ("a", "b"), [("x", "FAIL")] * rows, left=1),
                ),
            ),
        ),
    )


# ISO 216: A4 is 210 mm x 297 mm; ANSI/ASME Y14.1: size A is 8.5 in x 11 in.
@pytest.mark.slow
@pytest.mark.parametrize(
    ("paper", "width", "height"), [("a4", 210 / 25.4, 297 / 25.4), ("letter", 8.5, 11.0)]
)
def test_pdf_has_its_paper_and_is_the_same_each_time(paper, width, height):
    content = report_pdf(small(paper=paper))
    assert content == report_pdf(small(paper=paper))
    assert content.startswith(b"%PDF-")
    size = map(float, re.search(rb"/MediaBox \[ 0 0 (\S+) (\S+) \]", content).groups())
    # A point is 1/72 in.
    assert list(size) == pytest.approx([width * 72, height * 72], abs=0.5)


@pytest.mark.slow
def test_us_units_are_printed_on_letter(result):
    assert report_of(result).paper == "a4"
    assert report_of(result, "us").paper == "letter"


def pages_of(content):
    return int(re.search(rb"/Count (\d+)", content)[1])


@pytest.mark.slow
def test_long_table_goes_on_over_pages():
    assert pages_of(report_pdf(small())) == 1
    assert pages_of(report_pdf(small(rows=200))) >= 3


@pytest.mark.slow
def test_pictures_give_way_until_the_first_page_holds_all(result):
    first = report_of(result).sections[0]
    assert first.one_page
    one = Report(title="T", subtitle="word " * 260, footer="", sections=(first,))
    assert pages_of(report_pdf(one)) == 1
    loose = replace(one, sections=(replace(first, one_page=False),))
    assert pages_of(report_pdf(loose)) == 2


@pytest.mark.slow
def test_small_tables_go_on_over_pages_and_lose_no_row():
    long = table("long", ("a", "b"), [(f"{n}", "1.5") for n in range(3000)])
    flow = _Flow(small())
    for alone in (True, False):
        pieces = flow.pieces(long, alone=alone)
        assert [row for piece in pieces for row in piece.table.rows] == list(long.rows)
    parts = (SmallTables(tables=(long,)),)
    report = replace(small(), sections=(Section(title="A", parts=parts),))
    assert pages_of(report_pdf(report)) >= 3


def test_widest_columns_give_way_first_and_not_below_their_longest_word():
    words = table("", ("n", "text"), [("1.25", "some words " * 12), ("2.50", "short")])
    narrow, wide = natural_widths(words, 7.0, 3.0, 9.0)
    assert narrow + wide == pytest.approx(3.0)
    assert narrow == natural_widths(words, 7.0, 99.0, 9.0)[0]
    marked = table("", ("n",), [(MarkedCell("4.3: 89, left -14", "dark"),)])
    plain = table("", ("n",), [("4.3: 89, left -14",)])
    # What is set in bold is wider.
    assert natural_widths(marked, 7.0, 9.0, 9.0) > natural_widths(plain, 7.0, 9.0, 9.0)


def test_lines_fit_and_lose_no_word():
    text = "stall speed of the engine against the window " * 6 + "x" * 400
    lines = wrapped(text, 3.0, 9.0)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    font = FontProperties(family="DejaVu Sans")
    for line in lines:
        box = TextPath((0, 0), line, size=9.0, prop=font).get_extents()
        assert box.width / 72 <= 3.0 + 0.03  # in; a letter's overhang


def test_blank_text_is_one_blank_line():
    assert wrapped("", 3.0, 9.0) == [""]


# --- figure --------------------------------------------------------------------------------------


def test_overlay_has_one_line_for_each_combination_with_its_effort(result):
    ax = compared_efforts(result)
    lines = {line.get_gid(): line for line in ax.get_lines()}
    for name in (PRESENT, "weak", "wild"):
        cover = result.outcome(name).tractive.envelope
        drawn = lines[f"effort-{name}"]
        assert drawn.get_xdata() == pytest.approx(3.6 * cover.speed)  # km/h
        assert drawn.get_ydata() == pytest.approx(cover.force / 1e3, nan_ok=True)  # kN
    assert "km/h" in ax.get_xlabel()
    assert "kN" in ax.get_ylabel()
    words = {text.get_text() for text in ax.texts}
    assert {"today", "A", "B"} <= words


def test_overlay_is_drawn_on_the_axes_given(result):
    from matplotlib.figure import Figure

    ax = Figure().add_subplot()
    assert compared_efforts(result, ax=ax, system="us") is ax
    assert "mph" in ax.get_xlabel()


@pytest.mark.slow
def test_overlay_without_wheels_says_what_is_missing():
    bare = combination(driveline=None, machine=None)
    found = run_study(study(bare, present=None))
    with pytest.raises(InputError, match="a driveline, a machine and"):
        compared_efforts(found)
    assert report_of(found).pictures  # the report goes on without it


def test_letters_name_candidates_in_order(result):
    assert dict(letters(result)) == {PRESENT: "today", "weak": "A", "wild": "B"}


# --- tables --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["=1+2", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "=cmd|' /C calc'!A0"],
)
def test_text_that_a_spreadsheet_would_run_is_neutralised(text):
    # OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return.
    assert cell(text) == f"'{text}"


@pytest.mark.parametrize(
    ("value", "text"),
    [(-1.5, "-1.5"), (3, "3"), (None, ""), (False, "no"), ("SAE 2", "SAE 2"), (float("nan"), "")],
)
def test_numbers_stay_numbers(value, text):
    assert cell(value) == text


def test_head_of_a_table_is_neutralised_too():
    assert csv_text([{"=a": 1}]) == "'=a\n1\n"


def test_no_cell_of_any_table_is_a_formula(result):
    tables = study_tables(result)
    assert set(tables) >= {"criteria.csv", "comparison.csv", "bolt-on.csv", "effort.csv"}
    for name, text in tables.items():
        rows = list(csv.reader(io.StringIO(text)))
        assert len({len(row) for row in rows}) == 1, name
        for row in rows:
            for found in row:
                harmless = re.fullmatch(r"-?\d+(\.\d+)?(e[+-]?\d+)?", found)
                assert harmless or not found.startswith(("=", "+", "-", "@")), (name, found)
    assert "'+SUM(A1:A2)" in tables["bolt-on.csv"]


def test_tables_hold_the_numbers_of_the_result(result):
    rows = list(csv.DictReader(io.StringIO(study_tables(result, "us")["criteria.csv"])))
    row = next(
        row
        for row in rows
        if (row["combination"], row["criterion"]) == ("wild", "stall-speed-window")
    )
    assert float(row["value"]) == pytest.approx(1800.0)
    assert row["unit"] == "rpm"


def test_correlation_goes_between_two(result):
    with pytest.raises(InputError, match="goes with itself"):
        Correlation(first="mass", second="mass", coefficient=0.5)


def test_lines_to_sign_on_share_the_width_of_the_page():
    drawn = []
    page = SimpleNamespace(
        room=6.0, y=1.0, gap=lambda height: None, need=lambda height: None,
        line=lambda x0, x1, *rest: drawn.append((x0, x1)), text=lambda *rest, **look: None,
    )  # fmt: skip
    _Flow.signature(page, Signature(labels=("Decided by", "Date", "Signature")))
    assert [x1 - x0 for x0, x1 in drawn] == pytest.approx([6.0 / 3 - 0.25] * 3)
    assert drawn[-1][1] <= drawn[0][0] + 6.0
    assert all(one[1] < other[0] for one, other in pairwise(drawn))


def test_figures_on_page_one_are_in_the_units_that_the_study_asks_in():
    # 1 hp = 745.7 W, 1 mph = 0.44704 m/s (NIST SP 811, appendix B.8)
    typed = {"power": "hp", "angular_speed": "rad/s", "velocity": "mph"}
    asked = Asked(typed, "si")
    assert asked.text(50 * 745.69987, "power") == "50.0 hp"
    assert asked.text(99.94 * 745.69987, "power") == "99.9 hp"
    assert asked.text(100 * 745.69987, "power") == "100 hp"
    assert asked.text(188.4955592, "angular_speed") == "188 rad/s"
    assert asked.text(4.4704, "velocity") == "10.0 mph"
    assert asked.text(200.0, "torque") == "200 N·m"  # which the study does not ask for
    assert Asked({"power": "kW"}, "si").text(50e3, "power") == Asked({}, "si").text(50e3, "power")
