"""A log as a machine would write it, from the project's own dynamics: for demos and for checks.

The machine drives against one steady load after another, full throttle; the signals then get what
real ones have: noise, steps of their resolution, and a torque that comes late.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.components.base import require_positive
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.constants import RPM
from converter_match.curves import FloatArray
from converter_match.physics.dynamics.drive_train import Commands, DriveTrain, Schedule
from converter_match.physics.dynamics.dynamics import drive_train, steady_start
from converter_match.physics.dynamics.simulation import simulate
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.stall.settling import density_factor
from converter_match.units import from_si

_OIL = 358.15  # K
_CHANGE = 1.0  # s, in which the load goes from one step to the next


@dataclass(frozen=True, kw_only=True)
class Signals:
    """What the recorder does to the truth.

    Parameters
    ----------
    rate : float
        Rows a second [1/s].
    speed_noise, torque_noise : float
        Standard deviations [rad/s], and as a share of the reference torque.
    speed_step, torque_step : float
        Resolution [rad/s], and as a share of the reference torque.
    torque_delay : float
        [s].
    torque_scale : float
        By which the torque signal is wrong at every load; 1 where it is right.
    """

    rate: float = 10.0
    speed_noise: float = 2.0 * RPM
    torque_noise: float = 0.01
    speed_step: float = 0.125 * RPM
    torque_step: float = 0.01
    torque_delay: float = 0.3
    torque_scale: float = 1.0


def synthetic_log(
    engine: Engine,
    converter: Converter,
    *,
    speed_ratios: Sequence[float],
    dwell: float = 12.0,
    driven_inertia: float = 5.0,
    signals: Signals | None = None,
    seed: int = 1,
) -> dict[str, FloatArray]:
    """Return the columns of a log, SI units; the torque is that of the flywheel before loads.

    Parameters
    ----------
    engine, converter : Engine, Converter
        With their inertias.
    speed_ratios : sequence of float
        To drive at, one after the other; 0 is a stall.
    dwell : float
        At each [s].
    driven_inertia : float
        Behind the turbine [kg.m^2].
    signals : Signals, optional
    seed : int

    Raises
    ------
    InputError
        If an inertia is not given, or there is no match at a speed ratio.
    """
    require_positive(dwell, "dwell", "a time above zero, s")
    how = Signals() if signals is None else signals
    # The sheet holds at 90 degC; the log's oil is a little colder, and so denser.
    denser = converter.replace(capacity=converter.capacity * float(density_factor(_OIL)))
    train = drive_train(engine, engine_supply(engine), denser, driven_inertia)
    time, speed, turbine, turbine_torque = _driven(train, speed_ratios, dwell)
    rng = np.random.default_rng(seed)
    even = np.arange(0.0, float(time[-1]), 1.0 / how.rate)
    reference = engine.peak_torque[1]

    def at(values: FloatArray, late: float = 0.0) -> FloatArray:
        return np.interp(even - late, time, values)

    def stepped(values: FloatArray, step: float) -> FloatArray:
        return np.round(values / step) * step

    truth = np.asarray(train.supply.factor * train.supply.source(speed)) * how.torque_scale
    noise = rng.standard_normal((3, even.size))
    torque = at(truth, how.torque_delay) + how.torque_noise * reference * noise[2]
    return {
        "time": even,
        "engine speed": stepped(at(speed) + how.speed_noise * noise[0], how.speed_step),
        "turbine speed": np.maximum(
            stepped(at(turbine) + how.speed_noise * noise[1], how.speed_step), 0.0
        ),
        "engine torque": stepped(torque / reference, how.torque_step) * reference,
        "turbine torque": at(turbine_torque),
        "oil temperature": _OIL + 0.5 * np.sin(even / 97.0),
    }


def _driven(
    train: DriveTrain, speed_ratios: Sequence[float], dwell: float
) -> tuple[FloatArray, ...]:
    """Simulate one course through all loads."""
    first = steady_start(train, speed_ratios[0])
    loads = [steady_start(train, float(nu)).load for nu in speed_ratios]
    # A stall is a load that the turbine does not move.
    loads = [
        1.2 * load if nu == 0.0 else load for load, nu in zip(loads, speed_ratios, strict=True)
    ]
    times, values = [0.0], [loads[0]]
    for k, load in enumerate(loads[1:], start=1):
        times += [k * dwell, k * dwell + _CHANGE]
        values += [loads[k - 1], load]
    course = simulate(
        train,
        Commands(load=Schedule(np.array(times), np.array(values))),
        first.start,
        dwell * len(loads),
        samples=20 * int(dwell * len(loads)),
    )
    return course.time, course.engine_speed, course.turbine_speed, course.turbine_torque


def log_text(columns: dict[str, FloatArray], *, reference_torque: float | None = None) -> str:
    """Return a log as CSV: s, rpm, degC, and the torque in N.m or in percent of a reference.

    Parameters
    ----------
    columns : dict
        As from `synthetic_log`; without ``turbine torque`` where it is left out.
    reference_torque : float, optional
        [N.m].
    """
    import pandas as pd

    shown: dict[str, FloatArray] = {}
    for name, values in columns.items():
        if name == "time":
            shown["time [s]"] = np.round(values, 3)
        elif name.endswith("speed"):
            shown[f"{name} [rpm]"] = np.round(from_si(values, "rpm", "angular_speed"), 3)
        elif name == "oil temperature":
            shown["oil temperature [degC]"] = np.round(from_si(values, "degC", "temperature"), 1)
        elif name == "engine torque" and reference_torque is not None:
            shown["engine torque [percent]"] = np.round(100 * values / reference_torque, 2)
        else:
            shown[f"{name} [N.m]"] = np.round(values, 2)
    return str(pd.DataFrame(shown).to_csv(index=False, lineterminator="\n"))
