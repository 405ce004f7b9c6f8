"""Whatever a file holds: read by its schema line, or by the columns in its head."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from types import MappingProxyType
from typing import Any

from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.read import read_component
from converter_match.library.recognise import recognise

_ROOM = "converter_match.library"
# Kind of file as `recognise` names it -> module and function; any other is a component's.
_READERS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "catalogue": ("catalogue_file", "read_catalogue"),
        "study": ("study_file", "read_study"),
        "motor-study": ("motor_study_file", "read_motor_study"),
        "surfaces": ("surfaces", "read_surfaces"),
        "route": ("route_csv", "read_route"),
        "cycle": ("cycle_csv", "read_cycle"),
        "duty": ("duty_csv", "read_duty"),
        "fuel map": ("fuel_csv", "read_fuel_map"),
        "stall log": ("stall_log", "read_log"),
        "readings": ("stall_readings", "read_readings"),
    }
)
_ELSEWHERE: Mapping[str, str] = MappingProxyType(
    {
        "machine log": "the log of a machine: cm.identify(path) reads it, piece by piece",
        "sheet": "not a file of one of our kinds: cm.intake(path) makes one of a dealer's sheet",
        "chart": "the description of a chart: cm.intake(path) reads the picture by it",
        "picture": "a picture: describe its axes and curves in a small file for cm.intake(path)",
        "mapping": "a mapping of headings, which goes with a sheet: cm.intake(path)",
    }
)


def read_any(path: FilePath) -> Any:
    """Return what a file holds.

    Parameters
    ----------
    path : str or path-like

    Returns
    -------
    Engine, Converter, ..., Study, Route, ShortCycle, DutyPoints, FuelMap, or tuple
        A tuple of `Surface`, `LogRow` or `StallReading` from a file of such rows.

    Raises
    ------
    InputError
        If it is no such file, or cannot be used: file, field, what was found and what was expected.

    Examples
    --------
    >>> from converter_match.library.shipped import shipped
    >>> type(read_any(shipped("routes")["quarry-to-crusher"])).__name__
    'Route'
    """
    kind = recognise(path)
    name = "" if kind is None else kind.name
    if name in _ELSEWHERE:
        raise InputError("not read here", source=str(path), hint=f"it is {_ELSEWHERE[name]}")
    if name not in _READERS:
        return read_component(path)
    module, function = _READERS[name]
    reader: Callable[[FilePath], Any] = getattr(import_module(f"{_ROOM}.{module}"), function)
    return reader(path)
