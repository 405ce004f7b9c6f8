"""Equations of motion of engine, impeller and turbine with a converter and two clutches.

Three inertias turn at omega_e, omega_p, omega_t:

    J_e omega_e' = T_net(omega_e) - T_c                       engine
    J_p omega_p' = T_c - C(nu) omega_p^2 - T_l                impeller
    J_t omega_t' = mu(nu) C(nu) omega_p^2 + T_l - T_load      turbine and all that it drives

T_c goes through the impeller clutch, T_l through the lock-up clutch. A slipping clutch carries its
capacity, against the slip; one that sticks carries whatever makes its two sides accelerate alike,
as long as that is no more than its capacity. Without an impeller clutch the first two inertias are
one. The load only resists: a turbine at rest stays at rest until it is pushed harder than that.
The converter is taken as steady at every instant: the inertia of the circulating oil is neglected.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import require_positive
from converter_match.components.converter import Converter
from converter_match.components.response import EngineResponse
from converter_match.curves import Curve, FloatArray, frozen_array
from converter_match.errors import InputError
from converter_match.notes import assumption
from converter_match.physics.engine.supply import TorqueSupply


@dataclass(frozen=True, eq=False)
class Schedule:
    """A quantity that is commanded over time: straight lines between points, held beyond the ends.

    Parameters
    ----------
    time : array_like, shape (n,)
        [s], increasing.
    value : array_like, shape (n,)
        Zero or more, in the SI unit of the quantity.

    Raises
    ------
    InputError
        If the points are not finite, do not increase in time, or a value is below zero.
    """

    time: FloatArray
    value: FloatArray

    def __post_init__(self) -> None:
        time, value = (frozen_array(np.atleast_1d(a)) for a in (self.time, self.value))
        if time.ndim != 1 or time.shape != value.shape or not time.size:
            raise InputError(
                "time and value must be columns of one length",
                field="schedule",
                found=f"{value.size} values for {time.size} times",
            )
        if not (np.all(np.isfinite(time)) and np.all(np.isfinite(value))):
            raise InputError("not finite", field="schedule", expected="a number in every row")
        if np.any(np.diff(time) <= 0):
            raise InputError(
                "times do not increase",
                field="schedule.time",
                found=time.tolist(),
                hint="a sudden step is a ramp that takes a very short time",
            )
        if np.any(value < 0):
            raise InputError(
                "below zero",
                field="schedule.value",
                found=float(value.min()),
                expected="values of zero or more",
            )
        object.__setattr__(self, "time", time)
        object.__setattr__(self, "value", value)

    @classmethod
    def constant(cls, value: float) -> Schedule:
        """Return a schedule that holds one value."""
        return cls(np.zeros(1), np.array([value]))

    @classmethod
    def ramp(cls, before: float, after: float, begins: float, takes: float) -> Schedule:
        """Return a straight ramp from one value to another, `takes` [s] long."""
        require_positive(takes, "takes", "a time above zero, s")
        return cls(np.array([begins, begins + takes]), np.array([before, after]))

    def __call__(self, time: ArrayLike) -> FloatArray:
        """Evaluate at `time` [s] (any shape)."""
        return np.asarray(np.interp(np.asarray(time, dtype=np.float64), self.time, self.value))


@dataclass(frozen=True, eq=False)
class DriveTrain:
    """What turns, and what connects it.

    Parameters
    ----------
    supply : TorqueSupply
        Net torque of the engine at full load or along a governor's or pedal's curve.
    converter : Converter
    engine_inertia, impeller_inertia : float
        [kg.m^2]; before and after an impeller clutch. They turn together where there is none.
    output_inertia : float
        Turbine and everything behind it, reduced to the turbine shaft [kg.m^2].

    Raises
    ------
    InputError
        If an inertia is not above zero.
    """

    supply: TorqueSupply
    converter: Converter
    engine_inertia: float
    impeller_inertia: float
    output_inertia: float

    def __post_init__(self) -> None:
        for name in ("engine_inertia", "impeller_inertia", "output_inertia"):
            require_positive(getattr(self, name), name, "an inertia above zero, kg.m^2")


@dataclass(frozen=True, eq=False)
class Commands:
    """What is asked of the drive train over time.

    Parameters
    ----------
    load : Schedule
        Torque that resists at the turbine shaft [N.m].
    load_per_speed, load_per_speed_squared : float
        Parts of the load that grow with turbine speed [N.m.s], [N.m.s^2].
    load_table : Curve, optional
        A further part, tabulated [N.m] over turbine speed from 0 on [rad/s]; held past its end, for
        trial steps of the integrator.
    breakaway : float
        Torque above which a turbine at rest starts [N.m], where that is more than the load there.
    impeller_clutch : Schedule, optional
        Torque capacity of the impeller clutch [N.m]; without, engine and impeller are one.
    lock_up : Schedule, optional
        Torque capacity of the lock-up clutch [N.m]; without, it is open.
    turbine_held : bool
        Whether brakes hold the turbine at rest, whatever its torque.
    response : EngineResponse, optional
        How fast the engine's torque is there, full throttle being asked for at time zero; at once
        without.

    Raises
    ------
    InputError
        If a part of the load is below zero.
    """

    load: Schedule = field(default_factory=lambda: Schedule.constant(0.0))
    load_per_speed: float = 0.0
    load_per_speed_squared: float = 0.0
    load_table: Curve | None = None
    breakaway: float = 0.0
    impeller_clutch: Schedule | None = None
    lock_up: Schedule | None = None
    turbine_held: bool = False
    response: EngineResponse | None = None

    def __post_init__(self) -> None:
        for name in ("load_per_speed", "load_per_speed_squared", "breakaway"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0):
                raise InputError(
                    "out of range", field=name, found=value, expected="a number of zero or more"
                )

    def load_torque(self, time: ArrayLike, turbine_speed: ArrayLike) -> FloatArray:
        """Return the torque that resists [N.m]."""
        w = np.asarray(turbine_speed, dtype=np.float64)
        torque = self.load(time) + (self.load_per_speed + self.load_per_speed_squared * w) * w
        if self.load_table is not None:
            torque = torque + self.load_table(np.clip(w, *self.load_table.domain))
        return np.asarray(torque)

    def corners(self) -> FloatArray:
        """Return the times at which a schedule changes its slope [s]."""
        given = (self.load, self.impeller_clutch, self.lock_up)
        return np.unique(np.concatenate([s.time for s in given if s is not None]))


STUCK, OPEN = "stuck", "open"


@dataclass(frozen=True)
class Mode:
    """How the parts hang together between two events.

    Parameters
    ----------
    impeller_clutch, lock_up : "stuck", "open", +1 or -1
        +1 slips with its engine side faster, -1 with its engine side slower.
    at_rest : bool
        Whether the turbine stands.
    """

    impeller_clutch: str | int
    lock_up: str | int
    at_rest: bool


@dataclass(frozen=True)
class Torques:
    """Torques at one instant [N.m] and the accelerations they cause [rad/s^2].

    Parameters
    ----------
    engine, impeller, turbine, load : float
        Net engine torque; hydraulic torque taken by the impeller and given to the turbine; load.
    impeller_clutch, lock_up : float
        Carried by the clutches.
    acceleration : tuple of float
        Of engine, impeller, turbine.
    """

    engine: float
    impeller: float
    turbine: float
    load: float
    impeller_clutch: float
    lock_up: float
    acceleration: tuple[float, float, float]


def torques(
    train: DriveTrain, commands: Commands, mode: Mode, time: float, speeds: FloatArray
) -> Torques:
    """Return torques and accelerations at one instant.

    Parameters
    ----------
    train : DriveTrain
    commands : Commands
    mode : Mode
    time : float
        [s].
    speeds : ndarray, shape (3,)
        Engine, impeller, turbine [rad/s].

    Notes
    -----
    Speeds a rounding error, or a trial step of the integrator, outside the data are held at its
    edge here; whoever integrates stops where the data end.
    """
    w_e, w_p, w_t = (float(w) for w in speeds)
    low, high = train.supply.domain
    there = 1.0 if commands.response is None else commands.response.torque_factor(time)
    engine = float(train.supply.net_torque(np.asarray(min(max(w_e, low), high)), there))
    nu_low, nu_high = train.converter.domain
    nu = min(max(w_t / w_p, nu_low), nu_high) if w_p > 0 else min(max(0.0, nu_low), nu_high)
    impeller = float(train.converter.capacity_at(nu)) * w_p * abs(w_p)
    turbine = float(train.converter.torque_ratio_at(nu)) * impeller
    load = float(commands.load_torque(time, max(w_t, 0.0)))
    load = max(load, commands.breakaway) if mode.at_rest else load
    # A part at rest, held by brake or load, is one of unlimited inertia without torque on it.
    i_e, i_p = 1.0 / train.engine_inertia, 1.0 / train.impeller_inertia
    i_t = 0.0 if mode.at_rest else 1.0 / train.output_inertia
    push = turbine - load
    clutch = _capacity(commands.impeller_clutch, mode.impeller_clutch, time)
    lock = _capacity(commands.lock_up, mode.lock_up, time)
    # Sticking: omega_e' = omega_p', and omega_p' = omega_t', with the torques above put in.
    first = engine * i_e + impeller * i_p
    second = -impeller * i_p - push * i_t
    if clutch is None and lock is None:
        a, b, d = i_e + i_p, -i_p, i_p + i_t
        clutch = (first * d - second * b) / (a * d - b * b)
        lock = (second * a - first * b) / (a * d - b * b)
    elif clutch is None and lock is not None:
        clutch = (first + lock * i_p) / (i_e + i_p)
    elif lock is None and clutch is not None:
        lock = (second + clutch * i_p) / (i_p + i_t)
    assert clutch is not None  # every branch above has found both
    assert lock is not None
    return Torques(
        engine,
        impeller,
        turbine,
        load,
        clutch,
        lock,
        (
            (engine - clutch) * i_e,
            (clutch - impeller - lock) * i_p,
            (push + lock) * i_t,
        ),
    )


def _capacity(schedule: Schedule | None, state: str | int, time: float) -> float | None:
    """Torque of a clutch that slips or is open; None where it follows from sticking."""
    if state == STUCK:
        return None
    if state == OPEN or schedule is None:
        return 0.0
    return float(int(state) * schedule(time))


_LEAST_TO_DRAW = 0.9  # data that end below this speed ratio say too little of what follows


def reaches_unity(converter: Converter) -> bool:
    """Return whether `drawn_to_unity` can give a converter up to speed ratio 1."""
    last = converter.domain[1]
    return last >= 1.0 or (converter.stator != "fixed" and last >= _LEAST_TO_DRAW)


def drawn_to_unity(converter: Converter) -> Converter:
    """Return a converter whose data reach speed ratio 1, where it takes no torque: an assumption.

    Many sheets end at a speed ratio of 0.95 to 0.99. A lock-up clutch passes through the rest. With
    a one-way stator or none the capacity goes to zero at 1; here in a straight line from the last
    row, with the torque ratio kept.

    Raises
    ------
    InputError
        If the stator is fixed (its capacity does not vanish at 1), or the last row lies below 0.9.
    """
    last = converter.domain[1]
    if last >= 1.0:
        return converter
    if converter.stator == "fixed":
        raise InputError(
            "with a fixed stator the capacity at speed ratio 1 is not zero and is not known",
            source=converter.id,
            field="speed_ratio",
            found=last,
            expected="data up to 1",
        )
    if last < _LEAST_TO_DRAW:
        raise InputError(
            "the data end too far below speed ratio 1 to extrapolate them to it",
            source=converter.id,
            field="speed_ratio",
            found=last,
            expected="0.9 or more",
        )
    note = assumption(
        "capacity-drawn-to-zero",
        f"The data end at speed ratio {last:.4g}; from there to 1 the capacity is extrapolated "
        f"to zero in "
        "a straight line.",
    )
    return converter.replace(
        speed_ratio=np.append(converter.speed_ratio, 1.0),
        torque_ratio=np.append(converter.torque_ratio, converter.torque_ratio[-1]),
        capacity=np.append(converter.capacity, 0.0),
        kinks=(*converter.kinks, last),
        given_notes=(*converter.given_notes, note),
    )
