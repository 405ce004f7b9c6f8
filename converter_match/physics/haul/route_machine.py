"""A machine tabulated for routes: its states, and the way back from the wheels to what moves it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.cooling import Cooler
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.fuel_map import FuelMap
from converter_match.components.gear import Direction
from converter_match.components.machine import Machine
from converter_match.notes import Note
from converter_match.physics.arrangement.shaft_demand import Demand, ShaftDemand
from converter_match.physics.engine.fuel import FuelLaw, fuel_law
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.haul.energy import EnergyModel
from converter_match.physics.haul.retarding import RetardingChoice
from converter_match.physics.heat.converter_oil import ConverterOil
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drive_chain import DriveChain, drive_chain
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias


@dataclass(frozen=True, eq=False, kw_only=True)
class RouteMachine:
    """A machine tabulated once for any number of routes, whatever moves it.

    Parameters
    ----------
    driveline, machine : Driveline, Machine
    supply : TorqueSupply
        Net torque at the impeller, or at the gearbox input where there is no converter.
    chain : DriveChain
    model : EnergyModel
    inertias : Inertias
    air_density, air_temperature : float
        [kg/m^3], [K].
    cooler : Cooler or None
        The machine's, in the air of the site.
    converter_oil : ConverterOil or None
        Oil in the converter; None where its charge flow is not known, or there is none.
    """

    driveline: Driveline
    machine: Machine
    supply: TorqueSupply
    chain: DriveChain
    model: EnergyModel
    inertias: Inertias
    air_density: float
    air_temperature: float
    cooler: Cooler | None
    converter_oil: ConverterOil | None = None

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


@dataclass(frozen=True, eq=False, kw_only=True)
class Hauler(RouteMachine):
    """Engine, converter, driveline and machine, tabulated once for any number of routes.

    Parameters
    ----------
    engine, converter : Engine, Converter
    driveline, machine, supply, chain, model, inertias : object
        As of any `RouteMachine`.
    air_density, air_temperature, cooler, converter_oil : object
        Likewise.
    """

    engine: Engine
    converter: Converter


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
    cooler: Cooler | None = None,
    converter_oil: ConverterOil | None = None,
    hydraulic_torque: float = 0.0,
    fuel_map: FuelMap | None = None,
    directions: Sequence[Direction] = ("forward",),
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
    cooler : Cooler, optional
        The machine's in that air, as `physics.heat.cooler_air` returns it.
    converter_oil : ConverterOil, optional
        For the temperature at the converter's outlet.
    hydraulic_torque : float
        As in `supply` [N.m].
    fuel_map : FuelMap, optional
    directions : sequence of {"forward", "reverse"}
        In which the machine drives.

    Raises
    ------
    InputError
        If the data cannot be combined, or there is no gear in a direction.
    """
    inertias = Inertias.of(engine, converter, driveline, machine)
    chain = chain_both_ways(
        TurbineShaft(supply, converter), driveline, machine, inertias, load, directions
    )
    demand = ShaftDemand.of(engine, converter, hydraulic_torque=hydraulic_torque)
    model = energy_model(
        chain, driveline, machine, inertias, demand, supply, fuel_law(engine, fuel_map)
    )
    return Hauler(
        engine=engine,
        converter=converter,
        driveline=driveline,
        machine=machine,
        supply=supply,
        chain=chain,
        model=model,
        inertias=inertias,
        air_density=air_density,
        air_temperature=air_temperature,
        cooler=cooler,
        converter_oil=converter_oil,
    )


def chain_both_ways(
    shaft: TurbineShaft,
    driveline: Driveline,
    machine: Machine,
    inertias: Inertias,
    load: RoadLoad,
    directions: Sequence[Direction],
) -> DriveChain:
    """Return the states of a machine in every direction that it drives in.

    Parameters
    ----------
    shaft : TurbineShaft
    driveline, machine : Driveline, Machine
    inertias : Inertias
    load : RoadLoad
        For shift speeds that the driveline's file does not give.
    directions : sequence of {"forward", "reverse"}

    Raises
    ------
    InputError
        If there is no gear in a direction.
    """
    chain, *more = (
        drive_chain(shaft, driveline, machine, inertias, load, direction=direction)
        for direction in sorted(set(directions))
    )
    for other in more:
        chain = chain.with_states_of(other)
    return chain


def energy_model(
    chain: DriveChain,
    driveline: Driveline,
    machine: Machine,
    inertias: Inertias,
    demand: Demand,
    supply: TorqueSupply,
    fuel: FuelLaw | None,
) -> EnergyModel:
    """Return what is needed to go from the motion back to what moves the machine.

    Parameters
    ----------
    chain : DriveChain
    driveline, machine : Driveline, Machine
    inertias : Inertias
    demand : Demand
    supply : TorqueSupply
    fuel : FuelLaw or None
    """
    low, high = supply.domain
    limit = driveline.limits.turbine_speed
    speeds = np.linspace(low, high, 121)
    loads = supply.factor * np.asarray(supply.source(speeds)) - supply.torque(speeds)
    return EnergyModel(
        chain=chain,
        driveline=driveline,
        machine=machine,
        inertias=inertias,
        demand=demand,
        retarding=RetardingChoice.of(chain, demand, min(high, limit or high)),
        load_speed=speeds,
        load_torque=loads,
        fuel=fuel,
    )
