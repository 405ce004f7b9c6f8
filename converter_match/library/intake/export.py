"""A component becomes a sheet that intake reads back as the same component: CSV or XLSX."""

from __future__ import annotations

import csv
import io
import os
import struct
from collections.abc import Mapping, Sequence
from typing import Any

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.reading_band import READING_BAND
from converter_match.errors import InputError
from converter_match.library.atomic import write_bytes
from converter_match.library.exact import capacity, many, one, torque_or_power
from converter_match.library.files import FilePath
from converter_match.library.intake.grid import LONGEST_CELL
from converter_match.library.toml_text import number_text
from converter_match.units import note_text

# With their full-width forms, which spreadsheets of East Asia take for the same.
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_CAPACITY_HEADINGS = {
    "k_factor": "K-factor",
    "torque_at_speed": "input torque",
    "power_at_speed": "absorbed power",
    "capacity_coefficient": "capacity coefficient",
    "performance_coefficient": "performance coefficient",
}
Row = list[str | float]


def export_component(
    component: Converter | Engine, path: FilePath, *, overwrite: bool = False
) -> tuple[str, ...]:
    """Write the table of a component as a sheet.

    Texts that a spreadsheet would take for a formula are written with an apostrophe in front.

    Parameters
    ----------
    component : Converter or Engine
    path : str or path-like
        Ends in ``.csv`` or ``.xlsx``.
    overwrite : bool
        Whether a file that is there may be replaced.

    Returns
    -------
    tuple of str
        What the component has and a sheet has no place for.

    Raises
    ------
    InputError
        If there is no sheet for such a component, the ending is another, or the file cannot be
        written.
    """
    ending = os.path.splitext(os.fspath(path))[1].casefold()
    rows = sheet_rows(component)
    if ending == ".csv":
        raw = _csv(rows)
    elif ending == ".xlsx":
        try:
            raw = _xlsx(rows)
        except InputError as error:
            raise error.located(source=os.fspath(path)) from None
    else:
        raise InputError(
            "not a kind of sheet", source=os.fspath(path), found=ending, expected=".csv or .xlsx"
        )
    write_bytes(raw, path, overwrite=overwrite)
    return left_out(component)


def sheet_rows(component: Converter | Engine) -> list[Row]:
    """Return the rows of the sheet: facts, an empty row, headings with units, numbers."""
    if isinstance(component, Converter) and component.estimated:
        raise InputError(
            "is an estimate from its stall: as rows of a sheet it would pass for data",
            source=component.id,
            expected="a converter whose characteristic is known",
        )
    if isinstance(component, Converter):
        return _converter(component)
    if isinstance(component, Engine):
        return _engine(component)
    raise InputError(
        "there is no sheet for this", found=type(component).__name__, expected="converter | engine"
    )


def left_out(component: Converter | Engine) -> tuple[str, ...]:
    """Return the names of what a component has and a sheet has no place for."""
    names = (
        ("limits", "kinks", "interface", "impeller_inertia", "turbine_inertia")
        if isinstance(component, Converter)
        else ("accessories", "motoring", "exhaust_brake", "fuel", "site_correction", "inertia",
              "interface", "reference_air")
    )  # fmt: skip
    found = []
    for name in names:
        value = getattr(component, name)
        default = type(component).__dataclass_fields__[name].default_factory
        empty = default() if callable(default) else None
        if value is not None and value not in ((), 0.0) and value != empty:
            found.append(name.replace("_", " "))
    return tuple(found)


def _converter(converter: Converter) -> list[Row]:
    table = capacity(converter)
    heading = _CAPACITY_HEADINGS[table["form"]]
    if "reference_speed" in table:
        heading += f" at {table['reference_speed']['value']:g} rpm"
    facts = {
        "profile diameter": one(converter.profile_diameter, "length"),
        "oil density": one(converter.oil_density, "density"),
    }
    coupling = converter.coupling_speed_ratio
    rows = _head(converter, {"stator": converter.stator}, facts)
    if coupling is not None:
        rows.append(["coupling speed ratio", coupling])
    headings = ["speed ratio", "torque ratio", f"{heading} [{table.get('unit') or '-'}]"]
    columns = [converter.speed_ratio.tolist(), converter.torque_ratio.tolist(), table["values"]]
    if converter.reading_band is not None:
        headings += ["torque ratio band", "capacity band"]
        columns += [converter.reading_band.torque_ratio, converter.reading_band.capacity]
    return [*rows, [], list(headings), *_lines(columns)]


def _engine(engine: Engine) -> list[Row]:
    words = {
        "rating basis": engine.rating_basis,
        "rating standard": engine.rating_standard,
        "aspiration": engine.aspiration or "",
        "governing": engine.governing,
    }
    facts = {
        "displacement": one(engine.displacement, "volume"),
        "low idle": one(engine.low_idle, "angular_speed"),
        "rated speed": one(engine.rated_speed, "angular_speed"),
        "high idle": one(engine.high_idle, "angular_speed"),
    }
    rows = _head(engine, words, facts)
    if engine.torque_band:
        rows.append(["torque band", engine.torque_band])
    speed = many(engine.speed, "angular_speed")
    [(name, load)] = torque_or_power(engine.torque, engine.speed).items()
    headings = [f"speed [{speed['unit']}]", f"{name} [{load['unit']}]"]
    return [*rows, [], list(headings), *_lines([speed["values"], load["values"]])]


def _head(
    component: Converter | Engine, words: Mapping[str, str], facts: Mapping[str, Any]
) -> list[Row]:
    texts = {"id": component.id, "name": component.name, "source": component.source, **words}
    rows: list[Row] = [[label, safe_text(text)] for label, text in texts.items() if text]
    for label, table in facts.items():
        if table is not None:
            rows.append([label, f"{number_text(table['value'])} {table['unit']}"])
    for note in component.given_notes:
        if note.code == READING_BAND:  # stands in columns of its own
            continue
        line = f"{note.code}: {note_text(note, 'si')}"
        rows.append(["note", safe_text(line)[:LONGEST_CELL]])
    return rows


def _lines(columns: Sequence[Sequence[float]]) -> list[Row]:
    return [[float(value) for value in row] for row in zip(*columns, strict=True)]


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula; line breaks become spaces.

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("loader")
    ("'=1+1", 'loader')
    """
    plain = " ".join(text.split())
    return (
        f"'{plain}"
        if text.startswith(_FORMULA_SIGNS) or plain.startswith(_FORMULA_SIGNS)
        else plain
    )


def _csv(rows: Sequence[Row]) -> bytes:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    for row in rows:
        writer.writerow([cell if isinstance(cell, str) else number_text(cell) for cell in row])
    return stream.getvalue().encode("utf-8")


def _xlsx(rows: Sequence[Row]) -> bytes:
    try:
        import openpyxl
    except ImportError:
        raise InputError(
            "writing XLSX needs the package openpyxl",
            hint="python -m pip install openpyxl, or write CSV",
        ) from None
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "component"
    for number, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(number, column, value)
            if isinstance(value, str):
                cell.data_type = "s"
    stream = io.BytesIO()
    try:
        book.save(stream)
    except (ValueError, struct.error):  # its parts carry a date, from 1980 to 2107
        raise InputError(
            "a workbook cannot be written on the date that this computer has",
            hint="set the clock, or write CSV",
        ) from None
    return stream.getvalue()
