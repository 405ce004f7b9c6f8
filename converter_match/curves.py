"""Piecewise shape-preserving curves that know their range and their kinks.

Between neighbouring kinks the curve is a monotone piecewise-cubic Hermite interpolant (Fritsch and
Carlson, SIAM J. Numer. Anal. 17, 1980, 238-246) with the slopes of Fritsch and Butland (SIAM J.
Sci. Stat. Comput. 5, 1984, 300-304), as in scipy's ``PchipInterpolator``: no overshoot, exact at
the given points. At a kink the slope may jump, as it does where a stator starts to
freewheel or where a governor takes over; a smooth interpolant would be wrong on both sides.
A query outside the given points is refused: nothing is extrapolated here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.errors import InputError

FloatArray = NDArray[np.float64]
# Points evaluated at once: keeps temporaries in cache and memory bounded for any number of points.
_CHUNK = 1 << 15
# From so many points on it pays to look all of them up in step.
_MANY = 1000


def frozen_array(values: ArrayLike, name: str | None = None) -> FloatArray:
    """Return a read-only float copy of `values`, which are called `name` in messages.

    Raises
    ------
    InputError
        If `values` are not a list of numbers; text that looks like numbers is not.
    """
    if isinstance(values, np.ma.MaskedArray):
        raise InputError(
            "a masked array has rows without a number",
            field=name,
            expected="a number in every row",
            hint="leave those rows out",
        )
    try:
        given = np.asarray(values)
    except ValueError:  # rows of different lengths
        given = np.asarray(None)
    if given.dtype.kind not in "iuf":
        raise InputError(
            "not a list of numbers", field=name, found=values, expected="a number in every row"
        )
    array = np.array(given, dtype=np.float64)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, eq=False)
class Curve:
    """A function given by points, interpolated piecewise between kinks.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Points; `x` strictly increasing, both finite, n >= 2.
    kinks : sequence of float
        Members of `x` (strictly inside the range) at which the slope may jump.
    name, x_name : str
        What `y` and `x` are called in messages.

    Raises
    ------
    InputError
        If the points are unsorted, repeated, not finite, fewer than two, or a kink is not a point.
    """

    x: FloatArray
    y: FloatArray
    kinks: tuple[float, ...] = ()
    name: str = "curve"
    x_name: str = "x"
    _coefficients: FloatArray = field(init=False, repr=False)

    def __post_init__(self) -> None:
        x, y = frozen_array(self.x, self.x_name), frozen_array(self.y, self.name)
        check_points(x, y, name=self.name, x_name=self.x_name)
        for kink in self.kinks:
            if kink not in x[1:-1]:
                near = float(x[np.argmin(np.abs(x - kink))])
                raise InputError(
                    "a kink must be one of the given points, inside the range",
                    field=self.x_name,
                    found=float(kink),
                    hint=f"nearest given point is {near:.6g}",
                )
        set_ = object.__setattr__
        set_(self, "x", x)
        set_(self, "y", y)
        set_(self, "kinks", tuple(sorted({float(kink) for kink in self.kinks})))
        coefficients = frozen_array(_hermite_pieces(x, y, self.kinks))
        set_(self, "_coefficients", coefficients)

    def __reduce__(self) -> tuple[Any, ...]:
        # An array comes back from pickling or copying writable, so the copy is built anew.
        return type(self), (self.x, self.y, self.kinks, self.name, self.x_name)

    @property
    def domain(self) -> tuple[float, float]:
        """Lowest and highest `x` for which the curve is known."""
        return float(self.x[0]), float(self.x[-1])

    @cached_property
    def pieces(self) -> FloatArray:
        """Power-basis coefficients, shape (4, n - 1).

        On piece i, ``y = sum_k pieces[k, i] * (x - x_i)**(3 - k)``.
        """
        return self._coefficients[:, :-1]

    def __call__(self, x: ArrayLike) -> FloatArray:
        """Evaluate at `x` (any shape).

        Raises
        ------
        InputError
            If any `x` lies outside the domain or is NaN.
        """
        values = self._known(x)
        if values.size <= _CHUNK:
            return self._value(values)
        result = np.empty(values.shape)
        given, answer = values.reshape(-1), result.reshape(-1)
        for start in range(0, given.size, _CHUNK):
            answer[start : start + _CHUNK] = self._value(given[start : start + _CHUNK])
        return result

    def _value(self, x: FloatArray) -> FloatArray:
        piece = last_below(self.x, x)
        t = x - self.x.take(piece)
        a, b, c, d = self._coefficients
        y = a.take(piece)  # ((a t + b) t + c) t + d, in one array
        for coefficient in (b, c, d):
            y *= t
            y += coefficient.take(piece)
        return np.float64(y) if not x.ndim else y  # type: ignore[return-value]

    def with_slope(self, x: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Evaluate value and first derivative at `x` (any shape).

        At a kink the slope returned is the one of the piece to the right.
        """
        values = self._known(x)
        piece = last_below(self.x, values)
        # The closing column is a constant: the slope at the very end is that of the last piece.
        last = piece == self.x.size - 1
        piece = np.where(last, piece - 1, piece)
        t = values - self.x[piece]
        a, b, c, d = self._coefficients[:, piece]
        y = np.where(last, self.y[-1], ((a * t + b) * t + c) * t + d)
        return y, (3.0 * a * t + 2.0 * b) * t + c

    def _known(self, x: ArrayLike) -> FloatArray:
        values = np.asarray(x, dtype=np.float64)
        low, high = self.domain
        if values.size and not (values.min() >= low and values.max() <= high):
            outside = values[~((values >= low) & (values <= high))]
            raise InputError(
                f"{self.name} is not known there and nothing is extrapolated",
                field=self.x_name,
                found=float(outside.flat[0]),
                expected=f"a value within {low:.6g} .. {high:.6g}",
            )
        return values

    def crossings(self, level: float) -> FloatArray:
        """Return every `x` at which the curve takes the value `level`, increasing.

        A level that the curve only touches counts once; a stretch that lies exactly on the level
        contributes its two ends.
        """
        found: list[float] = []
        for i in range(self.x.size - 1):
            width = self.x[i + 1] - self.x[i]
            a, b, c, d = self.pieces[:, i]
            if a == b == c == 0.0:
                if d == level:
                    found += [float(self.x[i]), float(self.x[i + 1])]
                continue
            for t in real_roots_within([a, b, c, d - level], float(width)):
                found.append(float(self.x[i]) + t)
        return merged(found, 1e-12 * (self.x[-1] - self.x[0]))


