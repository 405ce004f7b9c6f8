"""Which size of a converter's family puts a motor at a wanted stall speed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from converter_match.components.converter import Converter
from converter_match.errors import InputError
from converter_match.judgement.motor import words
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.sizing.size import (
    SAME_SPEED,
    Size,
    family_notes,
    with_capacity_factor,
)
from converter_match.judgement.sizing.words import WORDS
from converter_match.physics.match.solver import match


def motor_size(setup: MotorSetup, converter: Converter, stall_speed: float) -> Size:
    """Return the size with which a motor's peak torque stalls at a speed.

    Parameters
    ----------
    setup : MotorSetup
    converter : Converter
        The family.
    stall_speed : float
        Of the motor [rad/s].

    Returns
    -------
    Size
        With the reason where there is none; `Size.result`, the match of an engine, is None.

    Raises
    ------
    InputError
        If the speed is not above zero.

    Notes
    -----
    As for an engine ``C = T_net(omega) / omega^2``, ``D ~ C^(1/5)``.
    """
    if not (np.isfinite(stall_speed) and stall_speed > 0.0):
        raise InputError(
            "out of range",
            field="engine_speed",
            found=float(stall_speed),
            expected="a speed above zero",
        )
    converter.require_stall()
    supply = setup.supply("peak")
    none = Size(
        wanted=WORDS.note("wanted-at-stall", speed=stall_speed),
        speed_ratio=0.0,
        engine_speed=float(stall_speed),
        alternatives=tuple(
            motor_size(setup, other, stall_speed) for other in converter.alternatives
        ),
    )
    low, top = supply.domain[0], setup.top_speed
    if not low <= stall_speed < top or float(supply.torque(stall_speed)) <= 0.0:
        reason = words.note("no-torque-at-speed", top=top, speed=stall_speed)
        if stall_speed < low:
            reason = words.note("motor-match-from", speed=low)
        return replace(none, reason=reason)
    factor = float(supply.torque(stall_speed)) / stall_speed**2 / float(converter.capacity_at(0.0))
    sized = with_capacity_factor(converter, factor)
    there = match(supply, sized, 0.0)
    reached = float(there.from_idle().engine_speed)
    if not abs(reached / stall_speed - 1.0) <= SAME_SPEED:
        return replace(none, reason=words.note("no-settling-there", speed=stall_speed))
    notes = (*family_notes(converter, factor**0.2, there), words.note("sized-at-peak"))
    return replace(
        none,
        capacity_factor=factor,
        diameter=sized.profile_diameter,
        diameter_ratio=factor**0.2,
        stall_k_factor=float(sized.capacity_at(0.0)) ** -0.5,
        converter=sized,
        notes=notes,
    )
