"""What is odd about data that can be read: a second look before anything is built on them."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from converter_match.notes import Note

_ROOM = "converter_match.library.odd"
_HOMES = {
    "Converter": f"{_ROOM}.converter",
    "Driveline": f"{_ROOM}.driveline",
    "Engine": f"{_ROOM}.engine",
    "Machine": f"{_ROOM}.machine",
    "Site": f"{_ROOM}.site",
}


def oddities(component: Any) -> tuple[Note, ...]:
    """Return what is odd about a component.

    Parameters
    ----------
    component : Converter, Engine, Site or another component
        As it was read. There are no rules for some kinds; those are never odd.

    Returns
    -------
    tuple of Note
        Warnings with stable codes. What a component says of itself stands in its `notes` and is
        not repeated.

    Examples
    --------
    >>> from converter_match.library.read import read_converter
    >>> from converter_match.library.shipped import shipped
    >>> converter = read_converter(shipped("converters")["single-stage-345mm-tight"])
    >>> oddities(converter)
    ()
    >>> ten_times_the_torque = converter.replace(capacity=10 * converter.capacity)
    >>> [note.code for note in oddities(ten_times_the_torque)]
    ['stall-capacity-implausible']
    """
    home = _HOMES.get(type(component).__name__)
    return tuple(import_module(home).oddities(component)) if home else ()


def has_rules(component: Any) -> bool:
    """Return whether there are any rules for what is odd about a component of this kind."""
    return type(component).__name__ in _HOMES
