"""The rule that sorts changes before they are tried: what a page says, or how it lies on paper."""

from __future__ import annotations

import ast
from importlib import import_module
from pathlib import Path

import pytest

ON_PAGE, ELSEWHERE = "present/figures/route", "physics/haul/route"


@pytest.fixture
def kinds(monkeypatch):
    monkeypatch.syspath_prepend(str(Path(__file__).resolve().parents[1] / "benchmarks"))
    return import_module("mutation_kinds")


def function(line):
    [node] = ast.parse(f"def f(ax, x, y, font_scale):\n    {line}").body
    return node


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("ax.plot(x, y, linewidth=1.0)", "ax.plot(x, y, linewidth=2.0)"),
        ("ax.plot(x, y, color=RED)", "ax.plot(x, y, color=None)"),
        ("ax.plot(x, y, zorder=3)", "ax.plot(x, y, )"),
        ("look = {'alpha': 0.5}", "look = {'ALPHA': 0.5}"),
        ("figure.add_gridspec(1, 2, left=0.1)", "figure.add_gridspec(1, 2, left=1.1)"),
        ("left = 0.3 + 2.7 * font_scale", "left = 0.3 - 2.7 * font_scale"),
        ("figure.text(0.5, 0.1, 'road')", "figure.text(1.5, 0.1, 'road')"),
        ("label_line(ax, x, y, 'road', near=0.5)", "label_line(ax, x, y, 'road', near=1.5)"),
    ],
)
def test_looks_and_lengths_on_paper_are_layout_and_only_on_a_page(kinds, before, after):
    assert kinds.kind_of(ON_PAGE, function(before), function(after)) == "layout"
    assert kinds.kind_of(ELSEWHERE, function(before), function(after)) == "code"


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("ax.plot(x, y, linestyle='--')", "ax.plot(x, y, linestyle='XX--XX')"),
        ("ax.plot(x, y, color=RED)", "ax.plot(x, None, color=RED)"),
        ("ax.text(x, y, 'power (kW)')", "ax.text(x, y, 'XXpower (kW)XX')"),
        ("figure.text(0.5, 0.1, 'road')", "figure.text(0.5, 0.1, 'ROAD')"),
        ("ax.set_xlim(0.0, 1.1 * x)", "ax.set_xlim(0.0, 2.1 * x)"),
        ("top = rows[0]", "top = rows[1]"),
        ("if x < y: pass", "if x <= y: pass"),
        ("label_line(ax, x, y, 'road', near=0.5)", "label_line(ax, x, None, 'road', near=0.5)"),
        ("zip(x, y, strict=False)", "zip(x, y, strict=True)"),
    ],
)
def test_numbers_words_curves_and_conditions_are_what_a_page_says(kinds, before, after):
    assert kinds.kind_of(ON_PAGE, function(before), function(after)) == "code"


def test_which_item_is_no_length_in_a_module_of_lengths(kinds):
    paper = "present/report/pdf"
    assert kinds.kind_of(paper, function("y = x + 0.2"), function("y = x + 1.2")) == "layout"
    assert kinds.kind_of(paper, function("y = x[2:]"), function("y = x[3:]")) == "code"


def test_errors_are_messages_and_texts_are_only_where_no_page_is_made(kinds):
    for module in (ON_PAGE, ELSEWHERE):
        before, after = "raise InputError('too few')", "raise InputError('XXtoo fewXX')"
        assert kinds.kind_of(module, function(before), function(after)) == "message"
    before, after = function("name = 'gear engaged'"), function("name = 'GEAR ENGAGED'")
    assert kinds.kind_of(ELSEWHERE, before, after) == "message"
    assert kinds.kind_of(ON_PAGE, before, after) == "code"


def test_what_nothing_can_follow_from_is_never_drawn(kinds):
    for before, after in (
        ("zip(x, y, strict=True)", "zip(x, y, strict=None)"),
        ("cast('Figure', x)", "cast(None, x)"),
    ):
        assert kinds.kind_of(ON_PAGE, function(before), function(after)) == "inert"
        assert "inert" not in kinds.KINDS
