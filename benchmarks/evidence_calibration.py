"""Whether what readings leave possible covers what is true, and what an update costs.

    python benchmarks/evidence_calibration.py            # print the tables (a few minutes)
    python benchmarks/evidence_calibration.py --write    # and put them into the docs

Machines are drawn from what the shipped study of a loader in the yard believes, read with the doubt
that its instruments have, and looked for (Talts et al., "Validating Bayesian inference algorithms
with simulation-based calibration", 2018). Beside it the same with a mistake in what is believed,
how often a wrong reading is found, and the cost against the plain draws of the shipped studies.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np
from pages import write_between
from scipy import stats

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # where the tests are

from converter_match.judgement.evidence.evidence import evidence, weighed
from converter_match.judgement.evidence.prior import Prior
from converter_match.judgement.evidence.update import LEAST_EFFECTIVE
from converter_match.judgement.uncertainty.inputs import drawn_inputs
from converter_match.judgement.uncertainty.judged import judged
from converter_match.judgement.uncertainty.uncertainty import result_of
from converter_match.judgement.verdict.outcome import outcome
from converter_match.library.study_file import read_study
from converter_match.study.study import Study
from tests.evidence_machines import (
    TARGETS,
    Planted,
    exchange_unit,
    found_wrong,
    looked_for,
    of_yard,
    other_tolerances,
    without_model_error,
    yard,
)

PAGE = Path(__file__).resolve().parents[1] / "docs" / "evidence.md"
READINGS = (1, 3, 5)
LEVELS = (0.50, 0.80, 0.95)
ERRORS = (0.0, 0.03, 0.06, 0.10)
_DRAWS = 2048
_FULL = 10_000
_BINS = 10


def calibration_table(machines: int) -> list[str]:
    """Return how often bands cover the true value, and whether its ranks are uniform."""
    study = yard()
    rows = [("true value of", "readings", *(f"{100 * level:g} % band" for level in LEVELS),
             "ranks uniform, p")]  # fmt: skip
    sizes = []
    for count in READINGS:
        prior = Prior(study, of_yard(count, study))
        found = looked_for(prior, prior, machines=machines, draws=_DRAWS)
        for k, name in enumerate(TARGETS):
            cells = [_covered(found, k, level) for level in LEVELS]
            rows.append((name, str(count), *cells, f"{_uniform(found, k):.2f}"))
        share = found.effective / _DRAWS
        few = np.mean(share * _FULL < LEAST_EFFECTIVE)
        sizes.append(
            f"{count} readings: half of the updates keep {100 * np.median(share):.0f} % of their "
            f"draws and more, 95 % keep {100 * np.quantile(share, 0.05):.0f} % and more; plain "
            f"weights would keep {100 * np.median(found.plain) / _DRAWS:.1f} % (median). Refused "
            f"at {_FULL} draws: {100 * few:.1f} % for too few, "
            f"{100 * found.missed / machines:.1f} % for a place that was missed."
        )
    return [*_table(rows), "", *(f"- {line}" for line in sizes)]


def misuse_table(machines: int) -> list[str]:
    """Return coverage where something is wrong with what is believed."""
    study = yard()
    readings = of_yard(3, study)
    right = Prior(study, readings)
    other = exchange_unit(study)
    cases = {
        "nothing wrong": (right, right),
        "the model error left out": (right, Prior(study, without_model_error(readings))),
        "tolerances half of what they are": (
            right, Prior(other_tolerances(study, 0.5), readings),
        ),
        "an exchange converter taken for the same unit": (Prior(other, readings), right),
        "the same, said as another unit": (Prior(other, readings), Prior(other, readings)),
    }  # fmt: skip
    shown = ("K-factor", "mass", "stall speed, candidate")
    rows = [("what is wrong", *(f"{name}: 80 %, 95 % band" for name in shown))]
    for name, (truth, analysis) in cases.items():
        found = looked_for(truth, analysis, machines=machines, draws=_DRAWS)
        cells = [
            f"{100 * found.coverage(TARGETS.index(one), 0.8):.0f} %, "
            f"{100 * found.coverage(TARGETS.index(one), 0.95):.0f} %"
            for one in shown
        ]
        rows.append((name, *cells))
    return _table(rows)


def conflict_table(machines: int) -> list[str]:
    """Return how often a wrong stall reading is found."""
    worn = yard()
    healthy = read_study("quarry-loader-repower").replace(claims=())
    rows = [("stall reading wrong by", "sheets' tolerances, alone", "worn engine, alone",
             "worn engine, with weight and pull")]  # fmt: skip
    priors = (
        Prior(healthy, of_yard(1, worn)), Prior(worn, of_yard(1, worn)),
        Prior(worn, of_yard(3, worn)),
    )  # fmt: skip
    for error in ERRORS:
        shares = [found_wrong(prior, error, machines=machines, draws=_DRAWS) for prior in priors]
        rows.append((f"{100 * error:g} %", *(f"found in {100 * one:.0f} %" for one in shares)))
    return _table(rows)


def cost_table(draws: int) -> list[str]:
    """Return what the whole update costs against the plain draws (processor time)."""
    rows = [("study", "plain draws", "update alone", "update and judging / plain draws")]
    shipped = read_study("quarry-loader-repower").replace(claims=())
    study = yard()
    for name, item in (
        ("loader in the yard", study.replace(measurements=_planted(study))),
        ("quarry loader, without routes",
         shipped.replace(duty=shipped.duty.replace(routes=()), measurements=_planted(shipped))),
    ):  # fmt: skip
        known = tuple(
            tuple(outcome(c, k, item.duty) for k in item.conditions) for c in item.combinations
        )
        start = time.process_time()
        before = judged(item, drawn_inputs(item, draws, 0), draws, known)
        result_of(before)
        plain = time.process_time() - start
        start = time.process_time()
        weighed(item, draws=draws)
        alone = time.process_time() - start
        start = time.process_time()
        accepted = evidence(item, before, draws=draws).accepted
        whole = time.process_time() - start
        said = f"{whole / plain:.2f}" + ("" if accepted else " (not accepted)")
        rows.append((name, f"{plain:.1f} s", f"{alone:.1f} s", said))
    return _table(rows)


def _planted(study: Study):
    """Return three readings as the data say, within their doubt."""
    from dataclasses import replace

    from converter_match.judgement.evidence.readings import predicted

    prior = Prior(study, of_yard(3, study))
    middle = predicted(prior, np.zeros((1, prior.size)))[0]
    return tuple(
        replace(item, value=1.002 * float(value), given="planted")
        for item, value in zip(prior.measurements, middle, strict=True)
    )


def _covered(found: Planted, target: int, level: float) -> str:
    """Return a share with a mark where it lies outside 95 % of the binomial."""
    count = found.ranks.shape[0]
    share = found.coverage(target, level)
    low, high = stats.binom(count, level).ppf([0.025, 0.975]) / count
    return f"{100 * share:.1f} %" + ("" if low <= share <= high else " (!)")


def _uniform(found: Planted, target: int) -> float:
    """Return p of the ranks being uniform (chi square, ten bins)."""
    counts = np.histogram(found.ranks[:, target], bins=_BINS, range=(0.0, 1.0))[0]
    return float(stats.chisquare(counts).pvalue)


def _table(rows: list[tuple[str, ...]]) -> list[str]:
    head, *others = (f"| {' | '.join(row)} |" for row in rows)
    return [head, "|" + "---|" * len(rows[0]), *others]


def main() -> int:
    """Print the tables, and write them where that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--machines", type=int, default=500, help="planted machines (500)")
    parser.add_argument("--write", action="store_true", help="put the tables into the docs")
    asked = parser.parse_args()
    count = asked.machines
    text = "\n".join(
        [
            f"Bands over the true values of {count} planted machines; (!) outside 95 % of the "
            "binomial:",
            "",
            *calibration_table(count),
            "",
            "Three readings, with something wrong in what is believed:",
            "",
            *misuse_table(count),
            "",
            "Contradictions that are found:",
            "",
            *conflict_table(count),
            "",
            f"Processor time with {_FULL} draws and three readings; plain draws with the ranking "
            "of inputs, once:",
            "",
            *cost_table(_FULL),
        ]
    )
    print(text)
    if asked.write:
        write_between(PAGE, "calibration", text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
