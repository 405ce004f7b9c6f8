"""Impeller clutch: a modulated clutch between engine and impeller.

The clutch carries at most ``L = setting * capacity``. While it slips, the impeller turns at the
speed at which the converter absorbs just that, ``C(omega_t / omega_p) omega_p^2 = L``. It stops
slipping where the converter would not absorb L even at engine speed. So of an engine at omega_e is
taken

    D(omega_e) = min(L, C(omega_t / omega_e) omega_e^2),

and it is in balance where its net torque is D, or, held at a speed by operator or governor, at that
speed wherever it has the torque for D there.

    clutch heat = T (omega_e - omega_p)        converter heat = T omega_p (1 - nu mu)

Where there are several balances, history decides. As D only grows with the setting, a clutch that
closes on an engine at its speed leaves it at the highest balance; one that is opened on an engine
that came up from idle, or was stalled, with it closed leaves it at the lowest one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.arrangement import ImpellerClutch
from converter_match.components.base import in_rpm, require_positive
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.balances import balances
from converter_match.physics.match.solver import engine_speeds
from converter_match.physics.match.turbine_speed import speed_ratio_at, speeds_to_look_at

Moving = Literal["closing", "opening"]
# Of the engine's torque: as much as a balance may miss by rounding.
_ROUNDING = 1e-12


@dataclass(frozen=True)
class ClutchedPoints:
    """Operation through the impeller clutch; arrays of one shape, NaN where there is none.

    Parameters
    ----------
    setting : ndarray
        Share of the clutch's capacity, 0 .. 1.
    speed_ratio, torque_ratio : ndarray
        Of the converter.
    engine_speed, impeller_speed : ndarray
        [rad/s].
    torque : ndarray
        Through clutch and impeller [N.m].
    spare_torque : ndarray
        Net torque that the engine has left at its speed [N.m].
    slipping : ndarray of bool
        Whether the clutch slips.
    held : ndarray of bool
        Whether the engine keeps the speed asked for (never at full throttle).
    """

    setting: FloatArray
    speed_ratio: FloatArray
    torque_ratio: FloatArray
    engine_speed: FloatArray
    impeller_speed: FloatArray
    torque: FloatArray
    spare_torque: FloatArray
    slipping: NDArray[np.bool_]
    held: NDArray[np.bool_]

    @property
    def turbine_speed(self) -> FloatArray:
        """[rad/s]."""
        return np.asarray(self.speed_ratio * self.impeller_speed)

    @property
    def turbine_torque(self) -> FloatArray:
        """[N.m]."""
        return np.asarray(self.torque_ratio * self.torque)

    @property
    def engine_power(self) -> FloatArray:
        """Power that the engine gives to the clutch [W]."""
        return np.asarray(self.torque * self.engine_speed)

    @property
    def output_power(self) -> FloatArray:
        """Power at the turbine shaft [W]."""
        return np.asarray(self.turbine_torque * self.turbine_speed)

    @property
    def clutch_heat(self) -> FloatArray:
        """[W]."""
        return np.asarray(self.torque * (self.engine_speed - self.impeller_speed))

    @property
    def converter_heat(self) -> FloatArray:
        """[W]."""
        eta = self.speed_ratio * self.torque_ratio
        return np.asarray(self.torque * self.impeller_speed * (1.0 - eta))

    @property
    def power_left(self) -> FloatArray:
        """Power that the engine has left for the hydraulics at its speed [W]."""
        return np.asarray(self.spare_torque * self.engine_speed)


def through_clutch(
    supply: TorqueSupply,
    converter: Converter,
    clutch: ImpellerClutch,
    setting: ArrayLike,
    turbine_speed: ArrayLike,
    moving: Moving = "closing",
) -> ClutchedPoints:
    """Return operation at clutch settings and turbine speeds.

    Parameters
    ----------
    supply : TorqueSupply
        Net torque of the engine at full load.
    converter : Converter
    clutch : ImpellerClutch
        Its `engine_speed` is held; None is full throttle.
    setting : array_like, shape (m,) or scalar
        0 .. 1.
    turbine_speed : array_like, shape (n,) or scalar
        [rad/s], zero or more.
    moving : {"closing", "opening"}
        Closing on an engine that runs at its speed (at high idle, at full throttle), or opening on
        one that came up from idle with the clutch closed, or was stalled.

    Returns
    -------
    ClutchedPoints
        Shape (m, n), without the axes of scalars.

    Raises
    ------
    InputError
        If a setting is outside 0 .. 1 or the held speed outside the engine's speeds.
    """
    settings, speeds = np.asarray(setting, float), np.asarray(turbine_speed, float)
    if settings.size and not (settings.min() >= 0.0 and settings.max() <= 1.0):
        raise InputError(
            "out of range",
            field="setting",
            found=float(settings[~((settings >= 0) & (settings <= 1))].flat[0]),
            expected="0 (open) to 1 (full capacity)",
        )
    _check_held(supply, clutch)
    rows = [
        _at_setting(supply, converter, clutch, float(value), np.atleast_1d(speeds), moving)
        for value in settings.ravel()
    ]
    shape = (*settings.shape, *speeds.shape)
    return ClutchedPoints(
        **{
            name: np.stack([getattr(row, name) for row in rows]).reshape(shape)
            for name in ClutchedPoints.__dataclass_fields__
        }
    )


def setting_for_torque(
    supply: TorqueSupply,
    converter: Converter,
    clutch: ImpellerClutch,
    turbine_torque: float,
    turbine_speed: ArrayLike,
) -> ClutchedPoints:
    """Return the clutch setting that keeps the turbine torque at a limit, and how it then runs.

    The inverse question: the wheels spin above a tractive effort, the engine is to keep its speed;
    how far must the clutch be let out?

    Parameters
    ----------
    supply, converter, clutch
        As in `through_clutch`.
    turbine_torque : float
        The limit [N.m].
    turbine_speed : array_like
        [rad/s].

    Returns
    -------
    ClutchedPoints
        Same shape as `turbine_speed`; setting 1 where full capacity stays below the limit, and
        where there is no operation at any setting that would keep it.

    Raises
    ------
    InputError
        If the limit is not above zero, or as `through_clutch`.

    Notes
    -----
    With ``mu C omega_p^2 = T_limit`` and ``nu omega_p = omega_t``, the speed ratio is where
    ``nu sqrt(T_limit / (mu C)) = omega_t``; the setting is ``C omega_p^2 / capacity``.
    """
    require_positive(turbine_torque, "turbine_torque")
    _check_held(supply, clutch)
    omega_t = np.atleast_1d(np.asarray(turbine_speed, dtype=np.float64))
    full = through_clutch(supply, converter, clutch, 1.0, omega_t)

    def impeller_speed(nu: FloatArray) -> FloatArray:
        absorbed = converter.torque_ratio_at(nu) * converter.capacity_at(nu)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(absorbed > 0, np.sqrt(turbine_torque / absorbed), np.nan))

    nu = speed_ratio_at(
        lambda ratio: ratio * impeller_speed(ratio),
        _forward(converter),
        omega_t,
        corners=converter.characteristic.speed_ratio,
    )
    known = np.where(np.isfinite(nu), nu, 0.0)
    torque = converter.capacity_at(known) * impeller_speed(known) ** 2
    setting = np.clip(torque / clutch.torque_capacity, 0.0, 1.0)
    # Where the closed clutch would hold the engine down, one that slips may let it live.
    reached = ~(full.turbine_torque <= turbine_torque)
    setting = np.where(reached & np.isfinite(nu), setting, 1.0)
    rows = [
        through_clutch(supply, converter, clutch, float(s), float(w))
        for s, w in zip(setting, omega_t, strict=True)
    ]
    rows = [
        row if np.isfinite(row.engine_speed) else through_clutch(supply, converter, clutch, 1.0, w)
        for row, w in zip(rows, omega_t, strict=True)
    ]
    shape = np.shape(turbine_speed)
    return ClutchedPoints(
        **{
            name: np.stack([getattr(row, name) for row in rows]).reshape(shape)
            for name in ClutchedPoints.__dataclass_fields__
        }
    )


def _at_setting(
    supply: TorqueSupply,
    converter: Converter,
    clutch: ImpellerClutch,
    setting: float,
    turbine_speed: FloatArray,
    moving: Moving,
) -> ClutchedPoints:
    limit = setting * clutch.torque_capacity
    asked = clutch.engine_speed
    if limit == 0.0:
        return _open(supply, asked, turbine_speed)
    low, high = _forward(converter)

    def absorbed(omega: FloatArray, row: NDArray[np.intp]) -> FloatArray:
        nu = np.clip(turbine_speed[row] / omega, low, high)
        return np.asarray(converter.capacity_at(nu) * omega**2)

    def slipping_speed(nu: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.sqrt(limit / converter.capacity_at(nu)))

    slip_ratio = speed_ratio_at(
        lambda nu: np.where(np.isfinite(slipping_speed(nu)), nu * slipping_speed(nu), np.nan),
        (low, high),
        turbine_speed,
        corners=converter.characteristic.speed_ratio,
    )
    impeller = slipping_speed(np.where(np.isfinite(slip_ratio), slip_ratio, low))
    impeller = np.where(np.isfinite(slip_ratio), impeller, np.nan)
    top = supply.domain[1] if asked is None else asked
    engine, held = _engine_behind(
        supply, converter, absorbed, limit, impeller, turbine_speed, top, asked is not None, moving
    )
    exists = np.isfinite(engine)
    safe = np.where(exists, engine, top)
    taken = absorbed(safe, np.arange(safe.size))
    slips = exists & (taken > limit) & (impeller <= safe * (1.0 + _ROUNDING))
    # One that should slip, at a speed ratio that the data do not hold, is not known.
    exists &= slips | (taken <= limit * (1.0 + _ROUNDING))
    impeller = np.where(slips, np.minimum(impeller, safe), safe)
    torque = np.where(slips, limit, taken)
    nu = np.where(slips, slip_ratio, np.clip(turbine_speed / safe, low, high))
    known = np.where(exists, nu, low)
    points = ClutchedPoints(
        setting=np.full(nu.shape, setting),
        speed_ratio=known,
        torque_ratio=converter.torque_ratio_at(known),
        engine_speed=engine,
        impeller_speed=impeller,
        torque=torque,
        # At full throttle engine and load are in balance: what is left is rounding.
        spare_torque=np.maximum(supply.net_torque(safe) - torque, 0.0),
        slipping=slips,
        held=held & exists,
    )
    held_back = {
        name: np.where(exists, getattr(points, name), np.nan)
        for name in (
            "speed_ratio",
            "torque_ratio",
            "engine_speed",
            "impeller_speed",
            "torque",
            "spare_torque",
        )
    }
    return replace(points, **held_back)


def _engine_behind(
    supply: TorqueSupply,
    converter: Converter,
    absorbed: Callable[[FloatArray, NDArray[np.intp]], FloatArray],
    limit: float,
    impeller: FloatArray,
    turbine_speed: FloatArray,
    top: float,
    governed: bool,
    moving: Moving,
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return the engine's speed, NaN where it does not run, and whether it is the one held."""
    scale = float(np.max(np.abs(supply.source(supply.knots)))) * supply.factor

    def excess(omega: FloatArray, row: NDArray[np.intp]) -> FloatArray:
        taken = np.minimum(limit, absorbed(omega, row))
        return np.asarray((supply.net_torque(omega) - taken) / scale)

    grid = speeds_to_look_at(supply, converter, turbine_speed)
    # Where the clutch begins to slip is a kink of what it takes.
    grid = np.sort(np.column_stack([grid, np.where(np.isfinite(impeller), impeller, top)]), axis=1)
    grid = np.clip(grid, np.maximum(grid[:, :1], supply.domain[0]), top)
    least = turbine_speed / _forward(converter)[1]
    grid = np.maximum(grid, least[:, np.newaxis])
    grid[least > top] = np.nan
    found = balances(excess, grid)
    rows = np.arange(turbine_speed.size)
    inside = np.isfinite(grid).all(axis=1)
    at_top = excess(np.full(turbine_speed.shape, top), rows)
    held = inside & (at_top >= -_ROUNDING) & governed
    first, count = found.speed[0], np.isfinite(found.speed).sum(axis=0)
    last = found.speed[np.maximum(count - 1, 0), rows]
    falls = found.stable[np.maximum(count - 1, 0), rows]
    if moving == "closing":
        return np.where(held, top, np.where((count > 0) & falls, last, np.nan)), held
    up = found.spare_below
    held &= up & (count == 0)
    return np.where(held, top, np.where(up & (count > 0), first, np.nan)), held


