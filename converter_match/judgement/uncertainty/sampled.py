"""What a combination does in one condition, for many draws of what is not known exactly.

`drawn_match` has engine and converter; here they are on the ground and on the routes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.constants import SEA_LEVEL_TEMPERATURE
from converter_match.curves import FloatArray
from converter_match.judgement.conditions.air import cooler_around
from converter_match.judgement.uncertainty.drawn_match import DrawnMatch, kept
from converter_match.judgement.uncertainty.effort import drawn_effort
from converter_match.judgement.uncertainty.response import few_draws, responses, steps_of
from converter_match.judgement.uncertainty.routes import RouteDraws, route_draws
from converter_match.judgement.verdict.view import Nominal
from converter_match.judgement.wheels.tractive import LEAST_START
from converter_match.physics.heat.cooler_air import EXPONENT
from converter_match.physics.match.turbine import Drive, TurbinePoints, TurbineShaft
from converter_match.physics.wheels.drawn_drive import RoadState
from converter_match.physics.wheels.drawn_road import DrawnRoad
from converter_match.physics.wheels.draws import RoadFactors

# After the criteria: for figures and remarks, and off the present machine by what is compared.
_ASKED_AGAIN = frozenset(
    {
        "_air", "stall", "stall_speed", "stall_turbine_torque", "stall_heat", "coupling_speed",
        "_speed_at_by", "steepest_start", "_on_grade_by", "_routes",
    }
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Sampled(DrawnMatch):
    """Draws of one combination in one condition; everything is worked out when asked for.

    Parameters
    ----------
    outcome, deviations, size
        As for `DrawnMatch`.
    """

    def answers(self) -> dict[str, Any]:
        """Return what was worked out so far of what is asked for again, by name."""
        return {name: value for name, value in self.__dict__.items() if name in _ASKED_AGAIN}

    def with_answers(self, answers: Mapping[str, Any]) -> Sampled:
        """Return the same draws, which know some answers already.

        Parameters
        ----------
        answers : mapping of str to object
            As `answers` gives them, of the same draws of the same combination.
        """
        told = replace(self)
        told.__dict__.update(answers)
        return told

    # --- the wheels --------------------------------------------------------------------------

    @property
    def warmer(self) -> FloatArray:
        """How much warmer the air is than the data say [K]."""
        return self._of("air-temperature")

    @cached_property
    def density(self) -> FloatArray:
        """Factor on the density of the air."""
        air = self.outcome.match.site.air
        warmth = SEA_LEVEL_TEMPERATURE if air is None else air.temperature
        return np.asarray((1.0 + self._of("air-pressure")) / (1.0 + self.warmer / warmth))

    @cached_property
    def road(self) -> RoadFactors:
        """Factors for the balance on the road."""
        return RoadFactors(
            torque=self.torque,
            loads=self.loads,
            capacity=self.capacity,
            ratio_share=self.ratio_share,
            mass=1.0 + self._of("mass"),
            rolling_resistance=1.0 + self._of("rolling-resistance"),
            air=self.density,
            radius=1.0 + self._of("rolling-radius"),
            whole_ratio=self.whole_ratio,
        )

    def shaft_points(self, drive: Drive, parameter: FloatArray) -> TurbinePoints:
        """Return the turbine shaft of every draw at parameters (p,) of its curve, shape (p, n)."""
        match = self.outcome.match
        shaft = TurbineShaft(match.supply, match.converter, self.road)
        return shaft.at(drive, parameter[:, np.newaxis])

    @cached_property
    def on_road(self) -> DrawnRoad:
        """Every draw in every gear and drive."""
        result = self.outcome.tractive
        assert result is not None
        return DrawnRoad(result.drives, result.road_loads, self.road)

    @cached_property
    def steepest_start(self) -> FloatArray:
        """Steepest grade to start on in any forward gear; NaN where a draw does not start."""
        grade = self.on_road.steepest_start(self.stall_speed)
        return np.where(grade >= LEAST_START, grade, np.nan)

    def speed_on(self, grade: float) -> FloatArray:
        """Return the fastest steady speed on a grade [m/s]."""
        return self.on_grade(grade).speed

    def heat_on(self, grade: float) -> FloatArray:
        """Return the heat into the transmission oil at that speed [W]."""
        return self.on_grade(grade).heat

    @kept
    def on_grade(self, grade: float) -> RoadState:
        """Return the fastest steady state on a grade, over all gears and drives of each draw."""
        result = self.outcome.tractive
        assert result is not None
        limit = result.driveline.speed_limit
        if "rolling-radius" not in self.deviations:
            return self.on_road.fastest(grade, limit)
        state = self.on_road.fastest(grade)
        state.speed[:] = state.speed * self.road.radius
        if limit is not None:
            held_back = state.speed > limit
            state.speed[held_back] = limit
            state.engine_speed[held_back] = state.heat[held_back] = np.nan
        return state

    def cooled_on(self, grade: float) -> NDArray[np.bool_]:
        """Return whether some forward gear climbs a grade within the cooler's capacity."""
        capacity = self.cooler_capacity
        cool = np.zeros(self.size, dtype=bool)
        if capacity is not None:
            for which in self.on_road.ahead:
                state = self.on_road.held(which, grade)
                cool |= state.held & (state.heat <= capacity)
        return cool

    @cached_property
    def cooler_capacity(self) -> FloatArray | None:
        """What the cooler carries with the oil at its limit [W]: less on a warmer day."""
        result = self.outcome.tractive
        if result is None or result.cooler_capacity is None:
            return None
        cooler = cooler_around(self.outcome.match.site, result.machine)
        limit = result.machine.oil.temperature_limit
        assert cooler is not None
        assert limit is not None
        warmer = self.warmer
        grid = np.linspace(float(np.min(warmer)), float(np.max(warmer)) + 1e-9, 33)
        at = [float(cooler.heat_at(limit - result.air_temperature - rise)) for rise in grid]
        carried = np.interp(warmer, grid, at)
        return carried if self.outcome.match.site.air is None else carried * self.density**EXPONENT

    # --- what is worked out for some draws and read off for the others ------------------------

    @cached_property
    def _steps(self) -> dict[str, float]:
        return steps_of(self.deviations)

    @cached_property
    def _few(self) -> Sampled:
        return replace(self, deviations=few_draws(self._steps), size=2 * len(self._steps) + 1)

    def effort(self, speed: FloatArray) -> FloatArray:
        """Return the greatest effort within grip at road speeds [N], shape (s, n)."""
        result, few = self.outcome.tractive, self._few
        assert result is not None
        drawn = drawn_effort(few.shaft_points, result, few.road, speed)
        # The envelope is read as the nominal one is, so that no deviation means no difference.
        nominal = Nominal(self.outcome).effort(speed)
        return responses(self.deviations, self._steps, drawn / drawn[:, :1] * nominal)

    @cached_property
    def _routes(self) -> RouteDraws:
        return route_draws(self)

    @property
    def completes(self) -> NDArray[np.bool_]:
        """Whether each draw completes each route, shape (r, n)."""
        return self._routes.completes

    @property
    def route_doubt(self) -> float:
        """What the time of a draw that was not driven is off, as a share."""
        return self._routes.doubt

    @property
    def route_time(self) -> FloatArray:
        """Time for each route [s], shape (r, n)."""
        return self._routes.time

    @property
    def route_fuel(self) -> FloatArray:
        """Fuel for each route [kg], shape (r, n)."""
        return self._routes.fuel

    @property
    def hottest_oil(self) -> FloatArray:
        """Highest oil temperature on each route [K], shape (r, n)."""
        return self._routes.hottest
