"""When a machine on a route changes gear: what the driveline's file says, and else what pays.

A shift speed that the file gives is kept to: at it the gear changes, whatever comes of it. Where it
gives none, one rule stands in its place, for both directions: **a gear is taken where the machine
is ahead with it, the time without drive counted**, at the end of the stretch, and in any case after
`LOOKS_AHEAD`. Up, that is asked from the speed on at which the next gear pulls as much; down, where
speed is being lost. So no shift is made that does not pay, and a climb between two gears does not
make the gearbox hunt.

How far each gear comes is worked out for the resistance of the moment, from the acceleration at a
few speeds, a straight line in the square of speed between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.physics.haul.look_up import LookUp
from converter_match.physics.haul.motion import Motion, way_between
from converter_match.physics.wheels.drive_chain import DriveChain
from converter_match.physics.wheels.road_load import grip_rate

LOOKS_AHEAD = 10.0  # s
# A speed this near to a shift speed is at it: what an event computed to rounding needs.
AT = 1e-9
# A gear just taken is kept until its downshift is left this far behind: slip moves the tread too.
_CLEAR = 1.15
# Speeds at which the acceleration of a gear is looked at: a balance between two of them is told to
# a percent, as two gears whose speeds on a climb differ by some percent need it.
_PARTS = np.linspace(0.0, 1.0, 17)[:, np.newaxis] ** 1.5
_BRAKES = 1e-6  # nearer than this to where it has to brake, it brakes [s]
_LEAST_SQUARE = 1e-4  # m^2/s^2
_SLOWEST = 0.5  # share of its speed below which a machine that slows down is not followed


@dataclass(frozen=True, eq=False)
class Going:
    """How each draw goes, and what is ahead of it; arrays of shape (n,).

    Parameters
    ----------
    draw : ndarray of int
        Its number.
    table : ndarray, shape (10, n)
        One array, so that some of the draws are picked at once. Its rows: speed over ground [m/s],
        and that as a share of the tread's; mass [kg]; resistance without the air's [N]; the air's
        by the square of speed [N.s^2/m^2]; grip [N]; speed allowed [m/s]; way to the end of the
        stretch, or to where it brakes for it [m]; grip with everything on the driven wheels, of a
        unit of mass [N/kg], and what an acceleration adds to it.
    """

    draw: NDArray[np.intp]
    table: FloatArray

    @classmethod
    def of(cls, draw: NDArray[np.intp], *rows: FloatArray) -> Going:
        """Return it from the rows."""
        return cls(draw, np.array(rows))

    def picked(self, which: NDArray[np.intp]) -> Going:
        """Return some of the draws."""
        return Going(self.draw[which], self.table[:, which])

    def twice(self) -> Going:
        """Return all draws two times over."""
        return Going(np.tile(self.draw, 2), np.concatenate([self.table, self.table], axis=1))

    @property
    def speed(self) -> FloatArray:
        """Speed over ground [m/s]."""
        return np.asarray(self.table[0])

    @property
    def share(self) -> FloatArray:
        """That as a share of the tread's."""
        return np.asarray(self.table[1])

    @property
    def mass(self) -> FloatArray:
        """[kg]."""
        return np.asarray(self.table[2])

    @property
    def ground(self) -> FloatArray:
        """Resistance without the air's [N]."""
        return np.asarray(self.table[3])

    @property
    def air(self) -> FloatArray:
        """The air's, by the square of speed [N.s^2/m^2]."""
        return np.asarray(self.table[4])

    @property
    def grip(self) -> FloatArray:
        """[N]."""
        return np.asarray(self.table[5])

    @property
    def limit(self) -> FloatArray:
        """Speed allowed [m/s]."""
        return np.asarray(self.table[6])

    @property
    def way(self) -> FloatArray:
        """To the end of the stretch, or to where it brakes for it [m]."""
        return np.asarray(self.table[7])

    @property
    def need(self) -> FloatArray:
        """What resists [N]."""
        return self.ground + self.air * self.speed * self.speed

    def grip_rate(self, need: FloatArray) -> FloatArray:
        """Return the highest acceleration that the ground allows against a resistance [N]."""
        whole, moved = self.table[8], self.table[9]
        return grip_rate(self.grip / self.mass, whole, moved, need / self.mass)


