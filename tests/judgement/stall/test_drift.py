"""Drift of readings against their bands, by rank statistics worked out by hand."""

from math import factorial

import numpy as np
import pytest

from converter_match.judgement.stall.drift import FEWEST, drift_of

YEAR = 365.25 * 86400.0


def drift(read, years=None, low=None, high=None):
    count = len(read)
    years = range(count) if years is None else years
    low = [180.0] * count if low is None else low
    high = [200.0] * count if high is None else high
    return drift_of([k * YEAR for k in years], read, low, high)


@pytest.mark.parametrize("count", [5, 6, 7, 8])
def test_a_steady_fall_is_as_rare_as_two_orders_of_all(count):
    # Of n! orders one rises and one falls throughout.
    told = drift([190.0 - 0.1 * k**1.5 for k in range(count)])
    assert told.chance == pytest.approx(2 / factorial(count), rel=1e-9)
    assert told.drifts
    assert [note.code for note in told.notes] == ["drift-seen"]


def test_four_tests_can_tell_no_drift():
    # 2 of 24 orders: 8 %, more than one in twenty however they lie.
    assert 2 / factorial(FEWEST - 1) > 0.05 >= 2 / factorial(FEWEST)
    told = drift([190.0, 180.0, 170.0, 160.0])
    assert (told.chance, told.drifts) == (None, False)
    assert [note.code for note in told.notes] == ["drift-too-few"]


def test_one_pair_out_of_order_is_counted_by_hand():
    # n = 5 with one neighbouring pair swapped: orders with no or one inversion, 1 + 4, twice, of
    # 120 (numbers of permutations by inversions: Knuth, The Art of Computer Programming 3, 5.1.1).
    told = drift([190.0, 188.0, 189.0, 186.0, 185.0])
    assert told.chance == pytest.approx(2 * 5 / 120)
    assert not told.drifts


def test_rate_is_the_middle_of_the_slopes_between_all_pairs():
    read, years = [190.0, 188.5, 189.0, 180.0, 184.0], [0, 1, 2.5, 3, 7]
    slopes = [
        (read[j] - read[i]) / (years[j] - years[i]) for i in range(5) for j in range(i + 1, 5)
    ]
    # The band stands still, so that the change against it is that of the reading.
    assert drift(read, years).per_year == pytest.approx(np.median(slopes))


def test_readings_that_go_with_their_bands_do_not_drift():
    # Air and oil of each day move the band: what follows it is no drift.
    middle = np.array([190.0, 186.0, 183.0, 180.0, 176.0, 171.0])
    told = drift(1.01 * middle, low=middle - 9.0, high=middle + 9.0)
    assert not told.drifts
    assert told.per_year == pytest.approx(0.0, abs=1e-9)


def test_holds_of_one_visit_are_one_test():
    years = [k + h / 8766.0 for k in range(4) for h in (0, 1)]  # an hour apart
    told = drift([190.0 - k for k in range(8)], years)
    assert told.times.size == 4


@pytest.mark.parametrize("count", [8, 12])
@pytest.mark.slow
def test_level_is_kept_by_readings_without_a_drift(count):
    rng = np.random.default_rng(20310504)
    seen = [drift(190.0 + rng.normal(0, 1.0, count)).drifts for _ in range(400)]
    # 5 % of 400 is 20; three standard errors 13. Exact tests stay at or below their level.
    assert 2 <= sum(seen) <= 33
