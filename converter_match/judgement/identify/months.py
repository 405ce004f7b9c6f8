"""A machine's converter month by month, and whether it moves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from converter_match.judgement.identify.result import Identification
from converter_match.physics.identify.reservoir import Reservoir
from converter_match.physics.identify.trend import Slope, level_against, slope_of

FEWEST_MONTHS = 5
"""Months below which no slope is judged: by chance alone four are in order once in twelve times."""
LEAST_CHANGE = 0.02
"""Change over all months below which nothing is said to move: common practice, no source."""
# Of a month, so that its median says something: as for a whole log.
_FEWEST_SAMPLES, _FEWEST_EPISODES = 12, 4


class Month(NamedTuple):
    """The capacity in one month.

    Parameters
    ----------
    month : str
        As ``2031-05``.
    level : float
        Against the machine's own curve over all months.
    scatter : float
        Robust standard deviation of single steady stretches about it, in the same measure.
    samples, episodes : int
    """

    month: str
    level: float
    scatter: float
    samples: int
    episodes: int

    @property
    def year(self) -> float:
        """The middle of the month, in years."""
        return int(self.month[:4]) + (int(self.month[5:7]) - 0.5) / 12.0


@dataclass(frozen=True)
class Trend:
    """The months of a machine.

    Parameters
    ----------
    months : tuple of Month
        Those with enough samples, in order.
    slope : Slope or None
        Of the level a year; None with fewer than `FEWEST_MONTHS`.
    """

    months: tuple[Month, ...]
    slope: Slope | None

    @classmethod
    def of(cls, months: Sequence[Sequence[Any]], slope: Sequence[float] | None) -> Trend:
        """Return a trend from plain rows.

        Parameters
        ----------
        months : sequence of rows
        slope : sequence of float or None
        """
        return cls(tuple(Month(*row) for row in months), None if slope is None else Slope(*slope))

    @property
    def change(self) -> float | None:
        """Of the level from the first month to the last, by the slope; None without one."""
        if self.slope is None:
            return None
        return self.slope.value * (self.months[-1].year - self.months[0].year)

    @property
    def k_slope(self) -> float | None:
        """Of K a year, as a share: ``K ~ C^(-1/2)``, so half as fast, the other way."""
        return None if self.slope is None else -0.5 * self.slope.value

    @property
    def moves(self) -> bool | None:
        """Whether the converter takes more or less from month to month; None: not told."""
        if self.slope is None or self.change is None:
            return None
        sure = self.slope.low > 0.0 or self.slope.high < 0.0
        return sure and abs(self.change) >= LEAST_CHANGE


def trend_of(months: Mapping[str, Reservoir], result: Identification) -> Trend | None:
    """Return what the months say of one machine; None where they are not told apart.

    Parameters
    ----------
    months : mapping of str to Reservoir
        ``2031-05`` -> its samples.
    result : Identification
        Of all of them together.
    """
    if not months:
        return None
    node = np.array([n.speed_ratio for n in result.nodes])
    value = np.array([np.nan if n.capacity is None else n.capacity.value for n in result.nodes])
    found = []
    for month in sorted(months):
        seen = months[month].samples()
        level = level_against(seen["nu"], seen["capacity"], seen["episode"], node, value)
        enough = level and level.samples >= _FEWEST_SAMPLES and level.episodes >= _FEWEST_EPISODES
        if level and enough:
            found.append(Month(month, *level))
    slope = None
    if len(found) >= FEWEST_MONTHS:
        years, levels = np.array([m.year for m in found]), np.array([m.level for m in found])
        slope = slope_of(years, levels, result.coverage)
    return Trend(tuple(found), slope)
