"""Verb ``check``: can files be read, and is anything odd about their data."""

from __future__ import annotations

import argparse
import glob
import os
import sys
from typing import Any

from converter_match.cli import options
from converter_match.errors import InputError

NAME = "check"
HELP = "check files of every kind and say what is odd about their data"
DESCRIPTION = """\
Check files: can they be read, and is anything odd about the data?

Takes every kind of file that the tool reads: components, surfaces, studies and catalogues (TOML,
with all the files that these name), routes, short cycles, fuel maps, tables of surfaces, machine
logs, logs and readings of stall tests (CSV), mappings of headings (TOML). A file is named by its
path, by a pattern, or by its id if it is a shipped one. Dealers' sheets and charts are for
`converter-match intake`.

examples:
  converter-match check my-engine.toml my-converter.toml
  converter-match check six-cylinder-7l-185kw quarry-loader-repower
  converter-match check my-route.csv --surfaces my-surfaces.toml
  converter-match check *.toml --json"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument(
        "files", nargs="+", metavar="FILE", help="component, study, route, log, ..."
    )
    parser.add_argument(
        "--surfaces", metavar="FILE", help="surfaces of your own that routes and cycles name"
    )
    parser.add_argument("--json", action="store_true", help="print the findings as JSON")
    options.add_units(parser)


def run(args: argparse.Namespace) -> int:
    """Check every file, also those after a bad one; return the exit status."""
    from converter_match.cli import BAD_INPUT
    from converter_match.library.checked import check_file
    from converter_match.library.shipped import find
    from converter_match.library.surfaces import read_surfaces

    surfaces = (*read_surfaces(args.surfaces), *read_surfaces()) if args.surfaces else None
    report: list[dict[str, Any]] = []
    bad = 0
    for path in [path for given in args.files for path in _meant(given)]:
        try:
            checked = check_file(str(find(None, path)), surfaces)
        except InputError as error:
            bad += 1
            report.append({"file": path, "readable": False, "error": str(error)})
            print(f"converter-match: {error}", file=sys.stderr)
            continue
        report.append(checked.to_dict())
        if not args.json:
            if len(report) > 1:
                print()
            options.say_answer(checked, args.units)
    if args.json:
        options.print_json({"files": report})
    return BAD_INPUT if bad else 0


def _meant(given: str) -> list[str]:
    """Return the files that go by a pattern, which not every shell looks for itself."""
    if not any(sign in given for sign in "*?[") or os.path.lexists(given):
        return [given]
    return sorted(glob.glob(given)) or [given]
