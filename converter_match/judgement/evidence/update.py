"""Scores given readings: an ensemble step, a Gaussian refit as proposal, then weights.

Draws from the prior with weights by likelihood fail: with three good readings a few dozen of ten
thousand draws carry all the weight. So draws are made where the posterior is. First the step of an
ensemble Kalman filter (Evensen, J. Geophys. Res. 99 (1994) 10143-10162) in closed form: with the
plane ``h = h_0 + G z`` through the predictions of the prior draws and E what it misses, mean and
covariance

    m = G' S^-1 (y - h_0),   P = I - G' S^-1 G,   S = G G' + E + R.

A few draws from that Gaussian, weighted, give the one that is used as proposal q. The draws from
it have the weights ``w = N(z; 0, I) N(y; h(z), R) / q(z)``, which make up for whatever is not
Gaussian (importance sampling; Kong, Liu and Wong, J. Am. Stat. Assoc. 89 (1994) 278-288, for the
effective size ``(sum w)^2 / sum w^2``).

Scores that no reading depends on stay out of all this: their posterior is their prior, and they are
drawn from it. Whether the proposal has missed a place where the readings are as likely is told by
the probability of the readings, which draws from the prior give as well.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.uncertainty.sampling import normal_scores, unit_draws

Predict = Callable[[FloatArray], FloatArray]
"""Of scores (n, d): predictions (n, m), NaN where a draw has none."""

LEAST_EFFECTIVE = 400.0
"""Fewer draws than this give no band."""
_PILOT = 2048
_ROUNDS = 4
_GOOD = 0.3  # share of the pilot draws that is effective: then the proposal is good
_WIDER = 1.2  # the proposal has this much more variance, so that its tails cover the posterior's
_LEVELLED = 0.7 ** np.arange(20)  # powers of the weights, tried in turn
_SEED = 104729
_MISSED = 4.0  # so many standard errors more likely by the prior's draws: a place was missed
_FEWEST_OF_PRIOR = 10.0


@dataclass(frozen=True, eq=False)
class Updated:
    """Draws from the posterior.

    Parameters
    ----------
    scores : ndarray, shape (n, d)
    weights : ndarray, shape (n,)
        Their sum is 1.
    effective_size : float
        Number of draws without weights that tell as much.
    of_prior : float
        The same for weighted draws from the prior: what plain weights would have come to.
    missed : bool
        Whether draws from the prior find the readings likelier than those from the proposal.
    touched : tuple of int
        Columns that the readings depend on.
    """

    scores: FloatArray
    weights: FloatArray
    effective_size: float
    of_prior: float
    missed: bool
    touched: tuple[int, ...]

    @property
    def usable(self) -> bool:
        """Whether bands may be made of it."""
        return self.effective_size >= LEAST_EFFECTIVE and not self.missed

    def resampled(self, fresh: FloatArray, seed: int = 0) -> FloatArray:
        """Return scores of equal weight, shape (n, d).

        Columns that no reading depends on are those of `fresh`, draws from the prior: weights would
        only add noise to them. The others are picked by systematic resampling (Kitagawa, J. Comput.
        Graph. Stat. 5 (1996) 1-25).

        Parameters
        ----------
        fresh : ndarray, shape (n, d)
            Draws from the prior.
        seed : int
        """
        rng = np.random.default_rng(seed + _SEED)
        size = fresh.shape[0]
        levels = (np.arange(size) + rng.random()) / size
        cumulated = np.cumsum(self.weights)
        picked = np.searchsorted(cumulated / cumulated[-1], levels)
        picked = rng.permutation(np.minimum(picked, self.weights.size - 1))
        found, columns = fresh.copy(), list(self.touched)
        found[:, columns] = self.scores[picked][:, columns]
        return found


def log_likelihood(values: FloatArray, found: FloatArray, covariance: FloatArray) -> FloatArray:
    """Return the logarithm of the density of readings, shape (n,); minus infinity without answer.

    Parameters
    ----------
    values : ndarray, shape (m,)
        What was read.
    found : ndarray, shape (n, m)
        Predictions.
    covariance : ndarray, shape (m, m)
        Of instruments and model.
    """
    root = np.linalg.cholesky(covariance)
    known = np.all(np.isfinite(found), axis=1)
    shown: FloatArray = np.where(known[:, None], found, values)
    off = np.asarray(np.linalg.solve(root, (values - shown).T), dtype=np.float64)
    level = np.sum(np.log(np.diag(root))) + 0.5 * values.size * np.log(2.0 * np.pi)
    return np.where(known, -0.5 * np.sum(off * off, axis=0) - level, -np.inf)


def effective_size(logs: FloatArray) -> tuple[float, FloatArray]:
    """Return the effective size of draws, and their weights, from the logarithms of those."""
    if not np.isfinite(logs).any():
        return 0.0, np.full(logs.size, 1.0 / logs.size)
    weights = np.exp(logs - np.max(logs))
    weights /= weights.sum()
    return float(1.0 / np.sum(weights * weights)), np.asarray(weights)


def update(
    predict: Predict,
    prior: tuple[FloatArray, FloatArray],
    values: FloatArray,
    covariance: FloatArray,
    touched: Sequence[int],
    *,
    seed: int = 0,
) -> Updated:
    """Return draws from the posterior.

    Parameters
    ----------
    predict : callable
        Of scores (n, d): predictions (n, m).
    prior : tuple of ndarray, shapes (n, d) and (n, m)
        Draws from the prior, and their predictions.
    values : ndarray, shape (m,)
        What was read.
    covariance : ndarray, shape (m, m)
        Of instruments and model.
    touched : sequence of int
        Columns of the scores that the predictions depend on.
    seed : int

    Returns
    -------
    Updated
        As many draws as there are of the prior.

    Examples
    --------
    One score, read with as much doubt as there is about it: half the reading, half the variance.

    >>> z = normal_scores(unit_draws(4096, 1))
    >>> found = update(lambda s: s, (z, z), np.array([1.0]), np.eye(1), (0,))
    >>> round(float(np.sum(found.weights * found.scores[:, 0])), 2)
    0.5
    """
    scores, found = prior
    columns = list(touched)
    size = scores.shape[0]
    before = log_likelihood(values, found, covariance)
    of_prior, plain = effective_size(before)
    if not columns:
        weights = np.full(size, 1.0 / size)
        return Updated(scores, weights, float(size), float(size), False, ())
    proposal = _Gaussian.by_ensemble(scores[:, columns], found, values, covariance)

    def weighed(count: int, at: int) -> tuple[FloatArray, FloatArray]:
        """Return draws of the touched scores, and the logarithms of their weights."""
        own, density = proposal.draw(count, at)
        whole = np.zeros((count, scores.shape[1]))
        whole[:, columns] = own
        logs = log_likelihood(values, predict(whole), covariance) - density
        return own, logs - 0.5 * np.sum(own * own + np.log(2.0 * np.pi), axis=1)

    for at in range(_ROUNDS):
        own, logs = weighed(min(_PILOT, size), seed + _SEED + 1 + at)
        effective, _ = effective_size(logs)
        proposal = _Gaussian.by_weights(own, logs)
        if effective > _GOOD * own.shape[0]:
            break
    own, logs = weighed(size, seed + _SEED)
    effective, weights = effective_size(logs)
    if of_prior > effective:  # readings that say little, or bend: weights alone do better
        return Updated(scores, plain, of_prior, of_prior, False, tuple(columns))
    whole = scores.copy()
    whole[:, columns] = own
    missed = _missed(before, logs, of_prior)
    return Updated(whole, weights, effective, of_prior, missed, tuple(columns))


def _missed(before: FloatArray, after: FloatArray, of_prior: float) -> bool:
    """Return whether the readings are likelier by draws from the prior than by the proposal's."""
    if of_prior < _FEWEST_OF_PRIOR:  # these draws tell nothing
        return False
    top = max(float(np.max(before)), float(np.max(after)))
    first, second = np.exp(before - top), np.exp(after - top)
    error = np.hypot(*(np.std(part) / np.sqrt(part.size) for part in (first, second)))
    return bool(np.mean(first) - np.mean(second) > _MISSED * error)


