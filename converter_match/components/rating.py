"""A full-load curve from a rating line: two known points and a stated uncertainty.

The rating line gives rated power and speed, peak torque and its speed. Between and around them the
curve is a guess at the usual shape of a diesel engine:

* from peak-torque speed to rated speed, a parabola with its vertex at peak torque and through the
  rated point, ``T = T_peak - (T_peak - T_rated) ((omega - omega_peak) / (omega_rated -
  omega_peak))^2``, but nowhere more than the rated power (or the power at peak torque, should that
  be the greater);
* below peak-torque speed, the torque falls by a share ``LUG`` of the peak at half the peak-torque
  speed, also as a parabola with its vertex at peak torque.

The share and the band are common practice, no source: the curve is right at the two given points
and elsewhere good to about the band stated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.base import in_rpm, require_positive
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

LUG = 0.30
BAND = 0.06
_ROWS_BELOW, _ROWS_ABOVE = 6, 15


@dataclass(frozen=True)
class RatingEstimate:
    """An estimated full-load curve.

    Parameters
    ----------
    speed, torque : ndarray, shape (n,)
        [rad/s], [N.m].
    band : float
        Half width of the uncertainty away from the given points, as a share of the torque.
    note : Note
    """

    speed: FloatArray
    torque: FloatArray
    band: float
    note: Note


def curve_from_rating(
    *,
    rated_power: float,
    rated_speed: float,
    peak_torque: float,
    peak_torque_speed: float,
    low_idle: float,
) -> RatingEstimate:
    """Estimate a full-load curve from the rating line; SI units.

    Parameters
    ----------
    rated_power : float
        [W].
    rated_speed, peak_torque_speed, low_idle : float
        [rad/s].
    peak_torque : float
        [N.m].

    Raises
    ------
    InputError
        If a value is not above zero, peak torque is not between idle and rated speed, or peak
        torque is below the torque at rated power.
    """
    for label, value in (
        ("rated_power", rated_power),
        ("rated_speed", rated_speed),
        ("peak_torque", peak_torque),
        ("peak_torque_speed", peak_torque_speed),
        ("low_idle", low_idle),
    ):
        require_positive(value, f"rating.{label}")
    rated_torque = rated_power / rated_speed
    if not low_idle < peak_torque_speed < rated_speed:
        raise InputError(
            "the peak-torque speed must lie between low idle and rated speed",
            field="rating.peak_torque_speed",
            found=in_rpm(peak_torque_speed),
            expected=in_rpm(low_idle, rated_speed),
        )
    if peak_torque < rated_torque * (1 - 1e-9):
        raise InputError(
            "the peak torque is below the torque at rated power",
            field="rating.peak_torque",
            found=f"{peak_torque:.5g} N.m",
            expected=f"at least {rated_torque:.5g} N.m (rated power / rated speed)",
        )
    below = np.linspace(low_idle, peak_torque_speed, _ROWS_BELOW, endpoint=False)
    above = np.linspace(peak_torque_speed, rated_speed, _ROWS_ABOVE)
    deep = (peak_torque_speed - below) / (0.5 * peak_torque_speed)
    lug = peak_torque * (1 - LUG * np.minimum(deep, 1.5) ** 2)
    fall = (above - peak_torque_speed) / (rated_speed - peak_torque_speed)
    run = peak_torque - (peak_torque - rated_torque) * fall**2
    run = np.minimum(run, max(rated_power, peak_torque * peak_torque_speed) / above)
    note = assumption(
        "curve-from-rating",
        "The full-load curve is estimated from the rating line: right at peak torque and at rated "
        f"power, elsewhere good to about +-{100 * BAND:.0f} % of the torque "
        "(more below the peak-torque speed). Ask for the measured curve before ordering.",
    )
    return RatingEstimate(np.concatenate([below, above]), np.concatenate([lug, run]), BAND, note)
