"""Every branch of the match over turbine speed, and where a load that goes by speed meets them.

Between two turbine speeds at which a pair has equally many matches each match goes over into the
one of its rank. Branches begin and end where two of them meet: these turbine speeds are closed in,
so that nothing is missed beside them.

A machine that goes by such branches moves faster while there is torque to spare and slower while
there is none, the engine staying on its branch as long as that is there. Where both hold on two
sides of a jump it goes to and fro and settles nowhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.balances import Balances
from converter_match.physics.match.match_set import OperatingPoints, crossed
from converter_match.physics.match.turbine_speed import (
    Coming,
    balances_at,
    points_of,
    top_turbine_speed,
)

_SPEEDS = 480
# A cell of turbine speeds in which the number of matches changes is cut into so many, so often.
_PARTS, _ROUNDS = 16, 9


@dataclass(frozen=True, eq=False)
class EveryBranch:
    """Every match over turbine speed.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed : ndarray, shape (n,)
        [rad/s], rising from 0.
    balances : Balances
        Of those turbine speeds, shape (r, n).
    """

    supply: TorqueSupply
    converter: Converter
    turbine_speed: FloatArray
    balances: Balances

    @cached_property
    def points(self) -> OperatingPoints:
        """The matches, shape (r, n)."""
        return points_of(self.converter, self.turbine_speed, self.balances)

    @cached_property
    def _nearest(self) -> FloatArray:
        """How near to each other matches come on the way to the next, (n - 1,) [rad/s]."""
        apart = np.diff(self.balances.speed, axis=0)
        least = np.fmin.reduce(apart, axis=0, initial=np.inf)
        return np.asarray(np.minimum(least[1:], least[:-1]))

    @cached_property
    def goes_on(self) -> NDArray[np.bool_]:
        """Whether matches of one rank are of one branch from a turbine speed to the next, (n - 1,).

        There are equally many at both, and the engine comes up or is lugged down at both.
        """
        count, spare = np.isfinite(self.balances.speed).sum(axis=0), self.balances.spare_below
        return np.asarray((count[1:] == count[:-1]) & (spare[1:] == spare[:-1]))

    def at(self, turbine_speed: FloatArray, rank: NDArray[np.intp]) -> OperatingPoints:
        """Return matches by turbine speed [rad/s] and rank, arrays (k,); NaN where there is none.

        Parameters
        ----------
        turbine_speed, rank : ndarray, shape (k,)
            Rank is by rising engine speed, from 0.
        """
        found = balances_at(self.supply, self.converter, turbine_speed)
        each = np.arange(rank.size)
        there = rank < len(found.speed)
        row = np.where(there, rank, 0)
        one = Balances(
            np.where(there, found.speed[row, each], np.nan)[np.newaxis],
            (there & found.stable[row, each])[np.newaxis],
            found.spare_below,
        )
        return points_of(self.converter, turbine_speed, one).at(0)

    @cached_property
    def up(self) -> FloatArray:
        """Engine speed of a machine that comes up from standstill, (n,) [rad/s]."""
        return self.balances.followed(range(self.turbine_speed.size), np.nan)

    @cached_property
    def down(self) -> FloatArray:
        """Engine speed of a machine that is slowed down from its top speed, (n,) [rad/s]."""
        return self.balances.followed(range(self.turbine_speed.size)[::-1], np.inf)

    def settles(self, spare: FloatArray, coming: Coming) -> tuple[int, int] | None:
        """Return where a machine settles that comes up from standstill, or down from its top speed.

        Parameters
        ----------
        spare : ndarray, shape (r, n)
            Above zero where a match leaves something to speed up by, NaN where there is no match.
        coming : {"up", "down"}

        Returns
        -------
        (int, int) or None
            Rank, and place of the turbine speed before the balance; None where it settles nowhere.
        """
        last = self.turbine_speed.size - 1
        place, onward, begin = (0, 1, math.nan) if coming == "up" else (last, -1, math.inf)
        now = self.balances.next_to(place, begin)
        while coming == "down" and place > 0 and not math.isfinite(now):
            place -= 1  # faster than the engine runs
            now = self.balances.next_to(place, begin)
        pulls = (spare > 0.0).T.tolist()
        seen = set[tuple[int, int, int]]()
        jumped = True
        while math.isfinite(now):
            rank = self.balances.rank(place, now)
            ahead = 1 if pulls[place][rank] else -1
            if ahead != onward:
                if not jumped:
                    return rank, min(place, place - onward)
                onward = ahead
            if (rank, place, ahead) in seen or not 0 <= place + ahead <= last:
                return None
            seen.add((rank, place, ahead))
            then = self.balances.next_to(place + ahead, now)
            jumped = self._jumps(place, place + ahead, now, then)
            place, now = place + ahead, then
        return None

    def _jumps(self, place: int, other: int, speed: float, then: float) -> bool:
        first = min(place, other)
        if self.goes_on[first] and abs(then - speed) < self._nearest[first]:
            return False
        columns = [place, other]
        unstable = np.where(self.balances.stable, np.nan, self.balances.speed)[:, columns]
        return bool(crossed(np.array([speed, then]), unstable)[1])


def every_branch(supply: TorqueSupply, converter: Converter) -> EveryBranch:
    """Return every branch of the match at full load, from standstill to the highest turbine speed.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    """
    speeds = np.linspace(0.0, top_turbine_speed(supply, converter), _SPEEDS + 1)
    found = balances_at(supply, converter, speeds)
    low, high = _where_they_meet(supply, converter, speeds, found)
    if low.size:
        speeds = np.unique(np.concatenate([speeds, low, high]))
        found = balances_at(supply, converter, speeds)
    return EveryBranch(supply, converter, speeds, found)


def _count(found: Balances) -> NDArray[np.intp]:
    """Return the number of matches, told apart by whether the engine comes up: shape (n,)."""
    return np.asarray(2 * np.isfinite(found.speed).sum(axis=0) + found.spare_below)


def _where_they_meet(
    supply: TorqueSupply, converter: Converter, speeds: FloatArray, found: Balances
) -> tuple[FloatArray, FloatArray]:
    """Return turbine speeds closely before and behind each at which branches begin or end."""
    count = _count(found)
    cells = np.flatnonzero(count[1:] != count[:-1])
    low, high, before = speeds[cells], speeds[cells + 1], count[cells]
    share = np.linspace(0.0, 1.0, _PARTS + 1)[:, np.newaxis]
    for _ in range(_ROUNDS if cells.size else 0):
        inner = low + share * (high - low)
        other = _count(balances_at(supply, converter, inner[1:-1].ravel()))
        differs = other.reshape(_PARTS - 1, cells.size) != before
        first = np.where(differs.any(axis=0), np.argmax(differs, axis=0), _PARTS - 1)
        each = np.arange(cells.size)
        low, high = inner[first, each], inner[first + 1, each]
    return low, high
