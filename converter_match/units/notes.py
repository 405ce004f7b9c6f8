"""Notes that hold quantities, written in the units a reader wants."""

from __future__ import annotations

from converter_match.notes import Kind, Note
from converter_match.units.conversion import System, show


def quantity_note(
    code: str, template: str, kind: Kind = "warning", **quantities: tuple[float, str, str]
) -> Note:
    """Return a note whose words hold quantities; its message is in metric trade units.

    Parameters
    ----------
    code : str
    template : str
        With a place ``{name}`` for each quantity.
    kind : str
    **quantities : tuple of (float, str, str)
        SI value, dimension, number format; e.g. ``speed=(188.5, "angular_speed", ".0f")``.
    """
    places = tuple((name, *quantity) for name, quantity in quantities.items())
    note = Note(code, "", kind, template, places)
    return Note(code, note_text(note, "si"), kind, template, places)


def note_text(note: Note, system: System) -> str:
    """Return the words of a note with its quantities in a unit system."""
    if not note.template:
        return note.message
    words = {}
    for name, value, dimension, form in note.quantities:
        number, unit = show(value, dimension, system)
        words[name] = f"{number:{form}} {unit}".rstrip()
    return note.template.format(**words)
