"""Even, repeatable draws of what is not known about a machine, and how likely a reading then is."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from converter_match.curves import FloatArray, frozen_array

# engine torque, capacity, air, oil temperature, loads, reading, governor
NUISANCES = 7
# A Sobol sequence wants a power of two; at 2048 the ends of a 95 % band stand within about 1 rpm.
COUNT = 2048
_SEED = 20260


@lru_cache(maxsize=4)
def uniform_draws(count: int = COUNT) -> FloatArray:
    """Return (NUISANCES + 1, count) numbers that fill 0 .. 1 evenly, the same each time.

    The last row belongs to whatever is unknown about a finding.
    """
    from scipy.stats import qmc  # slow to import

    sobol = qmc.Sobol(NUISANCES + 1, scramble=True, rng=np.random.default_rng(_SEED))
    return frozen_array(np.clip(sobol.random(count).T, 1e-9, 1 - 1e-9))


@lru_cache(maxsize=4)
def normal_draws(count: int = COUNT) -> FloatArray:
    """Return (NUISANCES, count) standard normal draws, the same each time."""
    from scipy.special import ndtri

    return frozen_array(ndtri(uniform_draws(count)[:NUISANCES]))


def log_likelihoods(read: FloatArray, predicted: FloatArray, sigma: float) -> FloatArray:
    """Return the logarithm of the likelihood of all readings together, draw by draw, shape (n,).

    Parameters
    ----------
    read : ndarray, shape (r,)
        [rad/s].
    predicted : ndarray, shape (r, n)
        What each draw would have read [rad/s].
    sigma : float
        Of one reading [rad/s].
    """
    off = (read[:, np.newaxis] - predicted) / sigma
    return np.asarray(-0.5 * (off * off + np.log(2 * np.pi * sigma * sigma)).sum(axis=0))


def log_mean(logs: FloatArray) -> float:
    """Return log of the mean of exp: never overflows, and -inf only where all are."""
    top = float(logs.max())
    return top + float(np.log(np.mean(np.exp(logs - top)))) if np.isfinite(top) else -np.inf


def weighted_quantiles(values: FloatArray, logs: FloatArray, shares: FloatArray) -> FloatArray:
    """Return quantiles of draws weighted by exp(logs)."""
    order = np.argsort(values)
    weight = np.exp(logs - logs.max())[order]
    reached = (np.cumsum(weight) - 0.5 * weight) / weight.sum()
    return np.asarray(np.interp(shares, reached, values[order]))
