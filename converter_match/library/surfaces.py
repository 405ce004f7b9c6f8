"""Surfaces by name: the published table that comes with the package, and tables of one's own.

The published table is ``data/published/surfaces.csv``, one quantity a row with its source. A table
of one's own is a CSV file of the same columns, or a TOML file ``converter-match/surfaces/1``.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from pathlib import Path

from converter_match.components.surface import QUANTITIES, Surface
from converter_match.errors import InputError, did_you_mean
from converter_match.library.delimited import delimiter_of, with_point
from converter_match.library.files import FilePath, expect_schema, read_text, read_toml
from converter_match.library.recognise import other_kind_hint
from converter_match.library.shipped import data_folder
from converter_match.units import to_si

SCHEMA = "converter-match/surfaces/1"
COLUMNS = ("surface", "vehicle", "quantity", "value", "unit", "source")
# Rows that are a rule and not a surface; see `penetration_resistance`.
_ADDED = "rolling_resistance_added"
_RULE = "any,"
_INCH = "in"
PUBLISHED = "published/surfaces.csv"
"""The published table, as a study calls it that names no table of its own."""


def published(name: FilePath = PUBLISHED) -> Path:
    """Return the path of a published table among the shipped data."""
    return data_folder() / name


def read_surfaces(path: FilePath | None = None) -> tuple[Surface, ...]:
    """Return the surfaces of a CSV or TOML file; without one, the published ones.

    Parameters
    ----------
    path : str or path-like, optional
        The file.

    Returns
    -------
    tuple of Surface

    Raises
    ------
    InputError
        Naming file, row and column, what was found and what was expected.

    Examples
    --------
    >>> surface = find_surface("firm smooth earth", read_surfaces())
    >>> surface.rolling_resistance, surface.traction
    (0.0325, 0.55)
    """
    if path is None:
        path = published()
    if str(path).lower().endswith(".toml"):
        return _from_toml(path)
    return _from_csv(read_text(path), str(path))


def find_surface(name: str, surfaces: Iterable[Surface], *, source: str | None = None) -> Surface:
    """Return a surface by its name, or by ``name, vehicle`` where a name stands for several.

    Parameters
    ----------
    name : str
        Case and spaces around are ignored.
    surfaces : iterable of Surface
    source : str, optional
        What to call the asker in a message (an option, a file).

    Returns
    -------
    Surface

    Raises
    ------
    InputError
        If there is none of that name, naming the nearest, or several.

    Examples
    --------
    >>> find_surface("sand, truck", read_surfaces()).rolling_resistance
    0.25
    """
    known = tuple(surfaces)
    wanted = _folded(name)
    exact = [s for s in known if wanted in (_folded(s.name), _folded(full_name(s)))]
    if len(exact) == 1:
        return exact[0]
    if exact:
        named = " or ".join(repr(full_name(surface)) for surface in exact)
        raise InputError(
            "the surface is listed more than once",
            source=source,
            field="surface",
            found=name,
            expected=named,
        )
    names = list(dict.fromkeys(surface.name for surface in known))
    raise InputError(
        "no such surface",
        source=source,
        field="surface",
        found=name,
        expected="one of the surfaces listed",
        hint=did_you_mean(name, names) or f"known: {', '.join(names)}",
    )


def full_name(surface: Surface) -> str:
    """Return the name with what the numbers hold for."""
    return f"{surface.name}, {surface.vehicle}" if surface.vehicle else surface.name


def penetration_resistance(depth: float) -> float:
    """Return the rolling resistance (force / weight) of a tyre that sinks in by `depth` [m].

    The published rule of civil engineering: so much on hard ground, and so much more for each inch
    of penetration (Peurifoy; Nunnally; second-hand, two copies agree).

    Raises
    ------
    InputError
        If the depth is below zero or more than a tyre would sink.

    Examples
    --------
    >>> round(penetration_resistance(2 * 0.0254), 4)
    0.05
    """
    if not 0.0 <= depth <= 0.5:
        raise InputError(
            "out of range", field="depth", found=depth, expected="a penetration of 0 to 0.5 m"
        )
    path = published()
    shares = {
        row["quantity"]: to_si(float(row["value"]), row["unit"], "weight_share")
        for row in csv.DictReader(io.StringIO(read_text(path)))
        if row["surface"].startswith(_RULE)
    }
    return shares["rolling_resistance"] + shares[_ADDED] * depth / to_si(1.0, _INCH, "length")


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())


def _from_toml(path: FilePath) -> tuple[Surface, ...]:
    from converter_match.library.assemble.surfaces import assemble

    toml = read_toml(path)
    expect_schema(toml, SCHEMA, "file of surfaces")
    try:
        return assemble(toml)
    except InputError as error:
        raise error.located(source=toml.source) from None


def _from_csv(text: str, source: str) -> tuple[Surface, ...]:
    delimiter = delimiter_of(text.partition("\n")[0])
    reader = csv.DictReader(io.StringIO(text), delimiter=delimiter)
    try:
        header = [name.strip() for name in reader.fieldnames or ()]
    except csv.Error as error:
        raise InputError(f"is not a table: {error}", source=source, field="line 1") from None
    missing = [name for name in COLUMNS if name not in header and name != "vehicle"]
    if missing:
        raise InputError(
            "a column is missing",
            source=source,
            field="line 1",
            found=", ".join(header),
            expected=", ".join(COLUMNS),
            hint=other_kind_hint(source, COLUMNS) or did_you_mean(missing[0], header),
        )
    reader.fieldnames = header
    gathered: dict[tuple[str, str], dict[str, tuple[float, str]]] = {}
    for row in _rows(reader, source):
        line = f"line {reader.line_num}"
        cells = {key: (value or "").strip() for key, value in row.items() if key in header}
        name, quantity = cells["surface"], cells["quantity"]
        if name.startswith(_RULE):
            continue
        if not name:
            raise InputError("no name", source=source, field=f"{line}, surface")
        if quantity not in QUANTITIES:
            raise InputError(
                "not a quantity of a surface",
                source=source,
                field=f"{line}, quantity",
                found=quantity,
                expected=" | ".join(QUANTITIES),
                hint=did_you_mean(quantity, QUANTITIES),
            )
        given = gathered.setdefault((name, cells.get("vehicle", "")), {})
        if QUANTITIES[quantity] in given:
            raise InputError(
                f"the {quantity} of this surface is given already",
                source=source,
                field=line,
                found=name,
            )
        origin = cells["source"] + (f" ({cells['tag']})" if cells.get("tag") else "")
        cells["value"] = with_point(cells["value"], delimiter)
        given[QUANTITIES[quantity]] = (_share(cells, source, line), origin)
    return tuple(_surface(key, given, source) for key, given in gathered.items())


def _rows(reader: csv.DictReader[str], source: str) -> Iterator[dict[str, str]]:
    try:
        yield from reader
    except csv.Error as error:
        raise InputError(
            f"is not a table: {error}", source=source, field=f"line {reader.line_num + 1}"
        ) from None


def _share(cells: dict[str, str], source: str, line: str) -> float:
    try:
        value = float(cells["value"])
    except ValueError:
        raise InputError(
            "not a number", source=source, field=f"{line}, value", found=cells["value"]
        ) from None
    return to_si(value, cells["unit"], "weight_share", source=source, field=f"{line}, unit")


def _surface(key: tuple[str, str], given: dict[str, tuple[float, str]], source: str) -> Surface:
    name, vehicle = key
    if "rolling_resistance" not in given:
        raise InputError("a surface without rolling_resistance", source=source, found=name)
    try:
        return Surface(
            name=name,
            vehicle=vehicle,
            source="; ".join(dict.fromkeys(origin for _, origin in given.values())),
            **{field: value for field, (value, _) in given.items()},
        )
    except InputError as error:
        raise error.located(source=f"{source}: {name}") from None
