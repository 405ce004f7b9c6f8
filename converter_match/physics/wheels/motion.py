"""Full-throttle acceleration: time and distance to a speed, by two methods.

Quasi-steady: the engine is taken to stand on its match point at every speed, so that

    dv/dt = (F - R) / M,      t = int M / (F - R) dv,      x = int v M / (F - R) dv,

with M from `physics.wheels.rotating`, the engine's inertia included as far as the match point
moves; where the wheels would spin, what the ground allows stands instead, with the weight that the
acceleration itself moves (`RoadLoad.grip_rate`), and the driver eases the throttle.

Dynamic: engine and turbine side are states of their own,

    J_e domega_e/dt = T_net(omega_e) - C(nu) omega_e^2,      M_2 dv/dt = F(mu C omega_e^2) - R,

integrated by scipy. Both start from stall, brakes just let go. They differ where the engine lags
behind its match point: by a few percent of the time for machines, more for a light machine with a
heavy flywheel. A shift interrupts the drive for its time; the effort is cut off at the grip.

An engine whose torque is not there at once (`EngineResponse`) can be followed by the dynamic method
only. It starts at low idle then, at the moment at which full throttle is asked for.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from converter_match.components.response import EngineResponse
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.match.direct import DirectShaft
from converter_match.physics.match.solver import match
from converter_match.physics.wheels.drive_chain import DriveChain
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias
from converter_match.physics.wheels.run_rows import Acceleration, Ending, RunRows

Method = Literal["quasi-steady", "dynamic"]
_POINTS = 600
# Slower than this, a machine gains speed no more [m/s^2].
_STILL = 1e-4
_LONGEST = 3600.0
_SLIP_ROUNDS = 3


def accelerate(
    chain: DriveChain,
    inertias: Inertias,
    load: RoadLoad,
    *,
    to_speed: float,
    grade: float = 0.0,
    shift_time: float = 0.0,
    method: Method = "quasi-steady",
    response: EngineResponse | None = None,
) -> Acceleration:
    """Return a full-throttle run from rest.

    Parameters
    ----------
    chain : DriveChain
    inertias : Inertias
    load : RoadLoad
    to_speed : float
        [m/s].
    grade : float
        Rise / run.
    shift_time : float
        [s].
    method : {"quasi-steady", "dynamic"}
    response : EngineResponse, optional
        How fast the torque is there; at once without. For the dynamic method.

    Raises
    ------
    InputError
        If the speed is not above zero or the method is not known, or knows no response.
    """
    if not (math.isfinite(to_speed) and to_speed > 0.0):
        raise InputError("out of range", field="to_speed", found=to_speed, expected="above zero")
    if method not in ("quasi-steady", "dynamic"):
        raise InputError(
            "unknown method", field="method", found=method, expected="quasi-steady | dynamic"
        )
    if response is not None and method == "quasi-steady":
        raise InputError(
            "an engine whose torque takes time is followed in time",
            field="method",
            found=method,
            expected="dynamic",
        )
    shaft, engine = chain.drives[0].shaft, 0.0  # coupled directly a motor stands at first
    if not isinstance(shaft, DirectShaft):
        engine = float(match(shaft.supply, shaft.converter, 0.0).from_idle().engine_speed)
    elif method == "dynamic":
        raise InputError(
            "coupled directly a motor has no speed of its own to follow",
            field="method",
            found=method,
            expected="quasi-steady, which counts the rotor's inertia in full",
        )
    go = _Steady(chain, inertias, load, grade) if method == "quasi-steady" else None
    stage: _Stage = go or _Dynamic(chain, inertias, load, grade, response)
    run = RunRows(chain)
    state, time, speed, way = 0, 0.0, 0.0, 0.0
    if not math.isfinite(engine) or stage.excess(0, 0.0) <= 0.0:
        run.add_one(0.0, 0.0, 0.0, engine, 0.0, 0)
        return run.done("no-start", False)
    if response is not None:
        engine = stage.supply.domain[0]
    while True:
        goal = min(chain.up_speed[state], chain.top[state])
        held = bool(chain.gear_index[chain.up_to[state]] != chain.gear_index[state])
        held = held and not _next_keeps_speed(stage, state, float(goal))
        if held or not np.isfinite(goal):
            goal = chain.top[state]
        ended, time, speed, way, engine = stage.drive(
            run, state, time, speed, way, engine, float(goal), to_speed
        )
        if ended is not None:
            return run.done(ended, stage.cut)
        new = int(chain.up_to[state])
        if held or new == state or chain.up_speed[state] > chain.top[state]:
            return run.done(_why_no_further(stage, state), stage.cut)
        if chain.gear_index[new] != chain.gear_index[state] and shift_time > 0.0:
            time, speed, way = stage.interrupt(run, new, time, speed, way, engine, shift_time)
        state = new


def _why_no_further(stage: _Stage, state: int) -> Ending:
    """Return what ends a run in the last state that can be used.

    A converter drive that is ended by the engine comes to a balance first: one that still pulls is
    at the end of the converter's data.
    """
    chain, top = stage.chain, float(stage.chain.top[state])
    comes = bool(top < chain.up_speed[state] < np.inf) and not chain.locked[state]
    return "end-of-data" if comes and stage.excess(state, top) > 0.0 else "end-of-gears"


def _next_keeps_speed(stage: _Stage, state: int, tread: float) -> bool:
    chain = stage.chain
    new = int(chain.up_to[state])
    best = stage.excess(new, tread)
    if tread > chain.up_speed[new] and chain.gear_index[chain.up_to[new]] == chain.gear_index[new]:
        best = max(best, stage.excess(int(chain.up_to[new]), tread))
    return best > 0.0


class _Stage:
    """What both methods share: the road, the grip, and a shift."""

    def __init__(self, chain: DriveChain, inertias: Inertias, load: RoadLoad, grade: float) -> None:
        self.chain, self.inertias, self.load, self.grade = chain, inertias, load, grade
        drive = chain.drives[0]
        self.supply = drive.shaft.supply
        self.machine, self.line = drive.machine, drive.driveline
        self.grip, self.mass = float(load.adhesion(grade)), float(load.mass)
        self.cut = False  # whether the grip has cut the effort so far

    def table(self, table: FloatArray, state: int, tread: FloatArray) -> FloatArray:
        share = np.linspace(0.0, self.chain.top[state], table.shape[1])
        return np.asarray(np.interp(tread, share, table[state]))

    def ground_speed(
        self, tread: FloatArray, force: FloatArray, rate: FloatArray | float
    ) -> FloatArray:
        use = np.asarray(force / self.load.adhesion(self.grade, rate))
        return np.asarray(tread * (1.0 - self.machine.slip.at(use)))

    def passed(
        self,
        state: int,
        turbine: FloatArray,
        force: FloatArray,
        rate: FloatArray,
        most: FloatArray,
    ) -> FloatArray:
        """Return the turbine torque [N.m] that gives the ground a force [N] at an acceleration.

        At most that of full throttle: an engine that slows down gives somewhat more.
        """
        gear = self.chain.drives[state].gear
        gain = self.line.efficiency(gear) * self.chain.ratio_over_radius[state]
        turning = self.inertias.in_gear(self.line, gear, self.machine) * rate
        return np.asarray(np.minimum((force + turning) / gain + gear.drag_torque(turbine), most))

    def excess(self, state: int, tread: float) -> float:
        """Return effort less resistance [N] in a state at a tread speed [m/s]."""
        at = np.array([tread])
        force = np.minimum(self.table(self.chain.force, state, at), self.grip)
        speed = self.ground_speed(at, force, 0.0)
        return float((force - self.load.resistance(self.grade, speed))[0])

    def interrupt(
        self,
        run: RunRows,
        new: int,
        time: float,
        speed: float,
        way: float,
        engine: float,
        span: float,
    ) -> tuple[float, float, float]:
        """Roll without drive for the time of a shift."""
        gear = self.chain.drives[new].gear
        mass = self.mass + self.inertias.in_gear(self.line, gear, self.machine)
        slowing = float(self.load.resistance(self.grade, speed)) / mass
        after = max(speed - slowing * span, 0.0)
        ends = way + 0.5 * (speed + after) * span
        turbine = after * float(self.chain.ratio_over_radius[new])
        run.add_one(time + span, after, ends, engine, turbine, -1)
        return time + span, after, ends

    def drive(
        self,
        run: RunRows,
        state: int,
        time: float,
        speed: float,
        way: float,
        engine: float,
        goal: float,
        to_speed: float,
    ) -> tuple[Ending | None, float, float, float, float]:
        """Drive in a state up to a tread speed; return an ending, or where the state is left."""
        raise NotImplementedError


class _Steady(_Stage):
    def drive(
        self,
        run: RunRows,
        state: int,
        time: float,
        speed: float,
        way: float,
        engine: float,
        goal: float,
        to_speed: float,
    ) -> tuple[Ending | None, float, float, float, float]:
        """Integrate over speed; see `_Stage.drive`."""
        chain = self.chain
        tread, v, rate, _, _ = self._curve(state, 0.0, goal)
        start = float(np.interp(speed, v, tread))
        if start >= goal:
            # Past it already: a state that lies wholly below this speed only passes on.
            return None, time, speed, way, engine
        tread, v, rate, cut, force = self._curve(state, start, goal)
        v[0] = min(speed, v[0]) if speed > 0 else v[0]
        curve = chain.drives[state].curve().turbine
        turbine = tread * chain.ratio_over_radius[state]
        engines = np.interp(turbine, curve.turbine_speed, curve.engine_speed)
        if chain.locked[state]:
            engines = turbine
        full = np.interp(turbine, curve.turbine_speed, curve.turbine_torque)
        passed = np.where(cut, self.passed(state, turbine, force, rate, full), np.nan)
        stops = np.flatnonzero(rate <= _STILL)
        last = int(stops[0]) if stops.size else _POINTS
        if last < 2:
            run.add_one(time, speed, way, engine, float(turbine[0]), state)
            return "balance", time, speed, way, engine
        pick = slice(0, last)
        slow = 1.0 / rate[pick]
        steps = np.diff(v[pick])
        clock = time + np.append(0.0, np.cumsum(0.5 * (slow[1:] + slow[:-1]) * steps))
        pace = slow * v[pick]
        path = way + np.append(0.0, np.cumsum(0.5 * (pace[1:] + pace[:-1]) * steps))
        reached = np.flatnonzero(v[pick] >= to_speed)
        if reached.size:
            k = int(reached[0]) + 1
            self.cut = self.cut or bool(cut[:k].any())
            run.add(clock[:k], v[:k], path[:k], engines[:k], turbine[:k], passed[:k], state)
            return (
                "reached",
                float(clock[k - 1]),
                to_speed,
                float(path[k - 1]),
                float(engines[k - 1]),
            )
        self.cut = self.cut or bool(cut[pick].any())
        run.add(clock, v[pick], path, engines[pick], turbine[pick], passed[pick], state)
        ended: Ending | None = "balance" if stops.size else None
        return (
            ended,
            float(clock[-1]),
            float(v[last - 1]),
            float(path[-1]),
            float(engines[last - 1]),
        )

    def _curve(
        self, state: int, start: float, goal: float
    ) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.bool_], FloatArray]:
        """Return tread and road speed, acceleration, where grip sets it, and force on the ground.

        On an even grid of tread speed.
        """
        tread = np.linspace(start, goal, _POINTS)
        force = self.table(self.chain.force, state, tread)
        mass = self.mass + self.table(self.chain.rotating, state, tread)
        v, rate, most, ground = tread, *np.zeros((3, tread.size))
        for _ in range(_SLIP_ROUNDS):
            need = self.load.resistance(self.grade, v)
            most = self.load.grip_rate(self.grade, need)
            rate = np.minimum((force - need) / mass, most)
            ground = need + self.mass * rate
            v = self.ground_speed(tread, ground, rate)
        return tread, np.maximum.accumulate(v), rate, rate == most, ground


class _Dynamic(_Stage):
    def __init__(
        self,
        chain: DriveChain,
        inertias: Inertias,
        load: RoadLoad,
        grade: float,
        response: EngineResponse | None,
    ) -> None:
        super().__init__(chain, inertias, load, grade)
        self.converter, self.response = chain.drives[0].shaft.converter, response
        # A shift leaves the engine off its match point for a moment, and its torque takes time.
        self.settling = 1.0 if response is None else 1.0 + 8.0 * response.time

    def drive(
        self,
        run: RunRows,
        state: int,
        time: float,
        speed: float,
        way: float,
        engine: float,
        goal: float,
        to_speed: float,
    ) -> tuple[Ending | None, float, float, float, float]:
        """Integrate over time with the engine's speed as a state; see `_Stage.drive`."""
        from scipy.integrate import solve_ivp

        chain = self.chain
        drive = chain.drives[state]
        ratio = float(chain.ratio_over_radius[state])
        locked = bool(chain.locked[state])
        gain = self.line.efficiency(drive.gear) * ratio
        behind = self.mass + self.inertias.in_gear(self.line, drive.gear, self.machine)
        if locked:
            behind += gain * ratio * self.inertias.engine
        low, high = self.supply.domain
        most = min(self.converter.domain[1], 1.0)

        def motion(t: float, y: FloatArray) -> tuple[float, float, float, float]:
            """Acceleration, torque left for the engine, tread speed, force where grip sets it."""
            there = 1.0 if self.response is None else self.response.torque_factor(t)
            omega = float(min(max(y[0], low), high))
            share = 1.0  # 1 - slip; from the same start each time, so that the rates are smooth
            for _ in range(_SLIP_ROUNDS):
                tread = max(float(y[1]), 0.0) / share
                turbine = tread * ratio
                drag = float(drive.gear.drag_torque(turbine))
                if locked:
                    at = np.asarray(min(max(turbine, low), high))
                    torque = float(self.supply.net_torque(at, there))
                    left = 0.0
                else:
                    nu = min(turbine / omega, most)
                    impeller = float(self.converter.capacity_at(nu)) * omega**2
                    torque = float(self.converter.torque_ratio_at(nu)) * impeller
                    left = float(self.supply.net_torque(np.asarray(omega), there)) - impeller
                need = float(self.load.resistance(self.grade, max(float(y[1]), 0.0)))
                rate = ((torque - drag) * gain - need) / behind
                passes = float(self.load.grip_rate(self.grade, need))
                rate = min(rate, passes)
                if y[1] <= 0.0:
                    rate = max(rate, 0.0)  # the brakes are let go when it pulls
                ground = need + self.mass * rate
                use = ground / float(self.load.adhesion(self.grade, rate))
                share = 1.0 - float(self.machine.slip.at(use))
            return rate, left, tread, ground if rate == passes else math.nan

        def rates(t: float, y: FloatArray) -> list[float]:
            rate, left, _, _ = motion(t, y)
            turning = 0.0 if locked or self.inertias.engine == 0.0 else left / self.inertias.engine
            return [turning, rate, float(y[1])]

        def there(_: float, y: FloatArray) -> float:
            return float(y[1]) - to_speed

        def leaves(t: float, y: FloatArray) -> float:
            return motion(t, y)[2] - goal

        def still(t: float, y: FloatArray) -> float:
            return rates(t, y)[1] - _STILL if t > time + self.settling else 1.0

        for event, direction in ((there, 1.0), (leaves, 1.0), (still, -1.0)):
            # How scipy is told that an event ends the integration, and which way it counts.
            vars(event).update(terminal=True, direction=direction)
        start = [engine, speed, way]
        if motion(time, np.array(start))[2] >= goal:
            return None, time, speed, way, start[0]
        solution = solve_ivp(
            rates,
            (time, time + _LONGEST),
            start,
            events=(there, leaves, still),
            rtol=1e-6,
            atol=1e-6,
            max_step=1.0,
        )
        engines = solution.y[0]
        points = np.array([motion(t, y) for t, y in zip(solution.t, solution.y.T, strict=True)])
        turbines = points[:, 2] * ratio
        nu = np.clip(turbines / engines, 0.0, most)
        full = self.converter.torque_ratio_at(nu) * self.converter.capacity_at(nu) * engines**2
        passed = self.passed(state, turbines, points[:, 3], points[:, 0], full)
        self.cut = self.cut or bool(np.isfinite(points[:, 3]).any())
        if locked:
            engines = turbines
        run.add(solution.t, solution.y[1], solution.y[2], engines, turbines, passed, state)
        ended: Ending | None = None
        events = solution.t_events or []
        if events[0].size:
            ended = "reached"
        elif not events[1].size:
            ended = "balance"
        end = solution.y[:, -1]
        return ended, float(solution.t[-1]), float(end[1]), float(end[2]), float(engines[-1])
