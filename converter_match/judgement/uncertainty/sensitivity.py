"""Which input makes the answer uncertain: shares of its variance.

Linear where that is valid, Sobol's indices otherwise.

* First-order index: share of the variance that would go if the input were known exactly.
* Total index: share that stays if everything but the input were known; more than the first where
  inputs act together.

Estimators: Saltelli et al., Comput. Phys. Commun. 181 (2010) 259-270, table 2: first order by
``mean(f_B (f_ABi - f_A))``, total by Jansen's ``mean((f_A - f_ABi)^2) / 2``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.uncertainty.sampling import unit_draws

# A linear model explains as much of the variance as this: then its shares are the answer.
LINEAR_ENOUGH = 0.99
_DEGREE = 3


@dataclass(frozen=True, kw_only=True)
class VarianceShare:
    """What one input contributes to the variance of an answer.

    Parameters
    ----------
    name : str
    first, total : float
    slope : float or None
        Change of the answer per half width of the input, where it was found by a linear model.
    """

    name: str
    first: float
    total: float
    slope: float | None = None


@dataclass(frozen=True, kw_only=True)
class Sensitivity:
    """Shares of the variance of one answer, the largest total first.

    Parameters
    ----------
    shares : tuple of VarianceShare
    method : {"linear", "sobol", "none"}
        ``none`` where the answer does not vary.
    linear : float
        Share of the variance that a linear model explains.
    deviation : float
        Standard deviation of the answer, its SI unit.
    """

    shares: tuple[VarianceShare, ...]
    method: str
    linear: float
    deviation: float


def sobol_indices(
    model: Callable[[FloatArray], FloatArray], dimensions: int, *, draws: int = 1024, seed: int = 0
) -> tuple[FloatArray, FloatArray]:
    """Return first-order and total indices of a function of independent unit inputs.

    Parameters
    ----------
    model : callable
        Of probabilities, shape (n, dimensions); returns shape (n,).
    dimensions : int
    draws : int
        Base draws; the model is run for (dimensions + 2) times as many.
    seed : int

    Returns
    -------
    first, total : ndarray, shape (dimensions,)

    Raises
    ------
    InputError
        If an answer of the model is not finite.
    """
    both = unit_draws(draws, 2 * dimensions, seed)
    a, b = both[:, :dimensions], both[:, dimensions:]
    mixed = np.repeat(a[np.newaxis], dimensions, axis=0)
    for k in range(dimensions):
        mixed[k, :, k] = b[:, k]
    answers = model(np.concatenate([a, b, mixed.reshape(-1, dimensions)]))
    if not np.all(np.isfinite(answers)):
        raise InputError(
            "the answer does not exist for some draws: there are no shares of its variance",
            field="model",
            found=f"{int(np.sum(~np.isfinite(answers)))} of {answers.size}",
        )
    # Centred, so that the products do not drown in the square of the mean.
    answers = answers - np.mean(answers[: 2 * draws])
    f_a, f_b = answers[:draws], answers[draws : 2 * draws]
    f_ab = answers[2 * draws :].reshape(dimensions, draws)
    variance = float(np.var(answers[: 2 * draws]))
    if variance == 0.0:
        return np.zeros(dimensions), np.zeros(dimensions)
    first = np.mean(f_b * (f_ab - f_a), axis=1) / variance
    total = 0.5 * np.mean((f_a - f_ab) ** 2, axis=1) / variance
    return np.asarray(first), np.asarray(total)


def linear_shares(inputs: FloatArray, answers: FloatArray) -> tuple[FloatArray, float]:
    """Return slopes of the best linear model, and the share of the variance that it explains.

    Parameters
    ----------
    inputs : ndarray, shape (n, d)
    answers : ndarray, shape (n,)

    Returns
    -------
    slopes : ndarray, shape (d,)
    explained : float
        1 for an answer that is linear in the inputs; 1 as well where it does not vary.
    """
    x = inputs - inputs.mean(axis=0)
    y = answers - answers.mean()
    spread = float(np.sum(y * y))
    if spread <= (1e-13 * max(float(np.max(np.abs(answers))), 1e-300)) ** 2 * y.size:
        return np.zeros(inputs.shape[1]), 1.0
    slopes = np.linalg.lstsq(x, y, rcond=None)[0]
    return np.asarray(slopes), 1.0 - float(np.sum((y - x @ slopes) ** 2)) / spread


def first_order_from_draws(units: FloatArray, answers: FloatArray) -> FloatArray:
    """Return first-order shares from draws that are there already, independent inputs.

    The share of the variance that a cubic in each input's own probability explains.

    Parameters
    ----------
    units : ndarray, shape (n, d)
        Probabilities of the inputs.
    answers : ndarray, shape (n,)
    """
    y = answers - answers.mean()
    spread = float(np.sum(y * y))
    shares = np.zeros(units.shape[1])
    if spread == 0.0:
        return shares
    for k in range(units.shape[1]):
        powers = np.polynomial.legendre.legvander(2.0 * units[:, k] - 1.0, _DEGREE)
        fit = powers @ np.linalg.lstsq(powers, y, rcond=None)[0]
        shares[k] = 1.0 - float(np.sum((y - fit) ** 2)) / spread
    return shares


def sensitivity(
    names: Sequence[str],
    deviations: Sequence[float],
    half_widths: Sequence[float],
    inputs: FloatArray,
    answers: FloatArray,
    model: Callable[[FloatArray], FloatArray],
    *,
    draws: int = 512,
    seed: int = 0,
) -> Sensitivity:
    """Return ranked shares: from a linear model where it is good enough, else Sobol's indices.

    Inputs are taken as independent of each other, correlated or not in the draws.

    Parameters
    ----------
    names : sequence of str, length d
    deviations, half_widths : sequence of float, length d
        Standard deviations and half widths of the inputs.
    inputs, answers : ndarray, shapes (n, d) and (n,)
        Draws that are there already.
    model : callable
        As for `sobol_indices`; run only where the linear model is not good enough.
    draws, seed : int
    """
    finite = np.isfinite(answers)
    if not finite.all():
        inputs, answers = inputs[finite], answers[finite]
    if answers.size <= len(names) + 1 or not names:
        return Sensitivity(shares=(), method="none", linear=0.0, deviation=0.0)
    slopes, explained = linear_shares(inputs, answers)
    spread = float(np.std(answers))
    parts = (slopes * np.asarray(deviations)) ** 2
    if float(parts.sum()) == 0.0 and explained == 1.0:
        shares = tuple(VarianceShare(name=name, first=0.0, total=0.0, slope=0.0) for name in names)
        return Sensitivity(shares=shares, method="none", linear=1.0, deviation=spread)
    first = total = parts / parts.sum()
    method = "linear"
    if explained < LINEAR_ENOUGH and finite.all():
        try:
            first, total = sobol_indices(model, len(names), draws=draws, seed=seed)
            method = "sobol"
        except InputError:  # it has more draws, and of these some have no answer
            pass
    rows = [
        VarianceShare(name=name, first=float(first[k]), total=float(total[k]),
              slope=float(slopes[k] * half_widths[k]))
        for k, name in enumerate(names)
    ]  # fmt: skip
    rows.sort(key=lambda row: -row.total)
    return Sensitivity(shares=tuple(rows), method=method, linear=explained, deviation=spread)
