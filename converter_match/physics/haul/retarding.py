"""Holding a machine back on a descent: what is needed, and what the engine gives in which gear.

A driver holds the gear in which the engine turns fast but not too fast. For each speed the state
with the greatest retarding force at the tread is chosen among those in which the turbine stays
below its limit; a locked-up state only where the engine would not be dragged below idle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.arrangement.shaft_demand import Demand
from converter_match.physics.wheels.drive_chain import DriveChain

_POINTS = 401


@dataclass(frozen=True, eq=False)
class RetardingChoice:
    """Best state for holding back, and what each gives, over tread speed.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        [m/s].
    best : ndarray of int, shape (2, n)
        Forward and in reverse, the state with the greatest retarding force; -1 where none retards.
    force : ndarray, shape (2, n)
        Its retarding force at the tread, driveline losses included [N].
    by_state : ndarray, shape (states, n)
        Retarding force of each state whatever its speed limits [N].
    reverse : ndarray of bool, shape (states,)
        Whether each state drives in reverse.
    """

    speed: FloatArray
    best: NDArray[np.intp]
    force: FloatArray
    by_state: FloatArray
    reverse: NDArray[np.bool_]

    @classmethod
    def of(cls, chain: DriveChain, demand: Demand, turbine_limit: float) -> RetardingChoice:
        """Tabulate for turbine speeds up to a limit [rad/s]."""
        speed = np.linspace(0.0, 1.02 * float(chain.top.max()), _POINTS)
        forces = np.full((chain.size, _POINTS), -np.inf)
        everywhere = np.zeros((chain.size, _POINTS))
        for i, drive in enumerate(chain.drives):
            turbine = speed * chain.ratio_over_radius[i]
            locked = np.full(_POINTS, chain.locked[i])
            torque = demand.least_torque(turbine, locked)
            left = torque - drive.gear.drag_torque(np.minimum(turbine, _drag_end(drive.gear)))
            line = drive.driveline
            eta = line.efficiency(drive.gear)
            held = -left * np.where(left < 0.0, 1.0 / eta, eta) * chain.ratio_over_radius[i]
            everywhere[i] = held
            usable = turbine <= turbine_limit
            if chain.locked[i]:
                usable &= turbine >= demand.idle
            forces[i] = np.where(usable & (torque < 0.0), held, -np.inf)
        best, force = np.empty((2, _POINTS), dtype=np.intp), np.empty((2, _POINTS))
        for way in (0, 1):
            own = np.where((chain.reverse == way)[:, np.newaxis], forces, -np.inf)
            best[way] = np.argmax(own, axis=0)
            force[way] = own[best[way], np.arange(_POINTS)]
        found = np.isfinite(force) & (force > 0.0)
        return cls(
            speed,
            np.where(found, best, -1),
            np.where(found, force, 0.0),
            everywhere,
            chain.reverse,
        )

    def at(
        self, tread: FloatArray, reverse: NDArray[np.bool_]
    ) -> tuple[NDArray[np.intp], FloatArray]:
        """Return the best state (-1 for none) and its retarding force [N] at tread speeds.

        Parameters
        ----------
        tread : ndarray
            [m/s].
        reverse : ndarray of bool
            Whether the machine drives in reverse.
        """
        way = reverse.astype(np.intp)
        step = self.speed[1]
        cell = np.clip(tread / step, 0.0, self.speed.size - 1.000001)
        low = cell.astype(np.intp)
        # The slower neighbour's state: its turbine is within the limit there, and nearly so here.
        best = np.minimum(self.best[way, low], self.best[way, low + 1])
        share = cell - low
        force = self.force[way, low] * (1.0 - share) + self.force[way, low + 1] * share
        return np.where(best >= 0, best, -1), np.where(best >= 0, force, 0.0)

    def chosen(
        self,
        state: NDArray[np.intp],
        tread: FloatArray,
        descending: NDArray[np.bool_],
        ground: FloatArray,
    ) -> NDArray[np.intp]:
        """Return the states with the retarding gear put in where a descent asks for it.

        Parameters
        ----------
        state : ndarray of int
            In force by speed.
        tread : ndarray
            [m/s].
        descending : ndarray of bool
            Whether the machine would run away by itself at its speed.
        ground : ndarray
            Force that the motion needs at the ground [N]; below zero to hold back.
        """
        best, _ = self.at(tread, self.reverse[state])
        step = self.speed[1]
        near = np.clip(np.rint(tread / step).astype(np.intp), 0, self.speed.size - 1)
        own = self.by_state[state, near]
        return np.where(descending & (-ground > own) & (best >= 0), best, state)


def _drag_end(gear: object) -> float:
    from converter_match.components.driveline import DragTable, Gear

    assert isinstance(gear, Gear)
    return float(gear.drag.speed[-1]) if isinstance(gear.drag, DragTable) else np.inf
