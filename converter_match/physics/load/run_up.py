"""A load that is started from rest, in time: by the equations of motion of `physics.dynamics`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.load import LoadLine
from converter_match.physics.dynamics.drive_train import Commands, DriveTrain, Schedule
from converter_match.physics.dynamics.simulation import Start, simulate
from converter_match.physics.dynamics.transient import Transient
from converter_match.physics.load.shaft import Unit, shaft_states

REACHED = 0.95
"""Share of the steady turbine speed at which a run-up is taken to be over."""
LONGEST = 120.0
"""A run-up that takes longer is not followed [s]."""
_ENGINE = 4.0  # s, more than an engine takes from idle to stall
_LONGER = (1.3, 4.0)  # times the estimate, tried in turn
_CELLS = 320  # of turbine speed, for the estimate


@dataclass(frozen=True, eq=False)
class RunUp:
    """How a load comes up from rest.

    Parameters
    ----------
    transient : Transient
    time : float or None
        Until the turbine has `REACHED` of its steady speed [s]; None if it was not seen to.
    starts_at : float or None
        When the turbine begins to turn [s].
    heat, engine_work, load_work : float or None
        Until then [J].
    """

    transient: Transient
    time: float | None
    starts_at: float | None
    heat: float | None
    engine_work: float | None
    load_work: float | None


def run_up_from_rest(train: DriveTrain, line: LoadLine, steady_speed: float) -> RunUp | None:
    """Follow a load from rest, the engine from low idle, full throttle at time zero.

    Parameters
    ----------
    train : DriveTrain
    line : LoadLine
    steady_speed : float
        Turbine speed to which the load comes [rad/s].

    Returns
    -------
    RunUp or None
        None where it would take longer than `LONGEST`.
    """
    target = REACHED * steady_speed
    estimate = quasi_steady_time(train, line, target)
    if not estimate <= LONGEST:
        return None
    commands = Commands(
        load=Schedule.constant(line.constant),
        load_per_speed_squared=line.squared,
        load_table=line.table,
        breakaway=line.breakaway,
    )
    start = Start(train.supply.domain[0])
    for factor in _LONGER:
        course = simulate(train, commands, start, _ENGINE + factor * estimate, samples=600)
        if course.turbine_speed.max() >= target or course.stopped is not None:
            break
    begins = course.first("turbine-starts")
    if course.turbine_speed.max() < target:
        return RunUp(course, None, begins, None, None, None)
    after = int(np.argmax(course.turbine_speed >= target))
    before = max(after - 1, 0)
    pair = slice(before, after + 1)

    def at(values: np.ndarray) -> float:
        return float(np.interp(target, course.turbine_speed[pair], values[pair]))

    return RunUp(
        course,
        at(course.time),
        begins,
        at(course.converter_heat),
        at(course.engine_work),
        at(course.load_work),
    )


def quasi_steady_time(train: DriveTrain, line: LoadLine, target: float) -> float:
    """Return about how long the turbine takes to a speed, the engine settled all the way [s].

    ``t = integral of J d omega / (T - T_L)``; infinite where the torque does not suffice.

    Parameters
    ----------
    train : DriveTrain
    line : LoadLine
    target : float
        Turbine speed [rad/s].
    """
    speed = np.linspace(0.0, target, _CELLS + 1)
    up = shaft_states([Unit(train.supply, train.converter)], speed).up()
    spare = up - line(speed)
    if not np.all(spare > 0.0):
        return float("inf")
    return float(np.trapezoid(train.output_inertia / spare, speed))
