"""Notes that travel with a component or a result: assumptions, warnings, cautions.

Codes are stable: scripts may rely on them. The words may improve.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal

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
    """

    code: str
    message: str
    kind: Kind = "warning"

    def to_dict(self) -> dict[str, str]:
        """Return the note as plain data."""
        return asdict(self)


def assumption(code: str, message: str) -> Note:
    """Return a note on an assumption made for missing data."""
    return Note(code, message, "assumption")
