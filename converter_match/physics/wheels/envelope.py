"""The envelope of tractive effort: what the best forward gear gives at each speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import GearDrive


@dataclass(frozen=True, eq=False)
class Envelope:
    """The greatest effort that any forward gear gives at a speed, as the lock-up rule leaves it.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        Over ground [m/s].
    effort : ndarray, shape (n,)
        What the engine could give, whatever the ground allows [N].
    force : ndarray, shape (n,)
        [N], at most what the ground allows on the level.
    drive : ndarray of int, shape (n,)
        Index of the drive that gives it; -1 where none reaches.
    slips : ndarray of bool, shape (n,)
        Whether the ground, not the engine, sets the force.
    """

    speed: FloatArray
    effort: FloatArray
    force: FloatArray
    drive: NDArray[np.intp]
    slips: NDArray[np.bool_]


def effort_at(
    drive: GearDrive, load: RoadLoad, speed: FloatArray, grade: float = 0.0
) -> FloatArray:
    """Return the effort [N] of a drive at road speeds [m/s], NaN where it is not in force.

    Straight lines between the points of the sampled curve.

    Parameters
    ----------
    drive : GearDrive
    load : RoadLoad
    speed : ndarray
        [m/s], any shape.
    grade : float
        Rise / run.
    """
    curve = drive.curve()
    road = curve.road_speed(drive.machine, load.adhesion(grade))
    force = np.interp(speed, road, curve.force, left=np.nan, right=np.nan)
    turbine = np.interp(speed, road, curve.turbine.turbine_speed)
    # Between the two sides of a jump of the engine nothing runs, and no straight line leads across.
    after = np.clip(np.searchsorted(road, speed), 0, road.size - 1)
    inside = drive.jumps_before[after] & (speed < road[after])
    return np.where(drive.active(turbine) & ~inside, force, np.nan)


def envelope(drives: Sequence[GearDrive], loads: Sequence[RoadLoad], points: int = 401) -> Envelope:
    """Return the envelope of the forward drives on the level, shape (points,).

    Parameters
    ----------
    drives : sequence of GearDrive
    loads : sequence of RoadLoad
        One for each drive.
    points : int
    """
    ahead = [i for i, drive in enumerate(drives) if drive.gear.direction == "forward"]
    limit = [float(loads[i].adhesion(0.0)) for i in range(len(drives))]
    top = max(float(drives[i].curve().road_speed(drives[i].machine, limit[i]).max()) for i in ahead)
    speed = np.linspace(0.0, top, points)
    forces = np.stack([effort_at(drives[i], loads[i], speed) for i in ahead])
    reach = np.isfinite(forces)
    best = np.where(reach, forces, -np.inf)
    row = np.argmax(best, axis=0)
    wanted = np.where(reach.any(axis=0), best.max(axis=0), np.nan)
    ground = limit[ahead[0]]
    return Envelope(
        speed=speed,
        effort=wanted,
        force=np.minimum(wanted, ground),
        drive=np.where(reach.any(axis=0), np.asarray(ahead)[row], -1),
        slips=np.asarray(wanted > ground),
    )
