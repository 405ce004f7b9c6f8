"""Verb ``kept``: how much is kept of what was calculated, and clearing it."""

from __future__ import annotations

import argparse

from converter_match.cli import options

NAME = "kept"
HELP = "how much is kept of what was calculated, and clear it"
DESCRIPTION = """\
Verbs that work out much keep their results, by all that they depend on: inputs, and the versions of
this package and of the libraries. Say where they are and how much, or clear them: the next run
calculates everything anew. Nothing else is ever removed.

examples:
  converter-match kept
  converter-match kept --clear"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument("--clear", action="store_true", help="remove all of it")
    parser.add_argument(
        "--kept",
        metavar="FOLDER",
        help="where it is (default: the user's cache, or CONVERTER_MATCH_KEPT)",
    )
    parser.add_argument("--json", action="store_true", help="print the answer as JSON")


def run(args: argparse.Namespace) -> int:
    """Say how much is kept, or clear it; return the exit status."""
    from converter_match.errors import InputError
    from converter_match.library.kept import kept

    try:
        store = kept(args.kept)
    except InputError as error:
        raise error.located(field="--kept") from None
    held = None if store is None else store.clear() if args.clear else store.held()
    if args.json:
        entries, size = (0, 0) if held is None else (held.entries, held.size)
        folder = None if store is None else str(store.folder)
        told = {"folder": folder, "entries": entries, "bytes": size, "cleared": args.clear}
        options.print_json(told)
    elif store is None or held is None:
        options.say("Nothing is kept: that is switched off, or there is no folder for it.")
    else:
        done = "cleared" if args.clear else "kept"
        options.say(f"{store.folder}: {held.entries} results, {held.size / 1e6:.1f} MB {done}")
    return 0
