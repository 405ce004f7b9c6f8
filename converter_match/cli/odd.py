"""What is odd about the files and shares that a verb was given, said beside its answer."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from converter_match.cli import options

if TYPE_CHECKING:
    from converter_match.notes import Note
    from converter_match.units import System

_SAY_IT_THEMSELVES = ("solve", "check", "study", "shortlist")
"""Verbs whose answer has it."""


def say_odd(verb: str, args: argparse.Namespace) -> None:
    """Print what `converter-match check` would find odd about what a verb has read.

    Below the answer; on standard error where that is JSON, so that it stays JSON.

    Parameters
    ----------
    verb : str
    args : Namespace
    """
    odd = dict.fromkeys((*_odd_tables(args), *_odd_within(args)))
    if verb not in _SAY_IT_THEMSELVES:
        odd |= dict.fromkeys(_odd(args))
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
        if isinstance(given, str):
            yield from ((given, note) for note in oddities(read_component(find(folder, given))))
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


def _odd_within(args: argparse.Namespace) -> Iterator[tuple[str, Note]]:
    """Yield what is odd about a second engine or converter that an arrangement names."""
    given = getattr(args, "arrangement", None)
    if isinstance(given, str):
        from converter_match.library.check import oddities_of, parts_within
        from converter_match.library.read import read_arrangement
        from converter_match.library.shipped import find

        within = parts_within(read_arrangement(find("arrangements", given)))
        yield from ((f"{given}: {whose}", note) for whose, note in oddities_of(within))


def _odd_tables(args: argparse.Namespace) -> Iterator[tuple[str, Note]]:
    """Yield what is odd about routes, short cycles and duties."""
    named = {option: getattr(args, option, None) for option in ("route", "cycle", "duty")}
    given = {option: name for option, name in named.items() if isinstance(name, str)}
    if not given:
        return
    from converter_match.library.check import oddities
    from converter_match.library.cycle_csv import read_cycle
    from converter_match.library.duty_csv import read_duty
    from converter_match.library.route_csv import find_route, read_route
    from converter_match.library.shipped import find
    from converter_match.library.surfaces import read_surfaces

    own = getattr(args, "surfaces", None)
    known = (*read_surfaces(own), *read_surfaces()) if own else read_surfaces()
    read: dict[str, Callable[[str], Any]] = {
        "route": lambda name: read_route(find_route(name), known),
        "cycle": lambda name: read_cycle(find("cycles", name), known),
        "duty": lambda name: read_duty(find("duties", name)),
    }
    for option, name in given.items():
        yield from ((name, note) for note in oddities(read[option](name)))
