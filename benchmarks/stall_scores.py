"""How often the stall test finds what is wrong, on machines simulated apart from the package.

    python benchmarks/stall_scores.py             # print the table (some ten minutes)
    python benchmarks/stall_scores.py --write     # and put it into the docs

Five invented machines in twelve states, five test plans, drawn anew for each case with the spread
of sound machines on top (`tests/simulated_stalls.py`). A case counts as one that its readings can
separate if at most one other cause would read within three standard errors of it.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path

import numpy as np
from pages import write_between

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # where the tests are

from converter_match.judgement.stall.diagnosis import diagnose
from tests.simulated_stalls import (
    FAMILY,
    PLANS,
    RIGS,
    STATES,
    case,
    not_told_from,
    possible,
)

PAGE = Path(__file__).resolve().parents[1] / "docs" / "stall-test.md"
SURE = 0.8
_SEED = 20


def scored(draws: int, healthy: int) -> dict[tuple[str, str], Counter[str]]:
    """Return counts for each plan and state."""
    rng = np.random.default_rng(_SEED)
    counts: dict[tuple[str, str], Counter[str]] = {}
    for rig in RIGS:
        setup, library = rig.setup(), rig.library()
        for name, plan in PLANS.items():
            for state in STATES:
                if not possible(state, plan):
                    continue
                tally = counts.setdefault((name, state), Counter())
                for _ in range(healthy if state == "healthy" else draws):
                    planted, readings = case(rig, state, plan, rng)
                    told = diagnose(setup, readings, library)
                    shares: Counter[str] = Counter()
                    for finding in told.findings:
                        shares[finding.family] += finding.share
                    true = FAMILY[state]
                    separable = len(not_told_from(rig, state, plan, planted)) <= 1
                    first = [family for family, _ in shares.most_common(2)]
                    tally["cases"] += 1
                    tally["separable"] += separable
                    tally["found"] += separable and true in first
                    tally["wrong and sure"] += any(
                        share > SURE for family, share in shares.items() if family != true
                    )
                    tally["alarm"] += bool(told.outside)
    return counts


def table(counts: dict[tuple[str, str], Counter[str]]) -> list[str]:
    """Return the tables of the page, as lines of Markdown."""
    lines = [
        "| state | cases | separable | true cause first or second | a wrong cause above 80 % |",
        "|---|---|---|---|---|",
    ]
    whole: Counter[str] = Counter()
    for state in STATES:
        tally: Counter[str] = Counter()
        for (_, own), counted in counts.items():
            if own == state:
                tally.update(counted)
        whole.update(tally)
        lines.append(_row(state, tally))
    lines.append(_row("all", whole))
    lines += ["", "| test plan | healthy machines | outside in any reading | all cases | wrong "
              "cause above 80 % |", "|---|---|---|---|---|"]  # fmt: skip
    for plan in PLANS:
        sound = counts[plan, "healthy"]
        tally = Counter()
        for (own, _), counted in counts.items():
            if own == plan:
                tally.update(counted)
        cells = (plan, sound["cases"], _share(sound["alarm"], sound["cases"]), tally["cases"],
                 _share(tally["wrong and sure"], tally["cases"]))  # fmt: skip
        lines.append(f"| {' | '.join(map(str, cells))} |")
    return lines


def _row(name: str, tally: Counter[str]) -> str:
    found = _share(tally["found"], tally["separable"])
    sure = _share(tally["wrong and sure"], tally["cases"])
    return f"| {name} | {tally['cases']} | {tally['separable']} | {found} | {sure} |"


def _share(count: int, of: int) -> str:
    return f"{100 * count / of:.1f} %" if of else "–"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true", help="put the table into the docs")
    parser.add_argument("--draws", type=int, default=5, help="of each machine, plan and state")
    parser.add_argument("--healthy", type=int, default=20, help="of each machine and plan")
    options = parser.parse_args()
    lines = table(scored(options.draws, options.healthy))
    print("\n".join(lines))
    if options.write:
        write_between(PAGE, "scores", "\n".join(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
