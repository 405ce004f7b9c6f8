"""What is odd about data that can be read: a second look before anything is built on them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any

from converter_match.answer.remarks import said_before
from converter_match.library.odd.doubts import throws_doubt
from converter_match.notes import ASKED, Note
from converter_match.study.names import called

if TYPE_CHECKING:
    from converter_match.study.motor_study import MotorCandidate
    from converter_match.study.study import Combination, Study

_ROOM = "converter_match.library.odd"
_HOMES = {
    "Converter": f"{_ROOM}.converter",
    "Driveline": f"{_ROOM}.driveline",
    "DutyPoints": f"{_ROOM}.duty_points",
    "Engine": f"{_ROOM}.engine",
    "Machine": f"{_ROOM}.machine",
    "Motor": f"{_ROOM}.motor",
    "Route": f"{_ROOM}.route",
    "ShortCycle": f"{_ROOM}.short_cycle",
    "Site": f"{_ROOM}.site",
    "Study": f"{_ROOM}.study",
    "Surface": f"{_ROOM}.surface",
}
_PARTS = ("motor", "engine", "converter", "arrangement", "driveline", "machine")


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


def oddities_of(items: Iterable[Any]) -> tuple[tuple[str, Note], ...]:
    """Return what is odd about each of several components, and what was asked when it was read.

    Parameters
    ----------
    items : iterable of component

    Returns
    -------
    tuple of (str, Note)
        What it is about (such as ``engine 'six-cylinder'``), and what is odd; each once.
    """
    named = [(called(item), note) for item in items for note in (*oddities(item), *asked(item))]
    return tuple(dict.fromkeys(named))


def odd_beside(named: Iterable[tuple[str, Any]], notes: Sequence[Note] = ()) -> tuple[Note, ...]:
    """Return what is odd about components, each note with a name before it, for a result to say.

    Parameters
    ----------
    named : iterable of (str, component)
        What to call each.
    notes : sequence of Note
        Those of the result: a code that is among them is not said twice. A question about a number
        is one of many with its code.
    """
    said = {note.code for note in notes} - set(ASKED)
    return tuple(
        said_before(note, name)
        for name, component in named
        for note in oddities(component)
        if note.code not in said
    )


def with_odd(named: Sequence[tuple[str, Any]], notes: Sequence[Note]) -> tuple[Note, ...]:
    """Return the notes of a result, and before them what is odd about its components.

    What was asked about a number of a file when it was read gets the name of the file too.

    Parameters
    ----------
    named : sequence of (str, component)
        What to call each.
    notes : sequence of Note
        Those of the result.
    """
    whose = {note: name for name, component in named for note in asked(component)}
    own = (said_before(note, whose[note]) if note in whose else note for note in notes)
    return (*odd_beside(named, notes), *own)


def study_oddities(study: Study) -> tuple[tuple[str, Note], ...]:
    """Return what is odd about a study and all that it names, as `oddities_of` does.

    Parameters
    ----------
    study : Study
    """
    parts = [part for item in study.combinations for part in parts_of(item)]
    return oddities_of((study, *parts, *study.sites, *study.duty.routes))


def doubts_of(
    named: Iterable[tuple[str, Sequence[Any]]],
    odd: Sequence[tuple[str, Note]],
    others: Iterable[Any] = (),
) -> tuple[tuple[str, str, Note], ...]:
    """Return what throws doubt on the data of each of several combinations.

    Parameters
    ----------
    named : iterable of (str, sequence of component)
        Id of a combination, and its parts.
    odd : sequence of (str, Note)
        What is odd about them and what they are judged by, as `oddities_of` has it.
    others : iterable of component
        Parts that are none of theirs, and throw no doubt on them.

    Returns
    -------
    tuple of (str, str, Note)
        Id of the combination, what it is about, and what; what is no part of any combination
        (a site, a route, the study itself) is in doubt for all of them.
    """
    each = [(key, {called(part): part for part in parts}) for key, parts in named]
    own = {whose for _, mine in each for whose in mine} | {called(part) for part in others}
    found: list[tuple[str, str, Note]] = []
    for key, mine in each:
        found += [
            (key, whose, note)
            for whose, note in odd
            if throws_doubt(note) and (whose in mine or whose not in own)
        ]
        found += [
            (key, whose, note)
            for whose, part in mine.items()
            for note in getattr(part, "notes", ())
            if throws_doubt(note) and (whose, note) not in odd
        ]
    return tuple(found)


def parts_of(item: Combination | MotorCandidate) -> tuple[Any, ...]:
    """Return the parts that a combination of a study is made of, a second engine included."""
    parts = [part for name in _PARTS if (part := getattr(item, name, None)) is not None]
    return (*parts, *(inner for part in parts for inner in parts_within(part)))


def parts_within(component: Any) -> tuple[Any, ...]:
    """Return the components that a file names within itself: an arrangement's second ones.

    Parameters
    ----------
    component : Arrangement or another component
    """
    second = getattr(component, "parallel", None)
    both = (getattr(second, name, None) for name in ("engine", "converter"))
    return tuple(part for part in both if part is not None)


def has_rules(component: Any) -> bool:
    """Return whether there are any rules for what is odd about a component of this kind."""
    return type(component).__name__ in _HOMES
