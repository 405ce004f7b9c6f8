"""The usual questions in time: stall run-up, lock-up engagement, driving into a pile.

Each sets up `simulation.simulate` with plain numbers. The start of the last two is the steady match
of `physics.match.solver`, and where the load stays, so is the end.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from converter_match.components.base import require_positive
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.response import EngineResponse
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.physics.dynamics.drive_train import Commands, DriveTrain, Schedule
from converter_match.physics.dynamics.simulation import Start, simulate
from converter_match.physics.dynamics.transient import Transient
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine_speed import match_at_turbine_speed

STALL_CAUTION = Note(
    "stall-hold-is-hazardous",
    "A machine held at stall can break loose, and all of the engine's power heats the oil. The "
    "machine maker's procedure, with its limits of time and oil temperature, and local rules come "
    "first; this is a calculation, not a procedure.",
    "caution",
)


def drive_train(
    engine: Engine, supply: TorqueSupply, converter: Converter, driven_inertia: float
) -> DriveTrain:
    """Return the drive train with the inertias that the components state.

    Parameters
    ----------
    engine : Engine
    supply : TorqueSupply
        Net torque of that engine.
    converter : Converter
    driven_inertia : float
        What the turbine drives, reduced to the turbine shaft, the turbine itself left out [kg.m^2].
        For a machine of mass m with a reduction i to wheels of radius r it is m (r/i)^2.

    Raises
    ------
    InputError
        If the engine or the converter does not state its inertia; none is guessed.
    """
    known = {
        "inertia": (engine.inertia, engine.id),
        "inertia.impeller": (converter.impeller_inertia, converter.id),
        "inertia.turbine": (converter.turbine_inertia, converter.id),
    }
    for field, (value, source) in known.items():
        if value is None:
            raise InputError(
                "not given, and a course in time needs it",
                source=source,
                field=field,
                expected="a moment of inertia",
                hint="give it in the component's file, or build a DriveTrain with plain numbers",
            )
    j_e, j_p, j_t = (float(value) for value, _ in known.values() if value is not None)
    require_positive(driven_inertia, "driven_inertia", "an inertia above zero, kg.m^2")
    return DriveTrain(supply, converter, j_e, j_p, j_t + driven_inertia)


@dataclass(frozen=True)
class SteadyStart:
    """A steady match to begin from.

    Parameters
    ----------
    start : Start
    load : float
        Torque at the turbine that keeps it steady [N.m].
    """

    start: Start
    load: float


def steady_at_turbine_speed(train: DriveTrain, turbine_speed: float) -> SteadyStart:
    """Return the steady operation at a turbine speed, as a machine comes up to it.

    Parameters
    ----------
    train : DriveTrain
    turbine_speed : float
        [rad/s].

    Raises
    ------
    InputError
        If there is no match there.
    """
    point = match_at_turbine_speed(train.supply, train.converter, turbine_speed)
    if not bool(point.found):
        raise InputError(
            "engine and converter do not run together at this turbine speed",
            source=train.converter.id,
            field="turbine_speed",
            found=turbine_speed,
        )
    return SteadyStart(Start(float(point.engine_speed), turbine_speed), float(point.turbine_torque))


def steady_start(train: DriveTrain, speed_ratio: float) -> SteadyStart:
    """Return the steady operation at a speed ratio, as reached from idle.

    Parameters
    ----------
    train : DriveTrain
    speed_ratio : float
        Turbine speed / engine speed.

    Raises
    ------
    InputError
        If there is no match there, or the speed ratio lies outside the converter's data.
    """
    point = match(train.supply, train.converter, float(speed_ratio)).from_idle()
    speed = float(point.engine_speed)
    if not np.isfinite(speed):
        raise InputError(
            "engine and converter do not run together at this speed ratio",
            source=train.converter.id,
            field="speed_ratio",
            found=float(speed_ratio),
        )
    return SteadyStart(Start(speed, speed_ratio * speed), float(point.turbine_torque))


def stall_run_up(
    train: DriveTrain,
    *,
    start_speed: float | None = None,
    duration: float = 10.0,
    response: EngineResponse | None = None,
) -> Transient:
    """Return the run-up against a held turbine, full throttle at time zero.

    Parameters
    ----------
    train : DriveTrain
    start_speed : float, optional
        Engine speed [rad/s]; the lowest for which the torque is known, if not given (low idle).
    duration : float
        [s].
    response : EngineResponse, optional
        How fast the engine's torque is there; at once without.

    Raises
    ------
    InputError
        If the start lies outside the data.

    Notes
    -----
    J omega' = T_net(omega) - C(0) omega^2; it settles at the stall speed that `match` finds.
    """
    low = train.supply.domain[0]
    start = Start(low if start_speed is None else start_speed)
    commands = Commands(turbine_held=True, response=response)
    course = simulate(train, commands, start, duration)
    return replace(course, notes=(*course.notes, STALL_CAUTION))


@dataclass(frozen=True, eq=False)
class LockUpEngagement:
    """How a lock-up clutch closed.

    Parameters
    ----------
    transient : Transient
    begins : float
        When the clutch begins to close [s].
    locked_at : float or None
        When it stuck first [s]; None if it never did.
    speed_step : float
        Impeller less turbine speed when it begins [rad/s].
    engine_speed_before, engine_speed_after : float
        When it begins, and when it sticks (or at the end) [rad/s].
    dissipated : float
        Heat in the clutch, all told [J].
    highest_torque : float
        That the clutch carried [N.m].
    holds : bool
        Whether it is stuck at the end.
    """

    transient: Transient
    begins: float
    locked_at: float | None
    speed_step: float
    engine_speed_before: float
    engine_speed_after: float
    dissipated: float
    highest_torque: float
    holds: bool

    @property
    def slips_for(self) -> float | None:
        """Time from the beginning until the clutch sticks [s]; None if it never does."""
        return None if self.locked_at is None else self.locked_at - self.begins


def lock_up_engagement(
    train: DriveTrain,
    *,
    speed_ratio: float | None = None,
    turbine_speed: float | None = None,
    capacity: float,
    closing_time: float,
    begins: float = 0.5,
    duration: float = 5.0,
) -> LockUpEngagement:
    """Return how a lock-up clutch closes on a machine that runs steadily.

    The load stays what it was before. The clutch's capacity rises in a straight line; it slips,
    dissipates, and sticks once both sides have one speed and its capacity allows.

    Parameters
    ----------
    train : DriveTrain
        Its converter's data must reach up to speed ratio 1 (see `drive_train.drawn_to_unity`), or
        the simulation ends where they do.
    speed_ratio, turbine_speed : float
        At which the clutch is told to engage: one of the two [1], [rad/s].
    capacity : float
        Torque capacity of the closed clutch [N.m].
    closing_time : float
        In which the capacity is built up [s].
    begins, duration : float
        [s].

    Raises
    ------
    InputError
        If a number is out of range or there is no steady match at the speed ratio.
    """
    require_positive(capacity, "capacity", "a torque above zero, N.m")
    require_positive(closing_time, "closing_time", "a time above zero, s")
    _refuse_beginning(begins, duration)
    if speed_ratio is not None and turbine_speed is None:
        before = steady_start(train, speed_ratio)
    elif turbine_speed is not None and speed_ratio is None:
        before = steady_at_turbine_speed(train, turbine_speed)
    else:
        raise InputError(
            "either the speed ratio or the turbine speed of the engagement is needed",
            field="speed_ratio, turbine_speed",
            expected="one of the two",
        )
    course = simulate(
        train,
        Commands(
            load=Schedule.constant(before.load),
            lock_up=Schedule.ramp(0.0, capacity, begins, closing_time),
        ),
        before.start,
        duration,
    )
    at = int(np.searchsorted(course.time, begins))
    locked_at = course.first("lock-up-sticks")
    after = -1 if locked_at is None else int(np.searchsorted(course.time, locked_at))
    last = [h.code for h in course.happenings if h.code.startswith("lock-up")]
    return LockUpEngagement(
        transient=course,
        begins=begins,
        locked_at=locked_at,
        speed_step=float(course.impeller_speed[at] - course.turbine_speed[at]),
        engine_speed_before=float(course.engine_speed[at]),
        engine_speed_after=float(course.engine_speed[after]),
        dissipated=course.energy.lock_up_heat,
        highest_torque=float(np.abs(course.lock_up_torque).max()),
        holds=bool(last and last[-1] == "lock-up-sticks"),
    )


def load_step(
    train: DriveTrain,
    *,
    speed_ratio: float,
    load_after: float,
    rise_time: float,
    begins: float = 0.5,
    duration: float = 10.0,
    impeller_clutch: Schedule | None = None,
) -> Transient:
    """Return what happens when the load on a steadily running machine rises, as at a pile.

    Parameters
    ----------
    train : DriveTrain
    speed_ratio : float
        Of the steady operation before.
    load_after : float
        Torque that resists at the turbine afterwards [N.m]. More than the turbine gives at stall
        brings the machine to rest; the load then holds it there, and does not push it back.
    rise_time : float
        In which the load rises [s].
    begins, duration : float
        [s].
    impeller_clutch : Schedule, optional
        Torque capacity of an impeller clutch over time [N.m]; without, engine and impeller are one.
        It should begin high enough to carry the steady torque.

    Raises
    ------
    InputError
        If a number is out of range or there is no steady match at the speed ratio.
    """
    require_positive(load_after, "load_after", "a torque above zero, N.m")
    require_positive(rise_time, "rise_time", "a time above zero, s")
    _refuse_beginning(begins, duration)
    before = steady_start(train, speed_ratio)
    commands = Commands(
        load=Schedule.ramp(before.load, load_after, begins, rise_time),
        impeller_clutch=impeller_clutch,
    )
    return simulate(train, commands, before.start, duration)


def _refuse_beginning(begins: float, duration: float) -> None:
    if not 0.0 <= begins < duration:
        raise InputError(
            "out of range",
            field="begins",
            found=begins,
            expected=f"0 .. {duration:g} s, before the end",
        )
