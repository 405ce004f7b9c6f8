"""Overrun: the machine drives the turbine, the converter drives the engine, the engine brakes.

With nu above 1 the capacity is below zero and the engine's net torque is what it drags,

    T_net(omega) = -(T_motoring(omega) + accessories + pumps),     T_net(omega) = C(nu) omega^2,

the same equation as ever. At a given nu its solution is the speed at which the engine would have
to turn; what a hill imposes is the turbine speed nu omega. With the turbine speed held, a faster
engine means a smaller nu and less drive, so the point is stable where

    d/d omega [T_net - C(omega_t / omega) omega^2] = T_net' - 2 C omega + C' nu omega < 0.

The exhaust brake's table is the total with the brake on, motoring included.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.base import in_rpm
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.curves import Curve, FloatArray
from converter_match.errors import InputError
from converter_match.notes import assumption
from converter_match.physics.arrangement.overrun_shapes import MIDDLE, PUBLISHED, overrun_shape
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine_speed import speed_ratio_at


@dataclass(frozen=True)
class Braking:
    """Engine braking at turbine speeds; arrays of one shape, NaN where there is no equilibrium.

    Parameters
    ----------
    turbine_speed : ndarray
        [rad/s].
    speed_ratio, engine_speed : ndarray
        1 and turbine speed where locked up.
    impeller_torque, turbine_torque : ndarray
        [N.m], below zero: they retard.
    stable : ndarray of bool
        At that turbine speed.
    """

    turbine_speed: FloatArray
    speed_ratio: FloatArray
    engine_speed: FloatArray
    impeller_torque: FloatArray
    turbine_torque: FloatArray
    stable: NDArray[np.bool_]

    @property
    def retarding_power(self) -> FloatArray:
        """Power taken from the driveline [W], above zero."""
        return np.asarray(-self.turbine_torque * self.turbine_speed)

    @property
    def engine_power(self) -> FloatArray:
        """Power that the engine and what it drives swallow [W], above zero."""
        return np.asarray(-self.impeller_torque * self.engine_speed)

    @property
    def heat(self) -> FloatArray:
        """Power turned into heat in the converter's oil [W]."""
        return np.asarray(self.retarding_power - self.engine_power)


def motoring_supply(
    engine: Engine,
    *,
    exhaust_brake: bool = False,
    hydraulic_torque: float = 0.0,
    overspeed_limit: float | None = None,
) -> TorqueSupply:
    """Return the (negative) net torque of an engine that is driven, without fuel.

    Parameters
    ----------
    engine : Engine
        With a motoring table; its accessories drag as well.
    exhaust_brake : bool
    hydraulic_torque : float
        Taken at the flywheel by pumps [N.m].
    overspeed_limit : float, optional
        Highest engine speed to look at [rad/s]; the last row of the table if not given.

    Raises
    ------
    InputError
        If the table is missing or ends below the overspeed limit.
    """
    table = engine.exhaust_brake if exhaust_brake else engine.motoring
    name = "motoring.exhaust_brake" if exhaust_brake else "motoring"
    if table is None:
        raise InputError(
            "engine braking needs the torque at which the engine drags",
            source=engine.id,
            field=name,
            expected=f"a [{name}] table of speed and torque",
        )
    if not (np.isfinite(hydraulic_torque) and hydraulic_torque >= 0):
        raise InputError(
            "out of range",
            field="hydraulic_torque",
            found=float(hydraulic_torque),
            expected="a torque of zero or more",
        )
    end = float(table.speed[-1])
    high = end if overspeed_limit is None else float(overspeed_limit)
    if high > end * (1 + 1e-9):
        raise InputError(
            "the overspeed limit lies above the motoring table, and nothing is extrapolated",
            source=engine.id,
            field="overspeed_limit",
            found=in_rpm(high),
            expected=f"at most {in_rpm(end)}",
        )
    speed = np.append(table.speed[table.speed < high * (1 - 1e-9)], high)
    if speed.size < 2:
        raise InputError(
            "the overspeed limit lies below the motoring table",
            source=engine.id,
            field="overspeed_limit",
            found=in_rpm(high),
            expected=f"above {in_rpm(float(table.speed[0]))}",
        )
    drag = table.curve(np.minimum(speed, end))
    return TorqueSupply(
        source=Curve(speed, -drag, name="motoring torque", x_name="speed"),
        constant=float(hydraulic_torque),
        laws=tuple(PowerLaw.of(item) for item in engine.accessories if item.power > 0),
        low=engine.low_idle,
    )


