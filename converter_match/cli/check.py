"""Verb ``check``: can files be read, and is anything odd about their data."""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from converter_match.cli import options
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.units import note_plain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from converter_match.components.surface import Surface

NAME = "check"
HELP = "check files of every kind and say what is odd about their data"
DESCRIPTION = """\
Check files: can they be read, and is anything odd about the data?

Takes every kind of file that the tool reads: components, surfaces and studies (TOML, with all the
files that a study names), routes, short cycles, fuel maps, tables of surfaces, machine logs, logs
and readings of stall tests (CSV), mappings of headings (TOML). Dealers' sheets and charts are for
`converter-match intake`.

examples:
  converter-match check my-engine.toml my-converter.toml
  converter-match check my-route.csv --surfaces my-surfaces.toml
  converter-match check *.toml --json"""


@dataclass(frozen=True)
class _Checked:
    """What a file was found to be.

    Parameters
    ----------
    id, kind : str
    size : str
        How much is in it, where that is not plain.
    odd : tuple of (str, Note)
        Whose, where it is not the file's own, and what.
    notes : tuple of Note
    rules : bool
        Whether there are rules for what is odd about such data.
    """

    id: str
    kind: str
    size: str = ""
    odd: tuple[tuple[str, Note], ...] = ()
    notes: tuple[Note, ...] = ()
    rules: bool = False


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument(
        "files", nargs="+", metavar="FILE", help="component, study, route, log, ..."
    )
    parser.add_argument(
        "--surfaces", metavar="FILE", help="surfaces of your own that routes and cycles name"
    )
    parser.add_argument("--json", action="store_true", help="print the findings as JSON")
    options.add_units(parser)


def run(args: argparse.Namespace) -> int:
    """Check every file, also those after a bad one; return the exit status."""
    from converter_match.cli import BAD_INPUT
    from converter_match.library.surfaces import read_surfaces
    from converter_match.units import note_text

    surfaces = (*read_surfaces(args.surfaces), *read_surfaces()) if args.surfaces else None
    report: list[dict[str, Any]] = []
    bad = 0
    for path in args.files:
        try:
            checked = _check(path, surfaces)
        except InputError as error:
            bad += 1
            report.append({"file": str(path), "readable": False, "error": str(error)})
            print(f"converter-match: {error}", file=sys.stderr)
            continue
        report.append(
            {
                "file": str(path),
                "readable": True,
                "id": checked.id,
                "kind": checked.kind,
                "odd": [note_plain(note) | ({"of": whose} if whose else {})
                        for whose, note in checked.odd],
                "notes": [note_plain(note) for note in checked.notes],
                "rules": checked.rules,
            }
        )  # fmt: skip
        if args.json:
            continue
        kind = "blading" if checked.kind == "bladinggeometry" else checked.kind
        print(f"{path}: {kind} {checked.id!r} can be read{checked.size}")
        for whose, note in checked.odd:
            print(
                f"  odd [{note.code}] {whose}{': ' if whose else ''}{note_text(note, args.units)}"
            )
        for note in checked.notes:
            options.say(f"  note [{note.code}] {note_text(note, args.units)}")
        if not checked.odd:
            print(
                "  nothing odd found"
                if checked.rules
                else "  not judged: there are no rules for odd data in this kind of file"
            )
    if args.json:
        options.print_json({"files": report})
    return BAD_INPUT if bad else 0


def _check(path: str, surfaces: tuple[Surface, ...] | None) -> _Checked:
    """Read a file by its kind.

    Raises
    ------
    InputError
        If it cannot be read, or is of no kind that is read here.
    """
    from converter_match.library.recognise import CHART, MAPPING, SHEET, TABLES, recognise

    kind = recognise(path)
    if kind is None or (not kind.columns and kind not in (CHART, MAPPING, SHEET)):
        return _toml(path)
    readers = _table_readers(path, surfaces)
    if kind.name in readers:
        return _Checked(Path(path).stem, kind.name, size=f", {readers[kind.name]()}")
    tables = ", ".join(dict.fromkeys(known.name for known in TABLES))
    raise InputError(
        "is no file that is checked here",
        source=path,
        expected=f"a component, surfaces or study file (TOML), or a table (CSV): {tables}",
        hint=f"it looks like {kind.called}: see `converter-match {kind.goes_to}`",
    )


