"""What is odd about data that can be read: a second look before anything is built on them."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from converter_match.notes import Note

if TYPE_CHECKING:
    from converter_match.study.study import Study

_ROOM = "converter_match.library.odd"
_HOMES = {
    "Converter": f"{_ROOM}.converter",
    "Driveline": f"{_ROOM}.driveline",
    "Engine": f"{_ROOM}.engine",
    "Machine": f"{_ROOM}.machine",
    "Motor": f"{_ROOM}.motor",
    "Route": f"{_ROOM}.route",
    "Site": f"{_ROOM}.site",
    "Study": f"{_ROOM}.study",
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


def study_oddities(study: Study) -> tuple[tuple[str, Note], ...]:
    """Return what is odd about a study and all that it names.

    Parameters
    ----------
    study : Study

    Returns
    -------
    tuple of (str, Note)
        What it is about (such as ``engine 'six-cylinder'``), and what is odd; each once.
    """
    parts = [
        part
        for item in study.combinations
        for part in (item.engine, item.converter, item.driveline, item.machine)
    ]
    named = [
        (called(item), note)
        for item in (study, *parts, *study.sites, *study.duty.routes)
        if item is not None
        for note in oddities(item)
    ]
    return tuple(dict.fromkeys(named))


def called(component: Any) -> str:
    """Return what to call a component of a study."""
    return f"{type(component).__name__.lower()} {component.id!r}"


def has_rules(component: Any) -> bool:
    """Return whether there are any rules for what is odd about a component of this kind."""
    return type(component).__name__ in _HOMES
