"""An answer that bends little, for every draw: from a few draws, and a curve through those.

Each uncertain quantity is moved alone, up and down by its standard deviation times the root of 3
(the half width of a uniform band); the logarithm of the answer follows it as a quadratic through
the three points, and the quantities multiply one another's changes.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from converter_match.curves import FloatArray

_ROOT_3 = 3.0**0.5


def steps_of(deviations: Mapping[str, FloatArray]) -> dict[str, float]:
    """Return by how much each quantity is moved; those that do not vary are left out.

    Parameters
    ----------
    deviations : mapping of str to ndarray, shape (n,)
        By quantity, about zero.
    """
    steps = {name: _ROOT_3 * float(np.sqrt(np.mean(v * v))) for name, v in deviations.items()}
    return {name: step for name, step in steps.items() if step > 0.0}


def few_draws(steps: Mapping[str, float]) -> dict[str, FloatArray]:
    """Return the deviations of the few draws: none moved, then each up and down, shape (2 d + 1,).

    Parameters
    ----------
    steps : mapping of str to float
        Of d quantities, from `steps_of`.
    """
    moved = {name: np.zeros(2 * len(steps) + 1) for name in steps}
    for k, (name, step) in enumerate(steps.items()):
        moved[name][1 + 2 * k : 3 + 2 * k] = step, -step
    return moved


def responses(
    deviations: Mapping[str, FloatArray],
    steps: Mapping[str, float],
    few: FloatArray,
) -> FloatArray:
    """Return the answer of every draw from that of the few.

    Parameters
    ----------
    deviations : mapping of str to ndarray, shape (n,)
    steps : mapping of str to float
    few : ndarray, shape (..., 2 d + 1)
        The answer for `few_draws`, above zero. Where one side has none, it is taken as the other's
        mirror image.

    Returns
    -------
    ndarray, shape (..., n)
        NaN where the first of the few has no answer.

    Examples
    --------
    >>> shift = {"mass": np.array([0.0, 0.05, 0.1])}
    >>> few = np.array([100.0, 121.0, 100.0 / 1.21])  # moved by 0.1: as (1 + 0.1)^2
    >>> responses(shift, {"mass": 0.1}, few).round(6)
    array([100., 110., 121.])
    """
    given = np.asarray(few, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        table = np.log(np.where(given > 0.0, given, np.nan))
    middle = table[..., :1]
    up, down = table[..., 1::2] - middle, table[..., 2::2] - middle
    up, down = np.where(np.isnan(up), -down, up), np.where(np.isnan(down), -up, down)
    slope, bend = np.nan_to_num(0.5 * (up - down)), np.nan_to_num(0.5 * (up + down))
    if not steps:
        size = next((v.size for v in deviations.values()), 1)
        return np.asarray(np.broadcast_to(given[..., :1], (*given.shape[:-1], size)))
    t = np.stack([deviations[name] / step for name, step in steps.items()])
    change = np.concatenate([slope, bend], axis=-1) @ np.concatenate([t, t * t])
    return np.asarray(given[..., :1] * np.exp(change, out=change))
