"""The end of a verb: what was asked for is written and printed."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from converter_match.cli import options

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure


def hand_out(
    args: argparse.Namespace, result: Any, *, table: str, picture: Callable[[], Figure] | None
) -> int:
    """Write a result as ``--csv`` and ``--figure`` ask for it, print it, return the exit status.

    Parameters
    ----------
    args : Namespace
    result : Answer
        One that ``fails`` or does not.
    table : str
        Name of the block that ``--csv`` writes.
    picture : callable or None
        Draws what ``--figure`` saves; called only where it is asked for: slow to load. None where
        the caller has refused ``--figure``.

    Raises
    ------
    InputError
        If a file cannot be written.
    """
    from converter_match.cli import FAILS

    if args.csv:
        options.write_csv(args, result, table)
    if args.figure and picture is not None:
        from converter_match.present.drawing.style import save

        save(picture(), args.figure, overwrite=args.overwrite)
    if args.json:
        options.print_json(result.to_dict())
    else:
        options.say_answer(result, args.units)
    return FAILS if result.fails else 0
