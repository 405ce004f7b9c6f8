"""Whether readings contradict what is believed, before anything is made of them.

The prior predictive p of a reading is how often a reading of machines as believed, taken with this
instrument, would lie as far out (both sides). Jointly, the measure is the distance of Mahalanobis
from the mean of the predictions, ``(y - h)' S^-1 (y - h)`` with S the covariance of predictions and
instruments, and p how often readings simulated from the prior lie farther (prior predictive check:
Box, J. R. Stat. Soc. A 143 (1980) 383-430). Which reading is odd among others is told by what the
others make of it: its distance from its mean given them, in standard deviations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.curves import FloatArray

LEAST_P = 0.01
"""Less likely readings contradict; shared among the readings for each alone."""
_SEED = 32452843


@dataclass(frozen=True, eq=False)
class Surprise:
    """How far readings lie from what is believed.

    Parameters
    ----------
    p : ndarray, shape (m,)
        Of each reading alone; NaN where no draw has an answer.
    low, middle, high : ndarray, shape (m,)
        2.5, 50 and 97.5 % of what was to be expected of a reading, instrument included.
    joint : float
        Of all together.
    apart : ndarray, shape (m,)
        Distance of each from its mean by the prior, in standard deviations.
    given_others : ndarray, shape (m,)
        The same given all the others.
    scores : ndarray, shape (m, d)
        By how many of its standard deviations each score moves with each reading (regression).
    """

    p: FloatArray
    low: FloatArray
    middle: FloatArray
    high: FloatArray
    joint: float
    apart: FloatArray
    given_others: FloatArray
    scores: FloatArray

    @property
    def odd(self) -> tuple[int, ...]:
        """Readings that contradict, the oddest first: alone, or with the others."""
        count = self.p.size
        alone = [k for k in range(count) if not self.p[k] >= LEAST_P / count]
        found = sorted(alone, key=lambda k: -abs(float(self.apart[k])))
        if not found and count > 1 and self.joint < LEAST_P:
            found = [int(np.argmax(np.abs(self.given_others)))]
        return tuple(found)


def surprise(
    scores: FloatArray, found: FloatArray, values: FloatArray, covariance: FloatArray, seed: int = 0
) -> Surprise:
    """Return how far readings lie from what is believed.

    Parameters
    ----------
    scores : ndarray, shape (n, d)
        Draws from the prior.
    found : ndarray, shape (n, m)
        Their predictions; draws without an answer to some reading are left out of all.
    values : ndarray, shape (m,)
    covariance : ndarray, shape (m, m)
        Of instruments and model.
    seed : int

    Examples
    --------
    Two standard deviations out, of the prior and the instrument together, is 4.6 %.

    >>> from converter_match.judgement.uncertainty.sampling import normal_scores, unit_draws
    >>> z = normal_scores(unit_draws(4096, 1))
    >>> off = surprise(z, 3.0 * z, np.array([10.0]), 16.0 * np.eye(1))
    >>> abs(float(off.p[0]) - 0.0455) < 0.005, off.odd
    (True, ())
    """
    from scipy.special import ndtr

    known = np.all(np.isfinite(found), axis=1)
    count = values.size
    if known.sum() < 2:
        none = np.full(count, np.nan)
        far = np.full(count, np.inf)
        nothing = np.zeros((count, scores.shape[1]))
        return Surprise(none, none, none, none, 0.0, far, far, nothing)
    h, z = found[known], scores[known]
    below = np.mean(ndtr((values - h) / np.sqrt(np.diag(covariance))), axis=0)
    rng = np.random.default_rng(seed + _SEED)
    noise = rng.standard_normal(h.shape) @ np.linalg.cholesky(covariance).T
    simulated = h + noise
    mean, off = h.mean(axis=0), h - h.mean(axis=0)
    whole = off.T @ off / h.shape[0] + covariance
    inverse = np.linalg.inv(whole)
    apart = values - mean
    far = simulated - mean
    distances = np.einsum("ij,jk,ik->i", far, inverse, far)
    joint = (1.0 + float(np.sum(distances >= apart @ inverse @ apart))) / (1.0 + h.shape[0])
    slopes = ((z - z.mean(axis=0)).T @ off / h.shape[0]).T
    low, middle, high = np.quantile(simulated, [0.025, 0.5, 0.975], axis=0)
    return Surprise(
        p=np.asarray(2.0 * np.minimum(below, 1.0 - below)),
        low=np.asarray(low),
        middle=np.asarray(middle),
        high=np.asarray(high),
        joint=joint,
        apart=np.asarray(apart / np.sqrt(np.diag(whole))),
        given_others=np.asarray((inverse @ apart) / np.sqrt(np.diag(inverse))),
        scores=np.asarray(slopes / np.sqrt(np.diag(whole))[:, None]),
    )
