"""The quantities that criteria look at, for any number of draws of one combination.

Criteria ask a `View` and nothing else for what a tolerance may move. A study without tolerances is
a view of one draw, `Nominal`; `judgement.uncertainty.sampled.Sampled` is one of many. A quantity
that is added here is abstract until both give it, so a criterion cannot be left undrawn.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.judgement.verdict.measure import Measures
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.reach import Reach
from converter_match.judgement.wheels.result import GradeRow
from converter_match.study.criteria import Choice
from converter_match.study.study import Study


class View(ABC):
    """One combination in one condition; arrays end with the draws, shape (..., n).

    NaN where a draw has no answer. What no tolerance touches (limits, ids, what is missing) stands
    in `outcome`.

    Parameters
    ----------
    outcome : Outcome
        What the data say without tolerances.
    size : int
        Number of draws, n.
    """

    outcome: Outcome
    size: int

    @cached_property
    def reach(self) -> Reach:
        """How far the data reach, and what lies beyond."""
        return Reach(self.outcome)

    # --- engine and converter ----------------------------------------------------------------

    @property
    @abstractmethod
    def stall_speed(self) -> FloatArray:
        """Engine speed at stall, as reached from idle [rad/s], shape (n,)."""

    @property
    @abstractmethod
    def stall_matches(self) -> FloatArray:
        """Number of engine speeds at which engine and converter match at stall, shape (n,)."""

    @property
    @abstractmethod
    def match_margin(self) -> FloatArray:
        """Least change of torque or capacity to another match at any speed ratio, shape (n,).

        Zero where there are several now.
        """

    @abstractmethod
    def usable_share(self, efficiency: float) -> FloatArray:
        """Return the greatest power absorbed at an efficiency and above, over the greatest, (n,).

        NaN where that efficiency is not reached.
        """

    @property
    @abstractmethod
    def impeller_speed(self) -> FloatArray:
        """Highest impeller speed at any stable match [rad/s], shape (n,)."""

    @property
    @abstractmethod
    def impeller_torque(self) -> FloatArray:
        """Highest impeller torque at any stable match [N.m], shape (n,)."""

    @property
    @abstractmethod
    def impeller_power(self) -> FloatArray:
        """Highest impeller power at any stable match [W], shape (n,)."""

    @property
    @abstractmethod
    def turbine_torque(self) -> FloatArray:
        """Highest torque into the transmission at any stable match [N.m], shape (n,)."""

    @property
    @abstractmethod
    def idle_torque(self) -> FloatArray:
        """Turbine torque at low idle with the turbine held [N.m], shape (n,)."""

    # --- at the wheels -----------------------------------------------------------------------

    @abstractmethod
    def effort(self, speed: FloatArray) -> FloatArray:
        """Return the greatest effort within grip at road speeds [m/s] (s,): [N], shape (s, n)."""

    @property
    @abstractmethod
    def steepest_start(self) -> FloatArray:
        """Steepest grade to start on (rise / run), shape (n,)."""

    @abstractmethod
    def speed_on(self, grade: float) -> FloatArray:
        """Return the fastest speed on a grade of the study [m/s], shape (n,)."""

    @abstractmethod
    def heat_on(self, grade: float) -> FloatArray:
        """Return the heat into the transmission oil at that speed [W], shape (n,)."""

    @abstractmethod
    def cooled_on(self, grade: float) -> NDArray[np.bool_]:
        """Return whether some forward gear climbs a grade within the cooler's capacity, (n,)."""

    @property
    @abstractmethod
    def cooler_capacity(self) -> FloatArray | None:
        """With the oil at its limit in the condition's air [W], shape (n,); None without data."""

    # --- on the routes of the duty, which are counted r --------------------------------------

    @property
    @abstractmethod
    def completes(self) -> NDArray[np.bool_]:
        """Whether the machine completes each route, shape (r, n)."""

    @property
    @abstractmethod
    def route_time(self) -> FloatArray:
        """Time for each route [s], shape (r, n)."""

    @property
    @abstractmethod
    def route_fuel(self) -> FloatArray:
        """Fuel for each route [kg], shape (r, n)."""

    @property
    @abstractmethod
    def hottest_oil(self) -> FloatArray:
        """Highest oil temperature on each route [K], shape (r, n)."""