def last_below(edges: FloatArray, x: FloatArray) -> NDArray[np.intp]:
    """Return the index of the last of `edges` that is at or below each `x`.

    Parameters
    ----------
    edges : ndarray, shape (n,)
        Not falling.
    x : ndarray
        Any shape; finite, and not below the first edge.

    Returns
    -------
    ndarray of int, the shape of `x`

    Notes
    -----
    ``edges.searchsorted(x, side="right") - 1``. That looks value by value, and what takes the time
    is that a processor cannot foresee its way through unsorted values; for many of them the same
    halving is several times faster if all take each step together.

    Examples
    --------
    >>> last_below(np.array([0.0, 1.0, 2.0]), np.array([0.5, 1.0, 7.0]))
    array([0, 1, 2])
    """
    if x.size < _MANY:
        return np.asarray(edges.searchsorted(x, side="right") - 1)
    rounds = (edges.size - 1).bit_length()
    padded = np.append(edges, np.full(2**rounds - edges.size, np.inf))
    index = np.zeros(x.shape, dtype=np.intp)
    for step in (2**k for k in reversed(range(rounds))):
        further = x >= padded[step:].take(index)
        index += further.astype(np.intp) * step
    return index


def check_points(x: FloatArray, y: FloatArray, *, name: str, x_name: str) -> None:
    """Refuse points that do not describe a single-valued finite function.

    Raises
    ------
    InputError
        Naming the first offending row (counted from 1).
    """
    for label, values in ((x_name, x), (name, y)):
        if values.ndim != 1:
            raise InputError(
                f"{label} must be a plain list of numbers",
                field=label,
                found=f"an array with {values.ndim} dimensions",
            )
    if x.size != y.size:
        raise InputError(
            f"{name} and {x_name} must have the same number of points",
            field=name,
            found=f"{y.size} values of {name} for {x.size} of {x_name}",
        )
    if x.size < 2:
        raise InputError(f"{name} needs at least two points", field=name, found=f"{x.size} points")
    for label, values in ((x_name, x), (name, y)):
        bad = np.flatnonzero(~np.isfinite(values))
        if bad.size:
            raise InputError(
                f"row {bad[0] + 1} is not a finite number",
                field=label,
                found=float(values[bad[0]]),
                expected="a number in every row",
            )
    falls = np.flatnonzero(np.diff(x) <= 0)
    if falls.size:
        row = int(falls[0]) + 1
        what = "repeats" if x[row] == x[row - 1] else "does not increase"
        raise InputError(
            f"{x_name} {what} at row {row + 1}",
            field=x_name,
            found=f"{x[row]:.6g} after {x[row - 1]:.6g}",
            expected="values that increase from row to row",
        )


def real_roots_within(coefficients: ArrayLike, width: float) -> list[float]:
    """Return the distinct real roots of a polynomial (highest power first) in [0, width], rising.

    Between neighbouring roots of its derivative a polynomial only rises or only falls, so a change
    of sign there holds exactly one root. A value that is zero but for rounding, at an end or where
    the polynomial turns, counts as a root there: a touching root is found once, not twice or never.
    """
    # Measure the argument in interval widths, so that "small" means the same for every piece.
    powers = width ** np.arange(np.size(coefficients) - 1, -1, -1)
    scaled = (np.asarray(coefficients, dtype=np.float64) * powers).tolist()
    return [u * width for u in _roots_in_unit_interval(scaled)]


