"""From a motor and a converter to a `MotorMatch`: what both torques of the motor come to."""

from __future__ import annotations

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.motor import Motor
from converter_match.components.site import Site
from converter_match.judgement.match.result import MatchPoint
from converter_match.judgement.match.solve import (
    best_with_stator_held,
    efficiency_ranges,
    flywheel_notes,
    point_at,
)
from converter_match.judgement.motor import words
from converter_match.judgement.motor.result import MotorMatch, RatedMatch
from converter_match.judgement.motor.setup import RATINGS, MotorSetup, Rating
from converter_match.notes import Note
from converter_match.physics.engine.motor import SLOWEST
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import match

_GRID = 0.01
_AT_LIMIT = 1e-6


def solve_motor(
    motor: Motor,
    converter: Converter,
    *,
    site: Site | None = None,
    voltage: float | None = None,
    hydraulic_torque: float = 0.0,
) -> MotorMatch:
    """Match a motor with a converter: at its peak and at its continuous torque.

    Parameters
    ----------
    motor : Motor
    converter : Converter
        Its data must include stall (speed ratio 0).
    site : Site, optional
        The air that cools the motor.
    voltage : float, optional
        [V]; the nominal one without.
    hydraulic_torque : float
        Taken at the shaft by implement pumps [N.m].

    Returns
    -------
    MotorMatch

    Raises
    ------
    InputError
        If the converter's data do not include stall, or the motor cannot be run at the voltage.

    Notes
    -----
    At every speed ratio ``T_net(omega) = C(nu) omega^2``, as with an engine. With a constant torque
    ``omega = K sqrt(T)``, with a constant power ``omega^3 = P / C``.
    """
    return solve_with(MotorSetup(motor, site, voltage, hydraulic_torque), converter)


def solve_with(setup: MotorSetup, converter: Converter) -> MotorMatch:
    """Match a motor, where it works, with a converter; see `solve_motor`."""
    converter.require_stall()
    rated = {rating: _rated(setup, rating, converter) for rating in RATINGS}
    result = MotorMatch(
        setup=setup,
        converter=converter,
        peak=rated["peak"],
        continuous=rated["continuous"],
        notes=(),
    )
    return result.with_notes(_notes(result))


def _rated(setup: MotorSetup, rating: Rating, converter: Converter) -> RatedMatch:
    supply = setup.supply(rating)
    low, high = converter.domain
    ranges = efficiency_ranges(supply, converter)
    best = converter.best_efficiency()[0]
    held = best_with_stator_held(converter)
    limit = _speed_limit(supply, setup.top_speed, converter)
    special = [0.0, best, *([] if held is None else [held])]
    special += [end for item in ranges for end in (item.low, item.high)]
    special += [] if converter.coupling is None else [converter.coupling]
    special += [] if limit is None else [limit.speed_ratio]
    even = np.arange(np.ceil(low / _GRID), np.floor(high / _GRID) + 1) * _GRID
    grid = np.unique(
        np.concatenate([np.round(even, 10), converter.characteristic.speed_ratio, special])
    )
    return RatedMatch(
        rating=rating,
        supply=supply,
        stall=point_at(supply, converter, 0.0),
        coupling=point_at(supply, converter, converter.coupling),
        best_efficiency=point_at(supply, converter, best),
        best_in_conversion=point_at(supply, converter, held),
        speed_limit=limit,
        ranges=ranges,
        locus=match(supply, converter, grid[(grid >= low) & (grid <= high)]),
    )


def _speed_limit(supply: TorqueSupply, top_speed: float, converter: Converter) -> MatchPoint | None:
    """Return the first point from stall at which the motor has come up to its top speed."""
    stall = point_at(supply, converter, 0.0)
    if stall is not None and stall.engine_speed >= top_speed * (1.0 - _AT_LIMIT):
        return stall
    at_top = float(supply.torque(top_speed)) / top_speed**2
    for nu in converter.capacity_curve.crossings(at_top):
        if not 0.0 <= nu <= 1.0:
            continue
        point = point_at(supply, converter, float(nu))
        if point is not None and abs(point.engine_speed / top_speed - 1.0) < _AT_LIMIT:
            return point
    return None


def _notes(result: MotorMatch) -> list[Note]:
    setup, converter = result.setup, result.converter
    motor, limits = setup.motor, converter.limits
    slowest = SLOWEST * setup.top_speed
    notes = [*setup.notes, *converter.notes, words.note("motor-match-from", speed=slowest)]
    for rated in (result.peak, result.continuous):
        if rated.stall is None:
            notes.append(words.note("no-stall", rating=rated.rating))
    stall = result.peak.stall
    if stall is not None:
        notes += _stall_notes(result, stall)
    notes += flywheel_notes(
        "limit-input", result.peak.locus, limits.input_torque, limits.input_power
    )
    if limits.input_speed is not None and setup.top_speed > limits.input_speed:
        values = {"top": setup.top_speed, "limit": limits.input_speed}
        notes.append(words.note("limit-input-speed", **values))
    if converter.alternatives:
        notes.append(words.note("motor-estimate-middle"))
    if stall is not None:
        ratio = stall.turbine_torque / float(motor.peak[0])
        if ratio < 1.5:
            values = {"motor": float(motor.peak[0]), "turbine": stall.turbine_torque}
            notes.append(words.note("hardly-any-multiplication", ratio=ratio, **values))
    return notes


def _stall_notes(result: MotorMatch, stall: MatchPoint) -> list[Note]:
    setup = result.setup
    notes = []
    torque, share, time = result.duty_of(stall)
    if stall.engine_speed >= setup.top_speed * (1.0 - _AT_LIMIT):
        notes.append(words.note("stall-at-speed-limit"))
    if np.isfinite(time):
        values = {"torque": torque, "share": share, "time": time}
        notes.append(words.note("stall-is-overload", **values))
    else:
        notes.append(words.note("stall-within-continuous", torque=torque))
    return notes
