"""What a converter tried on a route must keep, and which of it one does not."""

from __future__ import annotations

import math
from dataclasses import dataclass

from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.errors import InputError
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.sizing.words import TRIAL_WORDS
from converter_match.notes import Note


@dataclass(frozen=True, kw_only=True)
class TrialLimits:
    """What a trial must keep; the lower of these and of the components' own limits holds. SI.

    Parameters
    ----------
    oil_temperature : float, optional
        Maximum oil temperature on the route [K].
    input_torque, input_power : float, optional
        Of the converter [N.m], [W].
    turbine_torque : float, optional
        At stall, into the transmission [N.m].
    stall_speed_least, stall_speed_most : float, optional
        [rad/s].
    """

    oil_temperature: float | None = None
    input_torque: float | None = None
    input_power: float | None = None
    turbine_torque: float | None = None
    stall_speed_least: float | None = None
    stall_speed_most: float | None = None

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value > 0.0):
                raise InputError(
                    "out of range", field=f"limits.{name}", found=value, expected="above zero"
                )


def judged(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    hottest: float | None,
    limits: TrialLimits,
) -> tuple[tuple[Note, ...], tuple[Note, ...]]:
    """Return the limits broken, and those that could not be looked at."""
    broken: list[Note] = []
    unknown: list[Note] = []
    own = match.converter.limits
    points = match.locus.points
    on = points.found & points.stable
    stall = match.stall
    if stall is None:
        broken.append(TRIAL_WORDS.note("no-stall-match"))
    greatest = {
        "input-torque": (float(points.input_torque[on].max()) if on.any() else None,
                         _lowest(own.input_torque, limits.input_torque)),
        "input-power": (float(points.input_power[on].max()) if on.any() else None,
                        _lowest(own.input_power, limits.input_power)),
        "turbine-torque-at-stall": (None if stall is None else stall.turbine_torque,
                                    _lowest(driveline.limits.turbine_torque,
                                            limits.turbine_torque)),
        "hottest-oil": (hottest, _lowest(machine.oil.temperature_limit, own.oil_temperature,
                                         limits.oil_temperature)),
    }  # fmt: skip
    for code, (value, limit) in greatest.items():
        if limit is None:
            continue
        if value is None:
            unknown.append(TRIAL_WORDS.note("limit-not-checked", what=code.replace("-", " ")))
        elif value > limit * (1 + 1e-12):
            broken.append(TRIAL_WORDS.note(code, value=value, most=limit))
    if stall is not None:
        window = ((limits.stall_speed_least, "below", -1), (limits.stall_speed_most, "above", 1))
        for bound, side, sign in window:
            if bound is not None and sign * (stall.engine_speed - bound) > 0:
                broken.append(TRIAL_WORDS.note("stall-speed", side=side, bound=bound))
    return tuple(broken), tuple(unknown)


def _lowest(*values: float | None) -> float | None:
    return min((value for value in values if value is not None), default=None)
