"""Verb ``check``: can component files be read, and is anything odd about their data."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from converter_match.cli import options
from converter_match.errors import InputError

NAME = "check"
HELP = "check component files and say what is odd about their data"
DESCRIPTION = """\
Check component files: can they be read, and is anything odd about the data?

examples:
  converter-match check my-engine.toml my-converter.toml
  converter-match check *.toml --json"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="component or study file (TOML)")
    parser.add_argument("--json", action="store_true", help="print the findings as JSON")
    options.add_units(parser)


def run(args: argparse.Namespace) -> int:
    """Check every file, also those after a bad one; return the exit status."""
    from converter_match.cli import BAD_INPUT
    from converter_match.library.check import oddities
    from converter_match.units import note_text

    report: list[dict[str, Any]] = []
    bad = 0
    for path in args.files:
        try:
            component = _read(path)
        except InputError as error:
            bad += 1
            report.append({"file": str(path), "readable": False, "error": str(error)})
            print(f"converter-match: {error}", file=sys.stderr)
            continue
        odd = oddities(component)
        notes = getattr(component, "notes", ())
        report.append(
            {
                "file": str(path),
                "readable": True,
                "id": component.id,
                "kind": type(component).__name__.lower(),
                "odd": [note.to_dict() for note in odd],
                "notes": [note.to_dict() for note in notes],
            }
        )
        if args.json:
            continue
        print(f"{path}: {type(component).__name__.lower()} {component.id!r} can be read")
        for title, found in (("odd", odd), ("note", notes)):
            for note in found:
                print(f"  {title} [{note.code}] {note_text(note, args.units)}")
        if not odd:
            print("  nothing odd found")
    if args.json:
        options.print_json({"files": report})
    return BAD_INPUT if bad else 0


def _read(path: str) -> Any:
    """Return what a file describes: a component, or a study with everything that it names."""
    from converter_match.judgement.study_file import SCHEMA, read_study
    from converter_match.library.files import read_toml
    from converter_match.library.read import read_component

    if read_toml(path).data.get("schema") == SCHEMA:
        return read_study(path)
    return read_component(path)
