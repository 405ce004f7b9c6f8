"""A machine with a motor on a haul route: time, electric energy both ways, oil and winding."""

from __future__ import annotations

import numpy as np

from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.components.route import Route
from converter_match.curves import FloatArray
from converter_match.judgement.conditions.air import (
    air_drag_notes,
    cooler_air_notes,
    cooler_around,
    density_around,
    temperature_around,
)
from converter_match.judgement.conditions.ground import source_notes
from converter_match.judgement.conditions.outlet import known_oil_in_converter, stated_oil_limit
from converter_match.judgement.motor import words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.route_result import (
    MotorEnergy,
    MotorRoute,
    MotorRun,
    WindingLaps,
)
from converter_match.judgement.motor.setup import RATINGS, Rating
from converter_match.notes import Note
from converter_match.physics.arrangement.motor_demand import (
    DirectDemand,
    MotorDemand,
    Regeneration,
)
from converter_match.physics.arrangement.overrun import overrun_spread
from converter_match.physics.arrangement.overrun_shapes import MIDDLE, PUBLISHED
from converter_match.physics.arrangement.shaft_demand import Demand
from converter_match.physics.engine.motor import regenerative_torque
from converter_match.physics.haul.route import (
    BRAKING,
    RouteMachine,
    RouteRun,
    run_route,
    totals,
)
from converter_match.physics.haul.route_machine import chain_both_ways, energy_model
from converter_match.physics.heat.oil import UNSETTLED
from converter_match.physics.heat.winding import permitted, rise_after
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias

_REGENERATION_ROWS = 241


def motor_route(
    drive: MotorDrive,
    driveline: Driveline,
    machine: Machine,
    route: Route,
    *,
    braking: float = BRAKING,
    oil_start: float | None = None,
) -> MotorRoute:
    """Run a machine with a motor along a route, with its peak and with its continuous torque.

    Parameters
    ----------
    drive : MotorDrive
        Behind a converter, or coupled directly.
    driveline, machine, route : Driveline, Machine, Route
    braking : float
        Rate of slowing down ahead of limits and stops [m/s^2].
    oil_start : float, optional
        Oil temperature at the start [K]; the machine's working temperature without.

    Returns
    -------
    MotorRoute

    Raises
    ------
    InputError
        If the data cannot be combined, a number is out of range, or the motor states no losses.

    Notes
    -----
    The march and its energies are those of an engine's machine (`physics.haul`); step by step the
    shaft is then carried back to the motor and to its terminals, ``P_e = T omega + losses``. What
    is below zero flows back.
    """
    drive.setup.require_losses()
    runs = {}
    for rating in RATINGS:
        ready = route_machine(drive, rating, driveline, machine, route)
        run = run_route(ready, route, braking=braking, oil_start=oil_start)
        runs[rating] = motor_run(drive, ready, run)
    spread = _spread(drive, driveline, machine, route, braking)
    result = MotorRoute(
        drive=drive,
        driveline=driveline,
        machine=machine,
        route=route,
        runs=runs,
        oil_limit=None if drive.direct else _oil_limit(drive, machine),
        returned_spread=spread,
        notes=(),
    )
    return result.with_notes(_notes(result, braking))


def peak_run(drive: MotorDrive, driveline: Driveline, machine: Machine, route: Route) -> MotorRun:
    """Return a route run with the peak torque alone: `motor_route` without its bands and notes."""
    ready = route_machine(drive, "peak", driveline, machine, route)
    return motor_run(drive, ready, run_route(ready, route, braking=BRAKING))


def _spread(
    drive: MotorDrive, driveline: Driveline, machine: Machine, route: Route, braking: float
) -> tuple[float, float] | None:
    """Return least and most energy returned with each published overrun table; None for none."""
    converter = drive.converter
    if converter is None or not overrun_spread(converter):
        return None
    back = []
    for shape in PUBLISHED:
        ready = route_machine(drive, "peak", driveline, machine, route, shape=shape)
        back.append(
            motor_run(drive, ready, run_route(ready, route, braking=braking)).energy.returned
        )
    return min(back), max(back)


def _oil_limit(drive: MotorDrive, machine: Machine) -> float | None:
    assert drive.converter is not None  # whoever asks has a converter
    return stated_oil_limit(machine, drive.converter)


def route_machine(
    drive: MotorDrive,
    rating: Rating,
    driveline: Driveline,
    machine: Machine,
    route: Route,
    *,
    shape: str = MIDDLE,
) -> RouteMachine:
    """Return a machine with a motor, ready for routes on the ground and with the load of one."""
    setup, shaft = drive.setup, drive.shaft(rating)
    density = density_around(setup.air)
    load = RoadLoad.of(machine, route.surface[0], load=route.load[0], air_density=density)
    inertias = Inertias.of(setup.motor, drive.converter, driveline, machine, ratio=drive.ratio)
    chain = chain_both_ways(shaft, driveline, machine, inertias, load, route.directions)
    regeneration = _regeneration(drive)
    demand: Demand
    inside = None
    if drive.converter is None:
        demand = DirectDemand(regeneration, drive.ratio, drive.eta)
    else:
        demand = MotorDemand.of(drive.converter, regeneration, shape=shape)
        inside = known_oil_in_converter(machine.oil, drive.converter)[0]
    return RouteMachine(
        driveline=driveline,
        machine=machine,
        supply=shaft.supply,
        chain=chain,
        model=energy_model(chain, driveline, machine, inertias, demand, shaft.supply, None),
        inertias=inertias,
        air_density=density,
        air_temperature=temperature_around(setup.air),
        cooler=cooler_around(setup.air, machine),
        converter_oil=inside,
    )


