"""Which rows of a column lie off a smooth line through the others.

Each row is held against what the rows beside it say of it: the cubic through two on either side.
How far that differs from the straight line through the nearest two is how little is known, and
widens what is allowed. At an end all that lies between the straight line through the next two and
the parabola through the next three may be, and, where a curve may level off, the next row itself.
One wrong row also puts those beside it off their lines; so the row counts as wrong whose taking out
leaves the smoothest rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from converter_match.curves import FloatArray

_MOST = 3  # rows that are told of one stretch: more are no slip of a digit
_UNKNOWN = 0.7
_LEVEL = 1.07
_FEWEST = 4


@dataclass(frozen=True)
class Allowed:
    """How far a row may be off.

    Parameters
    ----------
    inner, ends : float
        Share of the expected value, of an inner row and of the first and last one.
    level : bool
        Whether the curve may level off at its ends.
    more : ndarray, shape (n,), optional
        What is allowed in addition, row by row, in the unit of y.
    """

    inner: float
    ends: float
    level: bool = False
    more: FloatArray | None = None

    def only(self, rows: list[int]) -> Allowed:
        """Return it for some of the rows."""
        return self if self.more is None else replace(self, more=self.more[rows])


def off_the_line(
    x: FloatArray, y: FloatArray, allowed: Allowed, *, trusted: int | None = None
) -> list[tuple[int, float]]:
    """Return (row, how far off as a share of what was expected) of rows off a smooth line.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        One smooth stretch, x increasing; fewer than four rows say nothing.
    allowed : Allowed
    trusted : int, optional
        A row that other rows have shown to be right.

    Examples
    --------
    >>> x = np.linspace(0.0, 1.0, 8)
    >>> off_the_line(x, np.where(x == x[3], 2.0, 1.0 + x), Allowed(0.1, 0.1))
    [(3, 0.4)]
    """
    rows = list(range(x.size))
    found: list[tuple[int, float]] = []
    while len(rows) >= _FEWEST and len(found) < _MOST:
        strain, off = _strains(x[rows], y[rows], allowed.only(rows))
        if strain.max() <= 1.0:
            break
        strain = np.where(np.array(rows) == trusted, 0.0, strain)
        worst = int(np.argmax(strain))
        if strain[worst] <= 1.0:
            break
        if len(rows) > _FEWEST:
            tried = [each for each in np.argsort(strain)[::-1][:4].tolist() if strain[each] > 1.0]
            rest = [_strain_without(x, y, rows, each, allowed) for each in tried]
            worst = tried[int(np.argmin(rest))]
        found.append((rows[worst], round(float(off[worst]), 12)))
        rows.pop(worst)
    return sorted(found)


def _strain_without(
    x: FloatArray, y: FloatArray, rows: list[int], out: int, allowed: Allowed
) -> float:
    left = [row for place, row in enumerate(rows) if place != out]
    return float(_strains(x[left], y[left], allowed.only(left))[0].max())


def _strains(x: FloatArray, y: FloatArray, allowed: Allowed) -> tuple[FloatArray, FloatArray]:
    """Return, for each row, how far off it is over what is allowed, and as a share."""
    strain, off = np.zeros(x.size), np.zeros(x.size)
    scale = float(np.abs(y).max()) or 1.0
    for row in range(x.size):
        low, high, expected = _expected(x, y, row, level=allowed.level)
        size = max(abs(expected), 0.02 * scale)
        share = allowed.ends if row in (0, x.size - 1) else allowed.inner
        beyond = max(low - y[row], y[row] - high, 0.0)
        off[row] = (y[row] - expected) / size
        more = 0.0 if allowed.more is None else float(allowed.more[row])
        strain[row] = beyond / (share * size + more)
    return strain, off


def _expected(x: FloatArray, y: FloatArray, row: int, *, level: bool) -> tuple[float, float, float]:
    """Return (least, most, middle) of what the rows beside a row say of it."""
    at = float(x[row])
    if row in (0, x.size - 1):
        inward = 1 if row == 0 else -1
        near = [row + inward * step for step in (1, 2, 3)]
        said = [through(x, y, near, at), through(x, y, near[:2], at)]
        middle = 0.5 * (min(said) + max(said))
        if level:  # widened like the others below, so that little is left of what is allowed
            beside = float(y[near[0]])
            said += [beside * _LEVEL] if beside < min(said) else [beside / _LEVEL]
        return min(said), max(said), middle
    before, after = min(row, 2), min(x.size - 1 - row, 2)
    near = [*range(row - before, row), *range(row + 1, row + after + 1)]
    said = [through(x, y, near, at)]
    if before + after == 3:  # the row beside an end: one more from the other side
        extra = row + 3 if before == 1 else row - 3
        said += [through(x, y, [*near, extra], at)] if 0 <= extra < x.size else []
    straight = through(x, y, [row - 1, row + 1], at)
    unknown = _UNKNOWN * max(abs(each - straight) for each in said)
    return min(said) - unknown, max(said) + unknown, 0.5 * (min(said) + max(said))


def through(x: FloatArray, y: FloatArray, rows: Sequence[int], at: float) -> float:
    """Return the polynomial through some rows of y over x, at a place (Lagrange)."""
    total = 0.0
    for row in rows:
        others = [each for each in rows if each != row]
        total += float(y[row] * np.prod([(at - x[k]) / (x[row] - x[k]) for k in others]))
    return total


def off_the_grid(x: FloatArray) -> list[tuple[int, float]]:
    """Return (row, what the even steps of the others say) of a row that breaks even steps.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Increasing.

    Examples
    --------
    >>> off_the_grid(np.array([0.0, 0.1, 0.26, 0.3, 0.4, 0.5]))
    [(2, 0.2)]
    """
    steps = np.round(np.diff(x), 9)
    if steps.size < 5:
        return []
    values, counts = np.unique(steps, return_counts=True)
    usual = float(values[int(np.argmax(counts))])
    if counts.max() < 0.5 * steps.size:
        return []
    found = []
    for row in range(1, x.size - 1):
        middle = 0.5 * (x[row - 1] + x[row + 1])
        spans_two = abs(x[row + 1] - x[row - 1] - 2.0 * usual) < 1e-6 * max(usual, 1e-9)
        if spans_two and abs(x[row] - middle) > 0.15 * abs(middle):
            found.append((row, round(float(middle), 9)))
    return found
