"""What a draw of uncertain inputs makes of a machine: factors on its engine, converter and road."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from converter_match.curves import FloatArray
from converter_match.physics.match.turbine import ShaftFactors, one
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
    """

    mass: FloatArray = field(default_factory=one)
    rolling_resistance: FloatArray = field(default_factory=one)
    air: FloatArray = field(default_factory=one)

    def drive(self, drive: GearDrive) -> GearDrive:
        """Return a drive for all draws; its lock-up speeds stay those of the data."""
        return replace(drive, shaft=replace(drive.shaft, factors=self))

    def load(self, load: RoadLoad) -> RoadLoad:
        """Return a road load for all draws."""
        return load.drawn(self.mass, self.rolling_resistance, self.air)
