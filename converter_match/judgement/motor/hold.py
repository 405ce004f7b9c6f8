"""A stall held by a motor: which limit comes first, the winding's or the oil's."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.components.base import in_celsius
from converter_match.components.machine import Machine, Oil
from converter_match.errors import InputError
from converter_match.judgement.conditions.oil import STOP_AT
from converter_match.judgement.conditions.outlet import (
    oil_in_converter,
    outlet_limit,
    stated_oil_limit,
)
from converter_match.judgement.match.solve import point_at
from converter_match.judgement.motor import words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.stall import words as stall_words
from converter_match.judgement.stall.hold import (
    LONGEST_PRACTICE,
    MARGIN,
    SHORTEST_PRACTICE,
    WARMEST,
    oil_alone,
)
from converter_match.notes import Note
from converter_match.physics.heat.winding import permitted

COLDEST_OIL, HOTTEST_OIL = 213.15, 573.15  # K, stiff and on fire
Limit = Literal["oil", "converter-outlet", "winding", "none"]


@dataclass(frozen=True, eq=False)
class MotorHold(Answer):
    """How long the peak torque of a motor may be held with the turbine or the wheels held, SI.

    Parameters
    ----------
    drive : MotorDrive
    machine : Machine or None
    motor_speed, motor_torque : float
        [rad/s], at the shaft [N.m].
    share : float
        Of the continuous torque there.
    oil_heat, motor_heat : float
        Into the oil, and lost in the motor [W]; the second NaN where its losses are not known.
    oil_start, oil_limit : float
        [K].
    to_oil_limit : float or None
        The oil taking all of the heat [s]; None where its volume is not known, or there is none.
    to_outlet_limit : float or None
        At the converter's outlet [s].
    to_winding_limit : tuple of float
        From cold, and from the warmth of the continuous torque [s]; infinite for good.
    winding_warm : bool
        Whether the hold is counted from a warm winding.
    first : {"oil", "converter-outlet", "winding", "none"}
        Which limit comes first.
    seconds : float
        Longest hold.
    set_by : str
    notes : tuple of Note
    """

    drive: MotorDrive
    machine: Machine | None
    motor_speed: float
    motor_torque: float
    share: float
    oil_heat: float
    motor_heat: float
    oil_start: float
    oil_limit: float
    to_oil_limit: float | None
    to_outlet_limit: float | None
    to_winding_limit: tuple[float, float]
    winding_warm: bool
    first: Limit
    seconds: float
    set_by: str
    notes: tuple[Note, ...]

    def blocks(self) -> Sequence[Block]:
        """Return the longest hold, which limit comes first, and the times behind it."""
        drive, time = self.drive, "time"
        cold, warm = (
            NoValue(words.FOR_GOOD) if math.isinf(value) else value
            for value in self.to_winding_limit
        )
        ids = (
            (Heading("converter", ""), None if drive.converter is None else drive.converter.id),
            (Heading("reduction", ""), drive.ratio),
            (Heading("machine", ""), self.machine.id if self.machine else None),
            (Heading("", "between motor and gearbox"), drive.title),
            (Heading("", "machine"), self.machine.name if self.machine else "not given"),
        )
        winding = Heading("first_limit", "limit that comes first", choices=words.FIRST_LIMIT)
        return (
            Block("", above=(stall_words.STALL_TEST,), in_plain=False),
            Block("", title=drive.setup.motor.name, facts=ids),
            drive.setup.origin(),
            Block(
                "hold",
                title="Longest hold",
                facts=(
                    (Heading("longest_hold", "longest hold", time, ".0f"), self.seconds),
                    (Heading("set_by", "set by", choices=words.HOLD_SET_BY), self.set_by),
                    (winding, self.first),
                    (Heading("motor_speed", "motor speed", "angular_speed"), self.motor_speed),
                    (Heading("motor_torque", "motor torque", "torque"), self.motor_torque),
                    (Heading("share", "of the continuous torque there", "share"), self.share),
                    (Heading("oil_heat", "heat into the oil", "power"), self.oil_heat),
                    (Heading("motor_heat", "heat in the motor", "power"), self.motor_heat),
                    *self._oil(),
                    (
                        Heading("time_to_winding_limit_cold", "time to the winding's, from cold",
                                time, ".0f"),
                        cold,
                    ),
                    (
                        Heading("time_to_winding_limit_warm", "from continuous warmth", time,
                                ".0f"),
                        warm,
                    ),
                ),
            ),
        )  # fmt: skip

    def _oil(self) -> Facts:
        """Return what is said of the oil; in text nothing where none is heated."""
        none = NoValue(words.NOT_KNOWN)
        facts = (
            (Heading("oil_start", "oil at the start", "temperature"), self.oil_start),
            (Heading("oil_limit", "oil temperature limit", "temperature"), self.oil_limit),
            (
                Heading("time_to_oil_limit", "time to it, oil alone", "time", ".0f"),
                none if self.to_oil_limit is None else self.to_oil_limit,
            ),
            (
                Heading("time_to_outlet_limit", "time to the limit at the outlet", "time", ".0f"),
                none if self.to_outlet_limit is None else self.to_outlet_limit,
            ),
        )
        return tuple((head.said(""), value) if self.drive.direct else (head, value)
                     for head, value in facts)  # fmt: skip


def motor_hold(
    drive: MotorDrive, machine: Machine | None = None, *, oil_start: float | None = None
) -> MotorHold:
    """Return how long the peak torque is held at stall, and which limit comes first.

    Behind a converter the motor turns at stall speed and its power goes into the oil; coupled
    directly it stands still, and only its winding warms. The oil takes all of the heat, from the
    warmest that is asked for before a test; the winding starts from the warmth of the continuous
    torque where there is room above it, or else cold. Four fifths of the shortest time are used,
    and no more than is common practice.

    Parameters
    ----------
    drive : MotorDrive
    machine : Machine, optional
        Oil and its limit.
    oil_start : float, optional
        [K].

    Raises
    ------
    InputError
        If motor and converter have no match at stall.
    """
    setup = drive.setup
    if oil_start is not None and not COLDEST_OIL <= oil_start <= HOTTEST_OIL:
        raise InputError(
            "out of range",
            field="oil_start",
            found=in_celsius(oil_start),
            expected="an oil temperature, -60 to 300 degC",
        )
    heat = 0.0
    notes: list[Note] = []
    start = WARMEST if oil_start is None else oil_start
    limit, to_oil, to_outlet = STOP_AT, None, None
    if drive.converter is None:
        speed, net = np.asarray(0.0), np.asarray(drive.shaft("peak").supply.torque(0.0))
        net = net / (drive.ratio * drive.eta)
    else:
        stall = point_at(drive.shaft("peak").supply, drive.converter, 0.0)
        if stall is None:
            raise InputError(
                "motor and converter have no match at stall",
                source=setup.motor.id,
                field="torque.peak",
            )
        speed, net = np.asarray(stall.engine_speed), np.asarray(stall.input_torque)
        heat = stall.heat
        stated = stated_oil_limit(machine, drive.converter)
        limit = STOP_AT if stated is None else min(stated, STOP_AT)
        if stated is None:
            notes.append(stall_words.note("oil-limit-not-given", limit=limit))
        oil = Oil() if machine is None else machine.oil
        inside = oil_in_converter(oil, drive.converter, setup.motor.peak_power)
        most, outlet_notes = outlet_limit(oil)
        to_outlet = inside.hottest.time_to(heat, start, most)
        if oil.oil_heat_capacity is not None:
            to_oil = oil_alone(heat, start, limit, oil.oil_heat_capacity)
            notes.append(stall_words.note("hold-oil-alone"))
        else:
            notes.append(stall_words.note("hold-not-calculated", shortest=SHORTEST_PRACTICE))
        if oil_start is None:
            notes.append(stall_words.note("hold-from-warmest-oil", oil=start))
        if start >= limit:
            notes.append(stall_words.note("oil-over-limit-at-start", start=start, limit=limit))
        notes += [*outlet_notes, *inside.notes]
    torque = setup.shaft_torque(net, speed)
    share = setup.share(torque, speed)
    cold, warm = (float(setup.held(share, start=rise)) for rise in (0.0, 1.0))
    room = permitted(setup.motor, setup.coolant) > 1.0
    winding = warm if room else cold
    notes.append(words.note("winding-from-warm" if room else "winding-from-cold"))
    times: dict[Limit, float] = {"winding": winding}
    if to_oil is not None:
        times["oil"] = to_oil
    if to_outlet is not None:
        times["converter-outlet"] = to_outlet
    first: Limit = min(times, key=lambda key: times[key])
    seconds, set_by = _longest(times, first, oil_known=drive.direct or to_oil is not None)
    first = first if math.isfinite(times[first]) else "none"
    if seconds < 1.0:
        notes.append(words.note("no-time-to-hold"))
    caution = stall_words.note(
        "hold-common-practice", shortest=SHORTEST_PRACTICE, longest=LONGEST_PRACTICE
    )
    said = words.note("rest-on-the-winding" if drive.direct else "rest-on-the-oil")
    head = (stall_words.STALL_TEST, said, caution)
    parts = () if machine is None else machine.oil.notes
    return MotorHold(
        drive=drive,
        machine=machine,
        motor_speed=float(speed),
        motor_torque=float(torque),
        share=float(share),
        oil_heat=heat,
        motor_heat=float(setup.electric(torque, speed) - torque * speed),
        oil_start=start,
        oil_limit=limit,
        to_oil_limit=to_oil,
        to_outlet_limit=to_outlet,
        to_winding_limit=(cold, warm),
        winding_warm=room,
        first=first,
        seconds=seconds,
        set_by=set_by,
        notes=tuple(dict.fromkeys((*head, *notes, *drive.notes, *parts))),
    )


def _longest(times: dict[Limit, float], first: Limit, *, oil_known: bool) -> tuple[float, str]:
    """Return the longest hold in whole seconds, and what sets it."""
    practice = LONGEST_PRACTICE if oil_known else SHORTEST_PRACTICE
    allowed, set_by = practice, "common-practice" if oil_known else "no-oil-data"
    if MARGIN * times[first] < allowed:
        allowed, set_by = MARGIN * times[first], first
    return float(math.floor(allowed)), set_by
