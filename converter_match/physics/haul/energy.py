"""Where the energy of a route goes: backwards from the motion to the engine, step by step.

The motion of a step is known, so the force at the ground is ``F = R + m a``. From there to the
engine every part takes its share: slip, wheels, reductions, gear meshes, drag, the converter. A
demand that the engine cannot retard to is left to the service brakes. Nothing is found as a
remainder, so the sum of all shares against the engine's work checks the whole chain; it closes
to rounding. Work into rotating parts comes back when the speed falls within a gear; what a gear
change takes from them ends as heat in clutches and converter, and stands in `rotating`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.curves import FloatArray
from converter_match.physics.arrangement.shaft_demand import Demand
from converter_match.physics.engine.fuel import FuelLaw
from converter_match.physics.haul.loads import Draws, SegmentLoads
from converter_match.physics.haul.retarding import RetardingChoice
from converter_match.physics.haul.steps import SpeedProfile
from converter_match.physics.wheels.drive_chain import DriveChain
from converter_match.physics.wheels.road_load import grip_at
from converter_match.physics.wheels.rotating import Inertias


@dataclass(frozen=True, eq=False)
class Ledger:
    """Energies of steps or of a whole route [J]; arrays of one shape.

    Parameters
    ----------
    engine : ndarray
        Work of the engine after its accessories: into the impeller and into speeding up engine and
        impeller; below zero where it brakes.
    kinetic, potential : ndarray
        Gained by the machine as a body.
    rotating : ndarray
        Into rotating parts.
    rolling, air, running : ndarray
        Rolling resistance, air drag, drag of axles and brakes.
    slip, stages, meshes, drag : ndarray
        Lost between tread and ground, behind the gearbox, in its meshes, and as its drag.
    converter : ndarray
        Heat in the converter.
    brakes : ndarray
        Service brakes.
    """

    engine: FloatArray
    kinetic: FloatArray
    potential: FloatArray
    rotating: FloatArray
    rolling: FloatArray
    air: FloatArray
    running: FloatArray
    slip: FloatArray
    stages: FloatArray
    meshes: FloatArray
    drag: FloatArray
    converter: FloatArray
    brakes: FloatArray

    @property
    def spent(self) -> FloatArray:
        """Everything but the engine's work."""
        names = [field.name for field in fields(self) if field.name != "engine"]
        return np.asarray(sum(getattr(self, name) for name in names))

    @property
    def turnover(self) -> FloatArray:
        """Sum of the magnitudes of all shares: what an imbalance is measured against."""
        return np.asarray(sum(np.abs(getattr(self, field.name)) for field in fields(self)))

    def total(self) -> Ledger:
        """Return the sums along the steps (axis 0)."""
        return Ledger(*(np.asarray(getattr(self, f.name).sum(axis=0)) for f in fields(self)))


@dataclass(frozen=True, eq=False)
class StepStates:
    """The machine in the middle of each step; arrays of shape (steps, draws).

    Parameters
    ----------
    state : ndarray of int
        Index into the chain, the retarding gear included.
    turbine_speed, engine_speed, impeller_torque, turbine_torque : ndarray
        [rad/s], [rad/s], [N.m], [N.m].
    engine_torque : ndarray
        At the flywheel, accessories and speeding up included [N.m].
    converter_heat, oil_heat : ndarray
        [W].
    retarding : ndarray
        Force by which the machine holds itself back at the tread through the driveline [N].
    brake_force : ndarray
        Of the service brakes [N].
    fuel : ndarray or None
        [kg] in each step.
    """

    state: NDArray[np.int16]
    turbine_speed: FloatArray
    engine_speed: FloatArray
    impeller_torque: FloatArray
    turbine_torque: FloatArray
    engine_torque: FloatArray
    converter_heat: FloatArray
    oil_heat: FloatArray
    retarding: FloatArray
    brake_force: FloatArray
    fuel: FloatArray | None


