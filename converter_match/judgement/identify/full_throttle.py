"""A full-throttle run against the bench curve of its converter: what fits, and what is foretold.

Three steps, each on less than the next one asks of:

1. Engine speed and speed ratio through the bench curve give the turbine's torque; acceleration and
   road load give the force at the wheels. Their quotient is the efficiency of the driveline,

       eta = F / (i C(nu) omega^2 mu(nu)),      F = (1 + e) m a + f m g + rho/2 A v^2,

   with i turbine speed over road speed, e the share of turning parts. No engine curve is in it.
2. With eta the force in first gear gives the engine's torque, F / (i eta mu), and a cubic over
   engine speed.
3. With that engine the next gear is accelerated. Of it only i is taken, from its speeds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import ArrayLike, NDArray

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.answer.noted import Answer
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline, Gear
from converter_match.components.engine import Engine
from converter_match.components.full_throttle import FullThrottleRun
from converter_match.components.machine import Machine
from converter_match.components.surface import Surface
from converter_match.components.tyre import Tyre
from converter_match.constants import GRAVITY, RPM, SEA_LEVEL_DENSITY
from converter_match.curves import FloatArray
from converter_match.judgement.identify.identify import LogBasis, identify
from converter_match.judgement.identify.result import Identification
from converter_match.judgement.identify.words import NEXT_TITLE, ORIGINS, RUN, RUN_TITLE
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.acceleration import acceleration
from converter_match.notes import Note
from converter_match.physics.identify.identify import Steadiness

TOLD = (0.19, 0.8)
"""Speed ratios between which the run tells of the torque: below, it pulls away; above, a hundredth
of speed ratio, the error of reading it, is several percent of the torque (`per_hundredth`)."""
_RADIUS = 0.35  # m; any: only turbine speed over road speed counts
_ROWS = 12
_IDLE = 650 * RPM  # of the run, read off its first rows
_ABOVE_RATED = 1.03


@dataclass(frozen=True, kw_only=True)
class RoadAssumed:
    """What is taken of vehicle and road where a run does not give it, SI units.

    Parameters
    ----------
    mass : float
        [kg].
    turning : float
        Turning parts as a share of the mass.
    rolling : float
        Rolling resistance as a share of the weight.
    drag_area : float
        Drag coefficient times frontal area [m^2].
    density : float
        Of the air [kg/m^3].

    Notes
    -----
    The defaults are common practice, no source.
    """

    mass: float
    turning: float = 0.03
    rolling: float = 0.012
    drag_area: float = 1.3
    density: float = SEA_LEVEL_DENSITY

    def force(self, acceleration: FloatArray, road_speed: FloatArray) -> FloatArray:
        """Return the force at the wheels [N] that an acceleration [m/s^2] asks for."""
        return (
            (1.0 + self.turning) * self.mass * acceleration
            + self.rolling * self.mass * GRAVITY
            + 0.5 * self.density * self.drag_area * road_speed**2
        )


@dataclass(frozen=True, eq=False, repr=False)
class FirstGear(Answer):
    """What the first gear of a run says of driveline and engine, SI units.

    Parameters
    ----------
    run : FullThrottleRun
    converter : Converter
        As on the bench.
    road : RoadAssumed
    span : (float, float)
        Times between which it runs in first gear [s].
    """

    run: FullThrottleRun
    converter: Converter
    road: RoadAssumed
    span: tuple[float, float]

    @cached_property
    def inside(self) -> NDArray[np.bool_]:
        """Rows in first gear, shape (n,)."""
        return self.run.rows(*self.span)

    def reduction_between(self, low: float, high: float) -> float:
        """Return turbine speed over road speed between two times [s], the median [rad/m]."""
        rows = self.run.rows(low, high)
        return float(np.median(self.run.turbine_speed[rows] / self.run.road_speed[rows]))

    @cached_property
    def reduction(self) -> float:
        """Of the first gear [rad/m]."""
        return self.reduction_between(*self.span)

    @cached_property
    def force(self) -> FloatArray:
        """At the wheels, from the acceleration [N], shape (n,)."""
        return self.road.force(self.run.acceleration, self.run.road_speed)

    @cached_property
    def torque_ratio(self) -> FloatArray:
        """By the bench curve; beyond its last row as there. Shape (n,)."""
        return self.converter.torque_ratio_at(self._ratio)

    @cached_property
    def efficiencies(self) -> FloatArray:
        """Measured force over that of the bench curve, row by row in first gear; shape (n,)."""
        pulled = self.torque_ratio * self.converter.capacity_at(self._ratio)
        share = self.force / (pulled * self.run.engine_speed**2 * self.reduction)
        return np.where(self.inside, share, np.nan)

    @cached_property
    def told(self) -> NDArray[np.bool_]:
        """Rows that tell of the torque, shape (n,)."""
        low, high = TOLD
        return self.inside & (self.run.speed_ratio >= low) & (self.run.speed_ratio < high)

    def per_hundredth(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return by what share the capacity falls over 0.01 of speed ratio, about each given one.

        Parameters
        ----------
        speed_ratio : array_like
            At least 0.005 inside the bench curve; any shape.
        """
        nu = np.asarray(speed_ratio, dtype=np.float64)
        ends = [self.converter.capacity_at(nu + step) for step in (-0.005, 0.005)]
        return np.abs(ends[1] / ends[0] - 1.0)

    @cached_property
    def efficiency(self) -> float:
        """Of the driveline: the mean over the rows that tell of the torque."""
        return float(np.mean(self.efficiencies[self.told]))

    @cached_property
    def scatter(self) -> float:
        """Standard deviation of the efficiency from row to row."""
        return float(np.std(self.efficiencies[self.told]))

    @cached_property
    def torque(self) -> FloatArray:
        """Of the engine, from the force in first gear [N.m]; NaN in others. Shape (n,)."""
        made = self.force / (self.reduction * self.efficiency * self.torque_ratio)
        return np.where(self.inside, made, np.nan)

    def torque_at(self, engine_speed: ArrayLike) -> FloatArray:
        """Return the fitted torque [N.m] at engine speeds [rad/s], any shape; ends are held."""
        speed = self.run.engine_speed[self.inside]
        given = np.asarray(engine_speed, dtype=np.float64)
        return np.asarray(self._cubic(np.clip(given, speed.min(), speed.max())))

    @cached_property
    def _cubic(self) -> Polynomial:
        rows = self.inside
        return Polynomial.fit(self.run.engine_speed[rows], self.torque[rows], 3)

    @cached_property
    def _ratio(self) -> FloatArray:
        return np.minimum(self.run.speed_ratio, self.converter.domain[1])

    @cached_property
    def engine(self) -> Engine:
        """The fitted engine; below its first row, where the run does not go, torque is held."""
        speed = self.run.engine_speed[self.inside]
        rows = np.linspace(speed.min(), speed.max(), _ROWS)
        return Engine(
            id="fitted-engine",
            name="Engine of the first gear",
            source="fitted to the first gear of a run",
            rating_basis="net",
            governing="speed",
            low_idle=_IDLE,
            rated_speed=float(rows[-1]),
            high_idle=_ABOVE_RATED * float(rows[-1]),
            speed=np.append(_IDLE, rows),
            torque=self.torque_at(np.append(rows[0], rows)),
        )

    @property
    def notes(self) -> tuple[Note, ...]:  # type: ignore[override]
        """What is assumed."""
        road = self.road
        return (
            RUN.note("road-assumed", turning=road.turning, rolling=road.rolling,
                     area=road.drag_area),
            RUN.note("engine-ends-held"),
            RUN.note("inertia-in-fit"),
        )  # fmt: skip

    def blocks(self) -> tuple[Block, ...]:
        """Return every number with where it comes from."""
        speed = self.run.engine_speed[self.inside]
        found = (
            ("mass", "measured", Quantity(self.road.mass, "mass")),
            ("turning", "assumed", Quantity(self.road.turning, "weight_share")),
            ("rolling", "assumed", Quantity(self.road.rolling, "weight_share")),
            ("drag_area", "assumed", Quantity(self.road.drag_area, None, ".2f")),
            ("reduction", "measured", Quantity(self.reduction, None, ".2f")),
            ("rows", "measured", Quantity(float(self.told.sum()), None, ".0f")),
            ("efficiency", "fitted", Quantity(self.efficiency, None, ".2f")),
            ("scatter", "fitted", Quantity(self.scatter, None, ".3f")),
            ("slowest", "fitted", Quantity(float(self.torque_at(speed.min())), "torque")),
            ("fastest", "fitted", Quantity(float(self.torque_at(speed.max())), "torque")),
        )
        return (
            Block(
                "first_gear",
                title=RUN_TITLE,
                columns=(
                    Heading("key", ""),
                    Heading("number", "number"),
                    Heading("origin", "where from"),
                    Heading("value", "value"),
                ),
                rows=tuple((key, ORIGINS[key], origin, value) for key, origin, value in found),
                rows_key="",
            ),
        )

    def next_gear(self, low: float, high: float) -> NextGear:
        """Foretell another gear from the engine of the first.

        Parameters
        ----------
        low, high : float
            Times between which the run is in that gear, clear of shifts and inside the bench curve
            [s].
        """
        return NextGear(self, (low, high))

    def identified(
        self,
        *,
        length: float = Steadiness.length,
        speed_change: float = Steadiness.speed_change,
        torque_change: float = Steadiness.torque_change,
    ) -> Identification:
        """Return the converter that the run tells of as a log, the bench curve beside it.

        The engine's torque in it is that of the force in first gear, so that the bench curve above
        speed ratio 0.8 has no part in it.

        Parameters
        ----------
        length : float
            Of a stretch that may be steady [s].
        speed_change, torque_change : float
            Most change within one, as a share; by default as of a machine's log.

        Raises
        ------
        InputError
            If the run has too few steady stretches.
        """
        log = {
            "time": self.run.time,
            "engine speed": self.run.engine_speed,
            "turbine speed": self.run.turbine_speed,
            "engine torque": self.torque_at(self.run.engine_speed),
        }
        steady = Steadiness(length=length, speed_change=speed_change, torque_change=torque_change)
        return identify([log], LogBasis(converter=self.converter, steadiness=steady))


