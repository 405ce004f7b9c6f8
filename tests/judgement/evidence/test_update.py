"""Draws given readings, against closed forms and against integrals on a grid."""

import numpy as np
import pytest
from scipy import integrate, stats

from converter_match.judgement.evidence.update import (
    LEAST_EFFECTIVE,
    effective_size,
    log_likelihood,
    update,
)
from converter_match.judgement.uncertainty.sampling import normal_scores, unit_draws

DRAWS = 8192


def prior(columns, draws=DRAWS):
    return normal_scores(unit_draws(draws, columns, 3))


def moments(found, columns=None):
    scores = found.scores if columns is None else found.scores[:, columns]
    mean = found.weights @ scores
    off = scores - mean
    return mean, (off * found.weights[:, None]).T @ off


@pytest.mark.parametrize("readings", [1, 3, 5])
def test_linear_readings_give_the_closed_form(readings):
    # Linear and normal: mean G' (G G' + R)^-1 y, covariance I - G' (G G' + R)^-1 G (the update of
    # a linear Gaussian model, in any textbook; Rasmussen and Williams, 2006, appendix A.2).
    rng = np.random.default_rng(readings)
    slopes = rng.normal(size=(readings, 6))
    slopes[:, 5] = 0.0
    noise = np.diag(rng.uniform(0.02, 0.3, readings))
    values = np.linalg.cholesky(slopes @ slopes.T + noise) @ rng.normal(size=readings)
    z = prior(6)
    found = update(lambda s: s @ slopes.T, (z, z @ slopes.T), values, noise, range(5))
    gain = slopes.T @ np.linalg.inv(slopes @ slopes.T + noise)
    mean, covariance = moments(found)
    error = 4.0 / np.sqrt(found.effective_size)
    assert found.usable
    assert np.abs(mean - gain @ values).max() < error
    assert np.abs(covariance - (np.eye(6) - gain @ slopes)).max() < error


def bent(scores):
    """A reading that bends: two scores in a product of exponentials, as torque and capacity."""
    return np.exp(0.3 * scores[:, :1]) * (1.0 + 0.4 * scores[:, 1:2] + 0.1 * scores[:, 1:2] ** 2)


@pytest.mark.parametrize("value", [0.7, 1.0, 1.9])
def test_two_bent_scores_give_the_integrals_of_their_posterior(value):
    sigma = 0.08

    grid = np.linspace(-6.0, 6.0, 1201)
    a, b = (part.ravel() for part in np.meshgrid(grid, grid, indexing="ij"))
    h = bent(np.column_stack([a, b]))[:, 0]
    density = stats.norm.pdf(a) * stats.norm.pdf(b) * stats.norm.pdf(value, h, sigma)

    def integral(of):
        table = (of * density).reshape(grid.size, grid.size)
        return integrate.simpson(integrate.simpson(table, x=grid), x=grid)

    expected = [integral(of) / integral(np.ones_like(a)) for of in (a, b, a * a, b * b)]
    z = prior(3)
    found = update(bent, (z, bent(z)), np.array([value]), np.array([[sigma**2]]), (0, 1))
    own = found.scores[:, :2]
    got = found.weights @ np.column_stack([own, own**2])
    assert found.usable
    np.testing.assert_allclose(got, expected, atol=5.0 / np.sqrt(found.effective_size))
    assert found.effective_size >= found.of_prior


def test_plain_weights_would_fail_where_the_update_does_not():
    rng = np.random.default_rng(8)
    slopes = rng.normal(size=(5, 8))
    noise = 0.01 * np.eye(5)
    values = slopes @ rng.normal(size=8)
    z = prior(8)
    found = update(lambda s: s @ slopes.T, (z, z @ slopes.T), values, noise, range(8))
    assert found.of_prior < 20
    assert found.effective_size > LEAST_EFFECTIVE
    assert found.effective_size > 0.5 * DRAWS


def test_a_score_that_no_reading_touches_is_drawn_from_the_prior_again():
    z = prior(4)
    found = update(lambda s: s[:, :1], (z, z[:, :1]), np.array([2.0]), 0.01 * np.eye(1), (0,))
    fresh = normal_scores(unit_draws(DRAWS, 4, 5))
    after = found.resampled(fresh)
    np.testing.assert_array_equal(after[:, 1:], fresh[:, 1:])
    assert np.mean(after[:, 0]) == pytest.approx(2.0 / 1.01, abs=0.01)
    assert np.std(after[:, 0]) == pytest.approx(np.sqrt(0.01 / 1.01), rel=0.05)
    # Nor does the other go with it: picked draws are in no order.
    assert abs(np.corrcoef(after[:, 0], after[:, 1])[0, 1]) < 0.05


def test_a_second_place_that_the_draws_do_not_find_is_said():
    # y = z^2 is as likely from -z as from z; one normal proposal about one of them misses half.
    def squared(scores):
        return np.where(scores > -9.0, scores**2, scores**2)

    z = prior(1)
    both = update(squared, (z, squared(z)), np.array([6.0]), 0.01 * np.eye(1), (0,))
    assert not both.usable


def test_a_reading_that_few_draws_can_give_leaves_few_of_them():
    size, weights = effective_size(np.array([0.0, -np.inf, 0.0, -np.inf]))
    assert size == pytest.approx(2.0)
    np.testing.assert_allclose(weights, [0.5, 0.0, 0.5, 0.0])
    z = prior(1, 512)
    none = np.full((512, 1), np.nan)
    found = update(lambda s: np.full((s.shape[0], 1), np.nan), (z, none), np.array([1.0]),
                   np.eye(1), (0,))  # fmt: skip
    assert found.effective_size < LEAST_EFFECTIVE
    assert not found.usable


def test_the_density_of_readings_is_that_of_scipy():
    rng = np.random.default_rng(2)
    root = rng.normal(size=(3, 3))
    covariance = root @ root.T + np.eye(3)
    found, values = rng.normal(size=(5, 3)), rng.normal(size=3)
    expected = stats.multivariate_normal(values, covariance).logpdf(found)
    np.testing.assert_allclose(log_likelihood(values, found, covariance), expected)
    found[2, 1] = np.nan
    assert log_likelihood(values, found, covariance)[2] == -np.inf
