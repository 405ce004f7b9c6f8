"""Engine and converter for many draws of what is not known exactly.

Each draw has factors on engine torque, loads, capacity, torque ratio, mass, rolling resistance and
air. Matches are those of `physics.match.solver` with arrays of factors: a factor a on the loads is
a factor 1/a on torque and capacity, ``f T - a L = C omega^2`` being
``(f/a) T - L = (C/a) omega^2``. With no deviation a draw is what the data say (`verdict.view`).

A tolerance on the torque ratio is one of its value at stall. It fades out towards the coupling
point, where the torque ratio of a freewheeling stator is 1 by definition.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, wraps
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.uncertainty import words
from converter_match.judgement.uncertainty.air import air_factor
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.view import View
from converter_match.notes import Note
from converter_match.physics.arrangement.torque_divider import impeller_points
from converter_match.physics.match.margin import match_margin
from converter_match.physics.match.match_set import MatchSet
from converter_match.physics.match.solver import match

# Deviations of a draw: shares of the value, and kelvin for the air temperature.
Deviations = Mapping[str, FloatArray]
_ETA_GRID = 2001
_CELLS = 4
_Draws = TypeVar("_Draws", bound="DrawnMatch")
_Value = TypeVar("_Value")


def kept(method: Callable[[_Draws, float], _Value]) -> Callable[[_Draws, float], _Value]:
    """Have a method answer once for each argument, as `cached_property` does for a property."""

    @wraps(method)
    def read(self: _Draws, given: float) -> _Value:
        known: dict[float, _Value] = self.__dict__.setdefault(f"_{method.__name__}_by", {})
        if given not in known:
            known[given] = method(self, given)
        return known[given]

    return cast("Callable[[_Draws, float], _Value]", read)


@dataclass(frozen=True, eq=False)
class DrawnMatch(View):
    """Draws of one combination in one condition, as far as engine and converter go.

    Parameters
    ----------
    outcome : Outcome
        As the data say.
    deviations : mapping of str to ndarray, shape (n,)
        By quantity, as in `study.study.TOLERANCE_DIMENSIONS`; missing ones are zero.
    size : int
        Number of draws.
    """

    outcome: Outcome
    deviations: Deviations
    size: int

    def _of(self, name: str) -> FloatArray:
        given = self.deviations.get(name)
        return np.zeros(self.size) if given is None else np.asarray(given, dtype=np.float64)

    @cached_property
    def _air(self) -> tuple[FloatArray, tuple[Note, ...]]:
        unchanged = np.ones(self.size)
        if not {"air-pressure", "air-temperature"} & set(self.deviations):
            return unchanged, ()
        try:
            factor = air_factor(self.outcome, self._of("air-pressure"), self._of("air-temperature"))
        except InputError as error:
            name = self.outcome.combination.name
            note = words.NOTES.note("air-tolerance-left-out", name=name, why=str(error))
            return unchanged, (note,)
        return factor, ()

    @property
    def air(self) -> FloatArray:
        """Factor on the engine's torque by the air, 1 where it is as given."""
        return self._air[0]

    @property
    def notes(self) -> tuple[Note, ...]:
        """What was left out."""
        return self._air[1]

    @cached_property
    def torque(self) -> FloatArray:
        """Factor on the engine's torque before loads."""
        return np.asarray((1.0 + self._of("engine-torque")) * self.air)

    @cached_property
    def loads(self) -> FloatArray:
        """Factor on everything the engine drives beside the converter.

        Where the pumps have a tolerance of their own, each has its share of the load at the stall
        speed that the data say.
        """
        rest = self._of("accessories")
        if "pumps" not in self.deviations:
            return np.asarray(1.0 + rest)
        supply, stall = self.outcome.match.supply, self.outcome.match.stall
        speed = np.asarray(np.mean(supply.domain) if stall is None else stall.engine_speed)
        whole = float(supply.load_torque(speed))
        pumped = float(supply.constant + sum(float(table(speed)) for table in supply.tables))
        share = pumped / whole if whole > 0.0 else 0.0
        return np.asarray(1.0 + (1.0 - share) * rest + share * self._of("pumps"))

    @cached_property
    def capacity(self) -> FloatArray:
        """Factor on the capacity: that on K to the power -2."""
        return np.asarray((1.0 + self._of("k-factor")) ** -2.0)

    @property
    def whole_ratio(self) -> bool:
        """Whether the torque ratio is scaled as a whole: a fixed stator."""
        return self.outcome.match.converter.stator == "fixed"

    @cached_property
    def ratio_share(self) -> FloatArray:
        """Factor on mu - 1, or on mu for a fixed stator."""
        share = 1.0 + self._of("torque-ratio")
        at_stall = float(self.outcome.match.converter.torque_ratio_at(0.0))
        if self.whole_ratio or at_stall <= 1.0:
            return np.asarray(share if self.whole_ratio else np.ones(self.size))
        return np.asarray(np.maximum((share * at_stall - 1.0) / (at_stall - 1.0), 0.0))

    def torque_ratio(self, speed_ratio: FloatArray | float) -> FloatArray:
        """Return the torque ratio of each draw."""
        mu = np.asarray(self.outcome.match.converter.torque_ratio_at(speed_ratio))
        if self.whole_ratio:
            return np.asarray(mu * self.ratio_share)
        return np.asarray(1.0 + (mu - 1.0) * self.ratio_share)

    def matched(self, speed_ratio: FloatArray | float) -> MatchSet:
        """Return the matches of each draw; torques are to be multiplied by `loads`."""
        result = self.outcome.match
        return match(
            result.supply,
            result.converter,
            speed_ratio,
            capacity_factor=self.capacity / self.loads,
            torque_factor=self.torque / self.loads,
        )

    def engine_at(self, speed_ratio: FloatArray | float) -> FloatArray:
        """Return the engine speed [rad/s] as reached from idle, NaN where there is no match."""
        return np.asarray(self.matched(speed_ratio).from_idle().engine_speed)

    def input_torque(self, speed_ratio: FloatArray | float, engine: FloatArray) -> FloatArray:
        """Return the impeller torque C omega^2 [N.m]."""
        c = np.asarray(self.outcome.match.converter.capacity_at(speed_ratio))
        return np.asarray(self.capacity * c * engine * engine)

    # --- the match ---------------------------------------------------------------------------

    @cached_property
    def stall(self) -> MatchSet:
        """Every match of each draw at stall; torques are to be multiplied by `loads`."""
        return self.matched(0.0)

    @cached_property
    def stall_speed(self) -> FloatArray:
        """[rad/s], NaN where there is no stall match."""
        return np.asarray(self.stall.from_idle().engine_speed)

    @property
    def stall_matches(self) -> FloatArray:
        """Number of engine speeds at which engine and converter match at stall."""
        return self.stall.count.astype(np.float64)

    @cached_property
    def match_margin(self) -> FloatArray:
        """Least change to another match at any speed ratio; 0 where there are several now."""
        lowest, highest = self.outcome.capacity_range
        return match_margin(
            self.outcome.match.supply,
            lowest * self.capacity,
            highest * self.capacity,
            torque_factor=self.torque,
            load_factor=self.loads,
        ).least

    @cached_property
    def stall_turbine_torque(self) -> FloatArray:
        """[N.m]."""
        return np.asarray(self.torque_ratio(0.0) * self.input_torque(0.0, self.stall_speed))

    @cached_property
    def stall_heat(self) -> FloatArray:
        """[W]."""
        return np.asarray(self.input_torque(0.0, self.stall_speed) * self.stall_speed)

    @cached_property
    def coupling_speed(self) -> FloatArray | None:
        """Engine speed at the coupling point [rad/s]; None without one in the data."""
        nu = self.outcome.match.converter.coupling
        return None if nu is None or nu > 1.0 else self.engine_at(nu)

    @kept
    def speed_ratio_at(self, efficiency: float) -> FloatArray | None:
        """Return the speed ratio at which an efficiency is reached; None where it never is."""
        converter = self.outcome.match.converter
        nominal = converter.efficiency_crossings(efficiency)
        if not nominal.size:
            return None
        # From eta' = nu (1 + s (mu - 1)) = level follows the share s at which each nu has it: read
        # backwards, as far as the efficiency rises.
        best = max(converter.best_efficiency(0.0, converter.coupling or 1.0)[0], float(nominal[0]))
        nu = np.union1d(np.linspace(0.2 * float(nominal[0]), best, _ETA_GRID), nominal[:1])
        mu = np.asarray(converter.torque_ratio_at(nu))
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (
                efficiency / (nu * mu) if self.whole_ratio else (efficiency / nu - 1.0) / (mu - 1.0)
            )
        usable = np.isfinite(share) & (share > 0.0)
        nu, share = nu[usable], share[usable]
        if nu.size < 2:  # reached with mu = 1, whatever the torque ratio
            return np.full(self.size, float(nominal[0]))
        falling = np.concatenate([[True], np.diff(np.minimum.accumulate(share)) < 0.0])
        order = np.flatnonzero(falling)[::-1]
        return np.interp(self.ratio_share, share[order], nu[order], right=float(nu[0]))

    @kept
    def speed_at(self, efficiency: float) -> FloatArray | None:
        """Return the engine speed where an efficiency is reached [rad/s]; None where never."""
        nu = self.speed_ratio_at(efficiency)
        return None if nu is None else self.engine_at(nu)

    @cached_property
    def _nodes(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        supply = self.outcome.match.supply
        nodes = supply.nodes(_CELLS)
        return nodes, supply.factor * np.asarray(supply.source(nodes)), supply.load_torque(nodes)

    def _greatest(self, low: FloatArray, high: FloatArray, power: bool) -> FloatArray:
        """Return the greatest net torque or power between two engine speeds, both included."""
        nodes, source, load = self._nodes
        scale = nodes if power else np.ones(nodes.size)
        best = np.full(self.size, -np.inf)
        for node, made, taken in zip(nodes, source * scale, load * scale, strict=True):
            inside = (low <= node) & (node <= high)
            np.maximum(best, self.torque * made - self.loads * taken, out=best, where=inside)
        supply = self.outcome.match.supply
        for end in (low, high):
            speed = np.where(np.isnan(end), supply.domain[0], np.clip(end, *supply.domain))
            net = self.torque * supply.factor * np.asarray(supply.source(speed))
            net = (net - self.loads * supply.load_torque(speed)) * (speed if power else 1.0)
            best = np.maximum(best, np.where(np.isfinite(end), net, -np.inf))
        return np.where(np.isfinite(low) & np.isfinite(high), best, np.nan)

    @cached_property
    def _lowest_speed(self) -> FloatArray:
        """Lowest engine speed on the locus: where the capacity is greatest.

        It lies below the stall speed by as much as without tolerances, to first order.
        """
        locus = self.outcome.match.locus.from_idle()
        ahead = (locus.speed_ratio >= 0.0) & np.isfinite(locus.engine_speed)
        # An engine that cannot come up from idle may still hold a match that is stable.
        points = self.stall.points
        lowest = -most_stable(-points.engine_speed, points.stable)
        at_stall = np.where(np.isnan(self.stall_speed), lowest, self.stall_speed)
        stall = self.outcome.match.stall
        if stall is None or not ahead.any():
            return at_stall
        share = float(locus.engine_speed[ahead].min()) / stall.engine_speed
        return np.asarray(at_stall * share)

    @cached_property
    def _end_speed(self) -> FloatArray:
        """Engine speed at the light end of the characteristic."""
        nu = min(self.outcome.match.converter.domain[1], 1.0)
        nominal = float(match(self.outcome.match.supply, self.outcome.match.converter, nu)
                        .from_idle().engine_speed)  # fmt: skip
        nodes, source, load = self._nodes
        peak = float(nodes[np.argmax((source - load) * nodes)])
        # Beyond the speed of the greatest power it does not matter where the locus ends.
        if nominal > 1.03 * peak:
            return np.full(self.size, nominal)
        return self.engine_at(nu)

    @cached_property
    def impeller_torque(self) -> FloatArray:
        """Highest impeller torque at any stable match [N.m]."""
        if self.outcome.divided is not None:
            return self._in_divider(lambda speed, torque: torque)
        return self._greatest(self._lowest_speed, self._end_speed, power=False)

    @cached_property
    def impeller_power(self) -> FloatArray:
        """Highest impeller power at any stable match [W]."""
        if self.outcome.divided is not None:
            return self._in_divider(lambda speed, torque: speed * torque)
        return self._greatest(self._lowest_speed, self._end_speed, power=True)

    @cached_property
    def impeller_speed(self) -> FloatArray:
        """Highest impeller speed at any stable match [rad/s]."""
        if self.outcome.divided is not None:
            return self._in_divider(lambda speed, torque: speed)
        return self._end_speed

    def _in_divider(self, of: Callable[[FloatArray, FloatArray], FloatArray]) -> FloatArray:
        """Return what the impeller in a torque divider comes to, where the data say it is most."""
        divided = self.outcome.divided
        assert divided is not None
        given = self.outcome.match.locus.points
        value = of(*impeller_points(divided.inner, divided.divider, given))
        at = self._ratio_of_most(value)
        if at is None:
            return np.full(self.size, np.nan)
        points = self.matched(at).points
        speed, torque = impeller_points(divided.inner, divided.divider, points)
        return most_stable(of(speed, torque * self.capacity), points.stable)

    @cached_property
    def turbine_torque(self) -> FloatArray:
        """Highest torque into the transmission at any stable match [N.m].

        At the speed ratio at which the data say it is highest: stall, but for a few arrangements.
        """
        at = self._ratio_of_most(self.outcome.match.locus.points.turbine_torque)
        if at is None:
            return np.full(self.size, np.nan)
        points = (self.stall if at == 0.0 else self.matched(at)).points
        torque = self.torque_ratio(at) * self.input_torque(at, points.engine_speed)
        return most_stable(torque, points.stable)

    def _ratio_of_most(self, value: FloatArray) -> float | None:
        """Return the speed ratio of the stable match with the highest value, by the data."""
        points = self.outcome.match.locus.points
        settled = points.found & points.stable
        if not settled.any():
            return None
        return float(points.speed_ratio.flat[np.argmax(np.where(settled, value, -np.inf))])

    @kept
    def usable_share(self, efficiency: float) -> FloatArray:
        """Return the greatest power absorbed at an efficiency and above, over the greatest."""
        start = self.speed_at(efficiency)
        if start is None:
            return np.full(self.size, np.nan)
        low, high = self.outcome.match.supply.domain
        whole = self._greatest(np.full(self.size, low), np.full(self.size, high), power=True)
        end = self._working_end(efficiency)
        return np.asarray(self._greatest(start, end, power=True) / whole)

    def _working_end(self, efficiency: float) -> FloatArray:
        """Return the engine speed at the light end of the working range [rad/s]."""
        converter = self.outcome.match.converter
        last = min(converter.domain[1], 1.0)
        if float(converter.efficiency_at(last)) <= efficiency:
            return self.engine_at(float(converter.efficiency_crossings(efficiency)[-1]))
        return self._end_speed if last < 1.0 else self.engine_at(last)

    @cached_property
    def idle_torque(self) -> FloatArray:
        """Turbine torque at low idle with the turbine held [N.m], NaN where idle is not held."""
        idle = np.full(self.size, self.outcome.combination.engine.low_idle)
        torque = self.torque_ratio(0.0) * self.input_torque(0.0, idle)
        return np.where(self.stall.pulls_away, torque, np.nan)


def most_stable(values: FloatArray, stable: NDArray[np.bool_]) -> FloatArray:
    """Return the highest value at a stable match of each draw, NaN without one; axis 0."""
    known = np.where(stable & np.isfinite(values), values, -np.inf).max(axis=0)
    return np.where(np.isfinite(known), known, np.nan)
