"""What an estimated converter leaves open of a stall: least and most over what it may be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from converter_match.answer.block import Block, Estimate, Facts, Heading, NoValue
from converter_match.judgement.match.words import DECISIVE, DECISIVE_BAND
from converter_match.judgement.stall.gears import GearTest
from converter_match.judgement.stall.setup import StallSetup

_SPEED = Heading("stall_speed", "stall speed as on the sheets", "angular_speed")
_HEAT = Heading("stall_heat", "heat into the oil at that speed", "power", ".0f")
_RATIO = Heading("stall_torque_ratio", "torque ratio at stall", form=".2f")


def stall_estimate(setup: StallSetup, gears: Sequence[GearTest] = ()) -> tuple[Block, ...]:
    """Return the decisive figures of a stall with their band; nothing where the data are data.

    Parameters
    ----------
    setup : StallSetup
    gears : sequence of GearTest
        Whose pull is that of the highest torque ratio.
    """
    unit = setup.converter
    if not unit.alternatives:
        return ()
    setups = [replace(setup, converter=each) for each in (unit, *unit.alternatives)]
    speeds = [float(each.settled(None, np.ones(1), np.ones(1))[0]) for each in setups]
    stuck = [
        bool(each.stuck(np.array([speed]))) for each, speed in zip(setups, speeds, strict=True)
    ]
    ratios = [float(each.converter.torque_ratio_at(np.asarray(0.0))) for each in setups]
    least, middle, most = min(ratios), ratios[0], max(ratios)
    rows: Facts = ((_RATIO, Estimate(middle, least, most)),)
    if any(stuck):
        rows += ((_SPEED, NoValue("cannot accelerate from idle")),)
    else:
        heats = [each.capacity() * speed**3 for each, speed in zip(setups, speeds, strict=True)]
        rows += ((_SPEED, _over(speeds)), (_HEAT, _over(heats)))
    rows += tuple(
        (
            Heading(f"pull_gear_{test.gear}", f"pull at stall in gear {test.gear}", "force"),
            Estimate(test.pull * middle / most, test.pull * least / most, test.pull),
        )
        for test in gears
        if test.pull is not None
    )
    return (Block("estimate", title=DECISIVE_BAND if unit.banded else DECISIVE, facts=rows),)


def _over(values: Sequence[float]) -> Estimate:
    return Estimate(values[0], min(values), max(values))
