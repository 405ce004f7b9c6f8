"""Two cores against one, what handing out costs, what is kept, a million combinations in bounds.

    python benchmarks/bench_scale.py --write     # the table of docs/scale.md

Catalogues are made of the shipped parts, engines and converters varied by a few per cent. Times are
those of the clock on the wall: what counts is when it is done.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from measuring import Effort, Row, machine
from pages import write_between

PAGE = Path(__file__).resolve().parents[1] / "docs" / "scale.md"
_FEWEST_GAIN, _MOST_COST, _MOST_SECONDS = 1.8, 0.05, 60.0
_MOST_AGAIN = 0.1


def catalogue(engines: int, converters: int, sizes: int, lines: int):
    """Return a catalogue of so many combinations of varied shipped parts, without routes."""
    from converter_match.library.shipped import read_all
    from converter_match.library.study_file import read_study
    from converter_match.study.catalogue import PartsCatalogue

    study = read_study("quarry-loader-repower")
    duty = study.duty.replace(routes=(), surface=None)
    study = study.replace(claims=(), sites=study.sites[:1], duty=duty, tolerances=())
    made = {
        "engines": _varied(read_all("engines"), engines, "torque"),
        "converters": _varied(
            [one for one in read_all("converters") if one.profile_diameter], converters, "capacity"
        ),
        "drivelines": tuple(
            line.replace(id=f"{line.id}-{k}")
            for k, line in enumerate(_again(read_all("drivelines"), lines))
        ),
    }
    first = made["converters"][0].profile_diameter
    diameters = tuple(first * (0.91 + 0.001 * k) for k in range(sizes - 1))
    # Every converter in every size: similarity is not what is measured.
    made["converters"] = tuple(one.replace(profile_diameter=first) for one in made["converters"])
    return PartsCatalogue(id="made", name="Made for a benchmark", source="varied shipped data",
                     study=study, diameters=diameters, **made)  # fmt: skip


def _again(parts: list, count: int) -> list:
    return [parts[k % len(parts)] for k in range(count)]


def _varied(parts: list, count: int, field: str) -> tuple:
    return tuple(
        part.replace(
            id=f"{part.id}-{k}", **{field: getattr(part, field) * (0.97 + 0.06 * k / count)}
        )
        for k, part in enumerate(_again(parts, count))
    )


def settle(shared: object, seconds: float) -> float:
    """A piece that costs nothing but its handing out."""
    time.sleep(seconds)
    return seconds


def by_the_clock(action: Callable[[], object]) -> float:
    begun = time.perf_counter()
    action()
    return time.perf_counter() - begun


def rows(effort: Effort) -> list[Row]:
    found = [_million(effort), *_two_against_one(effort), _handing_out(effort)]
    return [*found, *_again_from_kept(effort)]


def _million(effort: Effort) -> Row:
    from converter_match.judgement.catalogue.bounds import excluded_by_bounds
    from converter_match.judgement.catalogue.field import Field
    from converter_match.tasks.sweep import sweep
    from converter_match.tasks.workers import processes

    shape = (4, 5, 5, 2) if effort.quick else (200, 100, 10, 5)
    parts = catalogue(*shape)
    field = Field.of(parts)

    def search() -> None:
        with processes(2) as workers:
            sweep(excluded_by_bounds, range(shape[0]), shared=field, workers=workers).all()

    taken = by_the_clock(search)
    return Row(f"{parts.count:.0e} combinations against bounds, 2 processes", "s", (taken,),
               most=_MOST_SECONDS)  # fmt: skip


def _two_against_one(effort: Effort) -> list[Row]:
    from converter_match.judgement.catalogue.shortlist import shortlist
    from converter_match.tasks.workers import Workers, processes

    parts = catalogue(*((2, 2, 2, 1) if effort.quick else (10, 20, 10, 5)))
    found = []

    def two() -> None:
        # From the first piece on: what is compared is two against one, starting included.
        with processes(2, patience=0.0) as workers:
            found.append(shortlist(parts, draws=0, workers=workers))

    one = by_the_clock(lambda: found.append(shortlist(parts, draws=0, workers=Workers())))
    both = by_the_clock(two)
    alike = found[0].to_dict() == found[1].to_dict()
    return [
        Row(f"one process / two, {parts.count} combinations", "x", (one / both,),
            least=_FEWEST_GAIN),
        Row("answers of one and two processes that are the same", "", (float(alike),), least=1.0),
    ]  # fmt: skip


def _handing_out(effort: Effort) -> Row:
    from converter_match.tasks.sweep import sweep
    from converter_match.tasks.workers import processes

    seconds, pieces = (0.05, 4) if effort.quick else (1.0, 20)
    with processes(2, patience=0.0) as workers:
        sweep(settle, [0.0] * 4, shared=None, workers=workers)  # they are up
        taken = by_the_clock(
            lambda: sweep(settle, [seconds] * pieces, shared=None, workers=workers).all()
        )
    ideal = seconds * pieces / 2
    return Row(f"handing out, share of pieces of {seconds:g} s", "", (taken / ideal - 1.0,),
               most=_MOST_COST)  # fmt: skip


def _again_from_kept(effort: Effort) -> list[Row]:
    from converter_match.judgement.decision.extras import with_extras
    from converter_match.judgement.decision.run import run_study
    from converter_match.library.kept import KeptResults
    from converter_match.library.study_file import read_study

    study = read_study("quarry-loader-repower")
    draws = 100 if effort.quick else 10_000
    found = []
    with tempfile.TemporaryDirectory() as folder:
        store = KeptResults(Path(folder) / "kept")

        def judged() -> None:
            found.append(with_extras(run_study(study, store=store), draws=draws, store=store))

        first, again = by_the_clock(judged), by_the_clock(judged)
    alike = found[0].to_dict() == found[1].to_dict()
    return [
        Row("the shipped study again / first time", "x", (again / first,), most=_MOST_AGAIN),
        Row("answers from what was kept that are the same", "", (float(alike),), least=1.0),
    ]


def table(found: list[Row], facts: dict[str, object]) -> str:
    lines = ["| figure | value | target | kept |", "|---|---|---|---|"]
    for row in found:
        target = f"<= {row.most:g}" if row.most is not None else f">= {row.least:g}"
        value = f"{row.value:.3g} {row.unit}".strip()
        lines.append(f"| {row.figure} | {value} | {target} | {'yes' if row.kept else 'NO'} |")
    said = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in facts.items())
    return "\n".join([f"One run: {said}.", "", *lines])


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--quick", action="store_true", help="small sizes: does everything run?")
    parser.add_argument("--write", action="store_true", help="write the table into docs/scale.md")
    options = parser.parse_args()
    if options.quick and options.write:
        parser.error("a quick run is nothing to publish")
    text = table(rows(Effort(options.quick)), machine())
    print(text)
    if options.write:
        write_between(PAGE, "scale", text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
