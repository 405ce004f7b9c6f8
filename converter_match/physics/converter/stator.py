"""Fixed, one-way or no stator: one characteristic from another, as far as that is honest.

A one-way stator is a fixed one until its reaction, turbine torque less impeller torque, would turn
negative, that is where the torque ratio reaches 1; there it lets go. So

* fixed -> one-way: cut at mu = 1. Beyond it mu = 1, and the capacity, which no fixed-stator test
  shows, is assumed to fall in a straight line to zero at nu = 1, where a coupling without slip
  passes no torque.
* one-way -> fixed: the same up to the coupling point. Beyond it the data say nothing of a stator
  that is held, and another source (a test, a blade model) has to.
* no stator: mu = 1 everywhere, eta = nu.
"""

from __future__ import annotations

import numpy as np

from converter_match.components.converter import Converter
from converter_match.errors import InputError
from converter_match.notes import assumption


def one_way_from_fixed(converter: Converter) -> Converter:
    """Return the characteristic with the same stator on a one-way clutch: an estimate.

    Parameters
    ----------
    converter : Converter
        With a fixed stator, and data that reach torque ratio 1.

    Raises
    ------
    InputError
        If the stator is not fixed or the torque ratio does not fall to 1.
    """
    if converter.stator == "one-way":
        return converter
    _require(converter, "fixed")
    unity = converter.coupling
    if unity is None:
        raise InputError(
            "the torque ratio does not fall to 1 within the data, so there is no point at "
            "which a one-way stator would freewheel",
            source=converter.id,
            field="torque_ratio",
            found=float(converter.torque_ratio[-1]),
            expected="rows down to torque ratio 1",
        )
    below = converter.speed_ratio < unity - 1e-9
    at_unity = float(converter.capacity_at(unity))
    note = assumption(
        "one-way-from-fixed",
        f"One-way stator derived from the fixed one: torque ratio cut at 1 (speed ratio "
        f"{unity:.4g}); beyond it the torque ratio is taken as 1 and the capacity as falling in a "
        "straight line to zero at speed ratio 1.",
    )
    return converter.replace(
        id=f"{converter.id}+one-way",
        name=f"{converter.name}, stator on a one-way clutch",
        stator="one-way",
        speed_ratio=np.concatenate([converter.speed_ratio[below], [unity, 1.0]]),
        torque_ratio=np.concatenate([converter.torque_ratio[below], [1.0, 1.0]]),
        capacity=np.concatenate([converter.capacity[below], [at_unity, 0.0]]),
        coupling_speed_ratio=unity,
        kinks=tuple(kink for kink in converter.kinks if kink < unity),
        given_notes=(*converter.given_notes, note),
    )


def fixed_from_one_way(converter: Converter, *, beyond: Converter | None = None) -> Converter:
    """Return the characteristic with the stator held, if something tells what happens beyond nu_c.

    Parameters
    ----------
    converter : Converter
        With a one-way stator and a coupling point.
    beyond : Converter, optional
        A fixed-stator characteristic (measured on a relative, or from a blade model) whose course
        beyond the coupling point is borrowed: its torque ratio and capacity there, each scaled to
        join at the coupling point.

    Raises
    ------
    InputError
        If `beyond` is not given or does not reach from the coupling point upward: the data of a
        one-way stator say nothing of a stator that is held.
    """
    if converter.stator == "fixed":
        return converter
    _require(converter, "one-way")
    if beyond is None or converter.coupling is None:
        raise InputError(
            "a fixed stator cannot be derived from data with a one-way stator beyond the coupling "
            "point: there the stator of the data freewheels",
            source=converter.id,
            field="stator",
            found="one-way",
            expected="a characteristic measured with the stator fixed, or one from a blade model",
        )
    _require(beyond, "fixed")
    nu_c = converter.coupling
    low, high = beyond.domain
    if not low <= nu_c < high:
        raise InputError(
            "the fixed-stator characteristic does not reach beyond the coupling point",
            source=beyond.id,
            field="speed_ratio",
            found=f"{low:.4g} .. {high:.4g}",
            expected=f"from {nu_c:.4g} or below to above it",
        )
    rows = converter.characteristic
    kept = rows.speed_ratio <= nu_c
    nu = np.union1d(np.linspace(nu_c, high, 21)[1:], beyond.speed_ratio[beyond.speed_ratio > nu_c])
    mu_scale = 1.0 / float(beyond.torque_ratio_at(nu_c))
    c_scale = float(converter.capacity_at(nu_c)) / float(beyond.capacity_at(nu_c))
    note = assumption(
        "fixed-from-one-way",
        f"Fixed stator derived from the one-way one: as measured up to speed ratio {nu_c:.4g}; "
        f"beyond it the course of {beyond.name!r}, scaled to join (torque ratio by {mu_scale:.3f}, "
        f"capacity by {c_scale:.3f}).",
    )
    return converter.replace(
        id=f"{converter.id}+fixed",
        name=f"{converter.name}, stator held",
        stator="fixed",
        speed_ratio=np.concatenate([rows.speed_ratio[kept], nu]),
        torque_ratio=np.concatenate(
            [rows.torque_ratio[kept], mu_scale * beyond.torque_ratio_at(nu)]
        ),
        capacity=np.concatenate([rows.capacity[kept], c_scale * beyond.capacity_at(nu)]),
        coupling_speed_ratio=None,
        given_notes=(*converter.given_notes, note),
    )


