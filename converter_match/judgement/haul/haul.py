"""From a match, a driveline, a machine and a route to a `RouteResult`."""

from __future__ import annotations

import numpy as np

from converter_match.components.driveline import Driveline
from converter_match.components.fuel_map import FuelMap
from converter_match.components.machine import Machine
from converter_match.components.route import Route
from converter_match.judgement.conditions.air import (
    cooler_around,
    density_around,
    standard_air_share,
    temperature_around,
)
from converter_match.judgement.conditions.outlet import (
    known_oil_in_converter,
    stated_oil_limit,
)
from converter_match.judgement.haul.notes import notes_of
from converter_match.judgement.haul.result import RouteResult, SegmentRow, Standstill
from converter_match.judgement.match.result import MatchResult
from converter_match.physics.engine.fuel import TYPICAL_DENSITY
from converter_match.physics.haul.route import BRAKING, Hauler, RouteRun, hauler, run_route, totals
from converter_match.physics.haul.speed_profile import LONGEST_STEP
from converter_match.physics.heat.laps import conductance_for_laps
from converter_match.physics.heat.oil import UNSETTLED, OilCircuit
from converter_match.physics.wheels.road_load import RoadLoad


def prepare(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    route: Route,
    *,
    fuel_map: FuelMap | None = None,
) -> Hauler:
    """Tabulate a machine for a route, for single runs or for many draws.

    Parameters
    ----------
    match : MatchResult
        From `converter_match.judgement.match.solve.solve`; its site and hydraulic load hold here
        too.
    driveline, machine, route : Driveline, Machine, Route
    fuel_map : FuelMap, optional

    Raises
    ------
    InputError
        If the data cannot be combined.
    """
    density = density_around(match.site)
    return hauler(
        match.engine,
        match.converter,
        driveline,
        machine,
        match.supply,
        RoadLoad.of(machine, route.surface[0], load=route.load[0], air_density=density),
        air_density=density,
        air_temperature=temperature_around(match.site),
        cooler=cooler_around(match.site, machine),
        converter_oil=known_oil_in_converter(machine.oil, match.converter)[0],
        hydraulic_torque=match.hydraulic_torque,
        fuel_map=fuel_map,
        directions=route.directions,
    )


def haul(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    route: Route,
    *,
    fuel_map: FuelMap | None = None,
    braking: float = BRAKING,
    oil_start: float | None = None,
    longest_step: float = LONGEST_STEP,
    band: bool = True,
) -> RouteResult:
    """Run a machine along a haul route.

    Parameters
    ----------
    match, driveline, machine, route, fuel_map
        As in `prepare`.
    braking : float
        Rate of slowing down ahead of limits and stops [m/s^2].
    oil_start : float, optional
        Oil temperature at the start [K]; the machine's working temperature without.
    longest_step : float
        [m].
    band : bool
        Whether the decisive figures get a band where the converter is an estimate.

    Returns
    -------
    RouteResult

    Raises
    ------
    InputError
        If the data cannot be combined or a number is out of range.
    """
    ready = prepare(match, driveline, machine, route, fuel_map=fuel_map)
    run = run_route(ready, route, braking=braking, oil_start=oil_start, longest_step=longest_step)
    rows = tuple(_rows(ready, run))
    stands = _standstill(ready, run)
    needed = _cooler_needed(ready, run)
    density = TYPICAL_DENSITY
    if match.engine.fuel is not None and match.engine.fuel.density is not None:
        density = match.engine.fuel.density
    others = match.alternatives if band else ()
    return RouteResult(
        match=match,
        hauler=ready,
        route=route,
        run=run,
        totals=totals(run),
        segments=rows,
        standstill=stands,
        fuel_density=density,
        cooler_needed=None if needed is None else needed / standard_air_share(match.site),
        notes=notes_of(match, ready, run, rows, stands, braking=braking, oil_start=oil_start),
        alternatives=tuple(
            haul(
                other,
                driveline,
                machine,
                route,
                fuel_map=fuel_map,
                braking=braking,
                oil_start=oil_start,
                longest_step=longest_step,
            )
            for other in others
        ),
    )


