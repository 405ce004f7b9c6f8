"""How fast the solver is, as ratios measured in one run: `python benchmarks/bench_matching.py`.

A time in seconds says more about the machine than about the code, so every figure is a ratio
between things measured alternately in the same process:

* a million matches against just evaluating the two curves involved (converter capacity and
  full-load torque) at a million points: aim below 3;
* the same, point for point, against a loop of scipy's brentq over the same curves, which is what
  one would write without the solver (aim: above 1000), and over bare interpolants, which is the
  leanest loop that scipy allows;
* a torque factor of its own at every point (sampled engines) against one factor for all;
* the memory in use at the highest, against that of the answer itself.
"""

import argparse
import json
import platform
import time
import tracemalloc
from pathlib import Path

import numpy as np
import scipy
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from converter_match.components.converter import Converter
from converter_match.components.engine import Accessory, Engine
from converter_match.physics.matching import match
from converter_match.physics.supply import engine_supply

RPM = np.pi / 30

# Invented round numbers.
ENGINE = Engine(
    id="bench-engine",
    name="Engine of the benchmark",
    source="round numbers",
    rating_basis="gross",
    governing="speed",
    low_idle=800 * RPM,
    rated_speed=2200 * RPM,
    high_idle=2380 * RPM,
    speed=np.array([800, 1000, 1200, 1400, 1600, 1800, 2000, 2200]) * RPM,
    torque=[700, 850, 950, 1000, 980, 940, 880, 803],
    accessories=(
        Accessory(name="fan", power=11e3, at_speed=2200 * RPM, exponent=3),
        Accessory(name="charge pump", power=3e3, at_speed=2200 * RPM, exponent=1),
    ),
)
CONVERTER = Converter(
    id="bench-converter",
    name="Converter of the benchmark",
    source="round numbers",
    stator="one-way",
    speed_ratio=[0, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95, 0.99],
    torque_ratio=[2.2, 1.95, 1.7, 1.43, 1.12, 1.0, 1.0, 1.0],
    capacity=1 / (np.array([60, 61, 62.5, 66, 75, 82, 130, 280]) * RPM) ** 2,
    coupling_speed_ratio=0.86,
)


def timed(action):
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def alternately(actions, repeats):
    """Return the times of each action [s], in turn so that load hits all alike."""
    rounds = [{name: timed(action) for name, action in actions.items()} for _ in range(repeats)]
    return {name: np.array([times[name] for times in rounds]) for name in actions}


def ratio(above, below):
    """Return the middle one of the ratios of all rounds."""
    return float(np.median(above / below))


def loop_over_curves():
    """Return a function that matches one speed ratio with scipy, on this project's curves."""
    supply = engine_supply(ENGINE)

    def solve(nu):
        c = float(CONVERTER.capacity_at(nu))
        return brentq(lambda w: float(supply.torque(w)) - c * w * w, *supply.domain, xtol=1e-12)

    return solve


def loop_over_interpolants():
    """Return the same on bare interpolants with nothing checked, for the one pair here."""
    at = CONVERTER.coupling_speed_ratio
    before, behind = CONVERTER.speed_ratio <= at, CONVERTER.speed_ratio >= at
    held = PchipInterpolator(CONVERTER.speed_ratio[before], CONVERTER.capacity[before])
    free = PchipInterpolator(CONVERTER.speed_ratio[behind], CONVERTER.capacity[behind])
    full = PchipInterpolator(ENGINE.speed, ENGINE.torque)
    rated, high = ENGINE.rated_speed, ENGINE.high_idle
    loads = [(a.power / a.at_speed, a.at_speed, a.exponent - 1) for a in ENGINE.accessories]

    def solve(nu):
        c = float(held(nu) if nu <= at else free(nu))

        def excess(w):
            torque = full(w) if w <= rated else ENGINE.torque[-1] * (high - w) / (high - rated)
            for load, speed, exponent in loads:
                torque -= load * (w / speed) ** exponent
            return float(torque) - c * w * w

        return brentq(excess, ENGINE.low_idle, high, xtol=1e-12)

    return solve


def peak_memory(action):
    """Return (highest memory in use [bytes] beyond the start, what the action returned)."""
    tracemalloc.start()
    try:
        answer = action()
        return tracemalloc.get_traced_memory()[1], answer
    finally:
        tracemalloc.stop()


