"""Run the benchmarks: `python benchmarks/run.py`, a table of every figure with its target.

Not part of the test command, and no test asserts a time. What is compared runs in turns in one go;
quote ratios rather than seconds, and say which machine it was.
"""

from __future__ import annotations

import argparse
import json
import sys
import traceback
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))  # where the benchmarks are

from measuring import Effort, Row, machine
from words import explained

BENCHES: Mapping[str, str] = {
    "matching": "points a second: matches against curves and against loops",
    "memory": "peak memory against the number of points",
    "start": "import and cold start against numpy and scipy",
    "study": "draws of the shipped study",
    "scale": "a catalogue on two cores, and what handing out costs",
    "readings": "what to measure next, against the draws of a study",
    "route": "a haul, drawn and against a time-step loop",
    "logs": "a machine's log from Parquet, speed and memory",
    "latency": "the bench in a browser, key to picture",
}
_HEAD = ("figure", "value", "least .. greatest", "by the clock", "unit", "target", "kept")


def cells(row: Row, judged: bool = True) -> tuple[str, ...]:
    """Return a row of the table; sizes of a quick run are too small to be judged."""
    if row.why_not:
        return (row.figure, f"not measured: {row.why_not}", "", "", "", _target(row), "")
    kept = {True: "yes", False: "NO", None: ""}[row.kept if judged else None]
    spread = f"{_short(min(row.values))} .. {_short(max(row.values))}"
    clock = ""
    if row.wall:
        middle = sorted(row.wall)[len(row.wall) // 2]
        clock = _short(min(row.wall) if row.by_least else middle)
    alone = len(row.values) == 1
    return (row.figure, _short(row.value), "" if alone else spread, clock, row.unit,
            _target(row), kept)  # fmt: skip


def _short(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.4g}"


def _target(row: Row) -> str:
    if row.most is not None:
        return f"<= {row.most:g}"
    return "" if row.least is None else f">= {row.least:g}"


def table(found: Mapping[str, list[Row]], judged: bool = True) -> str:
    """Return the table for a console."""
    lines = {name: [cells(row, judged) for row in rows] for name, rows in found.items()}
    every = [_HEAD, *(line for part in lines.values() for line in part)]
    # A sentence on what is missing may stick out; it has no neighbours.
    widths = [
        max(len(line[k]) for line in every if not line[1].startswith("not measured"))
        for k in range(len(_HEAD))
    ]

    def set_out(line: tuple[str, ...]) -> str:
        return "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True))

    text = [set_out(_HEAD).rstrip()]
    for name, part in lines.items():
        text += ["", f"{name}: {BENCHES[name]}", *(set_out(line).rstrip() for line in part)]
    return "\n".join(text)


def page(found: Mapping[str, list[Row]], facts: Mapping[str, object]) -> str:
    """Return the same as a page of the documentation."""
    said = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in facts.items())
    lines = [
        "# How fast it is",
        "",
        "Written by `python benchmarks/run.py --page docs/benchmarks.md --overwrite`; how each "
        "figure is measured stands at the head of its file in `benchmarks/`, and what it is below "
        "its table. `a / b` is how many times as long a takes as b.",
        "",
        f"Measured bench by bench on a shared machine: {said}. Ratios are those of "
        "processor times of things run in turns, judged by the median; times in seconds are "
        "processor times, judged by the least, which is what the program takes when nothing else "
        "wants the machine. Times by the "
        "clock stand beside them. Seconds depend on the machine; ratios less so. A load average "
        "above the number of processors says that other work ran beside.",
    ]
    for name, rows in found.items():
        lines += ["", f"## {BENCHES[name].capitalize()}", "", f"| {' | '.join(_HEAD)} |",
                  "|---" * len(_HEAD) + "|"]  # fmt: skip
        lines += [f"| {' | '.join(part.strip() for part in cells(row))} |" for row in rows]
        if said := explained(name, [row.figure for row in rows]):
            lines += ["", *said]
    return "\n".join(lines) + "\n"


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", action="append", choices=BENCHES, metavar="NAME",
                        help=f"one of {', '.join(BENCHES)}; may be repeated")  # fmt: skip
    effort = parser.add_mutually_exclusive_group()
    effort.add_argument("--quick", action="store_true", help="small sizes: does everything run?")
    effort.add_argument("--long", action="store_true", help="twice the turns")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write every value there")
    parser.add_argument("--page", type=Path, metavar="FILE", help="write the table as Markdown")
    parser.add_argument("--overwrite", action="store_true", help="replace files that exist")
    options = parser.parse_args(arguments)
    for path in (options.json, options.page):
        if path and path.exists() and not options.overwrite:
            parser.error(f"{path} exists and is not overwritten without --overwrite")
    if options.quick and options.page:
        parser.error("a quick run is nothing to publish: leave --quick or --page out")
    facts = machine()
    found: dict[str, list[Row]] = {}
    status = 0
    for name in options.only or BENCHES:
        print(f"{name}: {BENCHES[name]} ...", file=sys.stderr, flush=True)
        try:
            found[name] = import_module(f"bench_{name}").rows(Effort(options.quick, options.long))
        except Exception as error:  # the others are still worth having
            traceback.print_exc()
            status = 1
            found[name] = [Row(name, why_not=f"{type(error).__name__}, see above")]
    print(table(found, judged=not options.quick))
    if options.json:
        data = {
            "schema": "converter-match/benchmarks/1",
            "machine": facts,
            "quick": options.quick,
            "rows": [row.to_dict(name) for name, rows in found.items() for row in rows],
        }
        options.json.write_text(json.dumps(data, indent=2) + "\n", encoding="utf-8")
    if options.page:
        options.page.write_text(page(found, facts), encoding="utf-8")
    return status


if __name__ == "__main__":
    sys.exit(main())
