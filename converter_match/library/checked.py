"""Can a file be read, and is anything odd about its data: files of every kind."""

from __future__ import annotations

from collections.abc import Callable, Sized
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.components.load import ShaftLoad
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.library.check import (
    asked,
    has_rules,
    oddities,
    oddities_of,
    parts_within,
    study_oddities,
)
from converter_match.library.words import WORDS
from converter_match.notes import ASKED, Note
from converter_match.units import note_plain

_FILE = (
    Heading("file", ""),
    Heading("readable", ""),
    Heading("id", ""),
    Heading("kind", ""),
    Heading("rules", ""),
)


# Says how much is in a table, and gives what was read.
_TableReader = Callable[[], tuple[str, tuple[Any, ...]]]


@dataclass(frozen=True, kw_only=True, repr=False)
class CheckedFile(Answer):
    """What a file was found to be.

    Parameters
    ----------
    file : str
        The path as given.
    id, kind : str
    size : str
        How much is in it, where that is not plain.
    odd : tuple of (str, Note)
        Whose, where it is not the file's own, and what.
    notes : tuple of Note
        That the component carries.
    rules : bool
        Whether there are rules for what is odd about such data.
    """

    file: str
    id: str
    kind: str
    size: str = ""
    odd: tuple[tuple[str, Note], ...] = ()
    notes: tuple[Note, ...] = ()
    rules: bool = False

    def blocks(self) -> tuple[Block, ...]:
        """Return what the file is, and what is odd about it."""
        code = "can-be-read-with" if self.size else "can-be-read"
        kind = "blading" if self.kind == "bladinggeometry" else self.kind
        head = WORDS.note(code, file=self.file, kind=kind, id=repr(self.id), size=self.size)
        items = [
            WORDS.note("is-odd-of", code=note.code, whose=whose, what=note)
            if whose
            else WORDS.note("is-odd", code=note.code, what=note)
            for whose, note in self.odd
        ]
        if not self.odd:
            items.append(WORDS.note("nothing-odd" if self.rules else "not-judged"))
        facts = (self.file, True, self.id, self.kind, self.rules)
        return (
            Block("", facts=tuple(zip(_FILE, facts, strict=True)), above=(head,)),
            Block("", items=tuple(items), in_plain=False),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data; what is odd says of what, where it is not the file's own."""
        return plain(self.blocks()) | {
            "odd": [
                note_plain(note) | ({"of": whose} if whose else {}) for whose, note in self.odd
            ],
            "notes": [note_plain(note) for note in self.notes],
        }


def check_file(path: str, surfaces: tuple[Surface, ...] | None = None) -> CheckedFile:
    """Read a file by its kind, and look for what is odd.

    Parameters
    ----------
    path : str
    surfaces : tuple of Surface, optional
        That routes and cycles may name; the shipped ones without.

    Raises
    ------
    InputError
        If it cannot be read, or is of no kind that is read here.

    Examples
    --------
    >>> from converter_match.library.route_csv import find_route
    >>> check_file(str(find_route("too-steep"))).size
    '4 segments'
    """
    from converter_match.library.recognise import CHART, MAPPING, SHEET, TABLES, recognise

    kind = recognise(path)
    if kind is None or (not kind.columns and kind not in (CHART, MAPPING, SHEET)):
        return _toml(path)
    readers = _table_readers(path, surfaces)
    if kind.name in readers:
        size, read = readers[kind.name]()
        return CheckedFile(
            file=path,
            id=Path(path).stem,
            kind=kind.name,
            size=size,
            odd=tuple(
                (getattr(item, "name", "") if len(read) > 1 else "", note)
                for item in read
                for note in oddities(item)
            ),
            rules=any(map(has_rules, read)),
        )
    tables = ", ".join(dict.fromkeys(known.name for known in TABLES))
    raise InputError(
        "is no file that is checked here",
        source=path,
        expected=f"a component, surfaces or study file (TOML), or a table (CSV): {tables}",
        hint=f"it looks like {kind.called}: see `converter-match {kind.goes_to}`",
    )


def _toml(path: str) -> CheckedFile:
    from converter_match.library.catalogue_file import SCHEMA as CATALOGUE
    from converter_match.library.catalogue_file import read_catalogue
    from converter_match.library.files import read_toml
    from converter_match.library.motor_study_file import SCHEMA as MOTOR_STUDY
    from converter_match.library.motor_study_file import read_motor_study
    from converter_match.library.read import read_component
    from converter_match.library.study_file import SCHEMA, read_study
    from converter_match.library.surfaces import SCHEMA as SURFACES
    from converter_match.library.surfaces import read_surfaces

    schema = None
    if Path(path).suffix.lower() != ".csv":
        schema = read_toml(path).data.get("schema")
    if schema == SURFACES:
        surfaces = read_surfaces(path)
        size = _many(surfaces, "surface")
        odd = tuple((surface.name, note) for surface in surfaces for note in oddities(surface))
        return CheckedFile(
            file=path, id=Path(path).stem, kind="surfaces", size=size, odd=odd, rules=True
        )
    if schema == SCHEMA:
        study = read_study(path)
        odd = study_oddities(study)
        size = f"with {_many(study.candidates, 'candidate')}"
        return CheckedFile(file=path, id=study.id, kind="study", size=size, odd=odd, rules=True)
    if schema == MOTOR_STUDY:
        motors = read_motor_study(path)
        size = f"with {_many(motors.candidates, 'candidate')}"
        return CheckedFile(
            file=path, id=motors.id, kind="motor study", size=size, odd=motors.odd, rules=True
        )
    if schema == CATALOGUE:
        parts = read_catalogue(path)
        size = f"with {parts.count} combinations"
        return CheckedFile(
            file=path, id=parts.id, kind="catalogue", size=size, odd=parts.odd, rules=True
        )
    component = read_component(path)
    return CheckedFile(
        file=path,
        id=component.id,
        kind=_kind(component),
        odd=(
            *(("", note) for note in (*oddities(component), *asked(component))),
            *oddities_of(parts_within(component)),
        ),
        notes=tuple(note for note in getattr(component, "notes", ()) if note.code not in ASKED),
        rules=True,
    )


def _kind(component: object) -> str:
    """Return the kind of a component: that of its file where its class is called otherwise."""
    return "load" if isinstance(component, ShaftLoad) else type(component).__name__.lower()


def _table_readers(path: str, surfaces: tuple[Surface, ...] | None) -> dict[str, _TableReader]:
    """Return, by kind of table, what reads it."""
    from converter_match.library.cycle_csv import read_cycle
    from converter_match.library.duty_csv import read_duty
    from converter_match.library.fuel_csv import read_fuel_map
    from converter_match.library.intake.mapping import read_mapping
    from converter_match.library.route_csv import read_route
    from converter_match.library.stall_log import read_log
    from converter_match.library.stall_readings import read_readings
    from converter_match.library.surfaces import read_surfaces

    def of(read: Callable[[], Any], what: str, many: Callable[[Any], Sized]) -> _TableReader:
        def reader() -> tuple[str, tuple[Any, ...]]:
            table = read()
            return _many(many(table), what), (table if isinstance(table, tuple) else (table,))

        return reader

    def rows(table: Any) -> Sized:
        found: Sized = table
        return found

    return {
        "stall log": of(lambda: read_log(path), "test", rows),
        "surfaces": of(lambda: read_surfaces(path), "surface", rows),
        "route": of(lambda: read_route(path, surfaces), "segment", lambda route: route.length),
        "cycle": of(lambda: read_cycle(path, surfaces), "phase", lambda cycle: cycle.phases),
        "duty": of(lambda: read_duty(path), "point", lambda duty: duty.label),
        "fuel map": of(lambda: read_fuel_map(path), "point", lambda map_: map_.rate.ravel()),
        "machine log": lambda: (_machine_log(path), ()),
        "readings": of(lambda: read_readings(path), "reading", rows),
        "mapping": of(
            lambda: read_mapping(path),
            "word",
            lambda words: [w for row in words.values() for w in row],
        ),
    }


def _machine_log(path: str) -> str:
    from converter_match.library.machine_log import MachineLog

    # Torque in percent is read as a share of 1 N.m: the numbers are not used.
    log = MachineLog(path, reference_torque=1.0 if MachineLog(path).in_shares else None)
    for _ in log.pieces():
        pass
    return f"{log.tally.rows} rows"


def _many(items: Sized, what: str) -> str:
    return f"{len(items)} {what}{'' if len(items) == 1 else 's'}"
