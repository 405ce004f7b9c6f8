"""What is odd about data that can be read: a second look before anything is built on them."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any

from converter_match.library.odd.doubts import throws_doubt
from converter_match.notes import ASKED, Note

if TYPE_CHECKING:
    from converter_match.study.study import Combination, Study

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
    "Surface": f"{_ROOM}.surface",
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


def asked(component: Any) -> tuple[Note, ...]:
    """Return what was asked about a component's numbers when it was read: its own notes of that.

    `oddities` has them not: they travel with the component into every result.

    Parameters
    ----------
    component : Converter, Engine, Site or another component
    """
    notes = getattr(component, "notes", getattr(component, "given_notes", ()))
    return tuple(note for note in notes if note.code in ASKED)


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
    parts = [part for item in study.combinations for part in _parts(item)]
    named = [
        (called(item), note)
        for item in (study, *parts, *study.sites, *study.duty.routes)
        for note in (*oddities(item), *asked(item))
    ]
    return tuple(dict.fromkeys(named))


def doubts_of(study: Study, odd: Sequence[tuple[str, Note]]) -> tuple[tuple[str, str, Note], ...]:
    """Return what throws doubt on the data of each combination of a study.

    Parameters
    ----------
    study : Study
    odd : sequence of (str, Note)
        What is odd about it, as `study_oddities` has it.

    Returns
    -------
    tuple of (str, str, Note)
        Id of the combination, what it is about, and what; sites, routes and the study itself are
        in doubt for all of them.
    """
    own = {called(part) for item in study.combinations for part in _parts(item)}
    found: list[tuple[str, str, Note]] = []
    for item in study.combinations:
        mine = {called(part): part for part in _parts(item)}
        found += [
            (item.id, whose, note)
            for whose, note in odd
            if throws_doubt(note) and (whose in mine or whose not in own)
        ]
        found += [
            (item.id, whose, note)
            for whose, part in mine.items()
            for note in getattr(part, "notes", ())
            if throws_doubt(note) and (whose, note) not in odd
        ]
    return tuple(found)


def _parts(item: Combination) -> tuple[Any, ...]:
    parts = (item.engine, item.converter, item.arrangement, item.driveline, item.machine)
    return tuple(part for part in parts if part is not None)


def called(component: Any) -> str:
    """Return what to call a component of a study."""
    return f"{type(component).__name__.lower()} {component.id!r}"


def has_rules(component: Any) -> bool:
    """Return whether there are any rules for what is odd about a component of this kind."""
    return type(component).__name__ in _HOMES