def with_overrun(converter: Converter, *, assume: bool = False, shape: str = MIDDLE) -> Converter:
    """Return the converter with data beyond speed ratio 1, assumed if that is allowed.

    Parameters
    ----------
    converter : Converter
    assume : bool
        Whether missing data may be taken from published tables of other converters.
    shape : str
        Which of them: `MIDDLE`, or a key of `overrun_shapes.PUBLISHED`.

    Raises
    ------
    InputError
        If there are no data and nothing may be assumed, or the stator is fixed: its torque ratio
        in overrun follows from nothing below speed ratio 1.

    Notes
    -----
    A freewheeling converter: ``C(nu) = C(0) * shape(nu)``, ``mu = 1``. A weaker shape turns the
    engine slower at the same turbine speed: less retarding, and more heat for it. A fluid coupling
    with impeller and turbine alike does not know which of the two drives, so that one is mirrored:
    ``C(nu) = -C(1/nu) nu^2``, from 1 to twice the speed at most.
    """
    if converter.domain[1] > 1.0:
        return converter
    coupling, rows = converter.stator == "none", converter.characteristic
    if (
        not assume
        or converter.stator == "fixed"
        or (not coupling and (converter.coupling is None or rows.speed_ratio[0] > 0.0))
    ):
        fixed = converter.stator == "fixed"
        raise InputError(
            "there are no data beyond speed ratio 1 (overrun), and "
            + (
                "with a fixed stator they cannot be derived from those below it"
                if fixed
                else "nothing is extrapolated"
            ),
            source=converter.id,
            field="speed_ratio",
            found=f"data up to {converter.domain[1]:.4g}",
            expected="rows above 1" + ("" if fixed else ", or the permission overrun"),
        )
    beyond, capacity = _mirrored(converter) if coupling else _by_shape(converter, shape)
    below = rows.speed_ratio < 1.0
    return converter.replace(
        speed_ratio=np.concatenate([rows.speed_ratio[below], beyond]),
        torque_ratio=np.concatenate([rows.torque_ratio[below], np.ones(beyond.size)]),
        capacity=np.concatenate([rows.capacity[below], capacity]),
        coupling_speed_ratio=converter.coupling,
        given_notes=(*converter.notes, _MIRRORED if coupling else _FROM_TABLES),
    )


def overrun_spread(converter: Converter) -> tuple[Converter, ...]:
    """Return the converter with each published overrun table in turn.

    Parameters
    ----------
    converter : Converter
        For which `with_overrun` may assume; a sheet that goes beyond speed ratio 1, and a coupling
        that is mirrored, have no spread.

    Returns
    -------
    tuple of Converter
        Empty where there is no spread.
    """
    if converter.domain[1] > 1.0 or converter.stator == "none":
        return ()
    return tuple(with_overrun(converter, assume=True, shape=name) for name in PUBLISHED)


def _by_shape(converter: Converter, shape: str) -> tuple[FloatArray, FloatArray]:
    nu, share = overrun_shape(shape)
    return nu, np.asarray(float(converter.capacity_at(0.0)) * share)


def _mirrored(converter: Converter) -> tuple[FloatArray, FloatArray]:
    rows = converter.characteristic
    given = (rows.speed_ratio >= 0.5) & (rows.speed_ratio < 1.0)
    beyond = 1.0 / rows.speed_ratio[given][::-1]
    mirrored = -rows.capacity[given][::-1] * beyond**2
    return np.append(1.0, beyond), np.append(0.0, mirrored)


_FROM_TABLES = assumption(
    "overrun-assumed",
    "There are no data beyond speed ratio 1. Torque ratio 1 and the capacity of published tables "
    "of other converters are taken, in proportion to the capacity at stall. The tables lie apart "
    "by a factor of up to three: the values shown are those of their middle. Do not rely on it to "
    "hold a machine on a grade.",
)
_MIRRORED = assumption(
    "overrun-assumed",
    "There are no data beyond speed ratio 1. The fluid coupling is taken to work the same way with "
    "turbine and impeller changing places, and to absorb nothing at speed ratio 1. Do not rely on "
    "it to hold a machine on a grade.",
)


