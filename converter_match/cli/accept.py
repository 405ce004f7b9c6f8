"""Verb ``accept``: what the ordered machine should read after the swap, and whether it does."""

from __future__ import annotations

import argparse

from converter_match.cli import options
from converter_match.cli.progress import progress_bar
from converter_match.errors import InputError
from converter_match.judgement.uncertainty import DRAWS

NAME = "accept"
HELP = "say what a machine should read after the swap, and judge what it does read"
DESCRIPTION = """\
Predict stall speed and speed on a grade of what was ordered, from a study with its tolerances and
readings; print the sheet for the commissioning day; judge the readings of that day: as predicted,
or investigate, with the most likely reasons.

A stall test and a grade run can hurt people: the machine maker's procedure, local rules and
licensed practice come first. docs/what-to-measure.md says what the bands allow for. Exit status 3:
something is to be investigated.

examples:
  converter-match accept my-study.toml --sheet acceptance.pdf
  converter-match accept my-study.toml --candidate new-engine \\
      --reading 'stall speed=1735 rpm; gear=2; oil=85 degC; brakes=held' \\
      --reading 'speed on grade=12.1 km/h; engine=2050 rpm'"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument("study", metavar="STUDY", help="study file, or the id of a shipped one")
    parser.add_argument(
        "--candidate", metavar="ID", help="what was ordered (default: the first of the decision)"
    )
    options.add_site(parser)
    parser.add_argument(
        "--reading", action="append", metavar="WORDS",
        help="'stall speed=1735 rpm; brakes=held' or 'speed on grade=12 km/h; engine=2050 rpm'",
    )  # fmt: skip
    parser.add_argument(
        "--draws", metavar="N", type=int, help=f"draws within the tolerances (default: {DRAWS})"
    )
    output = parser.add_argument_group("output")
    output.add_argument("--sheet", metavar="FILE", help="one-page sheet (.html or .pdf)")
    output.add_argument("--name", metavar="NAME", help="of this machine, on the sheet")
    output.add_argument("--json", action="store_true", help="print everything as JSON")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_overwrite(output)  # type: ignore[arg-type]


def run(args: argparse.Namespace) -> int:
    """Predict, write the sheet, judge, print; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.decision.commissioning import acceptance_of
    from converter_match.judgement.decision.extras import with_extras
    from converter_match.judgement.decision.run import run_study
    from converter_match.judgement.evidence.acceptance import judge_acceptance
    from converter_match.library.acceptance_text import parse_acceptance
    from converter_match.library.shipped import read_all
    from converter_match.library.study_file import read_study

    draws = DRAWS if args.draws is None else args.draws
    if draws < 2:
        raise InputError("out of range", source="--draws", found=draws, expected="2 and more")
    readings = [
        parse_acceptance(text, source=f"--reading {row}")
        for row, text in enumerate(args.reading or (), start=1)
    ]
    site = options.site_from(args)
    study, with_bar = read_study(args.study), progress_bar()
    result = with_extras(run_study(study, with_bar), draws=draws, progress=with_bar, ranked=False)
    given = acceptance_of(result, args.candidate, site=site)
    judged = judge_acceptance(given, readings, read_all("converters")) if readings else None
    if args.sheet:
        from converter_match.present.stall.acceptance import acceptance_sheet
        from converter_match.present.stall.sheet import write_sheet

        sheet = acceptance_sheet(given, machine_name=args.name or "", system=args.units)
        write_sheet(sheet, args.sheet, overwrite=args.overwrite)
    answer = given if judged is None else judged
    if args.json:
        options.print_json(answer.to_dict())
    else:
        options.say_answer(answer, args.units)
        if args.sheet:
            print()
            options.say(f"Written: {args.sheet}")
    return FAILS if judged is not None and judged.fails else 0
