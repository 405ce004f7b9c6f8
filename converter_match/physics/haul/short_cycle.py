"""A loader's short cycle, phase by phase: short drives from rest to rest, a crowd, a stand.

Crowding, the machine pushes at full throttle with the turbine almost at a stand, and the implement
pumps take their share of the engine first. Where the ground lets the wheels push less than the
converter would, the driver holds the throttle there, or the wheels spin.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.machine import Machine
from converter_match.components.route import Phase, Route, ShortCycle
from converter_match.errors import InputError
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.haul.route import BRAKING, Hauler, hauler, run_route, totals
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import at_wheels


@dataclass(frozen=True)
class PhaseRun:
    """One phase as it went, SI units.

    Parameters
    ----------
    phase : Phase
    time : float
        [s].
    fuel : float or None
        [kg].
    oil_heat : float
        Into the transmission oil [J].
    engine_speed : float
        Mean over time [rad/s].
    top_speed : float
        [m/s].
    force : float or None
        Push at the ground while crowding [N].
    grip_limited : bool
        Whether the ground sets that push.
    arrives : bool
    """

    phase: Phase
    time: float
    fuel: float | None
    oil_heat: float
    engine_speed: float
    top_speed: float
    force: float | None = None
    grip_limited: bool = False
    arrives: bool = True


def run_cycle(
    engine: Engine,
    converter: Converter,
    driveline: Driveline,
    machine: Machine,
    cycle: ShortCycle,
    *,
    torque_factor: float = 1.0,
    air_density: float,
    air_temperature: float,
) -> tuple[PhaseRun, ...]:
    """Return every phase of a short cycle.

    Parameters
    ----------
    engine, converter, driveline, machine, cycle
        The parts and what they do.
    torque_factor : float
        Of the site.
    air_density, air_temperature : float
        [kg/m^3], [K].

    Raises
    ------
    InputError
        If a phase names a gear that there is not, or the pumps take more than the engine has.

    Notes
    -----
    A pump's power at rated speed becomes a torque that is the same at every speed: constant
    pressure and displacement.
    """
    runs = []
    for phase in cycle.phases:
        torque = phase.hydraulic_power / engine.rated_speed
        supply = engine_supply(engine, torque_factor=torque_factor, hydraulic_torque=torque)
        if float(supply.torque(engine.rated_speed)) <= 0.0:
            raise InputError(
                "the pumps take all that the engine has at rated speed",
                field=f"phase {phase.name!r}.hydraulic_power",
                found=f"{phase.hydraulic_power / 1e3:.4g} kW",
                expected=f"less than {engine.rated_power / 1e3:.4g} kW",
            )
        if phase.kind == "stand":
            runs.append(_stand(engine, supply, phase))
            continue
        load = RoadLoad.of(
            machine,
            cycle.surface,
            load=phase.load,
            air_density=air_density,
            direction=phase.direction,
        )
        ready = hauler(
            engine,
            converter,
            driveline,
            machine,
            supply,
            load,
            air_density=air_density,
            air_temperature=air_temperature,
            hydraulic_torque=torque,
            directions=(phase.direction,),
        )
        if phase.gear:
            ready = _in_gear(ready, phase.gear)
        if phase.kind == "drive":
            runs.append(_drive(ready, phase, cycle))
        else:
            runs.append(_crowd(ready, phase, load))
    return tuple(runs)


def _in_gear(ready: Hauler, gear: str) -> Hauler:
    chain = ready.chain.limited_to(gear)
    return replace(ready, chain=chain, model=replace(ready.model, chain=chain))


def _drive(ready: Hauler, phase: Phase, cycle: ShortCycle) -> PhaseRun:
    route = Route(
        id=cycle.id,
        name=phase.name,
        source=cycle.source,
        length=np.array([phase.distance]),
        grade=np.array([phase.grade]),
        surface=(cycle.surface,),
        speed_limit=np.array([phase.speed_limit]),
        load=(phase.load,),
        stop_time=np.array([0.0]),
        direction=(phase.direction,),
    )
    run = run_route(ready, route, braking=BRAKING)
    total = totals(run)
    time = float(total.time[0])
    turns = float((run.states.engine_speed[:, 0] * run.profile.time[:, 0]).sum())
    return PhaseRun(
        phase=phase,
        time=time,
        fuel=None if total.fuel is None else float(total.fuel[0]),
        oil_heat=float((run.states.oil_heat * run.profile.time).sum()),
        engine_speed=turns / time if time else 0.0,
        top_speed=float(run.profile.speed.max()),
        arrives=int(run.profile.stuck[0]) < 0,
    )


def _crowd(ready: Hauler, phase: Phase, load: RoadLoad) -> PhaseRun:
    drive = ready.chain.drives[0]
    if phase.gear:
        drive = next(
            d for d in ready.chain.drives if d.gear.name == phase.gear and d.drive == "converter"
        )
    ratio = ready.driveline.overall_ratio(drive.gear) / ready.machine.rolling_radius
    turbine = np.array([phase.speed * ratio])
    points = match_at_turbine_speed(ready.supply, ready.converter, turbine)
    if not bool(np.isfinite(points.engine_speed[0])):
        raise InputError(
            "no match of engine and converter while crowding",
            field=f"phase {phase.name!r}",
            found=f"hydraulic power {phase.hydraulic_power / 1e3:.4g} kW",
            hint="the pumps leave the engine too little to hold the converter",
        )
    speed, torque = points.engine_speed, points.input_torque
    turbine_torque = points.turbine_torque
    grip = float(load.adhesion(phase.grade))
    wheels = at_wheels(
        drive.shaft.at("converter", points.speed_ratio), ready.driveline, drive.gear, ready.machine
    )
    force, limited = float(wheels.force[0]), False
    oil_heat = float(wheels.oil_heat[0])
    if force > grip:
        limited = True
        share = grip / force
        shafts = ready.model.demand.at(turbine, turbine_torque * share, np.array([False]))
        speed, torque, force = shafts.engine_speed, shafts.impeller_torque, grip
        oil_heat = float(shafts.heat[0]) + float(wheels.gearbox_heat[0]) * share
    flywheel = torque + np.interp(speed, ready.model.load_speed, ready.model.load_torque)
    law = ready.model.fuel
    return PhaseRun(
        phase=phase,
        time=phase.time,
        fuel=None if law is None else float(law.rate(flywheel, speed)[0]) * phase.time,
        oil_heat=oil_heat * phase.time,
        engine_speed=float(speed[0]),
        top_speed=phase.speed,
        force=force,
        grip_limited=limited,
    )


def _stand(engine: Engine, supply: TorqueSupply, phase: Phase) -> PhaseRun:
    """Stand in neutral: at rated speed while the pumps work, at low idle otherwise.

    The converter takes nothing, so that the pumps may have all that the engine gives.
    """
    speed = engine.rated_speed if phase.hydraulic_power > 0.0 else engine.low_idle
    torque = float(supply.load_torque(np.asarray(speed)))
    law = fuel_law(engine)
    return PhaseRun(
        phase=phase,
        time=phase.time,
        fuel=None if law is None else float(law.rate(torque, speed)) * phase.time,
        oil_heat=0.0,
        engine_speed=speed,
        top_speed=0.0,
    )
