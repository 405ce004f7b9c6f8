"""How far the default step of a route is off a ten times finer one, on routes at random.

python benchmarks/route_accuracy.py [ROUTES] [SEED]

Climbs between two gears, shifts from none to slow ones, laden and empty, stops and limits: the
generator is that of the tests. Each route is driven as it is, with 3 % more torque, with 3 % less
mass and with 10 % less rolling resistance: four draws. 100 routes take some seconds.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.haul_random import EASIER, compared

NAMED = 0.005  # share of the time that the answer names


def main(count: int, seed: int) -> None:
    found = compared(count, seed)
    arrives = [pair for pair in found if pair.arrives]
    alike = np.array([pair.alike for pair in arrives])
    print(f"{count} routes, of which {len(arrives)} are driven to the end by all four draws")
    print(f"draws that change gear more or less often with the finer step: {int((~alike).sum())}")
    for name in ("time", "fuel"):
        off = 100.0 * np.abs([getattr(pair, name) for pair in arrives])
        print(
            f"{name}: off by {np.mean(off):.3f} % on average, 99 % within "
            f"{np.quantile(off, 0.99):.2f} %, at most {off.max():.2f} %; beyond half a percent "
            f"{int((off > 0.5).sum())}; gears changed alike: at most {off[alike].max():.2f} %, "
            f"beyond half a percent {int((off[alike] > 0.5).sum())}"
        )
    slower = 100.0 * np.array([pair.slower for pair in arrives])
    named = np.array([pair.hunts | (pair.costs > NAMED) for pair in arrives])
    own = np.array([pair.own_rule for pair in arrives])
    for rule, which in (("downshifts of the file", ~own), ("no downshift given", own)):
        print(f"{rule}: {int(which.sum())} routes")
        for k, name in enumerate(EASIER):
            held, worse = slower[which, k], slower[which, k][~named[which, k]]
            print(
                f"  {name}: {int((worse > 0.5).sum())} slower by more than half a percent, at "
                f"most {worse.max():.2f} %; {int(named[which, k].sum())} named as hunting or as "
                f"kept in a slower gear for more than half a percent of the time, of "
                f"which {int((held > 0.5).sum() - (worse > 0.5).sum())} slower by more than that"
            )
    print(f"ends elsewhere with the finer step: {sum(pair.differs for pair in found)}")


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    main(*(numbers + [1000, 11][len(numbers) :]))
