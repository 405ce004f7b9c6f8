"""The readings of a study file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.errors import InputError, did_you_mean
from converter_match.library.assemble.places import said_in_file_words
from converter_match.library.files import FilePath
from converter_match.library.paths import moved, placed
from converter_match.library.schema.quantity import GivenQuantity, read_quantity, si_of
from converter_match.library.surfaces import PUBLISHED, find_surface, published, read_surfaces
from converter_match.study.measurement import IN_AIR, KINDS, Measurement

if TYPE_CHECKING:
    from converter_match.library.schema import study as schema

_PERCENT = ("percent", "%")
_AIR = ("site", "air_temperature", "air_pressure")
_NUMBERS = (
    "grade", "speed", "engine_speed", "speed_ratio", "duration", "mass", "oil_temperature",
    "model_error",
)  # fmt: skip


@dataclass(frozen=True)
class Places:
    """Where the readings of a study were taken, and how to get at files.

    Parameters
    ----------
    sites : sequence of Site
        Of the study.
    found : callable
        Of (place, as written, search): the path of a file that a study names.
    taken : callable
        Of (place, as written, path, reader): the file read, and kept with the inputs.
    """

    sites: Sequence[Site]
    found: Callable[[str, str, Callable[[FilePath], Path]], Path]
    taken: Callable[[str, str, Path, Callable[[Any], Any]], Any]


def measurements_of(
    tables: Sequence[schema.MeasurementTable], places: Places
) -> tuple[Measurement, ...]:
    """Return the readings of a study file.

    Raises
    ------
    InputError
        Naming the row and the key.
    """
    surfaces: list[Surface] = []
    if any(table.surface is not None for table in tables):
        path = places.found("measurement.surfaces", PUBLISHED, published)
        surfaces += places.taken("measurement.surfaces", PUBLISHED, path, read_surfaces)
    return tuple(_measurement(row, table, places, surfaces) for row, table in enumerate(tables))


def _measurement(
    row: int, table: schema.MeasurementTable, places: Places, surfaces: Sequence[Surface]
) -> Measurement:
    place = f"measurement[{row}]"
    dimension = dimension_of(table.quantity, _DIMENSIONS, f"{place}.quantity")
    with placed(f"{place}.value", None):
        value = read_quantity(table.value, dimension, bare=dimension == "ratio")
    deviation = _deviation(table.deviation, value, dimension, f"{place}.deviation")
    site, air_known = _site(table, places.sites, place)
    given = {name: getattr(table, name) for name in _NUMBERS}
    named: dict[str, Any] = {
        f"measurement.{name}": (f"{place}.{name}", number) for name, number in given.items()
    }
    named["measurement.value"] = (f"{place}.value", value)
    with said_in_file_words(named), placed(place, "measurement"):
        return Measurement(
            quantity=table.quantity,
            combination=table.combination,
            value=value.si,
            deviation=deviation,
            repeats=_repeats(table.repeats, place),
            given=value.given(),
            gear=table.gear or "",
            pumps=table.pumps,
            load=table.load,
            ground=table.ground,
            surface=_surface(table, surfaces, place),
            site=site,
            air_known=air_known,
            date=_day(table.date, f"{place}.date"),
            source=table.source,
            **{name: si_of(number) for name, number in given.items()},
        )


_DIMENSIONS = {name: kind.dimension for name, kind in KINDS.items()}


def _deviation(raw: Any, value: GivenQuantity, dimension: str, place: str) -> float:
    """Return a deviation [SI]: in a unit of the quantity, or in percent of the value."""
    share = isinstance(raw, dict) and raw.get("unit") in _PERCENT and dimension != "ratio"
    with placed(place, None):
        given = read_quantity(
            raw, "weight_share" if share else dimension, bare=dimension == "ratio"
        )
    if given.si <= 0.0:
        raise InputError(
            "a reading without any doubt, or less than none", field=place, found=given.given(),
            expected="one standard deviation of instrument and repeat, above zero",
        )  # fmt: skip
    return given.si * value.si if share else given.si


def _repeats(given: GivenQuantity | None, place: str) -> int:
    number = 1.0 if given is None else given.si
    if number != int(number) or number < 1:
        raise InputError(
            "not a count", field=f"{place}.repeats", found=number, expected="one or more"
        )
    return int(number)


def _day(written: str | None, place: str) -> str:
    if written is None:
        return ""
    try:
        day = date.fromisoformat(written)
    except ValueError:
        raise InputError(
            "not a day", field=place, found=written, expected="such as 2031-05-04"
        ) from None
    if day > date.today():
        raise InputError(
            "lies in the future: nothing has been read then", field=place, found=written,
            expected=f"{date.today().isoformat()} or before",
        )  # fmt: skip
    return written


def _surface(
    table: schema.MeasurementTable, surfaces: Sequence[Surface], place: str
) -> Surface | None:
    if table.surface is None:
        return None
    try:
        return find_surface(table.surface, surfaces)
    except InputError as error:
        raise moved(error, f"{place}.surface") from None


def _site(
    table: schema.MeasurementTable, sites: Sequence[Site], place: str
) -> tuple[Site | None, tuple[bool, bool]]:
    """Return the air of a reading, and whether its temperature and pressure were measured."""
    temperature, pressure = si_of(table.air_temperature), si_of(table.air_pressure)
    known = temperature is not None, pressure is not None
    if table.quantity not in IN_AIR:
        for name in _AIR:
            if getattr(table, name) is not None:
                raise InputError(
                    f"means nothing for {KINDS[table.quantity].title}", field=f"{place}.{name}",
                    expected="the key left out",
                )  # fmt: skip
        return None, (False, False)
    by_id = {site.id: site for site in sites}
    if table.site is None and sites and not all(known):
        raise InputError(
            "missing: the stall speed and the pull of an engine depend on the air",
            field=f"{place}.site",
            expected=f"one of {', '.join(by_id)}, or air_temperature and air_pressure of that day",
        )
    if table.site is not None and table.site not in by_id:
        raise InputError(
            "there is no such site of this study", field=f"{place}.site", found=table.site,
            expected=" | ".join(by_id) or "none is given", hint=did_you_mean(table.site, by_id),
        )  # fmt: skip
    changes: dict[str, Any] = {}
    changes |= {} if temperature is None else {"air_temperature": temperature}
    changes |= {} if pressure is None else {"air_pressure": pressure}
    named: dict[str, Any] = {
        name: (f"{place}.{name}", getattr(table, name)) for name in ("air_temperature",
                                                                      "air_pressure")
    }  # fmt: skip
    with said_in_file_words(named):
        if table.site is not None:
            site = by_id[table.site]
            return (site.replace(**changes) if changes else site), known
        if not changes:
            return None, known
        return Site(id="as-measured", name="air as measured", source="the study", **changes), known


def dimension_of(quantity: str, known: Mapping[str, str], place: str) -> str:
    """Return the dimension of a quantity.

    Raises
    ------
    InputError
        If there is none of that name, naming the nearest.
    """
    if quantity not in known:
        raise InputError(
            "there is no such quantity",
            field=place,
            found=quantity,
            expected=" | ".join(known),
            hint=did_you_mean(quantity, known),
        )
    return known[quantity]
