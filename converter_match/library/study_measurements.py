"""The readings of a study file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.errors import InputError, did_you_mean
from converter_match.library.assemble.places import said_in_file_words
from converter_match.library.named_readings import Places, named_reading
from converter_match.library.paths import moved, placed
from converter_match.library.schema.quantity import GivenQuantity, read_quantity, si_of
from converter_match.library.surfaces import PUBLISHED, find_surface, published, read_surfaces
from converter_match.study.measurement import IN_AIR, KINDS, Measurement
from converter_match.study.possible import LEAST_DEVIATION, USUAL, NotPossible, PossibleReading

if TYPE_CHECKING:
    from converter_match.library.schema import study as schema

_PERCENT = ("percent", "%")
_AIR = ("site", "air_temperature", "air_pressure")
_NUMBERS = (
    "grade", "speed", "engine_speed", "speed_ratio", "duration", "mass", "oil_temperature",
    "model_error",
)  # fmt: skip


def measurements_of(
    tables: Sequence[schema.MeasurementTable], places: Places
) -> tuple[Measurement, ...]:
    """Return the readings of a study file.

    Raises
    ------
    InputError
        Naming the row and the key.
    """
    surfaces = _surfaces(tables, places, "measurement")
    return tuple(_measurement(row, table, places, surfaces) for row, table in enumerate(tables))


def possible_of(
    tables: Sequence[schema.PossibleTable], places: Places
) -> tuple[tuple[PossibleReading, ...], tuple[NotPossible, ...]]:
    """Return the readings that could be taken by a study file, and those that could not.

    Raises
    ------
    InputError
        Naming the row and the key.
    """
    surfaces = _surfaces(tables, places, "possible")
    found, out = [], []
    for row, table in enumerate(tables):
        place = f"possible[{row}]"
        dimension = dimension_of(table.quantity, _DIMENSIONS, f"{place}.quantity")
        if table.cost == "off":
            out.append(NotPossible(quantity=table.quantity, combination=table.combination))
            continue
        usual_share, usual_cost = USUAL[table.quantity]
        share: float | None = usual_share
        deviation, least = 1.0, LEAST_DEVIATION.get(table.quantity, 0.0)
        if table.deviation is not None:
            given, is_share = _read_deviation(table.deviation, dimension, f"{place}.deviation")
            share, least = given.si if is_share else None, 0.0
            deviation = 1.0 if is_share else given.si
        here = _aired(table, places.sites, place)
        own: dict[str, Any] = {"deviation": deviation}
        item = _reading(place, table, own, {}, here, surfaces)
        found.append(
            PossibleReading(item=item, cost=table.cost or usual_cost, share=share, least=least)
        )
    return tuple(found), tuple(out)


def _aired(
    table: schema.PossibleTable, sites: Sequence[Site], place: str
) -> tuple[Site | None, tuple[bool, bool]]:
    """Return the air of a reading to come, which will be measured; of the first site by itself."""
    told = any(getattr(table, name) is not None for name in _AIR)
    if told or table.quantity not in IN_AIR:
        site, _ = _site(table, sites, place, needed=False)
    else:
        site = sites[0] if sites else None
    return site, (table.quantity in IN_AIR, table.quantity in IN_AIR)


def _surfaces(tables: Sequence[schema.ReadingTable], places: Places, key: str) -> list[Surface]:
    if all(table.surface is None for table in tables):
        return []
    path = places.found(f"{key}.surfaces", PUBLISHED, published)
    return list(places.taken(f"{key}.surfaces", PUBLISHED, path, read_surfaces))


def _measurement(
    row: int, table: schema.MeasurementTable, places: Places, surfaces: Sequence[Surface]
) -> Measurement:
    place = f"measurement[{row}]"
    dimension = dimension_of(table.quantity, _DIMENSIONS, f"{place}.quantity")
    read = named_reading(table, dimension, places, place)
    value = read.value
    deviation = read.deviation
    if deviation is None:
        deviation = _deviation(table.deviation, value, dimension, f"{place}.deviation")
    elif table.deviation is not None:
        raise InputError(
            "the band of what was identified tells it", field=f"{place}.deviation",
            expected="the key left out",
        )  # fmt: skip
    own: dict[str, Any] = {
        "value": value.si,
        "given": value.given(),
        "deviation": deviation,
        "date": read.date or day_of(table.date, f"{place}.date"),
        "source": table.source or read.source,
    }
    own |= {"repeats": read.repeats} if read.repeats else {}
    if table.oil_temperature is None and read.oil_temperature is not None:
        own["oil_temperature"] = read.oil_temperature
    air = _site(table, places.sites, place)
    return _reading(place, table, own, {"value": value}, air, surfaces)


def _reading(
    place: str,
    table: schema.ReadingTable,
    own: Mapping[str, Any],
    written: Mapping[str, GivenQuantity],
    air: tuple[Site | None, tuple[bool, bool]],
    surfaces: Sequence[Surface],
) -> Measurement:
    """Return a reading, or one that could be taken, with what the two have in common."""
    given: dict[str, Any] = {name: getattr(table, name) for name in _NUMBERS}
    named: dict[str, Any] = {
        f"measurement.{name}": (f"{place}.{name}", number)
        for name, number in (given | dict(written)).items()
    }
    numbers = {name: si_of(number) for name, number in given.items()}
    with said_in_file_words(named), placed(place, "measurement"):
        return Measurement(
            quantity=table.quantity,
            combination=table.combination,
            gear=table.gear or "",
            pumps=table.pumps,
            load=table.load,
            ground=table.ground,
            surface=_surface(table, surfaces, place),
            site=air[0],
            air_known=air[1],
            **({"repeats": _repeats(table.repeats, place)} | numbers | dict(own)),
        )


_DIMENSIONS = {name: kind.dimension for name, kind in KINDS.items()}


def _deviation(raw: Any, value: GivenQuantity, dimension: str, place: str) -> float:
    """Return a deviation [SI]: in a unit of the quantity, or in percent of the value."""
    given, share = _read_deviation(raw, dimension, place)
    return given.si * value.si if share else given.si


def _read_deviation(raw: Any, dimension: str, place: str) -> tuple[GivenQuantity, bool]:
    """Return a deviation as written, and whether it is a share of the value."""
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
    return given, share


def _repeats(given: GivenQuantity | None, place: str) -> int:
    number = 1.0 if given is None else given.si
    if number != int(number) or number < 1:
        raise InputError(
            "not a count", field=f"{place}.repeats", found=number, expected="one or more"
        )
    return int(number)


def day_of(written: str | None, place: str) -> str:
    """Return a day as it was written; empty where none was.

    Raises
    ------
    InputError
        If it is no day, or lies in the future.
    """
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


def _surface(table: schema.ReadingTable, surfaces: Sequence[Surface], place: str) -> Surface | None:
    if table.surface is None:
        return None
    try:
        return find_surface(table.surface, surfaces)
    except InputError as error:
        raise moved(error, f"{place}.surface") from None


def _site(
    table: schema.ReadingTable, sites: Sequence[Site], place: str, *, needed: bool = True
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
    if needed and table.site is None and sites and not all(known):
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
