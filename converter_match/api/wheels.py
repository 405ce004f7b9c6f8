"""A match taken to the wheels: effort, acceleration, a haul road, a short cycle."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Literal, overload

from converter_match.api.door import (
    Quantity,
    cycle_of,
    fuel_map_of,
    in_si,
    part,
    quantities,
    quantity,
    response_of,
    route_of,
    surface_of,
)
from converter_match.errors import InputError
from converter_match.library.files import FilePath

if TYPE_CHECKING:
    from converter_match.components.driveline import Driveline
    from converter_match.components.fuel_map import FuelMap
    from converter_match.components.machine import Load, Machine
    from converter_match.components.response import EngineResponse
    from converter_match.components.route import Route, ShortCycle
    from converter_match.components.surface import Surface
    from converter_match.judgement.haul.result import RouteResult
    from converter_match.judgement.haul.short_cycle import CycleResult
    from converter_match.judgement.match.result import MatchResult
    from converter_match.judgement.motor.acceleration import MotorAcceleration
    from converter_match.judgement.motor.drive import MotorDrive
    from converter_match.judgement.motor.result import MotorMatch
    from converter_match.judgement.motor.route_result import MotorRoute
    from converter_match.judgement.motor.short_cycle import MotorCycle
    from converter_match.judgement.motor.tractive_result import MotorTractive
    from converter_match.judgement.wheels.acceleration import AccelerationResult
    from converter_match.judgement.wheels.result import TractiveResult


@overload
def tractive(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    surface: Surface | str,
    *,
    load: Load = "laden",
    grades: Iterable[Quantity] | None = None,
) -> TractiveResult: ...


@overload
def tractive(
    match: MotorMatch | MotorDrive,
    driveline: Driveline,
    machine: Machine,
    surface: Surface | str,
    *,
    load: Load = "laden",
    grades: Iterable[Quantity] | None = None,
) -> MotorTractive: ...


def tractive(
    match: MatchResult | MotorMatch | MotorDrive,
    driveline: Driveline,
    machine: Machine,
    surface: Surface | str,
    *,
    load: Load = "laden",
    grades: Iterable[Quantity] | None = None,
) -> TractiveResult | MotorTractive:
    """Carry a match to the wheels of a machine, at full throttle.

    Parameters
    ----------
    match : MatchResult, MotorMatch or MotorDrive
        Of an engine or a motor with a converter, or from `couple_directly`. Its site and its
        hydraulic torque hold here too.
    driveline : Driveline
    machine : Machine
    surface : Surface or str
        The ground, or its name in the published table.
    load : {"laden", "empty"}
    grades : iterable of float or str, optional
        Rise / run, 0 to 1, or texts in percent, climbed in the direction of travel; 0 to 30 % in
        steps of 5 % without.

    Returns
    -------
    TractiveResult or MotorTractive
        Every gear, every grade, shift points, heat, and every assumption and warning. That a
        machine climbs a grade here is no leave to work there: brakes, stability and the machine
        maker's limits come first.

    Raises
    ------
    InputError
        If one of them is no such part, there is no such surface (the nearest is named), or a grade
        is out of range.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter, line, loader = cm.read(
    ...     "six-cylinder-7l-185kw", "single-stage-345mm-tight", "four-speed-loader",
    ...     "wheel-loader-17t",
    ... )
    >>> match = cm.solve(engine, converter)
    >>> wheels = cm.tractive(match, line, loader, "firm smooth earth", grades=["0 %", "10 %"])
    >>> [row.gear for row in wheels.grades]
    ['4', '3']
    """
    from converter_match.api.motors import motor_drive
    from converter_match.judgement.wheels.reached import tractive_from_rest
    from converter_match.judgement.wheels.tractive import GRADES

    climbed = GRADES if grades is None else quantities(grades, "ratio", "grades")
    drive = motor_drive(match)
    if drive is not None:
        from converter_match.judgement.motor.tractive import motor_tractive

        ground = surface_of(surface)
        return motor_tractive(
            drive, *line_and_machine(driveline, machine), ground, load=load, grades=climbed
        )
    moved = _machine(match, driveline, machine)
    return tractive_from_rest(*moved, surface_of(surface), load=load, grades=climbed)


@overload
def accelerate(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    surface: Surface | str,
    *,
    to_speed: Quantity,
    load: Load = "laden",
    grade: Quantity = 0.0,
    gear: str | None = None,
    method: Literal["quasi-steady", "dynamic"] | None = None,
    response: EngineResponse | str | None = None,
) -> AccelerationResult: ...


@overload
def accelerate(
    match: MotorMatch | MotorDrive,
    driveline: Driveline,
    machine: Machine,
    surface: Surface | str,
    *,
    to_speed: Quantity,
    load: Load = "laden",
    grade: Quantity = 0.0,
    gear: str | None = None,
    method: Literal["quasi-steady", "dynamic"] | None = None,
    response: None = None,
) -> MotorAcceleration: ...


def accelerate(
    match: MatchResult | MotorMatch | MotorDrive,
    driveline: Driveline,
    machine: Machine,
    surface: Surface | str,
    *,
    to_speed: Quantity,
    load: Load = "laden",
    grade: Quantity = 0.0,
    gear: str | None = None,
    method: Literal["quasi-steady", "dynamic"] | None = None,
    response: EngineResponse | str | None = None,
) -> AccelerationResult | MotorAcceleration:
    """Accelerate a machine from rest at full throttle.

    Parameters
    ----------
    match : MatchResult, MotorMatch or MotorDrive
        Of an engine or a motor with a converter, or from `couple_directly`.
    driveline : Driveline
    machine : Machine
    surface : Surface or str
        The ground, or its name in the published table.
    to_speed : float or str
        [m/s], or a text with its unit.
    load : {"laden", "empty"}
    grade : float or str
        Rise / run, or a text in percent.
    gear : str, optional
        The highest that is used.
    method : {"quasi-steady", "dynamic"}
        Whether the engine is taken at its steady match at every speed, or its inertia is followed
        in time; the first without, but the second where its torque takes time.
    response : str or EngineResponse, optional
        How fast the engine's torque is there: ``"typical"`` by its aspiration, or the share that is
        there at once and the time constant of the rest, as in ``"60 %, 0.8 s"``. Without, an ideal
        engine.

    Returns
    -------
    AccelerationResult or MotorAcceleration

    Raises
    ------
    InputError
        If one of them is no such part, a number is out of range, or there is no such surface or
        gear.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter, line, loader = cm.read(
    ...     "six-cylinder-7l-185kw", "single-stage-345mm-tight", "four-speed-loader",
    ...     "wheel-loader-17t",
    ... )
    >>> match = cm.solve(engine, converter)
    >>> run = cm.accelerate(match, line, loader, "firm smooth earth", to_speed="20 km/h")
    >>> run.fails
    False
    """
    from converter_match.api.motors import motor_drive
    from converter_match.judgement.wheels.acceleration import acceleration

    drive = motor_drive(match)
    if drive is not None:
        from converter_match.judgement.motor.acceleration import motor_acceleration

        if response is not None:
            raise InputError("a motor has no lag to give", field="response", found=str(response))
        return motor_acceleration(
            drive,
            *line_and_machine(driveline, machine),
            surface_of(surface),
            to_speed=in_si(to_speed, "velocity", "to_speed"),
            load=load,
            grade=in_si(grade, "ratio", "grade"),
            method=method or "quasi-steady",
            gear=gear,
        )
    return acceleration(
        *_machine(match, driveline, machine),
        surface_of(surface),
        to_speed=in_si(to_speed, "velocity", "to_speed"),
        load=load,
        grade=in_si(grade, "ratio", "grade"),
        method=method,
        gear=gear,
        response=response_of(response, match),
    )


@overload
def haul(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    route: Route | FilePath,
    *,
    fuel_map: FuelMap | FilePath | None = None,
    braking: Quantity | None = None,
    oil_start: Quantity | None = None,
) -> RouteResult: ...


@overload
def haul(
    match: MotorMatch | MotorDrive,
    driveline: Driveline,
    machine: Machine,
    route: Route | FilePath,
    *,
    fuel_map: None = None,
    braking: Quantity | None = None,
    oil_start: Quantity | None = None,
) -> MotorRoute: ...


def haul(
    match: MatchResult | MotorMatch | MotorDrive,
    driveline: Driveline,
    machine: Machine,
    route: Route | FilePath,
    *,
    fuel_map: FuelMap | FilePath | None = None,
    braking: Quantity | None = None,
    oil_start: Quantity | None = None,
) -> RouteResult | MotorRoute:
    """Run a machine along a haul route.

    Parameters
    ----------
    match : MatchResult, MotorMatch or MotorDrive
        Of an engine or a motor with a converter, or from `couple_directly`.
    driveline : Driveline
    machine : Machine
    route : Route, str or path-like
        A route, its file, or the id of a shipped one.
    fuel_map : FuelMap, str or path-like, optional
        In place of the full-load fuel data of the engine.
    braking : float or str, optional
        Rate of slowing down ahead of limits and stops: [m/s^2], or a text with its unit; 0.8 m/s^2
        without.
    oil_start : float or str, optional
        Oil temperature at the start: [K], or a text with its unit; the machine's working
        temperature without.

    Returns
    -------
    RouteResult or MotorRoute
        Time, fuel (of a motor electric energy both ways), heat and retarding of the cycle, segment
        by segment and step by step.

    Raises
    ------
    InputError
        If one of them is no such part, there is no such route, the data cannot be combined, or a
        number is out of range.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter, line, truck = cm.read(
    ...     "six-cylinder-9l-240kw", "single-stage-390mm-full-range", "six-speed-hauler",
    ...     "articulated-hauler-25t",
    ... )
    >>> trip = cm.haul(cm.solve(engine, converter), line, truck, "quarry-to-crusher")
    >>> round(trip.time / 60)
    14
    """
    from converter_match.api.motors import motor_drive
    from converter_match.judgement.haul.haul import haul
    from converter_match.physics.haul.route import BRAKING

    slowing = quantity(braking, "acceleration", "braking")
    drive = motor_drive(match)
    if drive is not None:
        from converter_match.judgement.motor.route import motor_route

        if fuel_map is not None:
            raise InputError("a motor burns no fuel", field="fuel_map", found=str(fuel_map))
        return motor_route(
            drive,
            *line_and_machine(driveline, machine),
            route_of(route),
            braking=BRAKING if slowing is None else slowing,
            oil_start=quantity(oil_start, "temperature", "oil_start"),
        )
    return haul(
        *_machine(match, driveline, machine),
        route_of(route),
        fuel_map=fuel_map_of(fuel_map),
        braking=BRAKING if slowing is None else slowing,
        oil_start=quantity(oil_start, "temperature", "oil_start"),
    )


def work_cycle(
    match: MatchResult | MotorMatch | MotorDrive,
    driveline: Driveline,
    machine: Machine,
    cycle: ShortCycle | FilePath,
    *,
    oil_start: Quantity | None = None,
    response: EngineResponse | str | None = None,
) -> CycleResult | MotorCycle:
    """Run a loader through a short cycle.

    Parameters
    ----------
    match : MatchResult, MotorMatch or MotorDrive
        Its site holds here too; hydraulics come from the phases.
    driveline : Driveline
    machine : Machine
    cycle : ShortCycle, str or path-like
        A cycle, its file, or the id of a shipped one.
    oil_start : float or str, optional
        Oil temperature at the start of continuous work: [K], or a text with its unit.
    response : str or EngineResponse, optional
        How fast the engine's torque is there, as for `accelerate`. Without, an ideal engine.

    Returns
    -------
    CycleResult or MotorCycle
        Phase by phase: time, fuel, heat; and how long the oil stays below its limit. Of a motor:
        electric energy in place of fuel, and its winding.

    Raises
    ------
    InputError
        If one of them is no such part, there is no such cycle, or a phase cannot be set up.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter, line, loader = cm.read(
    ...     "six-cylinder-7l-185kw", "single-stage-345mm-tight", "four-speed-loader",
    ...     "wheel-loader-17t",
    ... )
    >>> loading = cm.work_cycle(cm.solve(engine, converter), line, loader, "loader-truck-loading")
    >>> round(loading.time)
    29
    """
    from converter_match.api.motors import motor_drive
    from converter_match.judgement.haul.short_cycle import work_cycle

    drive = motor_drive(match)
    if drive is not None:
        return _motor_cycle(drive, driveline, machine, cycle, oil_start, response)
    return work_cycle(
        *_machine(match, driveline, machine),
        cycle_of(cycle),
        oil_start=quantity(oil_start, "temperature", "oil_start"),
        response=response_of(response, match),
    )


def _motor_cycle(
    drive: MotorDrive,
    driveline: Driveline,
    machine: Machine,
    cycle: ShortCycle | FilePath,
    oil_start: Quantity | None,
    response: object,
) -> MotorCycle:
    from converter_match.judgement.motor.short_cycle import motor_cycle

    if response is not None:
        raise InputError(
            "a motor's torque is there at once as far as is known: there is no lag to give",
            field="response",
        )
    return motor_cycle(
        drive,
        *line_and_machine(driveline, machine),
        cycle_of(cycle),
        oil_start=quantity(oil_start, "temperature", "oil_start"),
    )


def _machine(
    match: object, driveline: object, machine: object
) -> tuple[MatchResult, Driveline, Machine]:
    from converter_match.judgement.match.result import MatchResult

    return (part(match, MatchResult, "match"), *line_and_machine(driveline, machine))


def line_and_machine(driveline: object, machine: object) -> tuple[Driveline, Machine]:
    """Return a driveline and a machine; raises as `part`."""
    from converter_match.components.driveline import Driveline
    from converter_match.components.machine import Machine

    return part(driveline, Driveline, "driveline"), part(machine, Machine, "machine")