def _regeneration(drive: MotorDrive) -> Regeneration:
    """Return what the motor brakes with, helped by what it drives beside."""
    setup = drive.setup
    speed = np.linspace(0.0, setup.top_speed, _REGENERATION_ROWS)
    torque = regenerative_torque(setup.motor, speed, voltage=setup.voltage)
    loads = setup.loads.load_torque(speed)
    # At standstill nothing drives the accessories, and nothing is braked.
    return Regeneration(speed, np.where(speed > 0.0, torque - loads, 0.0))


def motor_run(drive: MotorDrive, ready: RouteMachine, run: RouteRun) -> MotorRun:
    """Return what a run is for the motor: the shaft carried back to its terminals."""
    setup, states = drive.setup, run.states
    time = run.profile.time[:, 0]
    turning = states.engine_speed[:, 0]
    loads = np.interp(turning, ready.model.load_speed, ready.model.load_torque)
    net = states.engine_torque[:, 0] - loads
    gain = drive.ratio * np.where(net > 0.0, drive.eta, 1.0 / drive.eta)
    speed = turning * drive.ratio
    before = net / gain
    wanted = np.where(speed > 0.0, setup.shaft_torque(before, speed), 0.0)
    # A rotor that is slowed down gives its energy too; what the motor cannot take of it is left to
    # the service brakes.
    torque = np.maximum(wanted, regenerative_torque(setup.motor, speed, voltage=setup.voltage))
    left = float(((torque - wanted) * speed * time).sum())
    electric = setup.electric(torque, speed)
    rises = winding_laps(drive, torque, speed, time)
    sums = totals(run)
    oil = None if sums.hottest is None else float(sums.hottest[0])
    ledger = run.ledger.total()
    return MotorRun(
        run=run,
        time=float(sums.time[0]),
        stuck=int(run.profile.stuck[0]) >= 0,
        shifts=int(sums.shifts[0]),
        motor_speed=speed,
        motor_torque=torque,
        electric_power=electric,
        energy=MotorEnergy(
            drawn=float((np.maximum(electric, 0.0) * time).sum()),
            returned=float((np.maximum(-electric, 0.0) * time).sum()),
            motor=float(((electric - torque * speed) * time).sum()),
            accessories=float(((wanted - before) * speed * time).sum()),
            reduction=float(((before * speed - net * turning) * time).sum()),
            converter=float(ledger.converter[0]),
            gearbox=float((ledger.meshes + ledger.drag)[0]),
            axles=float((ledger.stages + ledger.running)[0]),
            ground=float((ledger.rolling + ledger.air + ledger.slip)[0]),
            rotating=float(ledger.rotating[0]),
            climbing=float((ledger.potential + ledger.kinetic)[0]),
            brakes=float(ledger.brakes[0]) + left,
        ),
        oil_hottest=None if oil is None or not np.isfinite(oil) else oil,
        oil_settles=oil is None or not np.isfinite(oil) or oil < UNSETTLED,
        winding=rises,
        assumed=ready.notes,
    )


def winding_laps(
    drive: MotorDrive, torque: FloatArray, speed: FloatArray, time: FloatArray
) -> WindingLaps:
    """Return the winding's rise lap after lap, in units of that at the continuous torque."""
    setup = drive.setup
    square = setup.share(torque, speed) ** 2
    first = rise_after(setup.motor, square, time)
    # theta -> a theta + b over a lap, a from how a warmth of 1 fades.
    faded = rise_after(setup.motor, square, time, start=1.0) - first
    kept, gained = float(faded[-1]), float(first[-1])
    settled = gained / (1.0 - kept) if kept < 1.0 - 1e-12 else float("inf")
    hottest = float((first + faded * settled).max()) if np.isfinite(settled) else settled
    whole = float(time.sum())
    mean = float((square * time).sum()) / whole if whole else 0.0
    return WindingLaps(
        rms=float(np.sqrt(mean)),
        hottest_first=float(first.max()),
        hottest=hottest,
        permitted=permitted(setup.motor, setup.coolant),
    )


def _notes(result: MotorRoute, braking: float) -> list[Note]:
    drive, machine = result.drive, result.machine
    runs = result.runs
    notes = [*drive.notes, *result.driveline.notes, *machine.notes]
    for run in runs.values():
        notes += run.assumed
    notes += source_notes(result.route.surface, machine)
    notes += [*air_drag_notes(drive.setup.air, machine)]
    notes += cooler_air_notes(drive.setup.air, machine)
    notes.append(words.note("route-driven-hard", braking=braking))
    for rating in RATINGS:
        run = runs[rating]
        if run.stuck:
            notes.append(words.note("route-not-driven", rating=rating))
        limit = result.oil_limit
        if run.oil_hottest is not None and limit is not None and run.oil_hottest > limit:
            code = "oil-above-limit-on-route" if run.oil_settles else "oil-never-settles"
            values = {"rating": rating, "oil": run.oil_hottest, "limit": limit}
            notes.append(words.note(code, **values))
    laps = runs["peak"].winding
    if laps.hottest > laps.permitted:
        values = {"hottest": laps.hottest, "permitted": laps.permitted, "rms": laps.rms}
        notes.append(words.note("winding-above-limit-on-route", **values))
    peak = runs["peak"].energy
    if drive.converter is not None and drive.setup.motor.regenerative is not None:
        notes.append(words.note("regeneration-through-converter", share=peak.returned_share))
        if result.returned_spread is not None:
            low, high = result.returned_spread
            notes.append(words.note("regeneration-band", low=low, high=high))
    notes.append(words.note("motor-stops-at-stops"))
    notes += [words.note("downhill-brakes"), words.note("motor-towing")]
    return notes
