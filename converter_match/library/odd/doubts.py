"""What is odd about data and throws doubt on what is built on them, and what is only a pity.

A row that is missing at rated speed rounds off a corner; a capacity that no converter of that
diameter has makes every number behind it doubtful, and no order should rest on it unexplained.
"""

from __future__ import annotations

from converter_match.library.odd import words
from converter_match.library.schema.words import RATING, SPANS
from converter_match.notes import Note

_A_PITY = {
    "aspiration-missing",
    "efficiency-unusual",
    "ends-early",
    "engine-limit-unread",
    "no-row-at-coupling-point",
    "no-row-at-rated-speed",
    "no-stall-row",  # a criterion that needs it is not known anyway
    "reference-air-missing",
    "reverse-ratio-unusual",
    "shift-time-long",
    "speed-limit-high",
}
_SHEETS_DISAGREE = {"capacity-columns-differ", "efficiency-column-off", "torque-and-power-differ"}
_ODD = {
    code
    for table in (
        words.CONVERTER,
        words.DRIVELINE,
        words.ENGINE,
        words.MACHINE,
        words.MOTOR,
        words.SHARES,
        words.SITE,
        RATING,
        SPANS,
    )
    for code in table
}


def throws_doubt(note: Note) -> bool:
    """Return whether what is built on such data is doubtful.

    Parameters
    ----------
    note : Note
        Of a component, or of what is odd about it.

    Examples
    --------
    >>> throws_doubt(Note("sizes-unusual", "...")), throws_doubt(Note("ends-early", "..."))
    (True, False)
    """
    return note.code in _SHEETS_DISAGREE or note.code in _ODD - _A_PITY
