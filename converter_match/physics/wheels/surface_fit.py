"""A quadratic in what varies from draw to draw, through some of the draws, with its doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray

# A fit has at least so many rows a column, or it is one with fewer columns.
_ROWS_A_COLUMN = 1.5
_LEVEL = 1e-9
# Rows multiplied at once: so few that a linear algebra library does not spread them over threads,
# which for a handful of columns costs more than it saves.
_ROWS = 1024


@dataclass(frozen=True, eq=False)
class Fit:
    """Surfaces through some values.

    Parameters
    ----------
    columns : ndarray, shape (n, c)
        What each draw has.
    weights : ndarray, shape (c, k)
    doubt : ndarray, shape (k,)
        By how much a value is missed at most by the surface through the others.
    """

    columns: FloatArray
    weights: FloatArray
    doubt: FloatArray

    def values(self, rows: NDArray[np.intp]) -> FloatArray:
        """Return the values of some draws, shape (k, rows)."""
        columns = self.columns if rows.size == self.columns.shape[0] else self.columns[rows]
        values = np.empty((self.weights.shape[1], columns.shape[0]))
        for start in range(0, columns.shape[0], _ROWS):
            part = slice(start, start + _ROWS)
            values[:, part] = (columns[part] @ self.weights).T
        return values


@dataclass(frozen=True, eq=False)
class SurfaceFit:
    """What surfaces are made of.

    Parameters
    ----------
    columns : ndarray, shape (n, c)
        One, what varies, its squares, and the products.
    sizes : tuple of int
        So many of the columns make a surface with, and one without products; and a plane.
    probes : ndarray of int, shape (m,)
        The draws that are known.
    """

    columns: FloatArray
    sizes: tuple[int, ...]
    probes: NDArray[np.intp]

    @classmethod
    def of(cls, terms: Sequence[FloatArray], probes: NDArray[np.intp]) -> SurfaceFit:
        """Return it for terms of shape (n,), those that do not vary being left out."""
        varying = []
        for part in terms:
            spread, middle = float(np.ptp(part)), float(np.mean(part))
            if spread > _LEVEL * float(np.max(np.abs(part)) or 1.0):
                varying.append((part - middle) / spread)
        count = len(varying)
        columns = [np.ones(terms[0].size), *varying, *(part * part for part in varying)]
        columns += [varying[i] * varying[j] for i in range(count) for j in range(i)]
        sizes = (len(columns), 1 + 2 * count, 1 + count)
        return cls(np.stack(columns, axis=1), sizes, probes)

    def through(self, known: NDArray[np.intp], values: Sequence[FloatArray]) -> Fit | None:
        """Return surfaces through values at some of the probes; None where these are too few.

        Parameters
        ----------
        known : ndarray of int, shape (k,)
            Which of the probes.
        values : sequence of ndarray, shape (k,)
        """
        size = next((s for s in self.sizes if known.size >= _ROWS_A_COLUMN * s), 0)
        if not size:
            return None
        table, inverse = self._solved(known.tobytes(), size)
        wanted = np.stack(values, axis=1)
        weights = inverse @ wanted
        # What is missed by the surface through all others: r / (1 - h), h the diagonal of A A+.
        weight = np.einsum("ij,ji->i", table, inverse)
        missed = (wanted - table @ weights) / np.maximum(1.0 - weight, 1e-6)[:, np.newaxis]
        return Fit(self.columns[:, :size], weights, np.max(np.abs(missed), axis=0))

    def _solved(self, known: bytes, size: int) -> tuple[FloatArray, FloatArray]:
        """Return the columns of some probes and their pseudo-inverse, worked out once."""
        if (known, size) not in self._inverses:
            table = self.columns[self.probes[np.frombuffer(known, dtype=np.intp)], :size]
            self._inverses[known, size] = table, np.asarray(np.linalg.pinv(table), np.float64)
        return self._inverses[known, size]

    @cached_property
    def _inverses(self) -> dict[tuple[bytes, int], tuple[FloatArray, FloatArray]]:
        return {}
