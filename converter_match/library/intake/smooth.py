"""Smoothing that keeps corners and monotony, and shows what it moved.

A penalised least-squares fit through the given points (Whittaker 1923; here with divided second
differences, since the points are not evenly spaced): minimise

    sum w (y - m)^2 + strength * sum h (m'')^2

on each side of a kink by itself, the two sides sharing the value at the kink. Where the curve has
to fall, m is written as a sum of drops that are zero or more, and solved as a non-negative
least-squares problem (Lawson and Hanson). The strength is the largest at which the fit stays within
the scatter of the points, estimated from how far they lie off the chords of their neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from converter_match.curves import FloatArray

_STRENGTHS = np.geomspace(1e-9, 1e3, 49)
_HUBER = 1.5


def smoothed(
    x: FloatArray,
    y: FloatArray,
    kinks: Sequence[float] = (),
    *,
    falling: bool = False,
    level_beyond: tuple[float, float] | None = None,
) -> FloatArray:
    """Return smoothed values at the same points.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Points, x increasing.
    kinks : sequence of float
        Rows at which the slope may jump.
    falling : bool
        Whether the values must not rise.
    level_beyond : (float, float), optional
        (x, value): from that row on the values are this one, such as torque ratio 1.

    Returns
    -------
    ndarray, shape (n,)
    """
    result = np.array(y, dtype=np.float64)
    end = x.size
    if level_beyond is not None:
        start = int(np.argmin(np.abs(x - level_beyond[0])))
        result[start:] = level_beyond[1]
        end = start + 1
    rows = sorted({0, end - 1, *(int(np.argmin(np.abs(x - k))) for k in kinks if k <= x[end - 1])})
    for first, last in pairwise(rows):
        piece = slice(first, last + 1)
        if last - first < 3:
            continue
        fixed_first = first > 0
        fixed_last = level_beyond is not None and last == end - 1
        result[piece] = _piece(x[piece], result[piece], falling, fixed_first, fixed_last)
    return result


def scatter(x: FloatArray, y: FloatArray) -> float:
    """Return the scatter of points about a smooth curve, from third differences off the chords.

    A parabola has evenly changing chord offsets; what is left of them after taking the mean of
    their neighbours is scatter. The median makes it blind to single outliers.
    """
    if x.size < 5:
        return 0.0
    w = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    off = y[1:-1] - (1 - w) * y[:-2] - w * y[2:]
    # Chord offset of a smooth curve: -y'' (h1 h2) / 2; make it comparable, then difference it.
    reach = (x[1:-1] - x[:-2]) * (x[2:] - x[1:-1])
    bend = off / reach
    rough = np.diff(bend) * 0.5 * (reach[1:] + reach[:-1])
    # For independent noise s on even spacing the difference of two offsets has 1.87 s.
    return float(np.median(np.abs(rough)) / 0.6745 / 1.87)


def _piece(
    x: FloatArray, y: FloatArray, falling: bool, fixed_first: bool, fixed_last: bool
) -> FloatArray:
    scale = float(np.ptp(y)) or max(float(np.abs(y).max()), 1e-300)
    u = (x - x[0]) / (x[-1] - x[0])
    v = (y - y[-1]) / scale
    noise = scatter(u, v)
    if noise <= 1e-9:
        return _monotone_only(y) if falling else y
    best = v
    for strength in _STRENGTHS:
        trial = _fit(u, v, strength, falling, fixed_first, fixed_last, noise)
        off = np.abs(trial - v)
        inner = off[off <= 3 * noise]
        if inner.size < off.size - max(1, off.size // 5):
            break
        if np.sqrt(np.mean(inner**2)) > noise:
            break
        best = trial
    result = np.asarray(y[-1] + scale * best)
    if fixed_first:
        result[0] = y[0]
    if fixed_last:
        result[-1] = y[-1]
    if falling:  # the fit meets fixed ends but for rounding
        result = np.minimum.accumulate(np.maximum(result, result[-1]) if fixed_last else result)
    return result


def _monotone_only(y: FloatArray) -> FloatArray:
    """Pool neighbours that rise (pool-adjacent-violators): no scatter, but a step up."""
    blocks: list[list[float]] = []
    for value in y.tolist():
        blocks.append([value, 1.0])
        while len(blocks) > 1 and blocks[-1][0] > blocks[-2][0]:
            last, before = blocks.pop(), blocks.pop()
            weight = last[1] + before[1]
            blocks.append([(last[0] * last[1] + before[0] * before[1]) / weight, weight])
    return np.array([mean for mean, count in blocks for _ in range(int(count))])


def _fit(
    u: FloatArray,
    v: FloatArray,
    strength: float,
    falling: bool,
    fixed_first: bool,
    fixed_last: bool,
    noise: float,
) -> FloatArray:
    n = u.size
    weights = np.ones(n)
    if fixed_first:
        weights[0] = 1e6
    if fixed_last:
        weights[-1] = 1e6
    bend = np.sqrt(strength) * _second_differences(u)
    result = v
    for _ in range(4):  # Huber weights: a point far off counts less, and stays in
        matrix = np.concatenate([np.diag(np.sqrt(weights)), bend])
        right = np.concatenate([np.sqrt(weights) * v, np.zeros(bend.shape[0])])
        result = _solved(matrix, right, falling)
        off = np.abs(result - v) / max(noise, 1e-12)
        inner = np.minimum(1.0, _HUBER / np.maximum(off, 1e-12))
        fixed = weights > 1e3
        weights = np.where(fixed, weights, inner)
    return result


def _solved(matrix: FloatArray, right: FloatArray, falling: bool) -> FloatArray:
    if not falling:
        return np.asarray(np.linalg.lstsq(matrix, right, rcond=None)[0])
    from scipy.optimize import nnls

    n = matrix.shape[1]
    # m[i] = base_up - base_down + sum of the drops from i on.
    drops = np.triu(np.ones((n, n - 1)), 0)
    parts = np.concatenate([np.ones((n, 1)), -np.ones((n, 1)), drops], axis=1)
    found, _ = nnls(matrix @ parts, right, maxiter=50 * n)
    return np.asarray(parts @ found)


def _second_differences(u: FloatArray) -> FloatArray:
    n = u.size
    rows = np.zeros((n - 2, n))
    for i in range(n - 2):
        before, after = u[i + 1] - u[i], u[i + 2] - u[i + 1]
        width = 0.5 * (before + after)
        rows[i, i : i + 3] = np.array([1 / before, -1 / before - 1 / after, 1 / after])
        rows[i] *= np.sqrt(width) / width
    return rows
