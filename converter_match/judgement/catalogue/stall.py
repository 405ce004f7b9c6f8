"""Every converter of a catalogue in every size, at stall."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.verdict.reach import WIDE_ON_SHEET
from converter_match.study.catalogue import PartsCatalogue


@dataclass(frozen=True, eq=False)
class Stall:
    """Every converter in every size at stall, arrays of shape (s,).

    Parameters
    ----------
    capacity : ndarray
        [N.m/(rad/s)^2].
    torque_ratio : ndarray
    known : ndarray of bool
        Whether the data tell of stall at all.
    certain : ndarray of bool
        Whether rows about stall lie near enough, and the converter is no estimate from a few data.
    input_torque, input_power, input_speed : ndarray
        Limits, infinite where none is given or the size is another one.
    """

    capacity: FloatArray
    torque_ratio: FloatArray
    known: NDArray[np.bool_]
    certain: NDArray[np.bool_]
    input_torque: FloatArray
    input_power: FloatArray
    input_speed: FloatArray

    @classmethod
    def of(cls, catalogue: PartsCatalogue) -> Stall:
        """Return the sizes of a catalogue."""
        own = [_at_stall(item) for item in catalogue.converters]
        rows = []
        for size in catalogue.sizes:
            capacity, *others, torque, power, speed = own[size.converter]
            limits = (torque, power, speed) if size.diameter is None else (np.inf,) * 3
            # Similarity: C goes with the fifth power of the diameter (T = lambda rho w^2 D^5).
            rows.append((capacity * size.ratio**5, *others, *limits))
        columns = [np.array(column) for column in zip(*rows, strict=True)]
        return cls(*columns)

    def capacity_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return C of each size at stall, (s,), which is all that is asked for."""
        return self.capacity

    def torque_ratio_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return the torque ratio of each size at stall, (s,)."""
        return self.torque_ratio


def _at_stall(converter: Converter) -> tuple[float, float, bool, bool, float, float, float]:
    limits = converter.limits
    given = (limits.input_torque, limits.input_power, limits.input_speed)
    torque, power, speed = (np.inf if limit is None else limit for limit in given)
    try:
        converter.require_stall()
    except InputError:
        return 1.0, 1.0, False, False, torque, power, speed
    rows = converter.characteristic.speed_ratio
    about = [high - low for low, high in pairwise(rows.tolist()) if low < 0.0 < high]
    certain = not converter.alternatives and not any(gap > WIDE_ON_SHEET for gap in about)
    return (
        float(converter.capacity_at(0.0)), float(converter.torque_ratio_at(0.0)), True, certain,
        torque,
        power,
        speed,
    )  # fmt: skip
