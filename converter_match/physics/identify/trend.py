"""How a characteristic moves over the months: the level of each, and the slope through them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray

# Nodes farther apart than this have a gap between them: nothing is said of what lies there.
_NEXT = 0.061
_SIGMA = 1.4826  # of a normal distribution / its median absolute deviation


class Level(NamedTuple):
    """Samples of a month against a curve.

    Parameters
    ----------
    ratio : float
        Median of value / curve.
    scatter : float
        Robust standard deviation of single samples, in the same measure.
    samples, episodes : int
        That lie on the curve's range.
    """

    ratio: float
    scatter: float
    samples: int
    episodes: int


class Slope(NamedTuple):
    """A straight line through levels.

    Parameters
    ----------
    value, low, high : float
        Change of the level a year, and its band.
    """

    value: float
    low: float
    high: float


def level_against(
    x: FloatArray, y: FloatArray, episode: FloatArray, node: FloatArray, value: FloatArray
) -> Level | None:
    """Return how samples lie against a curve; None where none lies on it.

    Parameters
    ----------
    x, y, episode : ndarray, shape (n,)
        Speed ratio, capacity [N.m/(rad/s)^2], number of the stretch of steady driving.
    node, value : ndarray, shape (m,)
        The curve [N.m/(rad/s)^2], NaN where it has no value; between nodes a straight line, across
        a gap nothing.

    Notes
    -----
    Each sample is held against the curve at its own speed ratio, so that a month of light driving
    and one of heavy driving compare.

    Examples
    --------
    >>> nodes, curve = np.array([0.0, 0.05, 0.1]), np.array([2.0, 2.0, 1.0])
    >>> level = level_against(np.array([0.02, 0.075]), np.array([2.1, 1.5]), np.array([1.0, 2.0]),
    ...                       nodes, curve)
    >>> round(level.ratio, 3), round(level.scatter, 4), level.samples, level.episodes
    (1.025, 0.0371, 2, 2)
    """
    known = np.isfinite(value)
    at, curve = node[known], value[known]
    if at.size < 2:
        return None
    cell = np.clip(np.searchsorted(at, x, side="right") - 1, 0, at.size - 2)
    on = (x >= at[0]) & (x <= at[-1]) & (at[cell + 1] - at[cell] <= _NEXT)
    if not on.any():
        return None
    ratio = y[on] / np.interp(x[on], at, curve)
    middle = float(np.median(ratio))
    scatter = _SIGMA * float(np.median(np.abs(ratio - middle)))
    return Level(middle, scatter, int(on.sum()), int(np.unique(episode[on]).size))


def slope_of(years: NDArray[np.float64], levels: FloatArray, coverage: float) -> Slope:
    """Return the slope through levels that one wild month does not turn.

    Parameters
    ----------
    years : ndarray, shape (n,)
        When [years], at least two different.
    levels : ndarray, shape (n,)
    coverage : float
        Of the band.

    Notes
    -----
    The median of the slopes between all pairs, with the band of Sen (1968), by
    `scipy.stats.theilslopes`.
    """
    from scipy.stats import theilslopes

    value, _, low, high = theilslopes(levels, years, alpha=coverage)
    return Slope(float(value), float(low), float(high))
