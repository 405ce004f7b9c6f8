"""A loader's short cycle with a motor: time, electric energy, oil and winding, at both torques."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.components.route import Phase, ShortCycle
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.conditions.air import (
    air_drag_notes,
    cooler_air_notes,
    cooler_around,
    temperature_around,
)
from converter_match.judgement.conditions.ground import ground_notes
from converter_match.judgement.conditions.oil import starting_oil
from converter_match.judgement.haul.production import PRODUCTION, Expected, Production
from converter_match.judgement.haul.short_cycle import gears_of, phase_notes, production_notes
from converter_match.judgement.motor import words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.route import motor_run, route_machine, winding_laps
from converter_match.judgement.motor.route_result import WindingLaps
from converter_match.judgement.motor.setup import RATINGS, Rating
from converter_match.notes import Note
from converter_match.physics.haul.clutch_heat import TYPICAL_CHANGE, of_shifts
from converter_match.physics.haul.route import BRAKING, run_route
from converter_match.physics.haul.short_cycle import (
    PhaseRun,
    crowd,
    phase_route,
    powered,
    with_gears,
)
from converter_match.physics.heat.oil import OilCircuit, hold
from converter_match.physics.wheels.road_load import RoadLoad

_KG_PER_T = 1e3
_PHASE = (
    Heading("rating", "torque"),
    Heading("phase", "phase"),
    Heading("kind", ""),
    Heading("time", "time", "time"),
    Heading("drawn", "drawn", "electric_energy", ".3f"),
    Heading("returned", "returned", "electric_energy", ".3f"),
    Heading("oil_heat", "heat into the oil", "energy"),
    Heading("mean_motor_speed", "motor", "angular_speed"),
    Heading("top_speed", "top speed", "velocity"),
    Heading("push", "crowding effort", "force", ".0f"),
    Heading("grip_limited", ""),
    Heading("arrives", ""),
    Heading("gear", "gear"),
    Heading("hydraulic_power", "pumps", "power"),
)


@dataclass(frozen=True, eq=False, kw_only=True)
class MotorPhase:
    """A phase as it went with a motor, SI units.

    Parameters
    ----------
    run : PhaseRun
        Its `engine_speed` is the mean speed of the motor.
    torque, speed, time, electric : ndarray, shape (steps,)
        At the motor's shaft [N.m], [rad/s]; of each step [s]; at its terminals [W].
    """

    run: PhaseRun
    torque: FloatArray
    speed: FloatArray
    time: FloatArray
    electric: FloatArray

    @property
    def arrives(self) -> bool:
        """Whether the phase is completed."""
        return self.run.arrives

    @property
    def engine_speed(self) -> float:
        """Mean speed of the motor [rad/s]."""
        return self.run.engine_speed

    @property
    def drawn(self) -> float:
        """Energy at the terminals [J]."""
        return float((np.maximum(self.electric, 0.0) * self.time).sum())

    @property
    def returned(self) -> float:
        """Energy that flows back at the terminals [J]."""
        return float((np.maximum(-self.electric, 0.0) * self.time).sum())


@dataclass(frozen=True, eq=False, kw_only=True)
class CycleRun:
    """A cycle at one of the motor's torques, SI units.

    Parameters
    ----------
    phases : tuple of MotorPhase
    winding : WindingLaps
        Cycle after cycle.
    balance, time_to_limit : float or None
        Oil temperature of continuous work [K], and time until it is at its limit [s].
    """

    phases: tuple[MotorPhase, ...]
    winding: WindingLaps
    balance: float | None
    time_to_limit: float | None

    @property
    def time(self) -> float:
        """Of one cycle [s]."""
        return sum(each.run.time for each in self.phases)

    @property
    def arrives(self) -> bool:
        """Whether every phase is completed."""
        return all(each.arrives for each in self.phases)

    @property
    def drawn(self) -> float:
        """[J]."""
        return sum(each.drawn for each in self.phases)

    @property
    def returned(self) -> float:
        """[J]."""
        return sum(each.returned for each in self.phases)

    @property
    def oil_heat(self) -> float:
        """[J]."""
        return sum(each.run.oil_heat for each in self.phases)


@dataclass(frozen=True, eq=False)
class MotorCycle(Answer):
    """A machine with a motor in a short cycle.

    Parameters
    ----------
    drive : MotorDrive
    driveline, machine, cycle : Driveline, Machine, ShortCycle
    runs : mapping of rating to CycleRun
    notes : tuple of Note
    """

    drive: MotorDrive
    driveline: Driveline
    machine: Machine
    cycle: ShortCycle
    runs: Mapping[Rating, CycleRun]
    notes: tuple[Note, ...]

    def with_notes(self, notes: Iterable[Note]) -> MotorCycle:
        """Return the same with other notes."""
        return replace(self, notes=tuple(dict.fromkeys(notes)))

    def blocks(self) -> tuple[Block, ...]:
        """Return what drives what, one cycle at both torques, and every phase."""
        drive = self.drive
        return (
            Block(
                "",
                title=f"{self.machine.name}: {self.cycle.name}",
                facts=(
                    (Heading("machine", ""), self.machine.id),
                    (Heading("driveline", ""), self.driveline.id),
                    (Heading("cycle", ""), self.cycle.id),
                    (Heading("converter", ""), drive.converter and drive.converter.id),
                    (Heading("reduction", ""), drive.ratio),
                    (Heading("", "motor"), drive.setup.motor.name),
                    (Heading("", "between motor and gearbox"), drive.title),
                    (Heading("fuel", "fuel"), NoValue("none: a motor burns none")),
                    *drive.setup.basis(),
                ),
            ),
            drive.setup.origin(),
            *(
                Block(rating, title=f"With the {rating} torque", facts=self._facts(rating))
                for rating in RATINGS
            ),
            Block(
                "phases",
                title="Phases",
                columns=_PHASE,
                rows=tuple(
                    self._row(rating, each)
                    for rating in RATINGS
                    for each in self.runs[rating].phases
                ),
                rows_key="",
            ),
        )

    def _facts(self, rating: Rating) -> Facts:
        run = self.runs[rating]
        load = self.machine.payload if run.arrives else 0.0
        net = run.drawn - run.returned
        made = Production(load, run.time, None, 1.0)
        laps = run.winding
        kwh = "electric_energy"
        nothing = NoValue("nothing is moved")
        rate, expected = made.rate, Expected.of(self.cycle).rate(made)
        return (
            (Heading("arrives", ""), run.arrives),
            (Heading("time", "time", "time"), run.time),
            (Heading("drawn", "energy drawn", kwh, ".3f"), run.drawn),
            (Heading("returned", "returned", kwh, ".3f"), run.returned),
            (Heading("net", "net", kwh, ".3f"), net),
            (
                Heading("per_t", "net per t of load", kwh, ".3f"),
                net / (load / _KG_PER_T) if load else nothing,
            ),
            (PRODUCTION.said("production, ideal"), nothing if rate is None else rate),
            (
                Heading("expected_production", "production to expect", "production"),
                nothing if expected is None else expected,
            ),
            (Heading("mean_oil_heat", "mean heat into the oil", "power"), run.oil_heat / run.time),
            (
                Heading(
                    "oil_of_continuous_work", "oil temperature in continuous work", "temperature"
                ),
                NoValue(words.NOT_KNOWN) if run.balance is None else run.balance,
            ),
            (Heading("time_to_oil_limit", "", "minutes"), run.time_to_limit),
            (Heading("rms", "rms torque, of continuous", "share"), laps.rms),
            (
                Heading("winding", "winding, cycle after cycle, of permitted rise", "share"),
                laps.hottest / laps.permitted if laps.permitted else float("inf"),
            ),
        )

    def _row(self, rating: Rating, each: MotorPhase) -> tuple[object, ...]:
        run = each.run
        return (
            rating, run.phase.name, run.phase.kind, run.time, each.drawn, each.returned,
            run.oil_heat, run.engine_speed, run.top_speed, run.force, run.grip_limited,
            run.arrives, gears_of(run.phase), run.hydraulic_power,
        )  # fmt: skip


def motor_cycle(
    drive: MotorDrive,
    driveline: Driveline,
    machine: Machine,
    cycle: ShortCycle,
    *,
    oil_start: float | None = None,
) -> MotorCycle:
    """Run a loader with a motor through a short cycle, with its peak and its continuous torque.

    Parameters
    ----------
    drive : MotorDrive
        Behind a converter, or coupled directly; hydraulics come from the phases.
    driveline, machine, cycle : Driveline, Machine, ShortCycle
    oil_start : float, optional
        Oil temperature at the start of continuous work [K].

    Returns
    -------
    MotorCycle

    Raises
    ------
    InputError
        If a phase cannot be set up, or the motor states no losses.

    Notes
    -----
    Drives and crowds are those of an engine's machine (`physics.haul.short_cycle`); the shaft is
    carried back to the terminals as on a route, ``P_e = T omega + losses``.
    """
    drive.setup.require_losses()
    runs: dict[Rating, CycleRun] = {}
    notes: list[Note] = []
    outside = temperature_around(drive.setup.air)
    circuit = OilCircuit.of(machine, outside, cooler_around(drive.setup.air, machine))
    limit = machine.oil.temperature_limit
    for rating in RATINGS:
        phases = tuple(_phase(drive, rating, driveline, machine, cycle, p) for p in cycle.phases)
        torque, speed, time = (
            np.concatenate([getattr(each, name) for each in phases])
            for name in ("torque", "speed", "time")
        )
        balance = reached = None
        if circuit is not None and limit is not None:
            mean = sum(each.run.oil_heat for each in phases) / float(time.sum())
            start, assumed = starting_oil(machine, outside, oil_start)
            notes += assumed
            answer = hold(circuit, mean, start, limit)
            balance, reached = answer.balance, answer.time_to_limit
            if reached is not None:
                values = {"rating": rating, "limit": limit, "time": reached, "heat": mean}
                notes.append(words.note("oil-above-limit-in-cycle", **values))
        laps = winding_laps(drive, torque, speed, time)
        runs[rating] = CycleRun(phases=phases, winding=laps, balance=balance, time_to_limit=reached)
        notes += _phase_notes(rating, phases)
    laps = runs["peak"].winding
    if laps.hottest > laps.permitted:
        values = {"hottest": laps.hottest, "permitted": laps.permitted, "rms": laps.rms}
        notes.append(words.note("winding-above-limit-on-route", **values))
    notes += [
        words.note("motor-cycle-driven-hard"),
        *production_notes(cycle, tuple(each.run for each in runs["peak"].phases), machine),
        *ground_notes(cycle.surface, machine),
        *air_drag_notes(drive.setup.air, machine),
        *cooler_air_notes(drive.setup.air, machine),
        *drive.notes,
        *driveline.notes,
        *machine.notes,
    ]
    return MotorCycle(drive, driveline, machine, cycle, runs, ()).with_notes(notes)


def _phase_notes(rating: Rating, phases: tuple[MotorPhase, ...]) -> list[Note]:
    runs = tuple(each.run for each in phases)
    short = [
        words.note(
            "motor-leaves-pumps-short",
            rating=rating,
            phase=repr(run.phase.name),
            asked=run.phase.hydraulic_power,
            given=run.hydraulic_power,
        )
        for run in runs
        if run.pumps_short
    ]
    # The sentence of an engine's cycle on its pumps speaks of an engine.
    return [*short, *(note for note in phase_notes(runs) if note.code != "pumps-short")]


def _phase(
    drive: MotorDrive,
    rating: Rating,
    driveline: Driveline,
    machine: Machine,
    cycle: ShortCycle,
    phase: Phase,
) -> MotorPhase:
    """Go through a phase, again until the pumps get their power."""
    setup, asked = drive.setup, phase.hydraulic_power
    speed = min(setup.motor.base_speed, setup.top_speed)
    torque = asked / speed

    def once(taken: float) -> MotorPhase:
        pumped = replace(drive, setup=replace(setup, hydraulic_torque=taken))
        if phase.kind == "stand":
            return _stand(pumped, phase, speed if asked > 0.0 else 0.0)
        return _moved(pumped, rating, driveline, machine, cycle, phase)

    able = replace(setup, hydraulic_torque=torque).supply(rating)
    if float(able.torque(speed)) <= 0.0:
        raise InputError(
            f"the pumps take all of the motor's {rating} torque",
            field=f"phase {phase.name!r}.hydraulic_power",
            found=f"{asked / 1e3:.4g} kW",
            expected=f"less than {float(setup.supply(rating).torque(speed)) * speed / 1e3:.4g} kW",
        )
    gone, torque = powered(once, asked, torque)
    return replace(gone, run=replace(gone.run, hydraulic_power=torque * gone.engine_speed))


def _stand(drive: MotorDrive, phase: Phase, speed: float) -> MotorPhase:
    """Stand in neutral: turning for the pumps, or not at all."""
    at = np.array([speed])
    torque = drive.setup.shaft_torque(np.zeros(1), at) if speed else np.zeros(1)
    run = PhaseRun(
        phase=phase, time=phase.time, fuel=None, oil_heat=0.0, engine_speed=speed, top_speed=0.0
    )
    return MotorPhase(
        run=run,
        torque=torque,
        speed=at,
        time=np.array([phase.time]),
        electric=drive.setup.electric(torque, at),
    )


def _moved(
    drive: MotorDrive,
    rating: Rating,
    driveline: Driveline,
    machine: Machine,
    cycle: ShortCycle,
    phase: Phase,
) -> MotorPhase:
    route = phase_route(phase, cycle.surface)
    ready = route_machine(drive, rating, with_gears(driveline, phase), machine, route)
    if phase.kind == "crowd":
        load = RoadLoad.of(
            machine,
            cycle.surface,
            load=phase.load,
            air_density=ready.air_density,
            direction=phase.direction,
        )
        run = crowd(ready, phase, load)
        speed = np.array([run.engine_speed * drive.ratio])
        net = np.array([run.impeller_torque]) / (drive.ratio * drive.eta)
        torque = drive.setup.shaft_torque(net, speed)
        return MotorPhase(
            run=replace(run, engine_speed=float(speed[0])),
            torque=torque,
            speed=speed,
            time=np.array([phase.time]),
            electric=drive.setup.electric(torque, speed),
        )
    gone = run_route(ready, route, braking=BRAKING)
    at = motor_run(drive, ready, gone)
    steps = gone.profile.time[:, 0]
    given = driveline.shift_time
    changing = of_shifts(
        ready.chain,
        gone.profile,
        gone.states,
        ready.inertias.turbine,
        TYPICAL_CHANGE if given is None else given,
    )
    return MotorPhase(
        run=PhaseRun(
            phase=phase,
            time=at.time,
            fuel=None,
            oil_heat=float((gone.states.oil_heat * gone.profile.time).sum()) + changing,
            engine_speed=float((at.motor_speed * steps).sum()) / at.time if at.time else 0.0,
            top_speed=float(gone.profile.speed.max()),
            arrives=not at.stuck,
            clutch_heat=changing,
        ),
        torque=at.motor_torque,
        speed=at.motor_speed,
        time=steps,
        electric=at.electric_power,
    )
