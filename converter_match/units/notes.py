"""Notes put into words, in the units a reader wants."""

from __future__ import annotations

from string import Formatter
from typing import Any

from converter_match.notes import Note
from converter_match.units.amounts import shown_text
from converter_match.units.conversion import System

HELD = "\N{NO-BREAK SPACE}"
"""Stands between a number and its unit while lines are being broken."""


class _Places(Formatter):
    """Fills ``{name:amount form}`` with a number and its unit, ``{name}`` with a text."""

    def __init__(self, system: System, between: str) -> None:
        self.system, self.between = system, between

    def format_field(self, value: Any, format_spec: str) -> str:
        if not format_spec:
            return str(value)
        amount, _, form = format_spec.partition(" ")
        if amount[:1] in (".", "+"):  # a pure number
            return format(value, amount)
        return shown_text(float(value), amount, self.system, form).replace(" ", self.between)


def note_text(note: Note, system: System, *, between: str = " ") -> str:
    """Return the words of a note with its values in a unit system.

    Parameters
    ----------
    note : Note
    system : {"si", "us"}
    between : str
        What stands between a number and its unit: `HELD` where lines will be broken.

    Examples
    --------
    >>> note_text(Note("a", "At {v:velocity .0f}.", values=(("v", 10.0),)), "si")
    'At 36 km/h.'
    """
    if not note.values:
        return note.message
    return _Places(system, between).vformat(note.message, (), dict(note.values))


def note_plain(note: Note) -> dict[str, str]:
    """Return a note as plain data: code, kind, and its words in metric trade units."""
    return {"code": note.code, "message": note_text(note, "si"), "kind": note.kind}
