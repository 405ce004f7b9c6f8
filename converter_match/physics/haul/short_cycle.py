"""A loader's short cycle, phase by phase: short drives from rest to rest, a crowd, a stand.

Crowding, the machine pushes at full throttle with the turbine almost at a stand, and the implement
pumps take their share of the engine first. Where the ground lets the wheels push less than the
converter would, the driver holds the throttle there, or the wheels spin.

The pumps of a phase take a torque that is the same at every speed (constant pressure and
displacement): the one with which they get the power that is asked for at the mean engine speed of
the phase, found by going through the phase again with it. Where the engine cannot give it, they get
what it can. A machine whose pumps take something anyway (a standby table) has it within that power.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.machine import Machine
from converter_match.components.response import EngineResponse
from converter_match.components.route import Phase, Route, ShortCycle
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.haul.clutch_heat import TYPICAL_CHANGE, of_reversal, of_shifts
from converter_match.physics.haul.late_drive import late_drive
from converter_match.physics.haul.route import (
    BRAKING,
    Hauler,
    RouteMachine,
    hauler,
    run_route,
    totals,
)
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias

# Rounds in which the pumps' torque follows the engine's speed, and when it is close enough.
_ROUNDS = 8
_CLOSE = 0.002
# Of the pumps' power: less than this short is not worth a word.
_SHORT = 0.01


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
        Into the transmission oil, clutches included [J].
    engine_speed : float
        Mean over time [rad/s].
    top_speed : float
        [m/s].
    force : float or None
        Push at the ground while crowding [N].
    grip_limited : bool
        Whether the ground sets that push.
    arrives : bool
    hydraulic_power : float
        That the pumps get, mean over time [W].
    clutch_heat : float
        Of changes of gear and direction, in `oil_heat` [J].
    lag : float
        Time lost to the engine's response, in `time` [s].
    lag_heat : float
        What the response changes of the converter's heat, in `oil_heat` [J].
    impeller_torque : float
        While crowding [N.m].
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
    hydraulic_power: float = 0.0
    clutch_heat: float = 0.0
    lag: float = 0.0
    lag_heat: float = 0.0
    impeller_torque: float = 0.0

    @property
    def pumps_short(self) -> bool:
        """Whether the pumps get less than is asked for."""
        return self.hydraulic_power < (1.0 - _SHORT) * self.phase.hydraulic_power


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
    response: EngineResponse | None = None,
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
    response : EngineResponse, optional
        How fast the engine's torque is there at the start of each drive; at once without.

    Raises
    ------
    InputError
        If a phase names a gear that there is not, or the pumps take more than the engine has.
    """
    runs: list[PhaseRun] = []
    facing = None
    for phase in cycle.phases:
        work = _Work(
            engine, converter, driveline, machine, cycle.surface, phase,
            torque_factor, air_density, air_temperature, response,
        )  # fmt: skip
        run = work.run(turns=phase.kind != "stand" and facing not in (None, phase.direction))
        facing = facing if phase.kind == "stand" else phase.direction
        runs.append(run)
    return tuple(runs)


@dataclass(frozen=True)
class _Work:
    """One phase and all that it needs."""

    engine: Engine
    converter: Converter
    driveline: Driveline
    machine: Machine
    ground: Surface
    phase: Phase
    torque_factor: float
    air_density: float
    air_temperature: float
    response: EngineResponse | None

    def run(self, *, turns: bool) -> PhaseRun:
        """Go through the phase, again until the pumps get their power; `turns`: the other way."""
        phase = self.phase
        torque = phase.hydraulic_power / self.engine.rated_speed
        if float(self.supply(torque).torque(self.engine.rated_speed)) <= 0.0:
            raise InputError(
                "the pumps take all that the engine has at rated speed",
                field=f"phase {phase.name!r}.hydraulic_power",
                found=f"{phase.hydraulic_power / 1e3:.4g} kW",
                expected=f"less than {self.engine.rated_power / 1e3:.4g} kW",
            )
        run, torque = powered(self._once, phase.hydraulic_power, torque)
        heat = run.clutch_heat
        if turns:
            heat += of_reversal(
                self.engine, self.converter, self.inertias.turbine, self.change_time
            )
        return replace(
            run,
            hydraulic_power=torque * run.engine_speed,
            clutch_heat=heat,
            oil_heat=run.oil_heat + heat,
        )

    @property
    def change_time(self) -> float:
        """Of a change of gear or direction [s]."""
        given = self.driveline.shift_time
        return TYPICAL_CHANGE if given is None else given

    @property
    def inertias(self) -> Inertias:
        return Inertias.of(self.engine, self.converter, self.driveline, self.machine)

    def supply(self, torque: float) -> TorqueSupply:
        """Return the net torque with a torque of the pumps [N.m]."""
        engine, taken = self.pumped(torque)
        return engine_supply(engine, torque_factor=self.torque_factor, hydraulic_torque=taken)

    def pumped(self, torque: float) -> tuple[Engine, float]:
        """Return the engine, and what the pumps take beside what it deducts itself [N.m].

        What they take anyway is part of what the phase asks of them, or all of it.
        """
        engine = self.engine
        if engine.pumps is None:
            return engine, torque
        if torque > float(engine.pumps.curve(engine.rated_speed)):
            return engine.replace(pumps=None), torque
        return engine, 0.0

    def _once(self, torque: float) -> PhaseRun:
        supply, phase = self.supply(torque), self.phase
        engine, taken = self.pumped(torque)
        if phase.kind == "stand":
            return _stand(engine, supply, phase)
        load = RoadLoad.of(
            self.machine,
            self.ground,
            load=phase.load,
            air_density=self.air_density,
            direction=phase.direction,
        )
        ready = hauler(
            engine,
            self.converter,
            with_gears(self.driveline, phase),
            self.machine,
            supply,
            load,
            air_density=self.air_density,
            air_temperature=self.air_temperature,
            hydraulic_torque=taken,
            directions=(phase.direction,),
        )
        if phase.kind == "crowd":
            return crowd(ready, phase, load)
        run = _drive(ready, phase, self.ground, self.change_time)
        if self.response is None or not run.arrives:
            return run
        lag, heat, top_speed = late_drive(ready, phase, load, run.top_speed, self.response)
        return replace(
            run,
            time=run.time + lag,
            lag=lag,
            lag_heat=heat,
            top_speed=top_speed,
            # At most: what is lost is burnt as the rest of the phase.
            fuel=None if run.fuel is None else run.fuel * (1.0 + lag / run.time),
            oil_heat=max(run.oil_heat + heat, 0.0),
        )


