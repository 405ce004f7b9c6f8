"""A catalogue file becomes a `PartsCatalogue`, with every part that it names.

What may stand in the file is `library.schema.catalogue`.
"""

from __future__ import annotations

import fnmatch
import glob
import hashlib
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from converter_match.errors import NO_SUCH_FILE, InputError
from converter_match.library.assemble.places import said_in_file_words
from converter_match.library.check import doubts_of, oddities_of, parts_of
from converter_match.library.files import FilePath, TomlFile, expect_schema, read_bytes, read_toml
from converter_match.library.named import found_beside, named_by
from converter_match.library.names import refuse_far
from converter_match.library.problems import validated
from converter_match.library.read import read_converter, read_driveline, read_engine, read_site
from converter_match.library.schema.spans import questions, refuse_impossible
from converter_match.library.shipped import find, shipped
from converter_match.library.study_file import find_study, read_study
from converter_match.study.catalogue import PartsCatalogue
from converter_match.study.names import called
from converter_match.study.study import PRESENT, InputFile, Study

SCHEMA = "converter-match/catalogue/1"
MOST_FILES = 2000
"""Files that one list may mean."""
_LISTS: dict[str, tuple[str, Callable[[FilePath], Any]]] = {
    "engines": ("engine", read_engine),
    "converters": ("converter", read_converter),
    "drivelines": ("driveline", read_driveline),
}
_WILD = "*?["


def read_catalogue(path: FilePath) -> PartsCatalogue:
    """Return the catalogue that a TOML file describes, its parts read.

    Parameters
    ----------
    path : str or path-like
        The file, or the id of a shipped catalogue. Paths inside it are relative to its folder; what
        is no file there is looked up among the shipped ones.

    Returns
    -------
    PartsCatalogue
        With the checksum of every file that went into it.

    Raises
    ------
    InputError
        Naming file and field.

    Examples
    --------
    >>> read_catalogue("quarry-loader-parts").count
    12
    """
    file = find("catalogues", path)
    toml = read_toml(file)
    expect_schema(toml, SCHEMA, "catalogue file")
    try:
        return _Reader(toml, file).catalogue()
    except InputError as error:
        raise error.located(source=toml.source) from None


class _Reader:
    """Reads what a catalogue names, and keeps book of it."""

    def __init__(self, toml: TomlFile, path: Path) -> None:
        from converter_match.library.schema.catalogue import CatalogueFile

        self.file = validated(CatalogueFile, toml)
        self.toml, self.folder = toml, path.parent
        self.inputs = [_input("catalogue", path.name, path)]

    def catalogue(self) -> PartsCatalogue:
        """Return the catalogue."""
        file, study = self.file, self._study()
        lists: dict[str, Any] = {
            name: self._parts(name, getattr(file, name), study) for name in _LISTS
        }
        diameters = () if file.diameters is None else tuple(map(float, file.diameters.si))
        stretch: dict[str, Any] = {} if file.stretch is None else {"stretch": file.stretch.si}
        places: dict[str, Any] = {
            "diameters": ("diameters", file.diameters), "stretch": ("stretch", file.stretch),
        }  # fmt: skip
        with said_in_file_words(places):
            catalogue = PartsCatalogue(
                id=file.id,
                name=file.name,
                source=file.source,
                study=study,
                diameters=diameters,
                each_site=file.each_site,
                inputs=tuple(self.inputs),
                **lists,
                **stretch,
            )
        refuse_impossible(file, self.toml.source)
        # The study's own candidates are left aside, and what is odd about them with them.
        present = () if study.present is None else parts_of(study.present)
        every = (*catalogue.engines, *catalogue.converters, *catalogue.drivelines)
        listed: list[Any] = [part for part in every if part is not None]
        odd = (
            *oddities_of((*present, *listed, *study.sites, *study.duty.routes)),
            *(pair for pair in study.odd if pair[0] == called(study)),
            *((called(catalogue), note) for note in questions(file)),
        )
        named: list[tuple[str, tuple[Any, ...]]] = [(called(part), (part,)) for part in listed]
        if present:
            named.append((PRESENT, present))
        return catalogue.replace(odd=odd, doubts=doubts_of(named, odd))

    def _study(self) -> Study:
        written = self.file.study
        path = self._found("study", written, find_study)
        with named_by(self.toml.source, "study", path):
            study = read_study(path)
        self.inputs += study.inputs
        if self.file.sites is None:
            return study
        files = self._files("sites", self.file.sites, "site")
        return study.replace(sites=tuple(self._read("sites", one, read_site) for one in files))

    def _parts(self, name: str, written: Sequence[str] | None, study: Study) -> tuple[Any, ...]:
        kind, reader = _LISTS[name]
        if written is not None:
            return tuple(self._read(name, one, reader) for one in self._files(name, written, kind))
        own = None if study.present is None else getattr(study.present, kind)
        if own is None and kind != "driveline":
            raise InputError(
                "missing", field=name,
                expected=f"a list of {name}, since there is no present machine to take one from",
            )  # fmt: skip
        return (own,)

    def _files(self, name: str, written: Sequence[str], kind: str) -> list[tuple[str, Path]]:
        """Return every file that a list means, each once, with how it is written."""
        found: dict[Path, str] = {}
        for row, one in enumerate(written):
            for path in self._meant(f"{name}[{row}]", one, name):
                found.setdefault(path, one)
            if len(found) > MOST_FILES:
                raise InputError(
                    "means too many files", field=f"{name}[{row}]", found=one,
                    expected=f"at most {MOST_FILES} {name}",
                )  # fmt: skip
        return [(one, path) for path, one in found.items()]

    def _found(self, place: str, written: str, search: Callable[[str | Path], Path]) -> Path:
        return found_beside(
            written, self.folder, search, source=self.toml.source, field=place, what="catalogue"
        )

    def _meant(self, place: str, written: str, folder: str) -> list[Path]:
        if not any(sign in written for sign in _WILD):
            return [self._found(place, written, lambda name: find(folder, name))]
        refuse_far(written, field=place)
        pattern = os.path.join(glob.escape(str(self.folder)), written)
        files = [Path(path) for path in sorted(glob.glob(pattern)) if os.path.isfile(path)]
        if not files and os.sep not in written and "/" not in written:
            ids = shipped(folder)
            files = [ids[name] for name in sorted(ids) if fnmatch.fnmatchcase(name, written)]
        if not files:
            raise InputError(
                "no file goes by this pattern", field=place, found=written,
                expected=f"a pattern of files beside the catalogue, or of ids of shipped {folder}",
                code=NO_SUCH_FILE,
            )  # fmt: skip
        return files

    def _read(self, name: str, file: tuple[str, Path], reader: Callable[[FilePath], Any]) -> Any:
        written, path = file
        with named_by(self.toml.source, name, path):
            part = reader(path)
        self.inputs.append(_input(name, written, path))
        return part


def _input(role: str, written: str, path: Path) -> InputFile:
    return InputFile(role=role, path=written, sha256=hashlib.sha256(read_bytes(path)).hexdigest())