def _open(supply: TorqueSupply, asked: float | None, turbine_speed: FloatArray) -> ClutchedPoints:
    """Return the clutch fully open: no torque, the impeller turns with the turbine.

    Drag is neglected. A turbine faster than the engine is overrun, which is another question.
    """
    engine_speed, held = _unloaded(supply, asked)
    drives = turbine_speed <= engine_speed
    blank = np.where(drives, 0.0, np.nan)
    spare = max(float(supply.torque(engine_speed)), 0.0)
    return ClutchedPoints(
        setting=np.zeros(turbine_speed.shape),
        speed_ratio=1.0 + blank,
        torque_ratio=1.0 + blank,
        engine_speed=engine_speed + blank,
        impeller_speed=turbine_speed + blank,
        torque=blank,
        spare_torque=spare + blank,
        slipping=drives,
        held=drives & held,
    )


def _unloaded(supply: TorqueSupply, asked: float | None) -> tuple[float, bool]:
    """Engine speed with nothing on the clutch, and whether that is the one asked for.

    ``T_net(omega) = 0 omega^2`` is the matching equation with a capacity of zero.
    """
    if asked is not None and float(supply.torque(asked)) >= 0.0:
        return asked, True
    speeds, stable = engine_speeds(supply, 0.0)
    settled = speeds[stable & np.isfinite(speeds)]
    if asked is not None:
        settled = settled[settled <= asked]
    return (float(settled.max()), False) if settled.size else (float("nan"), False)


def _forward(converter: Converter) -> tuple[float, float]:
    converter.require_stall()
    return 0.0, min(converter.domain[1], 1.0)


def _check_held(supply: TorqueSupply, clutch: ImpellerClutch) -> None:
    low, high = supply.domain
    asked = clutch.engine_speed
    if asked is not None and not low <= asked <= high:
        raise InputError(
            "the engine cannot be held at that speed",
            field="impeller_clutch.engine_speed",
            found=in_rpm(asked),
            expected=in_rpm(low, high),
        )
