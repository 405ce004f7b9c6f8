"""A machine on a haul route: profile, energies, oil temperature, for one machine or many draws.

The pieces: `route_steps` cuts the route, `speed_profile` marches over it, `route_energy` goes back
to the engine, `heat` warms the oil. This module puts them together.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.fuel_map import FuelMap
from converter_match.components.machine import Machine
from converter_match.components.route import Route
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.physics.arrangement.shaft_demand import ShaftDemand
from converter_match.physics.engine.fuel import FuelLaw, fuel_law
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.haul.energy import EnergyModel, Ledger, StepStates, step_energy
from converter_match.physics.haul.retarding import RetardingChoice
from converter_match.physics.haul.speed_profile import Draws, SpeedProfile, StepLoads, speed_profile
from converter_match.physics.haul.steps import LONGEST_STEP, RouteSteps, route_steps, speed_ceiling
from converter_match.physics.heat import oil as heat
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drive_chain import DriveChain, drive_chain
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias

# Rate of slowing down ahead of a limit. Common practice, no source.
BRAKING = 0.8  # m/s^2
HARDEST_BRAKING = 20.0  # m/s^2, twice what any tyre on any road gives
# Draws worked on at once: keeps the arrays of a route in the processor's cache.
_CHUNK = 16


@dataclass(frozen=True, eq=False)
class Hauler:
    """Engine, converter, driveline and machine, tabulated once for any number of routes.

    Parameters
    ----------
    engine, converter, driveline, machine : Engine, Converter, Driveline, Machine
    supply : TorqueSupply
        Net torque at the impeller, site and hydraulics considered.
    chain : DriveChain
    model : EnergyModel
    inertias : Inertias
    air_density, air_temperature : float
        [kg/m^3], [K].
    """

    engine: Engine
    converter: Converter
    driveline: Driveline
    machine: Machine
    supply: TorqueSupply
    chain: DriveChain
    model: EnergyModel
    inertias: Inertias
    air_density: float
    air_temperature: float

    @property
    def notes(self) -> tuple[Note, ...]:
        """What was assumed on the way."""
        fuel = self.model.fuel
        return (
            *self.inertias.notes,
            *self.chain.notes,
            *self.model.demand.notes,
            *(fuel.notes if fuel else ()),
        )


def hauler(
    engine: Engine,
    converter: Converter,
    driveline: Driveline,
    machine: Machine,
    supply: TorqueSupply,
    load: RoadLoad,
    *,
    air_density: float,
    air_temperature: float,
    hydraulic_torque: float = 0.0,
    fuel_map: FuelMap | None = None,
    direction: str = "forward",
) -> Hauler:
    """Tabulate a machine for routes.

    Parameters
    ----------
    engine, converter, driveline, machine : Engine, Converter, Driveline, Machine
    supply : TorqueSupply
        From `physics.engine.supply.engine_supply`.
    load : RoadLoad
        For shift speeds that the driveline's file does not give.
    air_density, air_temperature : float
        [kg/m^3], [K].
    hydraulic_torque : float
        As in `supply` [N.m].
    fuel_map : FuelMap, optional
    direction : {"forward", "reverse"}

    Raises
    ------
    InputError
        If the data cannot be combined.
    """
    inertias = Inertias.of(engine, converter, driveline, machine)
    shaft = TurbineShaft(supply, converter)
    chain = drive_chain(shaft, driveline, machine, inertias, load, direction=direction)
    demand = ShaftDemand.of(engine, converter, hydraulic_torque=hydraulic_torque)
    law: FuelLaw | None = fuel_law(engine, fuel_map)
    low, high = supply.domain
    limit = driveline.limits.turbine_speed
    speeds = np.linspace(low, high, 121)
    loads = supply.factor * np.asarray(supply.source(speeds)) - supply.torque(speeds)
    model = EnergyModel(
        chain=chain,
        driveline=driveline,
        machine=machine,
        inertias=inertias,
        demand=demand,
        retarding=RetardingChoice.of(chain, demand, min(high, limit or high)),
        load_speed=speeds,
        load_torque=loads,
        fuel=law,
    )
    return Hauler(
        engine,
        converter,
        driveline,
        machine,
        supply,
        chain,
        model,
        inertias,
        air_density,
        air_temperature,
    )


@dataclass(frozen=True, eq=False)
class RouteRun:
    """A machine's run, every step; arrays of shape (steps, draws) or (steps + 1, draws).

    Parameters
    ----------
    route : Route
    steps : RouteSteps
    ceiling : ndarray, shape (steps + 1,)
        Allowed speed [m/s].
    profile : SpeedProfile
    ledger : Ledger
        By step.
    states : StepStates
    oil : ndarray or None, shape (steps + 1, draws)
        Oil temperature [K]; None where the oil volume is not known.
    """

    route: Route
    steps: RouteSteps
    ceiling: FloatArray
    profile: SpeedProfile
    ledger: Ledger
    states: StepStates
    oil: FloatArray | None


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
        Highest oil temperature [K].
    stuck_segment : ndarray of int
        -1 where it arrives.
    shifts : ndarray of int
        Gear shifts.
    """

    time: FloatArray
    fuel: FloatArray | None
    ledger: Ledger
    hottest: FloatArray | None
    stuck_segment: NDArray[np.intp]
    shifts: NDArray[np.intp]


