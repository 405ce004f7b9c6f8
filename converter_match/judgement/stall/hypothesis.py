"""One thing that could be wrong, as a small model: what it does to torque, capacity, readings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from converter_match.components.reading import StallReading
from converter_match.curves import FloatArray
from converter_match.notes import Note

UnknownName = Literal[
    "torque_factor", "capacity_factor", "turbine_speed_ratio", "load_nm", "tachometer_factor", ""
]
Touches = Callable[[StallReading], bool]
# unknown (n,), reading -> factor (n,)
Effect = Callable[[FloatArray, StallReading], FloatArray]


def every_reading(_: StallReading) -> bool:
    """Return that a reading feels it: any does."""
    return True


def unity(unknown: FloatArray, _: StallReading) -> FloatArray:
    """Return factors of 1: what is not touched."""
    return np.ones_like(unknown)


def nothing(unknown: FloatArray, _: StallReading) -> FloatArray:
    """Return zeros: what takes nothing."""
    return np.zeros_like(unknown)


def identity(unknown: FloatArray, _: StallReading) -> FloatArray:
    """Return the unknown itself as the factor."""
    return unknown


@dataclass(frozen=True, eq=False)
class Hypothesis:
    """One thing that could be wrong.

    Parameters
    ----------
    code : str
        A family, with what it concerns after a colon.
    what : Note
        In a mechanic's words.
    weight : float
        Before any reading.
    torque, capacity : callable
        Factors on the engine's torque and the converter's capacity.
    load : callable
        Taken from the engine on top of what is listed [N.m].
    shown : callable
        Factor on the speed that the tachometer shows.
    touches : callable
        Whether a reading feels it at all.
    unknown : callable
        From even numbers 0 .. 1 to the unknown of this finding.
    unknown_name : str
        One of `UnknownName`; empty where nothing is unknown.
    detail : Note or None
        What the reader should know of the estimate.
    """

    code: str
    what: Note
    weight: float
    torque: Effect = unity
    capacity: Effect = unity
    load: Effect = nothing
    shown: Effect = unity
    touches: Touches = every_reading
    unknown: Callable[[FloatArray], FloatArray] = field(default=lambda even: even)
    unknown_name: UnknownName = ""
    detail: Note | None = None

    def leaves_alone(self, reading: StallReading) -> bool:
        """Return whether a healthy machine would settle at the same speed in a reading.

        Parameters
        ----------
        reading : StallReading
        """
        effects = (self.torque, self.capacity, self.load)
        return not self.touches(reading) or effects == (unity, unity, nothing)

    @property
    def family(self) -> str:
        """What comes before the colon: the key of its weight."""
        return self.code.partition(":")[0]
