"""Tolerances of a study, no narrower than the reading error of the converters in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np

from converter_match.components.converter import Converter
from converter_match.study.doubts import Tolerance
from converter_match.study.parts import PartsTogether, SamePart, rows_of


class WithConverter(PartsTogether, Protocol):
    """A combination, as far as its converter goes."""

    @property
    def converter(self) -> Converter:
        """Its converter."""


_TELLING = 0.3  # of the highest capacity: below it a share says nothing


def with_reading_bands(
    tolerances: Sequence[Tolerance], combinations: Sequence[WithConverter], same: Sequence[SamePart]
) -> tuple[Tolerance, ...]:
    """Return the tolerances, widened to the reading band of each converter that has one.

    Parameters
    ----------
    tolerances : sequence of Tolerance
        As given; where there are none, nothing is drawn, and none are added.
    combinations : sequence of Combination
    same : sequence of SamePart

    Returns
    -------
    tuple of Tolerance
        A row that is too narrow is widened, one that is missing added, as an error of the sheet,
        which units of a type have in common. K goes with the square root of the capacity,
        ``K = omega / sqrt(T)``, and so has half its share.
    """
    if not tolerances:
        return tuple(tolerances)
    found = list(tolerances)
    for quantity in ("k-factor", "torque-ratio"):
        rows = rows_of(tolerances, combinations, same, quantity)
        for unit, row in zip((item.converter for item in combinations), rows, strict=True):
            width = _width(unit, quantity)
            if width == 0.0 or (row is not None and row.half_width >= width):
                continue
            if row is None:
                wider = Tolerance(quantity=quantity, half_width=width, of=unit.id, scatter=0.0)
            elif row.of is None and not row.shared:
                wider = replace(row, half_width=width, of=unit.id)
            else:
                found = [replace(one, half_width=width) if one == row else one for one in found]
                continue
            if wider not in found:
                found.append(wider)
    return tuple(found)


def _width(unit: Converter, quantity: str) -> float:
    """Return the widest share of a quantity where it decides."""
    band = unit.reading_band
    if band is None:
        return 0.0
    if quantity == "k-factor":
        full = unit.capacity > _TELLING * float(unit.capacity.max())
        return float(np.max(np.array(band.capacity)[full])) / 2.0
    return float(np.max(band.torque_ratio)) if unit.stator != "none" else 0.0
