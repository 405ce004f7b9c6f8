"""How far a converter's rows may be off, where they were read from a picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

from converter_match.errors import InputError

READING_BAND = "reading-band"
"""Code of the note that goes with every converter that has a band."""
WIDEST = 0.9
"""Beyond, a row says nothing."""


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
