"""A lock-up clutch that closes on a machine on the move: the second between open and locked."""

from __future__ import annotations

from dataclasses import dataclass, replace

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.components.arrangement import LockUpClutch
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.response import EngineResponse
from converter_match.errors import InputError
from converter_match.judgement.conditions.response import response_notes
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note
from converter_match.physics.arrangement.lockup import Engagement, engagement
from converter_match.physics.dynamics.drive_train import drawn_to_unity
from converter_match.physics.dynamics.dynamics import (
    LockUpEngagement,
    drive_train,
    lock_up_engagement,
    stall_run_up,
)
from converter_match.physics.dynamics.transient import Transient

# What the held turbine would drive makes no difference to a run-up [kg.m^2].
_HELD = 1.0


@dataclass(frozen=True, eq=False, repr=False)
class LockUpClosing(Answer):
    """How a lock-up clutch closes, and what heat that leaves in it, beside two quick estimates.

    Parameters
    ----------
    title : str
        What happens, in a few words.
    in_time : LockUpEngagement
        Followed in time.
    estimate : Engagement or None
        From the states before and after alone; None where the match has none at that speed ratio.
    notes : tuple of Note
    """

    title: str
    in_time: LockUpEngagement
    estimate: Engagement | None
    notes: tuple[Note, ...]

    @property
    def transient(self) -> Transient:
        """The course in time, for a figure."""
        return self.in_time.transient

    @property
    def slips_for(self) -> float | None:
        """Time from the beginning until the clutch sticks [s]; None if it never does."""
        return self.in_time.slips_for

    def blocks(self) -> tuple[Block, ...]:
        """Return the heat in the clutch, three ways, and how long it slips."""
        facts: Facts = ()
        if self.estimate is not None:
            facts = (
                (_heat("ideal_heat", "ideal closing, heat in the clutch"), self.estimate.energy),
                (
                    _heat("estimated_heat", "slip falling in a straight line"),
                    self.estimate.energy_with_torque,
                ),
            )
        slips = NoValue("never sticks") if self.slips_for is None else self.slips_for
        facts += (
            (_heat("heat", "closing in time"), self.in_time.dissipated),
            (Heading("slips_for", "slips for", "time", ".2f"), slips),
        )
        return (Block("lock_up_closing", self.title, facts),)


def _heat(key: str, words: str) -> Heading:
    return Heading(key, words, "energy", ".1f")


def close_lock_up(
    match: MatchResult,
    clutch: LockUpClutch,
    driveline: Driveline,
    machine: Machine,
    *,
    gear: str,
    load: Load = "laden",
    closing_time: float = 0.8,
    begins: float = 0.3,
    duration: float = 2.5,
) -> LockUpClosing:
    """Return how a lock-up clutch closes on a machine that runs steadily in a gear.

    Parameters
    ----------
    match : MatchResult
        Engine and converter, without the clutch.
    clutch : LockUpClutch
        One that goes by speed ratio.
    driveline, machine : Driveline, Machine
        What the turbine drives: the mass of the machine, seen through the gear.
    gear : str
    load : {"laden", "empty"}
    closing_time : float
        In which the clutch builds up its torque [s].
    begins, duration : float
        When it begins to, and how long is looked at [s].

    Raises
    ------
    InputError
        If the clutch goes by something else, there is no such gear, an inertia is not known, or
        there is no steady match at the clutch's speed ratio.

    Notes
    -----
    Seen from the turbine, a mass m on wheels of radius r behind a ratio i turns with m (r / i)^2.
    """
    if clutch.torque_capacity is None:
        raise InputError(
            "the closing cannot be followed without the torque that the clutch carries",
            field="lock_up.torque_capacity",
            expected="a torque capacity in the arrangement",
        )
    if clutch.engage_by != "speed-ratio":
        raise InputError(
            "the closing is followed for a clutch that goes by speed ratio",
            field="lock_up.engage_by",
            found=clutch.engage_by,
            expected="speed-ratio",
        )
    named = driveline.gear(gear)
    ratio = driveline.overall_ratio(named)
    behind = machine.mass(load) * (machine.rolling_radius / ratio) ** 2
    train = drive_train(match.engine, match.supply, drawn_to_unity(match.converter), behind)
    in_time = lock_up_engagement(
        train,
        speed_ratio=clutch.engage,
        capacity=clutch.torque_capacity,
        closing_time=closing_time,
        begins=begins,
        duration=duration,
    )
    turning = train.engine_inertia + train.impeller_inertia
    timed = replace(clutch, engagement_time=closing_time)
    # The same speed: that of the match at the clutch's speed ratio.
    at = in_time.transient
    estimate = engagement(
        match.supply,
        match.converter,
        timed,
        turbine_speed=float(at.turbine_speed[0]),
        engine_inertia=turning,
    )
    title = f"Lock-up closes: {load}, gear {named.name}, speed ratio {clutch.engage:.2f}"
    return LockUpClosing(title, in_time, estimate, in_time.transient.notes)


def run_up(
    match: MatchResult, *, duration: float = 4.0, response: EngineResponse | None = None
) -> Transient:
    """Return the run-up of the engine against a held turbine, full throttle from low idle.

    Parameters
    ----------
    match : MatchResult
    duration : float
        That is looked at [s].
    response : EngineResponse, optional
        How fast the engine's torque is there; at once without.

    Raises
    ------
    InputError
        If an inertia is not known.
    """
    train = drive_train(match.engine, match.supply, drawn_to_unity(match.converter), _HELD)
    course = stall_run_up(train, duration=duration, response=response)
    return replace(course, notes=(*course.notes, *response_notes(match.engine, response)))
