"""Where what a shaft gives meets what a load takes: every equilibrium, and the one come to.

At a shaft speed each engine is in balance with its converter (`physics.match.turbine_speed`), in
one or several ways; with T the torque on the shaft of one of them, and T_L that of the load, the
shaft is in balance where

    f(omega) = T(omega) - T_L(omega) = 0.

It is stable where f falls with speed, and where every engine holds its own balance: engines are
taken to settle fast beside the load, as everywhere here. All changes of sign along every branch are
found on a grid and narrowed by the one code for effort and resistance. A hanging load has two
torques: that which hoists it, and a smaller one by which it drives the shaft backwards; between the
two it rests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.components.load import LoadLine
from converter_match.curves import FloatArray
from converter_match.physics.load.shaft import ShaftStates, Unit, shaft_states
from converter_match.physics.wheels.tractive import refined

# Cells of the grid of shaft speeds, and into how many one is cut in which a branch ends.
_CELLS, _CUT = 320, 40


@dataclass(frozen=True, eq=False)
class LoadEquilibria:
    """Points at which a load is carried steadily; arrays of shape (k,), by rising shaft speed.

    Parameters
    ----------
    speed : ndarray
        Of the shaft [rad/s].
    stable : ndarray of bool
    states : ShaftStates
        Torque and unit points, arrays (k,).
    stall_torque : float
        On the shaft at rest, engines up from idle [N.m]; NaN where one cannot hold its converter.
    starts : bool
        Whether that is more than the load needs to start.
    reached : int or None
        The equilibrium that is come to from rest.
    runs_off : bool
        Whether from rest the shaft speeds up past the speeds for which there are data.
    """

    speed: FloatArray
    stable: NDArray[np.bool_]
    states: ShaftStates
    stall_torque: float
    starts: bool
    reached: int | None
    runs_off: bool


def load_equilibria(units: Sequence[Unit], line: LoadLine) -> LoadEquilibria:
    """Return every equilibrium of a load on the shaft of one or several units.

    Parameters
    ----------
    units : sequence of Unit
    line : LoadLine
        Its speeds are those of the shaft. Backwards it is followed where it hangs, as far as all
        converters have data.

    Returns
    -------
    LoadEquilibria

    Examples
    --------
    A pump behind a pair that comes up to it:

    >>> from converter_match.library.read import read_converter, read_engine
    >>> from converter_match.library.shipped import find
    >>> from converter_match.physics.engine.supply import engine_supply
    >>> supply = engine_supply(read_engine(find("engines", "six-cylinder-7l-185kw")))
    >>> converter = read_converter(find("converters", "single-stage-345mm-tight"))
    >>> found = load_equilibria([Unit(supply, converter)], LoadLine(squared=0.015))
    >>> found.starts, found.reached, found.stable.tolist()
    (True, 0, [True])
    """
    fastest = min(min(unit.fastest for unit in units), line.last_speed)
    corners = line.corners[(line.corners > 0.0) & (line.corners < fastest)]
    forth = np.unique(np.concatenate([np.linspace(0.0, fastest, _CELLS + 1), corners]))
    slowest = max(unit.slowest for unit in units)
    sides: list[tuple[FloatArray, Callable[[FloatArray], FloatArray]]] = [(forth, line)]
    if line.lowering is not None and slowest < 0.0:
        back = line.lowering
        sides.insert(0, (np.linspace(slowest, 0.0, _CELLS + 1), lambda omega: omega * 0.0 + back))
    found = [_crossings(units, grid, of) for grid, of in sides]
    speed, row, stable = (np.concatenate(each) for each in zip(*found, strict=True))
    order = np.argsort(speed, kind="stable")
    speed, row, stable = speed[order], row[order], stable[order]
    states = shaft_states(units, speed).picked(row)
    up = shaft_states(units, forth).up()
    starts = bool(up[0] > line.breakaway)
    stable = stable & states.stable
    reached, runs_off = None, False
    if starts:
        reached, runs_off = _come_to(forth, up - line(forth), speed, stable & states.coming_up)
    return LoadEquilibria(speed, stable, states, float(up[0]), starts, reached, runs_off)


def _crossings(
    units: Sequence[Unit], grid: FloatArray, load: Callable[[FloatArray], FloatArray]
) -> tuple[FloatArray, NDArray[np.intp], NDArray[np.bool_]]:
    """Return speeds, rows of the state and whether the excess falls, of every change of sign."""
    count = shaft_states(units, grid).count
    ends = np.flatnonzero(count[:-1] != count[1:])
    # Where a branch begins or ends the cells are cut: what lies next to the end is not missed.
    cut = [np.linspace(grid[k], grid[k + 1], _CUT + 1)[1:-1] for k in ends]
    grid = np.unique(np.concatenate([grid, *cut]))
    states = shaft_states(units, grid)
    excess = states.torque - load(grid)
    above = excess > 0.0
    same = (states.count[:-1] == states.count[1:])[np.newaxis]
    with np.errstate(invalid="ignore"):
        known = np.isfinite(excess)
    changes = same & known[:, :-1] & known[:, 1:] & (above[:, :-1] != above[:, 1:])
    row, left = np.nonzero(changes)

    def surplus(speed: FloatArray, pick: NDArray[np.intp]) -> FloatArray:
        return np.asarray(shaft_states(units, speed).picked(row[pick]).torque - load(speed))

    speed = refined(
        surplus,
        (grid[left], grid[left + 1]),
        (excess[row, left], excess[row, left + 1]),
    )
    there = np.isfinite(shaft_states(units, speed).picked(row).torque)
    return speed[there], row[there], above[row, left][there]


def _come_to(
    grid: FloatArray, excess: FloatArray, speed: FloatArray, held: NDArray[np.bool_]
) -> tuple[int | None, bool]:
    """Return which equilibrium a shaft comes to from rest, and whether it runs off the data."""
    lacking = np.flatnonzero(~(excess > 0.0))
    if not lacking.size:
        return None, True
    end = int(lacking[0])
    if not np.isfinite(excess[end]):
        return None, True
    inside = np.flatnonzero(
        held & (speed >= grid[max(end - 1, 0)]) & (speed <= grid[end] * (1.0 + 1e-12))
    )
    return (int(inside[0]) if inside.size else None), False
