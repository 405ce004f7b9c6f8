"""What is odd about the files and shares that a verb was given, said beside its answer."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

from converter_match.cli import options

if TYPE_CHECKING:
    from converter_match.notes import Note
    from converter_match.units import System

_SAY_IT_THEMSELVES = ("solve", "check", "study")
"""Verbs whose answer has it."""


def say_odd(verb: str, args: argparse.Namespace) -> None:
    """Print what `converter-match check` would find odd about what a verb has read.

    Below the answer; on standard error where that is JSON, so that it stays JSON.

    Parameters
    ----------
    verb : str
    args : Namespace
    """
    if verb in _SAY_IT_THEMSELVES:
        return
    odd = dict.fromkeys(_odd(args))
    if not odd:
        return
    from converter_match.units import note_text

    system: System = getattr(args, "units", "si")
    lines = [f"{where}: {note_text(note, system)}" for where, note in odd]
    if getattr(args, "json", False):
        for line in lines:
            print(f"converter-match: odd: {line}", file=sys.stderr)
        return
    print()
    print("Odd about the data")
    for line in lines:
        options.say(f"  - {line}")


def _odd(args: argparse.Namespace) -> Iterator[tuple[str, Note]]:
    from converter_match.library.check import oddities
    from converter_match.library.odd.shares import grade_oddities
    from converter_match.library.read import read_component
    from converter_match.library.shipped import find

    for option, folder in options.COMPONENT_OPTIONS.items():
        given = getattr(args, option, None)
        if isinstance(given, str) and folder != "arrangements":
            yield from ((given, note) for note in oddities(read_component(find(folder, given))))
    if isinstance(getattr(args, "route", None), str):
        from converter_match.library.route_csv import find_route, read_route
        from converter_match.library.surfaces import read_surfaces

        own = getattr(args, "surfaces", None)
        known = (*read_surfaces(own), *read_surfaces()) if own else read_surfaces()
        route = read_route(find_route(args.route), known)
        yield from ((args.route, note) for note in oddities(route))
    if isinstance(getattr(args, "study", None), str):
        from converter_match.library.study_file import read_study

        yield from read_study(args.study).odd
    for option in ("grades", "grade"):
        given = getattr(args, option, None)
        if isinstance(given, str):
            shares = [options.in_si(part, f"--{option}", "ratio", "%") or 0.0
                      for part in given.split(",")]  # fmt: skip
            yield from (
                (f"--{option}", note) for note in grade_oddities("the steepest grade", shares)
            )