def _cooler_needed(ready: Hauler, run: RouteRun) -> float | None:
    limit = stated_oil_limit(ready.machine, ready.converter)
    circuit = OilCircuit.of(ready.machine, ready.air_temperature, None)
    if limit is None or circuit is None or not bool(run.profile.stuck[0] < 0):
        return None
    return conductance_for_laps(circuit, run.states.oil_heat[:, 0], run.profile.time[:, 0], limit)


def _standstill(ready: Hauler, run: RouteRun) -> Standstill | None:
    step = int(run.profile.stuck[0])
    if step < 0:
        return None
    profile, segment = run.profile, int(run.profile.segment[step, 0])
    distance = profile.distance[:, 0]
    first = int(np.flatnonzero(profile.segment[:, 0] == segment)[0])
    mass = run.loads.mass[segment]
    effort = float(profile.stuck_force[0])
    return Standstill(
        segment=segment + 1,
        distance=float(distance[step]),
        into_segment=float(distance[step] - distance[first]),
        grade=float(run.route.grade[segment]),
        effort=effort,
        resistance=float(run.loads.resistance(segment, mass, 1.0)),
        grip=bool(effort >= run.loads.grip[segment] * mass * (1 - 1e-9)),
    )


def _rows(ready: Hauler, run: RouteRun) -> list[SegmentRow]:
    route, profile, states, loads = run.route, run.profile, run.states, run.loads
    time, speed, covered = profile.time[:, 0], profile.speed[:, 0], profile.length[:, 0]
    where, state = profile.segment[:, 0], states.state[:, 0].astype(np.intp)
    oil = None if run.oil is None else run.oil.counted[:, 0]
    pace = np.where(time > 0.0, covered / np.where(time > 0.0, time, 1.0), 0.0)
    ground = loads.resistance(where, loads.mass[where], 1.0, pace)
    needed = np.maximum(-ground, 0.0) * pace
    able = ready.model.retarding.at(pace, ready.chain.reverse[state])[1] * pace
    names = ready.chain.names
    rows = []
    for segment in range(int(where[-1]) + 1):
        at = np.flatnonzero(where == segment)
        driven = at[(covered[at] > 0.0)]
        moving = float(time[driven].sum())
        used = [names[state[k]] for k in driven]
        order = [name for k, name in enumerate(used) if k == 0 or name != used[k - 1]]
        runs_away = bool(driven.size) and bool((needed[driven] > 0.0).any())
        hardest = driven[np.argmax(needed[driven])] if runs_away else None
        # Of a segment at whose start the machine stands there is nothing to tell.
        done = bool(driven.size) or bool(time[at].any())
        rows.append(
            SegmentRow(
                segment=segment + 1,
                length=float(route.length[segment]),
                grade=float(route.grade[segment]),
                speed_limit=float(route.speed_limit[segment]),
                surface=route.surface[segment].name,
                load=route.load[segment],
                direction=route.directions[segment],
                time=_of(time[at].sum(), done),
                mean_speed=_of(float(covered[at].sum()) / moving if moving else 0.0, done),
                top_speed=_of(float(max(speed[at].max(), speed[at + 1].max())), done),
                gears=tuple(order),
                fuel=None if states.fuel is None else _of(states.fuel[at, 0].sum(), done),
                converter_heat=_of(run.ledger.converter[at, 0].sum(), done),
                service_brake_work=_of(max(float(run.ledger.brakes[at, 0].sum()), 0.0), done),
                oil_end=None if oil is None else _finite(oil[at[-1] + 1], done),
                retarding_needed=None if hardest is None else float(needed[hardest]),
                retarding_available=None if hardest is None else float(able[hardest]),
            )
        )
    return rows


def _finite(value: float, known: bool) -> float | None:
    return _of(value, known and bool(np.isfinite(value)) and value < UNSETTLED)


def _of(value: float, known: bool) -> float | None:
    return float(value) if known else None
