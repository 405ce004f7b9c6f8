"""A converter file becomes a `Converter`."""

from __future__ import annotations

import numpy as np

from converter_match.components.capacity_forms import CapacityBasis, to_capacity
from converter_match.components.converter import Converter, ConverterLimits
from converter_match.curves import FloatArray
from converter_match.library.assemble.columns import column_notes, efficiency_notes
from converter_match.library.assemble.places import Places, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.odd.converter import reference_speed_oddities
from converter_match.library.problems import validated
from converter_match.library.schema.converter import Capacity, ConverterFile
from converter_match.library.schema.quantity import GivenColumn, si_of
from converter_match.notes import Note, assumption


def assemble(toml: TomlFile) -> Converter:
    """Return the converter that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(ConverterFile, toml)
    rows, limits, inertia = file.characteristic, file.limits, file.inertia
    many = isinstance(toml.data["characteristic"]["capacity"], list)
    speed_ratio, notes = rows.speed_ratio.si, list(file.notes())
    if rows.torque_ratio is None:
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
        "profile_diameter": ("profile_diameter", file.profile_diameter),
        "oil_density": ("oil_density", file.oil_density),
        "coupling_speed_ratio": ("coupling_speed_ratio.value", file.coupling_speed_ratio),
        "speed_ratio": ("characteristic.speed_ratio", rows.speed_ratio),
        "torque_ratio": ("characteristic.torque_ratio", rows.torque_ratio),
        "capacity": (_capacity_field(0, many), rows.capacity[0].column()),
        "impeller_inertia": ("inertia.impeller", inertia.impeller),
        "turbine_inertia": ("inertia.turbine", inertia.turbine),
        **{f"limits.{key}": (f"limits.{key}", value) for key, value in limits},
    }
    with said_in_file_words(places):
        if rows.efficiency is not None:
            field = f"characteristic.efficiency{rows.efficiency.place}"
            notes += efficiency_notes(speed_ratio, torque_ratio, rows.efficiency.si, field)
        for number, other in enumerate(capacities[1:], start=1):
            notes += _second_opinion(rows.capacity, number, capacities[0], other, speed_ratio)
        return Converter(
            id=file.id,
            name=file.name,
            source=file.source,
            stator=file.stator,
            speed_ratio=speed_ratio,
            torque_ratio=torque_ratio,
            capacity=capacities[0],
            coupling_speed_ratio=si_of(file.coupling_speed_ratio),
            kinks=tuple(rows.kinks.si.tolist()) if rows.kinks is not None else (),
            profile_diameter=si_of(file.profile_diameter),
            oil_density=si_of(file.oil_density),
            limits=ConverterLimits(**{key: si_of(value) for key, value in limits}),
            impeller_inertia=si_of(inertia.impeller),
            turbine_inertia=si_of(inertia.turbine),
            interface=file.interface,
            given_notes=tuple(notes),
        )


def _capacity_field(number: int, many: bool) -> str:
    return f"characteristic.capacity[{number}]" if many else "characteristic.capacity"


def _capacity_of(file: ConverterFile, table: Capacity, field: str) -> FloatArray:
    column = table.column()
    places: Places = {
        "profile_diameter": ("profile_diameter", file.profile_diameter),
        "oil_density": ("oil_density", file.oil_density),
        "reference_speed": (f"{field}.reference_speed", table.reference_speed),
        "capacity.values": (field, column),
    }
    with said_in_file_words(places):
        basis = CapacityBasis(
            reference_speed=si_of(table.reference_speed),
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
