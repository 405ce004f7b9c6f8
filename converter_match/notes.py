"""Notes that travel with a component or a result: assumptions, warnings, cautions.

Codes are stable: scripts may rely on them. The words may improve.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# (name in the template, SI value, dimension, number format)
Quantity = tuple[str, float, str, str]
Kind = Literal["assumption", "warning", "limit", "caution"]


@dataclass(frozen=True)
class Note:
    """One thing a reader of a number has to know.

    Parameters
    ----------
    code : str
        Stable, lower-case, hyphenated.
    message : str
        One or two plain sentences.
    kind : {"assumption", "warning", "limit", "caution"}
        ``assumption``: made for missing data. ``warning``: something is odd or unfavourable.
        ``limit``: a limit given in the data is exceeded. ``caution``: somebody could get hurt.
    template, quantities : str, tuple
        Where the message holds quantities: the same words with a place for each, and the values in
        SI, so that whoever shows the note can use other units (`units.note_text`).
    """

    code: str
    message: str
    kind: Kind = "warning"
    template: str = ""
    quantities: tuple[Quantity, ...] = ()

    def to_dict(self) -> dict[str, str]:
        """Return the note as plain data."""
        return {"code": self.code, "message": self.message, "kind": self.kind}


def assumption(code: str, message: str) -> Note:
    """Return a note on an assumption made for missing data."""
    return Note(code, message, "assumption")
