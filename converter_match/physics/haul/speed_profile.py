"""Speed over a route: full throttle up to what is allowed, for one machine or many draws at once.

Every draw takes steps of its own, and a step ends where something happens: a shift speed, the end
of a shift's interruption, the speed allowed, the point where braking begins, the end of a segment.
So no step straddles a shift, and how often a gearbox shifts does not hang on the step.

Within a step the acceleration ``(F - R) / M`` is taken as a straight line in the square of speed
between its values at the two ends, which `motion` solves exactly; where the wheels would spin
what the ground allows stands instead, with the weight that the acceleration itself moves
(`road_load.grip_rate`). A step changes the speed by no more than `SPAN` of the state's range, and
its square by a half or a quarter of that where the straight line is off in the middle by
more than `BEND` of the acceleration, or of the engine's share in it. Where another gear is asked
for and does not pay yet it takes no longer than `QUESTION`, and during a shift than `COASTING`. At
the allowed speed a machine that could go faster keeps to it, braking or not, exactly.

All draws march together: one step is a few dozen array operations, whatever their number. Each
changes the speed by a share of its range, ends at an event, or covers the longest step, so the
march always ends.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.haul.gear_choice import AT, GearChoice, Going
from converter_match.physics.haul.loads import Draws, SegmentLoads
from converter_match.physics.haul.look_up import LookUp
from converter_match.physics.haul.motion import Motion, way_between
from converter_match.physics.haul.steps import SpeedProfile
from converter_match.physics.wheels.drive_chain import DriveChain
from converter_match.physics.wheels.road_load import grip_at, grip_rate

# The step that all of the step control is stated for [m]; a shorter one refines all in proportion.
LONGEST_STEP = 50.0
SPAN = 0.1
BEND = 0.02
MISS = 0.004
# Where another gear does not pay yet, that is asked again after so long [s].
QUESTION = 2.0
# A shift without drive is gone through in pieces of so long at most [s].
COASTING = 0.3
_PARTS = 0.5 ** np.arange(4.0, -1.0, -1.0)[:, np.newaxis]
_ASKED = 0.25  # share of a step's span
_FAR = 0.04  # a balance whose square of speed is by this share another is far
_PULL = 0.2  # share of an acceleration that is taken for the engine's at least
_CRAWL = 0.02  # slower than this is a stand [m/s]
_LEAST = 1e-6  # change of speed in a step, at least [m/s]
_MOST_STEPS = 500  # a segment, and a longest step: no route with a shift a metre has more
# Slip that is this near to that of the step before is read off once [1].
_SAME_SLIP = 1e-3


def speed_profile(
    chain: DriveChain,
    allowed: AllowedSpeed,
    loads: SegmentLoads,
    draws: Draws,
    *,
    first: NDArray[np.intp] | None = None,
    parts: Sequence[DriveChain] = (),
    part: NDArray[np.intp] | None = None,
    road: NDArray[np.intp] | None = None,
    shift_time: float = 0.0,
    start_speed: float = 0.0,
    longest: float = LONGEST_STEP,
) -> SpeedProfile:
    """March all draws along a route at full throttle below the speed allowed.

    Parameters
    ----------
    chain : DriveChain
    allowed, loads : AllowedSpeed, SegmentLoads
    draws : Draws
    first : ndarray of int, shape (segments,), optional
        State in which a machine starts in each segment; the chain's first without.
    parts : sequence of DriveChain, optional
        Where several machines drive: their states, as they follow one another in the chain.
    part, road : ndarray of int, shape (draws,), optional
        Which of the machines each draw is, and on which of the roads; the first without.
    shift_time : float
        Time without drive at a gear change, and at a change of direction [s].
    start_speed : float
        [m/s].
    longest : float
        Longest step [m]; all of the step control follows it in proportion.

    Raises
    ------
    InputError
        If the machine changes between gears without end.
    """
    lowest = np.zeros(allowed.length.size, dtype=np.intp) if first is None else first
    on = np.zeros(draws.size, dtype=np.intp) if road is None else road
    look = LookUp(chain, draws.torque, parts, part)
    march = _March(look, allowed, loads, draws, on, lowest, shift_time, longest)
    march.start(start_speed)
    most = _MOST_STEPS * (allowed.length.size + float(allowed.length.sum()) / longest)
    for _ in range(int(most * max(LONGEST_STEP / longest, 1.0))):
        if march.done.all():
            return march.profile()
        march.step()
    raise InputError(
        "the machine changes between two gears without end and makes no way",
        field="driveline",
        hint="are the upshift and downshift speeds right?",
    )


class _March:
    """Where every draw is, what it does next, and what it has done."""

    def __init__(
        self,
        look: LookUp,
        allowed: AllowedSpeed,
        loads: SegmentLoads,
        draws: Draws,
        road: NDArray[np.intp],
        lowest: NDArray[np.intp],
        shift_time: float,
        longest: float,
    ) -> None:
        chain = look.chain
        self._chain, self._allowed, self._loads, self._draws = chain, allowed, loads, draws
        self._look, self._choice = look, GearChoice(chain, look, shift_time)
        self._alike = loads.alike_ahead(allowed)
        self._lowest, self._shift_time, self._longest = lowest, shift_time, longest
        fine = min(longest / LONGEST_STEP, 1.0)
        self._span, self._bend, self._miss = SPAN * fine * chain.top, BEND * fine, MISS * fine
        self._question, self._coasting = QUESTION * fine, COASTING * fine
        many = draws.size
        self._segment = allowed.begins[road]
        self._left = allowed.length[self._segment]
        self._dead = np.zeros(many)  # time without drive still to come
        self._waits = np.full(many, np.nan)  # time to stand at a stop that is reached
        self._share = np.ones(many)  # 1 - slip
        self._shifts = np.zeros(many, dtype=np.intp)
        self._number = np.arange(many)
        self._stuck = np.full(many, -1)
        self._stuck_force = np.full(many, np.nan)
        self._steps: list[tuple[NDArray[np.generic], ...]] = []
        self.done = np.zeros(many, dtype=bool)
        self._enter()

    def start(self, speed: float) -> None:
        """Begin at a speed [m/s], in the gear that belongs to it."""
        at_once = np.minimum(self._allowed.at(self._segment, self._left), speed)
        self._speed = self._begin = at_once
        self._state = self._lowest[self._segment]
        for first in np.unique(self._segment):
            which = self._segment == first
            v = float(at_once[which][0])
            self._state[which] = self._chain.settled(int(self._lowest[first]), v)

    def _enter(self) -> None:
        """Take up what the segments of the draws ask for."""
        loads, draws, segment = self._loads, self._draws, self._segment
        self._mass = loads.mass[segment] * draws.mass
        self._ground = loads.resistance(segment, self._mass, draws.rolling_resistance)
        self._grip = loads.grip[segment] * self._mass
        self._whole_grip, self._moved = loads.whole_grip[segment], loads.moved[segment]
        self._air = loads.air_in(segment)
        self._end, self._limit = self._allowed.end[segment], self._allowed.limit[segment]

    def step(self) -> None:
        """Take every draw to the end of its next step."""
        self._held = self._shift()
        rate, force = self._rate(self._speed)
        share = self._look.grip_share(force, self._grip_at(rate))
        if (np.abs(share - self._share) > _SAME_SLIP).any():
            self._share = share
            rate, force = self._rate(self._speed)
            share = self._look.grip_share(force, self._grip_at(rate))
        self._share = share
        time, length, end = self._free(rate, force)
        time, length, end = self._kept(rate, time, length, end)
        stands = ~np.isnan(self._waits)
        rests = stands | self.done
        slow = (self._speed <= _CRAWL) & (rate <= 0.0) & ~rests
        if slow.any():
            stuck = slow & (self._dead <= 0.0)
            lowest = self._lowest[self._segment]
            self._halt(stuck & (self._state == lowest))
            # Before it is given up, a machine that came to a stand in a higher gear is put down.
            self._state = np.where(stuck, lowest, self._state)
            rests |= slow
        if rests.any():
            waited = np.where(stands, self._waits, np.where(self.done, 0.0, self._dead))
            time, length = np.where(rests, waited, time), np.where(rests, 0.0, length)
            end = np.where(rests, 0.0, end)
        else:
            stands = rests
        self._advance(time, length, end, stands)

    def _shift(self) -> NDArray[np.bool_]:
        """Change gear where that is due; return who holds a gear instead."""
        speed = self._speed
        before_braking = (
            self._left
            + self._alike[self._segment]
            - np.maximum(speed * speed - self._end * self._end, 0.0) / (2.0 * self._allowed.braking)
        )
        going = Going.of(
            self._number,
            speed,
            self._share,
            self._mass,
            self._ground,
            self._air,
            self._grip,
            self._limit,
            before_braking,
            self._whole_grip,
            self._moved,
        )
        changed, holds, waits = self._choice.settle(
            self._state, going, self._dead > 0.0, self._shifts
        )
        if self._shift_time > 0.0 and changed.size:
            self._dead = self._dead.copy()
            self._dead[changed] = self._shift_time
        held = np.zeros(speed.size, dtype=bool)
        held[holds] = True
        self._asked = np.full(speed.size, np.inf)
        self._asked[waits] = self._question * np.maximum(speed[waits], _CRAWL)
        return held

    def _rate(self, speed: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return acceleration [m/s^2] and force at the ground [N] at speeds, shape (..., n)."""
        force, rotating = self._look.at(self._state, speed / self._share)
        force = np.where(self._dead > 0.0, 0.0, force)
        ground = self._ground + self._air * speed * speed
        # The ground passes on what is left after the rotating parts have taken their share.
        most = (self._grip - ground) / self._mass
        if self._moved.any():
            need = ground / self._mass
            most = grip_rate(self._grip / self._mass, self._whole_grip, self._moved, need)
        rate = np.minimum((force - ground) / (self._mass + rotating), most)
        return rate, ground + self._mass * rate

    def _grip_at(self, rate: FloatArray) -> FloatArray:
        """Return the adhesion limit at accelerations [N]."""
        if not self._moved.any():
            return self._grip
        return self._mass * grip_at(self._grip / self._mass, self._whole_grip, self._moved, rate)

    def _free(
        self, rate: FloatArray, force: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return time, length and end speed of a step that nothing but the engine holds back."""
        v = self._speed
        square = v * v
        target = self._target(rate)
        changes = _PARTS * (target * target - square)
        there, forces = self._rate(np.sqrt(square + changes))
        counts = self._counts(rate, force) + self._counts(there[1:], forces[1:])
        part = self._part(rate, there, np.abs(changes), square, counts)
        column = np.arange(v.size)
        change, last = changes[part, column], there[part, column]
        motion = Motion(square, rate, (last - rate) / change)
        whole = way_between(change, rate, last)
        length = np.minimum(whole, np.minimum(self._left, np.minimum(self._longest, self._asked)))
        # Towards a balance that is still far, the way is one on which it is neared by a part.
        far = np.abs(rate) > _FAR * square * np.abs(motion.slope)
        length = np.where(far, np.minimum(length, motion.settling_way()), length)
        coasts = self._dead > 0.0
        rolls = self._dead / np.ceil(np.maximum(self._dead / self._coasting - AT, 1.0))
        if coasts.any():
            coasted = rolls * np.maximum(v + 0.5 * rate * rolls, 0.5 * v)
            coasts &= coasted <= length
            length = np.where(coasts, coasted, length)
        reached = motion.square_after(length)
        reached = np.where(length == whole, square + change, reached)
        room = self._end * self._end + 2.0 * self._allowed.braking * self._left
        over = np.flatnonzero(reached + 2.0 * self._allowed.braking * length > room)
        if over.size:
            braking, room = self._allowed.braking, room[over]
            length[over] = motion.picked(over).way_to_braking(room, length[over], braking)
            reached[over] = room - 2.0 * braking * length[over]
            coasts[over] = False
        end = np.sqrt(np.maximum(reached, 0.0))
        time = motion.time(length, v, end)
        return np.where(coasts, rolls, time), length, end

    def _counts(self, rate: FloatArray, force: FloatArray) -> FloatArray:
        """Return the acceleration that a bend is measured against [m/s^2].

        Downhill it is the pull's share, within bounds: what gravity gives is no work of the engine.
        """
        whole = np.abs(rate)
        return np.maximum(np.minimum(whole, np.abs(force) / self._mass), _PULL * whole)

    def _part(
        self,
        rate: FloatArray,
        there: FloatArray,
        changes: FloatArray,
        square: FloatArray,
        counts: FloatArray,
    ) -> NDArray[np.intp]:
        """Return the largest part of the step on which the acceleration is nearly a straight line.

        That is judged in the middle, against the accelerations at both ends; where a balance lies
        between them, also by how far the line misses it.
        """
        off = np.abs(2.0 * there[:-1] - (rate + there[1:]))
        last = there[1:]
        most = self._bend * counts
        slope = np.abs(last - rate) / changes[1:]
        near = np.where(rate * last < 0.0, self._miss * slope * square, np.inf)
        good = off <= np.minimum(most, near)
        # The last that is good; where none is, the smallest part is taken unjudged.
        return np.where(good.any(axis=0), len(_PARTS) - 1 - np.argmax(good[::-1], axis=0), 0)

    def _target(self, rate: FloatArray) -> FloatArray:
        """Return the speed at which something happens, or which is as far as a step goes."""
        v, state, span = self._speed, self._state, self._span[self._state]
        above, below = v * (1.0 + AT), v * (1.0 - AT)
        shift = self._chain.up_speed[state] * self._share
        fastest = np.minimum(self._limit, self._chain.top[state] * self._share)
        high = v + span
        high = np.where((shift > above) & (shift < high), shift, high)
        high = np.where((fastest > above) & (fastest < high), fastest, high)
        shift = self._look.down_speed[state] * self._share
        # Where the next lower gear is a question, it is asked more often.
        down = np.where(self._chain.down_assumed[state], _ASKED * span, span)
        low = np.maximum(v - down, _CRAWL)
        low = np.where((shift < below) & (shift > low), shift, low)
        # From here downwards the gear below may be taken, as `GearChoice` asks.
        shift = self._choice.kick_speed(state, self._share) * (1.0 - 2.0 * AT)
        low = np.where((shift < below) & (shift > low), shift, low)
        high, low = np.maximum(high, v + _LEAST), np.minimum(low, v - _LEAST)
        return np.asarray(np.where(rate > 0.0, high, low))

    def _kept(
        self, rate: FloatArray, time: FloatArray, length: FloatArray, end: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the steps with those put in that keep to the speed allowed."""
        v, braking = self._speed, self._allowed.braking
        limit = np.minimum(self._limit, self._chain.top[self._state] * self._share)
        slowing = np.sqrt(self._end * self._end + 2.0 * braking * self._left)
        brakes = (v >= slowing * (1.0 - AT)) & (rate >= -braking) & (v > 0.0)
        cruises = (v >= limit * (1.0 - AT)) & (rate >= 0.0) & ~brakes & (v > 0.0)
        if cruises.any():
            needed = np.maximum(v * v - self._end * self._end, 0.0) / (2.0 * braking)
            way = np.minimum(np.maximum(self._left - needed, 0.0), self._longest)
            length = np.where(cruises, way, length)
            time = np.where(cruises, way / np.where(cruises, v, 1.0), time)
            end = np.where(cruises, v, end)
        if brakes.any():
            shift = self._look.down_speed[self._state] * self._share
            low = np.maximum(v - self._span[self._state], self._end)
            low = np.where((shift < v * (1.0 - AT)) & (shift > low), shift, low)
            low = np.minimum(low, v)
            last = low <= self._end
            way = np.where(last, self._left, (v * v - low * low) / (2.0 * braking))
            way = np.minimum(way, self._left)
            length = np.where(brakes, way, length)
            time = np.where(brakes, 2.0 * way / np.where(brakes, v + low, 1.0), time)
            end = np.where(brakes, low, end)
        return time, length, end

    def _halt(self, stuck: NDArray[np.bool_]) -> None:
        """Give up those that stand, have their drive, and cannot move on."""
        if not stuck.any():
            return
        self._stuck[stuck] = len(self._steps)
        rest, still = self._lowest[self._segment], np.zeros(self.done.size)
        force = np.minimum(self._look.at(rest, still)[0], self._grip)
        self._stuck_force[stuck] = force[stuck]
        self.done = self.done | stuck

    def _advance(
        self,
        time: FloatArray,
        length: FloatArray,
        end: FloatArray,
        stands: NDArray[np.bool_],
    ) -> None:
        """Write the step down, and go on to where it ends."""
        left = self._left - length
        arrives = (left <= AT * self._allowed.length[self._segment]) & ~self.done
        left = np.where(arrives, 0.0, left)
        stop = self._allowed.stop[self._segment]
        halts = arrives & ~np.isnan(stop) & ~stands
        end = np.where(halts, 0.0, end)
        self._steps.append(
            (self._segment, length, time, end, self._state.copy(), stands, self._held, left)
        )
        shifts = self._dead > 0.0
        self._dead = np.maximum(self._dead - time, 0.0)
        self._speed, self._left = end, left
        self._waits = np.where(halts, stop, np.nan)
        # A shift that loses all speed is still made: the machine starts in the gear it took.
        slow = (end <= _CRAWL) & (halts | ~shifts)
        if slow.any():
            self._state = np.where(slow, self._lowest[self._segment], self._state)
        leaves = arrives & ~halts
        if leaves.any():
            self._leave(leaves, time, stands)

    def _leave(
        self, leaves: NDArray[np.bool_], time: FloatArray, stands: NDArray[np.bool_]
    ) -> None:
        """Go over into the next segment."""
        final = leaves & self._allowed.final[self._segment]
        self.done = self.done | final
        on = leaves & ~final
        before = self._lowest[self._segment]
        self._segment = self._segment + on
        self._left = np.where(on, self._allowed.length[self._segment], self._left)
        turns = on & (self._lowest[self._segment] != before)
        if turns.any():
            # What the stop does not take of the change of direction is waited for.
            waits = np.maximum(self._shift_time - np.where(stands, time, 0.0), 0.0)
            self._dead = np.where(turns, waits, self._dead)
            self._state = np.where(turns, self._lowest[self._segment], self._state)
        self._enter()

    def profile(self) -> SpeedProfile:
        """Return what was done."""
        segment, length, time, speed, state, stands, held, left = (
            np.stack(column) for column in zip(*self._steps, strict=True)
        )
        return SpeedProfile(
            segment=segment,
            length=length,
            time=time,
            speed=np.concatenate([self._begin[np.newaxis], speed]),
            state=state.astype(np.int16),
            stands=stands,
            held=held,
            left=left,
            stuck=self._stuck,
            stuck_force=self._stuck_force,
            shifts=self._shifts,
        )
