"""An electric motor as a torque supply: peak or continuous, at a voltage, up to its speed limit.

Voltage. Neglecting resistance, the flux that a winding can be given goes with voltage over speed,
and at a given current the torque with the flux: the torque that can be had depends on
``omega / U`` alone. At a voltage U the curve is that of the nominal voltage U_n, stretched along
the speed,

    T(omega, U) = T(omega U_n / U, U_n),

so that the corner moves with the voltage and the power with it, and the torque below does not.
(Textbooks of electric drives; own derivation.)

Speed limit. The controller takes the torque away there; a droop over a ten-thousandth of the speed
stands for it, so that a match at the limit is a point like any other.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.motor import Motor
from converter_match.curves import Curve, FloatArray
from converter_match.errors import InputError
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply

Rating = Literal["peak", "continuous"]
RATINGS: tuple[Rating, ...] = ("peak", "continuous")
# Share of the speed limit over which the controller takes the torque away.
CUT = 1e-4
# Slowest speed at which a match is looked for, as a share of the speed limit: the solver divides by
# the square of speed.
SLOWEST = 0.01


def voltage_ratio(motor: Motor, voltage: float | None) -> float:
    """Return U / U_n; 1 where no voltage is asked for.

    Parameters
    ----------
    motor : Motor
    voltage : float or None
        [V].

    Raises
    ------
    InputError
        If the motor states no voltage, or the one asked for lies outside what it states.
    """
    if voltage is None:
        return 1.0
    if motor.voltage is None:
        raise InputError(
            "the motor states no nominal voltage to compare with",
            source=motor.id,
            field="voltage",
            found=f"{voltage:g} V",
            expected="a table [voltage] in its file",
        )
    given = motor.voltage
    low = given.nominal if given.least is None else given.least
    high = given.nominal if given.most is None else given.most
    if not low <= voltage <= high:
        raise InputError(
            "outside the voltages that the motor states",
            source=motor.id,
            field="voltage",
            found=f"{voltage:g} V",
            expected=f"{low:g} .. {high:g} V",
        )
    return voltage / given.nominal


def torque_curve(motor: Motor, rating: Rating, *, voltage: float | None = None) -> Curve:
    """Return the torque over speed from standstill to the speed limit, with the cut behind it.

    Parameters
    ----------
    motor : Motor
    rating : {"peak", "continuous"}
    voltage : float, optional
        [V]; the nominal one without.

    Returns
    -------
    Curve
        [N.m] over [rad/s]; corner and speed limit are kinks.

    Raises
    ------
    InputError
        If the voltage cannot be taken.
    """
    rows = motor.peak if rating == "peak" else motor.continuous
    return _cut(motor, rows, voltage_ratio(motor, voltage), f"{rating} torque")


def _cut(motor: Motor, rows: FloatArray, stretch: float, name: str) -> Curve:
    corner = motor.corner_of(np.abs(rows))
    bend = (float(motor.speed[corner]),) if 0 < corner < rows.size - 1 else ()
    whole = Curve(motor.speed, rows, kinks=bend, name=name, x_name="speed")
    end = min(motor.speed_limit / stretch, float(motor.speed[-1]))
    kept = motor.speed < end * (1.0 - 1e-9)
    speed = np.append(motor.speed[kept], end) * stretch
    torque = np.append(rows[kept], float(whole(end)))
    top = float(speed[-1])
    kinks = [float(speed[corner])] if 0 < corner < speed.size - 1 else []
    return Curve(
        np.append(speed, top * (1.0 + CUT)),
        np.append(torque, 0.0),
        kinks=(*kinks, top),
        name=name,
        x_name="speed",
    )


def top_speed(motor: Motor, *, voltage: float | None = None) -> float:
    """Return the speed at which the torque is taken away [rad/s].

    The speed limit; at a low voltage the end of the stretched rows, where that comes first.

    Parameters
    ----------
    motor : Motor
    voltage : float, optional
        [V].
    """
    return min(motor.speed_limit, float(motor.speed[-1]) * voltage_ratio(motor, voltage))


def motor_supply(
    motor: Motor,
    rating: Rating,
    *,
    voltage: float | None = None,
    hydraulic_torque: float = 0.0,
    factor: float = 1.0,
    slowest: float = SLOWEST,
) -> TorqueSupply:
    """Return the net torque of a motor less what it drives beside the converter.

    Parameters
    ----------
    motor : Motor
    rating : {"peak", "continuous"}
    voltage : float, optional
        [V].
    hydraulic_torque : float
        Taken at the shaft by implement pumps [N.m].
    factor : float
        On the torque: coolant above the rated one leaves less of the continuous torque.
    slowest : float
        Slowest speed as a share of the speed limit; 0 where the solver is not asked (direct
        coupling).

    Raises
    ------
    InputError
        If the voltage cannot be taken, or the hydraulic torque is below zero.
    """
    if not (np.isfinite(hydraulic_torque) and hydraulic_torque >= 0.0):
        raise InputError(
            "out of range",
            field="hydraulic_torque",
            found=float(hydraulic_torque),
            expected="a torque of zero or more",
        )
    curve = torque_curve(motor, rating, voltage=voltage)
    return TorqueSupply(
        source=curve,
        factor=factor,
        constant=float(hydraulic_torque),
        laws=tuple(PowerLaw.of(item) for item in motor.accessories if item.power > 0.0),
        low=slowest * top_speed(motor, voltage=voltage),
    )


def regenerative_torque(
    motor: Motor, speed: ArrayLike, *, voltage: float | None = None
) -> FloatArray:
    """Return the greatest braking torque [N.m] at motor speeds [rad/s], zero or below.

    Zero where the motor states none, and beyond its top speed.

    Parameters
    ----------
    motor : Motor
    speed : array_like
        [rad/s], any shape.
    voltage : float, optional
        [V].
    """
    given = np.asarray(speed, dtype=np.float64)
    if motor.regenerative is None:
        return np.zeros(given.shape)
    curve = _cut(motor, motor.regenerative, voltage_ratio(motor, voltage), "regenerative torque")
    low, high = curve.domain
    inside = (given >= low) & (given <= high)
    return np.where(inside, curve(np.clip(given, low, high)), 0.0)


def electric_power(motor: Motor, torque: ArrayLike, speed: ArrayLike) -> FloatArray:
    """Return the electric power [W]: ``T omega + losses``, below zero where it flows back.

    Parameters
    ----------
    motor : Motor
    torque : array_like
        At the shaft, below zero braking [N.m].
    speed : array_like
        [rad/s].

    Raises
    ------
    InputError
        If the motor states no losses.
    """
    if motor.losses is None:
        raise InputError(
            "electric power needs the motor's losses",
            source=motor.id,
            field="losses",
            expected="a table [losses] or [efficiency_map]",
        )
    shaft = np.asarray(torque, dtype=np.float64) * np.asarray(speed, dtype=np.float64)
    return np.asarray(shaft + motor.losses.at(torque, speed))


def reduced(supply: TorqueSupply, ratio: float, efficiency: float) -> TorqueSupply:
    """Return a supply as it is behind a reduction.

    Parameters
    ----------
    supply : TorqueSupply
    ratio : float
        Speed before / speed behind, above zero.
    efficiency : float
        Of the reduction, driving.

    Notes
    -----
    ``omega' = omega / i`` and ``T' = i eta T``, of loads as well.
    """
    gain = ratio * efficiency
    source, tables = supply.source, supply.tables
    return TorqueSupply(
        source=_scaled(source, ratio, gain),
        factor=supply.factor,
        constant=supply.constant * gain,
        laws=tuple(
            PowerLaw(law.torque * gain, law.speed / ratio, law.exponent) for law in supply.laws
        ),
        tables=tuple(_scaled(table, ratio, gain) for table in tables),
        low=None if supply.low is None else supply.low / ratio,
    )


def _scaled(curve: Curve, ratio: float, gain: float) -> Curve:
    return Curve(
        curve.x / ratio,
        curve.y * gain,
        kinks=tuple(kink / ratio for kink in curve.kinks),
        name=curve.name,
        x_name=curve.x_name,
    )
