"""The page of outside checks is what the checks have just found, and says what they show."""

import json
import re
from collections import Counter
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.stats import binomtest

from tests.validation_page import (
    CREDIBILITY,
    MUTATION,
    PAGE,
    ROOT,
    TAGS,
    Cases,
    _row,
    broken_on_purpose,
    page,
)

WORDS = {"topic": "t", "quantity": "q", "source": "s", "tag": "seen", "inputs": "i", "why": "w"}


def row(**changes):
    cases = Cases()
    cases.check(
        "test_x", **(WORDS | {"published": 2.0, "ours": 2.004, "tolerance": 0.01} | changes)
    )
    return cases.found[0]


def test_page_is_what_the_checks_found(page_now):
    assert PAGE.read_text(encoding="utf-8") == page_now


def test_row_shows_figures_difference_and_tolerance():
    found = row()
    assert (found.published, found.ours) == ("2", "2.004")
    assert (found.difference, found.tolerance) == ("+0.004", "0.01")


def test_page_is_the_same_on_a_processor_with_other_last_digits(whole_run):
    nudged = [replace(case, **case.figures.nudged(published, ours).shown())
              for case in whole_run.found if case.figures
              for published, ours in product((-1e-12, 0.0, 1e-12), repeat=2)]  # fmt: skip
    rows = {case.order: case for case in whole_run.found}
    assert len(nudged) > 100
    assert [case for case in nudged if _row(case) != _row(rows[case.order])] == []


@pytest.mark.parametrize("ours", [55.1956596, 55.19566, 55.1956604])
def test_difference_far_inside_the_tolerance_is_shown_without_its_digits(ours):
    # What an integrator that chooses its steps made of it on three processors.
    found = row(published=55.19565, ours=ours, tolerance=5e-4)
    assert (found.ours, found.difference) == ("55.19566", "under a tenth")


@pytest.mark.parametrize("share", [0.99, 1.0, 1.01])
@pytest.mark.parametrize("last_digit", [-1e-12, 0.0, 1e-12])
def test_difference_shows_its_digits_from_a_tenth_of_the_tolerance(share, last_digit):
    found = row(ours=2.0 + 0.001 * share + last_digit, tolerance=0.01)
    assert found.difference == ("under a tenth" if share < 1 else "+0.001")


@pytest.mark.parametrize("last_digit", [-1e-12, 0.0, 1e-12])
def test_figure_that_ends_in_a_five_is_rounded_one_way(last_digit):
    # 0.375 halfway between 0.37 and 0.38: even, as decimal arithmetic has it (IEEE 754, 4.3.1).
    found = row(published=0.0, ours=0.375 + last_digit, tolerance=0.5)
    assert found.difference == "+0.38"


@pytest.mark.parametrize("last_digit", [-1e-12, 0.0, 1e-12])
def test_of_two_figures_as_far_from_their_tolerances_the_first_is_shown(last_digit):
    found = row(published=[2.0, 4.0], ours=[2.005, 3.995 + last_digit], tolerance=0.01)
    assert found.difference == "+0.005"


def test_row_of_several_figures_shows_the_one_nearest_to_its_tolerance():
    found = row(published=[1.0, 100.0], ours=[1.008, 100.5], tolerance=None, relative=0.01)
    assert found.difference == "+0.008"
    assert found.published == "1; 100"
    assert found.tolerance == "1 %"


def test_double_precision_is_not_shown_as_a_difference():
    assert row(ours=2.0 + 1e-14).difference == "round-off"


@pytest.mark.parametrize(
    "changes",
    [
        {"ours": 2.0101},
        {"ours": np.nan},
        {"ours": [2.0, 2.0]},
        {"published": np.nan},
        {"tolerance": np.inf},
        {"tolerance": None},
        {"relative": 0.1},
        {"tag": "somewhere"},
        {"why": " "},
        {"source": ""},
        {"published": "2.00", "ours": "2.01", "tolerance": None},
        {"published": "about 2", "ours": "3", "tolerance": None, "agrees": False},
    ],
)
def test_check_that_fails_or_lacks_its_source_is_no_row(changes):
    with pytest.raises(AssertionError):
        row(**changes)


def test_same_check_twice_is_noticed():
    with pytest.raises(AssertionError, match="twice"):
        page([row(), row()], "")


def test_order_of_the_tests_does_not_matter():
    one, other = row(), row(topic="a")
    assert page([one, other], "") == page([other, one], "")


def test_summary_speaks_of_every_topic(whole_run):
    text = CREDIBILITY.read_text(encoding="utf-8")
    spoken_of = set(re.findall(r"\{rows:([^}]+)\}", text))
    assert spoken_of == {case.topic for case in whole_run.found}


def test_one_fact_makes_one_row(whole_run):
    # The same printed figure from the same document: the number of the document tells it.
    facts = Counter(
        (tuple(re.findall(r"[\w-]*\d{3,}[\w/&.-]*", case.source)), case.published)
        for case in whole_run.found
        if case.tag == "seen"
    )
    # Two trucks of one handbook: half a percent for each.
    assert [fact for fact, count in facts.items() if count > 1] == [((), "0.5")]


@pytest.mark.parametrize("floors", broken_on_purpose())
def test_rate_of_noticed_changes_is_that_of_the_summary(floors):
    # Wilson's interval by scipy, from the counts alone.
    found = broken_on_purpose()[floors]
    noticed, code = int(found["noticed"]), int(found["tried"])
    interval = binomtest(noticed, code).proportion_ci(0.95, method="wilson")
    assert found["rate"] == f"{100 * noticed / code:.1f}"
    assert found["interval"] == f"{100 * interval.low:.1f} to {100 * interval.high:.1f}"
    summary = json.loads(MUTATION.read_text(encoding="utf-8"))[floors]
    modules = summary["modules"].values()
    for key in ("code", "code noticed"):
        assert sum(counts.get(key, 0) for counts in modules) == summary["all"][key]
    assert [name for name in summary["tests"] if not (ROOT / name).is_dir()] == []


def test_summary_names_only_what_is_there():
    text = CREDIBILITY.read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:tests|converter_match|data|docs|benchmarks)/[\w/.-]+)`", text))
    assert named
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []
    assert set(re.findall(r"\{tag:([^}]+)\}", text)) <= set(TAGS)
