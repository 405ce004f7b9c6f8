"""What a component file says if one of its units is taken for another.

Somebody who has the sheet reads the unit on it. What is easily mixed up are two units of one name:
the two horsepowers, the three tons; and the speed for which a primary torque is printed.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from typing import Any

from converter_match.errors import InputError
from converter_match.library.files import FilePath, TomlFile, read_toml
from converter_match.library.read import KINDS
from converter_match.notes import SECOND_DIFFERS
from converter_match.study.doubts import CONFUSED_UNITS, Misreading
from converter_match.units import to_si

# Speeds at which makers print the primary torque [rpm]: common practice, no source.
REFERENCE_SPEEDS = (1000.0, 1700.0, 2000.0)
# Where the unit matters to the figures: the dimension, and the places in a file.
_PLACES: dict[str, tuple[str, tuple[tuple[str, ...], ...]]] = {
    "engine": ("power", (("full_load", "power"), ("rating", "rated_power"))),
    "machine": ("mass", (("mass_empty",), ("payload",))),
}
# C goes with the printed figure over this power of the speed it is printed for.
_POWER_OF_SPEED = {"torque_at_speed": 2, "power_at_speed": 3}
_SAME = 1e-9


def misreadings(kind: str, path: FilePath) -> tuple[Misreading, ...]:
    """Return every way in which a file is easily misread.

    Parameters
    ----------
    kind : {"engine", "converter", "machine"}
    path : str or path-like
        A file that can be read.

    Raises
    ------
    InputError
        If it is no TOML file.

    Examples
    --------
    >>> from converter_match.library.shipped import find
    >>> found = misreadings("machine", find("machines", "wheel-loader-17t"))
    >>> [f"{one.given} as {one.read}" for one in found]
    ['t as short ton', 't as long ton']
    """
    toml = read_toml(path)
    if kind == "converter":
        return _other_reference_speeds(toml)
    return _other_units(kind, toml)


def _other_units(kind: str, toml: TomlFile) -> tuple[Misreading, ...]:
    dimension, places = _PLACES[kind]
    confused = {to_si(1.0, unit, dimension): unit for unit in CONFUSED_UNITS[dimension]}
    there = [place for place in places if _at(toml.data, place) is not None]
    found = []
    for given in dict.fromkeys(confused.values()):
        same = to_si(1.0, given, dimension)
        mine = [p for p in there if abs(_factor(toml.data, p, dimension) / same - 1.0) < _SAME]
        for read in (unit for unit in confused.values() if unit != given and mine):
            data = deepcopy(toml.data)
            for place in mine:
                table = _at(data, place)
                assert table is not None
                table["unit"] = read
            try:
                component = KINDS[kind].assemble(replace(toml, data=data))
            except InputError:  # it contradicts the rest of the sheet: nobody reads it so
                continue
            if any(each.code == SECOND_DIFFERS for each in component.notes):
                continue  # the sheet prints it in another unit as well, which tells
            found.append(
                Misreading(kind=kind, id=component.id, given=given, read=read, component=component)
            )
    return tuple(found)


def _other_reference_speeds(toml: TomlFile) -> tuple[Misreading, ...]:
    capacity = _at(toml.data, ("characteristic", "capacity")) or {}
    power = _POWER_OF_SPEED.get(str(capacity.get("form")))
    speed = capacity.get("reference_speed")
    if power is None or not isinstance(speed, dict):
        return ()
    printed = to_si(float(speed["value"]), str(speed["unit"]), "angular_speed")
    found = []
    for other in REFERENCE_SPEEDS:
        read = to_si(other, "rpm", "angular_speed")
        if abs(read / printed - 1.0) > _SAME:
            found.append(
                Misreading(
                    kind="converter",
                    id=str(toml.data["id"]),
                    given=f"{speed['value']:g} {speed['unit']}",
                    read=f"{other:g} rpm",
                    capacity_factor=(printed / read) ** power,
                )
            )
    return tuple(found)


def _at(data: dict[str, Any], place: tuple[str, ...]) -> dict[str, Any] | None:
    here: Any = data
    for key in place:
        here = here.get(key) if isinstance(here, dict) else None
    return here if isinstance(here, dict) else None


def _factor(data: dict[str, Any], place: tuple[str, ...], dimension: str) -> float:
    table = _at(data, place)
    assert table is not None
    return float(to_si(1.0, str(table["unit"]), dimension))