@dataclass(frozen=True, eq=False)
class EnergyModel:
    """What is needed to go from motion back to the engine.

    Parameters
    ----------
    chain : DriveChain
    driveline : Driveline
    machine : Machine
    inertias : Inertias
    demand : Demand
    retarding : RetardingChoice
    load_speed, load_torque : ndarray
        Torque of accessories and pumps over engine speed.
    fuel : FuelLaw or None
    """

    chain: DriveChain
    driveline: Driveline
    machine: Machine
    inertias: Inertias
    demand: Demand
    retarding: RetardingChoice
    load_speed: FloatArray
    load_torque: FloatArray
    fuel: FuelLaw | None


def step_energy(
    model: EnergyModel,
    profile: SpeedProfile,
    loads: SegmentLoads,
    draws: Draws,
) -> tuple[Ledger, StepStates]:
    """Return the energies and states of every step, shape (steps, draws).

    Parameters
    ----------
    model : EnergyModel
    profile : SpeedProfile
    loads, draws : SegmentLoads, Draws
        As the profile was computed with.
    """
    chain, machine = model.chain, model.machine
    time, way, segment = profile.time, profile.length, profile.segment
    v0, v1 = profile.speed[:-1], profile.speed[1:]
    moving = way > 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = np.where(moving, way / np.where(time > 0, time, 1.0), 0.0)
        rate = np.where(moving, (v1 * v1 - v0 * v0) / (2.0 * np.where(moving, way, 1.0)), 0.0)
    mass = loads.mass[segment] * draws.mass
    rolling, climbing, air = loads.parts(segment, mass, draws.rolling_resistance, speed)
    ground = rolling + climbing + air + loads.running_drag + mass * rate
    grip = mass * grip_at(
        loads.grip[segment], loads.whole_grip[segment], loads.moved[segment], rate
    )
    pulling = ground > 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        use = np.where(pulling & np.isfinite(grip), ground / grip, 0.0)
    tread = speed / (1.0 - np.where(pulling, machine.slip.at(use), 0.0))
    state = _within_reach(chain, profile.state.astype(np.intp), tread)
    steady = rolling + climbing + air + loads.running_drag
    state = model.retarding.chosen(state, tread, steady < 0.0, ground)
    line = _Line(model, state, rate)
    turbine = tread * chain.ratio_over_radius[state]
    locked = chain.locked[state]
    asked = line.turbine_torque(ground, turbine)
    # At a stand the gearbox is in neutral: nothing is asked, nothing creeps.
    shafts = model.demand.at(turbine, asked, locked)
    given = np.where(moving, shafts.turbine_torque, 0.0)
    parts = line.losses(given, turbine, tread)
    brake = np.where(moving, parts["tread"] - ground, 0.0)
    follows = np.where(given > 0.0, _at(chain, chain.follows, state, tread), 1.0 * locked)
    speeding = model.inertias.engine * follows * rate * chain.ratio_over_radius[state]
    mu = np.where(shafts.impeller_torque != 0.0, given / _nonzero(shafts.impeller_torque), 1.0)
    speeding = np.where(locked, speeding, speeding / np.where(mu > 0.0, mu, 1.0))
    idle = model.demand.idle
    engine = np.where(moving, shafts.engine_speed, idle)
    impeller = np.where(moving, shafts.impeller_torque, 0.0)
    speeding = np.where(moving, speeding, 0.0)
    heat = np.where(moving, shafts.heat, 0.0)
    flywheel = impeller + speeding + np.interp(engine, model.load_speed, model.load_torque)
    fuel = None if model.fuel is None else model.fuel.rate(flywheel, engine) * time
    ledger = Ledger(
        engine=(impeller + speeding) * engine * time,
        kinetic=0.5 * mass * (v1 * v1 - v0 * v0) * moving,
        potential=climbing * way,
        rotating=(parts["rotating"] * moving + speeding * engine) * time,
        rolling=rolling * way,
        air=air * way,
        running=loads.running_drag * way,
        slip=ground * (tread - speed) * time,
        stages=parts["stages"] * moving * time,
        meshes=parts["meshes"] * moving * time,
        drag=parts["drag"] * moving * time,
        converter=heat * time,
        brakes=brake * tread * time,
    )
    states = StepStates(
        state=state.astype(np.int16),
        turbine_speed=turbine,
        engine_speed=engine,
        impeller_torque=impeller,
        turbine_torque=given,
        engine_torque=flywheel,
        converter_heat=heat,
        oil_heat=heat + (parts["meshes"] + parts["drag"]) * moving,
        retarding=np.maximum(-parts["tread"], 0.0) * moving,
        brake_force=brake,
        fuel=fuel,
    )
    return ledger, states


