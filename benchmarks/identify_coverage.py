"""How often the bands of `identify` hold the curve that made the log.

    python benchmarks/identify_coverage.py             # print the table (some ten minutes)
    python benchmarks/identify_coverage.py --write     # and put it into the docs

Hours of a loader and of a hauler at work, simulated apart from the package
(`tests/simulated_logs.py`); at every speed ratio that is covered the band, stated to hold 95 of
100, either holds the planted capacity or does not.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
from pages import write_between

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # where the tests are

from converter_match.judgement.identify.identify import LogBasis, identify
from tests.simulated_logs import RIGS, basis, cycle_log

PAGE = Path(__file__).resolve().parents[1] / "docs" / "stall-test.md"
KINDS = ("loader", "hauler")


def held(kind: str, hours: int) -> list[tuple[float, bool, float, float]]:
    """Return for each band its speed ratio, whether it holds, how far off, and its half width."""
    rig = RIGS[0]
    engine, converter = basis(rig)
    found = []
    for seed in range(hours):
        told = identify([cycle_log(kind, seed)], LogBasis(engine=engine, converter=converter))
        for node in told.covered:
            assert node.capacity is not None
            true = rig.capacity(node.speed_ratio)
            value, low, high = node.capacity
            found.append((node.speed_ratio, low <= true <= high, value / true - 1,
                          0.5 * (high - low) / true))  # fmt: skip
    return found


def table(hours: int) -> list[str]:
    """Return the table of the page, as lines of Markdown."""
    heads = ("cycle", "hours", "bands", "planted curve inside", "off by (median)",
             "half width (median)")  # fmt: skip
    lines = [f"| {' | '.join(heads)} |", "|---" * len(heads) + "|"]
    for kind in KINDS:
        rows = held(kind, hours)
        inside = np.mean([row[1] for row in rows])
        off, half = (float(np.median(np.abs([row[k] for row in rows]))) for k in (2, 3))
        lines.append(f"| {kind} | {hours} | {len(rows)} | {100 * inside:.1f} % | {100 * off:.2f} % "
                     f"| {100 * half:.2f} % |")  # fmt: skip
    return lines


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true", help="put the table into the docs")
    parser.add_argument("--hours", type=int, default=15, help="of each cycle")
    options = parser.parse_args()
    lines = table(options.hours)
    print("\n".join(lines))
    if options.write:
        write_between(PAGE, "coverage", "\n".join(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
