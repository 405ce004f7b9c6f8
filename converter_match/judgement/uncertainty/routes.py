"""Routes for many draws: some are driven, the others follow from those.

Time over a route jumps where a draw needs another gear, so a straight line through few runs will
not do. The first draws, which a Sobol sequence spreads evenly, are driven with their own engine
torque, mass and rolling resistance; the others are read off a surface through these. What takes a
machine of its own (loads, capacity, torque ratio, air around it) changes a run little: its effect
is the average over a few of the driven draws, in proportion.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from converter_match.components.converter import Converter
from converter_match.components.route import Route
from converter_match.curves import FloatArray
from converter_match.judgement.haul.haul import prepare
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.haul.loads import Draws
from converter_match.physics.haul.route import Hauler, RouteTotals, run_each
from converter_match.physics.heat.cooler_air import in_air
from converter_match.physics.wheels.draws import RoadFactors

DRIVEN = 64
_FEW = 8
_ROOT_3 = 3.0**0.5
_AS_GIVEN: Mapping[str, float] = MappingProxyType(
    {
        "loads": 1.0,
        "capacity": 1.0,
        "ratio_share": 1.0,
        "density": 1.0,
        "warmer": 0.0,
        "radius": 1.0,
    }
)


class Drawn(Protocol):
    """What of the draws a route needs: factors, shape (n,), and kelvin for `warmer`."""

    @property
    def outcome(self) -> Outcome:
        """What the data say."""

    @property
    def size(self) -> int:
        """Number of draws, n."""

    @property
    def road(self) -> RoadFactors:
        """Engine torque, loads, capacity, torque ratio, mass, rolling resistance, air."""

    @property
    def warmer(self) -> FloatArray:
        """How much warmer the air is than the data say [K]."""

    @property
    def whole_ratio(self) -> bool:
        """Whether the torque ratio is scaled as a whole."""


@dataclass(frozen=True, eq=False)
class RouteDraws:
    """What the routes of a duty come to; arrays of shape (routes, draws).

    Parameters
    ----------
    completes : ndarray of bool
    time, fuel, hottest : ndarray
        [s], [kg], highest oil temperature [K]; NaN without data, time and fuel also where the
        machine does not complete the route.
    doubt : float
        Root mean square of what the time of a draw that is not driven is off, as a share: half of
        the driven draws told by the other half.
    """

    completes: NDArray[np.bool_]
    time: FloatArray
    fuel: FloatArray
    hottest: FloatArray
    doubt: float


def route_draws(drawn: Drawn) -> RouteDraws:
    """Drive every route of a duty with every draw.

    Parameters
    ----------
    drawn : Drawn
    """
    runs = drawn.outcome.routes
    table, doubt = np.full((len(runs), 4, drawn.size), np.nan), 0.0
    for row, run in enumerate(runs):
        if run is not None:
            table[row], off = _on_route(drawn, run.hauler, run.route)
            doubt = max(doubt, off)
    completes = table[:, 0] > 0.5
    time, fuel = (np.where(completes, table[:, k], np.nan) for k in (1, 2))
    return RouteDraws(completes, time, fuel, table[:, 3], doubt)


def _on_route(drawn: Drawn, hauler: Hauler, route: Route) -> tuple[FloatArray, float]:
    """Return whether it is completed (1 or 0), time, fuel, oil, shape (4, n); the doubt."""
    driven = np.arange(min(drawn.size, DRIVEN))
    road = drawn.road
    factors = np.stack([road.torque, road.mass, road.rolling_resistance])
    few, moves = driven[:_FEW], {}
    runs = [(hauler, driven)]
    for name, values in _moved(drawn).items():
        step = _ROOT_3 * float(np.sqrt(np.mean((values - _AS_GIVEN[name]) ** 2)))
        if step > 0.0:
            moves[name] = (values - _AS_GIVEN[name]) / step
            moved = {**_AS_GIVEN, name: _AS_GIVEN[name] + step}
            runs.append((_built(drawn, hauler, route, moved), few))
    known, *changes = _run(drawn, route, runs)
    answer = _spread(factors, known)
    doubt = 0.0 if drawn.size <= driven.size else _doubt(factors[:, driven], known)
    base = known[:, : few.size]
    for share, change in zip(moves.values(), changes, strict=True):
        with np.errstate(divide="ignore", invalid="ignore"):
            grows = np.log(change[1:3] / base[1:3])
        answer[1:3] *= np.exp(_mean(grows) * share)
        answer[3] += _mean(change[3:] - base[3:])[0] * share
    return answer, doubt


def _doubt(factors: FloatArray, driven: FloatArray) -> float:
    """Return by how much the time of one half of the driven draws is missed from the other."""
    half = driven.shape[1] // 2
    off = _spread(factors, driven[:, :half])[1, half:] / driven[1, half:] - 1.0
    return float(np.sqrt(np.nanmean(off**2))) if np.isfinite(off).any() else 0.0


def _moved(drawn: Drawn) -> dict[str, FloatArray]:
    """Return what takes a machine of its own, shape (n,) each."""
    road = drawn.road
    moved = {"loads": road.loads, "capacity": road.capacity, "ratio_share": road.ratio_share}
    haulers = [run.hauler for run in drawn.outcome.routes if run is not None]
    thins = drawn.outcome.match.site.air is not None
    if any(h.machine.drag_area > 0.0 or (thins and h.cooler is not None) for h in haulers):
        moved["density"] = road.air
    return moved | {"warmer": drawn.warmer, "radius": road.radius}


def _run(
    drawn: Drawn, route: Route, runs: Sequence[tuple[Hauler, NDArray[np.intp]]]
) -> list[FloatArray]:
    """Drive some of the draws with each of several machines; rows as in `_on_route`, (4, m)."""
    road = drawn.road
    draws = [
        (
            machine,
            route,
            Draws.of(road.mass[which], road.torque[which], road.rolling_resistance[which]),
        )
        for machine, which in runs
    ]
    return [_rows(whole) for whole in run_each(draws)]


def _rows(whole: RouteTotals) -> FloatArray:
    there = whole.stuck_segment < 0
    none = np.full(there.size, np.nan)
    return np.stack(
        [
            there.astype(np.float64),
            np.where(there, whole.time, np.nan),
            none if whole.fuel is None else np.where(there, whole.fuel, np.nan),
            none if whole.hottest is None else whole.hottest,
        ]
    )


def _spread(factors: FloatArray, driven: FloatArray) -> FloatArray:
    """Return the answers of all draws from those that were driven, the first.

    Parameters
    ----------
    factors : ndarray, shape (d, n)
    driven : ndarray, shape (rows, k)
        NaN where there is none.

    Returns
    -------
    ndarray, shape (rows, n)
        On the surface through the driven draws: linear radial functions and a plane.
    """
    count = driven.shape[1]
    wide = np.ptp(factors, axis=1) > 1e-12
    answer = np.full((driven.shape[0], factors.shape[1]), np.nan)
    if factors.shape[1] <= count:
        return driven.copy()
    if not wide.any():
        answer[:] = driven[:, :1]
        return answer
    from scipy.interpolate import RBFInterpolator

    places = (factors[wide] / np.std(factors[wide], axis=1, keepdims=True)).T
    for row, values in enumerate(driven):
        known = np.isfinite(values)
        if known.sum() > places.shape[1] + 1:
            read = RBFInterpolator(places[:count][known], values[known], kernel="linear", degree=1)
            answer[row] = read(places)
    return answer


def _mean(changes: FloatArray) -> FloatArray:
    """Return the mean change of each row over the draws that have one, shape (rows, 1)."""
    known = np.isfinite(changes)
    total = np.where(known, changes, 0.0).sum(axis=1, keepdims=True)
    return np.asarray(total / np.maximum(known.sum(axis=1, keepdims=True), 1))


def _built(drawn: Drawn, hauler: Hauler, route: Route, factors: Mapping[str, float]) -> Hauler:
    """Return the machine of some factors."""
    loads, capacity, share = (factors[name] for name in ("loads", "capacity", "ratio_share"))
    if (loads, capacity, share) != (1.0, 1.0, 1.0):
        given = drawn.outcome.match
        match = varied(given, loads, capacity, share, whole=drawn.whole_ratio)
        hauler = prepare(match, hauler.driveline, hauler.machine, route)
    if factors["radius"] != 1.0:
        machine = hauler.machine.with_radius(factors["radius"])
        hauler = prepare(drawn.outcome.match, hauler.driveline, machine, route)
    density, cooler = hauler.air_density * factors["density"], hauler.cooler
    if cooler is not None and drawn.outcome.match.site.air is not None:
        cooler = in_air(cooler, density)
    return replace(
        hauler,
        air_density=density,
        cooler=cooler,
        air_temperature=hauler.air_temperature + factors["warmer"],
    )


def varied(
    given: MatchResult, loads: float, capacity: float, share: float, *, whole: bool
) -> MatchResult:
    """Return a match with factors on loads, capacity and torque ratio; its points stay as given.

    Parameters
    ----------
    given : MatchResult
    loads, capacity, share : float
        Factors on what the engine drives, on the capacity, and on mu - 1 (on mu where `whole`).
    whole : bool
        Whether the torque ratio is scaled as a whole.
    """
    pumps = given.engine.pumps
    engine = given.engine.replace(
        accessories=tuple(
            replace(item, power=loads * item.power) for item in given.engine.accessories
        ),
        pumps=None if pumps is None else pumps.replace(value=loads * pumps.value),
    )
    return replace(
        given,
        engine=engine,
        converter=_scaled(given.converter, capacity, share, whole=whole),
        supply=_loaded(given.supply, loads),
        hydraulic_torque=loads * given.hydraulic_torque,
    )


def _scaled(converter: Converter, capacity: float, share: float, *, whole: bool) -> Converter:
    ratio = converter.torque_ratio
    return converter.replace(
        capacity=converter.capacity * capacity,
        torque_ratio=ratio * share if whole else 1.0 + (ratio - 1.0) * share,
    )


def _loaded(supply: TorqueSupply, loads: float) -> TorqueSupply:
    return replace(
        supply,
        constant=loads * supply.constant,
        laws=tuple(replace(law, torque=loads * law.torque) for law in supply.laws),
        tables=tuple(replace(table, y=loads * table.y) for table in supply.tables),
    )
