"""A row that breaks the even steps of the others: which it is, and where nothing is said."""

import numpy as np
import pytest

from converter_match.library.intake.off_line import off_the_grid

EVEN = np.arange(0.0, 0.85, 0.1)


def moved(row, value):
    values = EVEN.copy()
    values[row] = value
    return values


@pytest.mark.parametrize(
    ("row", "value", "said"),
    [
        (4, 0.47, True),  # of 0.4: off by more than 15 percent of it (common practice, no source)
        (4, 0.45, False),
        (4, 0.33, True),
        (4, 0.35, False),
        (2, 0.24, True),
        (2, 0.22, False),
    ],
)
def test_row_between_two_that_are_two_steps_apart_is_told_with_their_middle(row, value, said):
    expected = [(row, pytest.approx(EVEN[row]))] if said else []
    assert off_the_grid(moved(row, value)) == expected


def test_ends_and_even_rows_say_nothing():
    assert off_the_grid(EVEN) == []
    assert off_the_grid(moved(0, -0.3)) == []
    assert off_the_grid(moved(-1, 2.0)) == []


def test_steps_of_which_fewer_than_half_are_alike_are_no_grid():
    # 0.1 three times of seven; the row of 0.26 stands between two that are two of these apart.
    uneven = np.array([0.0, 0.1, 0.26, 0.3, 0.4, 0.5, 0.75, 1.05])
    assert off_the_grid(uneven) == []
    assert off_the_grid(uneven[:7]) == [(2, pytest.approx(0.2))]  # three of six


def test_fewer_than_six_rows_are_no_grid():
    assert off_the_grid(np.array([0.0, 0.1, 0.26, 0.3, 0.4])) == []
    assert off_the_grid(np.array([0.0, 0.1, 0.26, 0.3, 0.4, 0.5])) == [(2, pytest.approx(0.2))]
