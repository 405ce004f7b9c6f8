"""How fast a study's draws are: `python benchmarks/bench_uncertainty.py`.

Ratios, measured alternately in one run, say more than seconds; the seconds stand beside them.

* 10 000 draws of a study with three candidates (match, wheels, grades, criteria) against working
  out the same combinations once, as the data say;
* a draw against solving one machine at a time, which is what one would write without arrays;
* the ranking of inputs on top of the draws.
"""

import argparse
import json
import os
import platform
import time

import numpy as np

from converter_match.judgement.outcome import outcome
from converter_match.judgement.pairing import solve
from converter_match.judgement.study import Combination, Duty, Study, Tolerance
from converter_match.judgement.uncertainty import uncertainty
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
)
from converter_match.library.shipped import find
from converter_match.library.surfaces import find_surface, read_surfaces

TOLERANCES = (
    ("engine-torque", 0.03, "normal"),
    ("k-factor", 0.02, "uniform"),
    ("torque-ratio", 0.02, "uniform"),
    ("accessories", 0.15, "uniform"),
    ("mass", 0.04, "uniform"),
    ("rolling-resistance", 0.25, "uniform"),
)


def study():
    line = read_driveline(find("drivelines", "four-speed-loader"))
    machine = read_machine(find("machines", "wheel-loader-17t"))
    pairs = (
        ("six-cylinder-7l-185kw", "single-stage-345mm-tight"),
        ("six-cylinder-7l-185kw", "single-stage-345mm-loose"),
        ("six-cylinder-8l-205kw-late-boost", "single-stage-345mm-tight"),
    )
    return Study(
        id="bench",
        name="Benchmark",
        source="shipped demo data",
        candidates=tuple(
            Combination(
                id=f"c{k}",
                name=f"{engine} + {converter}",
                engine=read_engine(find("engines", engine)),
                converter=read_converter(find("converters", converter)),
                driveline=line,
                machine=machine,
            )
            for k, (engine, converter) in enumerate(pairs)
        ),
        duty=Duty(
            surface=find_surface("firm smooth earth", read_surfaces()),
            grades=(0.0, 0.04, 0.08, 0.12),
            continuous_grade=0.04,
        ),
        tolerances=tuple(
            Tolerance(quantity=name, half_width=width, distribution=form)
            for name, width, form in TOLERANCES
        ),
    )


def timed(action):
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--draws", type=int, default=10_000)
    parser.add_argument("--repeats", type=int, default=3)
    args = parser.parse_args()
    case = study()
    known = [
        tuple(outcome(item, k, case.duty) for k in case.conditions) for item in case.combinations
    ]

    def draw(sensitivities=False):
        uncertainty(case, known, draws=args.draws, sensitivities=sensitivities)

    def one_by_one():
        for factor in np.linspace(0.98, 1.02, 20):
            engine = case.candidates[0].engine
            solve(engine.replace(torque=engine.torque * factor), case.candidates[0].converter)

    draw()
    actions = {
        "draws": draw,
        "draws and ranking": lambda: draw(True),
        "as the data say": lambda: [
            outcome(item, k, case.duty) for item in case.combinations for k in case.conditions
        ],
        "twenty matches one by one": one_by_one,
    }
    rounds = [{name: timed(action) for name, action in actions.items()}
              for _ in range(args.repeats)]  # fmt: skip
    seconds = {name: float(np.median([row[name] for row in rounds])) for name in actions}
    drawing = seconds["draws"]
    alone = args.draws * len(case.combinations) * seconds["twenty matches one by one"] / 20
    print(
        json.dumps(
            {
                "python": platform.python_version(),
                "numpy": np.__version__,
                "processors": os.cpu_count(),
                "draws": args.draws,
                "candidates": len(case.candidates),
                "seconds": {name: round(value, 3) for name, value in seconds.items()},
                "least_seconds_of_draws": round(min(row["draws"] for row in rounds), 3),
                "ratios": {
                    "draws_over_nominal": round(drawing / seconds["as the data say"], 2),
                    "matches_one_by_one_over_draws": round(alone / drawing, 1),
                    "ranking_over_draws": round(seconds["draws and ranking"] / drawing - 1, 2),
                },
            },
            indent=2,
        )
    )


if __name__ == "__main__":
    main()
