"""What the converter's capacity at stall becomes without a stator that holds.

Taken out, or free to turn because its one-way clutch slips, the stator takes no torque: impeller
and turbine torque are equal, and the oil comes back to the impeller with the turbine's swirl. How
much more torque the impeller then takes at stall is for the blades; without them there are two
estimates. In the coupling range the stator turns free anyway, and its capacity is carried to stall
by `coupling_law`; and by a rule of thumb the stall speed is about a third lower, a capacity of
1 / 0.67^2 (common practice, no source). The middle of both is taken, and their spread.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.physics.converter.blading import operate
from converter_match.physics.stall.settling import freewheeling_capacity

PRACTICE = 1.0 / 0.67**2
# Rows so far above the coupling point still tell of a stator that turns free.
_NEAR_COUPLING = 0.06
# What the estimates are not better than, however near they lie to each other (of the logarithm).
_SMALLEST_SIGMA = 0.12


@dataclass(frozen=True)
class FreeStator:
    """Capacity at stall without a stator that holds, over that with it.

    Parameters
    ----------
    factor : float
        The middle of the estimates.
    sigma : float
        Their spread: standard deviation of its logarithm.
    low, high : float or None
        From the coupling range; None where there are no data of it.
    """

    factor: float
    sigma: float
    low: float | None
    high: float | None

    @property
    def band(self) -> tuple[float, float]:
        """One standard deviation to either side."""
        return self.factor * float(np.exp(-self.sigma)), self.factor * float(np.exp(self.sigma))


def free_stator(converter: Converter) -> FreeStator:
    """Return the estimate for a converter with a one-way stator.

    Parameters
    ----------
    converter : Converter

    Examples
    --------
    >>> from converter_match.library.read import read_converter
    >>> from converter_match.library.shipped import find
    >>> found = free_stator(read_converter(find("converters", "single-stage-345mm-tight")))
    >>> 1.5 < found.factor < 3.0
    True
    """
    at_stall = float(converter.capacity_at(0.0))
    estimates = [np.log(PRACTICE)]
    low = high = None
    nu_c, last = converter.coupling, converter.domain[1]
    if nu_c is not None and nu_c < last:
        rows = converter.characteristic.speed_ratio
        rows = rows[(rows >= nu_c - 1e-9) & (rows <= nu_c + _NEAR_COUPLING)]
        low, high = (
            capacity / at_stall for capacity in freewheeling_capacity(converter.capacity_at, rows)
        )
        estimates += [np.log(low), np.log(high)]
    sigma = max(float(np.std(estimates)), _SMALLEST_SIGMA)
    return FreeStator(float(np.exp(np.mean(estimates))), sigma, low, high)


def free_by_blades(geometry: BladingGeometry) -> float:
    """Return capacity at stall with the stator free over that with it held, by the blades.

    Parameters
    ----------
    geometry : BladingGeometry
        Of the converter, or one that gives its sheet.
    """
    free, held = (  # C is the torque at 1 rad/s
        float(operate(geometry, 0.0, mounting=mounting).impeller_torque)
        for mounting in ("free", "fixed")
    )
    return free / held
