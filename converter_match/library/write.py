"""A component becomes a file that reads back as the same component, to the last bit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from converter_match.components.arrangement import Arrangement
from converter_match.components.base import SecondFigure
from converter_match.components.blading import BladeRow, BladingGeometry
from converter_match.components.converter import Converter
from converter_match.components.converter_estimate import ESTIMATED
from converter_match.components.converter_family import NOMINAL
from converter_match.components.converter_read import band_kept
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine, SpeedTable
from converter_match.components.engine_limits import EngineLimits
from converter_match.components.load import ShaftLoad
from converter_match.components.machine import Machine
from converter_match.components.motor import Motor
from converter_match.components.reading_band import READING_BAND
from converter_match.components.site import Site
from converter_match.components.stall_datum import StallDatum
from converter_match.errors import InputError
from converter_match.library.atomic import write_text
from converter_match.library.exact import capacity, many, one, torque_or_power
from converter_match.library.files import FilePath, TomlFile
from converter_match.library.read import KINDS
from converter_match.library.second_figures import put_beside
from converter_match.library.toml_text import Inline, toml_text
from converter_match.library.write_load import load_tables
from converter_match.library.write_machine import (
    arrangement_tables,
    driveline_tables,
    machine_tables,
)
from converter_match.library.write_motor import accessory_tables, motor_tables
from converter_match.notes import ASKED, Note
from converter_match.units import note_plain

_MADE_AGAIN = (ESTIMATED, NOMINAL, READING_BAND)  # notes that reading the file makes


def component_text(component: Any) -> str:
    """Return the TOML text of a component.

    Parameters
    ----------
    component : Component
        Arrangement, BladingGeometry, Converter, Driveline, Engine, Machine, Motor, ShaftLoad or
        Site. Numbers are written in the unit of the trade in which they are shortest and still
        exact: a sheet in lbf.ft comes out in lbf.ft. What the component's file prints in a second
        unit is written again beside every number that is still the one of that file.

    Returns
    -------
    str
        Reads back as an equal component.

    Raises
    ------
    InputError
        If there is no file format for it, or it holds what no file may hold (an empty name), or
        says otherwise than in a file (a machine whose centre of gravity is known empty only).

    Examples
    --------
    >>> from converter_match.library.read import read_site
    >>> from converter_match.library.shipped import shipped
    >>> text = component_text(read_site(shipped("sites")["plateau-quarry-hot-day"]))
    >>> print(text.splitlines()[4])
    altitude = { unit = "m", value = 2000, also = { unit = "ft", value = 6562 } }
    """
    import tomllib

    if isinstance(component, Converter):
        component = _as_read(component)
    second: tuple[SecondFigure, ...] = getattr(component, "second_figures", ())
    for kind, (type_, tables) in _WRITERS.items():
        if isinstance(component, type_):
            data = {"schema": KINDS[kind].schema, **tables(component)}
            for figure in second:
                put_beside(data, figure)
            text = toml_text(data)
            # Nobody should find out later that the file cannot be read.
            back = KINDS[kind].assemble(TomlFile(f"this {kind}", tomllib.loads(text), text))
            if back != component:
                raise InputError(
                    f"no file says exactly this {kind}: it would read back as another",
                    source=str(back.id),
                )
            return text
    raise InputError(
        "there is no file format for this",
        found=type(component).__name__,
        expected=" | ".join(_WRITERS),
    )


def _as_read(converter: Converter) -> Converter:
    """Return a converter read within a band as its file reads: a scale leaves the shares of a band.

    Raises
    ------
    InputError
        If what it may be as well does not lie at the ends of the band of its rows, which is all
        that a file can say.
    """
    if converter.reading_band is None or not converter.alternatives:
        return converter
    found = band_kept(converter, converter.reading_band)
    at = converter.speed_ratio
    ends, told = converter.band(at), found.band(at)
    alike = len(found.alternatives) == len(converter.alternatives) and all(
        np.allclose(ends[name], told[name], rtol=1e-9, atol=0.0) for name in ends
    )
    if not alike:
        raise InputError(
            "a file says a reading band by the rows of the converter as it was read, and this one "
            "was changed since (by a torque divider, a stator, an overrun)",
            source=converter.id,
            field="characteristic.capacity_band, characteristic.torque_ratio_band",
            expected="the converter before that change, with the change in an arrangement file",
        )
    return found


def write_component(component: Any, path: FilePath, *, overwrite: bool = False) -> None:
    """Write a component to a file, whole or not at all.

    Parameters
    ----------
    component : Converter, Engine, Machine or another component
        See `component_text`.
    path : str or path-like
        The file; its folder must be there.
    overwrite : bool
        Whether a file that is there may be replaced.

    Raises
    ------
    InputError
        If a file is there and `overwrite` is not given, or it cannot be written.
    """
    write_text(component_text(component), path, overwrite=overwrite)


def _head(component: Any) -> dict[str, Any]:
    return {"id": component.id, "name": component.name, "source": component.source}


def _notes(notes: tuple[Note, ...]) -> list[dict[str, str]] | None:
    # What is asked about a number is asked again when the file is read.
    return [note_plain(note) for note in notes if note.code not in ASKED] or None


def _with(tables: Callable[[Any], dict[str, Any]]) -> Callable[[Any], dict[str, Any]]:
    """Put head and notes around the tables of a component."""
    return lambda component: {
        **_head(component),
        **tables(component),
        "note": _notes(component.given_notes),
    }


def _converter(converter: Converter) -> dict[str, Any]:
    limits, datum = converter.limits, converter.stall_datum
    coupling = (converter if datum is None else datum).coupling_speed_ratio
    return {
        **_head(converter),
        "stator": converter.stator,
        "profile_diameter": one(converter.profile_diameter, "length"),
        "oil_density": one(converter.oil_density, "density"),
        "oil_volume": one(converter.oil_volume, "volume"),
        "coupling_speed_ratio": None if coupling is None else Inline(value=coupling),
        **(_rows(converter) if datum is None else _stall(datum)),
        "family": _family(converter),
        "limits": {
            "input_torque": one(limits.input_torque, "torque"),
            "input_speed": one(limits.input_speed, "angular_speed"),
            "input_power": one(limits.input_power, "power"),
            "oil_temperature": one(limits.oil_temperature, "temperature"),
        },
        "inertia": {
            "impeller": one(converter.impeller_inertia, "inertia"),
            "turbine": one(converter.turbine_inertia, "inertia"),
        },
        "interface": dict(converter.interface),
        # What the reading says of itself is said anew by the next one.
        "note": _notes(
            tuple(note for note in converter.given_notes if note.code not in _MADE_AGAIN)
            if converter.alternatives or converter.adjustment is not None
            else converter.given_notes
        ),
    }


def _family(converter: Converter) -> dict[str, Any]:
    """Return the other members of an adjustable converter."""
    how = converter.adjustment
    if how is None:
        return {}
    return {
        "parameter": how.parameter,
        "unit": how.unit or None,
        "nominal": how.setting,
        "between": how.between,
        "member": [
            {
                "setting": setting,
                "coupling_speed_ratio": None
                if (nu := member.coupling_speed_ratio) is None
                else Inline(value=nu),
                **_rows(member),
            }
            for setting, member in zip(how.settings, converter.members, strict=True)
            if setting != how.setting
        ],
    }


def _rows(converter: Converter) -> dict[str, Any]:
    band = converter.reading_band
    return {
        "characteristic": {
            "speed_ratio": converter.speed_ratio.tolist(),
            "torque_ratio": converter.torque_ratio.tolist(),
            "capacity": capacity(converter),
            "kinks": list(converter.kinks) or None,
            "torque_ratio_band": None if band is None else list(band.torque_ratio),
            "capacity_band": None if band is None else list(band.capacity),
        }
    }


def _stall(datum: StallDatum) -> dict[str, Any]:
    """Return the table of an estimate, which is estimated again when it is read."""
    ends = datum.torque_ratio
    known = ends is not None and ends[0] == ends[1]
    return {
        "stall_datum": {
            "engine_speed": one(datum.engine_speed, "angular_speed"),
            "input_torque": one(datum.input_torque, "torque"),
            "torque_ratio": ends[0] if ends is not None and known else None,
            "torque_ratio_range": list(ends) if ends is not None and not known else None,
        }
    }


def _blading(blading: BladingGeometry) -> dict[str, Any]:
    return {
        **_head(blading),
        "mounting": blading.mounting,
        "profile_diameter": one(blading.profile_diameter, "length"),
        "flow_area": one(blading.flow_area, "area", "cm2"),
        "oil_density": one(blading.oil_density, "density"),
        "friction_factor": blading.friction_factor,
        "friction_form": blading.friction_form,
        "impeller": _blade_row(blading.impeller, blading.impeller_exit_radius),
        "turbine": _blade_row(blading.turbine, blading.turbine_exit_radius),
        "stator": _blade_row(blading.stator, blading.stator_exit_radius),
        "inertia": {
            "impeller": one(blading.impeller_inertia, "inertia"),
            "turbine": one(blading.turbine_inertia, "inertia"),
        },
        "note": _notes(blading.given_notes),
    }


def _blade_row(row: BladeRow | None, exit_radius: float | None) -> dict[str, Any]:
    if row is None:
        return {}
    return {
        "exit_radius": one(exit_radius, "length"),
        "entry_angle": one(row.entry_angle, "angle"),
        "exit_angle": one(row.exit_angle, "angle"),
        "shock_factor": row.shock_factor,
    }


def _engine(engine: Engine) -> dict[str, Any]:
    air = engine.reference_air
    return {
        **_head(engine),
        "rating_basis": engine.rating_basis,
        "rating_standard": engine.rating_standard or None,
        "aspiration": engine.aspiration,
        "reference_air": air
        and Inline(
            pressure=one(air.pressure, "pressure"),
            temperature=one(air.temperature, "temperature"),
            **({"vapour_pressure": one(v, "pressure")} if (v := air.vapour_pressure) else {}),
        ),
        "displacement": one(engine.displacement, "volume"),
        "low_idle": one(engine.low_idle, "angular_speed"),
        "rated_speed": one(engine.rated_speed, "angular_speed"),
        "high_idle": one(engine.high_idle, "angular_speed"),
        "governing": engine.governing,
        "full_load": {
            "speed": many(engine.speed, "angular_speed"),
            **torque_or_power(engine.torque, engine.speed),
            "torque_band": one(engine.torque_band or None, "ratio", "percent"),
        },
        "accessory": accessory_tables(engine),
        "motoring": _motoring(engine),
        "fuel": _fuel(engine),
        "inertia": {"value": one(engine.inertia, "inertia")},
        "limits": _engine_limits(engine.limits),
        "site_correction": _site_correction(engine),
        "interface": dict(engine.interface),
        "note": _notes(engine.given_notes),
    }


def _drag(table: SpeedTable | None) -> dict[str, Any]:
    if table is None:
        return {}
    return {"speed": many(table.speed, "angular_speed"), "torque": many(table.value, "torque")}


def _engine_limits(limits: EngineLimits) -> dict[str, Any]:
    return {
        "speed": one(limits.speed, "angular_speed"),
        "torque": one(limits.torque, "torque"),
        "power": one(limits.power, "power"),
        **dict(limits.unread),
        **dict(limits.others),
    }


def _motoring(engine: Engine) -> dict[str, Any]:
    if engine.motoring is None and engine.exhaust_brake is not None:
        raise InputError(
            "an exhaust brake needs a motoring curve beside it",
            source=engine.id,
            field="motoring",
        )
    return {**_drag(engine.motoring), "exhaust_brake": _drag(engine.exhaust_brake)}


def _fuel(engine: Engine) -> dict[str, Any]:
    fuel = engine.fuel
    if fuel is None:
        return {}
    columns = {}
    if fuel.specific is not None:
        columns["speed"] = many(fuel.specific.speed, "angular_speed")
        columns["bsfc"] = many(fuel.specific.value, "specific_fuel")
    return {
        **columns,
        "idle_rate": one(fuel.idle_rate, "fuel_rate"),
        "lower_heating_value": one(fuel.lower_heating_value, "specific_energy"),
        "density": one(fuel.density, "density"),
    }


def _site_correction(engine: Engine) -> dict[str, Any]:
    correction = engine.site_correction
    derate = {}
    if correction.derate_altitude is not None and correction.derate_factor is not None:
        derate["altitude"] = many(correction.derate_altitude, "length", "m", "ft")
        derate["factor"] = correction.derate_factor.tolist()
    return {
        "method": correction.method,
        "engine_factor": correction.engine_factor,
        "mechanical_efficiency": correction.mechanical_efficiency,
        "derate": derate,
    }


def _site(site: Site) -> dict[str, Any]:
    return {
        **_head(site),
        "altitude": one(site.altitude, "length", "m", "ft"),
        "air_pressure": one(site.air_pressure, "pressure"),
        "air_temperature": one(site.air_temperature, "temperature"),
        "relative_humidity": one(site.relative_humidity, "ratio", "percent"),
    }


_WRITERS: dict[str, tuple[type, Callable[[Any], dict[str, Any]]]] = {
    "arrangement": (Arrangement, _with(arrangement_tables)),
    "blading": (BladingGeometry, _blading),
    "converter": (Converter, _converter),
    "driveline": (Driveline, _with(driveline_tables)),
    "engine": (Engine, _engine),
    "load": (ShaftLoad, _with(load_tables)),
    "machine": (Machine, _with(machine_tables)),
    "motor": (Motor, _with(motor_tables)),
    "site": (Site, _site),
}
