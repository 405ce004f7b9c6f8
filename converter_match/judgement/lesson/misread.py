"""Beliefs about stall speed, ratings, efficiency and stall tests, with the numbers of a pair."""

from __future__ import annotations

import numpy as np

from converter_match.judgement.lesson.truth import Misconception, number, unit
from converter_match.judgement.match.result import MatchPoint, MatchResult
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import match
from converter_match.units import System

_CAPACITIES = (1.25, 1.0, 0.8)
_KINDS = {1.25: "tighter: 125 % of the capacity", 1.0: "this one", 0.8: "looser: 80 %"}
_WEAKER = 0.9
_LEVEL = 0.005


def stall_speed_and_pull(result: MatchResult, stall: MatchPoint, system: System) -> Misconception:
    """Return what another capacity does to stall speed and to the pull at stall."""
    found = match(
        result.supply, result.converter, 0.0, capacity_factor=np.array(_CAPACITIES)
    ).from_idle()
    speed, pull, heat = found.engine_speed, found.turbine_torque, found.heat
    rows = tuple(
        (
            _KINDS[share],
            number(speed[k], "angular_speed", system),
            number(pull[k], "torque", system),
            number(heat[k], "power", system, ".1f"),
        )
        for k, share in enumerate(_CAPACITIES)
    )
    gain = float(pull[-1] / stall.turbine_torque - 1.0)
    if abs(gain) < _LEVEL:
        what = "here, the same"
    else:
        what = f"here, with this engine, {100 * gain:+.0f} % with the looser one"
    hotter = 100 * float(heat[-1] / stall.heat - 1.0)
    warm = f"The heat at stall changes by {hotter:+.0f} %."
    return Misconception(
        belief="More stall speed pulls more.",
        truth="At one torque ratio the pull at stall is that ratio times the torque which the "
        f"engine gives at the stall speed: {what}. Past its torque peak an engine gives less the "
        f"faster it runs. {warm} (A converter with another torque ratio is another matter.)",
        head=(
            "same torque ratio, other capacity",
            f"stall speed ({unit('angular_speed', system)})",
            f"turbine torque at stall ({unit('torque', system)})",
            f"heat ({unit('power', system)})",
        ),
        rows=rows,
    )


def gross_and_net(result: MatchResult, stall: MatchPoint, system: System) -> Misconception:
    """Return what of the torque on the sheet arrives at the impeller, at the stall speed."""
    engine, supply, w = result.engine, result.supply, np.array(stall.engine_speed)
    bare = TorqueSupply(supply.source, factor=supply.factor, low=supply.low)
    full = float(bare.torque(w))
    rows = [(f"full load on the sheet ({engine.rating_basis})", number(full, "torque", system))]
    for item in engine.accessories:
        taken = item.reference_torque * float(w / item.at_speed) ** (item.exponent - 1.0)
        rows.append((f"{item.name} takes", number(taken, "torque", system)))
    rest = full - float(supply.torque(w)) - sum(
        item.reference_torque * float(w / item.at_speed) ** (item.exponent - 1.0)
        for item in engine.accessories
    )  # fmt: skip
    if rest > 0.5:
        rows.append(("other loads take", number(rest, "torque", system)))
    rows.append(("left for the impeller", number(stall.input_torque, "torque", system)))
    gross = match(bare, result.converter, 0.0).from_idle()
    higher = float(gross.engine_speed) / stall.engine_speed - 1.0
    if engine.rating_basis == "gross" and engine.accessories:
        said = (
            f"Reckoned with the gross curve, stall would be {100 * higher:.1f} % higher than it "
            "is: the commonest reason why a stall speed cannot be reproduced."
        )
    elif engine.rating_basis == "gross":
        said = "This sheet is gross and names no loads: what drives the fan is still missing."
    else:
        said = "This sheet is net: what it leaves out of the loads of the machine still comes off."
    return Misconception(
        belief="What the sheet of the engine says is what arrives at the converter.",
        truth="A gross rating is that of the bare engine. Fan, alternator and pumps take their "
        f"share first. {said}",
        head=("at the stall speed", f"torque ({unit('torque', system)})"),
        rows=tuple(rows),
    )


def efficiency_peak(result: MatchResult, best: MatchPoint, coupling: MatchPoint) -> Misconception:
    """Return the efficiency about the coupling point."""
    points = [("best with the stator held", best), ("coupling point", coupling)]
    if result.governed_limit is not None:
        points.append(("governed limit", result.governed_limit))
    points.sort(key=lambda item: item[1].speed_ratio)
    at = best.speed_ratio
    lies = (
        f"with the stator held it is best at speed ratio {at:.2f}, and has fallen by "
        f"{100 * (best.efficiency - coupling.efficiency):.1f} points at the coupling point"
        if coupling.efficiency < best.efficiency - 1e-4
        else "with the stator held it is best at the coupling point itself"
    )
    return Misconception(
        belief="The efficiency peaks at the coupling point.",
        truth=f"Here {lies}. Beyond it the efficiency is the speed ratio, and rises again: the "
        "coupling point is a corner, not a peak.",
        head=("", "speed ratio", "torque ratio", "efficiency"),
        rows=tuple(
            (
                name,
                f"{point.speed_ratio:.3f}",
                f"{point.torque_ratio:.2f}",
                f"{point.efficiency:.3f}",
            )
            for name, point in points
        ),
    )


def one_reading(result: MatchResult, stall: MatchPoint, system: System) -> Misconception:
    """Return faults that read the same at stall, each as large as it has to be."""
    weak = match(result.supply, result.converter, 0.0, torque_factor=_WEAKER).from_idle()
    w = float(weak.engine_speed)
    read = number(w, "angular_speed", system)
    rows: list[tuple[str, ...]] = [
        ("nothing wrong", "", number(stall.engine_speed, "angular_speed", system))
    ]
    if np.isfinite(w):
        taken = float(result.converter.capacity_at(0.0)) * w**2
        offered = float(result.supply.torque(np.array(w)))
        rows += [
            ("engine down on torque", f"by {100 * (1 - _WEAKER):.0f} %", read),
            (
                "a pump not unloaded",
                f"takes {number(offered - taken, 'torque', system)} {unit('torque', system)}",
                read,
            ),
            ("converter takes more", f"{100 * (offered / taken - 1):.0f} % more capacity", read),
        ]
    return Misconception(
        belief="One stall test convicts the converter.",
        truth="One reading is one number, and different faults give the same one. It takes a "
        "second reading that they change differently: another gear, boost or fuel pressure, the "
        "oil's temperature, the pumps unloaded. The machine maker's procedure says which.",
        head=("cause", "how large", f"stall speed ({unit('angular_speed', system)})"),
        rows=tuple(rows),
    )
