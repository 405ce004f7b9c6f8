"""Matching by a fan of tables, for many points that each have a torque factor of their own.

With loads ``L`` and torque before loads ``S`` a match is ``f S(omega) - L(omega) = C omega^2``.
Divided by the factor,

    S(omega) / omega^2 - r L(omega) / omega^2 = u,    r = 1 / f,    u = C / f,

so the engine speed at a given u hangs on the factor by the loads alone, and nearly in a straight
line. Two inverses are tabulated, for the least and the greatest r; between them a straight line is
a first guess, and two steps of Newton's method end it. That needs an engine whose capacity function
only falls, for every factor; points that do not settle, next to a knot mostly, are left to the
scan.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import TorqueSupply, cubic_with_slope
from converter_match.physics.match.newton import SMALL_STEP
from converter_match.physics.match.scan import by_scan
from converter_match.physics.match.table import falls_throughout

FEWEST = 4000
"""Points from which on building the fan pays (measured)."""
# Cells of the table over u, of that over the speed, and nodes a piece from which the first is made.
_CELLS, _PLACES, _FINE = 4096, 8192, 128
# Points handled at once: keeps temporaries in cache.
_CHUNK = 1 << 13
# An excess at an end of the domain smaller than this share of what is absorbed there is looked at
# with more care.
_AT_THE_END = 1e-9


@dataclass(frozen=True, eq=False)
class Fan:
    """First guesses of the engine speed over u and r, and what a speed needs to be polished.

    Parameters
    ----------
    supply : TorqueSupply
    low, per, least, span : float
        First u and cells a unit of it; least r and how far it goes.
    guess : ndarray, shape (4, cells)
        Speed at the start of a cell and its change over the cell, for the least r; the same, how
        much more for the greatest.
    places : ndarray of int, shape (places,)
        Cubic piece of the supply at even speeds.
    pieces : ndarray, shape (11, pieces)
        Cubics of source and loads, where they begin, and where the piece begins and ends.
    """

    supply: TorqueSupply
    low: float
    per: float
    least: float
    span: float
    guess: FloatArray
    places: NDArray[np.intp]
    pieces: FloatArray

    @classmethod
    def of(cls, supply: TorqueSupply, factor: FloatArray) -> Fan | None:
        """Return the fan of some factors; None where the capacity function turns somewhere.

        Parameters
        ----------
        supply : TorqueSupply
        factor : ndarray
            On the torque before loads; what holds for the least and the greatest holds between,
            since excess and slope are linear in it.
        """
        ends = float(factor.max()), float(factor.min())
        if not all(falls_throughout(supply, end) for end in ends):
            return None
        omega = supply.nodes(_FINE)
        over = np.array([1.0 / end for end in ends])
        source, load = supply.factor * supply.source(omega), supply.load_torque(omega)
        u = (source - over[:, np.newaxis] * load) / omega**2
        low, high = float(u.min()), float(u.max())
        grid = np.linspace(low, high, _CELLS + 1)
        first, last = (np.interp(grid, row[::-1], omega[::-1]) for row in u)
        more = last - first
        guess = np.stack([first[:-1], np.diff(first), more[:-1], np.diff(more)])
        knots = supply.knots
        start, end = supply.domain
        middles = start + (np.arange(_PLACES) + 0.5) * (end - start) / _PLACES
        pieces = np.concatenate([supply.factor * supply.source_pieces, supply.load_pieces,
                                 [knots[:-1], knots[:-1], knots[1:]]])  # fmt: skip
        span = float(over[1] - over[0]) or 1.0
        return cls(supply, low, _CELLS / (high - low), float(over[0]), span, guess,
                   supply.piece_of(middles), pieces)  # fmt: skip

    def speeds(self, c: FloatArray, factor: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return engine speeds [rad/s], NaN for no match, and which of them are sure, (n,).

        Parameters
        ----------
        c, factor : ndarray, shape (n,)
        """
        over = 1.0 / factor
        place = (c * over - self.low) * self.per
        np.clip(place, 0.0, _CELLS - 1e-6, out=place)
        cell = place.astype(np.intp)
        place -= cell
        start, change, more, more_change = self.guess.take(cell, axis=1)
        omega = start + change * place
        omega += (over - self.least) / self.span * (more + more_change * place)
        low, high = self.supply.domain
        at = ((omega - low) * (_PLACES / (high - low))).astype(np.intp)
        piece = self.places.take(at, mode="clip")
        part = self.pieces.take(piece, axis=1)
        cubic = factor * part[:4]
        cubic -= part[4:8]
        origin, begins, ends = part[8:]
        omega, _ = self._stepped(cubic, origin, omega, c)
        inside = (omega >= begins) & (omega <= ends)
        omega, step = self._stepped(cubic, origin, omega, c)
        inside &= (omega >= begins) & (omega <= ends)
        sure = inside & (np.abs(step) <= SMALL_STEP * omega)
        return self._within(omega, sure, c, factor)

    def _stepped(
        self, cubic: FloatArray, origin: FloatArray, omega: FloatArray, c: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return speeds after one step of Newton's method, and the step."""
        torque, slope = cubic_with_slope(cubic, origin, omega, self.supply.other_laws)
        absorbed = c * omega
        torque -= absorbed * omega
        absorbed *= 2.0
        slope -= absorbed
        with np.errstate(divide="ignore", invalid="ignore"):
            step = torque / slope
        return omega - step, step

    def _within(
        self, omega: FloatArray, sure: NDArray[np.bool_], c: FloatArray, factor: FloatArray
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return the same without those that no engine speed of the domain matches."""
        for end, way in zip(self.supply.domain, (1.0, -1.0), strict=True):
            at = np.array([end])
            source = self.supply.factor * float(self.supply.source(at)[0])
            load = float(self.supply.load_torque(at)[0])
            absorbed = c * end**2
            excess = way * (factor * source - load - absorbed)
            close = _AT_THE_END * np.abs(absorbed)
            none = excess < -close
            omega = np.where(none, np.nan, omega)
            sure = none | (sure & (excess > close))
        return omega, sure


def by_fan(
    supply: TorqueSupply, capacity: FloatArray, factor: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return (speeds, stable), shape (r, n), for capacities and torque factors (n,).

    Parameters
    ----------
    supply : TorqueSupply
    capacity, factor : ndarray, shape (n,)
        C [N.m/(rad/s)^2], and the factor on the torque before loads.
    """
    fan = Fan.of(supply, factor)
    if fan is None:
        return by_scan(supply, capacity, factor)
    speed, sure = np.empty(capacity.size), np.empty(capacity.size, dtype=bool)
    for start in range(0, capacity.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        speed[part], sure[part] = fan.speeds(capacity[part], factor[part])
    left = np.flatnonzero(~sure)
    if left.size:
        # One branch, so one match at most.
        speed[left] = by_scan(supply, capacity[left], factor[left])[0][0]
    return speed[np.newaxis], np.isfinite(speed)[np.newaxis]
