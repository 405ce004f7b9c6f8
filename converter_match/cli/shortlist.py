"""Verb ``shortlist``: search a catalogue of parts for what a study would keep."""

from __future__ import annotations

import argparse

from converter_match.cli import options, sweeping
from converter_match.cli.progress import progress_bar
from converter_match.errors import InputError

NAME = "shortlist"
HELP = "search a catalogue of engines, converters, sizes and gear sets"
DESCRIPTION = """\
Put every engine of a catalogue together with every converter, in every diameter that similarity
carries to, and every gear set, and hold each against the criteria of a study: bounds first, then
the match, the wheels, the routes, and draws within the tolerances for what is left. Nothing is
excluded that the study would keep. Says what is kept, what no other beats in route time, fuel, heat
margin and probability, and for how many each required criterion is not met.

docs/shortlist.md describes the file. What was calculated is kept: run again, after changes or an
interruption, only what is new is calculated. Exit status 3 when nothing is kept, 4 when something
could not be calculated (what is said of the rest holds). A place on the list is no leave to order.

examples:
  converter-match shortlist my-catalogue.toml --csv kept.csv --figure kept.png
  converter-match shortlist quarry-loader-parts --draws 0 --json
  converter-match shortlist my-catalogue.toml --cluster tcp://192.0.2.10:8786"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    from converter_match.judgement.catalogue import DRAWS

    parser.add_argument(
        "catalogue", metavar="FILE", help="catalogue file, or the id of a shipped one"
    )
    parser.add_argument(
        "--draws",
        metavar="N",
        type=int,
        default=DRAWS,
        help=f"of each combination that is kept (default: {DRAWS}; 0: no probabilities)",
    )
    sweeping.add_sweeping(parser)
    output = parser.add_argument_group("output")
    output.add_argument("--csv", metavar="FILE", help="table of what is kept (.csv)")
    output.add_argument(
        "--every", metavar="FILE", help="table of every combination, and why it is out (.csv)"
    )
    output.add_argument(
        "--table", metavar="FILE", help="what is kept as a page to filter and sort (.html)"
    )
    output.add_argument(
        "--figure",
        metavar="FILE",
        help="what is kept, by what it is compared by (.png, .svg, .pdf)",
    )
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_csv_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Search, write what was asked for, print; return the exit status."""
    from converter_match.cli import FAILS, PARTIAL
    from converter_match.judgement.catalogue.shortlist import shortlist
    from converter_match.library.catalogue_file import read_catalogue

    if args.draws < 0 or args.draws == 1:
        raise InputError(
            "out of range", source="--draws", found=args.draws, expected="0, or 2 and more"
        )
    catalogue = read_catalogue(args.catalogue)
    with sweeping.sweeping_from(args) as (workers, store):
        result = shortlist(
            catalogue, draws=args.draws, workers=workers, store=store, progress=progress_bar()
        )
    if args.csv:
        options.write_csv(args, result, "kept")
    if args.every:
        options.write_text(
            args.every,
            options.csv_of(args, result.every()),
            overwrite=args.overwrite,
            option="--every",
        )
    if args.table:
        from converter_match.present.report.sifting import sifting_page

        options.write_text(
            args.table,
            sifting_page(result, args.units),
            overwrite=args.overwrite,
            option="--table",
        )
    if args.figure:
        from converter_match.present.drawing.style import save
        from converter_match.present.figures.shortlist import shortlist_figure

        save(shortlist_figure(result, system=args.units), args.figure, args.overwrite)
    if args.json:
        options.print_json(result.to_dict())
    else:
        options.say_answer(result, args.units)
    return PARTIAL if result.partial else FAILS if result.fails else 0
