"""The files that a report was made from, as copies in its folder, with an index to run them again.

Copies keep the name and the bytes of the file; the index says which of them was read for what, so
that the study stands there as it was written, and its checksum holds.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, get_args

from converter_match.errors import InputError, shown
from converter_match.library.files import FilePath, read_bytes, read_text
from converter_match.study.study import InputFile
from converter_match.units import System
from converter_match.version import __version__

INPUTS, INDEX = "inputs", "index.json"
SCHEMA = "converter-match/report-inputs/1"
STUDY = "study"
_REPORT = "the folder of a report with its inputs"
# The last word of a role -> the folder of its copies, named as those of the shipped files.
_FOLDERS = {
    "study": "studies",
    "engine": "engines",
    "converter": "converters",
    "arrangement": "arrangements",
    "driveline": "drivelines",
    "machine": "machines",
    "sites": "sites",
    "routes": "routes",
    "points": "duties",
    "surfaces": "surfaces",
    "siblings": "converters",
    "ratings": "engines",
    "log": "logs",
    "identified": "logs",
}


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What a report was asked for beside its study.

    Parameters
    ----------
    units : {"si", "us"}
    tables : {"si", "us"}
        Of the CSV tables.
    draws : int
        Zero where nothing was drawn.
    seed : int
    """

    units: System
    tables: System
    draws: int
    seed: int


@dataclass(frozen=True, kw_only=True)
class Copies:
    """The index of a report's inputs, read.

    Parameters
    ----------
    settings : Settings
    version : str
        Of the program that wrote the report.
    study : Path
        The copy of the study file.
    written : str
        How the study called itself.
    paths : mapping of str to Path
        Role, e.g. ``candidate[0].engine`` -> the copy.
    """

    settings: Settings
    version: str
    study: Path
    written: str
    paths: Mapping[str, Path]


def copies_of(inputs: Iterable[InputFile]) -> tuple[tuple[InputFile, str], ...]:
    """Return every file that went into a study with the place of its copy.

    One file that was read twice has one copy; two files of one name lie in two folders.

    Parameters
    ----------
    inputs : iterable of InputFile

    Returns
    -------
    tuple of (InputFile, str)
        Places relative to the report's folder, with ``/``.
    """
    taken: dict[str, str] = {}  # a place in small letters, as some file systems see it -> checksum
    placed = []
    for item in inputs:
        role = item.role.split("[")[0] if item.role.endswith("]") else item.role
        folder = _FOLDERS[role.rsplit(".", 1)[-1]]
        name = item.name
        number = 1
        while True:
            place = f"{INPUTS}/{folder}{'' if number == 1 else f'-{number}'}/{name}"
            if taken.setdefault(place.casefold(), item.sha256) == item.sha256:
                break
            number += 1
        placed.append((item, place))
    return tuple(placed)


def index_text(inputs: Iterable[InputFile], settings: Settings) -> str:
    """Return the index that `read_copies` reads.

    Parameters
    ----------
    inputs : iterable of InputFile
    settings : Settings
    """
    files = [
        {"role": item.role, "path": item.path, "copy": place, "sha256": item.sha256}
        for item, place in copies_of(inputs)
    ]
    index = {"schema": SCHEMA, "version": __version__, **vars(settings), "files": files}
    return json.dumps(index, indent=2) + "\n"


def read_copies(folder: FilePath) -> Copies:
    """Return what a report was made from.

    Parameters
    ----------
    folder : path
        Of the report.

    Raises
    ------
    InputError
        If it is no report with its inputs, its index cannot be read, a copy is missing, or a copy
        is no longer what the report was made from.
    """
    place = Path(folder) / INPUTS / INDEX
    if not place.is_file():
        raise InputError(
            "is a folder without the inputs of a report",
            source=os.fspath(folder),
            expected=f"a study file, or {_REPORT}",
        )
    index = _Index(str(place), _parsed(place))
    paths, written = {}, ""
    for row, entry in enumerate(index.rows()):
        role, copy = (index.text(entry, key, row) for key in ("role", "copy"))
        path = _checked(index, row, Path(folder), copy, index.text(entry, "sha256", row))
        paths[role] = path
        if role == STUDY:
            written = index.text(entry, "path", row)
    if STUDY not in paths:
        raise index.wrong("files", "no study among them", "one of the role 'study'")
    return Copies(
        settings=index.settings(),
        version=str(index.data.get("version", "")),
        study=paths[STUDY],
        written=written,
        paths=paths,
    )


def inputs_as_written(folder: Path) -> frozenset[str] | None:
    """Return the places of a report's inputs, none of them changed since; None where one is.

    Parameters
    ----------
    folder : Path
        Of the report.
    """
    try:
        copies = read_copies(folder)
    except InputError:
        return None
    index = (Path(folder) / INPUTS / INDEX, *copies.paths.values())
    return frozenset(path.relative_to(folder).as_posix() for path in index)


def _parsed(place: Path) -> dict[str, Any]:
    try:
        data = json.loads(read_text(place, "the index of a report's inputs (JSON text)"))
    except (json.JSONDecodeError, RecursionError):
        data = None
    if not isinstance(data, dict) or data.get("schema") != SCHEMA:
        raise InputError(
            "not the index of a report's inputs",
            source=str(place),
            expected=f'JSON with "schema": "{SCHEMA}"',
        )
    return data


@dataclass(frozen=True)
class _Index:
    source: str
    data: dict[str, Any]

    def wrong(self, field: str, found: object, expected: str) -> InputError:
        return InputError(
            "not as a report writes it",
            source=self.source,
            field=field,
            found=found,
            expected=expected,
        )

    def rows(self) -> list[dict[str, Any]]:
        rows = self.data.get("files")
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise self.wrong("files", shown(rows), "a list of files")
        return rows

    def text(self, entry: dict[str, Any], key: str, row: int) -> str:
        value = entry.get(key)
        if not isinstance(value, str):
            raise self.wrong(f"files[{row}].{key}", value, "a text")
        return value

    def unit_system(self, key: str) -> System:
        given = self.data.get(key)
        known: tuple[System, ...] = get_args(System)
        for one in known:
            if one == given:
                return one
        raise self.wrong(key, given, " | ".join(known))

    def settings(self) -> Settings:
        units, tables = self.unit_system("units"), self.unit_system("tables")
        numbers = {}
        for key in ("draws", "seed"):
            value = self.data.get(key)
            if not isinstance(value, int) or isinstance(value, bool) or value < 0:
                raise self.wrong(key, value, "a whole number, zero or above")
            numbers[key] = value
        return Settings(units=units, tables=tables, **numbers)


def _checked(index: _Index, row: int, folder: Path, copy: str, sha256: str) -> Path:
    """Return the path of a copy, if it lies among the inputs and is what it was."""
    parts = PurePosixPath(copy).parts
    # On each system by its own rules: no drive, no way up, nothing but names.
    if parts[:1] != (INPUTS,) or not all(Path(part).name == part for part in parts):
        raise index.wrong(f"files[{row}].copy", copy, f"a file below {INPUTS}/")
    path = folder.joinpath(*parts)
    if hashlib.sha256(read_bytes(path)).hexdigest() != sha256:
        raise InputError(
            "is not the file that this report was made from: its checksum is another",
            source=str(path),
            hint="to try another value, give a study of your own that names changed files",
        )
    return path
