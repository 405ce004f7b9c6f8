"""The polish that ends every match: Newton's method inside a bracket."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray

SMALL_STEP = 3e-9
"""A Newton step smaller than this (relative) leaves an error below rounding."""
# So does any later one smaller than this, next to a turning point too; a halving ends at rounding.
_LAST_STEP = 1e-10
_ROUNDING = 1e-15


def polished(
    excess: Callable[[FloatArray, NDArray[np.intp] | slice], tuple[FloatArray, FloatArray]],
    guess: FloatArray,
    low: FloatArray,
    high: FloatArray,
    falling: bool | NDArray[np.bool_],
) -> FloatArray:
    """Newton's method from a good guess; bisection-guarded for the few that need it.

    Parameters
    ----------
    excess : callable
        Of (engine speed, which points): net less absorbed torque, and its slope.
    guess, low, high : ndarray, shape (n,)
        Start and bracket; one sign change inside each bracket.
    falling : bool or ndarray of bool
        Whether the excess goes from plus to minus in the bracket.
    """
    g, slope = excess(guess, slice(None))
    with np.errstate(divide="ignore", invalid="ignore"):
        step = g / slope
    omega = guess - step
    unsure = ~(np.abs(step) <= SMALL_STEP * guess) | (omega < low) | (omega > high)
    left = np.flatnonzero(unsure)
    if not left.size:
        return omega
    lo, hi = low[left].copy(), high[left].copy()
    w, g, slope = guess[left], g[left], slope[left]
    outside = (w < lo) | (w > hi)
    if outside.any():
        w = np.clip(w, lo, hi)
        g, slope = excess(w, left)
    down = np.broadcast_to(falling, guess.shape)[left]
    for _ in range(200):
        above_root = np.where(down, g < 0, g > 0)
        hi = np.where(above_root, w, hi)
        lo = np.where(above_root, lo, w)
        with np.errstate(divide="ignore", invalid="ignore"):
            trial = w - g / slope
        usable = (trial > lo) & (trial < hi)
        # A step that is lost in rounding ends here: halving the bracket would start all over.
        there = (g == 0) | (trial == w)
        new = np.where(there, w, np.where(usable, trial, 0.5 * (lo + hi)))
        omega[left] = new
        enough = np.where(usable, _LAST_STEP, _ROUNDING) * w
        going = (np.abs(new - w) > enough) & (hi - lo > 4e-16 * w)
        if not going.any():
            break
        left, w, lo, hi, down = left[going], new[going], lo[going], hi[going], down[going]
        g, slope = excess(w, left)
    return omega
