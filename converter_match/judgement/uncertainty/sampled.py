"""What a combination does in one condition, for many draws of what is not known exactly.

Each draw has factors on engine torque, loads, capacity, torque ratio, mass, rolling resistance and
air. Matches are those of `physics.match.solver` with arrays of factors: a factor a on the loads is
a
factor 1/a on torque and capacity, ``f T - a L = C omega^2`` being ``(f/a) T - L = (C/a) omega^2``.

A tolerance on the torque ratio is one of its value at stall. It fades out towards the coupling
point, where the torque ratio of a freewheeling stator is 1 by definition.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.components.site import Site
from converter_match.constants import SEA_LEVEL_TEMPERATURE
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.notes import Note, assumption
from converter_match.physics.engine.site_correction import STANDARD_AIR, site_effect
from converter_match.physics.match.match_set import MatchSet
from converter_match.physics.match.solver import match
from converter_match.physics.wheels.road_draws import RoadFactors, RoadState, steady_state
from converter_match.physics.wheels.road_load import RoadLoad

# Deviations of a draw: shares of the value, and kelvin for the air temperature.
Deviations = Mapping[str, FloatArray]
_AIR_GRID = 17
_ETA_GRID = 2001
_CELLS = 4
_LEVEL = 0.8


@dataclass(frozen=True, eq=False)
class Sampled:
    """Draws of one combination in one condition; everything is worked out when asked for.

    Parameters
    ----------
    own : Outcome
        As the data say.
    deviations : mapping of str to ndarray, shape (n,)
        By quantity, as in `study.study.TOLERANCE_DIMENSIONS`; missing ones are zero.
    size : int
        Number of draws.
    """

    own: Outcome
    deviations: Deviations
    size: int
    notes: list[Note] = field(default_factory=list)

    def _of(self, name: str) -> FloatArray:
        given = self.deviations.get(name)
        return np.zeros(self.size) if given is None else np.asarray(given, dtype=np.float64)

    @cached_property
    def air(self) -> FloatArray:
        """Factor on the engine's torque by the air, 1 where it is as given."""
        if not {"air-pressure", "air-temperature"} & set(self.deviations):
            return np.ones(self.size)
        try:
            return air_factor(self.own, self._of("air-pressure"), self._of("air-temperature"))
        except InputError as error:
            self.notes.append(
                assumption(
                    "air-tolerance-left-out",
                    f"{self.own.combination.name}: the tolerance of the air is left out of the "
                    f"engine's torque ({error}).",
                )
            )
            return np.ones(self.size)

    @cached_property
    def torque(self) -> FloatArray:
        """Factor on the engine's torque before loads."""
        return np.asarray((1.0 + self._of("engine-torque")) * self.air)

    @cached_property
    def loads(self) -> FloatArray:
        """Factor on everything the engine drives beside the converter."""
        return np.asarray(1.0 + self._of("accessories"))

    @cached_property
    def capacity(self) -> FloatArray:
        """Factor on the capacity: that on K to the power -2."""
        return np.asarray((1.0 + self._of("k-factor")) ** -2.0)

    @property
    def whole_ratio(self) -> bool:
        """Whether the torque ratio is scaled as a whole: a fixed stator."""
        return self.own.match.converter.stator == "fixed"

    @cached_property
    def ratio_share(self) -> FloatArray:
        """Factor on mu - 1, or on mu for a fixed stator."""
        share = 1.0 + self._of("torque-ratio")
        at_stall = float(self.own.match.converter.torque_ratio_at(0.0))
        if self.whole_ratio or at_stall <= 1.0:
            return np.asarray(share if self.whole_ratio else np.ones(self.size))
        return np.asarray(np.maximum((share * at_stall - 1.0) / (at_stall - 1.0), 0.0))

    def torque_ratio(self, speed_ratio: FloatArray | float) -> FloatArray:
        """Return the torque ratio of each draw."""
        mu = np.asarray(self.own.match.converter.torque_ratio_at(speed_ratio))
        if self.whole_ratio:
            return np.asarray(mu * self.ratio_share)
        return np.asarray(1.0 + (mu - 1.0) * self.ratio_share)

    def matched(self, speed_ratio: FloatArray | float) -> MatchSet:
        """Return the matches of each draw; torques are to be multiplied by `loads`."""
        result = self.own.match
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
        c = np.asarray(self.own.match.converter.capacity_at(speed_ratio))
        return np.asarray(self.capacity * c * engine * engine)

    # --- the match ---------------------------------------------------------------------------

    @cached_property
    def _stall(self) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
        found = self.matched(0.0)
        speed = np.asarray(found.from_idle().engine_speed)
        return speed, found.count.astype(np.float64), found.pulls_away

    @property
    def stall_speed(self) -> FloatArray:
        """[rad/s], NaN where there is no stall match."""
        return self._stall[0]

    @property
    def intersections(self) -> FloatArray:
        """Number of engine speeds at which engine and converter agree at stall."""
        return self._stall[1]

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
        nu = self.own.match.converter.coupling
        return None if nu is None or nu > 1.0 else self.engine_at(nu)

    @cached_property
    def speed_ratio_at_80(self) -> FloatArray | None:
        """Speed ratio at which the efficiency reaches 80 %; None where it never does."""
        converter = self.own.match.converter
        nominal = converter.efficiency_crossings(_LEVEL)
        if not nominal.size:
            return None
        # From eta' = nu (1 + s (mu - 1)) = level follows the share s at which each nu has it: read
        # backwards, as far as the efficiency rises.
        best = max(converter.best_efficiency(0.0, converter.coupling or 1.0)[0], float(nominal[0]))
        nu = np.union1d(np.linspace(0.2 * float(nominal[0]), best, _ETA_GRID), nominal[:1])
        mu = np.asarray(converter.torque_ratio_at(nu))
        with np.errstate(divide="ignore", invalid="ignore"):
            share = _LEVEL / (nu * mu) if self.whole_ratio else (_LEVEL / nu - 1.0) / (mu - 1.0)
        usable = np.isfinite(share) & (share > 0.0)
        nu, share = nu[usable], share[usable]
        if nu.size < 2:  # reached with mu = 1: at nu = 0.8, whatever the torque ratio
            return np.full(self.size, float(nominal[0]))
        falling = np.concatenate([[True], np.diff(np.minimum.accumulate(share)) < 0.0])
        order = np.flatnonzero(falling)[::-1]
        return np.interp(self.ratio_share, share[order], nu[order], right=float(nu[0]))

    @cached_property
    def speed_at_80(self) -> FloatArray | None:
        """Engine speed where the efficiency reaches 80 % [rad/s]."""
        nu = self.speed_ratio_at_80
        return None if nu is None else self.engine_at(nu)

    @cached_property
    def _nodes(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        supply = self.own.match.supply
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
        supply = self.own.match.supply
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
        locus = self.own.match.locus.from_idle()
        ahead = (locus.speed_ratio >= 0.0) & np.isfinite(locus.engine_speed)
        stall = self.own.match.stall
        if stall is None or not ahead.any():
            return self.stall_speed
        return np.asarray(
            self.stall_speed * float(locus.engine_speed[ahead].min()) / stall.engine_speed
        )

    @cached_property
    def _end_speed(self) -> FloatArray:
        """Engine speed at the light end of the characteristic."""
        nu = min(self.own.match.converter.domain[1], 1.0)
        nominal = float(match(self.own.match.supply, self.own.match.converter, nu)
                        .from_idle().engine_speed)  # fmt: skip
        nodes, source, load = self._nodes
        peak = float(nodes[np.argmax((source - load) * nodes)])
        # Beyond the speed of the greatest power it does not matter where the locus ends.
        if nominal > 1.03 * peak:
            return np.full(self.size, nominal)
        return self.engine_at(nu)

    @cached_property
    def highest_input_torque(self) -> FloatArray:
        """Highest impeller torque from stall to the light end [N.m]."""
        return self._greatest(self._lowest_speed, self._end_speed, power=False)

    @cached_property
    def highest_input_power(self) -> FloatArray:
        """Highest impeller power from stall to the light end [W]."""
        return self._greatest(self._lowest_speed, self._end_speed, power=True)

    @cached_property
    def usable_share(self) -> FloatArray | None:
        """Greatest power taken up at 80 % efficiency and above, over the greatest net power."""
        if self.speed_at_80 is None:
            return None
        low, high = self.own.match.supply.domain
        whole = self._greatest(np.full(self.size, low), np.full(self.size, high), power=True)
        ranges = self.own.match.working_range(_LEVEL)
        end = self._end_speed if ranges and ranges[-1].ends_with_data else self.engine_at(
            ranges[-1].high if ranges else 0.0
        )  # fmt: skip
        return np.asarray(self._greatest(self.speed_at_80, end, power=True) / whole)

    @cached_property
    def creep_torque(self) -> FloatArray:
        """Turbine torque at low idle with the turbine held [N.m], NaN where idle is not held."""
        idle = np.full(self.size, self.own.combination.engine.low_idle)
        torque = self.torque_ratio(0.0) * self.input_torque(0.0, idle)
        return np.where(self._stall[2], torque, np.nan)

    # --- the wheels --------------------------------------------------------------------------

    @cached_property
    def road(self) -> RoadFactors:
        """Factors for the balance on the road."""
        air = self.own.match.site.air
        warmth = SEA_LEVEL_TEMPERATURE if air is None else air.temperature
        density = (1.0 + self._of("air-pressure")) / (1.0 + self._of("air-temperature") / warmth)
        return RoadFactors(
            torque=self.torque,
            loads=self.loads,
            capacity=self.capacity,
            ratio_share=self.ratio_share,
            mass=1.0 + self._of("mass"),
            rolling_resistance=1.0 + self._of("rolling-resistance"),
            air=density,
            whole_ratio=self.whole_ratio,
        )

    def steepest_start(self) -> FloatArray | None:
        """Return the steepest grade to start on in the gear of the nominal one; None without."""
        result = self.own.tractive
        if result is None or result.steepest_start is None:
            return None
        row = next(k for k, item in enumerate(result.gears) if item is result.steepest_start)
        drive, load = result.drives[row], result.road_loads[row]
        line, machine = drive.driveline, drive.machine
        ratio = line.overall_ratio(drive.gear) * line.efficiency(drive.gear)
        drag = float(drive.gear.drag_torque(0.0))
        force = (self.stall_turbine_torque - drag) * ratio / machine.rolling_radius
        weight = load.weight * self.road.mass
        c = load.rolling_resistance * self.road.rolling_resistance
        sine = (force - load.running_drag) / weight / np.hypot(1.0, c)
        with np.errstate(invalid="ignore"):
            by_effort = np.tan(np.arcsin(np.minimum(sine, 1.0)) - np.arctan(c))
        by_effort = np.where(sine >= 1.0, np.inf, by_effort)
        if load.traction is None:
            return np.asarray(by_effort)
        return np.minimum(by_effort, _by_grip(load, load.traction, c, weight))

    def on_grade(self, grade: float) -> RoadState | None:
        """Return the fastest steady state on a grade; None where it was not looked at.

        The gear is that of the nominal answer, or the next that holds the grade where it does not.
        """
        if grade not in self._states:
            result = self.own.tractive
            rows = [] if result is None else [x for x in result.grades if x.grade == grade]
            settles = rows and rows[0].limited_by in ("balance", "governor", "limiter")
            self._states[grade] = self._settled(result, grade) if result and settles else None
        return self._states[grade]

    @cached_property
    def _states(self) -> dict[float, RoadState | None]:
        return {}

    def _settled(self, result: TractiveResult, grade: float) -> RoadState:
        points = result.points
        held = np.flatnonzero((points.grade == grade) & points.held)
        order = held[np.argsort(-points.speed[held])]
        ahead = [k for k in order if result.drives[points.drive[k]].gear.direction == "forward"]
        speed, engine, heat = (np.full(self.size, np.nan) for _ in range(3))
        for k in ahead:
            left = np.flatnonzero(np.isnan(speed))
            if not left.size:
                break
            drive = result.drives[points.drive[k]]
            state = steady_state(
                drive,
                result.road_loads[points.drive[k]],
                grade,
                self.road.picked(left),
                float(points.wheels.turbine.parameter[k]),
            )
            speed[left], engine[left], heat[left] = state.speed, state.engine_speed, state.heat
        ceiling = result.driveline.speed_limit
        if ceiling is not None:
            above = speed > ceiling
            speed = np.where(above, ceiling, speed)
            engine, heat = (np.where(above, np.nan, values) for values in (engine, heat))
        return RoadState(speed, engine, heat)


def _by_grip(
    load: RoadLoad, traction: float, rolling: FloatArray, weight: FloatArray
) -> FloatArray:
    """Return the steepest grade that grip allows: `RoadLoad.steepest_by_adhesion` over arrays."""
    drag = load.running_drag / weight

    def steepest(a: FloatArray, b: float) -> FloatArray:
        size = np.hypot(a, b)
        with np.errstate(invalid="ignore"):
            grade = np.tan(np.arccos(drag / size) - np.arctan2(b, a))
        grade = np.where(drag >= size, -np.inf, grade)
        return np.where((b <= 0.0) & (a >= drag), np.inf, grade)

    grade = steepest(traction * load.driven_share - rolling, 1.0 - traction * load.transfer)
    if load.transfer > 0.0:
        lifts = grade > (1.0 - load.driven_share) / load.transfer
        grade = np.where(lifts, steepest(traction - rolling, 1.0), grade)
    return grade


def air_factor(own: Outcome, pressure: FloatArray, temperature: FloatArray) -> FloatArray:
    """Return what a deviation of the air does to the engine's torque, relative to the site's.

    Parameters
    ----------
    own : Outcome
    pressure : ndarray
        Share of the air pressure.
    temperature : ndarray
        [K].

    Raises
    ------
    InputError
        If the correction lacks a datum, or a table does not reach.
    """
    from scipy.interpolate import RegularGridInterpolator

    engine, effect = own.combination.engine, own.match.site
    air = effect.air or engine.reference_air or STANDARD_AIR
    humidity = None if own.condition.site is None else own.condition.site.relative_humidity

    def factor(share: float, kelvin: float) -> float:
        site = Site(
            id="draw", name="draw", source="draw",
            air_pressure=air.pressure * (1.0 + share),
            air_temperature=air.temperature + kelvin,
            relative_humidity=humidity,
        )  # fmt: skip
        return site_effect(engine, site).torque_factor

    def axis(values: FloatArray) -> FloatArray:
        low, high = float(values.min()), float(values.max())
        if high - low < 1e-12:
            return np.array([low - 1e-6, high + 1e-6])
        return np.linspace(low, high, _AIR_GRID)

    shares, kelvins = axis(pressure), axis(temperature)
    table = np.array([[factor(float(p), float(t)) for t in kelvins] for p in shares])
    read = RegularGridInterpolator((shares, kelvins), table / factor(0.0, 0.0), method="linear")
    inside = [np.clip(pressure, shares[0], shares[-1]), np.clip(temperature, kelvins[0],
                                                                kelvins[-1])]  # fmt: skip
    return np.asarray(read(np.stack(inside, axis=-1)))
