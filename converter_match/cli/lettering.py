"""What consoles, figures and pages cannot be lettered with: written otherwise, or said once."""

from __future__ import annotations

import codecs
import sys
import unicodedata
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from types import MappingProxyType
from typing import Any

from converter_match.errors import LettersNotDrawn

PLAIN_LETTERS = "converter_match.plain_letters"
"""Name of the handler for letters that the encoding of a console has not."""

# As they are typed where there is no such key; units come out as they may be given back.
_TYPED: Mapping[str, str] = MappingProxyType(
    {
        "·": "*", "×": "x", "°": "deg", "±": "+/-", "²": "^2", "³": "^3", "√": "sqrt",
        "≤": "<=", "≥": ">=", "≈": "~", "→": "->", "½": "1/2", "µ": "u", "−": "-", "–": "-",
        "—": "-", "…": "...", "‘": "'", "’": "'", "“": '"', "”": '"', "\N{NO-BREAK SPACE}": " ",
        "η": "eta", "ν": "nu", "λ": "lambda", "μ": "mu", "ρ": "rho", "Δ": "delta",
    }
)  # fmt: skip


def tolerate_narrow_consoles() -> None:
    """Let a console that cannot show '·' or '°' show '*' and 'deg' rather than fail.

    What is written to files does not pass here.
    """
    codecs.register_error(PLAIN_LETTERS, _typed)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=PLAIN_LETTERS)


def _typed(error: UnicodeError) -> tuple[str, int]:
    """Return what stands for the letters that could not be encoded, and where to go on."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start : error.end]
    return "".join(_TYPED.get(sign) or _without_accent(sign) for sign in lost), error.end


def _without_accent(sign: str) -> str:
    first = unicodedata.normalize("NFKD", sign)[0]
    return first if first.isascii() else "?"


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
