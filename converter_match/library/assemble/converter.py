"""A converter file becomes a `Converter`."""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.components.capacity_forms import CapacityBasis, to_capacity
from converter_match.components.converter import Converter
from converter_match.components.converter_estimate import estimated_converter
from converter_match.components.converter_limits import ConverterLimits
from converter_match.components.converter_read import with_reading_band
from converter_match.components.reading_band import ReadingBand
from converter_match.components.stall_datum import StallDatum
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.assemble.columns import column_notes, efficiency_notes
from converter_match.library.assemble.family import assembled_family
from converter_match.library.assemble.places import Given, Places, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.odd.converter import reference_speed_oddities
from converter_match.library.problems import validated
from converter_match.library.schema.converter import (
    Capacity,
    CharacteristicTable,
    ConverterFile,
)
from converter_match.library.schema.quantity import GivenColumn, si_of
from converter_match.notes import Note, assumption

_FROM_EFFICIENCY = assumption(
    "torque-ratio-from-efficiency",
    "The sheet gives no torque ratio: it was taken as efficiency / speed ratio, and at stall as "
    "stated. At low speed ratios the last digit of the efficiency is much of it.",
)


def assemble(toml: TomlFile) -> Converter:
    """Return the converter that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(ConverterFile, toml)
    if file.characteristic is None:
        return _estimated(file)
    nominal = _from_rows(file, file.characteristic, toml)
    if file.family is None:
        return nominal
    return assembled_family(nominal, file.family, toml, assemble)


def _from_rows(file: ConverterFile, rows: CharacteristicTable, toml: TomlFile) -> Converter:
    """Return the converter of a file with the rows of a sheet."""
    many = isinstance(toml.data["characteristic"]["capacity"], list)
    speed_ratio, notes = rows.speed_ratio.si, list(file.notes())
    if rows.torque_ratio is None and rows.efficiency is not None:
        torque_ratio = _from_efficiency(rows, rows.efficiency)
        notes.append(_FROM_EFFICIENCY)
    elif rows.torque_ratio is None:
        torque_ratio = np.ones(len(speed_ratio))
        notes.append(
            assumption(
                "torque-ratio-taken-as-one",
                "The sheet of this fluid coupling gives no torque ratio: it was taken as 1.",
            )
        )
    else:
        torque_ratio = rows.torque_ratio.si
    for table in rows.capacity:
        notes += reference_speed_oddities(si_of(table.reference_speed))
    capacities = [
        _capacity_of(file, table, _capacity_field(number, many))
        for number, table in enumerate(rows.capacity)
    ]
    places: Places = {
        **_places(file),
        "speed_ratio": ("characteristic.speed_ratio", rows.speed_ratio),
        "torque_ratio": ("characteristic.torque_ratio", rows.torque_ratio),
        "capacity": (_capacity_field(0, many), rows.capacity[0].column()),
    }
    with said_in_file_words(places):
        if rows.efficiency is not None and rows.torque_ratio is not None:
            field = f"characteristic.efficiency{rows.efficiency.place}"
            notes += efficiency_notes(speed_ratio, torque_ratio, rows.efficiency.si, field)
        for number, other in enumerate(capacities[1:], start=1):
            notes += _second_opinion(rows.capacity, number, capacities[0], other, speed_ratio)
        unit = Converter(
            **_common(file),
            coupling_speed_ratio=si_of(file.coupling_speed_ratio),
            speed_ratio=speed_ratio,
            torque_ratio=torque_ratio,
            capacity=capacities[0],
            kinks=tuple(rows.kinks.si.tolist()) if rows.kinks is not None else (),
            given_notes=tuple(notes),
        )
        if rows.torque_ratio_band is None and rows.capacity_band is None:
            return unit
        band = ReadingBand(
            torque_ratio=rows.shares("torque_ratio_band"), capacity=rows.shares("capacity_band")
        )
        return with_reading_band(unit, band)


def _estimated(file: ConverterFile) -> Converter:
    """Return the converter of a file that knows its stall only."""
    table = file.stall_datum
    assert table is not None  # the file has one of the two
    ratio = table.torque_ratio_range or table.torque_ratio
    places = {
        **_places(file),
        "stall_datum.engine_speed": ("stall_datum.engine_speed", table.engine_speed),
        "stall_datum.input_torque": ("stall_datum.input_torque", table.input_torque),
    }
    if ratio is not None:
        key = "torque_ratio_range" if table.torque_ratio_range is not None else "torque_ratio"
        places["stall_datum.torque_ratio"] = (f"stall_datum.{key}", ratio)
    with said_in_file_words(places):
        datum = StallDatum(
            engine_speed=table.engine_speed.si,
            input_torque=table.input_torque.si,
            torque_ratio=table.span(),
            coupling_speed_ratio=si_of(file.coupling_speed_ratio),
        )
        return estimated_converter(datum, **_common(file), given_notes=file.notes())


def _from_efficiency(rows: CharacteristicTable, given: GivenColumn) -> FloatArray:
    """Return the torque ratio mu = eta / nu; at stall, where both are zero, as given."""
    nu, eta = rows.speed_ratio.si, given.si
    at_stall = np.flatnonzero(nu == 0.0)
    for row in at_stall:
        field = f"characteristic.efficiency{given.place}[{row}]"
        if eta[row] != 0.0:
            raise InputError(
                "nothing turns at stall, so no power comes out",
                field=field,
                found=given.given(int(row)),
                expected="an efficiency of 0 at speed ratio 0",
            )
        if rows.stall_torque_ratio is None:
            raise InputError(
                "missing",
                field="characteristic.stall_torque_ratio",
                expected="the torque ratio at speed ratio 0, of which an efficiency says nothing",
                hint="or leave that row out",
            )
    ratio = eta / np.where(nu == 0.0, 1.0, nu)
    if rows.stall_torque_ratio is not None:
        ratio[at_stall] = rows.stall_torque_ratio.si
    return np.asarray(ratio)


def _places(file: ConverterFile) -> dict[str, tuple[str, Given]]:
    """Return where in the file the fields stand that every converter may have."""
    return {
        "profile_diameter": ("profile_diameter", file.profile_diameter),
        "oil_density": ("oil_density", file.oil_density),
        "oil_volume": ("oil_volume", file.oil_volume),
        "coupling_speed_ratio": ("coupling_speed_ratio.value", file.coupling_speed_ratio),
        "impeller_inertia": ("inertia.impeller", file.inertia.impeller),
        "turbine_inertia": ("inertia.turbine", file.inertia.turbine),
        **{f"limits.{key}": (f"limits.{key}", value) for key, value in file.limits},
    }


def _common(file: ConverterFile) -> dict[str, Any]:
    """Return the fields that every converter may have, beside its characteristic."""
    return {
        "id": file.id,
        "name": file.name,
        "source": file.source,
        "stator": file.stator,
        "profile_diameter": si_of(file.profile_diameter),
        "oil_density": si_of(file.oil_density),
        "oil_volume": si_of(file.oil_volume),
        "limits": ConverterLimits(**{key: si_of(value) for key, value in file.limits}),
        "impeller_inertia": si_of(file.inertia.impeller),
        "turbine_inertia": si_of(file.inertia.turbine),
        "interface": file.interface,
    }


def _capacity_field(number: int, many: bool) -> str:
    return f"characteristic.capacity[{number}]" if many else "characteristic.capacity"


def _capacity_of(file: ConverterFile, table: Capacity, field: str) -> FloatArray:
    column = table.column()
    places: Places = {
        "profile_diameter": ("profile_diameter", file.profile_diameter),
        "oil_density": ("oil_density", file.oil_density),
        "reference_speed": (f"{field}.reference_speed", table.reference_speed),
        "reference_torque": (f"{field}.reference_torque", table.reference_torque),
        "capacity.values": (field, column),
    }
    with said_in_file_words(places):
        basis = CapacityBasis(
            reference_speed=si_of(table.reference_speed),
            reference_torque=si_of(table.reference_torque),
            profile_diameter=si_of(file.profile_diameter),
            oil_density=si_of(file.oil_density),
        )
        return to_capacity(table.form, column.si, basis)


def _second_opinion(
    tables: list[Capacity],
    number: int,
    used: FloatArray,
    other: FloatArray,
    speed_ratio: FloatArray,
) -> tuple[Note, ...]:
    column: GivenColumn = tables[number].column()
    return column_notes(
        used,
        other,
        floor=0.05 * float(np.abs(used).max()),
        what=(_called(tables[0]), _called(tables[number])),
        field=f"characteristic.capacity[{number}]{column.place}",
        rows=tuple(f"at speed ratio {nu:.6g}" for nu in speed_ratio),
        code="capacity-columns-differ",
    )


def _called(table: Capacity) -> str:
    unit = f" [{table.unit}]" if table.unit else ""
    return f"capacity as {table.form.replace('_', ' ')}{unit}"
