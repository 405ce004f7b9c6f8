"""What happens between two steady states: a lock-up clutch that closes, a run-up to stall."""

from __future__ import annotations

from typing import TYPE_CHECKING

from converter_match.api.door import Quantity, in_si, part, response_of

if TYPE_CHECKING:
    from converter_match.components.arrangement import Arrangement
    from converter_match.components.driveline import Driveline
    from converter_match.components.machine import Load, Machine
    from converter_match.components.response import EngineResponse
    from converter_match.judgement.arrangement.closing import LockUpClosing
    from converter_match.judgement.match.result import MatchResult
    from converter_match.physics.dynamics.transient import Transient


def close_lock_up(
    match: MatchResult,
    arrangement: Arrangement,
    driveline: Driveline,
    machine: Machine,
    *,
    gear: str,
    load: Load = "laden",
    closing_time: Quantity = 0.8,
    duration: Quantity = 2.5,
) -> LockUpClosing:
    """Follow a lock-up clutch while it closes on a machine that runs steadily in a gear.

    Parameters
    ----------
    match : MatchResult
        Engine and converter, without the clutch.
    arrangement : Arrangement
        With a lock-up clutch that goes by speed ratio.
    driveline : Driveline
    machine : Machine
        Its mass is what the turbine drives, seen through the gear.
    gear : str
    load : {"laden", "empty"}
    closing_time : float or str
        In which the clutch builds up its torque: [s], or a text with its unit.
    duration : float or str
        That is looked at: [s], or a text with its unit.

    Returns
    -------
    LockUpClosing
        Heat in the clutch, how long it slips; `figures.transient` draws its ``transient``.

    Raises
    ------
    InputError
        If one of them is no such part, the arrangement has no such clutch, there is no such gear,
        or an inertia is not known.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter, how, line, truck = cm.read(
    ...     "six-cylinder-9l-240kw", "single-stage-390mm-full-range", "ore-hauler-lock-up",
    ...     "six-speed-hauler", "articulated-hauler-25t",
    ... )
    >>> closing = cm.close_lock_up(cm.solve(engine, converter), how, line, truck, gear="4")
    >>> 0 < closing.slips_for < 0.8
    True
    """
    from converter_match.components.arrangement import Arrangement
    from converter_match.components.driveline import Driveline
    from converter_match.components.machine import Machine
    from converter_match.errors import InputError
    from converter_match.judgement.arrangement.closing import close_lock_up
    from converter_match.judgement.match.result import MatchResult

    clutch = part(arrangement, Arrangement, "arrangement").lock_up
    if clutch is None:
        raise InputError("there is no lock-up clutch in it", source=arrangement.id, field="lock_up")
    return close_lock_up(
        part(match, MatchResult, "match"),
        clutch,
        part(driveline, Driveline, "driveline"),
        part(machine, Machine, "machine"),
        gear=gear,
        load=load,
        closing_time=in_si(closing_time, "time", "closing_time"),
        duration=in_si(duration, "time", "duration"),
    )


def run_up(
    match: MatchResult, *, duration: Quantity = 4.0, response: EngineResponse | str | None = None
) -> Transient:
    """Follow the engine from low idle to stall: full throttle, turbine held.

    Parameters
    ----------
    match : MatchResult
    duration : float or str
        That is looked at: [s], or a text with its unit.
    response : str or EngineResponse, optional
        How fast the engine's torque is there: ``"typical"`` by its aspiration, or the share that is
        there at once and the time constant of the rest, as in ``"60 %, 0.8 s"``. Without, an ideal
        engine.

    Returns
    -------
    Transient
        Speeds, torques and heat over time; `figures.transient` draws it.

    Raises
    ------
    InputError
        If it is no match, or an inertia is not known.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-9l-240kw", "single-stage-390mm-full-range"))
    >>> course = cm.run_up(match, duration="4 s")
    >>> round(float(course.engine_speed[-1] / match.stall.engine_speed), 2)
    1.0
    """
    from converter_match.judgement.arrangement.closing import run_up
    from converter_match.judgement.match.result import MatchResult

    return run_up(
        part(match, MatchResult, "match"),
        duration=in_si(duration, "time", "duration"),
        response=response_of(response, match),
    )
