"""What is handed in, checked at the door: parts, names of the shipped files, quantities."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, TypedDict, TypeVar, cast

from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath
from converter_match.units.written import si_of

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from converter_match.components.converter import Converter
    from converter_match.components.duty_points import DutyPoints
    from converter_match.components.engine import Engine
    from converter_match.components.fuel_map import FuelMap
    from converter_match.components.load import ShaftLoad
    from converter_match.components.response import EngineResponse
    from converter_match.components.route import Route, ShortCycle
    from converter_match.components.site import Site
    from converter_match.components.surface import Surface
    from converter_match.curves import FloatArray

Quantity = float | str
"""A number in SI units, or a text with its unit such as ``"2000 m"``."""

MOST_DRAWS, MOST_SEED = 10_000_000, 2**63
"""Of draws and of their seed."""

_T = TypeVar("_T")
# Class -> how one comes by it. Classes are named, so that none is loaded for the sake of a check.
_HOW = {
    "Arrangement": "cm.read(...)",
    "BladingGeometry": "cm.read(...)",
    "Converter": "cm.read(...)",
    "Driveline": "cm.read(...)",
    "Engine": "cm.read(...)",
    "Machine": "cm.read(...)",
    "MatchResult": "cm.solve(engine, converter)",
    "Site": 'cm.Site.at("2000 m", "35 degC") or cm.read(...)',
    "Study": "cm.read(...)",
    "StudyResult": "cm.run_study(study)",
}

_OF_A_MOTOR = ("Motor", "MotorMatch", "MotorDrive")


def part(value: object, wanted: type[_T], argument: str) -> _T:
    """Return an argument that has to be a part, or a result, of one class.

    Parameters
    ----------
    value : object
    wanted : type
    argument : str
        Its name, for the message.

    Raises
    ------
    InputError
        If it is something else: what, and how one comes by the right thing.

    Examples
    --------
    >>> from converter_match.components.engine import Engine
    >>> part("four-cylinder-4l5-125hp", Engine, "engine")
    Traceback (most recent call last):
    converter_match.errors.InputError: engine: not an engine; found 'four-cylinder-4l5-125hp';
    expected an Engine, from cm.read(...); read it first: cm.read("four-cylinder-4l5-125hp")
    """
    if isinstance(value, wanted):
        return value
    raise wrong(value, wanted.__name__, argument)


def optional(value: object, wanted: type[_T], argument: str) -> _T | None:
    """Return an argument that may be left out; raises as `part`."""
    return None if value is None else part(value, wanted, argument)


def wrong(value: object, wanted: str, argument: str) -> InputError:
    """Return what is said of an argument that is something else."""
    named = wanted.lower() if wanted != "MatchResult" else "match"
    article = "an" if named[0] in "aeiou" else "a"
    hint = None
    if isinstance(value, str):
        hint = f'read it first: cm.read("{value}"){_meant(value)}'
    elif isinstance(value, tuple | list):
        hint = "give one, not several"
    elif type(value).__name__ in _OF_A_MOTOR and wanted in ("Engine", "MatchResult"):
        hint = (
            "an electric motor goes with solve, tractive, accelerate, hold, stall_test, haul, "
            "over_load and run_study; this is about engines"
        )
    elif wanted == "MatchResult" and type(value).__name__ in ("Engine", "Converter"):
        hint = "match the two first: cm.solve(engine, converter)"
    how = f", from {_HOW[wanted]}" if wanted in _HOW else ""
    return InputError(
        f"not {article} {named}",
        field=argument,
        found=value if isinstance(value, str) else _called(value),
        expected=f"{'an' if wanted[0] in 'AEIOU' else 'a'} {wanted}{how}",
        hint=hint,
    )


def _meant(name: str) -> str:
    """Return which files or ids may be meant, where there is none of a name."""
    from converter_match.library.shipped import find

    try:
        find(None, name)
    except InputError as error:
        return f"; {error.hint}"
    return ""


def _called(value: object) -> str:
    """Return what a value is, by its class and, where it has one, its id."""
    kind, id_ = type(value).__name__, getattr(value, "id", None)
    return f"{kind} {id_}" if isinstance(id_, str) else kind


def in_si(value: Quantity, dimension: str, argument: str) -> float:
    """Return a quantity in SI units.

    Parameters
    ----------
    value : float or str
        A number is in SI units already; a text names its unit.
    dimension : str
        One of `units.DIMENSIONS`.
    argument : str
        Its name, for the message, and for what such an argument can be.

    Raises
    ------
    InputError
        If it is no number or quantity, not finite, or nothing that such an argument can be: 85 for
        a temperature, which is degrees Celsius and would be read as kelvin.

    Examples
    --------
    >>> in_si(85.0, "temperature", "oil_start")
    Traceback (most recent call last):
    converter_match.errors.InputError: oil_start: no such value; found '85 K';
    expected 213.1 to 473.1 K; usual is 258.1 to 393.1 K; degC read as K?
    """
    from converter_match.library.schema.spans import argument_refused

    number = si_of(value, dimension, argument)
    if not math.isfinite(number):
        raise InputError(
            "not a finite number", field=argument, found=value, expected="a quantity in SI units"
        )
    refused = argument_refused(argument, number, value if isinstance(value, str) else None)
    if refused is not None:
        raise refused
    return number


def numbers(
    values: ArrayLike, argument: str, low: float, high: float, unit: str = ""
) -> FloatArray:
    """Return numbers in SI units.

    Parameters
    ----------
    values : array_like
        Finite, one number or any shape of them.
    argument : str
    low, high : float
        Between which they lie.
    unit : str
        That they are in, for the message.

    Raises
    ------
    InputError
        If they are no numbers, masked, not finite, or beyond these ends.
    """
    import numpy as np

    from converter_match.units import to_si

    array = np.asarray(to_si(cast(Any, values), "1", "ratio", field=argument), dtype=np.float64)
    if not np.all(np.isfinite(array)) or np.any((array < low) | (array > high)):
        raise InputError(
            "out of range",
            field=argument,
            found=values,
            expected=f"finite numbers from {low:.4g} to {high:.4g} {unit}".rstrip(),
        )
    return array


def count(value: object, argument: str, least: int, most: int) -> int:
    """Return a whole number.

    Raises
    ------
    InputError
        If it is none, or beyond these ends.
    """
    import numpy as np

    whole = isinstance(value, int | np.integer) and not isinstance(value, bool)
    if not whole or not least <= int(cast(int, value)) <= most:
        raise InputError(
            "out of range" if whole else "not a whole number",
            field=argument,
            found=value,
            expected=f"a whole number from {least} to {most:.4g}",
        )
    return int(cast(int, value))


def quantity(value: Quantity | None, dimension: str, argument: str) -> float | None:
    """Return a quantity in SI units, None where it was left out; raises as `in_si`."""
    return None if value is None else in_si(value, dimension, argument)


def quantities(values: Iterable[Quantity], dimension: str, argument: str) -> tuple[float, ...]:
    """Return quantities in SI units."""
    given = [values] if isinstance(values, str) else list(values)
    return tuple(in_si(value, dimension, argument) for value in given)


def named_quantities(
    given: Mapping[str, Quantity] | None, dimensions: Mapping[str, str], argument: str
) -> dict[str, float]:
    """Return quantities by their names in SI units.

    Raises
    ------
    InputError
        If there is no such name (the nearest is named), or as `in_si`.
    """
    values = given or {}
    for key in values:
        if key not in dimensions:
            raise InputError(
                "there is none of that name",
                field=argument,
                found=key,
                expected=" | ".join(dimensions),
                hint=did_you_mean(key, dimensions),
            )
    return {key: in_si(v, dimensions[key], f"{argument}.{key}") for key, v in values.items()}


def surface_of(value: object) -> Surface:
    """Return a surface that is given as it is, or by its name in the published table."""
    from converter_match.components.surface import Surface

    if isinstance(value, str):
        from converter_match.library.surfaces import find_surface, read_surfaces

        return find_surface(value, read_surfaces())
    if isinstance(value, Surface):
        return value
    raise InputError(
        "not a surface",
        field="surface",
        found=_called(value),
        expected='a name such as "firm smooth earth", or a Surface',
    )


def route_of(value: object) -> Route:
    """Return a haul route that is given as it is, by its file, or by the id of a shipped one."""
    from converter_match.components.route import Route
    from converter_match.library.route_csv import find_route, read_route

    if isinstance(value, Route):
        return value
    return read_route(find_route(_path(value, "route", "quarry-to-crusher")))


def cycle_of(value: object) -> ShortCycle:
    """Return a short cycle that is given as it is, by its file, or by the id of a shipped one."""
    from converter_match.components.route import ShortCycle
    from converter_match.library.cycle_csv import read_cycle
    from converter_match.library.shipped import find

    if isinstance(value, ShortCycle):
        return value
    return read_cycle(find("cycles", _path(value, "cycle", "loader-truck-loading")))


def duty_of(value: object) -> DutyPoints:
    """Return a duty that is given as it is, by its file, or by the id of a shipped one."""
    from converter_match.components.duty_points import DutyPoints
    from converter_match.library.duty_csv import read_duty
    from converter_match.library.shipped import find

    if isinstance(value, DutyPoints):
        return value
    return read_duty(find("duties", _path(value, "duty", "loader-loading-shift")))


def load_of(value: object) -> ShaftLoad:
    """Return a load that is given as it is, by its file, or by the id of a shipped one."""
    from converter_match.components.load import ShaftLoad
    from converter_match.library.read import read_load
    from converter_match.library.shipped import find

    if isinstance(value, ShaftLoad):
        return value
    return read_load(find("loads", _path(value, "load", "yarder-winch")))


def fuel_map_of(value: object) -> FuelMap | None:
    """Return a fuel map that is given as it is or by its file; None where it was left out."""
    from converter_match.components.fuel_map import FuelMap
    from converter_match.library.fuel_csv import read_fuel_map

    if value is None or isinstance(value, FuelMap):
        return value
    return read_fuel_map(_path(value, "fuel_map", "my-fuel-map.csv"))


def _path(value: Any, argument: str, example: str) -> FilePath:
    import os

    if isinstance(value, str | os.PathLike):
        return value
    raise InputError(
        f"not a {argument.replace('_', ' ')}",
        field=argument,
        found=_called(value),
        expected=f'a file or an id such as "{example}", or what cm.read makes of it',
    )


class Where(TypedDict):
    """Where a pair works, as every match takes it."""

    site: Site | None
    hydraulic_torque: float


def pair_of(engine: object, converter: object) -> tuple[Engine, Converter]:
    """Return an engine and a converter; raises as `part`."""
    from converter_match.components.converter import Converter
    from converter_match.components.engine import Engine

    return part(engine, Engine, "engine"), part(converter, Converter, "converter")


def where_of(site: object, hydraulic_torque: Quantity) -> Where:
    """Return where a pair works, in SI units; raises as `part` and `in_si`."""
    from converter_match.components.site import Site

    torque = in_si(hydraulic_torque, "torque", "hydraulic_torque")
    return {"site": optional(site, Site, "site"), "hydraulic_torque": torque}


def response_of(value: object, match: object) -> EngineResponse | None:
    """Return how fast the torque of a match's engine is there; None where it was left out.

    Raises
    ------
    InputError
        If it is neither a response nor a text of one; also as `part`.
    """
    from converter_match.components.response import EngineResponse
    from converter_match.judgement.match.result import MatchResult
    from converter_match.library.response_text import response_from_text

    if value is None or isinstance(value, EngineResponse):
        return value
    engine = part(match, MatchResult, "match").engine
    if not isinstance(value, str):
        raise InputError(
            "not a response of an engine",
            field="response",
            found=_called(value),
            expected='"typical", or share and time, as in "60 %, 0.8 s"',
        )
    return response_from_text(value, engine, source="response")
