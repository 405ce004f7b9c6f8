"""A haul route and a loader's short cycle: what has to be driven, in what state. SI units."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from converter_match.components.base import LATER, Component, freeze_tuples, require_choice
from converter_match.components.gear import DIRECTIONS, Direction
from converter_match.components.machine import LOADS, Load
from converter_match.components.surface import Surface
from converter_match.curves import FloatArray, frozen_array
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

STEEPEST = 1.0
LONGEST = 1e6
MOST_SEGMENTS = 20_000


@dataclass(frozen=True, kw_only=True, eq=False)
class Route(Component):
    """Segments in the order in which they are driven, loaded ones and empty ones.

    Parameters
    ----------
    id, name, source : str
    length : array_like, shape (n,)
        Along the road [m].
    grade : array_like, shape (n,)
        Rise / run, below zero downhill.
    surface : tuple of Surface, length n
    speed_limit : array_like, shape (n,)
        [m/s]; infinite where there is none.
    load : tuple of {"empty", "laden"}, length n
    stop_time : array_like, shape (n,)
        Time standing at the end of the segment (loading, dumping, a gate) [s]; NaN for no stop.
    given_notes : tuple of Note
    direction : tuple of {"forward", "reverse"}, length n, optional
        In which gears each segment is driven; empty (and kept so) where all are driven forward.
        Length and grade are those of the way as it is driven.

    Raises
    ------
    InputError
        Naming column and segment: a length not above zero, a grade over 100 %, a speed limit not
        above zero.
    """

    id: str
    name: str
    source: str
    length: FloatArray
    grade: FloatArray
    surface: tuple[Surface, ...]
    speed_limit: FloatArray
    load: tuple[Load, ...]
    stop_time: FloatArray
    given_notes: tuple[Note, ...] = ()
    direction: tuple[Direction, ...] = field(default=(), metadata={LATER: True})

    def __post_init__(self) -> None:
        freeze_tuples(self, "surface", "load", "given_notes", "direction")
        for name in ("length", "grade", "speed_limit", "stop_time"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), name))
        count = self.length.size
        if not 1 <= count <= MOST_SEGMENTS:
            raise InputError(
                "a route needs segments",
                field="length",
                found=f"{count} segments",
                expected=f"1 to {MOST_SEGMENTS}",
            )
        for name in ("grade", "surface", "speed_limit", "load", "stop_time"):
            if len(getattr(self, name)) != count:
                raise InputError(
                    "not one value for each segment",
                    field=name,
                    found=f"{len(getattr(self, name))} values for {count} segments",
                )
        _each(self.length, "length", (self.length > 0) & (self.length <= LONGEST), "above 0 m")
        steep = np.abs(self.grade) <= STEEPEST
        _each(self.grade, "grade", steep, "a grade from -100 % to 100 %", "percent or a ratio?")
        _each(self.speed_limit, "speed_limit", self.speed_limit > 0, "a speed above zero, or none")
        stays = np.isnan(self.stop_time) | (self.stop_time >= 0)
        _each(self.stop_time, "stop_time", stays, "a time of zero or more, or none")
        for row, load in enumerate(self.load):
            require_choice(load, f"load[{row}]", LOADS)
        if self.direction and len(self.direction) != count:
            raise InputError(
                "not one value for each segment",
                field="direction",
                found=f"{len(self.direction)} values for {count} segments",
            )
        for row, way in enumerate(self.direction):
            require_choice(way, f"direction[{row}]", DIRECTIONS)
        if all(way == "forward" for way in self.direction):
            object.__setattr__(self, "direction", ())

    @property
    def directions(self) -> tuple[Direction, ...]:
        """In which gears each segment is driven: ``forward`` or ``reverse``."""
        ahead: Direction = "forward"
        return self.direction or (ahead,) * self.length.size

    @cached_property
    def stops(self) -> FloatArray:
        """Time standing at the end of each segment [s], NaN where the machine rolls on.

        It stands where the load or the direction changes, for no time if none is given, and at the
        end.
        """
        stops = self.stop_time.copy()
        changes = np.append(_changes(self.load) | _changes(self.directions), True)
        return frozen_array(np.where(np.isnan(stops) & changes, 0.0, stops))

    @property
    def total_length(self) -> float:
        """[m]."""
        return float(self.length.sum())

    @cached_property
    def trips(self) -> int:
        """Loads that are carried to an end: stretches of laden segments."""
        laden = np.array([load == "laden" for load in self.load])
        return int((laden & ~np.append(laden[1:], False)).sum())

    @property
    def notes(self) -> tuple[Note, ...]:
        """What was taken for granted."""
        notes = list(self.given_notes)
        laden = [load == "laden" for load in self.load]
        silent = [
            row + 1
            for row in range(len(laden) - 1)
            if laden[row] != laden[row + 1] and np.isnan(self.stop_time[row])
        ]
        if silent:
            notes.append(
                assumption(
                    "load-change-takes-no-time",
                    f"The load changes after segment {', '.join(map(str, silent[:8]))} and no stop "
                    "is given there: the machine stops, and loading or dumping takes no time.",
                )
            )
        turns = [
            row + 1
            for row in np.flatnonzero(_changes(self.directions))
            if np.isnan(self.stop_time[row])
        ]
        if turns:
            notes.append(
                assumption(
                    "direction-change-takes-a-shift",
                    f"The direction changes after segment {', '.join(map(str, turns[:8]))} and no "
                    "stop is given there: the machine stops, and the change takes as long as a "
                    "gear shift.",
                )
            )
        free = int(np.isinf(self.speed_limit).sum())
        if free:
            notes.append(
                assumption(
                    "no-speed-limit",
                    f"{free} of {len(laden)} segments have no speed limit: the machine runs as "
                    "fast as it can there.",
                )
            )
        return tuple(notes)


def _changes(words: tuple[str, ...]) -> NDArray[np.bool_]:
    """Return whether each segment's word differs from the next one's, shape (n - 1,)."""
    return np.array([before != after for before, after in pairwise(words)], dtype=bool)


def _each(
    values: FloatArray,
    name: str,
    good: NDArray[np.bool_],
    expected: str,
    hint: str | None = None,
) -> None:
    for row in np.flatnonzero(~good):
        raise InputError(
            "out of range",
            field=f"{name}[{row}]",
            found=float(values[row]),
            expected=expected,
            hint=hint,
        )


PhaseKind = Literal["drive", "crowd", "stand"]
KINDS: tuple[PhaseKind, ...] = ("drive", "crowd", "stand")


@dataclass(frozen=True, kw_only=True)
class Phase:
    """One phase of a short cycle.

    Parameters
    ----------
    name : str
        E.g. approach, crowd, reverse, carry, dump.
    kind : {"drive", "crowd", "stand"}
        Drive a distance; push at a turbine speed near zero for a time; stand for a time.
    gear : str
        The gear that is held; with a start gear, the highest that is used. Empty for any.
    start_gear : str
        The gear in which a drive starts, to shift up from; empty for the one held, or the lowest.
    direction : {"forward", "reverse"}
    load : {"empty", "laden"}
    distance : float
        Of a drive [m].
    time : float
        Of crowd and stand [s].
    speed_limit : float
        [m/s].
    grade : float
        Rise / run in the direction of travel.
    hydraulic_power : float
        Taken by the implement pumps, on average over the phase [W].
    speed : float
        Ground speed while crowding [m/s].
    """

    name: str
    kind: PhaseKind
    gear: str = ""
    start_gear: str = ""
    direction: Direction = "forward"
    load: Load = "empty"
    distance: float = 0.0
    time: float = 0.0
    speed_limit: float = float("inf")
    grade: float = 0.0
    hydraulic_power: float = 0.0
    speed: float = 0.0

    def __post_init__(self) -> None:
        where = f"phase {self.name!r}"
        require_choice(self.kind, f"{where}.kind", KINDS)
        require_choice(self.direction, f"{where}.direction", DIRECTIONS)
        require_choice(self.load, f"{where}.load", LOADS)
        needed = "distance" if self.kind == "drive" else "time"
        for name in ("distance", "time", "hydraulic_power", "speed"):
            value = getattr(self, name)
            least_good = value > 0 if name == needed else value >= 0
            if not (np.isfinite(value) and least_good):
                raise InputError(
                    f"a phase of kind {self.kind} needs its {needed}"
                    if name == needed
                    else "out of range",
                    field=f"{where}.{name}",
                    found=float(value),
                    expected="above zero" if name == needed else "zero or more",
                )
        if self.start_gear and self.kind != "drive":
            raise InputError(
                f"a phase of kind {self.kind} does not start to drive",
                field=f"{where}.start_gear",
                found=self.start_gear,
                expected="none; the gear of the phase is held",
            )
        if not self.speed_limit > 0:
            raise InputError(
                "out of range",
                field=f"{where}.speed_limit",
                found=self.speed_limit,
                expected="a speed above zero",
            )
        if not abs(self.grade) <= STEEPEST:
            raise InputError(
                "out of range",
                field=f"{where}.grade",
                found=self.grade,
                expected="a grade from -100 % to 100 %",
            )


@dataclass(frozen=True, kw_only=True, eq=False)
class ShortCycle(Component):
    """A loader's short cycle: phases in order, starting and ending at rest.

    Parameters
    ----------
    id, name, source : str
    surface : Surface
    phases : tuple of Phase
    job_efficiency : float, optional
        Share of the time that is worked, above 0 and at most 1.
    bucket_fill : float, optional
        Load over the machine's payload, above 0 and at most 1.5.
    exchange_time : float, optional
        Lost while one hauling unit leaves and the next one spots [s].
    passes : float, optional
        Cycles for one hauling unit, 1 or more.
    """

    id: str
    name: str
    source: str
    surface: Surface
    phases: tuple[Phase, ...] = field(default=())
    job_efficiency: float | None = None
    bucket_fill: float | None = None
    exchange_time: float | None = None
    passes: float | None = None

    def __post_init__(self) -> None:
        freeze_tuples(self, "phases")
        for name, low, high, expected in (
            ("job_efficiency", 0.0, 1.0, "a share above 0 and at most 1"),
            ("bucket_fill", 0.0, 1.5, "a share of the payload above 0 and at most 1.5"),
        ):
            value = getattr(self, name)
            if value is not None and not low < value <= high:
                raise InputError("out of range", field=name, found=value, expected=expected)
        if self.exchange_time is not None and not 0.0 <= self.exchange_time < np.inf:
            raise InputError(
                "out of range",
                field="exchange_time",
                found=self.exchange_time,
                expected="a time of zero or more",
            )
        if self.passes is not None and not 1.0 <= self.passes < np.inf:
            raise InputError(
                "out of range", field="passes", found=self.passes, expected="1 or more"
            )
        if not self.phases:
            raise InputError("a cycle needs phases", field="phase", expected="at least one")
