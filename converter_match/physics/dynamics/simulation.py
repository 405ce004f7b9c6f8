"""Integrate a drive train in time, from one change of contact to the next.

Between changes the equations are smooth but for kinks in the data, and scipy's eighth-order
Runge-Kutta method carries them; where a clutch starts to stick or slip, where the turbine stops or
starts, where a command changes its slope, the integration ends and begins anew. It also ends, for
good and with a note, where the engine or the converter leaves the speeds for which there are data.
Work and heat are integrated along with the speeds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.components.base import require_positive
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.physics.dynamics.drive_train import (
    OPEN,
    STUCK,
    Commands,
    DriveTrain,
    Mode,
    Torques,
    torques,
)
from converter_match.physics.dynamics.transient import Happening, Transient

_RELATIVE = 1e-10  # of the integrator; the energy account is asked to close to 1e-6
_LONGEST_STEP = 0.1  # s: an event that comes and goes within a step would be missed
_SAME = 1e-9  # relative speed difference of the two sides of a clutch that counts as none
_MOST_CHANGES = 500  # more than this is a clutch that chatters, not a machine at work
_SAMPLES = 12  # least number of output points between two changes


@dataclass(frozen=True)
class Start:
    """Speeds at the beginning [rad/s].

    Parameters
    ----------
    engine_speed, turbine_speed : float
    impeller_speed : float, optional
        That of the engine, if not given.
    """

    engine_speed: float
    turbine_speed: float = 0.0
    impeller_speed: float | None = None


@dataclass(frozen=True)
class _Event:
    """A quantity that falls through zero when something changes, and what changes then."""

    code: str
    of: Callable[[float, FloatArray], float]
    stops: bool = False


def simulate(
    train: DriveTrain,
    commands: Commands,
    start: Start,
    duration: float,
    *,
    samples: int = 400,
) -> Transient:
    """Return the course of a drive train in time.

    Parameters
    ----------
    train : DriveTrain
    commands : Commands
    start : Start
    duration : float
        [s].
    samples : int
        Output points, about.

    Returns
    -------
    Transient
        Ends early, with `Transient.stopped` set, where a speed leaves the data.

    Raises
    ------
    InputError
        If the start lies outside the data or the duration is not above zero.
    """
    require_positive(duration, "duration", "a time above zero, s")
    if samples < 2:
        raise InputError("too few", field="samples", found=samples, expected="2 or more")
    y = np.zeros(8)
    y[:3] = _first_speeds(train, commands, start)
    mode = _settled(train, commands, 0.0, y[:3])
    corners = [t for t in commands.corners() if 0.0 < t < duration]
    ends = [*corners, duration]
    time, parts, happenings = 0.0, [], []
    stopped: Note | None = None
    for _ in range(_MOST_CHANGES):
        end = next(t for t in ends if t > time)
        count = max(_SAMPLES, round(samples * (end - time) / duration))
        times, states, code = _smooth_piece(train, commands, mode, time, y, end, count)
        if code is not None:
            states[:3, -1] = _joined(states[:3, -1], code)
        parts.append((times, states, mode))
        time, y = float(times[-1]), states[:, -1].copy()
        if code is not None and code in _STOPS:
            stopped = _stop_note(train, code, time)
            break
        if time >= duration:
            break
        after = _settled(train, commands, time, y[:3], code)
        happenings += [Happening(time, what) for what in _changes(mode, after)]
        mode = after
    else:
        stopped = Note(
            "too-many-changes",
            f"A clutch or the turbine changed between holding and slipping {_MOST_CHANGES} times; "
            f"the simulation ended at {time:.4g} s.",
        )
    return _transient(train, commands, parts, happenings, stopped)


def _first_speeds(train: DriveTrain, commands: Commands, start: Start) -> FloatArray:
    impeller = start.engine_speed if start.impeller_speed is None else start.impeller_speed
    speeds = np.array([start.engine_speed, impeller, start.turbine_speed])
    if not np.all(np.isfinite(speeds)) or np.any(speeds < 0):
        raise InputError(
            "not usable speeds",
            field="start",
            found=speeds.tolist(),
            expected="speeds of zero or more, rad/s",
        )
    low, high = train.supply.domain
    if not low * (1 - _SAME) <= start.engine_speed <= high * (1 + _SAME):
        raise InputError(
            "the engine torque is not known at the start",
            field="start.engine_speed",
            found=start.engine_speed,
            expected=f"{low:.6g} .. {high:.6g} rad/s",
        )
    if commands.impeller_clutch is None and abs(impeller - start.engine_speed) > 0:
        raise InputError(
            "without an impeller clutch the impeller turns with the engine",
            field="start.impeller_speed",
            found=impeller,
            expected=f"{start.engine_speed:.6g} rad/s",
        )
    if commands.turbine_held and start.turbine_speed > 0:
        raise InputError(
            "a turbine that is held does not turn",
            field="start.turbine_speed",
            found=start.turbine_speed,
            expected="0",
        )
    low, high = train.converter.domain
    if not low * impeller <= start.turbine_speed <= high * impeller * (1 + _SAME):
        raise InputError(
            "the start lies outside the converter's data, and nothing is extrapolated",
            source=train.converter.id,
            field="start: speed ratio",
            found=start.turbine_speed / impeller if impeller > 0 else float("inf"),
            expected=f"{low:.6g} .. {high:.6g}",
        )
    return speeds


# --- contact -------------------------------------------------------------------------------------


def _settled(
    train: DriveTrain,
    commands: Commands,
    time: float,
    speeds: FloatArray,
    code: str | None = None,
) -> Mode:
    """Return the contact that is consistent with speeds and torques at one instant.

    A clutch with both sides at one speed sticks if it can carry what sticking asks for, else it
    slips the way it is pushed. What one part does depends on the others: try until nothing changes.
    `code` names the event that led here.
    """
    w_e, w_p, w_t = speeds
    scale = max(w_e, w_p, w_t, 1.0)
    first = _contact(commands.impeller_clutch is None, w_e - w_p, scale)
    lock = OPEN if commands.lock_up is None else _contact(False, w_p - w_t, scale)
    mode = Mode(first, lock, commands.turbine_held or bool(w_t <= _SAME * scale))
    for _ in range(8):
        change = _overcome(commands, mode, time, torques(train, commands, mode, time, speeds), code)
        if not change:
            return mode
        # What has just been overcome is so by a rounding error only: once is enough.
        mode, code = replace(mode, **change), None
    return mode


def _overcome(
    commands: Commands, mode: Mode, time: float, now: Torques, code: str | None
) -> dict[str, Any]:
    """Return the first contact that cannot hold, and how it gives way."""
    clutch, lock = commands.impeller_clutch, commands.lock_up
    if clutch is not None and mode.impeller_clutch == STUCK:
        if code == "impeller-clutch-slips" or abs(now.impeller_clutch) > float(clutch(time)):
            return {"impeller_clutch": 1 if now.impeller_clutch > 0 else -1}
    if lock is not None and mode.lock_up == STUCK:
        if code == "lock-up-slips" or abs(now.lock_up) > float(lock(time)):
            return {"lock_up": 1 if now.lock_up > 0 else -1}
    # The load holds a turbine at rest up to its own torque; it never drives it.
    if mode.at_rest and not commands.turbine_held:
        if code == "turbine-starts" or now.turbine + now.lock_up > now.load:
            return {"at_rest": False}
    return {}


def _contact(rigid: bool, slip: float, scale: float) -> str | int:
    if rigid or abs(slip) <= _SAME * scale:
        return STUCK
    return 1 if slip > 0 else -1


def _joined(speeds: FloatArray, code: str) -> FloatArray:
    """Take away the rounding error left where two sides have met, or the turbine stopped."""
    joined = speeds.copy()
    if code == "impeller-clutch-meets":
        joined[:2] = joined[:2].mean()
    elif code == "lock-up-meets":
        joined[1:] = joined[1:].mean()
    elif code == "turbine-stops":
        joined[2] = 0.0
    return joined


def _changes(before: Mode, after: Mode) -> list[str]:
    changes = []
    for name, old, new in (
        ("impeller-clutch", before.impeller_clutch, after.impeller_clutch),
        ("lock-up", before.lock_up, after.lock_up),
    ):
        if old != new:
            changes.append(f"{name}-sticks" if new == STUCK else f"{name}-slips")
    if before.at_rest != after.at_rest:
        changes.append("turbine-stops" if after.at_rest else "turbine-starts")
    return changes


# --- one smooth piece ----------------------------------------------------------------------------

_STOPS = (
    "engine-below-known-speeds",
    "engine-above-known-speeds",
    "speed-ratio-below-data",
    "speed-ratio-above-data",
)


def _smooth_piece(
    train: DriveTrain,
    commands: Commands,
    mode: Mode,
    begin: float,
    y: FloatArray,
    end: float,
    count: int,
) -> tuple[FloatArray, FloatArray, str | None]:
    """Integrate until something changes; return times, states (8, n) and what changed."""
    from scipy.integrate import solve_ivp  # slow to import: only when something is simulated

    def slope(time: float, state: FloatArray) -> list[float]:
        now = torques(train, commands, mode, time, state[:3])
        return [*now.acceleration, *_powers(now, mode, state[:3])]

    events = _events(train, commands, mode)
    watched = [_watch(event) for event in events]
    # Absolute tolerances: a ten-thousandth of the relative one times what is usual for each state.
    usual = np.array([200.0] * 3 + [1e5] * 5)
    solution = solve_ivp(
        slope,
        (begin, end),
        y,
        method="DOP853",
        rtol=_RELATIVE,
        atol=1e-2 * _RELATIVE * usual,
        max_step=min(_LONGEST_STEP, end - begin),
        events=watched,
        dense_output=True,
    )
    if not solution.success or solution.sol is None or solution.t_events is None:
        raise InputError(
            f"the integration in time broke off at {solution.t[-1]:.6g} s ({solution.message})",
            source=train.converter.id,
        )
    last = float(solution.t[-1])
    code = None
    for event, hits in zip(events, solution.t_events, strict=True):
        if len(hits) and hits[-1] >= last - 1e-12 * max(last, 1.0):
            code = event.code
            break
    times = np.linspace(begin, last, count)
    states = (
        np.asarray(solution.sol(times)) if last > begin else np.repeat(y[:, None], count, axis=1)
    )
    states[:, 0], states[:, -1] = y, solution.y[:, -1]
    return times, states, code


def _powers(now: Torques, mode: Mode, speeds: FloatArray) -> tuple[float, ...]:
    """Engine work, load work, heat in converter, impeller clutch and lock-up, each per second."""
    w_e, w_p, w_t = (float(w) for w in speeds)
    return (
        now.engine * w_e,
        now.load * w_t,
        now.impeller * w_p - now.turbine * w_t,
        0.0 if mode.impeller_clutch == STUCK else now.impeller_clutch * (w_e - w_p),
        0.0 if mode.lock_up == STUCK else now.lock_up * (w_p - w_t),
    )


def _events(train: DriveTrain, commands: Commands, mode: Mode) -> list[_Event]:
    """Everything that can end a smooth piece; contact first: it wins over the data's end."""

    def now(time: float, y: FloatArray) -> Torques:
        return torques(train, commands, mode, time, y[:3])

    events: list[_Event] = []
    clutch, lock = commands.impeller_clutch, commands.lock_up
    if clutch is not None:
        if mode.impeller_clutch == STUCK:
            events.append(
                _Event(
                    "impeller-clutch-slips",
                    lambda t, y: float(clutch(t)) - abs(now(t, y).impeller_clutch),
                )
            )
        else:
            way = int(mode.impeller_clutch)
            events.append(_Event("impeller-clutch-meets", lambda t, y: way * (y[0] - y[1])))
    if lock is not None:
        if mode.lock_up == STUCK:
            events.append(
                _Event("lock-up-slips", lambda t, y: float(lock(t)) - abs(now(t, y).lock_up))
            )
        else:
            over = int(mode.lock_up)
            events.append(_Event("lock-up-meets", lambda t, y: over * (y[1] - y[2])))
    if mode.at_rest and not commands.turbine_held:

        def hold(t: float, y: FloatArray) -> float:
            at = now(t, y)
            # No load and no torque is a balance, and moves nothing.
            return at.load - at.turbine - at.lock_up + _SAME * max(at.load, 1.0)

        events.append(_Event("turbine-starts", hold))
    elif not mode.at_rest:
        events.append(_Event("turbine-stops", lambda t, y: y[2]))
    low, high = train.supply.domain
    nu_low, nu_high = train.converter.domain
    # A rounding error past the end of the data is none: a locked-up converter stays at exactly 1,
    # and one that stands still, behind an open clutch, is at no speed ratio at all.
    slack = 10 * _SAME
    events += [
        _Event(_STOPS[0], lambda t, y: y[0] - low * (1 - slack)),
        _Event(_STOPS[1], lambda t, y: high * (1 + slack) - y[0]),
        _Event(_STOPS[2], lambda t, y: y[2] - nu_low * y[1] + slack * max(y[1], 1.0)),
        _Event(_STOPS[3], lambda t, y: nu_high * y[1] + slack * max(y[1], 1.0) - y[2]),
    ]
    return events


