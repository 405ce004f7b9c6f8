"""An engine file becomes an `Engine`."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from converter_match.components.engine import (
    Accessory,
    Engine,
    Fuel,
    SiteCorrection,
    SpeedTable,
)
from converter_match.components.engine_limits import EngineLimits
from converter_match.components.site import Air
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.assemble.columns import column_notes
from converter_match.library.assemble.places import Places, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema.engine import (
    AccessoryTable,
    AirTable,
    Drag,
    EngineFile,
    FuelTable,
    FullLoad,
    RatingLine,
    SiteCorrectionTable,
)
from converter_match.library.schema.quantity import si_of
from converter_match.library.schema.words import RATING
from converter_match.notes import Note
from converter_match.units import to_si

LIMITS = {"speed": "angular_speed", "torque": "torque", "power": "power"}
"""Key in ``[limits]`` -> dimension, of those that a match is held against."""
RATING_ROUNDING = 0.03
"""Share by which a curve and what is stated of it may differ: both are rounded, and the highest
torque lies between two rows as often as on one (common practice, no source)."""


def assemble(toml: TomlFile) -> Engine:
    """Return the engine that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(EngineFile, toml)
    shared: dict[str, Any] = {
        "id": file.id,
        "name": file.name,
        "source": file.source,
        "rating_basis": file.rating_basis,
        "rating_standard": file.rating_standard,
        "governing": file.governing,
        "low_idle": file.low_idle.si,
        "aspiration": file.aspiration,
        "reference_air": _air(file.reference_air),
        "displacement": si_of(file.displacement),
        "accessories": tuple(
            accessory(table, f"accessory[{number}]") for number, table in enumerate(file.accessory)
        ),
        "motoring": _drag(file.motoring, "motoring"),
        "exhaust_brake": _drag(
            file.motoring.exhaust_brake if file.motoring else None, "motoring.exhaust_brake"
        ),
        "fuel": _fuel(file.fuel),
        "inertia": file.inertia.value.si if file.inertia else None,
        "site_correction": _correction(file.site_correction),
        "interface": file.interface,
        "limits": _limits(file.limits),
    }
    places: dict[str, Any] = {
        "low_idle": ("low_idle.value", file.low_idle),
        "rated_speed": ("rated_speed.value", file.rated_speed),
        "high_idle": ("high_idle.value", file.high_idle),
        "displacement": ("displacement.value", file.displacement),
        "inertia": ("inertia.value.value", file.inertia.value if file.inertia else None),
    }
    if file.full_load is None:
        assert file.rating is not None  # the file model has seen to it
        return _from_rating(file, file.rating, shared, places)
    return _from_curve(file, file.full_load, shared, places)


def _from_curve(
    file: EngineFile, table: FullLoad, shared: dict[str, Any], places: dict[str, Any]
) -> Engine:
    name = "torque" if table.torque is not None else "power"
    places["full_load.speed"] = ("full_load.speed", table.speed)
    places["full_load.torque"] = (f"full_load.{name}", getattr(table, name))
    with said_in_file_words(places):
        torque, notes = _torque(table)
        engine = Engine(
            **shared,
            rated_speed=file.rated_speed.si,
            high_idle=file.high_idle.si,
            speed=table.speed.si,
            torque=torque,
            torque_band=table.torque_band.si if table.torque_band else 0.0,
            given_notes=file.notes() + notes,
        )
    stated = () if file.rating is None else tuple(_stated(file.rating, engine))
    return engine.replace(given_notes=engine.given_notes + stated) if stated else engine


def _stated(line: RatingLine, engine: Engine) -> Iterator[Note]:
    """Hold what a sheet states of its curve against the curve."""
    at, peak = engine.peak_torque
    for code, key, curve in (
        ("rated-power-and-curve-differ", "rated_power", engine.rated_power),
        ("peak-torque-and-curve-differ", "peak_torque", peak),
    ):
        given = getattr(line, key)
        if given is None:
            continue
        share = curve / given.si - 1.0 if given.si else math.inf
        if abs(share) > RATING_ROUNDING:
            yield RATING.note(
                code, field=f"rating.{key}", stated=given.si, curve=curve, share=share
            )
    if line.peak_torque_speed is not None:
        stated = line.peak_torque_speed.si
        there = float(np.interp(stated, engine.speed, engine.torque, left=0.0, right=0.0))
        if there < (1.0 - RATING_ROUNDING) * peak:
            yield RATING.note(
                "peak-torque-elsewhere",
                field="rating.peak_torque_speed",
                stated=stated,
                there=there,
                curve=peak,
                at=at,
            )