def run_route(
    machine: Hauler,
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
    machine : Hauler
    route : Route
    draws : Draws, optional
        Factors on mass, torque and rolling resistance; one machine as it is without.
    braking : float
        Rate of slowing down ahead of limits [m/s^2].
    longest_step : float
        [m].
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
    steps = route_steps(route, longest_step)
    loads = StepLoads.of(route, steps, machine.machine, machine.air_density)
    fastest = min(machine.chain.fastest, machine.driveline.speed_limit or np.inf)
    ceiling = speed_ceiling(steps, route, fastest, braking)
    profile = speed_profile(
        machine.chain,
        steps,
        loads,
        ceiling,
        drawn,
        shift_time=machine.driveline.shift_time or 0.0,
    )
    ledger, states = step_energy(machine.model, profile, steps.length, loads, drawn)
    return RouteRun(
        route,
        steps,
        ceiling,
        profile,
        ledger,
        states,
        _oil(machine, states.oil_heat, profile.time, oil_start),
    )


def _oil(
    machine: Hauler, oil_heat: FloatArray, time: FloatArray, start: float | None
) -> FloatArray | None:
    circuit = heat.OilCircuit.of(machine.machine, machine.air_temperature)
    if circuit is None:
        return None
    working = machine.machine.oil.working_temperature if start is None else start
    begin = machine.air_temperature if working is None else working
    return heat.march(circuit, oil_heat, time, begin)[0]


def totals(run: RouteRun) -> RouteTotals:
    """Return what a run comes to."""
    stuck = run.profile.stuck
    segment = np.where(stuck >= 0, run.steps.segment[np.maximum(stuck, 0)], -1)
    fuel = run.states.fuel
    return RouteTotals(
        time=run.profile.time.sum(axis=0),
        fuel=None if fuel is None else fuel.sum(axis=0),
        ledger=run.ledger.total(),
        hottest=None if run.oil is None else run.oil.max(axis=0),
        stuck_segment=segment,
        shifts=run.profile.shifts,
    )


def run_many(
    machine: Hauler,
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
    steps = route_steps(route, longest_step)
    loads = StepLoads.of(route, steps, machine.machine, machine.air_density)
    fastest = min(machine.chain.fastest, machine.driveline.speed_limit or np.inf)
    ceiling = speed_ceiling(steps, route, fastest, braking)
    whole = speed_profile(
        machine.chain,
        steps,
        loads,
        ceiling,
        draws,
        shift_time=machine.driveline.shift_time or 0.0,
    )
    parts = []
    oil_heat = np.empty(whole.time.shape)
    for start in range(0, draws.size, _CHUNK):
        part = slice(start, min(start + _CHUNK, draws.size))
        profile = _picked(whole, part)
        ledger, states = step_energy(
            machine.model, profile, steps.length, loads, draws.picked(part)
        )
        oil_heat[:, part] = states.oil_heat
        parts.append(totals(RouteRun(route, steps, ceiling, profile, ledger, states, None)))
    oil = _oil(machine, oil_heat, whole.time, oil_start)
    return RouteTotals(
        time=np.concatenate([p.time for p in parts]),
        fuel=None if parts[0].fuel is None else np.concatenate([p.fuel for p in parts]),
        ledger=Ledger(
            *(np.concatenate([getattr(p.ledger, f.name) for p in parts]) for f in fields(Ledger))
        ),
        hottest=None if oil is None else oil.max(axis=0),
        stuck_segment=np.concatenate([p.stuck_segment for p in parts]),
        shifts=np.concatenate([p.shifts for p in parts]),
    )


def _picked(profile: SpeedProfile, part: slice) -> SpeedProfile:
    return SpeedProfile(
        *(getattr(profile, field.name)[..., part] for field in fields(SpeedProfile))
    )