@dataclass(frozen=True, eq=False, repr=False)
class NextGear(Answer):
    """A gear of a run, foretold from the engine of the first gear; SI units.

    Parameters
    ----------
    first : FirstGear
    span : (float, float)
        Times [s].
    """

    first: FirstGear
    span: tuple[float, float]

    @cached_property
    def inside(self) -> NDArray[np.bool_]:
        """Rows in this gear, shape (n,)."""
        return self.first.run.rows(*self.span)

    @cached_property
    def reduction(self) -> float:
        """Turbine speed over road speed: the median of its own speeds, no force in it [rad/m]."""
        return self.first.reduction_between(*self.span)

    @cached_property
    def foretold(self) -> tuple[FloatArray, FloatArray]:
        """Road speed [m/s] and engine speed [rad/s] at the rows inside, shape (m,) each.

        Laid over the run at the first row; from there on both clocks run free.
        """
        first, road = self.first, self.first.road
        # From rest in this gear: what follows a road speed does not depend on how it was reached.
        gear = Gear(name="next", ratio=_RADIUS * self.reduction, efficiency=first.efficiency)
        line = Driveline(id="one-gear", name="One gear", source="speeds of the run", gears=(gear,))
        vehicle = Machine(
            id="vehicle",
            name="Vehicle",
            source=first.run.source,
            mass_empty=road.mass,
            running_gear=Tyre(rolling_radius=_RADIUS),
            frontal_area=road.drag_area,
            drag_coefficient=1.0,
            wheel_inertia=road.turning * road.mass * _RADIUS**2,
        )
        rows = self.inside
        measured = first.run.road_speed[rows]
        run = acceleration(
            solve(first.engine, first.converter),
            line,
            vehicle,
            Surface(name="road", rolling_resistance=road.rolling),
            to_speed=1.02 * float(measured[-1]),
        ).run
        clock = first.run.time[rows] - first.run.time[rows][0]
        clock = clock + np.interp(measured[0], run.speed, run.time)
        return np.interp(clock, run.time, run.speed), np.interp(clock, run.time, run.engine_speed)

    @cached_property
    def off(self) -> tuple[float, float]:
        """Largest difference of road and of engine speed, as shares of those measured."""
        run, rows = self.first.run, self.inside
        pairs = zip(self.foretold, (run.road_speed[rows], run.engine_speed[rows]), strict=True)
        road, engine = (float(np.max(np.abs(told / seen - 1.0))) for told, seen in pairs)
        return road, engine

    @property
    def notes(self) -> tuple[Note, ...]:  # type: ignore[override]
        """What is assumed."""
        return self.first.notes

    def blocks(self) -> tuple[Block, ...]:
        """Return how far off it is, and measured beside foretold, a row for about each second."""
        run, rows = self.first.run, np.flatnonzero(self.inside)
        road, engine = self.foretold
        facts: tuple[tuple[Heading, Any], ...] = (
            (Heading("reduction", "turbine speed over road speed (measured) [rad/m]"),
             self.reduction),
            (Heading("off_road_speed", "largest difference of road speed", "weight_share"),
             self.off[0]),
            (Heading("off_engine_speed", "largest difference of engine speed", "weight_share"),
             self.off[1]),
        )  # fmt: skip
        speed, turns = "velocity", "angular_speed"
        return (
            Block(
                "next_gear",
                title=NEXT_TITLE,
                facts=facts,
                columns=(
                    Heading("time", "time", "time"),
                    Heading("road_speed", "road speed, measured", speed),
                    Heading("foretold_road_speed", "predicted", speed),
                    Heading("engine_speed", "engine, measured", turns),
                    Heading("foretold_engine_speed", "predicted", turns),
                ),
                rows=tuple(
                    (
                        float(run.time[row]),
                        float(run.road_speed[row]),
                        float(road[at]),
                        float(run.engine_speed[row]),
                        float(engine[at]),
                    )
                    for at, row in list(enumerate(rows))[::4]
                ),
            ),
        )
