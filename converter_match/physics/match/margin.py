"""How far a match is from jumping to another one: the extrema of the engine's capacity function.

An engine coming up from idle stops where ``c_e(omega) = T_net / omega^2`` first falls to the
converter's C. As C, or the torque, is changed little by little, that match moves along its branch
until C touches a local extremum of c_e: there it vanishes, or another appears before it. So the
margin in capacity is the distance of C from the nearest extremum of c_e.

Seen from the torque, a speed omega is a match at full-load torque f T where

    f = h(omega) = (C omega^2 + T_loads(omega)) / T(omega),

so the margin in torque is the distance of the factor in force from the nearest extremum of h. Air
acts on the torque before loads: its margin is that of the torque.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply, cubic_with_slope

# Cells a knot interval is cut into; of two extrema inside one cell none is seen.
_CELLS = 8
# Steps towards an extremum, and the last of them as a share of the cell: an extremum is flat, so
# its value is exact to rounding long before its place.
_STEPS = 40
_LAST_MOVE = 1e-6
_CHUNK = 1 << 12


@dataclass(frozen=True, eq=False)
class MatchMargin:
    """Changes that would give the engine another match, or none; arrays of shape (n,).

    Parameters
    ----------
    single : ndarray of bool
        Whether there is one match, reached from idle, at every capacity of the range. (Nothing is
        said of the end beyond high idle, where an engine without a governor in its curve stays.)
    less_torque, more_torque : ndarray
        As a share of the engine's torque before loads, or of what its air gives; infinite where
        no such change does it. Zero where it is not single.
    less_capacity, more_capacity : ndarray
        As a share of the converter's capacity.
    """

    single: NDArray[np.bool_]
    less_torque: FloatArray
    more_torque: FloatArray
    less_capacity: FloatArray
    more_capacity: FloatArray

    @property
    def least(self) -> FloatArray:
        """The smallest of the four, (n,)."""
        return np.minimum(
            np.minimum(self.less_torque, self.more_torque),
            np.minimum(self.less_capacity, self.more_capacity),
        )


def match_margin(
    supply: TorqueSupply,
    lowest: ArrayLike,
    highest: ArrayLike,
    *,
    torque_factor: ArrayLike = 1.0,
    load_factor: ArrayLike = 1.0,
) -> MatchMargin:
    """Return how far an engine is from another match, for a range of converter capacities.

    Parameters
    ----------
    supply : TorqueSupply
    lowest, highest : array_like, shape () or (n,)
        Of the converter's C over the speed ratios that are looked at [N.m/(rad/s)^2].
    torque_factor : array_like
        Multiplies the engine's torque before loads.
    load_factor : array_like
        Multiplies all loads.

    Returns
    -------
    MatchMargin
    """
    low, high, torque, loads = (
        np.atleast_1d(part)
        for part in np.broadcast_arrays(
            *(np.asarray(v, np.float64) for v in (lowest, highest, torque_factor, load_factor))
        )
    )
    cells = _Cells.of(supply)
    parts = [
        _of_chunk(cells, low[rows], high[rows], torque[rows], loads[rows])
        for rows in (slice(k, k + _CHUNK) for k in range(0, low.size, _CHUNK))
    ]
    single, *margins = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    return MatchMargin(np.asarray(single, dtype=bool), *margins)


@dataclass(frozen=True, eq=False)
class _Cells:
    """Stretches of engine speed, each within one cubic of torque and loads."""

    start: FloatArray
    end: FloatArray
    origin: FloatArray
    source: FloatArray
    load: FloatArray
    laws: tuple[PowerLaw, ...]

    @classmethod
    def of(cls, supply: TorqueSupply) -> _Cells:
        nodes = supply.nodes(_CELLS)
        piece = supply.piece_of(nodes[:-1])
        source = supply.factor * supply.source_pieces[:, piece]
        load = supply.load_pieces[:, piece]
        origin = supply.knots[piece]
        return cls(nodes[:-1], nodes[1:], origin, source, load, supply.other_laws)

    def torques(
        self, cell: NDArray[np.intp], omega: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return torque before loads, its slope, loads, their slope, in given cells."""
        origin = self.origin.take(cell)
        made, rise = cubic_with_slope(self.source.take(cell, axis=1), origin, omega, ())
        left, fall = cubic_with_slope(-self.load.take(cell, axis=1), origin, omega, self.laws)
        return made, rise, -left, -fall


