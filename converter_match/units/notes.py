"""Notes that hold quantities, written in the units a reader wants."""

from __future__ import annotations

import re

from converter_match.notes import Kind, Note
from converter_match.units.conversion import System, from_si, show

# A number and what follows it: a unit, or a word that may be one.
_NUMBER_AND_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|°[CF]|K|kPa|kN|N·m|N|kW|hp|rpm|km/h|mph|km|mm|mi|m|ft|lbf·ft|lbf|lb|kg"
    r"|t|h|min|s|kJ|MJ|L|L/h|L/t|t/h|m/s²|J/\S+|kg/\S+)(?![\w/·]))"
)


def kept_together(text: str) -> str:
    r"""Return a text in which no line break comes between a number and its unit.

    Examples
    --------
    >>> kept_together("at 202.7 kN and 46 %").split(" ")
    ['at', '202.7\xa0kN', 'and', '46\xa0%']
    """
    return _NUMBER_AND_UNIT.sub("\N{NO-BREAK SPACE}", text)


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
        number, unit = _shown(value, dimension, system)
        words[name] = f"{number:{form}} {unit}".rstrip()
    return note.template.format(**words)


def _shown(value: float, dimension: str, system: System) -> tuple[float, str]:
    """Return a number and its unit; an altitude is a length that nobody reads in mm or inches."""
    if dimension != "altitude":
        return show(value, dimension, system)
    unit = "ft" if system == "us" else "m"
    return from_si(value, unit, "length"), unit
