"""The hauler and the loader of the demo data, ready for a route."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from converter_match.components.route import Route
from converter_match.components.surface import Surface
from converter_match.judgement.haul.haul import prepare
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter, read_driveline, read_engine, read_machine
from converter_match.library.shipped import find
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.physics.haul.route import Hauler

HAULER = (
    "six-cylinder-9l-240kw",
    "single-stage-390mm-full-range",
    "six-speed-hauler",
    "articulated-hauler-25t",
)
LOADER = (
    "six-cylinder-7l-185kw",
    "single-stage-345mm-tight",
    "four-speed-loader",
    "wheel-loader-17t",
)


@cache
def parts(which: tuple[str, ...] = HAULER) -> tuple[Any, ...]:
    """Return match, driveline and machine."""
    engine, converter, line, machine = which
    match = solve(
        read_engine(find("engines", engine)), read_converter(find("converters", converter))
    )
    return (
        match,
        read_driveline(find("drivelines", line)),
        read_machine(find("machines", machine)),
    )


def earth() -> Surface:
    return find_surface("firm smooth earth", read_surfaces())


def road(
    grade: Any, length: Any = 200.0, limit: Any = np.inf, load: str = "laden", **changes: Any
) -> Route:
    """Return a route of one surface; arrays broadcast."""
    grades, lengths, limits = np.broadcast_arrays(
        np.atleast_1d(np.asarray(grade, float)), np.asarray(length, float), np.asarray(limit, float)
    )
    fields: dict[str, Any] = {
        "id": "test-route",
        "name": "Test route",
        "source": "round numbers for a test",
        "length": lengths,
        "grade": grades,
        "surface": (earth(),) * grades.size,
        "speed_limit": limits,
        "load": (load,) * grades.size,
        "stop_time": np.full(grades.size, np.nan),
    }
    return Route(**(fields | changes))


@cache
def hauler() -> Hauler:
    return prepare(*parts(), road(0.0))
