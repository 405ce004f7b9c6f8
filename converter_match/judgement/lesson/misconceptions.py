"""What people often believe about converters, answered with the numbers of a live pair."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.lesson.misread import (
    efficiency_peak,
    gross_and_net,
    one_reading,
    stall_speed_and_pull,
)
from converter_match.judgement.lesson.truth import Misconception, number, unit
from converter_match.judgement.match.result import MatchPoint, MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.physics.arrangement.lockup import locked_points
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from converter_match.units import System

_LOCKED_AT = (0.6, 0.8, 1.0)
# Pulls that differ by less are the same.
_LEVEL = 0.005
_COUNTS = {2: "two", 3: "three", 4: "four", 5: "five"}


def misconceptions(
    engine: Engine,
    converter: Converter,
    *,
    other_engines: Sequence[Engine] = (),
    system: System = "si",
) -> tuple[Misconception, ...]:
    """Return common misconceptions with the numbers of a pair.

    Parameters
    ----------
    engine, converter : Engine, Converter
    other_engines : sequence of Engine
        To stand behind the same converter; without any, stall speed is not spoken of.
    system : {"si", "us"}

    Raises
    ------
    InputError
        If the pair has no match at stall.
    """
    result = solve(engine, converter)
    if result.stall is None:
        raise InputError(
            "the pair has no match at stall to speak of", source=f"{engine.id} with {converter.id}"
        )
    items = [_torque_not_power(result, system)]
    if other_engines:
        items.append(_stall_of_the_pair(result, other_engines, system))
    if result.coupling is not None:
        items.append(_slip_goes_on(result, result.coupling, system))
        items.append(_lock_up_and_pull(result, result.coupling, system))
    items.append(stall_speed_and_pull(result, result.stall, system))
    items.append(gross_and_net(result, result.stall, system))
    if result.coupling is not None and result.best_in_conversion is not None:
        items.append(efficiency_peak(result, result.best_in_conversion, result.coupling))
    items.append(one_reading(result, result.stall, system))
    return tuple(items)


def _torque_not_power(result: MatchResult, system: System) -> Misconception:
    rows = []
    for named in result.key_points():
        point = named.point
        if point is not None and point.speed_ratio <= (result.converter.coupling or 1.0):
            rows.append(
                (
                    named.words,
                    f"{point.torque_ratio:.2f}",
                    number(point.input_power, "power", system, ".1f"),
                    number(point.output_power, "power", system, ".1f"),
                    number(point.heat, "power", system, ".1f"),
                )
            )
    power = unit("power", system)
    return Misconception(
        belief="A converter makes the engine stronger.",
        truth="It multiplies torque, not power. What comes out is what went in less heat; where "
        "the torque is multiplied most, at stall, no power comes out at all." + _jump(result),
        head=("", "torque ratio", f"power in ({power})", f"power out ({power})", f"heat ({power})"),
        rows=tuple(rows),
    )


def _jump(result: MatchResult) -> str:
    """Return what to say of a pair with several matches before its coupling point."""
    count = np.asarray(result.locus.count)
    nu = result.locus.points.speed_ratio[0]
    several = (count > 1) & (nu >= 0.0) & (nu <= (result.converter.coupling or 1.0))
    if not several.any():
        return ""
    highest, last = int(count[several].max()), float(nu[several].max())
    seen = ", in the table too" if last < (result.converter.coupling or 1.0) else ""
    return (
        f" This pair has {_COUNTS.get(highest, str(highest))} matches at speed ratios from about "
        f"{nu[several].min():.2f} to {last:.2f}: coming up from idle the engine runs at the "
        f"lowest, and where that one comes to its end speed and power jump{seen}."
    )


def _stall_of_the_pair(
    result: MatchResult, others: Sequence[Engine], system: System
) -> Misconception:
    rows = []
    for engine in (result.engine, *others):
        stall = solve(engine, result.converter).stall
        torque, speed = ("none", "no stall match") if stall is None else _stall(stall, system)
        rows.append((engine.name, torque, speed))
    return Misconception(
        belief="This converter has a stall speed.",
        truth="The converter has a capacity; the stall speed belongs to the pair. The same "
        "converter behind other engines:",
        head=(
            "engine",
            f"torque at stall ({unit('torque', system)})",
            f"stall speed ({unit('angular_speed', system)})",
        ),
        rows=tuple(rows),
    )


def _stall(stall: MatchPoint, system: System) -> tuple[str, str]:
    return (
        number(stall.input_torque, "torque", system),
        number(stall.engine_speed, "angular_speed", system),
    )


def _slip_goes_on(result: MatchResult, coupling: MatchPoint, system: System) -> Misconception:
    named = [("coupling point", coupling), ("governed limit", result.governed_limit)]
    rows = tuple(
        (
            name,
            f"{point.torque_ratio:.2f}",
            f"{100 * (1 - point.speed_ratio):.1f}",
            number(point.engine_speed - point.turbine_speed, "angular_speed", system),
            number(point.heat, "power", system, ".1f"),
        )
        for name, point in named
        if point is not None and point.speed_ratio >= coupling.speed_ratio
    )
    return Misconception(
        belief="Past the coupling point the converter no longer slips.",
        truth="At the coupling point the stator begins to freewheel and multiplication ends. "
        "Slip goes on, as "
        "in any fluid coupling, and so does the heat.",
        head=(
            "",
            "torque ratio",
            "slip (%)",
            f"slip ({unit('angular_speed', system)})",
            f"heat ({unit('power', system)})",
        ),
        rows=rows,
    )


def _lock_up_and_pull(result: MatchResult, coupling: MatchPoint, system: System) -> Misconception:
    speeds = coupling.turbine_speed * np.array(_LOCKED_AT)
    opened = match_at_turbine_speed(result.supply, result.converter, speeds)
    locked = locked_points(result.supply, speeds)
    rows = tuple(
        (
            number(speed, "angular_speed", system),
            number(opened.turbine_torque[i], "torque", system),
            number(locked.turbine_torque[i], "torque", system),
            number(opened.heat[i], "power", system, ".1f"),
        )
        for i, speed in enumerate(speeds)
    )
    torque = unit("torque", system)
    return Misconception(
        belief="Lock-up gives more pull.",
        truth="Lock-up ends slip and its heat, and takes the multiplication away. Whether it pulls "
        "more at a turbine speed depends on what the engine gives at that same speed: compare the "
        f"columns. {_who_pulls_more(result, opened.turbine_torque, locked.turbine_torque)}",
        head=(
            f"turbine speed ({unit('angular_speed', system)})",
            f"torque open ({torque})",
            f"torque locked ({torque})",
            f"heat open ({unit('power', system)})",
        ),
        rows=rows,
    )


def _who_pulls_more(result: MatchResult, opened: FloatArray, locked: FloatArray) -> str:
    both = np.isfinite(opened) & np.isfinite(locked)
    if not both.any():
        return "This engine cannot run at these speeds without a converter."
    gain = locked[both] / opened[both]
    sign = np.sign(np.where(np.abs(gain - 1.0) < _LEVEL, 0.0, gain - 1.0))
    unloaded = result.stall is not None and result.stall.engine_speed >= result.engine.rated_speed
    if unloaded and (sign > 0).all():
        far = "far " if gain.min() > 1.5 else ""
        return (
            f"A converter too small for its engine never loads it; there lock-up pulls {far}more."
        )
    if (sign > 0).all():
        return "Here it pulls more at every speed of the table."
    if (sign < 0).all():
        return "Here it pulls less at every speed of the table."
    if (sign <= 0).all():
        return "Here it never pulls more: less, or at best the same."
    if sign[0] < 0 and (np.diff(sign) >= 0).all():
        return "Here it pulls less at low turbine speed and more at high: the columns cross."
    return "Here it pulls more at some speeds of the table and less or the same at others."
