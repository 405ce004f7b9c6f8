"""Where to shift for the greatest pull, and whether the gearbox would hunt.

For the greatest pull a gear is left where the next one pulls as hard: ``F_low(v) = F_high(v)``.

Hunting. While the drive is interrupted for the shift time t the machine slows by ``R t / m``. The
heaviest resistance with which it reaches the upshift at all is the effort there, so the downshift
must lie at least ``F_low(v_up) t / m`` below, or the gearbox shifts back at once. Apart from that,
where the upper gear pulls less than the lower one at the upshift speed, there is a band of
resistance ``F_high < R < F_low`` in which the machine reaches the upshift and cannot hold the next
gear: it shifts to and fro whatever the hysteresis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.components.driveline import Driveline
from converter_match.curves import FloatArray
from converter_match.physics.wheels.envelope import effort_at
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import GearDrive

_GRID = 2001


@dataclass(frozen=True)
class ShiftPoint:
    """A change between two neighbouring forward gears, SI units.

    Parameters
    ----------
    lower, upper : str
        Gear names.
    best_speed : float or None
        Road speed at which both pull alike [m/s]; where they never do, the speed at which the
        lower one ends. None where the gears share no speed.
    crosses : bool
        Whether the efforts cross, or the lower gear merely ends.
    effort : float or None
        Effort at `best_speed` [N].
    upshift_speed, downshift_speed : float or None
        What the driveline's data say, as road speeds [m/s]; the downshift of a given hysteresis
        counts from the given or, without one, the best upshift.
    needed_hysteresis : float or None
        Least distance of the downshift below the upshift [m/s]; None without a shift time.
    band : tuple of float or None
        Grades (rise / run) between which neither gear holds at the upshift, None where there is no
        such band.
    hunts : bool or None
        Whether the given hysteresis is too small; None where it or the shift time is not given.
    """

    lower: str
    upper: str
    best_speed: float | None
    crosses: bool
    effort: float | None
    upshift_speed: float | None
    downshift_speed: float | None
    needed_hysteresis: float | None
    band: tuple[float, float] | None
    hunts: bool | None


def shift_points(
    drives: Sequence[GearDrive], loads: Sequence[RoadLoad], driveline: Driveline
) -> tuple[ShiftPoint, ...]:
    """Return the change between each pair of neighbouring forward gears, on the level.

    Parameters
    ----------
    drives : sequence of GearDrive
    loads : sequence of RoadLoad
        One for each drive.
    driveline : Driveline
        For its hysteresis.
    """
    by_gear: dict[str, list[int]] = {}
    for index, drive in enumerate(drives):
        by_gear.setdefault(drive.gear.name, []).append(index)
    found = []
    for low, high in zip(driveline.forward[:-1], driveline.forward[1:], strict=True):
        lower = [(drives[i], loads[i]) for i in by_gear[low.name]]
        upper = [(drives[i], loads[i]) for i in by_gear[high.name]]
        found.append(_between(lower, upper, driveline))
    return tuple(found)


_Pair = tuple[GearDrive, RoadLoad]


def _between(lower: list[_Pair], upper: list[_Pair], driveline: Driveline) -> ShiftPoint:
    low, high = lower[0][0].gear, upper[0][0].gear
    machine, load = lower[0][0].machine, lower[0][1]
    ground = load.adhesion(0.0)
    top = max(float(drive.curve().road_speed(machine, ground)[-1]) for drive, _ in lower)
    speed = np.linspace(0.0, top, _GRID)
    pull_low, pull_high = _strongest(lower, speed), _strongest(upper, speed)
    best, crosses = _crossing(speed, pull_low, pull_high)
    radius, stages = machine.rolling_radius, driveline.stage_ratio

    def road_speed(turbine_speed: float | None, ratio: float) -> float | None:
        return None if turbine_speed is None else turbine_speed * radius / (ratio * stages)

    up = road_speed(low.upshift_turbine_speed, low.ratio)
    down = road_speed(high.downshift_turbine_speed, high.ratio)
    used = best if up is None else up
    if down is None and driveline.shift_hysteresis is not None and used is not None:
        down = used * (1.0 - driveline.shift_hysteresis)
    needed = band = effort = None
    if best is not None:
        effort = float(np.interp(best, speed, np.nan_to_num(pull_low)))
    if used is not None and used <= top:
        at_low = min(float(np.interp(used, speed, np.nan_to_num(pull_low))), float(ground))
        at_high = float(np.interp(used, speed, np.nan_to_num(pull_high)))
        if driveline.shift_time is not None:
            needed = at_low * driveline.shift_time / float(load.mass)
        if at_high < 0.98 * at_low:
            low_grade, high_grade = load.grade_held([at_high, at_low], used)
            band = (float(low_grade), float(high_grade))
    hunts = None
    if used is not None and down is not None:
        hunts = used - down < (needed or 0.0) or down >= used
    return ShiftPoint(
        lower=low.name,
        upper=high.name,
        best_speed=best,
        crosses=crosses,
        effort=effort,
        upshift_speed=up,
        downshift_speed=down,
        needed_hysteresis=needed,
        band=band,
        hunts=hunts if (needed is not None or hunts) else None,
    )


def _strongest(drives: list[_Pair], speed: FloatArray) -> FloatArray:
    """Return the effort in force at each speed, NaN where the gear does not reach."""
    forces = np.stack([effort_at(drive, load, speed) for drive, load in drives])
    best = np.where(np.isfinite(forces), forces, -np.inf).max(axis=0)
    return np.where(np.isfinite(best), best, np.nan)


def _crossing(speed: FloatArray, low: FloatArray, high: FloatArray) -> tuple[float | None, bool]:
    """Return the last speed to which the lower gear pulls harder, and whether they cross there."""
    both = np.isfinite(low) & np.isfinite(high)
    if not both.any():
        return None, False
    v, excess = speed[both], (low - high)[both]
    falls = np.flatnonzero((excess[:-1] > 0.0) & (excess[1:] <= 0.0))
    if falls.size:
        i = int(falls[-1])
        share = excess[i] / (excess[i] - excess[i + 1])
        return float(v[i] + share * (v[i + 1] - v[i])), True
    if excess[-1] > 0.0:
        return float(v[-1]), False
    return None, False
