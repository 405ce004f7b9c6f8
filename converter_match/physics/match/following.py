"""Many machines of one engine and converter, each followed from one turbine speed to the next.

What `turbine_speed` says of one machine holds of each: at a turbine speed held the engine goes up
from where it is while it has torque to spare, down while it lacks torque, to the next balance. Here
that is done for n machines at once that differ by factors on the engine's torque and on the
converter's capacity. A match is looked for only from the last one on, not everywhere: coming up
from rest with many draws costs a small part of what finding every match of each would.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.balances import closed_in
from converter_match.physics.match.turbine_speed import (
    engine_grid,
    excess_at,
    full_load_scale,
    top_turbine_speed,
)

# Turbine speeds at which each machine is looked at on its way up.
_SWEEP = 80
# Cells of the grid that are passed one by one before a whole row is looked at.
_NEAR = 3
# Between two matches of a machine: where the engine is looked at for a match in between.
_BETWEEN = np.linspace(0.0, 1.0, 9)[1:-1, np.newaxis]
# Halvings of a step in which an engine jumps.
_HALVINGS = 14
# Excess, in shares of the highest torque, that is a rounding error.
_NOTHING = 1e-11


@dataclass(frozen=True, eq=False)
class Passages:
    """What n machines pass that speed up from standstill at full load, by rising turbine speed.

    Parameters
    ----------
    turbine_speed, engine_speed : ndarray, shape (p, n)
        [rad/s]; NaN where a machine has no match, and behind its last point.
    broken : ndarray of bool, shape (p, n)
        Whether the engine jumps between a point and the one before it, or has no match there.
    """

    turbine_speed: FloatArray
    engine_speed: FloatArray
    broken: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Machines:
    """Machines of one engine and converter, told apart by two factors each.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    torque, capacity : ndarray, shape (n,)
        On the engine's torque before loads, and on the converter's capacity.
    """

    supply: TorqueSupply
    converter: Converter
    torque: FloatArray
    capacity: FloatArray

    def picked(self, rows: NDArray[Any]) -> Machines:
        """Return some of the machines."""
        return Machines(self.supply, self.converter, self.torque[rows], self.capacity[rows])

    def next_to(
        self, turbine_speed: FloatArray, now: FloatArray, *, near: bool = False
    ) -> FloatArray:
        """Return the match that each engine goes to at a turbine speed, shape (n,) [rad/s].

        Parameters
        ----------
        turbine_speed, now : ndarray, shape (n,)
            [rad/s]; `now` is NaN for an engine that comes up from idle, infinite for one that had
            torque left beyond its known speeds.
        near : bool
            Whether only the next cells of the grid are looked at.

        Returns
        -------
        ndarray, shape (n,)
            Infinite where it has torque left beyond its known speeds, NaN where it is lugged
            down, or nothing is near.
        """
        excess = excess_at(self.supply, self.converter, turbine_speed, self.torque, self.capacity)
        grid = engine_grid(self.supply)
        bottom, top = self.supply.domain
        high = self.converter.domain[1]
        least = np.maximum(bottom, turbine_speed / min(high, 1.0))
        rows = np.flatnonzero(least <= top)
        kinks = turbine_speed[:, np.newaxis] / self._kinks
        found = np.full(now.size, np.nan)
        found[rows] = np.clip(np.nan_to_num(now[rows], nan=bottom, posinf=top), least[rows], top)
        begin, at_begin = found.copy(), np.full(now.size, np.nan)
        at_begin[rows] = excess(found[rows], rows)
        rows = rows[np.abs(at_begin[rows]) > _NOTHING]
        up = at_begin > 0.0
        ends, at_ends = begin.copy(), at_begin.copy()
        closed = []
        for _ in range(_NEAR):
            if not rows.size:
                break
            begin[rows], at_begin[rows] = ends[rows], at_ends[rows]
            ends[rows] = _next_cell(grid, kinks[rows], begin[rows], up[rows])
            ends[rows] = np.clip(ends[rows], least[rows], top)
            at_ends[rows] = excess(ends[rows], rows)
            turned = (at_ends[rows] > 0.0) != up[rows]
            closed.append(rows[turned])
            out = ~turned & (ends[rows] == np.where(up[rows], top, least[rows]))
            found[rows[out]] = np.where(up[rows[out]], np.inf, np.nan)
            rows = rows[~turned & ~out]
        if near:
            found[rows] = np.nan
        elif rows.size:
            closed.append(self._far(rows, turbine_speed, begin, at_begin, ends, at_ends, up, found))
        turned = np.concatenate([np.empty(0, dtype=np.intp), *closed])
        place, _ = closed_in(
            lambda omega, which: excess(omega, turned[which]),
            (begin[turned], ends[turned]),
            (at_begin[turned], at_ends[turned]),
        )
        found[turned] = place
        return found

    def _far(
        self,
        rows: NDArray[np.intp],
        turbine_speed: FloatArray,
        begin: FloatArray,
        at_begin: FloatArray,
        ends: FloatArray,
        at_ends: FloatArray,
        up: NDArray[np.bool_],
        found: FloatArray,
    ) -> NDArray[np.intp]:
        """Look at the whole grid beyond `ends`; put brackets, return whose there are."""
        common, supply = engine_grid(self.supply), self.supply
        some, ahead = self.picked(rows), up[rows, np.newaxis]
        low, high = self.converter.domain
        high = min(high, 1.0)
        speed = turbine_speed[rows, np.newaxis]
        # Nodes below the end of the converter's data stand at that end.
        least = np.maximum(common[0], speed / high)
        grid = np.maximum(common, least)
        made, loads = (
            np.where(common < least, part(least), part(common))
            for part in (supply.source, supply.load_torque)
        )
        nu = np.clip(speed / grid, low, high)
        taken = some.capacity[:, np.newaxis] * self.converter.capacity_at(nu) * grid**2
        net = some.torque[:, np.newaxis] * (supply.factor * made) - loads
        values = (net - taken) / full_load_scale(supply)
        grid, values = (np.where(ahead, part, part[:, ::-1]) for part in (grid, values))
        behind = np.where(ahead, grid <= ends[rows, np.newaxis], grid >= ends[rows, np.newaxis])
        turns = ~behind & ((values > 0.0) != ahead)
        first, every = np.argmax(turns, axis=1), np.arange(rows.size)
        has = turns[every, first]
        found[rows[~has]] = np.where(up[rows[~has]], np.inf, np.nan)
        hits, to, mine = rows[has], first[has], every[has]
        # Between `ends` and the first node beyond it, or between two nodes.
        inside = ~behind[mine, to - 1]
        begin[hits] = np.where(inside, grid[mine, to - 1], ends[hits])
        at_begin[hits] = np.where(inside, values[mine, to - 1], at_ends[hits])
        ends[hits], at_ends[hits] = grid[mine, to], values[mine, to]
        return np.asarray(hits)

    @property
    def _kinks(self) -> FloatArray:
        ratios = self.converter.characteristic.speed_ratio
        return np.asarray(ratios[(ratios > 0.0) & (ratios <= 1.0)])

    def jumped(
        self, turbine_speed: FloatArray, before: FloatArray, after: FloatArray
    ) -> NDArray[np.bool_]:
        """Return whether another match lies between two engine speeds, shape (n,).

        A machine that stays on its branch leaves none behind: see `match_set.crossed`.

        Parameters
        ----------
        turbine_speed : ndarray, shape (n,)
            At which the engine ran before [rad/s].
        before, after : ndarray, shape (n,)
            Engine speeds [rad/s].
        """
        # Within a cell of the grid no look for matches would tell them apart.
        cell = np.diff(engine_grid(self.supply)).max()
        jumps = np.abs(after - before) > cell
        rows = np.flatnonzero(jumps)
        if rows.size:
            some, begin, end = self.picked(rows), before[rows], after[rows]
            at = turbine_speed[rows]
            excess = excess_at(self.supply, self.converter, at, some.torque, some.capacity)
            between = begin + (end - begin) * _BETWEEN
            each = np.broadcast_to(np.arange(rows.size), between.shape)
            spare = excess(between.ravel(), each.ravel()).reshape(between.shape) > 0.0
            jumps[rows] = (spare == (end > begin)).any(axis=0)
        return np.asarray(jumps)

    def up_from_rest(self, end: FloatArray) -> Passages:
        """Return what each machine passes that speeds up from standstill.

        Parameters
        ----------
        end : ndarray, shape (n,)
            One more turbine speed to be looked at, such as that of the end of the data [rad/s];
            NaN where there is none.
        """
        size = self.torque.size
        sweep = np.linspace(0.0, top_turbine_speed(self.supply, self.converter), _SWEEP + 1)
        turbine = np.repeat(np.append(sweep, 0.0)[:, np.newaxis], size, axis=1)
        turbine[-1] = np.where(np.isfinite(end), end, sweep[-1])
        turbine.sort(axis=0)
        engine, broken = np.full(turbine.shape, np.nan), np.zeros(turbine.shape, dtype=bool)
        now = np.full(size, np.nan)
        for k, speed in enumerate(turbine):
            last, now = now, self.next_to(speed, now)
            engine[k] = np.where(np.isfinite(now), now, np.nan)
            both = np.isfinite(now) & np.isfinite(last)
            broken[k] = ~both
            if k and both.any():
                moved = np.flatnonzero(both)
                places = turbine[k - 1][moved], last[moved], now[moved]
                broken[k, moved] = self.picked(moved).jumped(*places)
        passed = Passages(turbine, engine, broken)
        step, row = np.nonzero(broken[1:] & np.isfinite(engine[1:]) & np.isfinite(engine[:-1]))
        if not step.size:
            return passed
        some, behind = self.picked(row), (step + 1, row)
        two = some._at_the_jump(
            turbine[step, row], turbine[behind], engine[step, row], engine[behind]
        )
        # Behind it the machine may jump once more.
        broken[behind] = some.jumped(two.turbine_speed[1], two.engine_speed[1], engine[behind])
        return _sorted(passed, row, two)

    def _at_the_jump(
        self, low: FloatArray, high: FloatArray, last: FloatArray, now: FloatArray
    ) -> Passages:
        """Return the last point before a jump and the first behind it, by halving."""
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            there = self.next_to(middle, last, near=True)
            stays = np.isfinite(there)
            stays &= ~self.jumped(low, last, np.where(stays, there, last))
            low, last = np.where(stays, middle, low), np.where(stays, there, last)
            high = np.where(stays, high, middle)
        there = self.next_to(high, last)
        now = np.where(np.isfinite(there), there, now)
        broken = np.stack([np.zeros(low.shape, dtype=bool), np.ones(low.shape, dtype=bool)])
        return Passages(np.stack([low, high]), np.stack([last, now]), broken)


def _next_cell(
    grid: FloatArray, kinks: FloatArray, speed: FloatArray, up: NDArray[np.bool_]
) -> FloatArray:
    """Return the next node of a common grid, or of one's own kinks, above or below a speed."""
    above = grid[np.minimum(np.searchsorted(grid, speed, side="right"), grid.size - 1)]
    below = grid[np.maximum(np.searchsorted(grid, speed, side="left") - 1, 0)]
    own = speed[:, np.newaxis]
    above = np.minimum(above, np.where(kinks > own, kinks, np.inf).min(axis=1))
    below = np.maximum(below, np.where(kinks < own, kinks, -np.inf).max(axis=1))
    return np.asarray(np.where(up, above, below))


def _sorted(passed: Passages, row: NDArray[np.intp], two: Passages) -> Passages:
    """Put the points before and behind each jump, shape (2, j) of machines (j,), in their place."""
    size = passed.turbine_speed.shape[1]
    order = np.argsort(row, kind="stable")
    rank = np.arange(row.size) - np.searchsorted(row[order], row[order], side="left")
    shape = (2 * (1 + int(rank.max())), size)
    own = [np.full(shape, np.nan), np.full(shape, np.nan), np.ones(shape, dtype=bool)]
    for part, item in zip(own, fields(Passages), strict=True):
        for side in (0, 1):
            part[2 * rank + side, row[order]] = getattr(two, item.name)[side, order]
    # Before the points of the sweep, so that they are first where speeds are the same.
    every = [
        np.concatenate([part, getattr(passed, item.name)])
        for part, item in zip(own, fields(Passages), strict=True)
    ]
    place = np.argsort(every[0], axis=0, kind="stable")
    turbine, engine, broken = (np.take_along_axis(part, place, axis=0) for part in every)
    return Passages(turbine, engine, broken)
