"""The match at a given turbine speed.

The match is known over the speed ratio; a machine imposes the turbine speed. This inverts the one
into the other: tabulate turbine speed over speed ratio, find the cell, then close the bracket.
Every evaluation is a match.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import OperatingPoints, match

_CELLS = 400
_TOLERANCE = 1e-13


def speed_ratio_at(
    turbine_speed_of: Callable[[FloatArray], FloatArray],
    domain: tuple[float, float],
    turbine_speed: ArrayLike,
    *,
    corners: Iterable[float] = (),
) -> FloatArray:
    """Return the speed ratio at which the turbine has a given speed.

    Parameters
    ----------
    turbine_speed_of : callable
        Turbine speed [rad/s] for an array of speed ratios, NaN where there is no match.
    domain : (float, float)
        Lowest and highest speed ratio to look at.
    turbine_speed : array_like
        [rad/s], any shape.
    corners : iterable of float
        Speed ratios at which the function may have a corner.

    Returns
    -------
    ndarray
        Same shape as `turbine_speed`; NaN where no match has that turbine speed. Where several
        have, the one with the lowest speed ratio, which a machine that comes from standstill meets
        first.
    """
    target = np.asarray(turbine_speed, dtype=np.float64)
    flat = target.ravel()
    low, high = domain
    inner = [nu for nu in (*corners, 0.0) if low < nu < high]
    grid = np.unique(np.concatenate([np.linspace(low, high, _CELLS + 1), inner]))
    known = turbine_speed_of(grid)
    excess = known[:, np.newaxis] - flat  # (cells + 1, points); NaN where there is no match
    with np.errstate(invalid="ignore"):
        crosses = np.isfinite(excess[:-1]) & np.isfinite(excess[1:])
        crosses &= (excess[:-1] <= 0) != (excess[1:] <= 0)
        crosses |= (excess[:-1] == 0) | (excess[1:] == 0)
    cell = np.argmax(crosses, axis=0)
    hits = np.flatnonzero(crosses[cell, np.arange(flat.size)] if flat.size else [])
    nu = np.full(flat.shape, np.nan)
    if hits.size:
        cells, wanted = cell[hits], flat[hits]
        nu[hits] = _closed_in(
            turbine_speed_of,
            wanted,
            (grid[cells], grid[cells + 1]),
            (known[cells] - wanted, known[cells + 1] - wanted),
        )
    return nu.reshape(target.shape)


def _closed_in(
    turbine_speed_of: Callable[[FloatArray], FloatArray],
    wanted: FloatArray,
    bracket: tuple[FloatArray, FloatArray],
    excess: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Close the brackets by false position with the Illinois correction."""
    (a, b), (at_a, at_b) = bracket, excess
    a, b, at_a, at_b = a.copy(), b.copy(), at_a.copy(), at_b.copy()
    # An end that is the answer already, or is next to a gap in the data, stays.
    nu = np.where(at_b == 0, b, a)
    going = np.isfinite(at_a) & np.isfinite(at_b) & (at_a != 0) & (at_b != 0)
    scale = np.maximum(np.abs(wanted), 1.0)
    for _ in range(60):
        i = np.flatnonzero(going)
        if not i.size:
            break
        middle = b[i] - at_b[i] * (b[i] - a[i]) / (at_b[i] - at_a[i])
        # Rounding may carry it out of the bracket, and so out of the data.
        middle = np.clip(middle, np.minimum(a[i], b[i]), np.maximum(a[i], b[i]))
        value = turbine_speed_of(middle) - wanted[i]
        lost = ~np.isfinite(value)
        value = np.where(lost, 0.0, value)
        swap = value * at_b[i] < 0
        a[i] = np.where(swap, b[i], a[i])
        at_a[i] = np.where(swap, at_b[i], 0.5 * at_a[i])
        b[i], at_b[i] = middle, value
        nu[i] = np.where(lost, np.nan, middle)
        small = np.abs(value) <= _TOLERANCE * scale[i]
        going[i] = ~(small | lost | (np.abs(b[i] - a[i]) <= 1e-15))
    return nu


def match_at_turbine_speed(
    supply: TorqueSupply, converter: Converter, turbine_speed: ArrayLike
) -> OperatingPoints:
    """Return the match, as reached from idle, at which the turbine has a given speed.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed : array_like
        [rad/s], any shape.

    Returns
    -------
    OperatingPoints
        Same shape; NaN where the pair has no match with that turbine speed.
    """

    def speed_of(nu: FloatArray) -> FloatArray:
        return match(supply, converter, nu).from_idle().turbine_speed

    low, high = converter.domain
    nu = speed_ratio_at(
        speed_of, (low, min(high, 1.0)), turbine_speed, corners=converter.characteristic.speed_ratio
    )
    reached = np.isfinite(nu)
    points = match(supply, converter, np.where(reached, nu, min(max(low, 0.0), high))).from_idle()
    return OperatingPoints(
        nu,
        np.where(reached, points.torque_ratio, np.nan),
        np.where(reached, points.engine_speed, np.nan),
        np.where(reached, points.input_torque, np.nan),
        points.stable & reached,
    )
