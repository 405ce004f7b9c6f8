"""What all benchmarks share: two clocks, things measured in turns, rows, facts of the machine.

A time in seconds says more about the machine than about the code, and a machine that is busy for a
while is busy for whatever runs then. So things that are compared run in turns, and the ratio is
taken turn by turn; processor time is what counts, the clock on the wall stands beside it.
"""

from __future__ import annotations

import os
import platform
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

try:
    import resource
except ImportError:  # Windows: no processor time of a child, and no peak of its memory
    resource = None


@dataclass(frozen=True)
class Effort:
    """How long to look: `quick` checks that everything runs, `long` adds what takes minutes."""

    quick: bool = False
    long: bool = False

    def repeats(self, usual: int) -> int:
        return 2 if self.quick else 2 * usual if self.long else usual


@dataclass(frozen=True)
class Times:
    """Times [s] of one thing, a turn each."""

    processor: tuple[float, ...]
    wall: tuple[float, ...]

    def per(self, count: float) -> Times:
        return Times(tuple(t / count for t in self.processor), tuple(t / count for t in self.wall))


@dataclass(frozen=True)
class Row:
    """One figure.

    `values` holds one value a turn: of processor time where it is a time or a ratio of times;
    `wall` the same by the clock. A target is an upper (`most`) or lower (`least`) bound. Ratios are
    judged by their median; times by the least, which is what the program takes, the rest being what
    else the machine did. `why_not` says why nothing was measured.
    """

    figure: str
    unit: str = ""
    values: tuple[float, ...] = ()
    wall: tuple[float, ...] = ()
    most: float | None = None
    least: float | None = None
    why_not: str = ""
    by_least: bool = False

    @property
    def value(self) -> float:
        return min(self.values) if self.by_least else statistics.median(self.values)

    @property
    def kept(self) -> bool | None:
        if self.why_not or (self.most is None and self.least is None):
            return None
        return (self.most is None or self.value <= self.most) and (
            self.least is None or self.value >= self.least
        )

    def to_dict(self, bench: str) -> dict[str, object]:
        return {
            "bench": bench,
            "figure": self.figure,
            "unit": self.unit,
            "value": None if self.why_not else self.value,
            "judged_by": "least" if self.by_least else "median",
            "least": min(self.values, default=None),
            "greatest": max(self.values, default=None),
            "values": list(self.values),
            "wall_median": statistics.median(self.wall) if self.wall else None,
            "at_most": self.most,
            "at_least": self.least,
            "kept": self.kept,
            "not_measured": self.why_not or None,
        }


def ratio(figure: str, above: Times, below: Times, **bounds: float) -> Row:
    """Return the ratio of two things that were measured in turns."""

    def turns(a: Sequence[float], b: Sequence[float]) -> tuple[float, ...]:
        # A processor clock ticks; what is too short for it has no ratio.
        return tuple(x / max(y, 1e-9) for x, y in zip(a, b, strict=True))

    return Row(
        figure,
        "x",
        turns(above.processor, below.processor),
        turns(above.wall, below.wall),
        **bounds,
    )


def seconds(figure: str, times: Times, unit: str = "s", scale: float = 1.0, **bounds: float) -> Row:
    """Return a time, judged by the least."""
    processor, wall = (tuple(scale * t for t in part) for part in (times.processor, times.wall))
    return Row(figure, unit, processor, wall, by_least=True, **bounds)


def in_turns(
    actions: Mapping[str, Callable[[], object]], repeats: int, children: bool = False
) -> dict[str, Times]:
    """Run each action once a turn and return their times; of child processes where asked."""
    clock = _children_time if children else time.process_time
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in actions}
    for _ in range(repeats):
        for name, action in actions.items():
            processor, wall = clock(), time.perf_counter()
            action()
            found[name].append((clock() - processor, time.perf_counter() - wall))
    return {
        name: Times(*(tuple(column) for column in zip(*turns, strict=True)))
        for name, turns in found.items()
    }


def _children_time() -> float:
    if resource is None:
        return time.perf_counter()
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def python(*arguments: str) -> Callable[[], object]:
    """Return an action that runs this Python in a process of its own."""
    command = [sys.executable, *arguments]
    return lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def machine() -> dict[str, object]:
    """Return what a reader needs to know to compare: nothing that names a machine or a person."""
    import numpy
    import scipy

    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return {
        "system": platform.system(),
        "machine": platform.machine(),
        "processors": usable,
        "load_average": round(os.getloadavg()[0], 1) if hasattr(os, "getloadavg") else None,
        "python": platform.python_version(),
        "numpy": numpy.__version__,
        "scipy": scipy.__version__,
    }