# Of torque, its slope, loads, their slope; speed; two factors of each draw: the value, and what has
# its slope's sign. That is a plain sum of terms in one factor or the other.
_Ratio = Callable[
    [tuple[FloatArray, FloatArray, FloatArray, FloatArray], FloatArray, FloatArray, FloatArray],
    tuple[FloatArray, FloatArray],
]


def _capacity(
    at: tuple[FloatArray, ...], omega: FloatArray, torque: FloatArray, loads: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the engine's capacity function and the sign of its slope."""
    made, rise, taken, fall = at
    net = torque * made - loads * taken
    slope = torque * rise - loads * fall
    return net / omega**2, slope * omega - 2.0 * net


def _factor(
    at: tuple[FloatArray, ...], omega: FloatArray, c: FloatArray, loads: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the torque factor that a match at a speed asks for, and the sign of its slope."""
    made, rise, taken, fall = at
    wanted = c * omega**2 + loads * taken
    slope = 2.0 * c * omega + loads * fall
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(made > 0.0, wanted / made, np.inf), slope * made - wanted * rise


def _of_chunk(
    cells: _Cells, low: FloatArray, high: FloatArray, torque: FloatArray, loads: FloatArray
) -> tuple[FloatArray, ...]:
    row, level = _levels(cells, _capacity, torque, loads)
    turns = np.zeros(low.size, dtype=bool)
    np.logical_or.at(turns, row, (level >= low[row]) & (level <= high[row]))
    single = ~turns & (_crossings(row, level, high) == 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        more_capacity = _above(row, level / high[row], low.size)
        less_capacity = _below(row, level / low[row], low.size)
    row, level = _levels(cells, _factor, high, loads)
    less_torque = _below(row, level / torque[row], low.size)
    row, level = _levels(cells, _factor, low, loads)
    more_torque = _above(row, level / torque[row], low.size)
    margins = (less_torque, more_torque, less_capacity, more_capacity)
    return (single, *(np.where(single, share, 0.0) for share in margins))


def _crossings(row: NDArray[np.intp], level: FloatArray, c: FloatArray) -> NDArray[np.intp]:
    """Return how often the engine's capacity passes that of the converter, idle above it.

    Levels come draw by draw, by rising speed. Behind the last of them the torque falls to nothing.
    """
    above = level > c[row]
    passes = np.zeros(c.size, dtype=np.intp)
    same = row[1:] == row[:-1]
    np.add.at(passes, row[1:], same & (above[1:] != above[:-1]))
    last = np.append(~same, True)
    np.add.at(passes, row[last], above[last])
    idles = np.append(True, ~same)
    return np.where(above[idles], passes, 0)


def _below(row: NDArray[np.intp], ratio: FloatArray, size: int) -> FloatArray:
    """Return how far down the nearest level below 1 is; a level at or below zero is none."""
    nearest = np.full(size, -np.inf)
    np.maximum.at(nearest, row, np.where((ratio <= 1.0) & (ratio > 0.0), ratio, -np.inf))
    return 1.0 - nearest


def _above(row: NDArray[np.intp], ratio: FloatArray, size: int) -> FloatArray:
    """Return how far up the nearest level above 1 is."""
    nearest = np.full(size, np.inf)
    np.minimum.at(nearest, row, np.where(ratio >= 1.0, ratio, np.inf))
    return nearest - 1.0


def _levels(
    cells: _Cells, ratio: _Ratio, first: FloatArray, second: FloatArray
) -> tuple[NDArray[np.intp], FloatArray]:
    """Return (draw, value) at the lowest speed and at every local extremum of a function.

    Draw by draw, by rising speed; the two factors are those of the draws, (n,).
    """
    size = first.size
    at_start = _rises(cells, cells.start, ratio, first, second)
    at_end = _rises(cells, cells.end, ratio, first, second)
    # A kink of the torque, as at rated speed, can be an extremum without a slope of zero.
    node, at_node = _apart(at_end[:-1], at_start[1:])
    cell, inside = _apart(at_start, at_end)
    turn = _turns(cells, ratio, cell, first[inside], second[inside])
    lowest = np.zeros(size, dtype=np.intp)
    row = np.concatenate([np.arange(size), at_node, inside])
    where = np.concatenate([lowest, node, cell])
    omega = np.concatenate([cells.start[lowest], cells.end[node], turn])
    order = np.lexsort((omega, row))
    row, where, omega = row[order], where[order], omega[order]
    return row, ratio(cells.torques(where, omega), omega, first[row], second[row])[0]


def _apart(
    one: NDArray[np.bool_], other: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return (row, column) where two tables differ, which they do in few rows."""
    differs = one != other
    some = np.flatnonzero(differs.any(axis=1))
    row, column = np.nonzero(differs[some])
    return some[row], column


def _turns(
    cells: _Cells, ratio: _Ratio, cell: NDArray[np.intp], first: FloatArray, second: FloatArray
) -> FloatArray:
    """Return where the slope of the function is zero in cells at whose ends its signs differ.

    False position in the Illinois form.
    """
    low, high = cells.start.take(cell), cells.end.take(cell)
    enough = _LAST_MOVE * (high - low)

    def slope(speed: FloatArray, rows: NDArray[np.intp]) -> FloatArray:
        at = cells.torques(cell.take(rows), speed)
        return ratio(at, speed, first.take(rows), second.take(rows))[1]

    going = np.arange(cell.size)
    at_low, at_high, turn = slope(low, going), slope(high, going), high.copy()
    stayed = np.zeros(cell.size, dtype=np.intp)
    for _ in range(_STEPS):
        if not going.size:
            break
        a, b, fa, fb = (part.take(going) for part in (low, high, at_low, at_high))
        trial = a + (b - a) * fa / (fa - fb)
        value = slope(trial, going)
        lower = (value > 0.0) == (fa > 0.0)
        low[going], high[going] = np.where(lower, trial, a), np.where(lower, b, trial)
        # An end that stays twice in a row is given half its weight, or it would stay for ever.
        stays = np.where(lower, 1, -1)
        weight = np.where(stays == stayed.take(going), 0.5, 1.0)
        at_low[going] = np.where(lower, value, weight * fa)
        at_high[going] = np.where(lower, weight * fb, value)
        stayed[going] = stays
        more = np.abs(trial - turn.take(going)) > enough.take(going)
        turn[going] = trial
        going = going[more]
    return turn


def _rises(
    cells: _Cells, omega: FloatArray, ratio: _Ratio, first: FloatArray, second: FloatArray
) -> NDArray[np.bool_]:
    """Return whether the function rises in each cell at a speed, for every draw, (cells, n).

    The slope's sign is that of a sum of terms in the factors: where it is the same at the ends of
    their ranges it is the same for every draw.
    """
    ends = np.meshgrid([first.min(), first.max()], [second.min(), second.max()])
    every = np.arange(cells.start.size)
    at = tuple(part[:, np.newaxis] for part in cells.torques(every, omega))
    corners = ratio(at, omega[:, np.newaxis], *(end.ravel() for end in ends))[1] > 0.0  # type: ignore[arg-type]
    rises = np.repeat(corners[:, :1], first.size, axis=1)
    open_ = np.flatnonzero(np.any(corners != corners[:, :1], axis=1))
    at = tuple(part[open_] for part in at)
    rises[open_] = ratio(at, omega[open_, np.newaxis], first, second)[1] > 0.0  # type: ignore[arg-type]
    return rises
