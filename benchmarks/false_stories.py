"""How often the audit tells a story about a claim that rests on nothing.

    python benchmarks/false_stories.py            # print the tables (a few minutes)
    python benchmarks/false_stories.py --write    # and put them into the docs

Arbitrary claims about shipped machines, at a distance from our figure on either side, printed to
two to five digits, in every quantity that can be claimed. Every story about one is false. Beside
it: how many of the single alternatives are told if a claim does rest on them, printed likewise.
"""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path

import numpy as np
from pages import write_between

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # where the tests are

from converter_match.judgement.audit.audit import agrees, explained
from tests.false_stories import DISTANCES, Asked, asked, printed, rates

PAGE = Path(__file__).resolve().parents[1] / "docs" / "sizing-uncertainty-audit.md"
# Tolerance stated by the claim, digits printed.
KINDS = ((0.005, 3), (0.005, 4), (0.005, 5), (0.02, 3), (0.02, 4))
_DRAWS = 40
_SEED = 20


def false_table(questions: tuple[Asked, ...]) -> list[str]:
    """Return the share of arbitrary claims that have a story, by distance and by kind."""
    rows = [("distance", *(f"±{100 * t:g} %, {d} digits" for t, d in KINDS))]
    for distance in DISTANCES:
        cells = [f"{100 * distance:g} %"]
        for tolerance, digits in KINDS:
            rng = np.random.default_rng(_SEED)
            count, told = rates(
                questions, distance, tolerance=tolerance, digits=digits, draws=_DRAWS, rng=rng
            )
            cells.append(f"{100 * told / count:.1f} % of {count}" if count else "all agree")
        rows.append(tuple(cells))
    return _table(rows)


def true_table(questions: tuple[Asked, ...]) -> list[str]:
    """Return the share of claims resting on one alternative that have it as their story."""
    bounds = (0.02, 0.05, 0.10, 0.20, math.inf)
    names = ("to 2 %", "2 to 5 %", "5 to 10 %", "10 to 20 %", "above 20 %")
    rows = [("distance", *(f"±{100 * t:g} %, {d} digits" for t, d in KINDS))]
    cells = {name: [name] for name in names}
    for tolerance, digits in KINDS:
        told: dict[str, list[bool]] = {name: [] for name in names}
        for question in questions:
            for one in question.tried:
                claim = printed(question.claim, one.value, digits)
                if len(one.alternatives) > 1 or agrees(claim, question.ours, tolerance):
                    continue
                off = abs(math.log(claim.value / question.ours))
                where = next(n for n, most in zip(names, bounds, strict=True) if off <= most)
                found = explained(claim, question.ours, tolerance, question.tried)
                own = (one.alternatives[0].name,)
                told[where].append(found[0].convincing and found[0].alternatives == own)
        for name, hits in told.items():
            cells[name].append(f"{100 * np.mean(hits):.0f} % of {len(hits)}" if hits else "–")
    return _table([*rows, *(tuple(row) for row in cells.values())])


def _table(rows: list[tuple[str, ...]]) -> list[str]:
    head, *others = (f"| {' | '.join(row)} |" for row in rows)
    return [head, "|" + "---|" * len(rows[0]), *others]


def main() -> int:
    """Print the tables, and write them where that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="put the tables into the docs")
    write = parser.parse_args().write
    questions = asked()
    text = "\n".join(
        [
            "Arbitrary claims that have a story:",
            "",
            *false_table(questions),
            "",
            "Claims that rest on one alternative, and have it as their story:",
            "",
            *true_table(questions),
        ]
    )
    print(text)
    if write:
        write_between(PAGE, "false stories", text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
