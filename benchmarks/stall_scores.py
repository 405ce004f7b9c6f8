"""How often the stall test finds what is wrong, on machines simulated apart from the package.

    python benchmarks/stall_scores.py             # print the table (some ten minutes)
    python benchmarks/stall_scores.py --write     # and put it into the docs

Five invented machines in twelve states, five test plans, drawn anew for each case with the spread
of sound machines on top (`tests/simulated_stalls.py`). A case counts as one that its readings can
separate if at most one other cause would read within three standard errors of it.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise, product, repeat
from pathlib import Path
from typing import NamedTuple

import numpy as np
from pages import write_between

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # where the tests are

from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.hypotheses import WEIGHTS
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
_STEPS = (0.0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 1.01)


class Case(NamedTuple):
    """One simulated test, and what was said of it.

    Parameters
    ----------
    plan, state : str
    shares : dict
        Family -> share.
    separable, alarm : bool
        Whether its readings can tell it from all other causes but one; whether one is outside.
    """

    plan: str
    state: str
    shares: dict[str, float]
    separable: bool
    alarm: bool

    @property
    def true(self) -> str:
        return FAMILY[self.state]

    @property
    def found(self) -> bool:
        return self.true in sorted(self.shares, key=lambda f: -self.shares[f])[:2]

    @property
    def wrong_and_sure(self) -> bool:
        return any(s > SURE for family, s in self.shares.items() if family != self.true)


def of_rig(number: int, rounds: int, healthy: int, kept: str | None) -> list[Case]:
    """Return the cases of one machine; they are added to a file as they come."""
    rig, rng = RIGS[number], np.random.default_rng([_SEED, number])
    setup, library = rig.setup(), rig.library()
    cases = []
    for _ in range(rounds):
        for (name, plan), state in product(PLANS.items(), STATES):
            if not possible(state, plan):
                continue
            for _ in range(healthy if state == "healthy" else 1):
                planted, readings = case(rig, state, plan, rng)
                told = diagnose(setup, readings, library)
                shares: Counter[str] = Counter()
                for finding in told.findings:
                    shares[finding.family] += finding.share
                separable = len(not_told_from(rig, state, plan, planted)) <= 1
                cases.append(Case(name, state, dict(shares), separable, bool(told.outside)))
                if kept is not None:
                    with open(kept, "a", encoding="utf-8") as file:
                        file.write(json.dumps(cases[-1]) + "\n")
    return cases


def scored(rounds: int, healthy: int, processes: int = 1, kept: str | None = None) -> list[Case]:
    """Return the cases of all machines."""
    numbers = range(len(RIGS))
    if processes == 1:
        return [one for number in numbers for one in of_rig(number, rounds, healthy, kept)]
    with ProcessPoolExecutor(processes) as pool:
        parts = pool.map(of_rig, numbers, repeat(rounds), repeat(healthy), repeat(kept))
        return [one for part in parts for one in part]


def table(cases: Sequence[Case]) -> list[str]:
    """Return the tables of the page, as lines of Markdown."""
    lines = [
        "| state | cases | separable | true cause first or second | a wrong cause above 80 % |",
        "|---|---|---|---|---|",
    ]
    lines += [_row(state, [one for one in cases if one.state == state]) for state in STATES]
    lines.append(_row("all", cases))
    lines += ["", "| test plan | healthy machines | outside in any reading | all cases | wrong "
              "cause above 80 % |", "|---|---|---|---|---|"]  # fmt: skip
    for plan in PLANS:
        own = [one for one in cases if one.plan == plan]
        sound = [one.alarm for one in own if one.state == "healthy"]
        sure = [one.wrong_and_sure for one in own]
        lines.append(f"| {plan} | {len(sound)} | {_share(sound)} | {len(own)} | {_share(sure)} |")
    lines += ["", "| share given to a finding | how often, of 100 findings | mean share | it was "
              "the cause |", "|---|---|---|---|"]  # fmt: skip
    lines += calibration(cases)
    return lines


def calibration(cases: Sequence[Case]) -> list[str]:
    """Return how often a finding is the cause, by the share it is given.

    Of each plan the causes count as often as the weights before any reading say: shares are meant
    for a workshop in which they do, not for one in which all things are equally often wrong.
    """
    kinds = Counter((one.plan, one.true) for one in cases)
    share, right, weight = [], [], []
    for one in cases:
        for family, given in one.shares.items():
            share.append(given)
            right.append(family == one.true)
            weight.append(WEIGHTS[one.true] / kinds[one.plan, one.true])
    s, r, w = np.array(share), np.array(right), np.array(weight)
    rows = []
    for low, high in pairwise(_STEPS):
        inside = (s >= low) & (s < high)
        if not inside.any():
            continue
        part = w[inside]
        mean, true = (np.average(values[inside], weights=part) for values in (s, r))
        name = f"{100 * low:.0f} to {100 * min(high, 1.0):.0f} %"
        rows.append(f"| {name} | {100 * part.sum() / w.sum():.1f} | {100 * mean:.1f} % "
                    f"| {100 * true:.1f} % |")  # fmt: skip
    return rows


def _row(name: str, cases: Sequence[Case]) -> str:
    found = [one.found for one in cases if one.separable]
    sure = [one.wrong_and_sure for one in cases]
    return f"| {name} | {len(cases)} | {len(found)} | {_share(found)} | {_share(sure)} |"


def _share(of: Sequence[bool]) -> str:
    return f"{100 * np.mean(of):.1f} %" if of else "–"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true", help="put the table into the docs")
    parser.add_argument("--rounds", type=int, default=4, help="a case each of every machine, plan "
                        "and state")  # fmt: skip
    parser.add_argument("--healthy", type=int, default=5, help="healthy ones in a round")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--keep", metavar="FILE", help="add the cases to it, a line each, as JSON")
    parser.add_argument("--kept", metavar="FILE", help="make the table of these instead")
    options = parser.parse_args()
    if options.kept:
        lines_kept = Path(options.kept).read_text(encoding="utf-8").splitlines()
        cases = [Case(*json.loads(line)) for line in lines_kept]
    else:
        cases = scored(options.rounds, options.healthy, options.processes, options.keep)
    lines = table(cases)
    print("\n".join(lines))
    if options.write:
        write_between(PAGE, "scores", "\n".join(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
