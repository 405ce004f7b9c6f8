"""How fast an engine's torque is there: the option of the verbs that go by time."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from converter_match.components.engine import Engine
    from converter_match.components.response import EngineResponse


def add_response(group: argparse.ArgumentParser) -> None:
    """Add how fast the engine's torque is there."""
    group.add_argument(
        "--response",
        metavar="SHARE,TIME",
        nargs="?",
        const="typical",
        help="share of the engine's torque that is there at once, and time constant of the rest, "
        "as in '60 %%, 0.8 s'; without a value, or typical, by the aspiration (without the option: "
        "an ideal engine)",
    )


def response_from(args: argparse.Namespace, engine: Engine) -> EngineResponse | None:
    """Return the response that was asked for, or None.

    Raises
    ------
    InputError
        If the text is none.
    """
    from converter_match.library.response_text import response_from_text

    text: str | None = args.response
    return None if text is None else response_from_text(text, engine, source="--response")
