"""Many steps one after the other, each of which takes values x to ``E x + f``.

Done one by one these are many small operations. So the steps are cut into blocks, about as many as
there are steps in one: all blocks advance together, from nothing and from one of each value; then
a block begins where the one before has ended.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from converter_match.curves import FloatArray


@dataclass(frozen=True, eq=False)
class AffineChain:
    """Steps of s values, for many cases at once.

    Parameters
    ----------
    kept : ndarray, shape (s, s, steps, ...)
        E of each step: row by row what a value takes from each of the values before.
    gained : ndarray, shape (s, steps, ...)
        f of each step.
    """

    kept: FloatArray
    gained: FloatArray

    @cached_property
    def _blocks(self) -> tuple[FloatArray, FloatArray]:
        """What the steps from the begin of a block on come to, shape (..., blocks, steps, ...)."""
        many, steps, *rest = self.gained.shape
        size = max(math.isqrt(steps), 1)
        blocks = -(-steps // size)
        kept = np.zeros((many, many, blocks * size, *rest))
        gained = np.zeros((many, blocks * size, *rest))
        kept[:, :, :steps], gained[:, :steps] = self.kept, self.gained
        for k in range(many):
            kept[k, k, steps:] = 1.0
        kept = kept.reshape(many, many, blocks, size, *rest)
        gained = gained.reshape(many, blocks, size, *rest)
        for k in range(1, size):
            step = kept[:, :, :, k].copy()
            for value in range(many):
                kept[:, value, :, k] = _times(step, kept[:, value, :, k - 1])
            gained[:, :, k] += _times(step, gained[:, :, k - 1])
        return kept, gained

    def _begins(self, start: FloatArray, source: float = 1.0) -> FloatArray:
        """Return the values where blocks begin, and those at the end of the last one."""
        kept, gained = self._blocks
        found = np.empty((kept.shape[0], kept.shape[2] + 1, *kept.shape[4:]))
        found[:, 0] = start
        for block in range(kept.shape[2]):
            whole = _times(kept[:, :, block, -1], found[:, block])
            found[:, block + 1] = whole + source * gained[:, block, -1]
        return found

    def march(self, start: FloatArray) -> FloatArray:
        """Return the values at the ends of the steps, shape (s, steps + 1, ...).

        Parameters
        ----------
        start : ndarray, shape (s, ...)
        """
        kept, gained = self._blocks
        many, steps, *rest = self.gained.shape
        begins = self._begins(start)[:, :-1, np.newaxis]
        after = _times(kept, begins) + gained
        found = np.empty((many, steps + 1, *rest))
        found[:, 0] = start
        found[:, 1:] = after.reshape(many, -1, *rest)[:, :steps]
        return found

    @cached_property
    def whole(self) -> tuple[FloatArray, FloatArray]:
        """E and f of all steps together, shapes (s, s, ...) and (s, ...)."""
        many, _, *rest = self.gained.shape
        one = np.eye(many).reshape(many, many, *(1 for _ in rest))
        kept = [self._begins(one[:, value], source=0.0)[:, -1] for value in range(many)]
        return np.stack(kept, axis=1), self._begins(np.zeros((many, *rest)))[:, -1]


def _times(matrix: FloatArray, values: FloatArray) -> FloatArray:
    """Return ``E x``, with matrices of shape (s, s, ...) and values of shape (s, ...)."""
    rows = []
    for row in matrix:
        taken = row[0] * values[0]
        for share, value in zip(row[1:], values[1:], strict=True):
            taken = taken + share * value
        rows.append(taken)
    return np.stack(rows)
