"""Gears and lock-up as recorders and people write them: N, R, 1F, 2nd, F2, closed."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping

import numpy as np

from converter_match.curves import FloatArray

_FORWARD = r"(?:f|fwd|forward|d|g|gear|speed)"
_REVERSE = r"(?:r|rev|reverse)"
_NUMBER = r"(\d{1,2})(?:st|nd|rd|th)?"
_AHEAD = re.compile(rf"{_FORWARD}?[ _.-]*{_NUMBER}[ _.-]*{_FORWARD}?")
_BACK = re.compile(rf"{_REVERSE}[ _.-]*(?:gear)?[ _.-]*{_NUMBER}|{_NUMBER}[ _.-]*{_REVERSE}")
_STANDING = ("n", "neutral", "p", "park", "parked")
_LOCK_UP = {"open": 0.0, "off": 0.0, "false": 0.0, "no": 0.0, "released": 0.0, "converter": 0.0,
            "closed": 1.0, "on": 1.0, "true": 1.0, "yes": 1.0, "locked": 1.0,
            "engaged": 1.0}  # fmt: skip
GEARS = "a number, N, R, or such as 1F, F2, 2nd, R1"
LOCK_UP = "0 or 1, open or closed"
EXPECTED: Mapping[str, str] = {"gear": GEARS, "lock-up": LOCK_UP}
"""What a cell may be, by the column."""


def gear_number(text: str) -> float | None:
    """Return the number of a gear: 0 neutral, below zero reverse; None where it is none.

    Parameters
    ----------
    text : str

    Examples
    --------
    >>> [gear_number(word) for word in ("2", "N", "R", "1F", "F2", "2nd", "R2", "D")]
    [2.0, 0.0, -1.0, 1.0, 2.0, 2.0, -2.0, None]
    """
    word = " ".join(text.split()).casefold()
    try:
        number = float(word)
        return number if math.isfinite(number) else None
    except ValueError:
        pass
    if word in _STANDING:
        return 0.0
    if re.fullmatch(_REVERSE, word):
        return -1.0
    if ahead := _AHEAD.fullmatch(word):
        return float(ahead[1])
    if back := _BACK.fullmatch(word):
        return -float(back[1] or back[2])
    return None


def lock_up_state(text: str) -> float | None:
    """Return 0 for an open lock-up clutch, 1 for a closed one; None where it is neither.

    Parameters
    ----------
    text : str

    Examples
    --------
    >>> [lock_up_state(word) for word in ("0", "Closed", "OFF", "maybe")]
    [0.0, 1.0, 0.0, None]
    """
    word = text.strip().casefold()
    try:
        number = float(word)
        return number if math.isfinite(number) else None
    except ValueError:
        return _LOCK_UP.get(word)


_READ: Mapping[str, Callable[[str], float | None]] = {
    "gear": gear_number,
    "lock-up": lock_up_state,
}


def is_word(role: str, text: str) -> bool:
    """Return whether a cell of a column says something; an empty one counts.

    Parameters
    ----------
    role : str
        ``gear`` or ``lock-up``.
    text : str
    """
    return not text.strip() or _READ[role](text) is not None


def numbers_of(role: str, words: Iterable[object]) -> tuple[FloatArray, str | None]:
    """Return words as numbers, NaN where a cell is empty, and the first that says nothing.

    Parameters
    ----------
    role : str
        ``gear`` or ``lock-up``.
    words : iterable
        Texts, bytes, or NaN and None for empty cells.
    """
    import pandas as pd  # slow to import

    codes, kinds = pd.factorize(np.asarray(list(words), dtype=object))
    known = np.full(len(kinds) + 1, np.nan)  # the last one for empty cells, whose code is -1
    for k, kind in enumerate(kinds):
        text = kind.decode("utf-8", "replace") if isinstance(kind, bytes) else str(kind)
        if not is_word(role, text):
            return np.full(codes.size, np.nan), text.strip()
        known[k] = _READ[role](text) if text.strip() else np.nan
    return known[codes], None