def answer_size(result):
    points = result.points
    arrays = (points.engine_speed, points.input_torque, points.stable, points.torque_ratio[0])
    return sum(array.nbytes for array in arrays)


def measure(points, sample, repeats):
    rng = np.random.default_rng(1)
    nu = rng.uniform(*CONVERTER.domain, points)
    omega = rng.uniform(ENGINE.low_idle, ENGINE.high_idle, points)
    factor = rng.uniform(0.9, 1.1, points)
    few, solve, lean = nu[:sample].tolist(), loop_over_curves(), loop_over_interpolants()
    supply, full_load, capacity = engine_supply(ENGINE), ENGINE.full_load, CONVERTER.capacity_curve

    def curves():
        capacity(nu)
        full_load(omega)

    times = alternately(
        {
            "curves": curves,
            "match": lambda: match(supply, CONVERTER, nu),
            "match_new_engine": lambda: match(engine_supply(ENGINE), CONVERTER, nu),
            "loop": lambda: [solve(x) for x in few],
            "lean": lambda: [lean(x) for x in few],
        },
        repeats,
    )
    # Slow enough that one repeat will do.
    times["match_many_engines"] = timed(lambda: match(supply, CONVERTER, nu, torque_factor=factor))
    found = match(supply, CONVERTER, few).from_idle().engine_speed
    difference = np.max(np.abs(found / np.array([lean(x) for x in few]) - 1))
    peak, result = peak_memory(lambda: match(supply, CONVERTER, nu))
    peak_many, many = peak_memory(lambda: match(supply, CONVERTER, nu, torque_factor=factor))
    per_match, per_loop = times["match"] / points, times["loop"] / sample
    return {
        "points": points,
        "loop_sample": sample,
        "match_per_curves": ratio(times["match"], times["curves"]),
        "match_new_engine_per_curves": ratio(times["match_new_engine"], times["curves"]),
        "loop_per_match": ratio(per_loop, per_match),
        "lean_loop_per_match": ratio(times["lean"] / sample, per_match),
        "many_engines_per_match": ratio(times["match_many_engines"], times["match"]),
        "peak_memory_per_answer": peak / answer_size(result),
        "peak_memory_per_answer_many_engines": peak_many / answer_size(many),
        "largest_relative_difference": float(difference),
        "nanoseconds_per_match": 1e9 * float(np.min(per_match)),
        "microseconds_per_loop_match": 1e6 * float(np.min(per_loop)),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "machine": platform.machine(),
    }


def table(figures):
    rows = (
        ("match / evaluating both curves", "match_per_curves", ".2f", "below 3"),
        ("  with a new engine each time", "match_new_engine_per_curves", ".2f", ""),
        ("brentq loop / match, per point", "loop_per_match", ".0f", "above 1000"),
        ("  on bare interpolants", "lean_loop_per_match", ".0f", ""),
        ("a torque factor each / one for all", "many_engines_per_match", ".1f", ""),
        ("peak memory / the answer's", "peak_memory_per_answer", ".2f", ""),
        ("  with a torque factor each", "peak_memory_per_answer_many_engines", ".2f", ""),
        ("largest difference from brentq", "largest_relative_difference", ".1e", ""),
        ("match, ns per point", "nanoseconds_per_match", ".0f", ""),
        ("brentq, us per point", "microseconds_per_loop_match", ".0f", ""),
    )
    lines = [f"{figures['points']:,} points; brentq on a sample of {figures['loop_sample']}", ""]
    lines += [f"{'ratio':36s} {'measured':>10s}  aim"]
    lines += [f"{label:36s} {figures[key]:>10{form}}  {aim}" for label, key, form, aim in rows]
    return "\n".join(line.rstrip() for line in lines)


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--points", type=int, default=1_000_000)
    parser.add_argument("--sample", type=int, default=500, help="points for the brentq loop")
    parser.add_argument("--repeats", type=int, default=7)
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there as well")
    options = parser.parse_args(arguments)
    if options.json and options.json.exists():
        parser.error(f"{options.json} exists and is not overwritten")
    figures = measure(options.points, options.sample, options.repeats)
    print(table(figures))
    if options.json:
        options.json.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
