"""Draws of uncertain inputs: a scrambled Sobol sequence, made to go together by a Gaussian copula.

Each input is a number around 0 in units of its own half width's meaning (a share, or kelvin). Ranks
are correlated: with coefficient r of rank correlation the underlying normal scores have
``2 sin(pi r / 6)`` (Pearson 1907; exact for normal scores).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from converter_match.curves import FloatArray
from converter_match.errors import InputError

# Twice the standard deviation of a normal input is its half width.
_NORMAL_WIDTH = 2.0
# Eigenvalues of a correlation matrix above this are rounding.
_ROUNDING = -1e-10


@dataclass(frozen=True, kw_only=True)
class Uncertain:
    """An input that is not known exactly.

    Parameters
    ----------
    name : str
    half_width : float
        Zero or more. For ``normal`` twice the standard deviation.
    distribution : {"uniform", "normal", "triangular"}
    shift : float
        Where the middle of the band lies.

    Raises
    ------
    InputError
        If the half width is below zero or not finite, or the distribution is not known.
    """

    name: str
    half_width: float
    distribution: str = "uniform"
    shift: float = 0.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.half_width) and self.half_width >= 0.0):
            raise InputError(
                "a tolerance cannot be below zero",
                field=f"{self.name}.half_width",
                found=self.half_width,
                expected="the half width of a band, zero or more",
            )
        if self.distribution not in ("uniform", "normal", "triangular"):
            raise InputError(
                "not a known choice",
                field=f"{self.name}.distribution",
                found=self.distribution,
                expected="uniform | normal | triangular",
            )

    @property
    def deviation(self) -> float:
        """Standard deviation, in closed form."""
        shares = {"uniform": 3.0**-0.5, "normal": 1.0 / _NORMAL_WIDTH, "triangular": 6.0**-0.5}
        return float(self.half_width * shares[self.distribution])

    def from_unit(self, u: ArrayLike) -> FloatArray:
        """Return values at probabilities (any shape), each strictly between 0 and 1."""
        p = np.asarray(u, dtype=np.float64)
        if self.distribution == "uniform":
            share = 2.0 * p - 1.0
        elif self.distribution == "triangular":
            left = np.sqrt(2.0 * np.minimum(p, 0.5)) - 1.0
            right = 1.0 - np.sqrt(2.0 * np.minimum(1.0 - p, 0.5))
            share = np.where(p < 0.5, left, right)
        else:
            share = normal_scores(p) / _NORMAL_WIDTH
        return np.asarray(self.shift + self.half_width * share)


def unit_draws(draws: int, dimensions: int, seed: int = 0) -> FloatArray:
    """Return probabilities in (0, 1), evenly spread, shape (draws, dimensions).

    Parameters
    ----------
    draws, dimensions : int
    seed : int
        The same seed gives the same draws.

    Raises
    ------
    InputError
        If the number of draws or dimensions is out of range.
    """
    if not 2 <= draws <= 10_000_000:
        raise InputError("out of range", field="draws", found=draws, expected="2 to 10 million")
    if dimensions < 1:
        return np.empty((draws, 0))
    from scipy.stats import qmc

    sequence = qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed))
    u = sequence.random_base2(int(draws - 1).bit_length())[:draws]
    # The ends themselves would be infinite in a normal distribution.
    return np.asarray(np.clip(u, 2.0**-33, 1.0 - 2.0**-33))


def further_draws(draws: int, before: int, dimensions: int, seed: int = 0) -> FloatArray:
    """Return probabilities that are even together with columns that are drawn already.

    They are further columns of the same Sobol sequence, scrambled by themselves. A sequence drawn
    anew would have its first columns in common with those but for the scrambling, so that one would
    be a function of the other.

    Parameters
    ----------
    draws : int
    before : int
        How many columns `unit_draws` has drawn.
    dimensions : int
    seed : int
        Another one than theirs.

    Returns
    -------
    ndarray, shape (draws, dimensions)
    """
    if dimensions < 1:
        return np.empty((draws, 0))
    return unit_draws(draws, before + dimensions, seed)[:, before:]


def normal_scores(u: FloatArray) -> FloatArray:
    """Return the standard normal number of each probability."""
    from scipy.special import ndtri

    return np.asarray(ndtri(u))


def probabilities(scores: FloatArray) -> FloatArray:
    """Return the probability of each standard normal number, strictly between 0 and 1."""
    from scipy.special import ndtr

    return np.asarray(np.clip(ndtr(scores), 2.0**-53, 1.0 - 2.0**-53))


def score_correlation(correlation: FloatArray) -> FloatArray:
    """Return the correlation of normal scores whose ranks are correlated as given.

    ``2 sin(pi r / 6)``. Ranks that are possible may ask a little more of the scores than is
    possible: the nearest that is, by leaving out what is below zero, is returned.

    Parameters
    ----------
    correlation : ndarray, shape (k, k)
        Of ranks, as `checked_correlation` returns it.
    """
    scores = 2.0 * np.sin(np.pi / 6.0 * correlation)
    np.fill_diagonal(scores, 1.0)
    values, vectors = np.linalg.eigh(scores)
    if values[0] >= 0.0:
        return np.asarray(scores)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    root /= np.linalg.norm(root, axis=1, keepdims=True)
    return np.asarray(root @ root.T)


def checked_correlation(matrix: ArrayLike, names: Sequence[str] | None = None) -> FloatArray:
    """Return a matrix of correlations that some numbers can have.

    Parameters
    ----------
    matrix : array_like, shape (n, n)
    names : sequence of str, optional
        For the message.

    Raises
    ------
    InputError
        If it is not square and symmetric with ones on the diagonal and entries from -1 to 1, or if
        no numbers can go together like that (an eigenvalue below zero).
    """
    given = np.array(matrix, dtype=np.float64)
    if given.ndim != 2 or given.shape[0] != given.shape[1]:
        raise InputError("not a square matrix", field="correlation", found=f"shape {given.shape}")
    if not np.all(np.isfinite(given)) or np.any(np.abs(given) > 1.0):
        raise InputError(
            "out of range", field="correlation", found=given.tolist(), expected="numbers -1 to 1"
        )
    if not np.allclose(given, given.T, rtol=0.0, atol=1e-12):
        raise InputError("a correlation goes both ways: not symmetric", field="correlation")
    if not np.allclose(np.diag(given), 1.0, rtol=0.0, atol=1e-12):
        raise InputError(
            "a quantity goes with itself", field="correlation", expected="ones on the diagonal"
        )
    values, vectors = np.linalg.eigh(given)
    if values.size and values[0] < _ROUNDING:
        involved = np.flatnonzero(np.abs(vectors[:, 0]) > 0.1).tolist()
        called = [str(names[k]) if names else str(k + 1) for k in involved]
        raise InputError(
            "no numbers can go together like that (they contradict each other: an eigenvalue of "
            f"the matrix is {values[0]:.3g})",
            field="correlation",
            found=" & ".join(called),
            expected="coefficients nearer to zero",
            hint=f"with all of them times {_possible_share(given):.2f} it is possible",
        )
    return given


def _possible_share(matrix: FloatArray) -> float:
    """Return the largest share of the coefficients that is possible, rounded down.

    ``I + s (M - I)`` has the eigenvalues ``1 + s (e - 1)``.
    """
    lowest = float(np.linalg.eigvalsh(matrix)[0])
    return float(np.floor(100.0 / (1.0 - lowest)) / 100.0)
