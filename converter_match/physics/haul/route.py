"""A machine on a haul route: profile, energies, oil temperature, for one machine or many draws.

The pieces: `speed_profile` marches over the route, `step_energy` goes back to the engine, `heat`
warms the oil. This module puts them together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property, reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.components.route import Route
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.haul.energy import Ledger, StepStates, step_energy
from converter_match.physics.haul.hunting import Hunting, hunting, hysteresis_costs
from converter_match.physics.haul.loads import Draws, SegmentLoads
from converter_match.physics.haul.route_machine import Hauler, RouteMachine, hauler
from converter_match.physics.haul.speed_profile import LONGEST_STEP, speed_profile
from converter_match.physics.haul.steps import SpeedProfile
from converter_match.physics.heat import oil as heat
from converter_match.physics.heat.laps import OilLaps, oil_laps, outlet_laps
from converter_match.physics.wheels.drive_chain import DriveChain

# A machine to run is found here as well.
__all__ = [
    "BRAKING", "HARDEST_BRAKING", "Hauler", "RouteMachine", "RouteRun", "RouteTotals", "hauler",
    "run_each", "run_many", "run_route", "totals",
]  # fmt: skip
# Rate of slowing down ahead of a limit. Common practice, no source.
BRAKING = 0.8  # m/s^2
HARDEST_BRAKING = 20.0  # m/s^2, twice what any tyre on any road gives
# Draws worked on at once: keeps the arrays of a route in the processor's cache.
_CHUNK = 16


@dataclass(frozen=True, eq=False)
class RouteRun:
    """A machine's run, every step; arrays of shape (steps, draws) or (steps + 1, draws).

    Parameters
    ----------
    route : Route
    allowed : AllowedSpeed
    loads : SegmentLoads
    profile : SpeedProfile
    ledger : Ledger
        By step.
    states : StepStates
    hunting : Hunting
        Shifts made in vain.
    oil : OilLaps or None
        Oil temperatures; None where the oil volume is not known.
    outlet : OilLaps or None
        Those at the converter's outlet; None where the charge flow is not known either.
    """

    route: Route
    allowed: AllowedSpeed
    loads: SegmentLoads
    profile: SpeedProfile
    ledger: Ledger
    states: StepStates
    hunting: Hunting
    oil: OilLaps | None
    outlet: OilLaps | None = None

    @cached_property
    def hysteresis_costs(self) -> FloatArray:
        """What it costs to be kept in a slower state, shape (stretches, draws) [s]."""
        return hysteresis_costs(self.allowed, self.loads, self.profile)

    @property
    def ceiling(self) -> FloatArray:
        """Allowed speed at the ends of the steps, shape (steps + 1, draws) [m/s]."""
        profile = self.profile
        begin = self.allowed.at(profile.segment[:1], self.allowed.length[profile.segment[:1]])
        ends = self.allowed.at(profile.segment, profile.left)
        return np.concatenate([begin, ends])


@dataclass(frozen=True, eq=False)
class RouteTotals:
    """What a run comes to, draw by draw; arrays of shape (draws,).

    Parameters
    ----------
    time : ndarray
        [s], to the end or to where the machine stops for good.
    fuel : ndarray or None
        [kg].
    ledger : Ledger
        Energies of the whole run [J].
    hottest : ndarray or None
        Highest oil temperature [K]: lap after lap, where the route is driven again and again; of
        the only run where the machine does not arrive. NaN where no cooler is known; `UNSETTLED`
        where the oil gets hotter with every lap.
    hottest_first : ndarray or None
        Highest oil temperature of the first lap [K].
    stuck_segment : ndarray of int
        -1 where it arrives.
    shifts : ndarray of int
        Gear shifts.
    hunts : ndarray of int
        How many of them are made in vain: see `physics.haul.hunting`.
    hysteresis_costs : ndarray
        What it costs to be kept in a slower gear, or with lock-up the wrong way round [s].
    """

    time: FloatArray
    fuel: FloatArray | None
    ledger: Ledger
    hottest: FloatArray | None
    hottest_first: FloatArray | None
    stuck_segment: NDArray[np.intp]
    shifts: NDArray[np.intp]
    hunts: NDArray[np.intp]
    hysteresis_costs: FloatArray


def run_route(
    machine: RouteMachine,
    route: Route,
    draws: Draws | None = None,
    *,
    braking: float = BRAKING,
    longest_step: float = LONGEST_STEP,
    oil_start: float | None = None,
) -> RouteRun:
    """Run a machine along a route, every step kept.

    Parameters
    ----------
    machine : RouteMachine
    route : Route
    draws : Draws, optional
        Factors on mass, torque and rolling resistance; one machine as it is without.
    braking : float
        Rate of slowing down ahead of limits [m/s^2].
    longest_step : float
        [m]; all of the step control follows it in proportion.
    oil_start : float, optional
        Oil temperature at the start [K]; the machine's working temperature without, or the air's.

    Raises
    ------
    InputError
        If the braking rate or the step is not above zero.
    """
    drawn = Draws.of() if draws is None else draws
    for name, value, most in (
        ("braking", braking, HARDEST_BRAKING),
        ("longest_step", longest_step, np.finfo(float).max),
    ):
        if not 0.0 < value <= most:
            raise InputError("out of range", field=name, found=value, expected="above zero")
    ((allowed, loads, profile),) = _driven([(machine, route, drawn)], braking, longest_step)
    ledger, states = step_energy(machine.model, profile, loads, drawn)
    oil = _oil(machine, states.oil_heat, profile, oil_start)
    outlet, inside = None, machine.converter_oil
    if oil is not None and inside is not None:
        outlet = outlet_laps(inside, oil, states.converter_heat, profile.time)
    hunts = hunting(machine.chain, allowed, loads, profile)
    return RouteRun(route, allowed, loads, profile, ledger, states, hunts, oil, outlet)


Run = tuple[RouteMachine, Route, Draws]
"""Draws of a machine on a route."""


def _driven(
    runs: Sequence[Run], braking: float, longest_step: float
) -> list[tuple[AllowedSpeed, SegmentLoads, SpeedProfile]]:
    """Return what is allowed, what resists, and how fast every draw of each run is.

    All march together, each run on a road of its own.
    """
    line = runs[0][0].driveline
    chains = list(dict.fromkeys(machine.chain for machine, _, _ in runs))
    states = np.append(0, np.cumsum([chain.size for chain in chains]))
    which = np.array([chains.index(machine.chain) for machine, _, _ in runs])
    roads, first = [], []
    for (machine, route, _), part in zip(runs, which, strict=True):
        chain = machine.chain
        start = {way: chain.first(way) for way in set(route.directions)}
        fastest = {way: chain.fastest_from(state) for way, state in start.items()}
        most = np.array([fastest[way] for way in route.directions])
        allowed = AllowedSpeed.of(route, np.minimum(most, line.speed_limit or np.inf), braking)
        roads.append((allowed, SegmentLoads.of(route, machine.machine, machine.air_density)))
        first.append(np.array([start[way] for way in route.directions]) + states[part])
    sizes = [draws.size for _, _, draws in runs]
    several = len(runs) > 1
    profile = speed_profile(
        reduce(DriveChain.with_states_of, chains),
        AllowedSpeed.joined([allowed for allowed, _ in roads]) if several else roads[0][0],
        SegmentLoads.joined([loads for _, loads in roads]) if several else roads[0][1],
        Draws.joined([draws for _, _, draws in runs]),
        first=np.concatenate(first),
        parts=chains,
        part=np.repeat(which, sizes),
        road=np.repeat(np.arange(len(runs)), sizes),
        shift_time=line.shift_time or 0.0,
        longest=longest_step,
    )
    found, draw, segment = [], 0, 0
    for (_, _, draws), (allowed, loads), part in zip(runs, roads, which, strict=True):
        own = profile.of_road(slice(draw, draw + draws.size), segment, int(states[part]))
        found.append((allowed, loads, own))
        draw, segment = draw + draws.size, segment + allowed.length.size
    return found


def _oil(
    machine: RouteMachine, oil_heat: FloatArray, profile: SpeedProfile, start: float | None
) -> OilLaps | None:
    circuit = heat.OilCircuit.of(machine.machine, machine.air_temperature, machine.cooler)
    if circuit is None:
        return None
    working = machine.machine.oil.working_temperature if start is None else start
    begin = machine.air_temperature if working is None else working
    return oil_laps(circuit, oil_heat, profile.time, begin, profile.stuck < 0)


def totals(run: RouteRun) -> RouteTotals:
    """Return what a run comes to."""
    stuck = run.profile.stuck
    draws = np.arange(stuck.size)
    segment = np.where(stuck >= 0, run.profile.segment[np.maximum(stuck, 0), draws], -1)
    fuel, oil = run.states.fuel, run.oil
    return RouteTotals(
        time=run.profile.time.sum(axis=0),
        fuel=None if fuel is None else fuel.sum(axis=0),
        ledger=run.ledger.total(),
        hottest=None if oil is None else oil.hottest,
        hottest_first=None if oil is None else oil.first.max(axis=0),
        stuck_segment=segment,
        shifts=run.profile.shifts,
        hunts=run.hunting.counts(stuck.size),
        hysteresis_costs=run.hysteresis_costs.sum(axis=0),
    )


def run_many(
    machine: RouteMachine,
    route: Route,
    draws: Draws,
    *,
    braking: float = BRAKING,
    longest_step: float = LONGEST_STEP,
    oil_start: float | None = None,
) -> RouteTotals:
    """Run many draws of a machine along a route and return what each comes to.

    The march over the route takes all draws at once; energies and oil follow in groups, so that
    the memory needed does not grow with the number of draws.

    Parameters
    ----------
    machine, route, draws, braking, longest_step, oil_start
        As in `run_route`.
    """
    (found,) = run_each(
        [(machine, route, draws)],
        braking=braking,
        longest_step=longest_step,
        oil_start=oil_start,
    )
    return found


def run_each(
    runs: Sequence[Run],
    *,
    braking: float = BRAKING,
    longest_step: float = LONGEST_STEP,
    oil_start: float | None = None,
) -> list[RouteTotals]:
    """Run draws of several machines, or along several routes, in one march.

    Parameters
    ----------
    runs : sequence of (Hauler, Route, Draws)
        The machines may differ in engine, converter and air, not in driveline or body.
    braking, longest_step, oil_start
        As in `run_route`.
    """
    driven = _driven(runs, braking, longest_step)
    return [
        _totals_of(machine, route, draws, *parts, oil_start)
        for (machine, route, draws), parts in zip(runs, driven, strict=True)
    ]


def _totals_of(
    machine: RouteMachine,
    route: Route,
    draws: Draws,
    allowed: AllowedSpeed,
    loads: SegmentLoads,
    whole: SpeedProfile,
    oil_start: float | None,
) -> RouteTotals:
    """Return what many draws of a machine come to."""
    parts = []
    oil_heat = np.empty(whole.time.shape)
    for start in range(0, draws.size, _CHUNK):
        part = slice(start, min(start + _CHUNK, draws.size))
        profile = whole.picked(part)
        ledger, states = step_energy(machine.model, profile, loads, draws.picked(part))
        oil_heat[:, part] = states.oil_heat
        hunts = hunting(machine.chain, allowed, loads, profile)
        run = RouteRun(route, allowed, loads, profile, ledger, states, hunts, None)
        parts.append(totals(run))
    oil = _oil(machine, oil_heat, whole, oil_start)
    joined = {
        f.name: _joined([getattr(p, f.name) for p in parts])
        for f in fields(RouteTotals)
        if f.name not in ("ledger", "hottest", "hottest_first")
    }
    return RouteTotals(
        ledger=Ledger(
            *(np.concatenate([getattr(p.ledger, f.name) for p in parts]) for f in fields(Ledger))
        ),
        hottest=None if oil is None else oil.hottest,
        hottest_first=None if oil is None else oil.first.max(axis=0),
        **joined,
    )


def _joined(columns: list[FloatArray | None]) -> Any:
    known = [column for column in columns if column is not None]
    return np.concatenate(known) if known else None
