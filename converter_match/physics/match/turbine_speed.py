"""The match at a given turbine speed: every branch, and which of them a machine comes to.

A machine imposes the turbine speed, not the speed ratio. At a turbine speed omega_t the engine is
in balance wherever

    f(omega) = T_net(omega) - C(omega_t / omega) omega^2 = 0,

one equation in the engine speed alone, in which no branch of the match is left out. All changes of
sign are found on a grid that holds every kink of both curves, and closed in. A balance is stable
where f falls: at a speed held by the machine, that can be where the match at a speed ratio held is
not, since a faster engine then works at a lower speed ratio and finds more to drive.

Where there are several, history decides. The turbine speed changes slowly beside the engine's: the
engine stays with its balance as long as that is there, and goes up where f leaves it torque to
spare, down where it lacks torque. Followed so from stall, at full load from idle, it is the branch
of a machine that comes up; from the highest turbine speed, that of one that comes down.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.balances import Balances, balances, closed_in
from converter_match.physics.match.match_set import OperatingPoints, crossed

Coming = Literal["up", "down"]

_CELLS = 400
# A change of sign that closes to more than this share of the scale is a jump and no balance.
_JUMP = 1e-9
# Cells of the grid of engine speeds: in each piece of the torque curve, and evenly.
_IN_A_PIECE, _EVEN = 6, 120
# Turbine speeds at which a machine that comes up or down is followed.
_SWEEP = 240


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
        Same shape as `turbine_speed`; NaN where no match has that turbine speed, as inside a jump.
        Where several have, the one with the lowest speed ratio, which a machine that comes from
        standstill meets first.
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
        scale = np.maximum(np.abs(wanted), 1.0)
        nu[hits], left = closed_in(
            lambda ratio, rows: (turbine_speed_of(ratio) - wanted[rows]) / scale[rows],
            (grid[cells], grid[cells + 1]),
            ((known[cells] - wanted) / scale, (known[cells + 1] - wanted) / scale),
        )
        nu[hits[~(np.abs(left) <= _JUMP)]] = np.nan
    return nu.reshape(target.shape)


@dataclass(frozen=True, eq=False)
class TurbineMatches:
    """Every match at given turbine speeds.

    Parameters
    ----------
    points : OperatingPoints
        Arrays of shape (r, ...): axis 0 counts matches by rising engine speed, NaN where there is
        none. `stable` is at a turbine speed that the machine holds.
    coming_up, coming_down : ndarray of bool, shape (r, ...)
        Which of them a machine runs at that has sped up slowly from standstill at full load, the
        engine up from idle; and one that is being slowed down from its highest turbine speed.
    """

    points: OperatingPoints
    coming_up: NDArray[np.bool_]
    coming_down: NDArray[np.bool_]

    @property
    def count(self) -> NDArray[np.intp]:
        """Number of matches, shape (...)."""
        return np.asarray(self.points.found.sum(axis=0))

    def jumps_before(self, coming: Coming = "up") -> NDArray[np.bool_]:
        """Return where the engine jumps between a turbine speed and the one before, shape (n,).

        For turbine speeds (n,) that rise, dense enough to follow the engine by; False for others.

        Parameters
        ----------
        coming : {"up", "down"}
        """
        speed = self.reached(coming).engine_speed
        if speed.ndim != 1:
            return np.zeros(speed.shape, dtype=bool)
        unstable = np.where(self.points.stable, np.nan, self.points.engine_speed)
        return crossed(speed, unstable)

    def reached(self, coming: Coming = "up") -> OperatingPoints:
        """Return the match of one history, shape (...); NaN where it has none.

        Parameters
        ----------
        coming : {"up", "down"}
        """
        which = self.coming_up if coming == "up" else self.coming_down
        row = np.argmax(which, axis=0)[np.newaxis]
        has = which.any(axis=0)

        def pick(values: FloatArray) -> FloatArray:
            return np.where(has, np.take_along_axis(values, row, axis=0)[0], np.nan)

        points = self.points
        return OperatingPoints(
            pick(points.speed_ratio),
            pick(points.torque_ratio),
            pick(points.engine_speed),
            pick(points.input_torque),
            has & np.take_along_axis(points.stable, row, axis=0)[0],
        )


def matches_at_turbine_speed(
    supply: TorqueSupply, converter: Converter, turbine_speed: ArrayLike
) -> TurbineMatches:
    """Return every match at which the turbine has a given speed, up to speed ratio 1.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed : array_like
        [rad/s], any shape.

    Examples
    --------
    >>> from converter_match.library.read import read_converter, read_engine
    >>> from converter_match.library.shipped import find
    >>> from converter_match.physics.engine.supply import engine_supply
    >>> supply = engine_supply(read_engine(find("engines", "six-cylinder-7l-185kw")))
    >>> converter = read_converter(find("converters", "single-stage-345mm-tight"))
    >>> found = matches_at_turbine_speed(supply, converter, [0.0, 100.0])
    >>> found.count.tolist(), found.coming_up.tolist()
    ([1, 1], [[True, True]])
    """
    target = np.asarray(turbine_speed, dtype=np.float64)
    flat = target.ravel()
    found = balances_at(supply, converter, flat)
    up = down = found.stable & found.spare_below
    if not plain(found):
        speeds = np.unique(np.concatenate([_sweep(supply, converter), flat]))
        swept = balances_at(supply, converter, speeds)
        forth = range(speeds.size)
        place = np.searchsorted(speeds, flat)
        found = Balances(swept.speed[:, place], swept.stable[:, place], swept.spare_below[place])
        up, down = (
            np.asarray(swept.speed == swept.followed(order, begin))[:, place]
            for order, begin in ((forth, np.nan), (forth[::-1], np.inf))
        )
    shape = (len(found.speed), *target.shape)
    points = points_of(converter, flat, found)
    points = OperatingPoints(
        *(
            getattr(points, name).reshape(shape)
            for name in ("speed_ratio", "torque_ratio", "engine_speed", "input_torque", "stable")
        )
    )
    return TurbineMatches(points, up.reshape(shape), down.reshape(shape))


def match_at_turbine_speed(
    supply: TorqueSupply, converter: Converter, turbine_speed: ArrayLike, *, coming: Coming = "up"
) -> OperatingPoints:
    """Return the match at which the turbine has a given speed, as the machine comes to it.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed : array_like
        [rad/s], any shape.
    coming : {"up", "down"}
        Up from standstill at full load, or down from the highest turbine speed.

    Returns
    -------
    OperatingPoints
        Same shape; NaN where the pair has no match with that turbine speed.
    """
    return matches_at_turbine_speed(supply, converter, turbine_speed).reached(coming)


@dataclass(frozen=True, eq=False)
class Passage:
    """What a machine passes at full load that speeds up from standstill, or is slowed down.

    Parameters
    ----------
    points : OperatingPoints
        By rising turbine speed, shape (n,).
    jumps_before : ndarray of bool, shape (n,)
        Whether the engine jumps between a point and the one before it.
    """

    points: OperatingPoints
    jumps_before: NDArray[np.bool_]


def passage(
    supply: TorqueSupply,
    converter: Converter,
    turbine_speed: FloatArray,
    coming: Coming = "up",
) -> Passage:
    """Return the branch of a machine that comes up, or down, at rising turbine speeds.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed : ndarray, shape (n,)
        [rad/s], rising from 0; dense enough to follow the engine by.
    coming : {"up", "down"}
    """
    swept = balances_at(supply, converter, turbine_speed)
    forth = range(turbine_speed.size)
    path = swept.followed(forth, np.nan) if coming == "up" else swept.followed(forth[::-1], np.inf)
    runs = np.flatnonzero(np.isfinite(path))
    kept = Balances(
        path[np.newaxis, runs], np.ones((1, runs.size), dtype=bool), swept.spare_below[runs]
    )
    points = points_of(converter, turbine_speed[runs], kept).at(0)
    unstable = np.where(swept.stable, np.nan, swept.speed)[:, runs]
    gaps = np.diff(runs, prepend=runs[:1]) > 1
    return Passage(points, crossed(points.engine_speed, unstable) | gaps)


def plain(found: Balances) -> bool:
    """Whether history can make no difference: at most one balance, and a stable one."""
    one = np.isfinite(found.speed).sum(axis=0) <= 1
    return bool(one.all() and found.stable[np.isfinite(found.speed)].all())


def top_turbine_speed(supply: TorqueSupply, converter: Converter) -> float:
    """Return the highest turbine speed that the data reach in drive [rad/s].

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    """
    return supply.domain[1] * min(converter.domain[1], 1.0)


def _sweep(supply: TorqueSupply, converter: Converter) -> FloatArray:
    return np.linspace(0.0, top_turbine_speed(supply, converter), _SWEEP + 1)


def balances_at(
    supply: TorqueSupply,
    converter: Converter,
    turbine_speed: FloatArray,
    *,
    torque_factor: FloatArray | None = None,
    capacity_factor: FloatArray | None = None,
) -> Balances:
    """Return the balances at turbine speeds (n,) up to speed ratio 1.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed : ndarray, shape (n,)
        [rad/s].
    torque_factor, capacity_factor : ndarray, shape (n,), optional
        On the engine's torque before loads and on the converter's capacity, where they differ.
    """
    drawn, held = (
        np.ones(turbine_speed.size) if factor is None else factor
        for factor in (torque_factor, capacity_factor)
    )
    excess = excess_at(supply, converter, turbine_speed, drawn, held)
    return balances(excess, speeds_to_look_at(supply, converter, turbine_speed))


def excess_at(
    supply: TorqueSupply,
    converter: Converter,
    turbine_speed: FloatArray,
    torque_factor: FloatArray,
    capacity_factor: FloatArray,
) -> Callable[[FloatArray, NDArray[np.intp]], FloatArray]:
    """Return the torque that engines have to spare at turbine speeds, scaled to the size of 1.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed, torque_factor, capacity_factor : ndarray, shape (n,)
        As for `balances_at`.

    Returns
    -------
    callable
        Of engine speeds [rad/s] and the rows that they belong to, of one shape.
    """
    low, high = converter.domain
    high = min(high, 1.0)
    scale = full_load_scale(supply)

    def excess(omega: FloatArray, row: NDArray[np.intp]) -> FloatArray:
        nu = np.clip(turbine_speed[row] / omega, low, high)
        taken = capacity_factor[row] * converter.capacity_at(nu) * omega**2
        return np.asarray((supply.net_torque(omega, torque_factor[row]) - taken) / scale)

    return excess


def full_load_scale(supply: TorqueSupply) -> float:
    """Return the size of the engine's torque, by which an excess is scaled [N.m].

    Parameters
    ----------
    supply : TorqueSupply
    """
    return float(np.max(np.abs(supply.source(supply.knots)))) * supply.factor or 1.0


def engine_grid(supply: TorqueSupply) -> FloatArray:
    """Return the engine speeds that every look for matches passes, rising, shape (m,) [rad/s].

    Parameters
    ----------
    supply : TorqueSupply
    """
    even = np.linspace(*supply.domain, _EVEN + 1)
    return np.unique(np.concatenate([supply.nodes(_IN_A_PIECE), even]))


def speeds_to_look_at(
    supply: TorqueSupply, converter: Converter, turbine_speed: FloatArray
) -> FloatArray:
    """Return a grid of engine speeds for each turbine speed, with every kink of both curves.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed : ndarray, shape (n,)
        [rad/s].

    Returns
    -------
    ndarray, shape (n, m)
        [rad/s], rising along axis 1 within the data of engine and converter, up to speed ratio 1;
        NaN where there are none.
    """
    bottom, top = supply.domain
    low, high = converter.domain
    high = min(high, 1.0)
    common = engine_grid(supply)
    rows = converter.characteristic.speed_ratio
    rows = rows[(rows != 0.0) & (rows <= high)]
    least = np.full(turbine_speed.size, bottom)
    most = np.full(turbine_speed.size, top)
    ahead, back = turbine_speed > 0.0, turbine_speed < 0.0
    # At speed ratios of the data only: low <= omega_t / omega <= high.
    least[ahead] = np.maximum(bottom, turbine_speed[ahead] / high) if high > 0.0 else np.nan
    if low > 0.0:
        most[ahead] = np.minimum(top, turbine_speed[ahead] / low)
        most[~ahead] = np.nan
    if low < 0.0:
        least[back] = np.maximum(bottom, turbine_speed[back] / low)
    else:
        least[back] = np.nan
    with np.errstate(invalid="ignore"):
        outside = ~(least <= most)
    kinks = turbine_speed[:, np.newaxis] / rows
    grid = np.concatenate([np.broadcast_to(common, (turbine_speed.size, common.size)), kinks], 1)
    grid = np.sort(np.clip(grid, least[:, np.newaxis], most[:, np.newaxis]), axis=1)
    grid[outside] = np.nan
    return grid


def points_of(converter: Converter, turbine_speed: FloatArray, found: Balances) -> OperatingPoints:
    """Return balances at turbine speeds as operating points, shape (r, n).

    Parameters
    ----------
    converter : Converter
    turbine_speed : ndarray, shape (n,)
        [rad/s].
    found : Balances
        Shape (r, n).
    """
    low, high = converter.domain
    omega = found.speed
    nu = np.clip(turbine_speed / np.where(np.isfinite(omega), omega, 1.0), low, min(high, 1.0))
    there = np.isfinite(omega)
    nan = np.where(there, 1.0, np.nan)
    return OperatingPoints(
        nu * nan,
        converter.torque_ratio_at(nu) * nan,
        omega,
        converter.capacity_at(nu) * omega**2,
        found.stable & there,
    )
