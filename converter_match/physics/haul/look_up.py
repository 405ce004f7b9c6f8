"""Effort, rotating mass, slip and gear of all draws at once, from the tables of a drive chain."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.wheels.drive_chain import DriveChain, force_for_factors

_SLIP_POINTS = 129
_ALL = slice(None)
# No state is left for the one below closer than this to the speed at which that one is left for it.
_LEAST_HYSTERESIS = 0.005


class LookUp:
    """Everything of a drive that can be tabulated, for draws of the engine's torque.

    Parameters
    ----------
    chain : DriveChain
        The states of all machines.
    torque : ndarray, shape (n,)
        Factor of each draw on the engine's torque before loads.
    parts : sequence of DriveChain, optional
        The machines whose states follow one another in the chain; the chain itself without. They
        differ in engine and converter only.
    part : ndarray of int, shape (n,), optional
        The machine of each draw.
    """

    def __init__(
        self,
        chain: DriveChain,
        torque: FloatArray,
        parts: Sequence[DriveChain] = (),
        part: NDArray[np.intp] | None = None,
    ) -> None:
        self.chain, self.draws = chain, torque.size
        self._points = chain.force.shape[1]
        self._rotating = chain.rotating.reshape(-1)
        self._row = np.zeros(torque.size, dtype=np.intp)
        tables, begins, states = [], 0, 0
        for number, own in enumerate(parts or (chain,)):
            which = np.flatnonzero(part == number) if parts else np.arange(torque.size)
            force = force_for_factors(own, torque[which], span=(torque.min(), torque.max()))
            row = np.arange(which.size) if force.shape[0] > 1 else 0
            self._row[which] = begins + row * own.force.size - states * self._points
            tables.append(force.reshape(-1))
            begins, states = begins + force.size, states + own.size
        self._force = np.concatenate(tables)
        self._scale = (self._points - 1) / chain.top
        self.down_speed = np.minimum(
            chain.down_speed, (1.0 - _LEAST_HYSTERESIS) * chain.up_speed[chain.down_to]
        )
        gear, each = chain.gear_index, range(chain.size)
        same = [[k for k in each if gear[k] == gear[state]] for state in each]
        self._converter = np.array([states[0] for states in same])
        self._locked = np.array([states[-1] for states in same])
        self.gear_top = np.array([max(chain.top[k] for k in states) for states in same])
        # From where its lock-up engages on the way up a gear counts as locked up.
        self._engages = chain.up_speed[self._converter]
        machine = chain.drives[0].machine
        use = np.linspace(0.0, 1.0, _SLIP_POINTS)
        self._kept = 1.0 - machine.slip.at(use)
        self.even = bool(np.all(self._kept == self._kept[0]))

    def at(
        self,
        state: NDArray[np.intp],
        tread: FloatArray,
        which: NDArray[np.intp] | slice = _ALL,
    ) -> tuple[FloatArray, FloatArray]:
        """Return effort [N] and rotating mass [kg] at tread speeds [m/s], shape (..., n).

        Parameters
        ----------
        state : ndarray of int, shape (n,)
        tread : ndarray
        which : ndarray of int, shape (n,), optional
            Draws that they belong to.
        """
        x = np.minimum(tread * self._scale[state], self._points - 1.000001)
        cell = x.astype(np.intp)
        x -= cell
        cell += state * self._points
        low = self._rotating[cell]
        rotating = low + x * (self._rotating[cell + 1] - low)
        cell += self._row[which]
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

    def pull_and_mass(
        self, state: NDArray[np.intp], tread: FloatArray, which: NDArray[np.intp]
    ) -> tuple[FloatArray, FloatArray]:
        """Return effort [N] and rotating mass [kg] in the gear of a state, locked up where it is.

        Parameters
        ----------
        state : ndarray of int, shape (n,)
        tread : ndarray, shape (..., n)
            [m/s].
        which : ndarray of int, shape (n,)
            Draws that they belong to.
        """
        converter, locked = self._converter[state], self._locked[state]
        force, rotating = self.at(converter, tread, which)
        if (converter == locked).all():
            return force, rotating
        engaged = tread > self._engages[state]
        force_locked, rotating_locked = self.at(locked, tread, which)
        return (
            np.where(engaged, force_locked, force),
            np.where(engaged, rotating_locked, rotating),
        )

    def pull(
        self, state: NDArray[np.intp], tread: FloatArray, which: NDArray[np.intp]
    ) -> FloatArray:
        """Return the effort alone [N]."""
        return self.pull_and_mass(state, tread, which)[0]
