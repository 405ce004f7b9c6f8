"""A motor-study file becomes a `MotorStudy`, with every component that it names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from converter_match.errors import InputError
from converter_match.library.assemble.places import said_in_file_words
from converter_match.library.check import doubts_of, oddities_of, parts_of
from converter_match.library.files import FilePath, TomlFile, expect_schema, read_toml
from converter_match.library.named import found_beside, named_by
from converter_match.library.problems import validated
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
    read_motor,
    read_site,
)
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.schema.motor_study import (
    MotorCandidateTable,
    MotorStudyFile,
    PresentTable,
)
from converter_match.library.schema.quantity import si_of
from converter_match.library.schema.spans import questions, refuse_impossible
from converter_match.library.shipped import find
from converter_match.library.study_file import input_of
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.study.motor_study import MotorCandidate, MotorRequirements, MotorStudy
from converter_match.study.names import called
from converter_match.study.study import PRESENT, Combination

SCHEMA = "converter-match/motor-study/1"
FOLDER = "motor-studies"
_READERS: dict[str, tuple[str, Callable[[FilePath], Any]]] = {
    "engine": ("engines", read_engine),
    "motor": ("motors", read_motor),
    "converter": ("converters", read_converter),
    "driveline": ("drivelines", read_driveline),
    "machine": ("machines", read_machine),
    "site": ("sites", read_site),
}
_T = TypeVar("_T")


def is_motor_study(path: FilePath) -> bool:
    """Return whether a path is a motor study, or the id of a shipped one; never refuses."""
    try:
        file = find(FOLDER, path)
    except InputError:
        return False
    if not file.is_file():
        return False
    try:
        return read_toml(file).data.get("schema") == SCHEMA
    except InputError:
        return False


def read_motor_study(path: FilePath) -> MotorStudy:
    """Return the motor study that a TOML file describes, its components read.

    Parameters
    ----------
    path : str or path-like
        The file, or the id of a shipped one. Paths inside are relative to its folder; a name that
        is no file there is looked up among the shipped ones.

    Raises
    ------
    InputError
        Naming file and field.
    """
    file = find(FOLDER, path)
    toml = read_toml(file)
    expect_schema(toml, SCHEMA, "motor-study file")
    try:
        return _Reader(toml, file).study()
    except InputError as error:
        raise error.located(source=toml.source) from None


class _Reader:
    """Reads what a motor study names, and keeps book of it."""

    def __init__(self, toml: TomlFile, path: Path) -> None:
        self.toml, self.folder = toml, path.parent
        self.file = validated(MotorStudyFile, toml)
        self.inputs = [input_of("motor study", path.name, path)]

    def study(self) -> MotorStudy:
        """Return the study."""
        file, duty = self.file, self.file.duty
        present = None if file.present is None else self._present(file.present)
        candidates = tuple(
            self._candidate(row, table, present) for row, table in enumerate(file.candidate)
        )
        routes = tuple(
            self._read(f"duty.routes[{row}]", name, find_route, read_route)
            for row, name in enumerate(duty.routes)
        )
        try:
            surface = find_surface(duty.surface, read_surfaces())
        except InputError as error:
            raise error.changed(field="duty.surface") from None
        asked = file.requirements
        places = {
            f"requirements.{key}": (f"requirements.{key}.value", given) for key, given in asked
        }
        with said_in_file_words(places):
            ratio = si_of(asked.cycle_time)
            requirements = MotorRequirements(
                startability=si_of(asked.startability),
                continuous_grade=si_of(asked.continuous_grade),
                top_speed=si_of(asked.top_speed),
                **({} if ratio is None else {"cycle_time": ratio}),
            )
        grades = {} if duty.grades is None else {"grades": tuple(duty.grades.si.tolist())}
        study = MotorStudy(
            id=file.id,
            name=file.name,
            source=file.source,
            question=file.question or "",
            present=present,
            candidates=candidates,
            site=None if file.site is None else self._part("", "site", file.site),
            surface=surface,
            load=duty.load,
            routes=routes,
            hydraulic_torque=si_of(duty.hydraulic_torque) or 0.0,
            requirements=requirements,
            inputs=tuple(self.inputs),
            **grades,
        )
        refuse_impossible(file, self.toml.source)
        combinations = (*(() if present is None else (present,)), *candidates)
        named = [(item.id, parts_of(item)) for item in combinations]
        beside = [part for part in (study.site, *routes) if part is not None]
        odd = (
            *oddities_of((*(part for _, parts in named for part in parts), *beside)),
            *((called(study), note) for note in questions(file)),
        )
        return study.replace(odd=odd, doubts=doubts_of(named, odd))

    def _present(self, table: PresentTable) -> Combination:
        names = ("engine", "converter", "driveline", "machine")
        parts = {name: self._part("present.", name, getattr(table, name)) for name in names}
        return Combination(id=PRESENT, name=table.name or "as it stands", **parts)

    def _candidate(
        self, row: int, table: MotorCandidateTable, present: Combination | None
    ) -> MotorCandidate:
        place = f"candidate[{row}]."
        parts: dict[str, Any] = {"motor": self._part(place, "motor", table.motor)}
        for name in ("driveline", "machine"):
            written = getattr(table, name)
            if written is None and present is None:
                raise InputError(
                    "missing",
                    field=place + name,
                    expected=f"a {name} file, since there is no present machine to take it from",
                )
            parts[name] = (
                getattr(present, name) if written is None else self._part(place, name, written)
            )
        if table.converter is not None:
            parts["converter"] = self._part(place, "converter", table.converter)
        if table.direct is not None:
            parts["ratio"] = table.direct.si
        return MotorCandidate(
            id=table.id,
            name=table.name or table.id,
            efficiency=si_of(table.efficiency),
            voltage=si_of(table.voltage),
            **parts,
        )

    def _part(self, place: str, name: str, written: str) -> Any:
        kind, reader = _READERS[name]
        return self._read(place + name, written, lambda given: find(kind, given), reader)

    def _read(
        self,
        place: str,
        written: str,
        search: Callable[[FilePath], Path],
        reader: Callable[[FilePath], _T],
    ) -> _T:
        path = found_beside(
            written, self.folder, search, source=self.toml.source, field=place, what="study"
        )
        with named_by(self.toml.source, place, path):
            read = reader(path)
        self.inputs.append(input_of(place, written, path))
        return read
