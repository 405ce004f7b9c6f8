"""Whether the readings of one machine drift against what is expected of it: a rank test.

A healthy machine has its own place in its band and keeps it. Each reading is taken relative to the
middle of its own band, which carries the air and the oil of its day, and the question is whether
these rise or fall over time more than chance would have them do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import Answer
from converter_match.curves import FloatArray, frozen_array
from converter_match.judgement.stall import words
from converter_match.notes import Note

LEVEL = 0.05
FEWEST = 5
"""Tests below which no order of them is as rare as `LEVEL`: of four, 2 of 24 orders rise or fall
throughout."""
_YEAR = 365.25 * 86400.0  # s
_ONE_TEST = 43200.0  # s; holds of one visit are one test


@dataclass(frozen=True, eq=False, kw_only=True)
class Drift(Answer):
    """How the readings of a machine move against their bands, SI units.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Of the tests, since 1970 [s].
    offsets : ndarray, shape (n,)
        Reading / middle of its band, less 1.
    rate : float or None
        Middle of the slopes between all pairs of tests, as a share of the expected speed [1/s];
        None with fewer than two tests.
    per_year : float or None
        The same as a speed, of the last band's middle [rad/s in a year].
    chance : float or None
        How often readings without a drift would rise or fall as steadily; None with fewer than
        `FEWEST` tests.
    notes : tuple of Note
    """

    times: FloatArray
    offsets: FloatArray
    rate: float | None
    per_year: float | None
    chance: float | None
    notes: tuple[Note, ...] = field(default=())

    @property
    def drifts(self) -> bool:
        """Whether chance alone would do so in fewer than one of twenty such logs."""
        return self.chance is not None and self.chance < LEVEL

    def expected_at(self, time: FloatArray) -> FloatArray:
        """Return the offset on the line through the readings at some times [s], shape (m,)."""
        slope = self.rate or 0.0
        middle = float(np.median(self.offsets - slope * self.times))
        return np.asarray(middle + slope * np.asarray(time, dtype=np.float64))

    def blocks(self) -> tuple[Block, ...]:
        """Return the drift as facts."""
        return (
            Block(
                "drift",
                "Drift",
                facts=(
                    (Heading("tests", "tests counted"), int(self.times.size)),
                    (Heading("speed_per_year", "change against the band, in a year",
                             "angular_speed", "+.0f"), self.per_year),
                    (Heading("chance", "as steady by chance alone", "share", ".2g"), self.chance),
                    (Heading("drifts", ""), self.drifts),
                ),
            ),
        )  # fmt: skip


def drift_of(
    times: Sequence[float], read: Sequence[float], low: Sequence[float], high: Sequence[float]
) -> Drift:
    """Return whether readings drift against their bands.

    Parameters
    ----------
    times : sequence of float, shape (n,)
        Since 1970 [s], in order.
    read, low, high : sequence of float, shape (n,)
        Reading and ends of its band [rad/s].

    Notes
    -----
    Rank correlation with time by Kendall (Mann, Econometrica 13, 1945, 245-259; Kendall, Rank
    Correlation Methods), two-sided, exact for few tests: nothing is taken of the shape of the
    errors. The rate is the median of the slopes between all pairs (Theil 1950; Sen, J. Am. Stat.
    Assoc. 63, 1968, 1379-1389).

    Examples
    --------
    >>> year = 31557600.0
    >>> falling = drift_of([k * year for k in range(6)], [190, 189, 187, 186, 185, 183.0],
    ...                    [180.0] * 6, [200.0] * 6)
    >>> falling.drifts, round(falling.per_year, 1)
    (True, -1.3)
    """
    from scipy.stats import kendalltau, theilslopes

    at = np.asarray(times, dtype=np.float64)
    middle = 0.5 * (np.asarray(low, dtype=np.float64) + np.asarray(high, dtype=np.float64))
    off = np.asarray(read, dtype=np.float64) / middle - 1.0
    member = np.cumsum(np.diff(at, prepend=at[0]) > _ONE_TEST)
    count = np.bincount(member)
    at, off = (np.bincount(member, weights=values) / count for values in (at, off))
    rate = chance = None
    if at.size > 1:
        rate = float(theilslopes(off, at)[0])
    if at.size >= FEWEST:
        # All alike: no order at all, for which the rank test gives no number.
        chance = float(kendalltau(at, off).pvalue) if np.ptp(off) > 0 else 1.0
    per_year = None if rate is None else rate * _YEAR * float(middle[-1])
    drift = Drift(
        times=frozen_array(at), offsets=frozen_array(off), rate=rate, per_year=per_year,
        chance=chance,
    )  # fmt: skip
    return _with_note(drift)


def _with_note(drift: Drift) -> Drift:
    if drift.chance is None:
        note = words.note("drift-too-few", count=drift.times.size, fewest=FEWEST)
    elif not drift.drifts:
        note = words.note("drift-none", chance=drift.chance)
    else:
        assert drift.per_year is not None
        way = "rise" if drift.per_year > 0 else "fall"
        note = words.note("drift-seen", way=way, speed=abs(drift.per_year), chance=drift.chance)
    return replace(drift, notes=(note,))