def braking(supply: TorqueSupply, converter: Converter, turbine_speed: ArrayLike) -> Braking:
    """Return the equilibrium of engine drag and converter at turbine speeds.

    Parameters
    ----------
    supply : TorqueSupply
        From `motoring_supply`.
    converter : Converter
        With data beyond speed ratio 1.
    turbine_speed : array_like
        [rad/s], any shape.

    Raises
    ------
    InputError
        If the converter has no data beyond speed ratio 1.

    Notes
    -----
    NaN where the equilibrium lies outside the data: below, the engine would be driven under low
    idle, where its governor feeds it and it no longer brakes; above, it would turn faster than the
    supply's highest speed.
    """
    with_overrun(converter)  # raises where there are no data, and says why

    target = np.asarray(turbine_speed, dtype=np.float64)
    low, high = _speed_ratios(supply, converter)
    rows = converter.speed_ratio

    def engine_speed(nu: FloatArray) -> FloatArray:
        return _first(match(supply, converter, nu).points.engine_speed)

    nu = speed_ratio_at(
        lambda ratio: ratio * engine_speed(ratio),
        (low, high),
        target,
        corners=rows[(rows > low) & (rows < high)],
    )
    known = np.where(np.isfinite(nu), nu, high)
    omega = np.where(np.isfinite(nu), engine_speed(known), np.nan)
    capacity, slope = converter.capacity_curve.with_slope(known)
    torque = capacity * omega**2
    safe = np.where(np.isfinite(omega), omega, supply.domain[0])
    _, supply_slope = supply.with_slope(np.clip(safe, *supply.domain))
    stable = np.isfinite(omega) & (
        supply_slope - 2.0 * capacity * safe + slope * known * safe < 0.0
    )
    return Braking(
        turbine_speed=np.where(np.isfinite(omega), target, np.nan),
        speed_ratio=nu,
        engine_speed=omega,
        impeller_torque=torque,
        turbine_torque=np.asarray(converter.torque_ratio_at(known) * torque),
        stable=stable,
    )


def braking_range(supply: TorqueSupply, converter: Converter) -> tuple[float, float]:
    """Return the turbine speeds between which the open converter brakes [rad/s].

    From where the engine is driven at its lowest speed to where it reaches its highest.

    Parameters
    ----------
    supply : TorqueSupply
        From `motoring_supply`: torque below zero.
    converter : Converter

    Raises
    ------
    InputError
        If the converter's data do not reach the drag of the engine at any speed.
    """
    with_overrun(converter)  # raises where there are no data, and says why
    ends = np.array(_speed_ratios(supply, converter))
    speeds = ends * _first(match(supply, converter, ends).points.engine_speed)
    return float(speeds.min()), float(speeds.max())


def locked_braking(supply: TorqueSupply, turbine_speed: ArrayLike) -> Braking:
    """Return the braking with turbine and impeller tied together: the engine's drag as it is.

    Parameters
    ----------
    supply : TorqueSupply
        From `motoring_supply`.
    turbine_speed : array_like
        [rad/s]; NaN in the result outside the supply's speeds.
    """
    target = np.asarray(turbine_speed, dtype=np.float64)
    low, high = supply.domain
    inside = (target >= low) & (target <= high)
    omega = np.where(inside, target, np.nan)
    torque = np.where(inside, supply.torque(np.clip(target, low, high)), np.nan)
    return Braking(
        turbine_speed=omega,
        speed_ratio=np.where(inside, 1.0, np.nan),
        engine_speed=omega,
        impeller_torque=torque,
        turbine_torque=torque,
        stable=inside,
    )


def _speed_ratios(supply: TorqueSupply, converter: Converter) -> tuple[float, float]:
    """Return the speed ratios at the supply's highest and lowest engine speed.

    Lowest, or as far as the converter's data go.
    """
    slowest, fastest = supply.domain
    at_fastest, at_slowest = (
        converter.capacity_curve.crossings(float(supply.torque(omega)) / omega**2)
        for omega in (fastest, slowest)
    )
    start = at_fastest[at_fastest > 1.0]
    if not start.size:
        raise InputError(
            "nowhere in the data does the converter turn the engine against its drag",
            source=converter.id,
            field="speed_ratio",
            found=f"data up to speed ratio {converter.domain[1]:.4g}",
            expected="data further into overrun",
        )
    end = at_slowest[at_slowest > start[0]]
    # A rounding error inside, so that the ends are matches and not nearly so.
    low = float(start[0]) * (1.0 + 1e-12)
    high = float(end[0]) * (1.0 - 1e-12) if end.size else converter.domain[1]
    return low, high


def _first(speeds: FloatArray) -> FloatArray:
    """Return the lowest intersection along axis 0, NaN where there is none."""
    row = np.argmax(np.isfinite(speeds), axis=0)
    return np.asarray(np.take_along_axis(speeds, row[np.newaxis], axis=0)[0])
