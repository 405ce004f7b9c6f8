"""Lock-up: turbine tied to impeller, ``T_out = T_net(omega)``, ``omega_out = omega``, no heat.

Engagement closes a speed step s_0 between engine and turbine. The machine is heavy and keeps its
speed meanwhile. While the clutch slips, the converter carries on beside it, less and less as its
speed ratio rises to 1:

    J omega' = T_net(omega) - C(omega_t / omega) omega^2 - T_c,      J of engine and impeller,

so that of the slip s = omega - omega_t

    heat = int T_c s dt = 1/2 J s_0^2 + int (T_net - C omega^2) s dt.

The first term is an ideal engagement, at once: the least there can be (two discs brought to one
speed, any dynamics textbook; with an inertia J_2 behind the turbine, J J_2 / (J + J_2) stands for
J). The second is what the engine has beyond what the converter takes: nothing at first, since the
two are in balance, and all of the engine's torque at the end. Where the slip falls in a straight
line over a time t (textbook of clutches), both are integrals over the slip alone:

    T_c = T_net - C omega^2 + J s_0 / t
    heat = 1/2 J s_0^2 + (t / s_0) int_0^s_0 (T_net - C omega^2) s ds

With the clutch's capacity built up over its time instead, the same equation is followed in time:
`physics.dynamics`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.arrangement import LockUpClutch
from converter_match.components.base import require_positive
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.dynamics.drive_train import (
    DriveTrain,
    drawn_to_unity,
    reaches_unity,
)
from converter_match.physics.dynamics.dynamics import LockUpEngagement, lock_up_engagement
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import OperatingPoints, match
from converter_match.physics.match.turbine_speed import (
    match_at_turbine_speed,
    matches_at_turbine_speed,
)

# Places along the slip at which it is integrated.
_PLACES = 801
# Without a driven inertia the machine keeps its speed: so many times that of the engine.
_HEAVY = 1e6
# Engine and impeller turn as one; the equations of motion ask for a share of each.
_SHARE_OF_IMPELLER = 0.1
# A clutch that still slips after so many times its time does not stick.
_LOOKED_AT = 3.0


@dataclass(frozen=True)
class LockUpRun:
    """Open and locked operation at the same turbine speeds; arrays of one shape.

    Parameters
    ----------
    turbine_speed : ndarray
        [rad/s].
    open, locked : OperatingPoints
        Without and with the clutch; NaN where there is no such operation.
    rising, falling : ndarray of bool
        Whether the clutch holds as the machine speeds up, and as it slows down.
    closes, lets_go : float
        Turbine speed from which it holds as the machine speeds up, and down to which as it slows
        down [rad/s]; NaN where it never does.
    jumps_before : ndarray of bool
        Whether the engine jumps, open, between a turbine speed and the one before it.
    """

    turbine_speed: FloatArray
    open: OperatingPoints
    locked: OperatingPoints
    rising: NDArray[np.bool_]
    falling: NDArray[np.bool_]
    closes: float
    lets_go: float
    jumps_before: NDArray[np.bool_]

    def driven(self, *, falling: bool = False) -> OperatingPoints:
        """Return what the machine gets: locked where the clutch holds, open elsewhere."""
        holds = self.falling if falling else self.rising
        pairs = (
            (getattr(self.locked, name), getattr(self.open, name))
            for name in ("speed_ratio", "torque_ratio", "engine_speed", "input_torque", "stable")
        )
        return OperatingPoints(*(np.where(holds, locked, opened) for locked, opened in pairs))


@dataclass(frozen=True)
class Engagement:
    """What happens when the clutch closes, SI units.

    Parameters
    ----------
    turbine_speed, engine_speed : float
        Before [rad/s].
    speed_step : float
        That the engine has to give up [rad/s].
    torque_before, torque_after : float
        At the turbine shaft, open and locked [N.m].
    energy : float or None
        Heat in the clutch of an ideal engagement [J]; None if the engine's inertia is not known.
    energy_with_torque, clutch_torque : float or None
        With the slip falling in a straight line over the clutch's time, the converter carrying
        beside it and the machine keeping its speed: heat [J], and the most that the clutch
        carries [N.m]; None if the time or the inertia is not known, or the converter's course up
        to speed ratio 1 is not.
    in_time : LockUpEngagement or None
        Followed in time, the clutch's capacity built up over its time; None without a capacity or
        where `energy_with_torque` is None.
    """

    turbine_speed: float
    engine_speed: float
    speed_step: float
    torque_before: float
    torque_after: float
    energy: float | None
    energy_with_torque: float | None
    clutch_torque: float | None
    in_time: LockUpEngagement | None = None


def lock_up(
    supply: TorqueSupply,
    converter: Converter,
    clutch: LockUpClutch,
    turbine_speed: ArrayLike,
    *,
    gear: int | None = None,
) -> LockUpRun:
    """Return operation with and without lock-up over turbine speed.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    clutch : LockUpClutch
    turbine_speed : array_like
        [rad/s], any shape.
    gear : int, optional
        The gear engaged; needed where the clutch goes by gear.

    Raises
    ------
    InputError
        If the clutch goes by gear and no gear is given.
    """
    omega_t = np.asarray(turbine_speed, dtype=np.float64)
    matches = matches_at_turbine_speed(supply, converter, omega_t)
    locked = locked_points(supply, omega_t)
    can = locked.found
    if clutch.engage_by == "gear":
        if gear is None:
            raise InputError(
                "the lock-up clutch goes by gear: the gear is needed",
                field="gear",
                expected="1, 2, 3 ...",
            )
        engage, release = (
            0.0 if gear >= value else math.inf for value in (clutch.engage, clutch.release)
        )
    else:
        engage, release = (
            _threshold(supply, converter, clutch, value)
            for value in (clutch.engage, clutch.release)
        )
    return LockUpRun(
        omega_t,
        matches.reached(),
        locked,
        can & (omega_t >= engage),
        can & (omega_t >= release),
        _holds_from(supply, engage),
        _holds_from(supply, release),
        matches.jumps_before(),
    )


def _holds_from(supply: TorqueSupply, threshold: float) -> float:
    """Turbine speed from which a clutch ordered at `threshold` holds: the engine must run there."""
    low, high = supply.domain
    return max(threshold, low) if threshold <= high else math.nan


def locked_points(supply: TorqueSupply, turbine_speed: ArrayLike) -> OperatingPoints:
    """Return operation with turbine and impeller tied together, NaN outside the supply's speeds.

    Parameters
    ----------
    supply : TorqueSupply
    turbine_speed : array_like
        [rad/s], any shape.
    """
    omega_t = np.asarray(turbine_speed, dtype=np.float64)
    low, high = supply.domain
    inside = (omega_t >= low) & (omega_t <= high)
    torque = np.where(inside, supply.torque(np.clip(omega_t, low, high)), np.nan)
    ones = np.where(inside, 1.0, np.nan)
    return OperatingPoints(ones, ones, np.where(inside, omega_t, np.nan), torque, inside)


def engagement(
    supply: TorqueSupply,
    converter: Converter,
    clutch: LockUpClutch,
    *,
    turbine_speed: float | None = None,
    engine_inertia: float | None = None,
    driven_inertia: float | None = None,
) -> Engagement | None:
    """Return the shock of an engagement out of the open match at full load.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    clutch : LockUpClutch
    turbine_speed : float, optional
        At which the clutch closes [rad/s]; by the clutch's own rule if not given (by gear it is
        needed).
    engine_inertia : float, optional
        Engine, impeller and what turns with them [kg.m^2].
    driven_inertia : float, optional
        Behind the turbine, reduced to its shaft [kg.m^2]; without it the machine keeps its speed.

    Returns
    -------
    Engagement or None
        None where open and locked operation do not both exist at that turbine speed.

    Raises
    ------
    InputError
        If an inertia is not above zero, or the speed of engagement is needed and not given.
    """
    require_positive(engine_inertia, "engine_inertia")
    require_positive(driven_inertia, "driven_inertia")
    if turbine_speed is None:
        if clutch.engage_by == "gear":
            raise InputError(
                "the lock-up clutch goes by gear: the turbine speed of the engagement is needed",
                field="turbine_speed",
            )
        turbine_speed = _threshold(supply, converter, clutch, clutch.engage)
    opened = match_at_turbine_speed(supply, converter, turbine_speed)
    locked = locked_points(supply, turbine_speed)
    if not (bool(opened.found) and bool(locked.found)):
        return None
    step = float(opened.engine_speed) - turbine_speed
    shock = Engagement(
        turbine_speed=float(turbine_speed),
        engine_speed=float(opened.engine_speed),
        speed_step=step,
        torque_before=float(opened.turbine_torque),
        torque_after=float(locked.turbine_torque),
        energy=None,
        energy_with_torque=None,
        clutch_torque=None,
    )
    if engine_inertia is None:
        return shock
    inertia = engine_inertia
    if driven_inertia is not None:
        inertia = engine_inertia * driven_inertia / (engine_inertia + driven_inertia)
    shock = replace(shock, energy=0.5 * inertia * step**2)
    time = clutch.engagement_time
    if time is None or not reaches_unity(converter):
        return shock
    whole = drawn_to_unity(converter)
    heat, torque = _slipping_evenly(supply, whole, shock, engine_inertia, time)
    shock = replace(shock, energy_with_torque=heat, clutch_torque=torque)
    if clutch.torque_capacity is None or step == 0.0:
        return shock
    train = DriveTrain(
        supply,
        whole,
        engine_inertia * (1.0 - _SHARE_OF_IMPELLER),
        engine_inertia * _SHARE_OF_IMPELLER,
        driven_inertia or _HEAVY * engine_inertia,
    )
    in_time = lock_up_engagement(
        train,
        turbine_speed=float(turbine_speed),
        capacity=clutch.torque_capacity,
        closing_time=time,
        begins=0.0,
        duration=_LOOKED_AT * time,
    )
    return replace(shock, in_time=in_time)


def _slipping_evenly(
    supply: TorqueSupply, converter: Converter, shock: Engagement, inertia: float, time: float
) -> tuple[float, float]:
    """Return heat [J] and highest clutch torque [N.m] of a slip that falls in a straight line."""
    share = np.linspace(0.0, 1.0, _PLACES)
    slip = shock.speed_step * share
    omega = np.clip(shock.turbine_speed + slip, *supply.domain)
    nu = np.clip(shock.turbine_speed / omega, converter.domain[0], converter.domain[1])
    spare = supply.torque(omega) - converter.capacity_at(nu) * omega**2
    heat = 0.5 * inertia * shock.speed_step**2 + time * float(np.trapezoid(spare * slip, share))
    carried = spare + inertia * shock.speed_step / time
    return heat, float(np.abs(carried).max())


def _threshold(
    supply: TorqueSupply, converter: Converter, clutch: LockUpClutch, value: float
) -> float:
    """Turbine speed that belongs to a speed ratio or turbine speed of the clutch's rule."""
    if clutch.engage_by == "turbine-speed":
        return value
    if value > converter.domain[1]:
        raise InputError(
            "the lock-up speed ratio lies beyond the converter's data, and nothing is extrapolated",
            source=converter.id,
            field="lock_up.engage",
            found=value,
            expected=f"at most {converter.domain[1]:.4g}",
        )
    speed = float(match(supply, converter, value).from_idle().turbine_speed)
    return math.inf if math.isnan(speed) else speed