def _roots_in_unit_interval(p: list[float]) -> list[float]:
    """Roots in [0, 1] of the polynomial `p`, highest power first; none where it is constant."""
    while p and p[0] == 0.0:
        p = p[1:]
    degree = len(p) - 1
    if degree < 1:
        return []
    derivative = [(degree - i) * a for i, a in enumerate(p[:-1])]
    stops = [0.0, *_roots_in_unit_interval(derivative), 1.0]
    residue = 4e-16 * sum(abs(a) for a in p)
    values = [_horner(p, stop) for stop in stops]
    roots = []
    for i, (stop, value) in enumerate(zip(stops, values, strict=True)):
        if abs(value) <= residue:
            roots.append(stop)
        elif i and abs(values[i - 1]) > residue and (value > 0) != (values[i - 1] > 0):
            roots.append(_root_between(p, derivative, stops[i - 1], stop, value > 0))
    return [root for i, root in enumerate(roots) if i == 0 or root > roots[i - 1]]


def _root_between(
    p: list[float], derivative: list[float], low: float, high: float, rising: bool
) -> float:
    """Return the one root in [low, high]: Newton's method, bisection where it would leave."""
    u = 0.5 * (low + high)
    for _ in range(100):
        value = _horner(p, u)
        if value == 0.0:
            break
        low, high = (low, u) if (value > 0) == rising else (u, high)
        slope = _horner(derivative, u)
        trial = u - value / slope if slope else low
        new = trial if low < trial < high else 0.5 * (low + high)
        if abs(new - u) <= 1e-16:
            break
        u = new
    return u


def _horner(p: list[float], u: float) -> float:
    value = 0.0
    for a in p:
        value = value * u + a
    return value


def merged(values: Sequence[float], tolerance: float) -> FloatArray:
    """Sort `values` and drop those within `tolerance` of the one before."""
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > tolerance:
            kept.append(value)
    return np.array(kept)


def _hermite_pieces(x: FloatArray, y: FloatArray, kinks: Sequence[float]) -> FloatArray:
    """Coefficients (4, n): one column a piece, and a constant column that holds the last point.

    The closing column makes the curve exact at its last point: there t = 0 in that column, while
    the cubic of the last piece would be off by rounding.
    """
    edges = [0, *(int(np.searchsorted(x, kink)) for kink in sorted(set(kinks))), x.size - 1]
    columns = [_pchip(x[i : j + 1], y[i : j + 1]) for i, j in pairwise(edges)]
    closing = np.array([[0.0], [0.0], [0.0], [y[-1]]])
    return np.concatenate([*columns, closing], axis=1)


def _pchip(x: FloatArray, y: FloatArray) -> FloatArray:
    """Coefficients (4, n - 1) of the monotone cubics through the points of one smooth stretch.

    The same to the last bit as scipy's ``PchipInterpolator(x, y).c``. Written out because loading
    scipy takes longer than all else that a command does.
    """
    width = np.diff(x)
    secant = np.diff(y) / width
    slope = _slopes(width, secant)
    curl = (slope[:-1] + slope[1:] - 2.0 * secant) / width
    return np.stack([curl / width, (secant - slope[:-1]) / width - curl, slope[:-1], y[:-1]])


def _slopes(width: FloatArray, secant: FloatArray) -> FloatArray:
    """Slope at each point (n,), from the widths and secants of the n - 1 intervals between."""
    slope = np.zeros(width.size + 1)
    if width.size == 1:
        slope[:] = secant
        return slope
    # Fritsch and Butland: flat where the data turn, else a weighted harmonic mean of both secants.
    goes_on = np.flatnonzero(np.sign(secant[:-1]) * np.sign(secant[1:]) > 0)
    left, right = width[goes_on], width[goes_on + 1]
    w1, w2 = 2.0 * right + left, right + 2.0 * left
    slope[goes_on + 1] = 1.0 / ((w1 / secant[goes_on] + w2 / secant[goes_on + 1]) / (w1 + w2))
    slope[0] = _end_slope(*width[:2], *secant[:2])
    slope[-1] = _end_slope(*width[:-3:-1], *secant[:-3:-1])
    return slope


def _end_slope(width: float, next_width: float, secant: float, next_secant: float) -> float:
    """Slope of the parabola through the three points at an end, limited to keep the shape."""
    slope = ((2.0 * width + next_width) * secant - width * next_secant) / (width + next_width)
    if np.sign(slope) != np.sign(secant):
        return 0.0
    if np.sign(secant) != np.sign(next_secant) and abs(slope) > 3.0 * abs(secant):
        return 3.0 * secant
    return slope
