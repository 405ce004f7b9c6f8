"""Effort, rotating mass, slip and gear of all draws at once, from the tables of a drive chain."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.wheels.drive_chain import DriveChain, force_for_factors

_SLIP_POINTS = 129
# A speed this near to a shift speed is at it: what an event computed to rounding needs.
_AT = 1e-9
# No state is left for the one below closer than this to the speed at which that one is left for it.
_LEAST_HYSTERESIS = 0.005
# A gear just taken is kept until its downshift is left this far behind: slip moves the tread too.
_CLEAR = 1.15


class LookUp:
    """Everything of a drive that can be tabulated, for draws of the engine's torque.

    Parameters
    ----------
    chain : DriveChain
    torque : ndarray, shape (n,)
        Factor of each draw on the engine's torque before loads.
    """

    def __init__(self, chain: DriveChain, torque: FloatArray) -> None:
        force = force_for_factors(chain, torque)
        self.chain = chain
        self._points = chain.force.shape[1]
        self._force = force.reshape(-1)
        self._rotating = chain.rotating.reshape(-1)
        many = torque.size
        rows = np.arange(many) if force.shape[0] > 1 else np.zeros(many, dtype=np.intp)
        self._row = rows * chain.force.size
        self._scale = (self._points - 1) / chain.top
        self.down_speed = np.minimum(
            chain.down_speed, (1.0 - _LEAST_HYSTERESIS) * chain.up_speed[chain.down_to]
        )
        machine = chain.drives[0].machine
        use = np.linspace(0.0, 1.0, _SLIP_POINTS)
        self._kept = 1.0 - machine.slip.at(use)
        self.even = bool(np.all(self._kept == self._kept[0]))

    def at(self, state: NDArray[np.intp], tread: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return effort [N] and rotating mass [kg] at tread speeds [m/s], shape (..., n)."""
        x = np.minimum(tread * self._scale[state], self._points - 1.000001)
        cell = x.astype(np.intp)
        x -= cell
        cell += state * self._points
        low = self._rotating[cell]
        rotating = low + x * (self._rotating[cell + 1] - low)
        cell += self._row
        low = self._force[cell]
        return low + x * (self._force[cell + 1] - low), rotating

    def grip_share(self, force: FloatArray, grip: FloatArray) -> FloatArray:
        """Return 1 - slip at an effort [N] with a limit [N]."""
        if self.even:
            return np.full(force.shape, self._kept[0])
        use = np.minimum(np.maximum(force / grip, 0.0), 1.0) * (_SLIP_POINTS - 1.000001)
        cell = use.astype(np.intp)
        low = self._kept[cell]
        return np.asarray(low + (use - cell) * (self._kept[cell + 1] - low))

    def settle(
        self,
        state: NDArray[np.intp],
        tread: FloatArray,
        need: FloatArray,
        coasted: FloatArray,
        fresh: NDArray[np.bool_],
        coasts: NDArray[np.bool_],
        shifts: NDArray[np.intp],
    ) -> tuple[NDArray[np.bool_] | None, NDArray[np.bool_]]:
        """Change states in place until each is in force.

        A gear is held where the next one could not keep the speed, and the next lower one is taken
        where it pulls more while speed is being lost: what a driver does on a climb, and without
        what a climb between two gears would make the gearbox hunt. A gear that was just taken, and
        pulls, is not left for the speed that the interruption of the shift has cost.

        Parameters
        ----------
        state, shifts : ndarray of int, shape (n,)
            Changed in place: the states, and the number of gear changes.
        tread, need : ndarray, shape (n,)
            Tread speed [m/s], and what resists at it [N].
        coasted : ndarray, shape (n,)
            Tread speed after the interruption of a shift [m/s].
        fresh : ndarray of bool, shape (n,)
            Whether the gear was just taken on the way up; changed in place.
        coasts : ndarray of bool, shape (n,)
            Whether the drive is interrupted.

        Returns
        -------
        changed : ndarray of bool or None
            Which changed gear.
        held : ndarray of bool
            Which gears are not those of the shift speeds alone.
        """
        chain, changed = self.chain, None
        held = np.zeros(state.size, dtype=bool)
        for _ in range(2 * chain.size):
            force = self.at(state, tread)[0]
            up = tread >= chain.up_speed[state] * (1.0 - _AT)
            slow = tread <= self.down_speed[state] * (1.0 + _AT)
            fresh &= (tread <= _CLEAR * self.down_speed[state]) | coasts
            stays = slow & fresh & (force > need)
            down = slow & ~stays
            loses = (force < need) & ~slow & ~coasts
            if loses.any():
                kicks = loses & self._pulls_more(state, tread, force)
                down |= kicks
                up &= ~kicks
                stays |= kicks
            if up.any():
                refused = up & ~self._keeps_speed(state, tread, need, coasted)
                stays |= refused
                up &= ~refused
            held |= stays
            moves = up | down
            if not moves.any():
                break
            new = np.where(up, chain.up_to[state], np.where(down, chain.down_to[state], state))
            gear = chain.gear_index[new] != chain.gear_index[state]
            shifts += gear
            changed = gear if changed is None else changed | gear
            fresh[:] = np.where(moves, up & gear, fresh)
            coasts = coasts | gear
            state[:] = new
        return changed, held

    def _pulls_more(
        self, state: NDArray[np.intp], tread: FloatArray, force: FloatArray
    ) -> NDArray[np.bool_]:
        """Return whether the gear below pulls more at a speed, and would not be left at it."""
        below = self.chain.down_to[state]
        gear = self.chain.gear_index
        allowed = (tread < self.chain.up_speed[below] * (1.0 - _AT)) & (gear[below] != gear[state])
        return np.asarray(allowed & (self.at(below, tread)[0] > force))

    def _keeps_speed(
        self, state: NDArray[np.intp], tread: FloatArray, need: FloatArray, coasted: FloatArray
    ) -> NDArray[np.bool_]:
        chain = self.chain
        above = chain.up_to[state]
        beyond = chain.up_to[above]
        same = (chain.gear_index[beyond] == chain.gear_index[above]) & (
            tread > chain.up_speed[above]
        )
        other = chain.gear_index[above] != chain.gear_index[state]
        force = np.maximum(
            self.at(above, tread)[0], np.where(same, self.at(beyond, tread)[0], -np.inf)
        )
        after = self.at(above, coasted)[0]
        if same.any():
            locks = same & (coasted > self.down_speed[beyond])
            after = np.where(locks, np.maximum(after, self.at(beyond, coasted)[0]), after)
        pulls = (after > need) & (coasted > 0.0)
        return np.asarray(~other | ((force > need) & pulls))
