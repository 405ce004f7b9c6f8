"""How much memory a match takes, against the number of points, up to 100 million.

A map of speed ratios by factors on the capacity, all of its points matched: in blocks, each reduced
and let go, and all at once for as many as that is sensible for. Each size runs in a process of its
own. What counts is the most that arrays and objects take beyond what was there before
(`tracemalloc`); the most that the whole process held (Linux tells) stands beside the largest.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tracemalloc
from pathlib import Path

from measuring import Effort, Row

_SPEED_RATIOS = 1000
_BOUND = 100.0  # MB; a block takes some 15 to 25
_ALL_AT_ONCE = 10_000_000


def rows(effort: Effort) -> list[Row]:
    sizes = [10**5, 10**6] if effort.quick else [10**5, 10**6, 10**7, 10**8]
    found, whole = [], None
    for size in sizes:
        rise, whole = peak(size, "blocks")
        found.append(Row(f"peak, {size:.0e} points in blocks", "MB", (rise,), most=_BOUND))
    name = f"  whole process, {sizes[-1]:.0e} points"
    why = "" if whole else "this system does not tell"
    found.append(Row(name, "MB", (whole,) if whole else (), why_not=why))
    found += [
        Row(f"peak, {size:.0e} points all at once", "MB", (peak(size, "at-once")[0],))
        for size in sizes
        if size <= _ALL_AT_ONCE
    ]
    return found


def peak(size: int, way: str) -> tuple[float, float | None]:
    """Return (rise, most of the whole process) [MB] of a new process that matches `size` points."""
    command = [sys.executable, str(Path(__file__)), str(size), way]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    rise, whole = json.loads(done.stdout)
    return rise, whole


def _measure(size: int, way: str) -> tuple[float, float | None]:
    import numpy as np
    from bench_matching import CONVERTER, ENGINE

    from converter_match.physics.engine.supply import engine_supply
    from converter_match.physics.match.solver import match, match_in_blocks

    supply = engine_supply(ENGINE)
    nu = np.linspace(*CONVERTER.domain, _SPEED_RATIOS)
    factor = np.linspace(0.9, 1.1, size // _SPEED_RATIOS)[:, np.newaxis]
    match(supply, CONVERTER, nu[:10])  # tables that are kept
    tracemalloc.start()
    if way == "blocks":
        blocks = match_in_blocks(supply, CONVERTER, nu, capacity_factor=factor)
        matched = sum(int(found.count.sum()) for _, found in blocks)
    else:
        matched = int(match(supply, CONVERTER, nu, capacity_factor=factor).count.sum())
    if matched != size:  # this pair has one match everywhere
        raise SystemExit(f"{matched} of {size} points matched")
    return tracemalloc.get_traced_memory()[1] / 1e6, _most_of_the_process()


def _most_of_the_process() -> float | None:
    # Not getrusage: that starts from what the parent held.
    status = Path("/proc/self/status")
    lines = status.read_text().splitlines() if status.exists() else []
    return next((int(x.split()[1]) * 1024 / 1e6 for x in lines if x.startswith("VmHWM:")), None)


if __name__ == "__main__":
    print(json.dumps(_measure(int(sys.argv[1]), sys.argv[2])))
