"""How far a converter's rows may be off, where they were read from a picture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from converter_match.curves import FloatArray
from converter_match.errors import InputError

READING_BAND = "reading-band"
"""Code of the note that goes with every converter that has a band."""
WIDEST = 0.9
"""Beyond, a row says nothing."""
_NOTHING = 1e-9  # of the greatest value of a column: shares of less mean nothing


@dataclass(frozen=True, kw_only=True)
class ReadingBand:
    """Reading error of the rows of a characteristic, as shares of their values.

    Parameters
    ----------
    torque_ratio, capacity : tuple of float
        One for each row, 0 to `WIDEST`: 0.02 is within 2 % up and down.

    Raises
    ------
    InputError
        Naming the row, if a share is out of range.
    """

    torque_ratio: tuple[float, ...]
    capacity: tuple[float, ...]

    def __post_init__(self) -> None:
        for name in ("torque_ratio", "capacity"):
            object.__setattr__(self, name, tuple(getattr(self, name)))
            for row, share in enumerate(getattr(self, name)):
                if not (math.isfinite(share) and 0.0 <= share <= WIDEST):
                    raise InputError(
                        "out of range",
                        field=f"characteristic.{name}_band[{row}]",
                        found=share,
                        expected=f"a share of the value, 0 to {WIDEST:g}",
                    )


class WithRows(Protocol):
    """Torque ratio and capacity over speed ratio: a `components.converter.Converter`."""

    @property
    def speed_ratio(self) -> FloatArray:
        """Its rows."""

    @property
    def domain(self) -> tuple[float, float]:
        """Lowest and highest speed ratio."""

    def torque_ratio_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return the torque ratio."""

    def capacity_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return the capacity."""


def band_around(unit: WithRows, others: Sequence[WithRows]) -> ReadingBand:
    """Return the band of a characteristic's rows that holds all others.

    Parameters
    ----------
    unit : Converter
    others : sequence of Converter
        What it may be as well, after the same change: gears beside a converter leave other shares
        than those that its sheet was read to.
    """

    def shares(of: str) -> tuple[float, ...]:
        own = getattr(unit, of)(unit.speed_ratio)
        told = np.abs(own) > _NOTHING * np.abs(own).max()
        worst = np.zeros(own.size)
        for other in others:
            low, high = other.domain
            inside = told & (unit.speed_ratio >= low) & (unit.speed_ratio <= high)
            at = getattr(other, of)(unit.speed_ratio[inside])
            worst[inside] = np.maximum(worst[inside], np.abs(at / own[inside] - 1.0))
        return tuple(np.minimum(worst, WIDEST).tolist())

    return ReadingBand(torque_ratio=shares("torque_ratio_at"), capacity=shares("capacity_at"))