def _within_reach(
    chain: DriveChain, state: NDArray[np.intp], tread: FloatArray
) -> NDArray[np.intp]:
    """Raise states that are too low for the middle of a step in which gears were changed down."""
    for _ in range(chain.size):
        over = (tread > chain.top[state]) & (state < chain.size - 1)
        if not over.any():
            break
        state = np.where(over, state + 1, state)
    return state


def _nonzero(values: FloatArray) -> FloatArray:
    return np.where(values != 0.0, values, 1.0)


def _at(
    chain: DriveChain, table: FloatArray, state: NDArray[np.intp], tread: FloatArray
) -> FloatArray:
    points = table.shape[1]
    x = np.minimum(tread / chain.top[state], 1.0) * (points - 1.000001)
    cell = x.astype(np.intp)
    low, high = table[state, cell], table[state, cell + 1]
    return np.asarray(low + (x - cell) * (high - low))


class _Line:
    """The shafts from wheel to turbine, both ways; arrays of shape (steps, draws)."""

    def __init__(self, model: EnergyModel, state: NDArray[np.intp], rate: FloatArray) -> None:
        chain, line = model.chain, model.driveline
        self._radius = model.machine.rolling_radius
        self._stage = line.stage_ratio
        self._stage_eta = line.stage_efficiency
        self._ratio = np.array([d.gear.ratio for d in chain.drives])[state]
        self._eta = np.array([d.gear.efficiency for d in chain.drives])[state]
        self._gears = [d.gear for d in chain.drives]
        self._state = state
        turning = rate / self._radius  # wheel [rad/s^2]
        inertias = model.inertias
        self._wheels = inertias.wheels * turning
        self._output = inertias.output * turning * self._stage
        self._turbine = inertias.turbine * turning * self._stage * self._ratio

    def _drag(self, turbine_speed: FloatArray) -> FloatArray:
        drag = np.zeros(turbine_speed.shape)
        for index, gear in enumerate(self._gears):
            here = self._state == index
            if here.any():
                drag[here] = gear.drag_torque(turbine_speed[here])
        return drag

    def turbine_torque(self, ground: FloatArray, turbine_speed: FloatArray) -> FloatArray:
        """Return the turbine torque [N.m] that a force at the ground [N] asks for."""
        wheel = ground * self._radius + self._wheels
        eta = np.where(wheel > 0.0, self._stage_eta, 1.0 / self._stage_eta)
        output = wheel / (self._stage * eta) + self._output
        eta = np.where(output > 0.0, self._eta, 1.0 / self._eta)
        return np.asarray(output / (self._ratio * eta) + self._turbine + self._drag(turbine_speed))

    def losses(
        self, turbine_torque: FloatArray, turbine_speed: FloatArray, tread: FloatArray
    ) -> dict[str, FloatArray]:
        """Return the force at the ground [N] that a turbine torque gives, and powers lost [W]."""
        drag = self._drag(turbine_speed)
        into = turbine_torque - drag - self._turbine
        output = into * self._ratio * np.where(into > 0.0, self._eta, 1.0 / self._eta)
        shaft = output - self._output
        wheel = shaft * self._stage * np.where(shaft > 0.0, self._stage_eta, 1 / self._stage_eta)
        wheel_speed = tread / self._radius
        output_speed = wheel_speed * self._stage
        turning = self._turbine * turbine_speed + self._output * output_speed
        return {
            "tread": (wheel - self._wheels) / self._radius,
            "drag": drag * turbine_speed,
            "meshes": into * turbine_speed - output * output_speed,
            "stages": shaft * output_speed - wheel * wheel_speed,
            "rotating": turning + self._wheels * wheel_speed,
        }
