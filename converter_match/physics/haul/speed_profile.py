"""Speed over distance: full throttle up to what is allowed, for one machine or many draws at once.

Over a step of length s the force is held, so that

    v_1^2 = v_0^2 + 2 s (F - R) / M,      t = 2 s / (v_0 + v_1),

which is exact for a constant force and never divides by a speed of zero; where the wheels would
spin, ``(mu N - R) / m`` stands instead of (F - R) / M. F and R are taken at
``v_0 + theta (v_1 - v_0)``, found by Newton's method. Where effort falls slowly with speed theta is
a half (second order); where it falls so steeply that a step would shoot past the balance, as in a
low gear on a steep grade, theta moves towards 1, which settles on the balance instead.
v_1 is then capped by the ceiling of `physics.haul.steps`. All draws march together: one step is a
handful of array operations, whatever their number; the number of steps is fixed by the route and
each has an end, so the march always ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.machine import Machine
from converter_match.components.route import Route
from converter_match.constants import GRAVITY
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.haul.steps import RouteSteps
from converter_match.physics.wheels.drive_chain import DriveChain, force_for_factors
from converter_match.physics.wheels.road_load import RoadLoad, ground_shares

_SLIP_POINTS = 129
_CRAWL = 0.02  # slower than this is a stand [m/s]
_NEWTON = 1  # the first guess is good already
_HALVINGS = 16


@dataclass(frozen=True, eq=False)
class Draws:
    """Factors of each draw, all of one shape (n,); 1 is what the data say.

    Parameters
    ----------
    mass, torque, rolling_resistance : ndarray
        Multiply the mass, the engine's torque before loads, and the rolling resistance.
    """

    mass: FloatArray
    torque: FloatArray
    rolling_resistance: FloatArray

    @classmethod
    def of(
        cls,
        mass: ArrayLike = 1.0,
        torque: ArrayLike = 1.0,
        rolling_resistance: ArrayLike = 1.0,
    ) -> Draws:
        """Return draws from scalars and arrays of one length.

        Raises
        ------
        InputError
            If a factor is not finite and above zero.
        """
        given = {"mass": mass, "torque": torque, "rolling_resistance": rolling_resistance}
        arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, float)) for v in given.values()))
        for name, array in zip(given, arrays, strict=True):
            if array.ndim != 1 or not np.all(np.isfinite(array) & (array > 0.0)):
                raise InputError(
                    "not usable factors", field=name, expected="a list of numbers above zero"
                )
        return cls(*(array.copy() for array in arrays))

    @property
    def size(self) -> int:
        """Number of draws."""
        return int(self.mass.size)

    def picked(self, part: slice) -> Draws:
        """Return some of the draws."""
        return Draws(self.mass[part], self.torque[part], self.rolling_resistance[part])


@dataclass(frozen=True, eq=False)
class StepLoads:
    """What each step asks for, before the factors of a draw; arrays of shape (steps,).

    Parameters
    ----------
    mass : ndarray
        [kg].
    rolling, climbing : ndarray
        ``c_r cos a`` and ``sin a``.
    grip : ndarray
        Adhesion limit / mass [N/kg]; infinite where traction is not known.
    air : float
        ``rho c_d A / 2`` [N.s^2/m^2].
    running_drag : float
        [N].
    """

    mass: FloatArray
    rolling: FloatArray
    climbing: FloatArray
    grip: FloatArray
    air: float
    running_drag: float

    @classmethod
    def of(cls, route: Route, steps: RouteSteps, machine: Machine, air_density: float) -> StepLoads:
        """Return the loads of a machine on the steps of a route."""
        grip, share = np.empty(route.grade.size), np.empty(route.grade.size)
        loads: dict[tuple[str, str], RoadLoad] = {}
        for k, (surface, load) in enumerate(zip(route.surface, route.load, strict=True)):
            key = (surface.fingerprint(), load)
            if key not in loads:
                loads[key] = RoadLoad.of(machine, surface, load=load, air_density=air_density)
            grip[k] = float(loads[key].adhesion(route.grade[k])) / machine.mass(load)
            share[k] = loads[key].rolling_resistance
        mass = np.array([machine.mass(load) for load in route.load])
        rolling, climbing = ground_shares(share, route.grade)
        whole = next(iter(loads.values()))
        pick = steps.segment
        return cls(
            mass=mass[pick],
            rolling=rolling[pick],
            climbing=climbing[pick],
            grip=grip[pick],
            air=float(whole.air_factor),
            running_drag=whole.running_drag,
        )

    def resistance(
        self, pick: int | slice, mass: ArrayLike, rolling: ArrayLike, speed: ArrayLike = 0.0
    ) -> FloatArray:
        """Return the resistance [N] on some of the steps.

        Parameters
        ----------
        pick : index
            Of the steps.
        mass, rolling : array_like
            Mass [kg], and factor on the rolling resistance; they broadcast.
        speed : array_like
            Road speed [m/s]; at a stand the air resists nothing.
        """
        share = self.rolling[pick] * np.asarray(rolling) + self.climbing[pick]
        at_rest = np.asarray(mass) * GRAVITY * share + self.running_drag
        return np.asarray(at_rest + self.air * np.square(speed))

    def parts(self, mass: ArrayLike, rolling: ArrayLike, speed: FloatArray) -> list[FloatArray]:
        """Return what of the resistance is rolling, climbing, and the air [N], steps by draws."""
        weight = np.asarray(mass) * GRAVITY
        shares = (self.rolling[:, np.newaxis] * np.asarray(rolling), self.climbing[:, np.newaxis])
        return [*(np.asarray(weight * share) for share in shares), self.air * speed * speed]


@dataclass(frozen=True, eq=False)
class SpeedProfile:
    """Speed, time and state over the steps of a route, for every draw.

    Parameters
    ----------
    speed : ndarray, shape (steps + 1, draws)
        At the ends of the steps [m/s].
    time : ndarray, shape (steps, draws)
        [s]; 0 beyond the step in which a draw stops for good.
    state : ndarray of int, shape (steps, draws)
        Index into the chain.
    stuck : ndarray of int, shape (draws,)
        Step in which the machine stops and cannot move on; -1 where it arrives.
    stuck_after : ndarray, shape (draws,)
        Way made inside that step [m].
    stuck_force : ndarray, shape (draws,)
        Effort that it has there [N], grip considered; NaN where it arrives.
    shifts : ndarray of int, shape (draws,)
        Number of gear shifts.
    """

    speed: FloatArray
    time: FloatArray
    state: NDArray[np.int16]
    stuck: NDArray[np.intp]
    stuck_after: FloatArray
    stuck_force: FloatArray
    shifts: NDArray[np.intp]


def speed_profile(
    chain: DriveChain,
    steps: RouteSteps,
    loads: StepLoads,
    ceiling: FloatArray,
    draws: Draws,
    *,
    shift_time: float = 0.0,
    start_speed: float = 0.0,
) -> SpeedProfile:
    """March all draws along a route at full throttle below the ceiling.

    Parameters
    ----------
    chain : DriveChain
    steps, loads : RouteSteps, StepLoads
    ceiling : ndarray, shape (steps + 1,)
        [m/s].
    draws : Draws
    shift_time : float
        Time without drive at a gear change [s].
    start_speed : float
        [m/s].
    """
    look_up = _LookUp(chain, force_for_factors(chain, draws.torque), draws.size)
    count, many = steps.length.size, draws.size
    speed = np.zeros((count + 1, many))
    time = np.zeros((count, many))
    states = np.zeros((count, many), dtype=np.int16)
    stuck = np.full(many, -1)
    stuck_after, stuck_force = np.zeros(many), np.full(many, np.nan)
    shifts = np.zeros(many, dtype=np.intp)
    v = np.full(many, min(start_speed, float(ceiling[0])))
    speed[0] = v
    state = np.full(many, chain.settled(0, float(v[0])), dtype=np.intp)
    share = np.ones(many)  # 1 - slip
    dead = np.zeros(many)  # time without drive still to come
    stuck_any = False
    stands = steps.is_stop
    for k in range(count):
        if stands[k]:
            time[k] = np.where(stuck < 0, steps.stop_time[k], 0.0)
            v = np.zeros(many)
            state = np.zeros(many, dtype=np.intp)
            continue
        s, mass = float(steps.length[k]), loads.mass[k] * draws.mass
        ground = loads.resistance(k, mass, draws.rolling_resistance)
        grip = loads.grip[k] * mass
        changed = look_up.settle(state, v / share, ground, shifts)
        if shift_time > 0.0 and changed is not None:
            dead = np.where(changed, shift_time, dead)
        push = _Push(look_up, state, share, grip, ground, mass, loads.air, dead, s)
        ends, good = push.solve(v, stuck >= 0 if stuck_any else None)
        if not good.all():
            halts = ~good & (stuck < 0)
            stuck[halts] = k
            at_rest = np.minimum(look_up.at(np.zeros_like(state), 0.0 * v)[0], grip)
            stuck_force[halts] = at_rest[halts]
            slows = np.maximum((ground - at_rest) / mass, 1e-9)
            stuck_after[halts] = np.minimum(v * v / (2.0 * slows), s)[halts]
            stuck_any = True
        ends = np.minimum(ends, ceiling[k + 1])
        if stuck_any:
            ends = np.where(stuck < 0, ends, 0.0)
        total = v + ends
        with np.errstate(divide="ignore", invalid="ignore"):
            took = np.where(total > 0.0, 2.0 * s / total, 0.0)
        if stuck_any:
            took = np.where(stuck == k, 2.0 * stuck_after / np.maximum(v, 1e-9), took)
            took = np.where((stuck < 0) | (stuck == k), took, 0.0)
        dead = np.maximum(dead - took, 0.0)
        share = look_up.grip_share(push.force, grip)
        v = ends
        time[k], states[k], speed[k + 1] = took, state, v
    return SpeedProfile(speed, time, states, stuck, stuck_after, stuck_force, shifts)


class _Push:
    """The equation of a step, all draws; `state` changes in place where a lower gear is needed."""

    def __init__(
        self,
        look_up: _LookUp,
        state: NDArray[np.intp],
        share: FloatArray,
        grip: FloatArray,
        ground: FloatArray,
        mass: FloatArray,
        air: float,
        dead: FloatArray,
        length: float,
    ) -> None:
        self._look_up, self._state, self._per_share = look_up, state, 1.0 / share
        self._grip, self._ground, self._mass = grip, ground, mass
        self._air, self._length = air, length
        self._dead = dead if dead.any() else None
        self.force = ground

    def rate(self, speed: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the acceleration [m/s^2] at a speed [m/s] and its slope, zero or below."""
        force, slope, rotating = self._look_up.with_slope(self._state, speed * self._per_share)
        if self._dead is not None:
            # Without drive for part of the step: what is left of the effort, on its average.
            force = force * np.clip(1.0 - self._dead * speed / self._length, 0.0, 1.0)
        ground = self._ground + self._air * speed * speed
        mass = self._mass + rotating
        rate = (force - ground) / mass
        # The ground passes on what is left after the rotating parts have taken their share.
        most = (self._grip - ground) / self._mass
        slips = rate > most
        rate = np.minimum(rate, most)
        self.force = ground + self._mass * rate
        return rate, np.where(slips, 0.0, np.minimum(slope * self._per_share, 0.0) / mass)

    def solve(
        self, start: FloatArray, given_up: NDArray[np.bool_] | None
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return the speed at the end of the step, and whether the machine gets there."""
        end, good = self._newton(start, None)
        if given_up is not None:
            good = good | given_up
        # Whoever would come to a stand tries lower states, and at last settles in the lowest.
        for _ in range(self._look_up.states):
            if good.all():
                return end, good
            lower = self._look_up.lower(self._state)
            moves = ~good & (lower != self._state)
            if not moves.any():
                break
            self._state[:] = np.where(moves, lower, self._state)
            again, fine = self._newton(start, None)
            end, good = np.where(moves, again, end), np.where(moves, fine, good)
        again, fine = self._newton(start, np.ones(start.size))
        return np.where(good, end, again), good | fine

    def _newton(
        self, start: FloatArray, theta: FloatArray | None
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        s = self._length
        rate, slope = self.rate(start)
        if theta is None:
            stiff = -s * slope / np.maximum(start, 0.3)
            theta = np.maximum(0.5, 1.0 - 1.0 / np.maximum(stiff, 1e-9))
        # With effort falling in a straight line the equation is a quadratic: the first guess.
        bend = s * theta * slope
        known = start * start
        end = bend + np.sqrt(np.maximum(bend * bend + known + 2.0 * (s * rate - bend * start), 0.0))
        doubtful = known + 2.0 * s * rate <= 0.0
        for _ in range(_NEWTON):
            np.maximum(end, 0.5 * _CRAWL, out=end)
            rate, slope = self.rate(start + theta * (end - start))
            miss = end * end - known - (2.0 * s) * rate
            end = end - miss / (2.0 * (end - s * theta * slope))
        good = ~doubtful
        if doubtful.any():
            # There is an end speed above zero if the equation asks for more than a stand.
            lowest, _ = self.rate((1.0 - theta) * start)
            good |= known + 2.0 * s * lowest > 0.0
            # It slows down, so that speed lies below the start; halving cannot miss it.
            low, high = np.zeros_like(start), start.copy()
            for _ in range(_HALVINGS):
                middle = 0.5 * (low + high)
                rate, _ = self.rate(start + theta * (middle - start))
                above = middle * middle - known - (2.0 * s) * rate > 0.0
                low, high = np.where(above, low, middle), np.where(above, middle, high)
            end = np.where(doubtful, high, end)
        return np.maximum(end, _CRAWL), good


class _LookUp:
    """Effort, rotating mass and slip of all draws; everything that can be tabulated is."""

    def __init__(self, chain: DriveChain, force: FloatArray, many: int) -> None:
        self._chain = chain
        self._points = chain.force.shape[1]
        self.states = chain.size
        self._force = force.reshape(-1)
        self._rotating = chain.rotating.reshape(-1)
        rows = np.arange(many) if force.shape[0] > 1 else np.zeros(many, dtype=np.intp)
        self._row = rows * chain.force.size
        self._scale = (self._points - 1) / chain.top
        machine = chain.drives[0].machine
        use = np.linspace(0.0, 1.0, _SLIP_POINTS)
        self._kept = 1.0 - machine.slip.at(use)
        self._even = bool(np.all(self._kept == self._kept[0]))

    def settle(
        self,
        state: NDArray[np.intp],
        tread: FloatArray,
        ground: FloatArray,
        shifts: NDArray[np.intp],
    ) -> NDArray[np.bool_] | None:
        """Change states in place until each is in force; return which changed gear.

        A gear is held where the next one could not keep the speed against `ground` [N]: without
        that a climb between two gears would make the gearbox hunt.
        """
        chain, changed = self._chain, None
        for _ in range(2 * chain.size):
            up, down = tread > chain.up_speed[state], tread < chain.down_speed[state]
            if up.any():
                up &= self._keeps_speed(state, tread, ground)
            moves = up | down
            if not moves.any():
                break
            new = np.where(up, chain.up_to[state], np.where(down, chain.down_to[state], state))
            gear = chain.gear_index[new] != chain.gear_index[state]
            shifts += gear
            changed = gear if changed is None else changed | gear
            state[:] = new
        return changed

    def _keeps_speed(
        self, state: NDArray[np.intp], tread: FloatArray, ground: FloatArray
    ) -> NDArray[np.bool_]:
        chain = self._chain
        above = chain.up_to[state]
        beyond = chain.up_to[above]
        same = (chain.gear_index[beyond] == chain.gear_index[above]) & (
            tread > chain.up_speed[above]
        )
        force = np.maximum(
            self.at(above, tread)[0], np.where(same, self.at(beyond, tread)[0], -np.inf)
        )
        stays = chain.gear_index[above] == chain.gear_index[state]
        return np.asarray(stays | (force > ground))

    def at(self, state: NDArray[np.intp], tread: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return effort [N] and rotating mass [kg] at tread speeds [m/s]."""
        x = np.minimum(tread * self._scale[state], self._points - 1.000001)
        cell = x.astype(np.intp)
        x -= cell
        cell += state * self._points
        low = self._rotating[cell]
        rotating = low + x * (self._rotating[cell + 1] - low)
        cell += self._row
        low = self._force[cell]
        return low + x * (self._force[cell + 1] - low), rotating

    def with_slope(
        self, state: NDArray[np.intp], tread: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return effort [N], its slope over tread speed [N.s/m] and rotating mass [kg]."""
        scale = self._scale[state]
        x = np.minimum(tread * scale, self._points - 1.000001)
        cell = x.astype(np.intp)
        x -= cell
        cell += state * self._points
        low = self._rotating[cell]
        rotating = low + x * (self._rotating[cell + 1] - low)
        cell += self._row
        low = self._force[cell]
        rise = self._force[cell + 1] - low
        return low + x * rise, rise * scale, rotating

    def lower(self, state: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return the state below each."""
        return self._chain.down_to[state]

    def grip_share(self, force: FloatArray, grip: FloatArray) -> FloatArray:
        """Return 1 - slip at an effort [N] with a limit [N]."""
        if self._even:
            return np.full(force.shape, self._kept[0])
        use = np.clip(force / grip, 0.0, 1.0) * (_SLIP_POINTS - 1.000001)
        cell = use.astype(np.intp)
        low = self._kept[cell]
        return np.asarray(low + (use - cell) * (self._kept[cell + 1] - low))
