"""What people often believe about converters, answered with the numbers of a live pair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.errors import InputError
from converter_match.judgement.match_result import MatchPoint, MatchResult
from converter_match.judgement.pairing import solve
from converter_match.physics.lockup import locked_points
from converter_match.physics.turbine_speed import match_at_turbine_speed
from converter_match.units import System, show

_LOCKED_AT = (0.6, 0.8, 1.0)


@dataclass(frozen=True)
class Misconception:
    """A belief, what is true instead, and a table that shows it.

    Parameters
    ----------
    belief, truth : str
    head : tuple of str
        Column titles, each with its unit.
    rows : tuple of tuple of str
    """

    belief: str
    truth: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


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
    found = [_torque_not_power(result, system)]
    if other_engines:
        found.append(_stall_of_the_pair(result, other_engines, system))
    if result.coupling is not None:
        found.append(_slip_goes_on(result, result.coupling, system))
        found.append(_lock_up_adds_nothing(result, result.coupling, system))
    return tuple(found)


def _torque_not_power(result: MatchResult, system: System) -> Misconception:
    rows = []
    for name, point in result.key_points():
        if point is not None and point.speed_ratio <= (result.converter.coupling or 1.0):
            rows.append(
                (
                    name,
                    f"{point.torque_ratio:.2f}",
                    _number(point.input_power, "power", system, ".1f"),
                    _number(point.output_power, "power", system, ".1f"),
                    _number(point.heat, "power", system, ".1f"),
                )
            )
    power = _unit("power", system)
    return Misconception(
        belief="A converter makes the engine stronger.",
        truth="It multiplies torque, not power. What comes out is what went in less heat; where "
        "the torque is multiplied most, at stall, no power comes out at all.",
        head=("", "torque ratio", f"power in ({power})", f"power out ({power})", f"heat ({power})"),
        rows=tuple(rows),
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
            f"torque at stall ({_unit('torque', system)})",
            f"stall speed ({_unit('angular_speed', system)})",
        ),
        rows=tuple(rows),
    )


def _stall(stall: MatchPoint, system: System) -> tuple[str, str]:
    return (
        _number(stall.input_torque, "torque", system),
        _number(stall.engine_speed, "angular_speed", system),
    )


def _slip_goes_on(result: MatchResult, coupling: MatchPoint, system: System) -> Misconception:
    named = [("coupling point", coupling), ("governed limit", result.governed_limit)]
    rows = tuple(
        (
            name,
            f"{point.torque_ratio:.2f}",
            f"{100 * (1 - point.speed_ratio):.1f}",
            _number(point.engine_speed - point.turbine_speed, "angular_speed", system),
            _number(point.heat, "power", system, ".1f"),
        )
        for name, point in named
        if point is not None and point.speed_ratio >= coupling.speed_ratio
    )
    return Misconception(
        belief="Past the coupling point the converter no longer slips.",
        truth="At the coupling point the stator lets go and multiplication ends. Slip goes on, as "
        "in any fluid coupling, and so does the heat.",
        head=(
            "",
            "torque ratio",
            "slip (%)",
            f"slip ({_unit('angular_speed', system)})",
            f"heat ({_unit('power', system)})",
        ),
        rows=rows,
    )


def _lock_up_adds_nothing(
    result: MatchResult, coupling: MatchPoint, system: System
) -> Misconception:
    speeds = coupling.turbine_speed * np.array(_LOCKED_AT)
    opened = match_at_turbine_speed(result.supply, result.converter, speeds)
    locked = locked_points(result.supply, speeds)
    rows = tuple(
        (
            _number(speed, "angular_speed", system),
            _number(opened.turbine_torque[i], "torque", system),
            _number(locked.turbine_torque[i], "torque", system),
            _number(opened.heat[i], "power", system, ".1f"),
        )
        for i, speed in enumerate(speeds)
    )
    torque = _unit("torque", system)
    return Misconception(
        belief="Lock-up gives more pull.",
        truth="Lock-up saves heat and fuel. It takes the multiplication away, so at low turbine "
        "speed it pulls less; it draws level only where hardly any multiplication is left.",
        head=(
            f"turbine speed ({_unit('angular_speed', system)})",
            f"torque open ({torque})",
            f"torque locked ({torque})",
            f"heat open ({_unit('power', system)})",
        ),
        rows=rows,
    )


def _number(value: float, dimension: str, system: System, form: str = ".0f") -> str:
    number = float(show(float(value), dimension, system)[0])
    return format(number, form) if np.isfinite(number) else "none"


def _unit(dimension: str, system: System) -> str:
    return show(0.0, dimension, system)[1]
