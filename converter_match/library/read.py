"""The front door: a path in, a component out, or one clear message.

A further kind of file is one line in `schema.COMPONENTS`, its model beside it, and one module in
``assemble``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from converter_match.errors import InputError, nearest
from converter_match.library.commas import with_comma_hint
from converter_match.library.files import FilePath, TomlFile, read_toml
from converter_match.library.problems import validated
from converter_match.library.schema import COMPONENTS

if TYPE_CHECKING:
    from converter_match.components.arrangement import Arrangement
    from converter_match.components.blading import BladingGeometry
    from converter_match.components.converter import Converter
    from converter_match.components.driveline import Driveline
    from converter_match.components.engine import Engine
    from converter_match.components.load import ShaftLoad
    from converter_match.components.machine import Machine
    from converter_match.components.motor import Motor
    from converter_match.components.site import Site


@dataclass(frozen=True)
class FileFormat:
    """A kind of file.

    Parameters
    ----------
    name : str
        Middle part of the schema line, ``converter-match/NAME/VERSION``.
    version : int
        Last part.
    home : str
        Module with ``assemble(toml)``; imported, and pydantic with it, when a file is read.
    """

    name: str
    version: int
    home: str

    @property
    def schema(self) -> str:
        """The schema line."""
        return f"converter-match/{self.name}/{self.version}"

    def assemble(self, toml: TomlFile) -> Any:
        """Return the component that a file of this kind describes.

        Raises
        ------
        InputError
            For what is wrong with it; last, for numbers that nothing of its kind has.
        """
        from converter_match.library.schema import model_of
        from converter_match.library.schema.second_figures import second_figures_in
        from converter_match.library.schema.spans import refuse_impossible, with_slip

        model = validated(model_of(self.name), toml)
        try:
            component = import_module(self.home).assemble(toml)
        except InputError as error:
            raise with_slip(error, model) from None
        refuse_impossible(model, toml.source)
        return component.with_second_figures(tuple(second_figures_in(model)))


KINDS: Mapping[str, FileFormat] = MappingProxyType(
    {
        name: FileFormat(name, version, f"converter_match.library.assemble.{name}")
        for name, version in COMPONENTS.items()
    }
)
"""Every kind of file by its name."""


def read_blading(path: FilePath) -> BladingGeometry:
    """Return the blading that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    BladingGeometry
        In SI units, angles in radians.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> read_blading(shipped("blading")["loader-390mm"]).mounting
    'one-way'
    """
    blading: BladingGeometry = _read(path, "blading")
    return blading


def read_arrangement(path: FilePath) -> Arrangement:
    """Return the arrangement that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    Arrangement
        In SI units.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> path = shipped("arrangements")["dozer-torque-divider"]
    >>> read_arrangement(path).torque_divider.planetary.ratio
    2.5
    """
    arrangement: Arrangement = _read(path, "arrangement")
    return arrangement


def read_converter(path: FilePath) -> Converter:
    """Return the converter that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    Converter
        In SI units; `notes` holds the assumptions that were made in reading.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> converter = read_converter(shipped("converters")["single-stage-345mm-tight"])
    >>> converter.stator, round(converter.profile_diameter, 3)
    ('one-way', 0.345)
    """
    converter: Converter = _read(path, "converter")
    return converter


def read_engine(path: FilePath) -> Engine:
    """Return the engine that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    Engine
        In SI units; `notes` holds the assumptions that were made in reading.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> engine = read_engine(shipped("engines")["six-cylinder-7l-185kw"])
    >>> round(engine.rated_power / 1e3)
    185
    """
    engine: Engine = _read(path, "engine")
    return engine


def read_site(path: FilePath) -> Site:
    """Return the site that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    Site
        In SI units.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> read_site(shipped("sites")["plateau-quarry-hot-day"]).altitude
    2000.0
    """
    site: Site = _read(path, "site")
    return site


def read_driveline(path: FilePath) -> Driveline:
    """Return the driveline that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    Driveline
        In SI units; `notes` holds the assumptions that were made in reading.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> driveline = read_driveline(shipped("drivelines")["four-speed-loader"])
    >>> [gear.name for gear in driveline.forward]
    ['1', '2', '3', '4']
    """
    driveline: Driveline = _read(path, "driveline")
    return driveline


def read_machine(path: FilePath) -> Machine:
    """Return the machine that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    Machine
        In SI units; `notes` holds the assumptions that were made in reading.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> read_machine(shipped("machines")["wheel-loader-17t"]).mass("laden")
    22200.0
    """
    machine: Machine = _read(path, "machine")
    return machine


def read_load(path: FilePath) -> ShaftLoad:
    """Return the load on the turbine shaft that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    ShaftLoad
        In SI units; `notes` holds the assumptions that were made in reading.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> read_load(shipped("loads")["yarder-winch"]).kind
    'winch'
    """
    load: ShaftLoad = _read(path, "load")
    return load


def read_motor(path: FilePath) -> Motor:
    """Return the electric motor that a TOML file describes.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    Motor
        In SI units; `notes` holds the assumptions that were made in reading.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> motor = read_motor(shipped("motors")["lift-truck-80v-30kw"])
    >>> round(motor.rated_power / 1e3), round(motor.peak_power / 1e3)
    (30, 55)
    """
    motor: Motor = _read(path, "motor")
    return motor


def read_component(path: FilePath) -> Any:
    """Return whatever a TOML file describes, by its schema line.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    Converter, Engine, Site, ...
        One of the `KINDS`.

    Raises
    ------
    InputError
        Naming file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> type(read_component(shipped("engines")["six-cylinder-7l-185kw"])).__name__
    'Engine'
    """
    return _read(path, None)


def _read(path: FilePath, expected: str | None) -> Any:
    toml = _toml(path)
    kind = kind_of(toml, expected)
    try:
        return kind.assemble(toml)
    except InputError as error:
        located = error.located(source=toml.source)
        raise (
            located if error.source else with_comma_hint(located, toml.data, toml.text)
        ) from None


def _toml(path: FilePath) -> TomlFile:
    """Return the content of a TOML file; of a table, say what it seems to be."""
    try:
        return read_toml(path)
    except InputError as error:
        from converter_match.library.recognise import recognise, seems

        kind = recognise(path)
        if kind is None or not kind.columns:
            raise
        raise InputError(
            "is a table, not a component file (TOML)", source=error.source, hint=seems(kind)
        ) from None


def kind_of(toml: TomlFile, expected: str | None = None) -> FileFormat:
    """Return the kind of a file by its schema line, which is looked at before anything else.

    Parameters
    ----------
    toml : TomlFile
        The file.
    expected : str, optional
        The kind it should be of.

    Returns
    -------
    FileFormat

    Raises
    ------
    InputError
        If the line is missing, or names another kind, version or program.
    """
    line = toml.data.get("schema")
    kind = KINDS.get(_middle_of(line))
    if kind and line == kind.schema and expected in (None, kind.name):
        return kind
    # Of another version, the file's own kind is the nearest; else whatever was asked for.
    known = [KINDS[expected]] if expected else [kind] if kind else list(KINDS.values())
    wanted = " or ".join(f'"{each.schema}"' for each in known)
    if line is None:
        from converter_match.library.schema import top_keys

        # A key that may stand in a file was meant as it stands.
        written = nearest("schema", sorted(set(toml.data) - top_keys()), n=1)
        raise InputError(
            "missing",
            source=toml.source,
            field="schema",
            expected=f"the line schema = {wanted}",
            hint=f"is the key {written[0]!r} meant to be 'schema'?" if written else None,
        )
    near = nearest(_middle_of(line), KINDS, n=1) if len(known) > 1 else ()
    raise InputError(
        _what_is_wrong(line, expected),
        source=toml.source,
        field="schema",
        found=line,
        expected=wanted,
        hint=f"did you mean {KINDS[near[0]].schema!r}?" if near else None,
    )


def _middle_of(line: object) -> str:
    """Return the name of the kind in a schema line; empty for a line of another form."""
    parts = line.split("/") if isinstance(line, str) else []
    return parts[1] if len(parts) == 3 and parts[0] == "converter-match" else ""


def _what_is_wrong(line: object, expected: str | None) -> str:
    name = _middle_of(line)
    if not name:
        return "not a schema line of this program"
    if name not in KINDS:
        return "there is no such kind of file"
    if expected and name != expected:
        return f"this is a file of another kind ({name}, not {expected})"
    return "this version of the file format is not known here"