def _from_rating(
    file: EngineFile, line: RatingLine, shared: dict[str, Any], places: dict[str, Any]
) -> Engine:
    power, torque, speed = line.rated_power, line.peak_torque, line.peak_torque_speed
    assert power is not None  # the file model has seen to it
    assert torque is not None
    assert speed is not None
    for key, given in line:
        places[f"rating.{key}"] = (f"rating.{key}.value", given)
    places["rating.rated_speed"] = places["rated_speed"]
    places["rating.low_idle"] = places["low_idle"]
    with said_in_file_words(places):
        estimate = Engine.from_rating(
            rated_power=power.si,
            rated_speed=file.rated_speed.si,
            peak_torque=torque.si,
            peak_torque_speed=speed.si,
            low_idle=file.low_idle.si,
            high_idle=file.high_idle.si,
            rating_basis=file.rating_basis,
            governing=file.governing,
            given_notes=file.notes(),
        )
        return estimate.replace(**shared)


def _torque(table: FullLoad) -> tuple[FloatArray, tuple[Note, ...]]:
    """Return the torque, from the power where that is all there is: T = P / omega."""
    if table.power is None:
        assert table.torque is not None  # the file model has seen to it
        return table.torque.si, ()
    from_power = table.power.si / table.speed.si
    if table.torque is None:
        return from_power, ()
    return table.torque.si, column_notes(
        table.torque.si,
        from_power,
        floor=0.05 * float(abs(table.torque.si).max()),
        what=("torque column", "power column"),
        field=f"full_load.power{table.power.place}",
        rows=tuple(f"at {table.speed.given(row)}" for row in range(len(table.speed))),
        code="torque-and-power-differ",
    )


def _air(table: AirTable | None) -> Air | None:
    if table is None:
        return None
    places: Places = {
        "air pressure": ("reference_air.pressure", table.pressure),
        "air temperature": ("reference_air.temperature", table.temperature),
        "vapour pressure": ("reference_air.vapour_pressure", table.vapour_pressure),
    }
    with said_in_file_words(places):
        return Air(
            pressure=table.pressure.si,
            temperature=table.temperature.si,
            vapour_pressure=table.vapour_pressure.si if table.vapour_pressure else 0.0,
        )


def accessory(table: AccessoryTable, field: str) -> Accessory:
    """Return what a table of the file says is driven beside the converter; `field` is its path."""
    given = table.power or table.torque
    assert given is not None  # the file model has seen to it
    key = "power" if table.power else "torque"
    power = given.si if table.power else given.si * table.at_speed.si
    where = f"accessory {table.name!r}"
    places: Places = {
        f"{where}.power": (f"{field}.{key}.value", given),
        f"{where}.at_speed": (f"{field}.at_speed.value", table.at_speed),
        f"{where}.exponent": (f"{field}.exponent", table.exponent),
    }
    with said_in_file_words(places):
        return Accessory(
            name=table.name,
            power=power,
            at_speed=table.at_speed.si,
            exponent=table.exponent.si,
        )


def _drag(table: Drag | None, name: str) -> SpeedTable | None:
    if table is None:
        return None
    with said_in_file_words({name: (f"{name}.torque", table.torque)}):
        return SpeedTable(speed=table.speed.si, value=table.torque.si, name=name)


def _fuel(table: FuelTable | None) -> Fuel | None:
    if table is None:
        return None
    places: dict[str, Any] = {"fuel.bsfc": ("fuel.bsfc", table.bsfc)}
    for key in ("idle_rate", "lower_heating_value", "density"):
        places[f"fuel.{key}"] = (f"fuel.{key}.value", getattr(table, key))
    with said_in_file_words(places):
        specific = None
        if table.speed is not None and table.bsfc is not None:
            specific = SpeedTable(speed=table.speed.si, value=table.bsfc.si, name="fuel.bsfc")
        return Fuel(
            specific=specific,
            idle_rate=si_of(table.idle_rate),
            lower_heating_value=si_of(table.lower_heating_value),
            density=si_of(table.density),
        )


def _limits(entries: tuple[tuple[str, str], ...]) -> EngineLimits:
    """Return the limits of a table of free keys: three of them have a meaning."""
    read: dict[str, float] = {}
    unread, others = [], []
    for key, text in entries:
        if key not in LIMITS:
            others.append((key, text))
            continue
        number, _, unit = text.partition(" ")
        try:
            value = float(to_si(float(number), unit, LIMITS[key]))
        except (InputError, ValueError):
            value = math.nan
        if math.isfinite(value) and value > 0.0:
            read[key] = value
        else:
            unread.append((key, text))
    return EngineLimits(
        speed=read.get("speed"),
        torque=read.get("torque"),
        power=read.get("power"),
        unread=tuple(unread),
        others=tuple(others),
    )


def _correction(table: SiteCorrectionTable | None) -> SiteCorrection:
    if table is None:
        return SiteCorrection()
    derate = table.derate
    places: dict[str, Any] = {
        "site_correction.engine_factor": ("site_correction.engine_factor", table.engine_factor),
        "site_correction.mechanical_efficiency": (
            "site_correction.mechanical_efficiency",
            table.mechanical_efficiency,
        ),
    }
    with said_in_file_words(places):
        return SiteCorrection(
            method=table.method,
            engine_factor=si_of(table.engine_factor),
            mechanical_efficiency=si_of(table.mechanical_efficiency),
            derate_altitude=derate.altitude.si if derate else None,
            derate_factor=derate.factor.si if derate else None,
        )
