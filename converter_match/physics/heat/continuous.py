"""Heat at full load against what the cooler carries: the steepest grade that can be climbed.

At each point of a drive's curve the machine can stand still in speed on one grade, that on which
the resistance equals the effort. Its heat there is ``Q = P_in (1 - eta)`` plus what the gearbox
loses; it can be held without end where ``Q <= Q_cooler(T_limit - T_air)``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.cooling import Cooler
from converter_match.curves import FloatArray
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import GearDrive

_INVERSE_STEPS = 400


@dataclass(frozen=True, eq=False)
class HeatOnGrades:
    """A drive's heat along its curve, each point on the grade it holds; arrays of shape (n,).

    Parameters
    ----------
    grade : ndarray
        Rise / run.
    speed : ndarray
        [m/s].
    heat : ndarray
        Into the transmission oil [W].
    holds : ndarray of bool
        Whether the machine can stay there: stable, in force, with grip.
    steepest_cooled : float or None
        Steepest grade up to which, from the light end of the curve, the cooler carries the heat of
        every point; None where it cannot carry even that, or no cooler is known.
    limited_by : str
        What ends it: ``cooler``, ``grip``, ``effort`` (the gear pulls no steeper grade at a stable
        point), ``none``.
    """

    grade: FloatArray
    speed: FloatArray
    heat: FloatArray
    holds: NDArray[np.bool_]
    steepest_cooled: float | None
    limited_by: str


def heat_on_grades(drive: GearDrive, load: RoadLoad, capacity: float | None) -> HeatOnGrades:
    """Return the heat of a drive against the grades it holds.

    Parameters
    ----------
    drive : GearDrive
    load : RoadLoad
    capacity : float or None
        Heat that the cooler carries away with the oil at its limit [W].
    """
    curve = drive.curve()
    # Slip follows the grip of the grade, and the grade the speed: two rounds settle both far below
    # what a slip table is good for.
    grade = load.grade_held(curve.force, curve.wheel_speed)
    for _ in range(2):
        speed = curve.road_speed(drive.machine, load.adhesion(_finite(grade)))
        grade = load.grade_held(curve.force, speed)
    adhesion = load.adhesion(_finite(grade))
    grips = (curve.force <= adhesion) & np.isfinite(grade)
    # Faster on a gentler grade: the machine comes back to the point after a disturbance.
    slope = np.diff(np.arctan(grade))
    falling = np.append(slope, slope[-1]) < 0.0
    active = np.asarray(drive.active(curve.turbine.turbine_speed))
    heat = curve.oil_heat
    holds = grips & np.isfinite(grade) & falling & active
    steepest, why = _steepest_cooled(grade, heat, holds, grips | ~active, capacity)
    return HeatOnGrades(grade, speed, heat, holds, steepest, why)


def _finite(grade: FloatArray) -> FloatArray:
    return np.where(np.isfinite(grade), grade, 1e9)


def _steepest_cooled(
    grade: FloatArray,
    heat: FloatArray,
    holds: NDArray[np.bool_],
    grips: NDArray[np.bool_],
    capacity: float | None,
) -> tuple[float | None, str]:
    rows = np.flatnonzero(holds)
    if capacity is None or not rows.size:
        return None, "none"
    last = int(rows[-1])
    if heat[last] > capacity:
        return None, "cooler"
    row = last
    # Walk from the light end towards stall while every point holds and is cooled.
    while row > 0 and holds[row - 1] and heat[row - 1] <= capacity:
        row -= 1
    if row > 0 and holds[row - 1]:
        share = (capacity - heat[row]) / (heat[row - 1] - heat[row])
        return float(grade[row] + share * (grade[row - 1] - grade[row])), "cooler"
    reached = float(grade[row : last + 1].max())
    return reached, "grip" if row > 0 and not grips[row - 1] else "effort"


def conductance_needed(heat: ArrayLike, oil: float, air: float) -> FloatArray:
    """Return the cooler's conductance that carries a heat away, UA = Q / (T_oil - T_air) [W/K].

    Infinite where the oil may not be warmer than the air, unless there is no heat.

    Parameters
    ----------
    heat : array_like
        [W], any shape.
    oil, air : float
        Of the oil into the cooler, at most, and of the air [K].

    Examples
    --------
    >>> float(conductance_needed(62e3, 383.15, 313.15))
    885.7142857142857
    """
    given = np.asarray(heat, dtype=np.float64)
    if oil <= air:
        return np.where(given > 0.0, np.inf, 0.0)
    return np.asarray(given / (oil - air))


def oil_temperature(cooler: Cooler, heat: FloatArray, air_temperature: float) -> FloatArray:
    """Return the steady oil temperature [K] with a heat [W]; NaN beyond the cooler's data.

    The cooler's curve read backwards; exact for a proportional one.

    Parameters
    ----------
    cooler : Cooler
    heat : ndarray
        [W], any shape.
    air_temperature : float
        At the cooler [K].
    """
    if cooler.proportional:
        conductance = cooler.heat[-1] / cooler.difference[-1]
        return np.asarray(air_temperature + np.asarray(heat) / conductance)
    span = np.linspace(0.0, cooler.difference[-1], _INVERSE_STEPS)
    return np.asarray(air_temperature + np.interp(heat, cooler.heat_at(span), span, right=np.nan))
