"""Draws have the spread, the shape and the correlations that were asked for."""

import numpy as np
import pytest
from scipy import stats

from converter_match.errors import InputError
from converter_match.judgement.uncertainty.sampling import (
    Uncertain,
    checked_correlation,
    unit_draws,
)

SHAPES = {
    # The same laws from scipy.stats, the reference.
    "uniform": stats.uniform(-0.03, 0.06),
    "normal": stats.norm(0, 0.015),
    "triangular": stats.triang(0.5, -0.03, 0.06),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_values_follow_the_distribution(shape):
    item = Uncertain(name="x", half_width=0.03, distribution=shape)
    u = np.linspace(1e-6, 1 - 1e-6, 1001)
    assert item.from_unit(u) == pytest.approx(SHAPES[shape].ppf(u), abs=1e-12)
    assert item.deviation == pytest.approx(SHAPES[shape].std(), rel=1e-12)
    moved = Uncertain(name="x", half_width=0.03, distribution=shape, shift=-0.04)
    assert moved.from_unit(u) == pytest.approx(SHAPES[shape].ppf(u) - 0.04, abs=1e-12)


def test_draws_are_even_repeatable_and_inside_the_ends():
    u = unit_draws(10_000, 7, seed=3)
    assert np.array_equal(u, unit_draws(10_000, 7, seed=3))
    assert not np.array_equal(u, unit_draws(10_000, 7, seed=4))
    assert u.min() > 0.0
    assert u.max() < 1.0
    assert np.abs(u.mean(axis=0) - 0.5).max() < 1e-3  # plain random draws: 0.003 is one sigma


def test_a_correlation_that_no_numbers_can_have_is_refused_with_a_way_out():
    impossible = [[1, 0.9, -0.9], [0.9, 1, 0.9], [-0.9, 0.9, 1]]
    with pytest.raises(InputError, match=r"no numbers can go together .* times 0\.55") as caught:
        checked_correlation(impossible, ["torque", "k", "mass"])
    assert "torque & k & mass" in str(caught.value)
    mended = np.eye(3) + 0.55 * (np.array(impossible) - np.eye(3))
    checked_correlation(mended)


@pytest.mark.parametrize(
    ("matrix", "match"),
    [
        ([[1, 0.5]], "not a square matrix"),
        ([[1, 1.5], [1.5, 1]], "out of range"),
        ([[1, float("nan")], [0, 1]], "out of range"),
        ([[1, 0.2], [0.3, 1]], "goes both ways"),
        ([[0.9, 0.2], [0.2, 1]], "goes with itself"),
    ],
)
def test_what_is_no_correlation_matrix_is_refused(matrix, match):
    with pytest.raises(InputError, match=match):
        checked_correlation(matrix)


@pytest.mark.parametrize("width", [-0.01, float("nan"), float("inf")])
def test_a_tolerance_below_zero_is_refused(width):
    with pytest.raises(InputError, match=r"x\.half_width: a tolerance cannot be below zero"):
        Uncertain(name="x", half_width=width)


def test_an_unknown_distribution_and_too_few_draws_are_refused():
    with pytest.raises(InputError, match=r"uniform \| normal \| triangular"):
        Uncertain(name="x", half_width=0.1, distribution="flat")
    with pytest.raises(InputError, match="draws: out of range"):
        unit_draws(1, 2)
