"""Oil temperature on a route that is driven again and again: the first lap, and the settled one.

Lap after lap the oil starts where the lap before has left it, until it ends where it started. With
a cooler of constant conductance a step takes the temperatures x (of the oil, and of the metal where
it is a lump of its own) to ``E x + f``, by `oil.advance`; so does a lap, and the settled one starts
at ``x = (1 - E)^-1 f``. A cooler whose heat is a table is replaced by its tangent at the
temperatures of the round before, until the rounds agree: Newton's method.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.heat.converter_oil import ConverterOil
from converter_match.physics.heat.oil import UNSETTLED, AffineSteps, OilCircuit

_MOST_OF_MEAN, _TRIED = 100.0, 401  # conductances over that of the mean heat, and how many
_ROUNDS = 12
_CLOSE = 0.01  # K
_NEAR = 1.0  # K
_POINTS = 801  # of the cooler's curve: straight lines between them


@dataclass(frozen=True, eq=False)
class OilLaps:
    """Oil temperatures at the ends of the steps of a lap; arrays of shape (steps + 1, draws) [K].

    Parameters
    ----------
    first : ndarray
        Of the first lap.
    settled : ndarray
        Of the lap that ends as it starts; NaN where no cooler is known or the machine does not
        arrive, `UNSETTLED` where the oil gets hotter with every lap.
    arrives : ndarray of bool, shape (draws,)
        Whether there is a lap to repeat.
    """

    first: FloatArray
    settled: FloatArray
    arrives: NDArray[np.bool_]

    @property
    def counted(self) -> FloatArray:
        """The temperatures that count: of the settled lap, or of the only run where none is."""
        return np.where(self.arrives, self.settled, self.first)

    @property
    def hottest(self) -> FloatArray:
        """The highest temperature that counts, shape (draws,)."""
        return np.asarray(self.counted.max(axis=0))


def oil_laps(
    circuit: OilCircuit,
    heat: FloatArray,
    time: FloatArray,
    start: float,
    arrives: NDArray[np.bool_],
) -> OilLaps:
    """Return the oil temperatures of the first lap and of the settled one.

    Parameters
    ----------
    circuit : OilCircuit
    heat, time : ndarray, shape (steps, draws)
        Heat into the oil [W] and duration [s].
    start : float
        Oil and metal at the start of the first lap [K].
    arrives : ndarray of bool, shape (draws,)
        Whether the machine completes the lap.
    """
    first = _lap(circuit, heat, time, start)
    if circuit.cooler is None:
        return OilLaps(first, np.full(first.shape, np.nan), arrives)
    settled = np.where(arrives, _lap(circuit, heat, time, start, settles=True), np.nan)
    return OilLaps(first, np.minimum(settled, UNSETTLED), arrives)


def outlet_laps(
    inside: ConverterOil, laps: OilLaps, converter_heat: FloatArray, time: FloatArray
) -> OilLaps:
    """Return the temperatures at the converter's outlet where the bulk has those of some laps.

    In the first lap the oil in the converter starts as warm as the bulk.

    Parameters
    ----------
    inside : ConverterOil
    laps : OilLaps
        Of the bulk.
    converter_heat, time : ndarray, shape (steps, draws)
        Heat in the converter [W] and duration [s].
    """
    ahead = inside.differences(laps.first, converter_heat, time)
    first = inside.outlet(laps.first, ahead)
    again = inside.differences(laps.settled, converter_heat, time, again=True)
    settled = inside.outlet(laps.settled, again)
    lost = laps.settled >= UNSETTLED
    return OilLaps(first, np.where(lost, laps.settled, settled), laps.arrives)


def conductance_for_laps(
    circuit: OilCircuit, heat: FloatArray, time: FloatArray, limit: float
) -> float | None:
    """Return the cooler's conductance with which the oil stays at a limit, lap after lap [W/K].

    None where no cooler is enough: the air is as warm, or a stretch of the lap too hot.

    Parameters
    ----------
    circuit : OilCircuit
        Its own cooler does not count.
    heat, time : ndarray, shape (steps,)
        Heat into the oil [W] and duration [s].
    limit : float
        Of the bulk [K].

    Notes
    -----
    The settled lap is worked out with many conductances at once, spaced evenly in the logarithm,
    and the highest temperature, which falls with the conductance, read backwards.
    """
    room = limit - circuit.air_temperature
    lap = float(time.sum())
    if room <= 0.0 or lap == 0.0:
        return None
    mean = float(heat @ time) / lap
    if mean <= 0.0:
        return 0.0
    tried = mean / room * np.geomspace(0.999, _MOST_OF_MEAN, _TRIED)
    bare = replace(circuit, cooler=None)
    steps = AffineSteps.of(bare, heat[:, None], time[:, None], tried[None, :])
    hottest = steps.march(steps.periodic()).max(axis=0)
    if hottest[-1] > room:
        return None
    # Towards the mean from above where the lap is short: then every cooler of the mean is enough.
    return float(np.interp(-room, -hottest, tried))


def _lap(
    circuit: OilCircuit, heat: FloatArray, time: FloatArray, start: float, *, settles: bool = False
) -> FloatArray:
    """Return the oil temperatures of a lap from a start, or of the one that ends as it starts."""
    cooler, air = circuit.cooler, circuit.air_temperature
    if cooler is not None:
        reach = UNSETTLED if cooler.proportional else 1.01 * float(cooler.difference[-1])
        grid = np.linspace(0.0, reach, _POINTS)
        curve = cooler.heat_at(grid)
        tangent = np.gradient(curve, grid)
    oil = np.full((time.shape[0] + 1, time.shape[1]), start)
    for _ in range(_ROUNDS):
        middle = 0.5 * (oil[:-1] + oil[1:]) - air
        if cooler is None:
            held, slope = np.zeros(middle.shape), np.zeros(middle.shape)
        else:
            held, slope = np.interp(middle, grid, curve), np.interp(middle, grid, tangent)
            # Beyond the table, where its last value is held, a tangent would lead nowhere.
            slope = np.where(middle > grid[-1], held / np.maximum(middle, 1.0), slope)
        steps = AffineSteps.of(circuit, heat - held + slope * middle, time, slope)
        begin = np.full((2, time.shape[1]), start - air)
        after = steps.march(steps.periodic() if settles else begin) + air
        change = np.abs(after - oil).max(axis=0)
        oil = after
        if cooler is None or cooler.proportional or bool((change < _CLOSE).all()):
            return oil
    return np.where(change < _NEAR, oil, UNSETTLED)