class GearChoice:
    """The rule for draws that share a look-up.

    Parameters
    ----------
    chain : DriveChain
    look_up : LookUp
    shift_time : float
        Time without drive at a shift [s].
    """

    def __init__(self, chain: DriveChain, look_up: LookUp, shift_time: float) -> None:
        self._chain, self._look, self._shift_time = chain, look_up, shift_time
        gear = chain.gear_index
        self._fresh = np.zeros(look_up.draws, dtype=bool)
        self._chosen_up = chain.up_assumed & (gear[chain.up_to] != gear)
        self._chosen_down = chain.down_assumed & (gear[chain.down_to] != gear)

    def settle(
        self,
        state: NDArray[np.intp],
        going: Going,
        coasts: NDArray[np.bool_],
        shifts: NDArray[np.intp],
    ) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
        """Change states in place until each is in force.

        Parameters
        ----------
        state, shifts : ndarray of int, shape (n,)
            Changed in place: the states, and the number of gear changes.
        going : Going
        coasts : ndarray of bool, shape (n,)
            Whether the drive is interrupted.

        Returns
        -------
        changed : ndarray of int
            Which draws changed gear.
        held : ndarray of int
            Which hold a gear that its shift speed would leave for one that cannot keep the speed.
        waits : ndarray of int
            Which keep their gear because another does not pay, or not yet.
        """
        chain = self._chain
        tread = going.speed / going.share
        up = tread >= chain.up_speed[state] * (1.0 - AT)
        low = self._look.down_speed[state]
        down = tread <= low * (1.0 + AT)
        if self._fresh.any():
            self._fresh &= (tread <= _CLEAR * low) | coasts
        ask = up | down
        if self._chosen_down.any():
            ask |= self._chosen_down[state] & ~coasts
        some = np.flatnonzero(ask)
        changed: list[NDArray[np.intp]] = []
        held = waits = some[:0]
        for _ in range(2 * chain.size):
            if not some.size:
                break
            now = state[some]
            new, holds, asks = self._next(now, going.picked(some), coasts[some])
            held = np.concatenate([held, some[holds]])
            waits = np.concatenate([waits, some[asks]])
            moves = new != now
            self._fresh[some[moves]] = (new > now)[moves]
            gear = moves & (chain.gear_index[new] != chain.gear_index[now])
            state[some] = new
            shifts[some] += gear
            changed.append(some[gear])
            coasts = coasts.copy()
            coasts[some[gear]] = True
            some = some[moves]
        return (np.concatenate(changed) if changed else some), held, waits

    def kick_speed(self, state: NDArray[np.intp], share: FloatArray) -> FloatArray:
        """Return the speed [m/s] below which the gear below would not be left at once.

        An upshift of the file goes by the tread. The tool's own stands where both gears pull alike
        at a speed over ground, without slip.

        Parameters
        ----------
        state : ndarray of int, shape (n,)
        share : ndarray, shape (n,)
            Speed over ground / tread speed.
        """
        below = self._chain.down_to[state]
        return np.asarray(
            self._chain.up_speed[below] * np.where(self._chosen_up[below], 1.0, share)
        )

    def _next(
        self, state: NDArray[np.intp], going: Going, coasts: NDArray[np.bool_]
    ) -> tuple[NDArray[np.intp], NDArray[np.bool_], NDArray[np.bool_]]:
        """Return the states that follow at once; which are held though a shift is due; which wait.

        Those wait for another gear to pay.
        """
        chain, tread = self._chain, going.speed / going.share
        up = tread >= chain.up_speed[state] * (1.0 - AT)
        down = tread <= self._look.down_speed[state] * (1.0 + AT)
        held, waits = (np.zeros(state.size, dtype=bool) for _ in range(2))
        which = np.flatnonzero(down & self._keeps_while_gathering(state, going))
        if which.size:
            down[which] = ~self._gathers(state[which], going.picked(which), coasts[which])
        which = np.flatnonzero(up & self._chosen_up[state])
        if which.size:
            keeps, pays = self._up_pays(state[which], going.picked(which))
            up[which] = pays
            held[which], waits[which] = ~keeps, ~pays
        which = np.flatnonzero(self._chosen_down[state] & ~down & ~coasts)
        if which.size:
            asks, pays = self._down_pays(state[which], going.picked(which))
            down[which[pays]], up[which[pays]] = True, False
            waits[which] |= asks & ~pays
        new = np.where(up, chain.up_to[state], np.where(down, chain.down_to[state], state))
        return new, held, waits & (new == state)

    def _keeps_while_gathering(self, state: NDArray[np.intp], going: Going) -> NDArray[np.bool_]:
        """Return who leaves its gear downwards only where speed is being lost.

        That is who has just taken it; and, where the file gives no downshift, who does not brake.
        """
        chosen = self._chosen_down[state] & (going.way > _BRAKES * going.speed)
        return np.asarray(self._fresh[going.draw] | chosen)

    def _gathers(
        self, state: NDArray[np.intp], going: Going, coasts: NDArray[np.bool_]
    ) -> NDArray[np.bool_]:
        """Return who waits for the drive to come back after a shift up, or gathers speed with it.

        Without that the speed which the interruption costs would undo the shift.
        """
        pull = self._look.at(state, going.speed / going.share, going.draw)[0]
        return np.asarray(coasts | (pull > going.need))

    def _up_pays(
        self, state: NDArray[np.intp], going: Going
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Return whether the next gear keeps the speed, and whether it pays to take it."""
        above = self._chain.up_to[state]
        slower = going.speed - self._shift_time * going.need / going.mass
        pull = np.minimum(self._look.pull(above, going.speed / going.share, going.draw), going.grip)
        keeps = (pull > going.need) & (slower > 0.0)
        return keeps, self._ahead(state, above, going, keeps)

    def _down_pays(
        self, state: NDArray[np.intp], going: Going
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Return who loses speed and would keep the gear below, and who of them is ahead in it."""
        below, tread = self._chain.down_to[state], going.speed / going.share
        pull = self._look.at(state, tread, going.draw)[0]
        asks = (pull < going.need) & (
            going.speed < self.kick_speed(state, going.share) * (1.0 - AT)
        )
        asks &= self._look.pull(below, tread, going.draw) > pull
        asks &= pull < going.need + going.mass * going.grip_rate(going.need)
        return asks, self._ahead(state, below, going, asks)

    def _ahead(
        self,
        state: NDArray[np.intp],
        other: NDArray[np.intp],
        going: Going,
        asked: NDArray[np.bool_],
    ) -> NDArray[np.bool_]:
        """Return which of those asked for are ahead in another gear."""
        if not asked.any():
            return asked
        which = np.flatnonzero(asked)
        going = going.picked(which)
        lost = self._shift_time * going.need / going.mass
        after = np.maximum(going.speed - lost, 0.0)
        way = np.maximum(going.way, LOOKS_AHEAD * going.speed)
        rolled = 0.5 * (going.speed + after) * self._shift_time
        states = np.concatenate([state[which], other[which]])
        speeds = np.concatenate([going.speed, after])
        times = self._time(
            states, speeds, np.concatenate([way, way - rolled]), going.twice()
        ).reshape(2, -1)
        ahead = asked.copy()
        ahead[which] = (after > 0.0) & (times[1] + self._shift_time <= times[0])
        return ahead

    def _time(
        self, state: NDArray[np.intp], speed: FloatArray, way: FloatArray, going: Going
    ) -> FloatArray:
        """Return the time [s] for a way in the gear of a state, from a speed."""
        rate = self._rate(state, speed, going)
        top = np.minimum(going.limit, self._look.gear_top[state] * going.share)
        goal = np.where(rate > 0.0, np.maximum(top, speed * 1.001), _SLOWEST * speed)
        v = speed + (goal - speed) * _PARTS
        rates = self._rate(state, v, going)
        change = np.diff(v * v, axis=0)
        ways = way_between(change, rates[:-1], rates[1:])
        ends = np.cumsum(np.where(np.isfinite(ways), ways, np.inf), axis=0)
        column, last = np.arange(speed.size), len(_PARTS) - 1
        part = (ends < way).sum(axis=0)
        twice = v[:-1] + v[1:]
        passed = (ends < way) & (twice > 0.0)
        before = np.divide(2.0 * ways, twice, out=np.zeros_like(ways), where=passed).sum(axis=0)
        done = np.where(part > 0, ends[np.maximum(part - 1, 0), column], 0.0)
        rest, first = way - done, v[part, column]
        piece = np.minimum(part, last - 1)
        over = change[piece, column]  # nothing for a machine that stands still
        rise = rates[piece + 1, column] - rates[piece, column]
        slope = np.divide(rise, over, out=np.zeros_like(rise), where=over != 0.0)
        motion = Motion(first * first, rates[part, column], slope)
        mean = np.where(part < last, motion.mean_square(rest), first * first)
        return np.asarray(before + rest / np.sqrt(np.maximum(mean, _LEAST_SQUARE)))

    def _rate(self, state: NDArray[np.intp], speed: FloatArray, going: Going) -> FloatArray:
        pull, rotating = self._look.pull_and_mass(state, speed / going.share, going.draw)
        need = going.ground + going.air * speed * speed
        return np.minimum((pull - need) / (going.mass + rotating), going.grip_rate(need))
