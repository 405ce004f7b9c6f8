"""How surprising readings are: against the normal distributions that they are drawn from."""

import numpy as np
import pytest
from scipy import stats

from converter_match.judgement.evidence.conflict import Surprise, surprise
from converter_match.judgement.uncertainty.sampling import normal_scores, unit_draws

Z = normal_scores(unit_draws(4096, 2))
# 4096 even draws: quantiles and moments are good to about a percent of a standard deviation.
EVEN = 0.02


def of(p, apart=None, given_others=None, joint=1.0):
    count = len(p)
    none = np.zeros(count)
    return Surprise(
        p=np.array(p), low=none, middle=none, high=none, joint=joint,
        apart=np.array(apart or none, dtype=float),
        given_others=np.array(given_others or none, dtype=float), scores=np.zeros((count, 1)),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("found", "odd"),
    [
        (of([0.011]), ()),
        (of([0.009], [2.6]), (0,)),
        (of([0.006, 0.9], [2.7, 0.1]), ()),  # a hundredth is shared among two
        (of([0.004, 0.9], [2.9, 0.1]), (0,)),
        (of([0.001, 0.002, 0.5], [-3.1, 3.3, 0.2]), (1, 0)),  # the oddest first
        (of([np.nan], [np.inf]), (0,)),  # of which no draw has an answer
        (of([0.5, 0.5], [0.6, 0.7], [-4.0, 3.9], joint=0.009), (0,)),  # with each other only
        (of([0.5, 0.5], [0.6, 0.7], [-4.0, 3.9], joint=0.011), ()),
        (of([0.5], [0.6], [4.0], joint=0.001), ()),  # one has no other to contradict
        (of([0.001, 0.5], [3.5, 0.2], [0.1, 9.0], joint=0.001), (0,)),
    ],
)
def test_odd_is_what_is_rarer_than_a_hundredth_shared_among_the_readings(found, odd):
    assert found.odd == odd


@pytest.mark.parametrize("off", [-2.0, -0.5, 0.0, 1.0, 2.5])
def test_reading_alone_is_held_against_prior_and_instrument_together(off):
    # A prior of 3 about 20 and an instrument of 4 are 5 together.
    value = 20.0 + 5.0 * off
    found = surprise(Z, 20.0 + 3.0 * Z[:, :1], np.array([value]), np.array([[16.0]]))
    assert found.apart[0] == pytest.approx(off, abs=EVEN)
    assert found.p[0] == pytest.approx(2 * stats.norm.sf(abs(off)), abs=EVEN)
    assert found.given_others[0] == pytest.approx(off, abs=EVEN)  # there are none
    assert found.joint == pytest.approx(2 * stats.norm.sf(abs(off)), abs=3 * EVEN)
    ends = (found.low[0], found.middle[0], found.high[0])
    # Simulated at random: a quantile of 4096 draws is good to 0.07 of a standard deviation here.
    assert ends == pytest.approx((20 - 1.96 * 5, 20.0, 20 + 1.96 * 5), abs=0.1 * 5)


def test_readings_that_contradict_each_other_are_told_by_what_the_others_make_of_them():
    # Two instruments of 1 on one unknown of 3: variances 10, covariance 9. Readings at +4 and -4
    # are each 4 / sqrt(10) apart. Given the other, the mean is -0.9 x 4 and the variance
    # 10 - 8.1 = 1.9: (4 + 3.6) / sqrt(1.9).
    both = np.column_stack([3.0 * Z[:, 0], 3.0 * Z[:, 0]])
    found = surprise(Z, both, np.array([4.0, -4.0]), np.eye(2))
    assert found.apart == pytest.approx([4 / 10**0.5, -4 / 10**0.5], rel=EVEN)
    assert found.given_others == pytest.approx([7.6 / 1.9**0.5, -7.6 / 1.9**0.5], rel=EVEN)
    # Along the difference, of variance 2, 8 apart: 32 of a chi-squared of two: 1e-7.
    assert found.joint <= 2 / 4097
    assert found.odd in ((0,), (1,))
    alike = surprise(Z, both, np.array([4.0, 4.0]), np.eye(2))
    # Along the sum, of variance 38, 8 apart.
    assert alike.joint == pytest.approx(stats.chi2.sf(64 / 38, 2), abs=3 * EVEN)
    assert alike.odd == ()


def test_scores_move_with_a_reading_by_their_covariance():
    # h = 3 z_0 - 4 z_1 with an instrument of 12 has 13 altogether: 3 / 13 and -4 / 13.
    found = surprise(Z, (3 * Z[:, 0] - 4 * Z[:, 1])[:, None], np.zeros(1), np.array([[144.0]]))
    assert found.scores[0] == pytest.approx([3 / 13, -4 / 13], abs=EVEN)


def test_draws_without_an_answer_to_some_reading_are_left_out_of_all():
    some = np.column_stack([Z[:, 0], Z[:, 1]])
    some[Z[:, 1] > 0.0, 0] = np.nan  # the other reading's upper half has no answer to the first
    found = surprise(Z, some, np.zeros(2), 1e-4 * np.eye(2))
    half = -((2 / np.pi) ** 0.5)  # mean of the lower half of a normal distribution
    spread = (1 - 2 / np.pi) ** 0.5
    assert found.apart[1] == pytest.approx(-half / spread, abs=3 * EVEN)
    assert np.all(np.isfinite(found.p))


@pytest.mark.parametrize("answers", [0, 1])
def test_reading_that_no_draw_can_give_contradicts(answers):
    none = np.full((Z.shape[0], 1), np.nan)
    none[:answers] = 1.0
    found = surprise(Z, none, np.ones(1), np.eye(1))
    assert np.isnan(found.p[0])
    assert found.joint == 0.0
    assert np.isinf(found.apart[0])
    assert found.odd == (0,)
