"""Verb ``lesson``: print a handout for a lesson on a pair."""

from __future__ import annotations

import argparse

from converter_match.cli import options

NAME = "lesson"
HELP = "write a handout on how a converter works, with the numbers of a pair"
DESCRIPTION = """\
Write a handout on how a torque converter works: explanations, questions to predict before the
answer is shown, and common misconceptions, all with the numbers of the pair named. Change the
engine and the numbers change. HTML for the screen, PDF for the printer.

The demo pair is invented.

examples:
  converter-match lesson --out monday
  converter-match lesson --out monday --answers --engine my-engine.toml --units us"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument("--out", required=True, metavar="FOLDER", help="where to write")
    parser.add_argument(
        "--answers", action="store_true", help="write the instructor's answer sheet as well"
    )
    parser.add_argument(
        "--engine", metavar="FILE", help="engine file, or the id of a shipped one (default: demo)"
    )
    parser.add_argument(
        "--converter",
        metavar="FILE",
        help="converter file with a one-way stator, or the id of a shipped one (default: demo)",
    )
    options.add_units(parser)
    options.add_overwrite(parser)


def run(args: argparse.Namespace) -> int:
    """Write the pages and say where they are; return the exit status."""
    from converter_match.present.lesson.demo import CONVERTER, ENGINE, lesson
    from converter_match.present.lesson.handout import write_handout

    chosen = lesson(args.engine or ENGINE, args.converter or CONVERTER, system=args.units)
    for path in write_handout(chosen, args.out, answers=args.answers, overwrite=args.overwrite):
        print(f"written: {path}")
    return 0
