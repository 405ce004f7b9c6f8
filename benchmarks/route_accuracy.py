"""How far the default step of a route is off a ten times finer one, on routes at random.

python benchmarks/route_accuracy.py [ROUTES] [SEED]

Climbs between two gears, shifts from none to slow ones, laden and empty, stops and limits: the
generator is that of the tests. Each route is driven as it is, with 3 % more torque, with 3 % less
mass and with 10 % less rolling resistance.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.haul_random import EASIER, compared


def main(count: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    found = [compared(random, k) for k in range(count)]
    arrives = [pair for pair in found if pair.arrives]
    time, fuel = (np.abs([getattr(pair, name) for pair in arrives]) for name in ("time", "fuel"))
    slower = np.array([pair.slower for pair in arrives])
    print(f"{count} routes, of which {len(arrives)} are driven to the end by all four")
    for name, off in (("time", time), ("fuel", fuel)):
        print(
            f"{name}: off by {100 * np.mean(off):.3f} % on average, 99 % within "
            f"{100 * np.quantile(off, 0.99):.2f} %, at most {100 * off.max():.2f} %, "
            f"{int((off > 0.005).sum())} beyond half a percent"
        )
    grams = np.abs([pair.grams for pair in arrives])
    print(f"fuel beyond half a percent and two grams: {int(((fuel > 0.005) & (grams > 2)).sum())}")
    own = np.array([pair.own_rule for pair in arrives])
    for rule, which in (("downshifts of the file", ~own), ("no downshift given", own)):
        print(f"{rule}: {int(which.sum())} routes")
        for k, name in enumerate(EASIER):
            worse = slower[which, k]
            print(
                f"  {name}: {int((worse > 0.005).sum())} slower by more than half a percent, "
                f"at most {100 * worse.max():.2f} %"
            )
    print(f"ends elsewhere with the finer step: {sum(pair.differs for pair in found)}")


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    main(*(numbers + [1000, 11][len(numbers) :]))