class Gone(Protocol):
    """What is asked of a phase that was gone through, whatever drives the machine."""

    @property
    def arrives(self) -> bool:
        """Whether it was completed."""

    @property
    def engine_speed(self) -> float:
        """Mean speed of the prime mover [rad/s]."""


_Gone = TypeVar("_Gone", bound=Gone)


def powered(once: Callable[[float], _Gone], asked: float, torque: float) -> tuple[_Gone, float]:
    """Return a phase, and the torque that gives the pumps their power or the most of it [N.m].

    Parameters
    ----------
    once : callable
        Goes through the phase with a torque of the pumps.
    asked : float
        Power of the pumps [W].
    torque : float
        To begin with [N.m].
    """
    run = once(torque)
    high = np.inf  # a torque that the engine cannot give
    for _ in range(_ROUNDS):
        given = torque * run.engine_speed
        if abs(given - asked) <= _CLOSE * asked or not (run.arrives and run.engine_speed):
            break
        wanted = asked / run.engine_speed
        wanted = wanted if wanted < high else 0.5 * (torque + high)
        try:
            again = once(wanted)
        except InputError:
            high = wanted
            continue
        if not again.arrives or wanted * again.engine_speed < min(given, asked):
            high = wanted  # more torque at so much less speed: less power
            continue
        torque, run = wanted, again
    return run, torque


def with_gears(driveline: Driveline, phase: Phase) -> Driveline:
    """Return a driveline with only the gears that a phase uses in its direction.

    Parameters
    ----------
    driveline : Driveline
    phase : Phase

    Raises
    ------
    InputError
        If there is no such gear in this direction, or the start gear is above the other.
    """
    gears = driveline.forward if phase.direction == "forward" else driveline.reverse
    names = [gear.name for gear in gears]
    for field, name in (("gear", phase.gear), ("start_gear", phase.start_gear)):
        if name and name not in names:
            raise InputError(
                "no such gear in this direction",
                field=field,
                found=name,
                expected=" | ".join(names),
            )
    lowest = phase.start_gear or phase.gear
    first = names.index(lowest) if lowest else 0
    last = names.index(phase.gear) if phase.gear else len(names) - 1
    if first > last:
        raise InputError(
            "the start gear is above the gear of the phase",
            field=f"phase {phase.name!r}.start_gear",
            found=phase.start_gear,
            expected=" | ".join(names[: last + 1]),
        )
    used = names[first : last + 1]
    others = [gear for gear in driveline.gears if gear.direction != phase.direction]
    return driveline.replace(gears=(*(gear for gear in gears if gear.name in used), *others))


def phase_route(phase: Phase, ground: Surface) -> Route:
    """Return the route of one segment that a phase is; of a crowd, what it stands on.

    Parameters
    ----------
    phase : Phase
    ground : Surface
    """
    return Route(
        id="phase",
        name=phase.name,
        source="a phase of a short cycle",
        length=np.array([phase.distance or 1.0]),
        grade=np.array([phase.grade]),
        surface=(ground,),
        speed_limit=np.array([phase.speed_limit or 1.0]),
        load=(phase.load,),
        stop_time=np.array([0.0]),
        direction=(phase.direction,),
    )


def _drive(ready: Hauler, phase: Phase, ground: Surface, change_time: float) -> PhaseRun:
    route = phase_route(phase, ground)
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
        clutch_heat=of_shifts(
            ready.chain, run.profile, run.states, ready.inertias.turbine, change_time
        ),
    )


def crowd(ready: RouteMachine, phase: Phase, load: RoadLoad) -> PhaseRun:
    """Return a crowd: pushing at full throttle, or as hard as the ground lets the wheels.

    Parameters
    ----------
    ready : RouteMachine
        With the pumps' torque deducted.
    phase : Phase
    load : RoadLoad

    Raises
    ------
    InputError
        If there is no match at the speed of the crowd.
    """
    drive = ready.chain.drives[0]
    if phase.gear:
        held = [d for d in ready.chain.drives if d.gear.name == phase.gear]
        # A motor that is coupled directly has one drive a gear, and no converter in it.
        drive = min(held, key=lambda d: d.drive != "converter")
    ratio = ready.driveline.overall_ratio(drive.gear) / ready.machine.rolling_radius
    turbine = np.array([phase.speed * ratio])
    wheels = drive.at_turbine_speed(turbine)
    points = wheels.turbine
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
        impeller_torque=float(torque[0]),
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
