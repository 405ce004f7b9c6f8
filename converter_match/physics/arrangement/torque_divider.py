"""Torque divider: a planetary beside the converter, as one combined characteristic.

Let a_e, a_h, a_o be the Willis coefficients (1 for the sun, k for the ring, -(1 + k) for the
carrier) of the members on the engine, hydraulic and output shafts. They sum to zero, and torques
that act on the gears are in their ratio (see `components.planetary`).

Input split, engine and impeller on one shaft, turbine torque mu C w^2 into the gears:

    SR  = w_out / w_engine      = -(a_e + a_h nu) / a_o
    C'  = T_engine / w_engine^2 = C (1 + mu a_e / a_h)
    TR  = T_out / T_engine      = -a_o mu / (a_h + a_e mu)

With the engine on the sun, turbine on the ring and output on the carrier these are
SR = (1 + k nu)/(1 + k), TR = (1 + k) mu/(k + mu), K' = K sqrt(k/(k + mu)), the sun carries the
share mu/(k + mu) of the engine's torque, and the output stands still at nu = -1/k.

Output split, impeller driven by the gears, turbine on the output shaft; s = w_impeller / w_engine:

    s  = -a_e / (a_h + a_o nu),   SR = nu s,   C' = -(a_e / a_h) C s^2
    TR = -(a_h mu + a_o) / a_e

In both, mu = 1 gives TR = 1, so the coupling point stays a coupling point, and a stator stays what
it was.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.arrangement import TorqueDivider
from converter_match.components.converter import Converter
from converter_match.components.converter_limits import ConverterLimits
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import assumption
from converter_match.physics.match.solver import OperatingPoints

# Step of the speed ratio at which the combined curve is tabulated: the interpolant is then as good
# as the formula to a few parts in a million (see the tests).
_STEP = 0.005
_SAME_ROW = 1e-5
# Nobody rolls back faster than the engine turns; some connections have a pole further down.
_LOWEST_OUTPUT = -1.0
_USUAL = "the usual one is engine-and-impeller -> sun, turbine -> ring, output -> carrier"


@dataclass(frozen=True)
class Combined:
    """The combined characteristic at speed ratios of the converter inside; arrays of one shape.

    Parameters
    ----------
    speed_ratio : ndarray
        Turbine speed / impeller speed of the converter inside.
    impeller_ratio : ndarray
        Impeller speed / engine speed; 1 in an input split.
    output_ratio : ndarray
        Output speed / engine speed, SR.
    torque_ratio : ndarray
        Output torque / engine torque, TR.
    capacity : ndarray
        Engine torque / engine speed^2 [N.m/(rad/s)^2].
    mechanical_share : ndarray
        Share of the engine torque that goes into the gears rather than straight into the impeller
        (input split), or of the output torque that comes through the gears (output split).
    """

    speed_ratio: FloatArray
    impeller_ratio: FloatArray
    output_ratio: FloatArray
    torque_ratio: FloatArray
    capacity: FloatArray
    mechanical_share: FloatArray


@dataclass(frozen=True)
class PowerSplit:
    """Where the power goes; arrays of one shape, [W].

    Parameters
    ----------
    engine, output : ndarray
        What the engine gives and what leaves.
    mechanical : ndarray
        Through the gears from the engine shaft to the output, bypassing the oil.
    hydraulic_in, hydraulic_out : ndarray
        Into the impeller; out of the turbine. Where the turbine runs backwards the latter is below
        zero: the gears drive the turbine, and its power ends in the oil as well.
    circulating : ndarray
        Power that one path carries against the direction from engine to output.
    heat : ndarray
        ``hydraulic_in - hydraulic_out``, and equally ``engine - output``.
    """

    engine: FloatArray
    output: FloatArray
    mechanical: FloatArray
    hydraulic_in: FloatArray
    hydraulic_out: FloatArray
    circulating: FloatArray
    heat: FloatArray


def combine(converter: Converter, divider: TorqueDivider, speed_ratio: ArrayLike) -> Combined:
    """Return the combined characteristic by formula (module notes), any shape.

    Parameters
    ----------
    converter : Converter
    divider : TorqueDivider
    speed_ratio : array_like
        Of the converter inside, within its data.

    Raises
    ------
    InputError
        If a speed ratio lies outside the data.
    """
    nu = np.asarray(speed_ratio, dtype=np.float64)
    mu, c = converter.torque_ratio_at(nu), converter.capacity_at(nu)
    a_e, a_h, a_o = _coefficients(divider)
    with np.errstate(divide="ignore", invalid="ignore"):
        if divider.connection.split == "input-split":
            # Where engine torque is zero (C = 0) the ratio of torques is still that of the gears.
            impeller = np.ones_like(nu)
            output = -(a_e + a_h * nu) / a_o
            capacity = c * (1.0 + mu * a_e / a_h)
            torque_ratio = -a_o * mu / (a_h + a_e * mu)
            share = a_e * mu / (a_h + a_e * mu)
        else:
            impeller = -a_e / (a_h + a_o * nu)
            output = nu * impeller
            capacity = -(a_e / a_h) * c * impeller**2
            torque_ratio = -(a_h * mu + a_o) / a_e
            share = a_o / (a_h * mu + a_o)
    return Combined(nu, impeller, output, torque_ratio, capacity, share)


def stall_speed_ratio(divider: TorqueDivider) -> float:
    """Return the speed ratio of the converter inside at which the output stands still.

    ``-a_e / a_h`` in an input split (-1/k in the classic connection), 0 in an output split.

    Parameters
    ----------
    divider : TorqueDivider
    """
    a_e, a_h, _ = _coefficients(divider)
    return -a_e / a_h if divider.connection.split == "input-split" else 0.0


def combined_converter(
    converter: Converter, divider: TorqueDivider, *, assume_negative: bool = False
) -> Converter:
    """Return converter and planetary as one characteristic, accepted wherever a converter is.

    Parameters
    ----------
    converter : Converter
    divider : TorqueDivider
    assume_negative : bool
        Whether to hold torque ratio and capacity at their stall values where the output stall
        drives the turbine backwards further than the data go; the assumption is then listed.

    Raises
    ------
    InputError
        If output stall needs negative speed ratios that are neither in the data nor allowed to be
        assumed, or if the connection cannot drive a machine (power would go round in a circle
        until the engine is driven, or the output would not speed up with the turbine).

    Notes
    -----
    The converter's limits on torque and power are those of its impeller, not of the engine shaft,
    and are not carried over; `impeller_points` gives what to compare with them.
    """
    stall = stall_speed_ratio(divider)
    if stall >= 1.0:
        raise InputError(
            "this connection cannot drive a machine: the output would stand still only with the "
            f"turbine at {stall:.3g} times the speed of the impeller",
            field="torque_divider.connection",
            found=str(divider.connection),
            hint=_USUAL,
        )
    base = reaching(converter, stall, assume_negative=assume_negative)
    nu = _usable(base, divider, _grid(base, stall), stall)
    rows = combine(base, divider, nu)
    # Exactly 0 where the output stands still and exactly 1 where all turns as one (the coefficients
    # sum to zero), so that "stall" is a row and not nearly one.
    output = np.where(nu == stall, 0.0, np.where(nu == 1.0, 1.0, rows.output_ratio))
    corners = [*base.kinks, *([] if base.coupling is None else [base.coupling])]
    kinks = {float(output[np.argmin(np.abs(nu - corner))]) for corner in corners}
    coupling = None
    if base.coupling is not None:
        coupling = float(output[np.argmin(np.abs(nu - base.coupling))])
        kinks.discard(coupling)
    gears, connection = divider.planetary, divider.connection
    note = assumption(
        "torque-divider",
        f"Combined with a planetary of ratio ring/sun = {gears.ratio:.4g} ({connection}), "
        "whose gears are taken as free of friction. Speed ratio and torque ratio are those of the "
        "output shaft against the engine.",
    )
    input_split = connection.split == "input-split"
    return base.replace(
        id=f"{converter.id}+divider",
        name=f"{converter.name}, with torque divider",
        speed_ratio=output,
        torque_ratio=rows.torque_ratio,
        capacity=rows.capacity,
        coupling_speed_ratio=coupling if base.stator == "one-way" else None,
        kinks=tuple(sorted(kink for kink in kinks if output[0] < kink < output[-1])),
        limits=ConverterLimits(
            input_speed=converter.limits.input_speed if input_split else None,
            oil_temperature=converter.limits.oil_temperature,
        ),
        profile_diameter=None,  # the similarity law does not hold for converter and gears as one
        impeller_inertia=converter.impeller_inertia if input_split else None,
        turbine_inertia=None,
        given_notes=(*base.notes, note),
    )


def power_split(
    converter: Converter,
    divider: TorqueDivider,
    speed_ratio: ArrayLike,
    engine_speed: ArrayLike,
    *,
    assume_negative: bool = False,
) -> PowerSplit:
    """Return the power on each path at an engine speed.

    Parameters
    ----------
    converter : Converter
        The converter inside.
    divider : TorqueDivider
    speed_ratio : array_like
        Turbine speed / impeller speed of the converter inside.
    engine_speed : array_like
        [rad/s]; broadcasts with `speed_ratio`.
    assume_negative : bool
        As in `combined_converter`.

    Raises
    ------
    InputError
        As in `combined_converter`, and if the impeller would turn backwards.
    """
    nu, omega = np.broadcast_arrays(
        np.asarray(speed_ratio, dtype=np.float64), np.asarray(engine_speed, dtype=np.float64)
    )
    lowest = float(nu.min()) if nu.size else 0.0
    base = reaching(converter, lowest, assume_negative=assume_negative)
    rows = combine(base, divider, nu)
    a_e, a_h, a_o = _coefficients(divider)
    if np.any(~(rows.impeller_ratio > 0)):
        raise InputError(
            "this connection turns the impeller backwards, for which there are no data",
            field="torque_divider.connection",
            found=str(divider.connection),
            hint=_USUAL,
        )
    impeller_speed = rows.impeller_ratio * omega
    impeller_torque = base.capacity_at(nu) * impeller_speed**2
    turbine_torque = base.torque_ratio_at(nu) * impeller_torque
    hydraulic_in = impeller_torque * impeller_speed
    hydraulic_out = turbine_torque * nu * impeller_speed
    if divider.connection.split == "input-split":
        unit_torque = turbine_torque / a_h  # torque on the gears per unit of coefficient
        mechanical = unit_torque * a_e * omega
        output = -unit_torque * a_o * rows.output_ratio * omega
        engine = hydraulic_in + mechanical
    else:
        unit_torque = -impeller_torque / a_h
        mechanical = -unit_torque * a_o * rows.output_ratio * omega
        output = hydraulic_out + mechanical
        engine = unit_torque * a_e * omega
    backwards = np.maximum(-mechanical, 0.0) + np.maximum(-hydraulic_out, 0.0)
    return PowerSplit(
        engine=engine,
        output=output,
        mechanical=mechanical,
        hydraulic_in=hydraulic_in,
        hydraulic_out=hydraulic_out,
        circulating=backwards,
        heat=hydraulic_in - hydraulic_out,
    )


def inner_speed_ratio(divider: TorqueDivider, output_ratio: ArrayLike) -> FloatArray:
    """Return the speed ratio of the converter inside from the output's, the inverse of SR(nu).

    Parameters
    ----------
    divider : TorqueDivider
    output_ratio : array_like
        Output speed / engine speed, any shape.
    """
    ratio = np.asarray(output_ratio, dtype=np.float64)
    a_e, a_h, a_o = _coefficients(divider)
    if divider.connection.split == "input-split":
        return np.asarray(-(a_o * ratio + a_e) / a_h)
    return np.asarray(-a_h * ratio / (a_e + a_o * ratio))


def impeller_points(
    converter: Converter, divider: TorqueDivider, points: OperatingPoints
) -> tuple[FloatArray, FloatArray]:
    """Return impeller speed [rad/s] and torque [N.m] inside, at matches of the combined curve.

    Parameters
    ----------
    converter : Converter
        The converter inside, with data down to where the points lie.
    divider : TorqueDivider
    points : OperatingPoints
        Matches with the combined characteristic.
    """
    nu = np.clip(inner_speed_ratio(divider, points.speed_ratio), *converter.domain)
    rows = combine(converter, divider, nu)
    speed = rows.impeller_ratio * points.engine_speed
    return speed, np.asarray(converter.capacity_at(nu) * speed**2)


def free_stator_factor(converter: Converter, divider: TorqueDivider) -> float:
    """Return what a stator that turns free at output stall does to C' beyond what it does to C.

    Parameters
    ----------
    converter : Converter
        The converter inside, with data down to where the output stands still.
    divider : TorqueDivider

    Notes
    -----
    With ``C' = C (1 + mu a_e / a_h)`` and no torque on the stator, mu = 1: in an input split the
    gears then bring less of the engine's torque back, ``(1 + a_e / a_h) / (1 + mu a_e / a_h)``. In
    an output split mu is not in C'.
    """
    if divider.connection.split != "input-split":
        return 1.0
    a_e, a_h, _ = _coefficients(divider)
    nu = max(stall_speed_ratio(divider), converter.domain[0])
    mu = float(converter.torque_ratio_at(nu))
    return (1.0 + a_e / a_h) / (1.0 + mu * a_e / a_h)


def reaching(converter: Converter, low: float, *, assume_negative: bool) -> Converter:
    """Return the converter with data down to speed ratio `low`, assumed if that is allowed.

    Parameters
    ----------
    converter : Converter
    low : float
        Speed ratio, below zero.
    assume_negative : bool
        Whether what the data lack may be assumed, with a note.

    Raises
    ------
    InputError
        If the data do not reach and nothing may be assumed, or do not even include stall.
    """
    start = converter.domain[0]
    if low >= start:
        return converter
    converter.require_stall()
    if not assume_negative:
        raise InputError(
            "the turbine is driven backwards further than the data go, and nothing is extrapolated",
            source=converter.id,
            field="speed_ratio",
            found=f"data from {start:.4g}",
            expected=f"data down to {low:.4g}, or the permission negative_speed_ratio",
        )
    rows = converter.characteristic
    note = assumption(
        "negative-speed-ratio-assumed",
        f"The data end at speed ratio {start:.4g}; from there down to {low:.4g}, where the turbine "
        "runs backwards, torque ratio and capacity are held at their last values. A real converter "
        "differs there: have it measured before relying on the pull at stall.",
    )
    kinks = {*converter.kinks, start}
    return converter.replace(
        speed_ratio=np.concatenate([[low], rows.speed_ratio]),
        torque_ratio=np.concatenate([rows.torque_ratio[:1], rows.torque_ratio]),
        capacity=np.concatenate([rows.capacity[:1], rows.capacity]),
        coupling_speed_ratio=converter.coupling if converter.stator == "one-way" else None,
        kinks=tuple(sorted(kinks)),
        given_notes=(*converter.notes, note),
    )


def _coefficients(divider: TorqueDivider) -> tuple[float, float, float]:
    gears, connection = divider.planetary, divider.connection
    a_e, a_h, a_o = (gears.coefficient(member) for member in connection.members)
    return a_e, a_h, a_o


def _grid(converter: Converter, stall: float) -> FloatArray:
    """Speed ratios to tabulate at: every given row, the output stall, and a fine grid between."""
    low, high = converter.domain
    given = converter.characteristic.speed_ratio
    # A row that nearly is the output stall (a very large ring) gives way to it.
    exact = np.union1d(given[np.abs(given - stall) > _SAME_ROW], stall)
    fine = np.arange(np.ceil(low / _STEP), np.floor(high / _STEP) + 1) * _STEP
    # Two rows a rounding error apart would make a slope out of noise.
    apart = np.abs(fine[:, np.newaxis] - exact).min(axis=1) > 0.1 * _STEP
    return np.union1d(fine[apart & (fine >= low) & (fine <= high)], exact)


def _usable(
    converter: Converter, divider: TorqueDivider, nu: FloatArray, stall: float
) -> FloatArray:
    """Return the stretch around output stall on which engine drives and output follows turbine.

    Raises
    ------
    InputError
        If that stretch does not reach from output stall up to speed ratio 1.
    """
    rows = combine(converter, divider, nu)
    drives = np.isfinite(rows.capacity) & (rows.capacity > 0) & (rows.torque_ratio > 0)
    drives |= (nu >= 1.0) | (converter.capacity_at(nu) <= 0)
    useless = ~drives & (nu >= stall)
    if useless.any():
        raise InputError(
            f"this connection cannot drive a machine: at speed ratio {nu[useless][0]:.3g} of the "
            "converter the engine would be driven instead of driving",
            field="torque_divider.connection",
            found=str(divider.connection),
            hint=_USUAL,
        )
    # Below output stall and beyond speed ratio 1 there may be a pole: keep what is on this side.
    follows = np.append(np.diff(rows.output_ratio) > 0, True)
    good = drives & follows & (rows.output_ratio >= _LOWEST_OUTPUT)
    start = np.flatnonzero(~good & (nu < stall))
    end = np.flatnonzero(~follows & (nu >= 1.0))
    return nu[start[-1] + 1 if start.size else 0 : end[0] + 1 if end.size else None]
