"""What a draw of uncertain inputs makes of a machine: factors on its engine, converter and road."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from converter_match.components.gear import LockUp
from converter_match.curves import FloatArray
from converter_match.physics.match.turbine import ShaftFactors, TurbineShaft, one
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import GearDrive


@dataclass(frozen=True, eq=False)
class RoadFactors(ShaftFactors):
    """Factors of each draw, arrays of shape (n,); 1 is what the data say.

    Parameters
    ----------
    torque, loads, capacity, ratio_share, whole_ratio
        As for `ShaftFactors`.
    mass, rolling_resistance, air : ndarray
        On the mass, the rolling resistance and the density of the air.
    radius : ndarray
        On the rolling radius, q. With effort F / q and speed v q, the balance F / q = R(v q) is
        that of the machine of the data with q times the mass and the running drag and q^3 times
        the density: ``load`` returns that, and speeds found with it are to be multiplied by q.
    """

    mass: FloatArray = field(default_factory=one)
    rolling_resistance: FloatArray = field(default_factory=one)
    air: FloatArray = field(default_factory=one)
    radius: FloatArray = field(default_factory=one)

    def drive(self, drive: GearDrive) -> GearDrive:
        """Return a drive for all draws, with the lock-up speeds that it has."""
        return replace(drive, shaft=replace(drive.shaft, factors=self))

    def load(self, load: RoadLoad) -> RoadLoad:
        """Return a road load for all draws."""
        q = self.radius
        drawn = load.drawn(self.mass * q, self.rolling_resistance, self.air * q**3)
        return replace(drawn, running_drag=load.running_drag * q) if load.running_drag else drawn


def lock_up_speeds(shaft: TurbineShaft, rule: LockUp) -> tuple[FloatArray, FloatArray]:
    """Return turbine speeds at which lock-up engages and releases in each draw [rad/s].

    The rule is that of `TurbineShaft.lock_up_speeds`, applied to every draw's own curve. Infinite
    where it never engages.

    Parameters
    ----------
    shaft : TurbineShaft
        With the factors of n draws.
    rule : LockUp
        One that is allowed.
    """
    count = shaft.factors.size
    if rule.engage_turbine_speed is not None:
        release = rule.release_turbine_speed or rule.engage_turbine_speed
        return np.full(count, rule.engage_turbine_speed), np.full(count, release)
    if rule.engage_speed_ratio is None:
        engages = _pulls_no_less(shaft)
        return engages, engages
    engages = _turbine_speed(shaft, rule.engage_speed_ratio)
    if not rule.release_speed_ratio:
        return engages, engages
    releases = _turbine_speed(shaft, rule.release_speed_ratio)
    # Without a match there it is released as soon as it would engage.
    known = np.isfinite(releases) & np.isfinite(engages)
    return engages, np.where(known, releases, engages)


def _turbine_speed(shaft: TurbineShaft, speed_ratio: float) -> FloatArray:
    if speed_ratio > shaft.converter.domain[1]:
        return np.full(shaft.factors.size, np.inf)
    speed = shaft.at("converter", speed_ratio).turbine_speed
    return np.where(np.isfinite(speed), speed, np.inf)


def _pulls_no_less(shaft: TurbineShaft) -> FloatArray:
    """Return the least turbine speed of the curve at which lock-up pulls no less, in each draw.

    Below it the open converter pulls more, above it less: halved until one step of the grid is
    left.
    """
    grid = shaft.converter_grid
    bottom, top = shaft.supply.domain
    low = np.full(shaft.factors.size, -1)
    high = np.full(low.size, grid.size)
    for _ in range(grid.size.bit_length()):
        middle = np.clip((low + high) // 2, 0, grid.size - 1)
        points = shaft.at("converter", grid[middle])
        speed = points.turbine_speed
        locked = shaft.at("lock-up", np.clip(np.nan_to_num(speed, nan=bottom), bottom, top))
        better = (speed >= bottom) & (locked.turbine_torque >= points.turbine_torque)
        goes_on = high - low > 1
        low = np.where(goes_on & ~better, middle, low)
        high = np.where(goes_on & better, middle, high)
    speed = shaft.at("converter", grid[np.minimum(high, grid.size - 1)]).turbine_speed
    return np.where((high < grid.size) & (speed <= top), speed, np.inf)
