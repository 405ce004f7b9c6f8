"""Loader short cycles from CSV files, one phase a row."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path

from converter_match.components.route import Phase, ShortCycle
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.library.table_csv import CsvColumn, CsvTable, read_table
from converter_match.units.written import written_to_si

COLUMNS = (
    CsvColumn("phase"),
    CsvColumn("kind"),
    CsvColumn("gear", required=False),
    CsvColumn("start gear", required=False),
    CsvColumn("direction", required=False),
    CsvColumn("load", required=False),
    CsvColumn("distance", "length", required=False, blank=0.0),
    CsvColumn("time", "time", required=False, blank=0.0),
    CsvColumn("speed limit", "velocity", required=False, blank=math.inf),
    CsvColumn("speed", "velocity", required=False, blank=0.0),
    CsvColumn("grade", "ratio", required=False, blank=0.0),
    CsvColumn("hydraulic power", "power", required=False, blank=0.0),
)


def read_cycle(path: FilePath, surfaces: Iterable[Surface] | None = None) -> ShortCycle:
    """Read a loader's short cycle.

    Parameters
    ----------
    path : str or path-like
        CSV with the columns ``phase``, ``kind`` (drive, crowd or stand) and, as needed, ``gear``
        (the one that is held), ``start gear``, ``direction``, ``load``, ``distance``, ``time``,
        ``speed limit``, ``speed``, ``grade`` and ``hydraulic power``, units in the head. A line
        ``# surface: NAME`` before the head names the ground; ``# job efficiency: 83 %``,
        ``# bucket fill: 95 %``, ``# exchange time: 40 s`` and ``# passes: 4`` are what production
        is reckoned with.
    surfaces : iterable of Surface, optional
        Those known by name; the published ones without.

    Returns
    -------
    ShortCycle

    Raises
    ------
    InputError
        Naming file, line and column.
    """
    table = read_table(path, COLUMNS)
    name = table.remarks.get("surface")
    if name is None:
        raise InputError(
            "the cycle does not name its ground",
            source=table.source,
            expected="a line '# surface: NAME' before the head",
        )
    known = read_surfaces() if surfaces is None else tuple(surfaces)
    surface = find_surface(name, known, source=table.source)
    phases = []
    for row, phase in enumerate(table.texts["phase"]):
        given: dict[str, object] = {"name": phase, "kind": table.texts["kind"][row]}
        for key in ("gear", "start gear", "direction", "load"):
            if key in table.texts and table.texts[key][row]:
                given[key.replace(" ", "_")] = table.texts[key][row]
        for column in COLUMNS:
            if column.name in table.numbers:
                given[column.name.replace(" ", "_")] = table.numbers[column.name][row]
        try:
            phases.append(Phase(**given))  # type: ignore[arg-type]
        except InputError as error:
            raise error.located(source=f"{table.source}: line {table.lines[row]}") from None
    try:
        return ShortCycle(
            id=Path(path).stem,
            name=table.remarks.get("name", Path(path).stem),
            source=table.remarks.get("source", "not stated"),
            surface=surface,
            phases=tuple(phases),
            **_of_production(table),
        )
    except InputError as error:
        raise error.located(source=table.source) from None


# Remark, dimension, unit where none is written.
_PRODUCTION = (
    ("job efficiency", "ratio", "%"),
    ("bucket fill", "ratio", "%"),
    ("exchange time", "time", "s"),
    ("passes", "ratio", "1"),
)


def _of_production(table: CsvTable) -> dict[str, float]:
    """Return what the remarks before the head say of production, in SI units."""
    given = {}
    for name, dimension, unit in _PRODUCTION:
        text = table.remarks.get(name)
        if text is not None:
            source = f"{table.source}: # {name}"
            given[name.replace(" ", "_")] = written_to_si(text, dimension, unit, source=source)
    return given
