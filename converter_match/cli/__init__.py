"""The command line: one module a verb.

A verb module has ``NAME``, ``HELP``, ``DESCRIPTION``, ``add_arguments(parser)`` and
``run(args) -> int``. Exit status: 0 answered, 2 bad input (one message on standard error),
3 answered and a limit or criterion is not met, 4 answered in part.
Verb modules import what they compute with inside ``run``, so that ``--help`` answers at once.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from types import ModuleType

from converter_match import __version__
from converter_match.cli import options
from converter_match.cli.bare_numbers import refuse_bare_numbers
from converter_match.cli.lettering import letters_said_once, tolerate_narrow_consoles
from converter_match.cli.odd import say_odd
from converter_match.cli.outputs import check_outputs
from converter_match.cli.parser import Parser
from converter_match.errors import InputError, WorkLost
from converter_match.library.atomic import all_or_none

VERBS = (
    "solve",
    "tractive",
    "check",
    "demo",
    "accelerate",
    "hold",
    "route",
    "lab",
    "size",
    "audit",
    "study",
    "shortlist",
    "accept",
    "stall",
    "intake",
    "identify",
    "lesson",
    "schema",
    "kept",
)
BAD_INPUT = 2
FAILS = 3
PARTIAL = 4
_INTERRUPTED = 130

_DESCRIPTION = """\
Decide whether an engine and a torque converter belong together.

Start with `converter-match demo`, then `converter-match solve --engine FILE --converter FILE`
with your own component files (`converter-match check FILE` says what is odd about them)."""
_EPILOG = """\
exit status: 0 answered, 2 bad input, 3 answered and a limit or criterion is not met,
4 answered in part: something could not be calculated, and is named.
A number is a help, not a licence: the machine maker's procedure, local rules and licensed practice
come first."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments without the program's name; by default those the process was started with.
    """
    tolerate_narrow_consoles()
    parser = build_parser()
    args = parser.parse_args(argv)
    if sys.stdout is None:  # closed by whoever started the program
        print("converter-match: standard output is closed: nobody would see the answer",
              file=sys.stderr)  # fmt: skip
        return BAD_INPUT
    try:
        _refuse_words_of_no_shell(args)
        refuse_bare_numbers(args.verb, args)
        check_outputs(args)
        # A verb that goes on until it is told to end writes what it has to before that.
        goes_on = args.name_of_verb == "lab"
        with letters_said_once(), contextlib.nullcontext() if goes_on else all_or_none():
            status: int = args.run(args)
            say_odd(args.name_of_verb, args)
        sys.stdout.flush()
    except InputError as error:
        print(f"converter-match: {options.in_file(error, args)}", file=sys.stderr)
        return BAD_INPUT
    except WorkLost as error:
        print(f"converter-match: {error}", file=sys.stderr)
        return PARTIAL
    except KeyboardInterrupt:
        print("converter-match: interrupted; nothing was left half-written", file=sys.stderr)
        return _INTERRUPTED
    except BrokenPipeError:
        # The reader (head, less) went away: not an error of ours, and nothing left to say.
        _say_no_more()
        return 0
    except OSError as error:
        # Standard output on a full disk, most likely: files of ours are answered for elsewhere.
        _say_no_more()
        where = f"{error.filename}: " if error.filename else ""
        print(f"converter-match: {where}{error.strerror or error}", file=sys.stderr)
        return BAD_INPUT
    return status


def _refuse_words_of_no_shell(args: argparse.Namespace) -> None:
    """Refuse what only a script can hand over, and no file can have in its name: a NUL and such."""
    from converter_match.library.atomic import can_be_a_name

    for given in vars(args).values():
        for word in given if isinstance(given, list) else [given]:
            if isinstance(word, str) and not can_be_a_name(word):
                raise InputError("an argument that no text can hold", found=word)


def _say_no_more() -> None:
    """Let go of a standard output that takes nothing, so that closing it does not fail as well."""
    with contextlib.suppress(OSError, ValueError):  # no real one, in a test or a notebook
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def build_parser() -> Parser:
    """Return the parser of the whole command line."""
    parser = Parser(prog="converter-match", description=_DESCRIPTION, epilog=_EPILOG)
    parser.add_argument("--version", action="version", version=f"%(prog)s {__version__}")
    verbs = parser.add_subparsers(metavar="VERB", required=True)
    for name in VERBS:
        module: ModuleType = import_module(f"converter_match.cli.{name}")
        verb = verbs.add_parser(module.NAME, help=module.HELP, description=module.DESCRIPTION)
        module.add_arguments(verb)
        verb.set_defaults(run=module.run, verb=verb, name_of_verb=name)
    return parser
