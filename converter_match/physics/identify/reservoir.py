"""Samples bounded in number, as a value: what is added gives another reservoir."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from converter_match.curves import FloatArray


@dataclass(frozen=True, eq=False)
class Reservoir:
    """Samples of the characteristic, bounded in number: a fair choice in each bin of speed ratio.

    Parameters
    ----------
    low, high, width : float
        Speed ratios covered, and width of a bin.
    room : int
        Samples kept in a bin.
    names : tuple of str
        Fields of a sample.
    seed : int
        Of the choice, so that the same log gives the same answer.
    seen : int
        How many samples have been added.
    kept : ndarray, shape (n, 1 + len(names)), or None
        Key of each sample that is kept, and its fields.
    """

    low: float = -0.3
    high: float = 1.2
    width: float = 0.01
    room: int = 250
    names: tuple[str, ...] = ("nu", "capacity", "torque_ratio", "oil", "episode")
    seed: int = 7
    seen: int = 0
    kept: FloatArray | None = None

    def plus(self, samples: Mapping[str, FloatArray]) -> Reservoir:
        """Return the reservoir with more samples.

        Where a bin is full, each one seen so far has the same chance to stay.
        """
        nu = samples["nu"]
        # The key of a sample follows from the seed and its place in the log alone.
        bits = np.random.PCG64(self.seed)
        bits.advance(self.seen)
        keys = np.random.Generator(bits).random(nu.size)
        rows = np.column_stack([keys, *(samples[name] for name in self.names)])
        rows = rows[(nu >= self.low) & (nu < self.high)]
        joined = rows if self.kept is None else np.concatenate([self.kept, rows])
        slot = np.floor((joined[:, 1] - self.low) / self.width).astype(np.int64)
        # Within each bin the samples with the smallest keys stay.
        order = np.lexsort((joined[:, 0], slot))
        slot = slot[order]
        first = np.searchsorted(slot, slot, side="left")
        kept = joined[order[np.arange(slot.size) - first < self.room]]
        return replace(self, seen=self.seen + nu.size, kept=kept)

    def samples(self) -> dict[str, FloatArray]:
        """Return what is kept, name -> ndarray."""
        if self.kept is None:
            return {name: np.zeros(0) for name in self.names}
        return {name: self.kept[:, k + 1] for k, name in enumerate(self.names)}
