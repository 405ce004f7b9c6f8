"""What every answer that carries notes says of them, as properties and as lines of text."""

from __future__ import annotations

from collections.abc import Iterable

from converter_match.notes import Note
from converter_match.units import System, note_text


class Noted:
    """An answer with notes.

    Attributes
    ----------
    notes : tuple of Note
        Assumptions, warnings, exceeded limits and cautions, each with a stable code.
    """

    notes: tuple[Note, ...]

    @property
    def assumptions(self) -> tuple[Note, ...]:
        """What was assumed for missing data."""
        return tuple(note for note in self.notes if note.kind == "assumption")

    @property
    def warnings(self) -> tuple[Note, ...]:
        """Everything that is not an assumption: warnings, exceeded limits, cautions."""
        return tuple(note for note in self.notes if note.kind != "assumption")

    @property
    def fails(self) -> bool:
        """Whether a stated limit is exceeded, or there is no answer that can be used."""
        return any(note.kind == "limit" for note in self.notes)


def note_lines(notes: Iterable[Note], system: System) -> list[str]:
    """Return notes as lines for a console, with their codes: warnings first, then assumptions."""
    lines = []
    given = tuple(notes)
    for title, assumed in (("Warnings", False), ("Assumptions", True)):
        chosen = [note for note in given if (note.kind == "assumption") == assumed]
        if chosen:
            lines += ["", f"{title}:"]
            lines += [f"  [{note.code}] {note_text(note, system)}" for note in chosen]
    return lines
