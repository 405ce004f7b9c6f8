"""The chance of a story: against a grid, by hand, and as a rate."""

import itertools
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from converter_match.judgement.audit.chance import CHANCE, SINGLES, covered, family_chance
from tests.false_stories import asked, rates

ROOT = Path(__file__).resolve().parents[3]
LOADER = ("wheel-loader-17t, six-cylinder-10l5-138kw",)
QUICK = ("stall-speed", "stall-turbine-torque", "coupling-engine-speed")


@given(
    places=st.lists(st.floats(-0.5, 0.5), min_size=1, max_size=30),
    near=st.floats(1e-4, 0.1),
    low=st.floats(0.01, 0.2),
)
def test_the_share_covered_is_that_of_arbitrary_claims(places, near, low):
    distances = np.exp(np.linspace(math.log(low), math.log(2 * low), 4001))
    grid = np.concatenate([distances, -distances])
    within = np.min(np.abs(grid[:, np.newaxis] - np.array(places)), axis=1) <= near
    assert covered(places, near, low, 2 * low) == pytest.approx(float(within.mean()), abs=0.02)


def test_chance_of_one_alternative_by_hand():
    # One number 10 percent above ours, the claim 0.1 percent off it: the band about it is
    # ln(0.101 / 0.099) of twice ln(1.5 / (2 / 3)).
    chance = family_chance(0.101, 0.001, ([0.1], []), 0)
    assert chance == pytest.approx(math.log(0.101 / 0.099) / (4 * math.log(1.5)))


def test_single_and_pair_share_one_rate():
    alone = family_chance(0.1, 0.001, ([0.1], []), 0)
    beside = family_chance(0.1, 0.001, ([0.1], [0.1]), 0)
    assert beside == pytest.approx(alone / SINGLES)
    assert family_chance(0.1, 0.001, ([0.1], [0.1]), 1) == pytest.approx(alone / (1 - SINGLES))


def test_claims_that_would_agree_are_not_among_those_compared_with():
    # All claims nearer than 10 percent agree: the band is one of fewer.
    few = family_chance(0.1, 0.001, ([0.11], []), 0, least=0.1)
    many = family_chance(0.1, 0.001, ([0.11], []), 0)
    assert few == pytest.approx(2 * many)


def test_more_numbers_beside_a_claim_make_chance_more_likely():
    chances = [
        family_chance(0.05, 0.0005, (list(np.linspace(0.04, 0.06, count)), []), 0)
        for count in (1, 3, 9)
    ]
    assert chances == sorted(chances)
    assert family_chance(0.05, 0.02, ([0.05, 0.04, -0.05], []), 0) <= 1.0


# --- the rate of stories about nothing -----------------------------------------------------------


@pytest.fixture(scope="module")
def questions():
    return asked(QUICK, of=LOADER)


@pytest.mark.parametrize("distance", [0.01, 0.02, 0.05, 0.1, 0.2, 0.4])
def test_arbitrary_claims_seldom_have_a_story(questions, distance):
    # More than this of so many has odds of one in a thousand at the rate that is promised.
    rng = np.random.default_rng(round(1000 * distance))
    count, told = rates(questions, distance, tolerance=0.005, digits=4, draws=80, rng=rng)
    assert count > 200
    assert told <= binom.ppf(0.999, count, CHANCE)


@pytest.mark.slow
def test_arbitrary_claims_of_every_kind_seldom_have_a_story():
    # benchmarks/false_stories.py asks about every machine
    everything = asked(of=("wheel-loader-17t, six-cylinder-7l-185kw",))
    for distance, digits in itertools.product((0.01, 0.02, 0.05, 0.1, 0.2, 0.4), (2, 3, 4)):
        rng = np.random.default_rng(digits)
        count, told = rates(everything, distance, tolerance=0.005, digits=digits, draws=30, rng=rng)
        assert told <= binom.ppf(0.999, count, CHANCE), (distance, digits)


def test_the_table_in_the_docs_keeps_the_rate_that_is_promised():
    page = (ROOT / "docs" / "sizing-uncertainty-audit.md").read_text(encoding="utf-8")
    table = page.partition("<!-- false stories: begin -->")[2].partition("Claims that rest on")[0]
    shares = [float(share) for share in re.findall(r"([\d.]+) % of \d+", table)]
    assert len(shares) > 20
    assert max(shares) <= 100 * CHANCE


def test_numbers_that_do_rest_on_an_alternative_mostly_have_it_as_their_story(questions):
    # What a rate of false stories is worth: printed to four digits, most true ones are told.
    from converter_match.judgement.audit.audit import agrees, explained
    from tests.false_stories import printed

    told = []
    for question in questions:
        for one in question.tried:
            claim = printed(question.claim, one.value, 4)
            if len(one.alternatives) > 1 or agrees(claim, question.ours, 0.02):
                continue
            found = explained(claim, question.ours, 0.02, question.tried)
            told.append(
                found[0].convincing and found[0].alternatives == (one.alternatives[0].name,)
            )
    assert len(told) > 15
    assert np.mean(told) > 0.7
