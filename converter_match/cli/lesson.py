"""Verb ``lesson``: print a handout for a lesson on a pair."""

from __future__ import annotations

import argparse

from converter_match.cli import options
from converter_match.errors import InputError

NAME = "lesson"
HELP = "write a handout, and a page that moves, on how a converter works, with a pair's numbers"
DESCRIPTION = """\
Write a handout on how a torque converter works: explanations, questions to predict before the
answer is shown, and common misconceptions, all with the numbers of the pair named. Change the
engine and the numbers change. HTML for the screen, PDF for the printer.

Beside it stands slider.html: one slider from stall to the governor, in a page that needs no network
and no Python where it is read. A name that ends in .html asks for that page alone; it needs no
coupling point, so a fixed stator or a fluid coupling will do.

The demo pair is invented.

examples:
  converter-match lesson --out monday
  converter-match lesson --out slider.html --converter fluid-coupling-360mm
  converter-match lesson --out monday --answers --engine my-engine.toml --units us"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument(
        "--out", required=True, metavar="NAME", help="folder to write to, or a page: NAME.html"
    )
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
    parser.add_argument(
        "--machine",
        metavar="FILE",
        help="machine file, or id of a shipped one, for oil and cooler (default: demo with the "
        "demo pair, none with another)",
    )
    options.add_units(parser)
    options.add_overwrite(parser)


def run(args: argparse.Namespace) -> int:
    """Write the pages and say where they are; return the exit status."""
    from converter_match.present.lesson.demo import CONVERTER, ENGINE, lesson
    from converter_match.present.lesson.handout import write_handout, write_slider

    alone = args.out.lower().endswith((".html", ".htm"))
    if alone and args.answers:
        raise InputError(
            "goes with the handout, and --out names a page alone",
            source="--answers",
            found=args.out,
            expected="--out FOLDER",
        )
    chosen = lesson(
        args.engine or ENGINE,
        args.converter or CONVERTER,
        machine=args.machine,
        system=args.units,
    )
    if alone:
        print(f"written: {write_slider(chosen, args.out, overwrite=args.overwrite)}")
        return 0
    for path in write_handout(chosen, args.out, answers=args.answers, overwrite=args.overwrite):
        print(f"written: {path}")
    return 0