def without_stator(converter: Converter, *, stall_capacity_factor: float = 1.0) -> Converter:
    """Return the fluid coupling that remains when the stator is taken out: an estimate.

    Parameters
    ----------
    converter : Converter
    stall_capacity_factor : float
        Capacity without the stator / with it, at stall. Without a stator the oil comes back to the
        impeller with less help, which raises its torque: common practice, no source, has a stall
        speed about a third lower, a factor of about 2. From there the factor goes in a straight
        line to 1 at the coupling point, beyond which a freewheeling stator is no stator anyway.

    Raises
    ------
    InputError
        If the factor is not above zero, or there is no coupling point up to which to apply it.

    Notes
    -----
    Torque ratio 1 and ``eta = nu`` follow from the torques on impeller, turbine and stator adding
    up to zero. The capacity does not follow from anything: it is the assumption.
    """
    if converter.stator == "none":
        return converter
    if not (np.isfinite(stall_capacity_factor) and stall_capacity_factor > 0):
        raise InputError(
            "out of range",
            field="stall_capacity_factor",
            found=float(stall_capacity_factor),
            expected="a number above zero",
        )
    if converter.stator == "fixed":
        # Only the cut characteristic has a capacity that vanishes where there is no slip.
        converter = one_way_from_fixed(converter)
    coupling = converter.coupling
    if stall_capacity_factor != 1.0 and coupling is None:
        raise InputError(
            "without a coupling point there is nowhere up to which the capacity would change",
            source=converter.id,
            field="stall_capacity_factor",
            found=float(stall_capacity_factor),
            expected="1, or a converter whose data reach the coupling point",
        )
    rows = converter.characteristic
    kept = rows.speed_ratio <= 1.0
    nu, capacity = rows.speed_ratio[kept], rows.capacity[kept]
    if coupling is not None:
        share = np.clip(1.0 - nu / coupling, 0.0, 1.0)
        capacity = capacity * (1.0 + (stall_capacity_factor - 1.0) * share)
    note = assumption(
        "stator-removed",
        "Stator taken out: torque ratio 1, efficiency equal to speed ratio. The capacity is taken "
        + (
            "as that of the converter."
            if stall_capacity_factor == 1.0
            else f"as {stall_capacity_factor:.3g} times that of the converter at stall, and the "
            "same from the coupling point on."
        ),
    )
    return converter.replace(
        id=f"{converter.id}+coupling",
        name=f"{converter.name}, stator taken out",
        stator="none",
        speed_ratio=nu,
        torque_ratio=np.ones(nu.size),
        capacity=capacity,
        coupling_speed_ratio=None,
        kinks=tuple(sorted({*rows.kinks, *converter.kinks} & set(nu[1:-1].tolist()))),
        given_notes=(*converter.notes, note),
    )


def _require(converter: Converter, stator: str) -> None:
    if converter.stator != stator:
        raise InputError(
            f"not a converter with a stator that is {stator}",
            source=converter.id,
            field="stator",
            found=converter.stator,
            expected=stator,
        )