@dataclass(frozen=True, eq=False)
class _Gaussian:
    """A normal distribution of the touched scores: mean (t,), and the root of its covariance."""

    mean: FloatArray
    root: FloatArray

    @classmethod
    def of(cls, mean: FloatArray, covariance: FloatArray) -> _Gaussian:
        """Return it; what rounding has made of a covariance is put right."""
        values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
        wide = np.maximum(values, 1e-9) * _WIDER
        return cls(mean, np.asarray(vectors * np.sqrt(wide)))

    @classmethod
    def by_ensemble(
        cls, scores: FloatArray, found: FloatArray, values: FloatArray, covariance: FloatArray
    ) -> _Gaussian:
        """Return the step of the ensemble Kalman filter."""
        known = np.isfinite(found).all(axis=1)
        if known.sum() <= scores.shape[1] + 1:
            return cls.of(np.zeros(scores.shape[1]), np.eye(scores.shape[1]))
        z, h = scores[known], found[known]
        line = np.linalg.lstsq(np.column_stack([np.ones(z.shape[0]), z]), h, rcond=None)[0]
        level, slopes = line[0], line[1:].T
        off = h - level - z @ slopes.T
        whole = slopes @ slopes.T + off.T @ off / z.shape[0] + covariance
        gain = np.linalg.solve(whole, slopes).T
        return cls.of(gain @ (values - level), np.eye(z.shape[1]) - gain @ slopes)

    @classmethod
    def by_weights(cls, scores: FloatArray, logs: FloatArray) -> _Gaussian:
        """Return mean and covariance of weighted draws; weights are levelled where few count."""
        fewest = min(10.0 * scores.shape[1], 0.2 * scores.shape[0])
        for power in _LEVELLED:
            effective, weights = effective_size(power * logs)
            if effective >= fewest:
                break
        mean = weights @ scores
        off = scores - mean
        return cls.of(mean, (off * weights[:, np.newaxis]).T @ off)

    def draw(self, count: int, seed: int) -> tuple[FloatArray, FloatArray]:
        """Return draws (n, t) and the logarithm of their density (n,)."""
        normal = normal_scores(unit_draws(count, self.mean.size, seed))
        size = np.sum(np.log(np.linalg.norm(self.root, axis=0)))
        density = -0.5 * np.sum(normal * normal + np.log(2.0 * np.pi), axis=1) - size
        return self.mean + normal @ self.root.T, np.asarray(density)
