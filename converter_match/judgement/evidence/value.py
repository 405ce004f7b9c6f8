"""What a reading is worth before it is taken, to a decision between ordering and not ordering.

Each draw carries a *gain*: what ordering is worth in it above not ordering. Without a reading the
decision is worth ``max(0, E gain)``; knowing everything ``E max(0, gain)``; with a reading ``y``
still to come ``E_y max(0, E[gain | y])``. The differences to the first are the expected value of
perfect information and of sample information (Raiffa and Schlaifer, Applied Statistical Decision
Theory, 1961, chapters 4 and 5).

One reading and two: every reading that may come is a node of a grid, about as far apart as the
instrument's own deviation, and the draws are weighted anew at each node (nested reweighting). The
likelihoods of all readings at all nodes are the rows of one matrix, so that all pairs are products
of matrices. More than two: the sign of ``E[gain | y]`` by regression.

Both decide for a random fold of the draws by what the other folds say. To decide by the draws that
the decision is then judged by would find a worth in readings that tell nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray

_FOLDS = 4
# Nodes of a grid: at most so far apart, as a share of the spread of what may be read.
_STEP = 1.0 / 6.0
# An instrument finer than this share of the spread settles nothing more, and 10 000 draws do not
# resolve it in two directions.
_FINEST = 1.0 / 12.0
# How far the nodes reach beyond the draws, in deviations of the instrument.
_BEYOND = 3.0
_RIDGE = 1e-4
_READ = 1
# Products of matrices up to this size stay on one processor: where others run beside, several that
# wait for one another take many times as long.
_PRODUCT = 250_000

_Row = np.ndarray[tuple[int], np.dtype[np.float64]]


@dataclass(frozen=True, eq=False, kw_only=True)
class Predicted:
    """What a reading would show in every draw, and how well it would be read.

    Parameters
    ----------
    values : ndarray, shape (n,)
        In the unit of the reading; NaN in a draw that gives none, which is a result as well.
    deviation : float
        Standard deviation of instrument, repeat and model, same unit, above zero.
    """

    values: FloatArray
    deviation: float

    @property
    def middle(self) -> float:
        """Median of the draws that give a reading."""
        return float(np.median(self.values[np.isfinite(self.values)]))


@dataclass(frozen=True, eq=False, kw_only=True)
class Worth:
    """Expected value of sample information of each reading and each pair, unit of the gain.

    Parameters
    ----------
    single : ndarray, shape (r,)
    pair : ndarray, shape (r, r)
        Symmetric; a reading with itself has the worth of the single one.
    """

    single: FloatArray
    pair: FloatArray


def perfect_information(gain: FloatArray, weights: FloatArray | None = None) -> float:
    """Return the expected value of knowing everything.

    ``E max(0, g) - max(0, E g)``.

    Parameters
    ----------
    gain : ndarray, shape (n,)
        Of ordering over not ordering, in each draw.
    weights : ndarray, shape (n,), optional
        Of the draws; alike without.

    Examples
    --------
    >>> import numpy as np
    >>> perfect_information(np.array([1.0, 1.0, 1.0, -9.0]))
    0.75
    """
    share = _shares(gain.size, weights)
    return float(share @ np.maximum(gain, 0.0)) - max(float(share @ gain), 0.0)


def likelihoods(reading: Predicted) -> tuple[FloatArray, FloatArray]:
    """Return nodes that a reading may be read at, and how likely each draw makes each of them.

    Parameters
    ----------
    reading : Predicted

    Returns
    -------
    nodes : ndarray, shape (m,)
        The last is NaN where some draw gives no reading: that there is none.
    likely : ndarray, shape (m, n)
        Each column sums to 1.
    """
    values = np.asarray(reading.values, dtype=np.float64)
    known = np.isfinite(values)
    spread = float(np.std(values[known])) if known.any() else 0.0
    rows = np.zeros((0, values.size))
    nodes = np.zeros(0)
    if known.any():
        deviation = max(reading.deviation, _FINEST * spread)
        step = min(deviation, _STEP * float(np.hypot(spread, deviation)))
        low, high = (float(end) for end in np.quantile(values[known], [0.001, 0.999]))
        low, high = low - _BEYOND * deviation, high + _BEYOND * deviation
        nodes = np.linspace(low, high, int(np.ceil((high - low) / step)) + 1)
        middle = np.clip(np.where(known, values, low), low, high)
        rows = np.exp(-0.5 * ((nodes[:, np.newaxis] - middle) / deviation) ** 2)
        rows *= known / rows.sum(axis=0)
    if not known.all():
        nodes = np.append(nodes, np.nan)
        rows = np.vstack([rows, ~known])
    return nodes, rows


def worth(
    gain: FloatArray,
    readings: Sequence[Predicted],
    weights: FloatArray | None = None,
    *,
    seed: int = 0,
    alike: NDArray[np.intp] | None = None,
) -> Worth:
    """Return what each reading and each pair of readings is worth.

    Parameters
    ----------
    gain : ndarray, shape (n,)
        Of ordering over not ordering, in each draw.
    readings : sequence of Predicted, length r
        With errors that are independent of each other.
    weights : ndarray, shape (n,), optional
    seed : int
        Of the folds.
    alike : ndarray of int, shape (n,), optional
        Draws of the same number are copies of one another, and stay in one fold.

    Examples
    --------
    >>> import numpy as np
    >>> reading = Predicted(values=np.array([1.0, 1.0, 1.0, 2.0] * 50), deviation=0.01)
    >>> round(float(worth(np.array([1.0, 1.0, 1.0, -9.0] * 50), [reading]).single[0]), 3)
    0.75
    """
    if not readings:
        return Worth(single=np.zeros(0), pair=np.zeros((0, 0)))
    weighted = _shares(gain.size, weights) * gain
    base = max(float(weighted.sum()), 0.0)
    tables = [likelihoods(reading)[1] for reading in readings]
    folds = _folds(gain.size, seed, alike)
    width = max(_PRODUCT // max(len(table) for table in tables) ** 2, 8)
    blocks = [[_blocks(table[:, fold], width) for fold in folds] for table in tables]
    gains = [_blocks(weighted[np.newaxis, fold], width) for fold in folds]
    count = len(tables)
    single, pair = np.zeros(count), np.zeros((count, count))
    for i, own in enumerate(blocks):
        scaled = [part * share for part, share in zip(own, gains, strict=True)]
        alone = np.stack([part.sum(axis=(0, 2)) for part in scaled])
        single[i] = pair[i, i] = max(float(_decided(alone).sum()) - base, 0.0)
        for j in range(i + 1, count):
            both = np.stack(
                [
                    (part @ other.transpose(0, 2, 1)).sum(axis=0)
                    for part, other in zip(scaled, blocks[j], strict=True)
                ]
            )
            pair[i, j] = pair[j, i] = max(float(_decided(both).sum()) - base, 0.0)
    return Worth(single=single, pair=pair)


def worth_together(
    gain: FloatArray,
    readings: Sequence[Predicted],
    weights: FloatArray | None = None,
    *,
    seed: int = 0,
    alike: NDArray[np.intp] | None = None,
) -> float:
    """Return what any number of readings are worth together, by regression.

    Readings are drawn once for every draw. The sign of the gain, each draw counting as much as it
    gains or loses, is fitted by a logistic curve of a quadratic in the readings: where that is one
    half the expected gain is nil. What the fitted rule gains in the folds it was not fitted to is
    returned: a worth that can be had, and at most that of the best rule.

    Parameters
    ----------
    gain, readings, weights, seed, alike
        As `worth`.
    """
    share = _shares(gain.size, weights)
    weighted = share * gain
    base = max(float(weighted.sum()), 0.0)
    generator = np.random.default_rng([seed, _READ])
    terms, _ = np.linalg.qr(_terms([_drawn(item, generator) for item in readings]))
    terms *= np.sqrt(gain.size)
    gained = 0.0
    folds = _folds(gain.size, seed, alike)
    for fold in folds:
        rest = np.ones(gain.size, dtype=bool)
        rest[fold] = False
        slopes = _fitted(terms[rest], gain[rest], share[rest])
        gained += float(weighted[fold] @ (terms[fold] @ slopes > 0.0))
    return max(gained - base, 0.0)


def chance_of_order(
    gain: FloatArray, readings: Sequence[Predicted], weights: FloatArray | None = None
) -> float:
    """Return how likely one reading, or two, will leave ordering as the better choice.

    Parameters
    ----------
    gain : ndarray, shape (n,)
    readings : sequence of Predicted
        One or two.
    weights : ndarray, shape (n,), optional
    """
    share = _shares(gain.size, weights)
    first = likelihoods(readings[0])[1]
    second = likelihoods(readings[1])[1] if len(readings) > 1 else np.ones((1, gain.size))
    better = (first * (share * gain)) @ second.T > 0.0
    return float(((first * share) @ second.T)[better].sum())


def turning_points(
    gain: FloatArray, reading: Predicted, weights: FloatArray | None = None
) -> tuple[tuple[float, bool], ...]:
    """Return the values of a reading at which the better choice changes.

    Looked for where 99 % of the readings will lie.

    Parameters
    ----------
    gain : ndarray, shape (n,)
    reading : Predicted
    weights : ndarray, shape (n,), optional

    Returns
    -------
    tuple of (float, bool)
        The value, ascending, and whether ordering is the better choice above it.
    """
    share = _shares(gain.size, weights)
    nodes, likely = likelihoods(reading)
    real = np.isfinite(nodes)
    nodes, likely = nodes[real], likely[real]
    density, gained = likely @ share, likely @ (share * gain)
    if density.sum() <= 0.0:
        return ()
    below = np.cumsum(density) / density.sum()
    inside = (below > 0.005) & (below < 0.995)
    at, expected = nodes[inside], gained[inside] / density[inside]
    turns = np.flatnonzero(np.signbit(expected[:-1]) != np.signbit(expected[1:]))
    return tuple(
        (
            float(np.interp(0.0, *_ascending(expected[k : k + 2], at[k : k + 2]))),
            bool(expected[k + 1] > 0.0),
        )
        for k in turns
    )


def _ascending(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    return (x, y) if x[0] <= x[1] else (x[::-1], y[::-1])


def _shares(size: int, weights: FloatArray | None) -> FloatArray:
    return np.full(size, 1.0 / size) if weights is None else weights / weights.sum()


def _folds(size: int, seed: int, alike: NDArray[np.intp] | None) -> list[NDArray[np.intp]]:
    numbers = np.arange(size) if alike is None else alike
    order = np.random.default_rng(seed).permutation(int(numbers.max()) + 1)
    fold = order[numbers] % _FOLDS
    return [np.flatnonzero(fold == k) for k in range(_FOLDS)]


def _blocks(columns: FloatArray, width: int) -> FloatArray:
    """Return columns (m, n) in blocks of a width, the last filled up with zeros, (b, m, width)."""
    rows, size = columns.shape
    count = -(-size // width)
    padded = np.zeros((rows, count * width))
    padded[:, :size] = columns
    return np.ascontiguousarray(padded.reshape(rows, count, width).transpose(1, 0, 2))


def _decided(sums: FloatArray) -> FloatArray:
    """Return the gain at every node, each fold decided by the sums of the others.

    Parameters
    ----------
    sums : ndarray, shape (folds, ...)
    """
    return np.asarray((sums * (sums.sum(axis=0) - sums > 0.0)).sum(axis=0))


def _drawn(reading: Predicted, generator: np.random.Generator) -> list[FloatArray]:
    """Return a reading for every draw, standardised, and whether there is one where some lack."""
    values = np.asarray(reading.values, dtype=np.float64)
    known = np.isfinite(values)
    read = values + reading.deviation * generator.standard_normal(values.size)
    if not known.any():
        return []
    middle, spread = float(np.mean(read[known])), float(np.std(read[known]))
    scores = np.where(known, (read - middle) / (spread or 1.0), 0.0)
    return [scores] if known.all() else [scores, known.astype(np.float64)]


def _terms(drawn: Sequence[Sequence[FloatArray]]) -> FloatArray:
    """Return constant, linear and quadratic terms of drawn readings, shape (n, terms)."""
    columns = [column for columns in drawn for column in columns]
    ones = np.ones_like(columns[0])
    products = [a * b for a, b in combinations_with_replacement(columns, 2)]
    return np.stack([ones, *columns, *products], axis=1)


def _fitted(terms: FloatArray, gain: FloatArray, share: FloatArray) -> FloatArray:
    """Return the slopes of a logistic curve for the sign of the gain."""
    from scipy.optimize import minimize
    from scipy.special import expit

    sign = np.where(gain > 0.0, 1.0, -1.0)
    size = share * np.abs(gain)
    if not size.any():
        return np.zeros(terms.shape[1])
    size = size / size.sum()

    def loss(slopes: _Row) -> tuple[float, _Row]:
        margin = sign * (terms @ slopes)
        value = float(size @ np.logaddexp(0.0, -margin)) + 0.5 * _RIDGE * float(slopes @ slopes)
        slope = terms.T @ (-size * sign * expit(-margin)) + _RIDGE * slopes
        return value, np.asarray(slope)

    start = np.zeros(terms.shape[1])
    found = minimize(
        loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 60, "ftol": 1e-6}
    )
    return np.asarray(found.x)
