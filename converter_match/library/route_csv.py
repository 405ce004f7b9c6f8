"""Haul routes from CSV files, one segment a row in the order in which they are driven."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from converter_match.components.gear import DIRECTIONS, Direction
from converter_match.components.machine import LOADS, Load
from converter_match.components.route import STEEPEST, Route
from converter_match.components.surface import Surface
from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath
from converter_match.library.shipped import find
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.library.table_csv import CsvColumn, CsvTable, read_table

COLUMNS = (
    CsvColumn("length", "length"),
    CsvColumn("grade", "ratio"),
    CsvColumn("surface"),
    CsvColumn("speed limit", "velocity", required=False, blank=math.inf),
    CsvColumn("load", required=False),
    CsvColumn("direction", required=False),
    CsvColumn("stop", "time", required=False, blank=math.nan),
    CsvColumn("from", "length", required=False),
    CsvColumn("name", required=False),
)
W = TypeVar("W", bound=str)
# How far a segment may begin from where the one before ends.
_GAP = 0.5
_LOAD_WORDS: Mapping[str, Load] = MappingProxyType(
    {"laden": "laden", "loaded": "laden", "full": "laden", "empty": "empty"}
)
_WAYS: Mapping[str, Direction] = MappingProxyType(
    {"": "forward", "forward": "forward", "reverse": "reverse"}
)


def read_route(path: FilePath, surfaces: Iterable[Surface] | None = None) -> Route:
    """Read a haul route.

    Parameters
    ----------
    path : str or path-like
        CSV with the columns ``length``, ``grade``, ``surface`` and, optional, ``speed limit``,
        ``load`` (laden or empty; laden when the column is missing), ``direction`` (forward or
        reverse; empty: forward), ``stop`` (time standing at the
        end of the segment), ``from`` (distance at the start, to notice gaps) and ``name``. Numbers
        have their unit in the head: ``grade [%]``. Lines before the head that begin with ``#`` may
        give ``name`` and ``source``.
    surfaces : iterable of Surface, optional
        Those known by name; the published ones without.

    Returns
    -------
    Route

    Raises
    ------
    InputError
        Naming file, line and column: a length not above zero, a grade over 100 %, a gap, an
        unknown surface (with the nearest names), a cell that is not a number.

    Examples
    --------
    >>> route = read_route(find_route("quarry-to-crusher"))
    >>> route.length.size, round(route.total_length)
    (14, 3460)
    """
    known = tuple(read_surfaces() if surfaces is None else surfaces)
    table = read_table(path, COLUMNS)
    count = len(table.lines)
    length, grade = table.numbers["length"], table.numbers["grade"]
    _check(table, "length", length, [value > 0.0 for value in length], "above zero")
    _check(
        table,
        "grade",
        grade,
        [abs(value) <= STEEPEST for value in grade],
        "a grade from -100 % to 100 %",
    )
    limit = table.numbers.get("speed limit", (math.inf,) * count)
    _check(table, "speed limit", limit, [value > 0.0 for value in limit], "above zero, or empty")
    stop = table.numbers.get("stop", (math.nan,) * count)
    stays = [math.isnan(value) or value >= 0.0 for value in stop]
    _check(table, "stop", stop, stays, "zero or more, or empty")
    if "from" in table.numbers:
        _check_gaps(table, table.numbers["from"], length)
    try:
        return Route(
            id=Path(path).stem,
            name=table.remarks.get("name", Path(path).stem),
            source=table.remarks.get("source", "not stated"),
            length=length,  # type: ignore[arg-type]
            grade=grade,  # type: ignore[arg-type]
            surface=_surfaces(table, known),
            speed_limit=limit,  # type: ignore[arg-type]
            load=_words(table, "load", _LOAD_WORDS, "laden", LOADS),
            direction=_words(table, "direction", _WAYS, "forward", DIRECTIONS),
            stop_time=stop,  # type: ignore[arg-type]
        )
    except InputError as error:
        raise error.located(source=table.source) from None


def find_route(id_or_path: FilePath) -> Path:
    """Return the file that is meant by a path or by the id of a shipped route.

    Raises
    ------
    InputError
        If it is neither; the nearest ids are named.
    """
    return find("routes", id_or_path)


def _check(
    table: CsvTable, column: str, values: tuple[float, ...], good: list[bool], expected: str
) -> None:
    for row, fine in enumerate(good):
        if not fine:
            raise InputError(
                "out of range",
                source=table.source,
                field=table.place(row, column),
                found=f"{100 * values[row]:g} %" if column == "grade" else values[row],
                expected=expected,
                hint="percent or a ratio? see the unit in the head" if column == "grade" else None,
            )


def _check_gaps(table: CsvTable, start: tuple[float, ...], length: tuple[float, ...]) -> None:
    for row in range(1, len(length)):
        end = start[row - 1] + length[row - 1]
        off = start[row] - end
        if abs(off) > _GAP:
            what = "a gap" if off > 0 else "an overlap"
            raise InputError(
                f"{what} of {abs(off):.4g} m between two segments",
                source=table.source,
                field=table.place(row, "from"),
                found=f"{start[row]:.6g} m",
                expected=f"{end:.6g} m, where the segment before ends",
            )


def _surfaces(table: CsvTable, known: tuple[Surface, ...]) -> tuple[Surface, ...]:
    found: dict[str, Surface] = {}
    for row, name in enumerate(table.texts["surface"]):
        if name in found:
            continue
        try:
            found[name] = find_surface(name, known, source=table.source)
        except InputError as error:
            raise InputError(
                error.problem,
                source=table.source,
                field=table.place(row, "surface"),
                found=name,
                expected=error.expected,
                hint=error.hint,
            ) from None
    return tuple(found[name] for name in table.texts["surface"])


def _words(
    table: CsvTable, column: str, known: Mapping[str, W], always: W, expected: tuple[W, ...]
) -> tuple[W, ...]:
    """Return what a column says in words that are known; `always` without the column."""
    if column not in table.texts:
        return (always,) * len(table.lines)
    found: list[W] = []
    for row, word in enumerate(table.texts[column]):
        state = known.get(word.casefold())
        if state is None:
            raise InputError(
                f"not a {'load state' if column == 'load' else column}",
                source=table.source,
                field=table.place(row, column),
                found=word,
                expected=" | ".join(expected),
                hint=did_you_mean(word, expected),
            )
        found.append(state)
    return tuple(found)
