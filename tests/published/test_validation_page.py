"""The page of outside checks is what the checks have just found, and says what they show."""

import json
import re
from collections import Counter

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


def test_rate_of_noticed_changes_is_that_of_the_summary():
    # Wilson's interval by scipy, from the counts alone.
    found = broken_on_purpose()
    noticed, code = int(found["noticed"]), int(found["code"])
    interval = binomtest(noticed, code).proportion_ci(0.95, method="wilson")
    assert found["rate"] == f"{100 * noticed / code:.1f}"
    assert (found["low"], found["high"]) == (f"{100 * interval.low:.1f}",
                                             f"{100 * interval.high:.1f}")  # fmt: skip
    summary = json.loads(MUTATION.read_text(encoding="utf-8"))
    modules = summary["modules"].values()
    for key in ("code", "code noticed", "message", "message noticed"):
        assert sum(counts.get(key, 0) for counts in modules) == summary["all"][key]


def test_summary_names_only_what_is_there():
    text = CREDIBILITY.read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:tests|converter_match|data|docs|benchmarks)/[\w/.-]+)`", text))
    assert named
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []
    assert set(re.findall(r"\{tag:([^}]+)\}", text)) <= set(TAGS)
