"""What a converter tried on a route must keep, and which of it one does not."""

from __future__ import annotations

import math
from dataclasses import dataclass

from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.errors import InputError
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note
from converter_match.units import quantity_note


@dataclass(frozen=True, kw_only=True)
class TrialLimits:
    """What a trial must keep; the lower of these and of the components' own limits holds. SI.

    Parameters
    ----------
    oil_temperature : float, optional
        Hottest oil on the route [K].
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
) -> tuple[list[Note], list[str]]:
    """Return the limits broken, and those that could not be looked at, in words."""
    broken: list[Note] = []
    unknown: list[str] = []
    own = match.converter.limits
    points = match.locus.points
    on = points.found & points.stable
    stall = match.stall
    if stall is None:
        broken.append(reason("no-stall-match", "no stall match from idle"))
    greatest = {
        "input torque": (float(points.input_torque[on].max()) if on.any() else None,
                         _least(own.input_torque, limits.input_torque), "torque"),
        "input power": (float(points.input_power[on].max()) if on.any() else None,
                        _least(own.input_power, limits.input_power), "power"),
        "turbine torque at stall": (None if stall is None else stall.turbine_torque,
                                    _least(driveline.limits.turbine_torque, limits.turbine_torque),
                                    "torque"),
        "hottest oil": (hottest,
                        _least(machine.oil.temperature_limit, own.oil_temperature,
                               limits.oil_temperature), "temperature"),
    }  # fmt: skip
    for what, (value, limit, dimension) in greatest.items():
        if limit is None:
            continue
        if value is None:
            unknown.append(f"{what}: not known")
        elif value > limit * (1 + 1e-12):
            broken.append(
                quantity_note(
                    what.replace(" ", "-"),
                    f"{what} {{found}} above {{most}}",
                    "limit",
                    found=(value, dimension, ".0f"),
                    most=(limit, dimension, ".0f"),
                )
            )
    if stall is not None:
        window = ((limits.stall_speed_least, "below", -1), (limits.stall_speed_most, "above", 1))
        for bound, word, sign in window:
            if bound is not None and sign * (stall.engine_speed - bound) > 0:
                broken.append(
                    quantity_note(
                        "stall-speed",
                        f"stall speed {word} {{bound}}",
                        "limit",
                        bound=(bound, "angular_speed", ".0f"),
                    )
                )
    return broken, unknown


def reason(code: str, words: str) -> Note:
    """Return a reason why a trial is no answer."""
    return Note(code, words, "limit")


def _least(*values: float | None) -> float | None:
    return min((value for value in values if value is not None), default=None)
