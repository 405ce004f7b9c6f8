"""The solver under pytest-benchmark, grouped so that its table shows the ratios.

`python -m pytest --import-mode=prepend benchmarks/test_matching_speed.py` (``dev``
extra). Compare within a group: seconds say more about the machine than about the code.
"""

import numpy as np
import pytest
from bench_matching import CONVERTER, ENGINE, loop_over_curves

from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match

MILLION, FEW = 1_000_000, 100
SPEED_RATIOS = np.random.default_rng(1).uniform(*CONVERTER.domain, MILLION)
SPEEDS = np.random.default_rng(2).uniform(ENGINE.low_idle, ENGINE.high_idle, MILLION)


@pytest.mark.benchmark(group="a million points: aim below 3 times the curves")
def test_evaluating_both_curves(benchmark):
    benchmark(lambda: (CONVERTER.capacity_curve(SPEED_RATIOS), ENGINE.full_load(SPEEDS)))


@pytest.mark.benchmark(group="a million points: aim below 3 times the curves")
def test_matching(benchmark):
    supply = engine_supply(ENGINE)
    benchmark(lambda: match(supply, CONVERTER, SPEED_RATIOS))


@pytest.mark.benchmark(group="one hundred points one at a time")
def test_loop_of_brentq(benchmark):
    solve = loop_over_curves()
    benchmark(lambda: [solve(nu) for nu in SPEED_RATIOS[:FEW].tolist()])