def _toml(path: str) -> _Checked:
    from converter_match.library.check import has_rules, oddities
    from converter_match.library.files import read_toml
    from converter_match.library.read import read_component
    from converter_match.library.study_file import SCHEMA, read_study
    from converter_match.library.surfaces import SCHEMA as SURFACES
    from converter_match.library.surfaces import read_surfaces

    schema = None
    if Path(path).suffix.lower() != ".csv":
        schema = read_toml(path).data.get("schema")
    if schema == SURFACES:
        found = read_surfaces(path)
        return _Checked(Path(path).stem, "surfaces", size=f", {_many(found, 'surface')}")
    if schema == SCHEMA:
        study = read_study(path)
        parts = [study.present, *study.candidates]
        components: Iterable[Any] = (
            part
            for combination in parts
            if combination is not None
            for name in ("engine", "converter", "driveline", "machine")
            if (part := getattr(combination, name)) is not None
        )
        named = {
            (type(item).__name__.lower(), item.id): item for item in (*components, *study.sites)
        }
        odd = tuple(
            (f"{kind} {id_!r}", note)
            for (kind, id_), item in named.items()
            for note in oddities(item)
        )
        size = f", with {_many(study.candidates, 'candidate')}"
        return _Checked(study.id, "study", size=size, odd=odd, rules=True)
    component = read_component(path)
    return _Checked(
        component.id,
        type(component).__name__.lower(),
        odd=tuple(("", note) for note in oddities(component)),
        notes=tuple(getattr(component, "notes", ())),
        rules=has_rules(component),
    )


def _table_readers(path: str, surfaces: tuple[Surface, ...] | None) -> dict[str, Callable[[], str]]:
    """Return, by kind of table, what reads it and says how much there is."""
    from converter_match.library.cycle_csv import read_cycle
    from converter_match.library.fuel_csv import read_fuel_map
    from converter_match.library.intake.mapping import read_mapping
    from converter_match.library.route_csv import read_route
    from converter_match.library.stall_log import read_log
    from converter_match.library.stall_readings import read_readings
    from converter_match.library.surfaces import read_surfaces

    return {
        "stall log": lambda: _many(read_log(path), "test"),
        "surfaces": lambda: _many(read_surfaces(path), "surface"),
        "route": lambda: _many(read_route(path, surfaces).length, "segment"),
        "cycle": lambda: _many(read_cycle(path, surfaces).phases, "phase"),
        "fuel map": lambda: _many(read_fuel_map(path).rate.ravel(), "point"),
        "machine log": lambda: _machine_log(path),
        "readings": lambda: _many(read_readings(path), "reading"),
        "mapping": lambda: _many(
            [w for words in read_mapping(path).values() for w in words], "word"
        ),
    }


def _machine_log(path: str) -> str:
    from converter_match.library.machine_log import MachineLog

    # Torque in percent is read as a share of 1 N.m: the numbers are not used.
    log = MachineLog(path, reference_torque=1.0 if _in_percent(path) else None)
    for _ in log.pieces():
        pass
    return f"{log.tally.rows} rows"


def _in_percent(path: str) -> bool:
    with open(path, encoding="utf-8-sig", errors="replace") as file:
        head = next((line for line in file if line.strip() and line.lstrip()[0] != "#"), "")
    torque = head.casefold().partition("engine torque")[2].partition("]")[0]
    return "%" in torque or "percent" in torque


def _many(items: Any, what: str) -> str:
    return f"{len(items)} {what}{'' if len(items) == 1 else 's'}"
