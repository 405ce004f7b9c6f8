"""A study file becomes a `Study`, with every component that it names.

What may stand in the file is `library.schema.study`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.library.assemble.places import said_in_file_words
from converter_match.library.check import doubts_of, parts_of, study_oddities
from converter_match.library.duty_csv import read_duty
from converter_match.library.files import FilePath, TomlFile, expect_schema, read_bytes, read_toml
from converter_match.library.misread import misreadings
from converter_match.library.named import found_beside, named_by
from converter_match.library.named_readings import Places
from converter_match.library.paths import moved, placed
from converter_match.library.problems import validated
from converter_match.library.read import (
    read_arrangement,
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
    read_site,
)
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.rule_tables import rule_and_losses
from converter_match.library.schema.quantity import read_quantity, si_of
from converter_match.library.schema.spans import questions, refuse_impossible
from converter_match.library.shipped import find
from converter_match.library.study_copies import STUDY, Copies, read_copies
from converter_match.library.study_measurements import dimension_of, measurements_of, possible_of
from converter_match.library.surfaces import PUBLISHED, find_surface, published, read_surfaces
from converter_match.study.criteria import CATALOGUE, Choice, spec_of
from converter_match.study.names import called
from converter_match.study.study import (
    CLAIM_DIMENSIONS,
    PRESENT,
    TOLERANCE_DIMENSIONS,
    Claim,
    Combination,
    Correlation,
    Duty,
    InputFile,
    Limits,
    Misreading,
    SamePart,
    Study,
    Tolerance,
    once_each,
)

if TYPE_CHECKING:
    from converter_match.library.schema import study as schema

SCHEMA = "converter-match/study/1"
_PARTS: dict[str, tuple[str, Callable[[FilePath], Any]]] = {
    "engine": ("engines", read_engine),
    "converter": ("converters", read_converter),
    "arrangement": ("arrangements", read_arrangement),
    "driveline": ("drivelines", read_driveline),
    "machine": ("machines", read_machine),
}
# Folder -> kind of the files in which a unit is easily taken for another.
_MISREAD = {"engines": "engine", "converters": "converter", "machines": "machine"}
_Read = TypeVar("_Read")


def read_study(path: FilePath) -> Study:
    """Return the study that a TOML file describes, its components read.

    Parameters
    ----------
    path : str or path-like
        The file, or the id of a shipped study. Paths inside it are relative to its folder; a name
        that is no file there is looked up among the shipped ones. Or the folder of a report: the
        study that it was made from, with the files that it was made from.

    Returns
    -------
    Study
        With the checksum of every file that went into it.

    Raises
    ------
    InputError
        Naming file and field: a file that is missing, an unknown criterion, limits that contradict
        each other, a tolerance below zero, a claim in another dimension.
    """
    file = find_study(path)
    copies = read_copies(file) if file.is_dir() else None
    if copies is not None:
        file = copies.study
    toml = read_toml(file)
    expect_schema(toml, SCHEMA, "study file")
    _refuse_motors(toml)
    try:
        return _Reader(toml, file, copies).study()
    except InputError as error:
        raise error.located(source=toml.source) from None


def _refuse_motors(toml: TomlFile) -> None:
    """Refuse a motor among the parts: half of the criteria here are those of an engine."""
    tables = {"present": toml.data.get("present")}
    listed = toml.data.get("candidate")
    if isinstance(listed, list):
        tables |= {f"candidate[{row}]": table for row, table in enumerate(listed)}
    for place, table in tables.items():
        for key in ("motor", "direct", "voltage"):
            if isinstance(table, dict) and key in table:
                raise InputError(
                    "this kind of study judges engines; idle, creep, droop and fuel mean nothing "
                    "with a motor",
                    source=toml.source,
                    field=f"{place}.{key}",
                    expected='schema = "converter-match/motor-study/1", which compares motors '
                    "behind a converter or coupled directly (docs/motors.md)",
                )


def find_study(path: FilePath) -> Path:
    """Return the file that is meant by a path or by the id of a shipped study.

    Raises
    ------
    InputError
        If it is neither, naming the nearest ids.
    """
    return find("studies", path)


class _Reader:
    """Reads what a study names, and keeps book of it."""

    def __init__(self, toml: TomlFile, path: Path, copies: Copies | None) -> None:
        from converter_match.library.schema.study import StudyFile

        self.file = validated(StudyFile, toml)
        self.toml = toml
        self.folder = path.parent
        self.copies = {} if copies is None else copies.paths
        self.misread: dict[tuple[str, str, str], Misreading] = {}
        self.inputs = [input_of(STUDY, path.name if copies is None else copies.written, path)]

    def study(self) -> Study:
        """Return the study."""
        file = self.file
        once_each([item.id for item in file.candidate], "candidate", "id")
        for row, item in enumerate(file.candidate):
            if item.id == PRESENT:
                raise InputError(
                    "this id means the present machine",
                    field=f"candidate[{row}].id",
                    found=item.id,
                )
        given: dict[str, Any] = {}
        present = None if file.present is None else self._present(file.present)
        given["candidates"] = tuple(
            self._candidate(row, item, present) for row, item in enumerate(file.candidate)
        )
        given["sites"] = tuple(
            self._read(f"sites[{row}]", name, "sites", read_site)
            for row, name in enumerate(file.sites or ())
        )
        given["duty"] = self._duty(file.duty)
        given["limits"] = self._limits(file.limits)
        given["criteria"] = _criteria(file.criterion)
        given["rule"], given["losses"] = rule_and_losses(file.decision, file.losses)
        if file.evidence.work_error is not None:
            given["work_error"] = file.evidence.work_error.si
        given["tolerances"] = tuple(_tolerance(row, t) for row, t in enumerate(file.tolerance))
        given["same_parts"] = tuple(_same_part(row, t) for row, t in enumerate(file.same_part))
        given["correlations"] = tuple(
            _correlation(row, item) for row, item in enumerate(file.correlation)
        )
        places = Places(given["sites"], self._found, self._taken)
        given["measurements"] = measurements_of(file.measurement, places)
        given["possible"], given["not_possible"] = possible_of(file.possible, places)
        given["claims"] = tuple(_claim(row, item) for row, item in enumerate(file.claim))
        given["siblings"] = self._named("siblings", file.siblings, "converter")
        given["ratings"] = self._named("ratings", file.ratings, "engine")
        given["misreadings"] = tuple(self.misread.values()) if file.claim else ()
        study = Study(
            id=file.id,
            name=file.name,
            source=file.source,
            question=file.question or "",
            customer=file.customer or "",
            machine_serial_number=file.machine_serial_number or "",
            date=file.date or "",
            author=file.author or "",
            present=present,
            inputs=tuple(self.inputs),
            **given,
        )
        refuse_impossible(file, self.toml.source)
        whose = called(study)
        asked = tuple((whose, note) for note in questions(file))
        odd = (*study_oddities(study), *asked)
        named = [(item.id, parts_of(item)) for item in study.combinations]
        return study.replace(odd=odd, doubts=doubts_of(named, odd))

    def _present(self, table: schema.PartsTable) -> Combination:
        parts = {name: self._part(PRESENT, name, getattr(table, name)) for name in _PARTS}
        return Combination(id=PRESENT, name=table.name or "as it stands", **parts)

    def _candidate(
        self, row: int, table: schema.CandidateTable, present: Combination | None
    ) -> Combination:
        parts: dict[str, Any] = {}
        for name in _PARTS:
            written = getattr(table, name)
            if written is None and present is not None and name != "arrangement":
                parts[name] = getattr(present, name)
                continue
            if written is None and name in ("engine", "converter"):
                raise InputError(
                    "missing",
                    field=f"candidate[{row}].{name}",
                    expected=f"a {name} file, since there is no present machine to take it from",
                )
            parts[name] = self._part(f"candidate[{row}]", name, written)
        if table.diameter is not None:
            places = {
                "profile_diameter": (f"candidate[{row}].diameter.value", table.diameter),
            }
            with said_in_file_words(places):
                parts["converter"] = parts["converter"].scaled(profile_diameter=table.diameter.si)
        return Combination(id=table.id, name=table.name or table.id, **parts)

    def _part(self, place: str, name: str, written: str | None) -> Any:
        if written is None:
            return None
        kind, reader = _PARTS[name]
        return self._read(f"{place}.{name}", written, kind, reader)

    def _named(self, key: str, written: list[str] | None, name: str) -> tuple[Any, ...]:
        """Read the files of a list."""
        kind, reader = _PARTS[name]
        rows = enumerate(written or ())
        return tuple(self._read(f"{key}[{row}]", one, kind, reader) for row, one in rows)

    def _read(
        self, place: str, written: str, kind: str, reader: Callable[[FilePath], _Read]
    ) -> _Read:
        """Read a file that the study names."""
        path = self._found(place, written, lambda name: find(kind, name))
        read = self._taken(place, written, path, reader)
        if self.file.claim and kind in _MISREAD:
            for one in misreadings(_MISREAD[kind], path):
                self.misread[one.kind, one.id, one.read] = one
        return read

    def _found(self, place: str, written: str, search: Callable[[FilePath], Path]) -> Path:
        if place in self.copies:
            return self.copies[place]
        return found_beside(
            written, self.folder, search, source=self.toml.source, field=place, what="study"
        )

    def _taken(
        self, place: str, written: str, path: Path, reader: Callable[[FilePath], _Read]
    ) -> _Read:
        with named_by(self.toml.source, place, path):
            read = reader(path)
        self.inputs.append(input_of(place, written, path))
        return read

    def _duty(self, table: schema.DutyTable) -> Duty:
        surfaces: tuple[Surface, ...] = ()
        if table.surfaces or table.surface or table.routes:
            written, search = table.surfaces or PUBLISHED, Path if table.surfaces else published
            path = self._found("duty.surfaces", written, search)
            surfaces = self._taken("duty.surfaces", written, path, read_surfaces)
        surface = self._surface(table, surfaces)
        routes = []
        for row, name in enumerate(table.routes or ()):
            place = f"duty.routes[{row}]"
            path = self._found(place, name, find_route)
            routes.append(self._taken(place, name, path, lambda p: read_route(p, surfaces)))
        changes: dict[str, Any] = {}
        if table.points is not None:
            changes["points"] = self._read("duty.points", table.points, "duties", read_duty)
        if table.grades is not None:
            changes["grades"] = tuple(float(grade) for grade in table.grades.si)
        places: dict[str, Any] = {
            "duty.grades": ("duty.grades", table.grades),
            "duty.continuous_grade": ("duty.continuous_grade", table.continuous_grade),
            "duty.hydraulic_torque": ("duty.hydraulic_torque", table.hydraulic_torque),
        }
        with said_in_file_words(places):
            return Duty(
                surface=surface,
                load=table.load,
                continuous_grade=si_of(table.continuous_grade),
                hydraulic_torque=si_of(table.hydraulic_torque) or 0.0,
                routes=tuple(routes),
                **changes,
            )

    def _surface(self, table: schema.DutyTable, surfaces: tuple[Surface, ...]) -> Surface | None:
        rolling, traction = si_of(table.rolling_resistance), si_of(table.traction)
        if table.surface is None:
            if rolling is None:
                if traction is not None or table.surfaces is not None:
                    raise InputError(
                        "missing",
                        field="duty.surface",
                        expected="the name of a surface, or rolling_resistance",
                    )
                return None
            named = Surface(name="as given", rolling_resistance=0.0, source="the study")
        else:
            try:
                named = find_surface(table.surface, surfaces)
            except InputError as error:
                raise moved(error, "duty.surface") from None
        changes = {} if rolling is None else {"rolling_resistance": rolling}
        changes |= {} if traction is None else {"traction": traction}
        if changes and table.surface is not None:
            changes["source"] = f"{named.source}; {' and '.join(changes)} by the study"  # type: ignore[assignment]
        places: dict[str, Any] = {
            "rolling_resistance": ("duty.rolling_resistance.value", table.rolling_resistance),
            "traction": ("duty.traction", table.traction),
        }
        with said_in_file_words(places):
            return named.replace(**changes)

    def _limits(self, table: schema.LimitsTable) -> Limits:
        given = {name: getattr(table, name) for name in Limits.__dataclass_fields__}
        places: dict[str, Any] = {
            f"limits.{name}": (f"limits.{name}", value) for name, value in given.items()
        }
        with said_in_file_words(places):
            return Limits(**{name: si_of(value) for name, value in given.items()})


def _criteria(tables: list[schema.CriterionTable]) -> tuple[Choice, ...]:
    """Return the whole catalogue, with what the study changes."""
    once_each([table.name for table in tables], "criterion", "name")
    changed = {}
    for row, table in enumerate(tables):
        place = f"criterion[{row}]"
        with placed(place, "criterion"):
            spec = spec_of(table.name)
            known = {item.name: item.dimension for item in spec.thresholds}
            given: dict[str, float] = {}
            for key in ("least", "most", "margin", "efficiency", "up_to"):
                raw = getattr(table, key)
                if raw is not None:
                    with placed(f"{place}.{key}", None):
                        dimension = known.get(key, "ratio")
                        given[key] = read_quantity(raw, dimension, bare=dimension == "ratio").si
            once_each(table.conditions or [], f"{place}.conditions", "")
            changed[spec.name] = spec.choice(table.weight, table.conditions or (), **given)
    return tuple(changed.get(name) or spec.choice() for name, spec in CATALOGUE.items())


def _tolerance(row: int, table: schema.ToleranceTable) -> Tolerance:
    place = f"tolerance[{row}]"
    dimension = dimension_of(table.quantity, TOLERANCE_DIMENSIONS, f"{place}.quantity")
    with placed(f"{place}.half_width", None):
        half_width = read_quantity(table.half_width, dimension, bare=dimension == "ratio")
    shift = None
    if table.shift is not None:
        with placed(f"{place}.shift", None):
            shift = read_quantity(table.shift, dimension, bare=dimension == "ratio")
    places: dict[str, Any] = {
        "tolerance.half_width": (f"{place}.half_width", half_width),
        "tolerance.shift": (f"{place}.shift", shift),
        "tolerance.scatter": (f"{place}.scatter", table.scatter),
        "tolerance.of": (f"{place}.of", None),
    }
    with said_in_file_words(places):
        return Tolerance(
            quantity=table.quantity,
            half_width=half_width.si,
            distribution=table.distribution,
            shared=table.shared,
            of=table.of,
            shift=si_of(shift) or 0.0,
            scatter=si_of(table.scatter),
        )


def _same_part(row: int, table: schema.SamePartTable) -> SamePart:
    with placed(f"same_part[{row}]", "same_part"):
        return SamePart(part=table.part, combinations=tuple(table.combinations))


def _correlation(row: int, table: schema.CorrelationTable) -> Correlation:
    place = f"correlation[{row}]"
    if len(table.between) != 2:
        raise InputError(
            "goes between two quantities",
            field=f"{place}.between",
            found=f"{len(table.between)} names",
        )
    with placed(place, "correlation"):
        first, second = table.between
        return Correlation(first=first, second=second, coefficient=table.coefficient.si)


def _claim(row: int, table: schema.ClaimTable) -> Claim:
    place = f"claim[{row}]"
    dimension = dimension_of(table.quantity, CLAIM_DIMENSIONS, f"{place}.quantity")
    with placed(f"{place}.value", None):
        value = read_quantity(table.value, dimension, bare=dimension == "ratio")
    with placed(place, "claim"):
        return Claim(
            quantity=table.quantity,
            value=value.si,
            given=value.given(),
            combination=table.combination,
            source=table.source,
            tolerance=si_of(table.tolerance),
            site=table.site,
            hydraulic_torque=si_of(table.hydraulic_torque) or 0.0,
            gear=table.gear,
            grade=si_of(table.grade),
            speed=si_of(table.speed),
            speed_given="" if table.speed is None else table.speed.given(),
            load=table.load,
        )


def input_of(role: str, written: str, path: Path) -> InputFile:
    """Return what went into a study: a file by its role, as it was written, with its checksum."""
    content = read_bytes(path)
    digest = hashlib.sha256(content).hexdigest()
    return InputFile(role=role, path=written, sha256=digest, content=content, name=path.name)
