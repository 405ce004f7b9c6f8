"""The report of a hauler, and what moves beside reports, are what they were when last looked at.

Beside the documents of every kind: a study with routes, points of the duty and many files, and the
page on which a pair is changed. Held as the answers are (see there).
"""

from __future__ import annotations

import dataclasses
from functools import cache
from typing import Any

import pytest

from converter_match.judgement.decision.run import StudyResult, run_study
from converter_match.judgement.match.solve import solve
from converter_match.judgement.match.what_if import what_if
from converter_match.library.read import read_converter, read_engine, read_site
from converter_match.library.shipped import find
from converter_match.library.study_file import read_study
from converter_match.present.pages.what_if import what_if_data, what_if_page
from converter_match.present.report import inputs
from converter_match.present.report.content import report_of
from converter_match.present.report.inputs import inputs_section
from converter_match.present.report.typed import csv_table, toml_tables
from tests.answers.drawn import document_lines
from tests.answers.holding import compare, kept_names, lines_of
from tests.answers.page_words import words_of

PAIRS = {
    "own": (("six-cylinder-7l-185kw", "single-stage-345mm-tight", None), "si"),
    "no-coupling-us": (
        ("six-cylinder-9l-240kw", "fixed-stator-400mm-high-ratio", "plateau-quarry-hot-day"), "us"
    ),
}  # fmt: skip


# Of each shape that a value can have in a file: single, with its unit, in rows, in columns, below.
TYPED = b"""
schema = "left-out"
name = "A name"
source = "a source"
flag = true
ids = ["a", "b"]
count = 3
share = 0.50
low_idle = { unit = "rpm", value = 650.0 }
span = { unit = "K", values = [1.0, 2.50] }
speed = { unit = "rpm", values = [1, 2, 3] }
torque = { unit = "N.m", values = [10.0, 20.5, 30.25] }
long = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18]
[below]
value_of = 1
[below.deeper]
number = { unit = "kg", value = 5 }
speed_ratio = [0.0, 0.50]
torque_ratio = [2.0, 1.50]
[[row]]
name = "one"
mass = { unit = "kg", value = 1.50 }
place = { height = { unit = "m", value = 3 }, words = "here" }
[[row]]
name = "two"
mass = { unit = "t", value = 2 }
place = { height = { unit = "m", value = 4 } }
extra = 1
"""


@cache
def hauler() -> StudyResult:
    return run_study(read_study("hauler-converter"))


def solved(engine: str, fitted: str, site: str | None) -> Any:
    where = None if site is None else read_site(find("sites", site))
    return solve(
        read_engine(find("engines", engine)), read_converter(find("converters", fitted)), site=where
    )


def test_report_of_a_hauler_holds_what_it_held(request):
    compare("inputs-hauler-report", list(document_lines(report_of(hauler(), "us"), "us")), request)


def test_long_route_is_summed_up_and_a_study_without_files_names_its_sources(request, monkeypatch):
    monkeypatch.setattr(inputs, "_LONGEST", 3)
    bare = dataclasses.replace(hauler(), study=hauler().study.replace(inputs=()))
    lines = [*document_lines(inputs_section(hauler(), "si"), "si"), "# without files"]
    lines += document_lines(inputs_section(bare, "us"), "us")
    compare("inputs-summed-up", lines, request)


@pytest.mark.parametrize("name", PAIRS)
def test_page_on_which_a_pair_is_changed_holds_what_it_held(name, request):
    pair, system = PAIRS[name]
    table = what_if(solved(*pair))
    lines = list(lines_of(what_if_data(table, system=system)))
    lines += words_of(what_if_page(table, system=system, where="in a pit"))
    compare(f"inputs-what-if-{name}", lines, request)


def test_every_shape_of_a_typed_file_is_set_out_as_it_was(request):
    lines = []
    for one in toml_tables(TYPED, "File: a.toml", "File", skip=frozenset({"schema"})):
        lines += document_lines(one, "si")
    remarks = b"# a remark\nname,value,more\n\nfirst,1.50,\nsecond,2.5,a,b\nthird\n"
    for only in ({}, {"name": frozenset({"first", "third"})}):
        lines += document_lines(csv_table(remarks, "Rows", only=only), "si")
    compare("inputs-typed", lines, request)


def test_every_kept_of_these_is_made():
    assert kept_names("inputs-") == {
        "hauler-report",
        "summed-up",
        "typed",
        *(f"what-if-{name}" for name in PAIRS),
    }
