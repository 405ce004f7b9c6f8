"""What figures and pages could not be lettered with, said once and in one line."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from converter_match.errors import LettersNotDrawn


@contextmanager
def letters_said_once() -> Iterator[None]:
    """Gather the letters that no font has, and name them when all is written."""
    lost: dict[str, None] = {}
    with warnings.catch_warnings():
        warnings.simplefilter("always", LettersNotDrawn)
        others = warnings.showwarning

        def gather(message: Warning | str, *rest: Any, **more: Any) -> None:
            if isinstance(message, LettersNotDrawn):
                lost.update(dict.fromkeys(message.letters))
            else:
                others(message, *rest, **more)

        warnings.showwarning = gather
        yield
    if lost:
        print(f"converter-match: note: {LettersNotDrawn(''.join(lost))}", file=sys.stderr)