@dataclass(frozen=True, eq=False)
class Nominal(View):
    """A view of one draw: what the data say.

    Parameters
    ----------
    outcome : Outcome
    """

    outcome: Outcome
    size: int = field(default=1, init=False)

    @property
    def stall_speed(self) -> FloatArray:
        """As in `View`."""
        stall = self.outcome.match.stall
        return _one(None if stall is None else stall.engine_speed)

    @property
    def stall_matches(self) -> FloatArray:
        """As in `View`."""
        locus = self.outcome.match.locus
        ahead = locus.points.speed_ratio[0] >= 0.0
        return _one(float(locus.count[ahead][0]))

    @property
    def match_margin(self) -> FloatArray:
        """As in `View`."""
        return self.outcome.match_margin.least

    def usable_share(self, efficiency: float) -> FloatArray:
        """As in `View`."""
        usable = self.outcome.usable_power(efficiency)
        return _one(None if usable is None else usable / self.outcome.greatest_power)

    @property
    def impeller_speed(self) -> FloatArray:
        """As in `View`."""
        return _highest(self.outcome.impeller[0])

    @property
    def impeller_torque(self) -> FloatArray:
        """As in `View`."""
        return _highest(self.outcome.impeller[1])

    @property
    def impeller_power(self) -> FloatArray:
        """As in `View`."""
        speed, torque = self.outcome.impeller
        return _highest(speed * torque)

    @property
    def turbine_torque(self) -> FloatArray:
        """As in `View`."""
        points = self.outcome.match.locus.points
        return _highest(points.turbine_torque[points.found & points.stable])

    @property
    def idle_torque(self) -> FloatArray:
        """As in `View`."""
        idle = self.outcome.match.idle
        return _one(None if idle is None else idle.turbine_torque)

    def effort(self, speed: FloatArray) -> FloatArray:
        """As in `View`."""
        assert self.outcome.tractive is not None
        cover = self.outcome.tractive.envelope
        return np.interp(speed, cover.speed, cover.force, right=np.nan)[:, np.newaxis]

    @property
    def steepest_start(self) -> FloatArray:
        """As in `View`."""
        assert self.outcome.tractive is not None
        row = self.outcome.tractive.steepest_start
        return _one(None if row is None else row.steepest_start)

    def speed_on(self, grade: float) -> FloatArray:
        """As in `View`."""
        return _one(grade_row(self.outcome, grade).speed)

    def heat_on(self, grade: float) -> FloatArray:
        """As in `View`."""
        return _one(grade_row(self.outcome, grade).heat)

    def cooled_on(self, grade: float) -> NDArray[np.bool_]:
        """As in `View`."""
        return np.array([bool(gears_cooled_on(self.outcome, grade))])

    @property
    def cooler_capacity(self) -> FloatArray | None:
        """As in `View`."""
        wheels = self.outcome.tractive
        capacity = None if wheels is None else wheels.cooler_capacity
        return None if capacity is None else _one(capacity)

    @cached_property
    def completes(self) -> NDArray[np.bool_]:
        """As in `View`."""
        runs = self.outcome.routes
        return np.array([[run is not None and run.standstill is None] for run in runs], dtype=bool)

    @property
    def route_time(self) -> FloatArray:
        """As in `View`."""
        return _column([None if run is None else run.time for run in self.outcome.routes])

    @property
    def route_fuel(self) -> FloatArray:
        """As in `View`."""
        return _column([None if run is None else run.fuel for run in self.outcome.routes])

    @property
    def hottest_oil(self) -> FloatArray:
        """As in `View`."""
        return _column(
            [
                None if run is None or run.totals.hottest is None else run.totals.hottest[0]
                for run in self.outcome.routes
            ]
        )


Criterion = Callable[[Study, Choice, View, View | None], Measures]
"""What measures a criterion: of study, choice, the combination, and the present machine or None."""


def grade_row(outcome: Outcome, grade: float) -> GradeRow:
    """Return what a machine does on a grade of the study."""
    assert outcome.tractive is not None
    return next(row for row in outcome.tractive.grades if row.grade == grade)


def gears_cooled_on(outcome: Outcome, grade: float) -> list[str]:
    """Return the forward gears that hold a grade of the study within the cooler's capacity."""
    wheels = outcome.tractive
    assert wheels is not None
    if wheels.cooler_capacity is None:
        return []
    points = wheels.points
    cool = (
        (points.grade == grade) & points.held & (points.wheels.oil_heat <= wheels.cooler_capacity)
    )
    gears = [wheels.drives[k].gear for k in points.drive[cool].tolist()]
    return list(dict.fromkeys(gear.name for gear in gears if gear.direction == "forward"))


def _one(value: float | None) -> FloatArray:
    return np.array([np.nan if value is None else float(value)])


def _column(values: list[float | None]) -> FloatArray:
    return np.array([[np.nan if value is None else float(value)] for value in values]).reshape(
        len(values), 1
    )


def _highest(values: FloatArray) -> FloatArray:
    return _one(float(values.max()) if values.size else None)