def _watch(event: _Event) -> Callable[[float, FloatArray], float]:
    def value(time: float, state: FloatArray) -> float:
        return event.of(time, state)

    value.terminal = True  # type: ignore[attr-defined]
    value.direction = -1.0  # type: ignore[attr-defined]
    return value


def _stop_note(train: DriveTrain, code: str, time: float) -> Note:
    low, high = train.converter.domain
    why = {
        _STOPS[0]: "the engine fell below the speeds for which its torque is known: it lugs down "
        "and would stall",
        _STOPS[1]: "the engine was driven above the speeds for which its torque is known",
        _STOPS[2]: f"the speed ratio fell below the converter's data, which begin at {low:.4g}",
        _STOPS[3]: f"the speed ratio rose above the converter's data, which end at {high:.4g}",
    }[code]
    return Note(code, f"The simulation ended at {time:.4g} s: {why}. Nothing is extrapolated.")


def _transient(
    train: DriveTrain,
    commands: Commands,
    parts: list[tuple[FloatArray, FloatArray, Mode]],
    happenings: list[Happening],
    stopped: Note | None,
) -> Transient:
    time = np.concatenate([times for times, _, _ in parts])
    y = np.concatenate([states for _, states, _ in parts], axis=1)
    rows = [
        torques(train, commands, mode, float(t), state[:3])
        for times, states, mode in parts
        for t, state in zip(times, states.T, strict=True)
    ]
    notes = train.converter.notes
    return Transient(
        train=train,
        time=time,
        engine_speed=y[0],
        impeller_speed=y[1],
        turbine_speed=y[2],
        engine_torque=np.array([row.engine for row in rows]),
        impeller_torque=np.array([row.impeller for row in rows]),
        turbine_torque=np.array([row.turbine for row in rows]),
        load_torque=np.array([row.load for row in rows]),
        impeller_clutch_torque=np.array([row.impeller_clutch for row in rows]),
        lock_up_torque=np.array([row.lock_up for row in rows]),
        engine_work=y[3],
        load_work=y[4],
        converter_heat=y[5],
        impeller_clutch_heat=y[6],
        lock_up_heat=y[7],
        happenings=tuple(happenings),
        stopped=stopped,
        notes=(*notes, stopped) if stopped is not None else notes,
    )
