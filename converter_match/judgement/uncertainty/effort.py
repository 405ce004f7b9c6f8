"""The envelope of tractive effort for a few draws."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.physics.match.turbine import Drive, TurbinePoints
from converter_match.physics.wheels.draws import RoadFactors
from converter_match.physics.wheels.wheels import at_wheels

_THINNED = 4  # of the points of a curve, which are dense


def drawn_effort(
    points: Callable[[Drive, FloatArray], TurbinePoints],
    result: TractiveResult,
    factors: RoadFactors,
    speed: FloatArray,
) -> FloatArray:
    """Return the greatest effort of any forward gear within grip on the level.

    Parameters
    ----------
    points : callable
        Of (drive, parameters of its curve (p,)): the turbine shaft of each draw, shape (p, m).
    result : TractiveResult
        As the data say.
    factors : RoadFactors
        Of the m draws.
    speed : ndarray, shape (s,)
        Over ground [m/s].

    Returns
    -------
    ndarray, shape (s, m)
        [N]; NaN where no gear reaches.
    """
    mass, radius = factors.mass, factors.radius
    best = np.full((speed.size, mass.size), np.nan)
    shafts: dict[Drive, TurbinePoints] = {}
    for drive, load in zip(result.drives, result.road_loads, strict=True):
        if drive.gear.direction != "forward":
            continue
        if drive.drive not in shafts:
            dense = drive.curve().turbine.parameter
            shafts[drive.drive] = points(drive.drive, np.append(dense[:-1:_THINNED], dense[-1]))
        curve = at_wheels(shafts[drive.drive], result.driveline, drive.gear, result.machine)
        grip = float(load.adhesion(0.0)) * mass
        road = curve.road_speed(result.machine, grip * radius) * radius
        force = curve.force / radius
        turbine = curve.turbine.turbine_speed
        for k in range(mass.size):
            known = np.isfinite(road[:, k])
            at = road[known, k]
            pull = np.interp(speed, at, force[known, k], left=np.nan, right=np.nan)
            active = drive.active(np.interp(speed, at, turbine[known, k]))
            pull = np.where(active, np.minimum(pull, grip[k]), np.nan)
            best[:, k] = np.fmax(best[:, k], pull)
    return best
