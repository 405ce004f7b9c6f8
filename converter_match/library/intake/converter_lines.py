"""Rows of a converter's sheet that lie off the line of the others: torque ratio and capacity.

Torque ratio: smooth up to the coupling point, 1 beyond it. Capacity: smooth up to there; beyond it,
it follows a power of the slip, so that its logarithm is a straight line over that of the slip. The
corner itself belongs to both, and counts as off only if it is off both. Where the coupling point
lies between two rows no row is the corner: the first row beyond it belongs to the second line only.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from converter_match.components.coupling import AT_UNITY
from converter_match.curves import FloatArray
from converter_match.library.intake.off_line import Allowed, off_the_line, through

RATIO = Allowed(0.06, 0.06)
CAPACITY = Allowed(0.07, 0.12)
CAPACITY_AT_CORNER = 0.40
NU_ROUNDING = 0.004
OVER_SLIP = Allowed(0.12e-3, 0.16e-3)
AT_ONE = 0.02
_LAST = 0.995  # beyond it, slip is too small to say anything of the capacity
_SLIP_POWER = (0.5, 1.3)  # by which the capacity falls with slip, beyond the coupling point
_MIDDLE_POWER = 0.8
_SPARE = 0.1
_FEW = 3
_BELOW_ONE = 0.02  # of the torque ratio extrapolated to the corner: more than printed digits

Off = tuple[int, float]


def corner(nu: FloatArray, mu: FloatArray | None, stated: float | None) -> int | None:
    """Return the row at which the torque ratio has come to 1 for good; None where it does not.

    One row beyond it may be off, which is what a wrong digit does.

    Parameters
    ----------
    nu, mu : ndarray, shape (n,)
    stated : float or None
        Coupling point on the sheet.
    """
    if stated is not None:
        beyond = np.flatnonzero(nu >= stated - 1e-9)
        return int(beyond[0]) if beyond.size else None
    if mu is None:
        return None
    at_one = np.abs(mu - 1.0) <= AT_ONE
    inside = (nu > 0.0) & (nu <= 1.0)
    for row in np.flatnonzero(inside & at_one & (mu <= 1.0 + AT_UNITY)).tolist():
        after = at_one[row:][inside[row:]]
        if np.count_nonzero(~after) <= (1 if after.size > _FEW - 1 else 0):
            return int(row)
    return None


def ratio_off(nu: FloatArray, mu: FloatArray, stator: str, stated: float | None) -> list[Off]:
    """Return (row, how far off as a share) of the torque ratio.

    Parameters
    ----------
    nu, mu : ndarray, shape (n,)
    stator : str
    stated : float or None
        Coupling point on the sheet.
    """
    rows = np.flatnonzero((nu >= 0.0) & (nu <= 1.0))
    end = corner(nu, mu, stated) if stator != "fixed" else None
    found: list[Off] = []
    if end is not None:
        beyond = rows[rows > end].tolist()
        found += [(row, float(mu[row]) - 1.0) for row in beyond if abs(mu[row] - 1.0) > AT_ONE]
        rows = rows[rows <= end]
    values = mu[rows].copy()
    if end is not None and stator == "one-way" and rows.size and rows[-1] == end:
        values[-1] = 1.0
        if coupling_between(nu, mu, end) is not None:
            rows, values = rows[:-1], values[:-1]
    return found + _of(rows, off_the_line(nu[rows], values, RATIO))


def coupling_between(nu: FloatArray, mu: FloatArray | None, end: int) -> tuple[float, float] | None:
    """Return between which speed ratios the coupling point lies, if before the row of the corner.

    The torque ratio that falls to 1 between two rows leads below 1 at the second of them.

    Parameters
    ----------
    nu, mu : ndarray, shape (n,)
    end : int
        First row at which the torque ratio is 1 for good.
    """
    near = [row for row in (end - 1, end - 2, end - 3) if row >= 0 and nu[row] >= 0.0]
    if mu is None or len(near) < _FEW or mu[end - 1] <= 1.0:
        return None
    at = float(nu[end])
    if min(through(nu, mu, near, at), through(nu, mu, near[:2], at)) > 1.0 - _BELOW_ONE:
        return None
    tried = np.linspace(float(nu[end - 1]), at, 101)
    found = []
    for rows in (near, near[:2]):
        below = [value for value in tried.tolist() if through(nu, mu, rows, value) <= 1.0]
        found.append(below[0] if below else at)
    return min(found), max(found)


def capacity_off(
    nu: FloatArray, mu: FloatArray | None, c: FloatArray, stator: str, stated: float | None
) -> list[Off]:
    """Return (row, how far off as a share) of the capacity.

    Parameters
    ----------
    nu, mu, c : ndarray, shape (n,)
        Speed ratio, torque ratio, capacity [N.m/(rad/s)^2].
    stator : str
    stated : float or None
        Coupling point on the sheet.
    """
    usable = (nu >= 0.0) & (nu < _LAST) & (c > 0.0)
    rows = np.flatnonzero(usable)
    if rows.size < _FEW:
        return []
    if stator == "none":
        return _of(rows, _over_slip(nu[rows], c[rows]))
    end = corner(nu, mu, stated) if stator == "one-way" else None
    between = None if end is None else coupling_between(nu, mu, end)
    if end is not None and between is not None:
        return _around(nu, c, rows, end, between)
    before = rows if end is None else rows[rows <= end]
    after = rows[:0] if end is None else rows[rows >= end]
    first = off_the_line(nu[before], c[before], CAPACITY)
    if before.size and (end is None or before[-1] != end):
        return _of(before, first)
    found = [(row, off) for row, off in _of(before, first) if row != end]
    at_end = [off for row, off in _of(before, first) if row == end]
    doubted = bool(at_end)
    second = _beyond(nu[after], c[after], doubted=doubted)
    if doubted and (abs(at_end[0]) > CAPACITY_AT_CORNER or 0 in [row for row, _ in second]):
        found += [(int(after[0]), at_end[0])]
    return found + [(int(after[row]), off) for row, off in second if row > 0]


def _around(
    nu: FloatArray, c: FloatArray, rows: NDArray[np.intp], end: int, between: tuple[float, float]
) -> list[Off]:
    """Return rows that are off where the coupling point lies before row `end`, and after the last.

    What the capacity has come to at row `end` follows from where the coupling point can lie, what
    the rows before lead to there, and the powers of the slip.
    """
    before, after = rows[rows < end], rows[rows >= end]
    found = _of(before, off_the_line(nu[before], c[before], CAPACITY))
    if not after.size or after[0] != end:
        return found
    near = [row for row in before[::-1][:3].tolist() if row not in dict(found)]
    if len(near) < _FEW - 1:
        return found
    said = [
        through(nu, c, used, at) * ((1.0 - float(nu[end])) / (1.0 - at)) ** power
        for used in (near, near[:2])
        for at in between
        for power in _SLIP_POWER
    ]
    low, high = (1.0 - CAPACITY.ends) * min(said), (1.0 + CAPACITY.ends) * max(said)
    doubted = not low <= float(c[end]) <= high
    second = _beyond(nu[after], c[after], doubted=doubted)
    off = float(c[end] / (0.5 * (min(said) + max(said))) - 1.0)
    if doubted and (abs(off) > CAPACITY_AT_CORNER or 0 in [row for row, _ in second]):
        found.append((end, off))
    return found + [(int(after[row]), off) for row, off in second if row > 0]


def _beyond(nu: FloatArray, c: FloatArray, *, doubted: bool) -> list[Off]:
    """Return rows beyond the corner (which is row 0) whose capacity is no power of the slip."""
    if nu.size < 2:
        return []
    trusted = None if doubted else 0
    found = dict(_over_slip(nu, c, trusted)) if nu.size > _FEW else {}
    slip = (1.0 - nu[1:]) / (1.0 - nu[0])
    share = c[1:] / c[0]
    power = np.log(share) / np.log(slip)
    spare = np.log1p(_SPARE) + NU_ROUNDING / (1.0 - nu[1:])
    usual = np.clip(power, *_SLIP_POWER)
    off = np.abs(power - usual) * np.abs(np.log(slip)) - spare
    if nu.size == _FEW:  # two rows: the powers of both have to agree
        apart = abs(power[0] - power[1]) * np.abs(np.log(slip)) - 2.0 * spare
        odd = int(np.argmax(np.abs(power - _MIDDLE_POWER)))
        off[odd] = max(off[odd], apart[odd])
    if 0 not in found:
        for row in np.flatnonzero(off > 0.0).tolist():
            expected = slip[row] ** float(np.clip(np.median(power), *_SLIP_POWER))
            found.setdefault(row + 1, float(share[row] / expected - 1.0))
    return sorted(found.items())


def _over_slip(nu: FloatArray, c: FloatArray, trusted: int | None = None) -> list[Off]:
    """Judge the logarithm of the capacity over that of the slip; a share is a step of it."""
    x, y = -np.log(1.0 - nu), np.log(c)
    # Of a logarithm a difference is a share already: lifted far up, its own size is one for all.
    more = 1e-3 * NU_ROUNDING / (1.0 - nu)  # what the rounding of a speed ratio is of the slip
    found = off_the_line(x, y / 1000.0 + 1.0, replace(OVER_SLIP, more=more), trusted=trusted)
    return [(row, float(np.expm1(1000.0 * off))) for row, off in found]


def _of(rows: NDArray[np.intp], found: list[Off]) -> list[Off]:
    return [(int(rows[row]), off) for row, off in found]
