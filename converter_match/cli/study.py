"""Verb ``study``: judge candidates against the present machine, and write the report."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from converter_match.cli import options
from converter_match.cli.progress import progress_bar
from converter_match.cli.sweeping import add_sweeping, sweeping_from
from converter_match.errors import InputError
from converter_match.judgement.uncertainty import DRAWS

if TYPE_CHECKING:
    from converter_match.library.study_copies import Settings
    from converter_match.units import System

NAME = "study"
HELP = "judge candidates against the present machine and write a report"
DESCRIPTION = """\
Judge every candidate of a study file against the present machine, at every site, and write a
report that somebody can sign: web page, PDF, tables (CSV), figures (SVG, PNG), numbers (JSON), and
the files that it was made from. Given the folder of a report, it makes the same report again.

docs/study.md describes the file. What was calculated is kept: run again, after changes or an
interruption, only what is new is calculated. Exit status 3 when any candidate does not meet a
required criterion. What is calculated is no permission: the machine maker's procedure, local rules
and licensed practice come first.

examples:
  converter-match study my-study.toml --out my-report
  converter-match study quarry-loader-repower --out report --units us
  converter-match study my-study.toml --json
  converter-match study my-report --out again
  converter-match study lift-truck-electric"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument(
        "file",
        metavar="FILE",
        help="study file, the id of a shipped one, or the folder of a report (draws and units are "
        "those of the report then, where not given)",
    )
    add_sweeping(parser)
    output = parser.add_argument_group("output")
    output.add_argument(
        "--out", metavar="FOLDER", help="new folder for the report; without it nothing is written"
    )
    output.add_argument(
        "--overwrite", action="store_true", help="replace a folder that holds an earlier report"
    )
    output.add_argument(
        "--draws",
        metavar="N",
        type=int,
        help=f"draws within the tolerances of the study (default: {DRAWS}, "
        "of a motor study 32; 0: no probabilities)",
    )
    output.add_argument("--json", action="store_true", help="print the whole result as JSON")
    options.add_units(output)  # type: ignore[arg-type]
    options.add_csv_units(output)  # type: ignore[arg-type]
    parser.set_defaults(units=None)


def run(args: argparse.Namespace) -> int:
    """Run the study, write what was asked for, print; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.decision.extras import with_extras
    from converter_match.judgement.decision.run import run_study
    from converter_match.library.motor_study_file import is_motor_study
    from converter_match.library.study_file import read_study

    if args.draws is not None and (args.draws < 0 or args.draws == 1):
        raise InputError(
            "out of range", source="--draws", found=args.draws, expected="0, or 2 and more"
        )
    asked = _settings(args, DRAWS)
    target = None if args.out is None else Path(args.out)
    if target is not None:
        from converter_match.present.report.study_folder import check_target

        check_target(target, overwrite=args.overwrite)
    if is_motor_study(args.file):
        return _run_motors(args, target)
    study = read_study(args.file)
    with_bar = progress_bar()
    with sweeping_from(args) as (workers, store):
        result = run_study(study, with_bar, workers, store)
        result = with_extras(
            result, draws=asked.draws, seed=asked.seed, progress=with_bar, workers=workers,
            store=store,
        )  # fmt: skip
    if target is not None:
        from converter_match.present.report.study_folder import write_study

        write_study(
            result,
            target,
            overwrite=args.overwrite,
            system=asked.units,
            tables=asked.tables,
            progress=with_bar,
        )
    if args.json:
        options.print_json(result.to_dict())
    else:
        options.say_answer(result, asked.units)
        if target is not None:
            print()
            written = (
                f"{target / 'report.html'}, report.pdf, result.json, tables, figures, pages, inputs"
            )
            options.say(f"Written: {written}")
            options.say(f"Decision: {result.decision.word}")
    return FAILS if result.fails else 0


def _run_motors(args: argparse.Namespace, target: Path | None) -> int:
    """Run a study of motors; write what was asked for, print; return the exit status."""
    from converter_match.cli import FAILS
    from converter_match.judgement.motor.study import run_motor_study
    from converter_match.judgement.motor.study_draws import DRAWS as MOTOR_DRAWS
    from converter_match.judgement.motor.study_draws import draw_motor_study
    from converter_match.library.motor_study_file import read_motor_study

    if args.csv_units is not None:
        raise InputError("does not go with a motor study", source="--csv-units")
    system: System = args.units or "si"
    study, count = read_motor_study(args.file), args.draws
    draws = MOTOR_DRAWS if count is None else count
    with sweeping_from(args) as (workers, store):
        try:
            drawn = draw_motor_study(study, draws, progress_bar(), workers, store)
        except InputError as error:
            typed = options.Typed("--draws", None if count is None else str(count))
            raise options.as_typed(error, {"draws": typed}) from None
        result = replace(run_motor_study(study, progress_bar(), workers, store), draws=drawn)
    if target is not None:
        from converter_match.present.report.study_folder import write_motor_study

        write_motor_study(result, target, overwrite=args.overwrite, system=system)
    if args.json:
        options.print_json(result.to_dict())
    else:
        options.say_answer(result, system)
        if target is not None:
            print()
            options.say(f"Written: {target / 'report.html'}, report.pdf, result.json, figures")
            options.say(f"Decision: {result.word}")
    return FAILS if result.fails else 0


def _settings(args: argparse.Namespace, draws: int) -> Settings:
    """Return what is asked for beside the study: as given, as in an earlier report, or usual."""
    from converter_match.library.study_copies import Settings, read_copies

    usual = Settings(units="si", tables=args.units or "si", draws=draws, seed=0)
    if Path(args.file).is_dir():
        usual = read_copies(args.file).settings
    return replace(
        usual,
        units=args.units or usual.units,
        tables=args.csv_units or args.units or usual.tables,
        draws=usual.draws if args.draws is None else args.draws,
    )
