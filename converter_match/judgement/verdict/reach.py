"""How far the data of a combination reach, and what lies beyond: the ranges that are missing.

Between two rows a curve is interpolated, which says little where the rows are far apart; beyond the
last row nothing is known. What counts as far is common practice, no source: a fifth of the speeds
from low idle to rated speed, a quarter of the speed ratios from 0 to 1. An end that lies a
twentieth of the range short of where it is needed is taken for reaching it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from converter_match.components.base import in_rpm
from converter_match.components.converter import Converter
from converter_match.components.engine import SpeedTable
from converter_match.curves import FloatArray
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.words import COUPLING, HIGHEST_EFFICIENCY, missing
from converter_match.physics.wheels.tractive import surplus

WIDE = 0.20
WIDE_ON_SHEET = 0.25
SHORT = 0.05
_ROUNDING = 1e-9
# A fluid coupling runs at a slip of a few per cent under its rated load (common practice, no
# source): data that end before say nothing of work.
_COUPLING_WORKS = 0.9

Range = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Reach:
    """What the data of one combination say nothing about, in one condition.

    Parameters
    ----------
    outcome : Outcome
    """

    outcome: Outcome

    # --- the engine --------------------------------------------------------------------------

    @cached_property
    def _torque_gaps(self) -> list[Range]:
        engine = self.outcome.combination.engine
        return gaps(engine.speed, engine.low_idle, engine.rated_speed)

    def torque(self, low: float, high: float) -> tuple[str, ...]:
        """Return which full-load torque between two engine speeds [rad/s] is missing."""
        engine = self.outcome.combination.engine
        return tuple(
            missing("torque-rows", id=engine.id, speeds=in_rpm(*gap))
            for gap in self._torque_gaps
            if gap[0] < high and gap[1] > low
        )

    @property
    def running(self) -> tuple[str, ...]:
        """What is missing between low idle and rated speed.

        Where an engine settles depends on all of it: what lies below holds it back, or does not.
        """
        engine = self.outcome.combination.engine
        return self.torque(engine.low_idle, engine.rated_speed)

    @property
    def at_stall(self) -> tuple[str, ...]:
        """What is missing from low idle up to the stall speed; anywhere, where there is none."""
        engine, stall = self.outcome.combination.engine, self.outcome.match.stall
        end = engine.rated_speed if stall is None else stall.engine_speed
        return (*self.torque(engine.low_idle, end), *self.turbine_held)

    @property
    def at_idle(self) -> tuple[str, ...]:
        """What is missing at low idle."""
        idle = self.outcome.combination.engine.low_idle
        return (*self.torque(idle, np.nextafter(idle, np.inf)), *self.turbine_held)

    @property
    def braking(self) -> tuple[str, ...]:
        """What is missing of the driven engine at rated speed; empty without any table."""
        engine = self.outcome.combination.engine
        table = engine.exhaust_brake or engine.motoring
        rated = engine.rated_speed
        return () if table is None else self._ends_of("motoring-rows", table, rated, rated)

    @property
    def fuel(self) -> tuple[str, ...]:
        """What is missing of the fuel sheet; empty without one."""
        engine = self.outcome.combination.engine
        table = None if engine.fuel is None else engine.fuel.specific
        if table is None:
            return ()
        return self._ends_of("fuel-rows", table, engine.low_idle, engine.rated_speed)

    def _ends_of(self, code: str, table: SpeedTable, low: float, high: float) -> tuple[str, ...]:
        """Return what is missing at the ends of a table that is smooth between its rows."""
        engine = self.outcome.combination.engine
        found = gaps(table.speed, engine.low_idle, engine.rated_speed, wide=np.inf)
        return tuple(
            missing(code, id=engine.id, speeds=in_rpm(*gap))
            for gap in found
            if gap[0] < high and gap[1] >= low
        )

    # --- the converter -----------------------------------------------------------------------

    @property
    def _converter(self) -> Converter:
        """The converter itself, behind a torque divider as well."""
        divided = self.outcome.divided
        return self.outcome.match.converter if divided is None else divided.inner

    @cached_property
    def _sheet_gaps(self) -> list[Range]:
        """Ranges of the speed ratio about which rows that lie far apart say little."""
        rows = self._converter.characteristic.speed_ratio.tolist()
        return [
            (low, high) for low, high in pairwise(rows) if high - low > WIDE_ON_SHEET + _ROUNDING
        ]

    def _sheet(self, low: float, high: float) -> tuple[str, ...]:
        """Return what is missing between two rows of the sheet, between two speed ratios."""
        return tuple(
            missing("converter-rows", id=self._converter.id, low=f"{a:.2f}", high=f"{b:.2f}")
            for a, b in self._sheet_gaps
            if a < high and b > low
        )

    @property
    def within(self) -> tuple[str, ...]:
        """What is missing between two rows of the converter's sheet, from stall to coupling."""
        converter = self._converter
        return self._sheet(0.0, min(converter.domain[1], converter.coupling or 1.0))

    @property
    def turbine_held(self) -> tuple[str, ...]:
        """What is missing between two rows of the sheet about stall."""
        return self._sheet(0.0, 0.0)

    @cached_property
    def beyond(self) -> tuple[str, ...]:
        """What is missing behind the converter's sheet, if it ends before the coupling point."""
        converter = self._converter
        low = converter.domain[1]
        if converter.coupling is not None:
            return ()
        if converter.stator == "none":
            ends, what = low < _COUPLING_WORKS, f"{_COUPLING_WORKS:.2f}"
        elif converter.stator == "fixed":
            ends, what = converter.best_efficiency()[0] >= low < 1.0, HIGHEST_EFFICIENCY
        else:
            ends, what = True, COUPLING
        if not ends:
            return ()
        return (missing("converter-rows", id=converter.id, low=f"{low:.2f}", high=what),)

    @property
    def light_end(self) -> tuple[str, ...]:
        """The speed ratios from the last row of the sheet to 1."""
        converter = self._converter
        low = f"{converter.domain[1]:.2f}"
        return (missing("converter-rows", id=converter.id, low=low, high="1.00"),)

    def works_on_at(self, efficiency: float) -> tuple[str, ...]:
        """Return what is missing where the sheet ends inside the working range, or before it."""
        if self.beyond:
            return self.beyond
        converter = self._converter
        end = min(converter.domain[1], 1.0)
        return self.light_end if end < 1.0 and converter.efficiency_at(end) > efficiency else ()

    @property
    def sheet_end(self) -> tuple[str, ...]:
        """What is missing behind the converter's sheet."""
        return self.beyond or self.light_end

    @property
    def converter(self) -> tuple[str, ...]:
        """What is missing of the converter from stall to the coupling point."""
        return (*self.within, *self.beyond)

    @property
    def everywhere(self) -> tuple[str, ...]:
        """What is missing where the two run together."""
        return (*self.running, *self.converter)

    # --- the wheels --------------------------------------------------------------------------

    @property
    def at_wheels(self) -> tuple[str, ...]:
        """What is missing for the effort at any speed; where a sheet ends is looked at apart."""
        line = self.outcome.combination.driveline
        locks = line is not None and any(gear.lock_up.allowed for gear in line.forward)
        # Behind a sheet that ends so early nobody knows where the lock-up clutch closes.
        return (*self.running, *self.within, *(self.beyond if locks else ()))

    @cached_property
    def ends(self) -> list[tuple[int, float, float, float]]:
        """Each forward drive whose data end before its effort does.

        Its index, road speed [m/s] and effort [N] where the data end, and the road speed of high
        idle at speed ratio 1, behind which there is no effort in that gear.
        """
        wheels = self.outcome.tractive
        assert wheels is not None
        converter, engine = wheels.match.converter, wheels.match.engine
        last = converter.domain[1]
        if last >= 1.0:
            return []
        ends = []
        for k, drive in enumerate(wheels.drives):
            if drive.gear.direction != "forward" or drive.drive != "converter":
                continue
            curve = drive.curve()
            if not curve.force.size or not bool(drive.active(curve.turbine.turbine_speed)[-1]):
                continue
            grip = float(wheels.road_loads[k].adhesion(0.0))
            speed = float(curve.road_speed(drive.machine, grip)[-1])
            share = engine.high_idle / float(curve.turbine.turbine_speed[-1])
            ends.append((k, speed, float(curve.force[-1]), speed * share))
        return ends

    def effort(self, speed: FloatArray, known: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the least and the greatest effort that the data allow at road speeds.

        Beyond its data a gear pulls no more than where they end: turbine torque falls with speed.

        Parameters
        ----------
        speed, known : ndarray, shape (s,)
            [m/s], and the effort by the data [N]; NaN where they do not reach.

        Returns
        -------
        least, greatest : ndarray, shape (s,)
        """
        least = np.nan_to_num(known)
        greatest = least.copy()
        wheels = self.outcome.tractive
        assert wheels is not None
        for k, at_end, force, stops in self.ends:
            grip = float(wheels.road_loads[k].adhesion(0.0))
            beyond = (speed > at_end) & (speed < stops)
            greatest = np.where(beyond, np.maximum(greatest, min(force, grip)), greatest)
        return least, greatest

    def fastest(self, grade: float, known: float | None) -> float:
        """Return the greatest speed on a grade [m/s] that the data do not exclude.

        Parameters
        ----------
        grade : float
            Rise / run.
        known : float or None
            Speed on it by the data.
        """
        wheels = self.outcome.tractive
        assert wheels is not None
        fastest = known or 0.0
        for k, _, _, stops in self.ends:
            drive, load = wheels.drives[k], wheels.road_loads[k]
            if surplus(drive, load, drive.curve(), grade)[-1] > 0.0:
                fastest = max(fastest, stops)
        ceiling = wheels.driveline.speed_limit
        return fastest if ceiling is None else max(min(fastest, ceiling), known or 0.0)


def gaps(rows: FloatArray, low: float, high: float, wide: float = WIDE) -> list[Range]:
    """Return where rows leave a range of engine speeds open.

    Parameters
    ----------
    rows : ndarray, shape (n,)
        Speeds of the rows, rising [rad/s].
    low, high : float
        The range [rad/s].
    wide : float
        Share of the range that may lie between two rows.

    Examples
    --------
    >>> import numpy as np
    >>> gaps(np.array([100.0, 150.0, 174.0, 198.0]), 80.0, 200.0)
    [(80.0, 100.0), (100.0, 150.0)]
    """
    span = high - low
    open_ranges = []
    if rows[0] > low + SHORT * span:
        open_ranges.append((low, float(rows[0])))
    inner = rows[(rows >= low) & (rows <= high)]
    before, after = rows[rows < low][-1:], rows[rows > high][:1]
    for left, right in pairwise(np.concatenate([before, inner, after]).tolist()):
        if right - left > wide * span * (1.0 + _ROUNDING):
            open_ranges.append((left, right))
    if rows[-1] < high - SHORT * span:
        open_ranges.append((float(rows[-1]), high))
    return open_ranges
