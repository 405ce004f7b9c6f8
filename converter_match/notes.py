"""Notes that travel with a component or a result: assumptions, warnings, cautions.

A note is a code and typed values in SI, with a sentence that has a place for each of them. It is
put into words, in the reader's units, by `units.note_text`; nothing here or in physics knows a
unit.

Codes are stable: scripts may rely on them. The words may improve.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["assumption", "warning", "limit", "caution"]
Value = float | str


SECOND_DIFFERS = "second-figure-differs"
"""Code of what is asked where a figure and the same one printed in another unit differ."""
ASKED = (
    "number-unusual",
    "row-out-of-line",
    "sizes-unusual",
    SECOND_DIFFERS,
    "rated-power-and-curve-differ",
    "peak-torque-and-curve-differ",
    "peak-torque-elsewhere",
)
"""Codes of what is asked about a number when its file is read. No part of a component: the same
numbers are the same component, asked about or not."""


@dataclass(frozen=True)
class Note:
    """One thing a reader of a number has to know.

    Parameters
    ----------
    code : str
        Stable, lower-case, hyphenated.
    message : str
        One or two plain sentences. Where the note has values, a place for each: ``{name}`` for a
        text, ``{name:amount form}`` for an SI number, as in ``{speed:angular_speed .0f}``; the
        amounts are those of `units.AMOUNTS`. Without values it is the text as it stands.
    kind : {"assumption", "warning", "limit", "caution"}
        ``assumption``: made for missing data. ``warning``: something is odd or unfavourable.
        ``limit``: a limit given in the data is exceeded. ``caution``: somebody could get hurt.
    values : tuple of (name, value)
        SI numbers and texts for the places.
    """

    code: str
    message: str
    kind: Kind = "warning"
    values: tuple[tuple[str, Value], ...] = ()


def assumption(code: str, message: str, **values: Value) -> Note:
    """Return a note on an assumption made for missing data.

    Parameters
    ----------
    code, message : str
    **values : float or str
        For the places of the message.

    Examples
    --------
    >>> assumption("a-code", "Air at {t:temperature .0f}.", t=298.15).values
    (('t', 298.15),)
    """
    return Note(code, message, "assumption", tuple(values.items()))
