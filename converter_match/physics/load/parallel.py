"""Two engines on one impeller, and two converters on one engine, as one of each.

Two engines geared to one shaft give it, at its speed omega,

    T(omega) = sum of i_k eta_k T_k(i_k omega);

two converters between one engine and one shaft share both speeds, so their torques add up:

    C(nu) = C_1(nu) + C_2(nu),    mu(nu) = (mu_1 C_1 + mu_2 C_2) / C.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.converter_limits import ConverterLimits
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply

_CELLS = 16  # a row interval of either converter is cut into: the sum is kept to some 1e-5


def geared(supply: TorqueSupply, ratio: float, efficiency: float) -> TorqueSupply:
    """Return the torque of an engine at a shaft that it drives through a gear.

    Parameters
    ----------
    supply : TorqueSupply
    ratio : float
        Engine speed / shaft speed.
    efficiency : float
        Of the gear.
    """
    by = ratio * efficiency
    return TorqueSupply(
        source=_geared_curve(supply.source, ratio, supply.factor * by),
        constant=supply.constant * by,
        laws=tuple(
            PowerLaw(law.torque * by, law.speed / ratio, law.exponent) for law in supply.laws
        ),
        tables=tuple(_geared_curve(table, ratio, by) for table in supply.tables),
        low=None if supply.low is None else supply.low / ratio,
    )


def combined_supply(supplies: Sequence[TorqueSupply]) -> TorqueSupply:
    """Return what engines on one shaft give together, at the speeds that all of them know.

    Parameters
    ----------
    supplies : sequence of TorqueSupply
        Over the speed of the shaft, as `geared` returns them.

    Notes
    -----
    A `TorqueSupply` is one source less loads; the torque of every further engine is entered as a
    load below zero, which is exact.
    """
    first, *others = supplies
    given = tuple(_geared_curve(other.source, 1.0, -other.factor) for other in others)
    lows = [supply.low for supply in supplies if supply.low is not None]
    return TorqueSupply(
        source=first.source,
        factor=first.factor,
        constant=sum(supply.constant for supply in supplies),
        laws=tuple(law for supply in supplies for law in supply.laws),
        tables=(*(table for supply in supplies for table in supply.tables), *given),
        low=max(lows) if lows else None,
    )


def combined_converters(first: Converter, second: Converter) -> Converter:
    """Return two converters between one engine and one shaft as one.

    Parameters
    ----------
    first, second : Converter
        With one kind of stator.

    Raises
    ------
    InputError
        If their stators differ, or no speed ratio is common to both.
    """
    pair = (first, second)
    if first.stator != second.stator:
        raise InputError(
            "two converters are joined with one kind of stator only",
            field="parallel.converter",
            found=f"{first.stator} and {second.stator}",
            expected="two of a kind",
        )
    low = max(unit.domain[0] for unit in pair)
    high = min(unit.domain[1] for unit in pair)
    corners = sorted(
        {
            float(nu)
            for unit in pair
            for nu in (*unit.characteristic.kinks, *unit.kinks)
            if low < nu < high
        }
    )
    rows = np.unique(np.concatenate([unit.characteristic.speed_ratio for unit in pair]))
    rows = np.unique([low, *rows[(rows > low) & (rows < high)], high])
    share = np.arange(_CELLS) / _CELLS
    nu = np.append((rows[:-1, np.newaxis] + share * np.diff(rows)[:, np.newaxis]).ravel(), high)
    each = [unit.capacity_at(nu) for unit in pair]
    capacity = each[0] + each[1]
    turbine = sum(unit.torque_ratio_at(nu) * c for unit, c in zip(pair, each, strict=True))
    safe = np.where(capacity == 0.0, 1.0, capacity)
    mu = np.where(capacity == 0.0, first.torque_ratio_at(nu), turbine / safe)
    coupling = None
    if first.stator == "one-way" and first.coupling is not None and second.coupling is not None:
        coupling = max(first.coupling, second.coupling)
    return first.replace(
        id=f"{first.id}+{second.id}",
        name=f"{first.name} and {second.name}" if second != first else f"{first.name}, twice",
        speed_ratio=nu,
        torque_ratio=mu,
        capacity=capacity,
        coupling_speed_ratio=coupling,
        kinks=tuple(nu for nu in corners if nu != coupling),
        profile_diameter=None,
        oil_volume=None,
        impeller_inertia=_both(first.impeller_inertia, second.impeller_inertia),
        turbine_inertia=_both(first.turbine_inertia, second.turbine_inertia),
        limits=ConverterLimits(oil_temperature=first.limits.oil_temperature),
        interface=(),
        given_notes=tuple(dict.fromkeys((*first.given_notes, *second.given_notes))),
    )


def _both(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one + other


def _geared_curve(curve: Curve, ratio: float, by: float) -> Curve:
    return Curve(
        curve.x / ratio,
        curve.y * by,
        kinks=tuple(kink / ratio for kink in curve.kinks),
        name=curve.name,
        x_name=curve.x_name,
    )
