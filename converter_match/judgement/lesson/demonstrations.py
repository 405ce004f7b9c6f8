"""Demonstrations with the numbers of a pair: a stall against a clock, lock-up, a descent."""

from __future__ import annotations

import numpy as np

from converter_match.components.machine import Machine
from converter_match.errors import InputError
from converter_match.judgement.conditions.air import temperature_around
from converter_match.judgement.conditions.outlet import known_oil_in_converter, stated_oil_limit
from converter_match.judgement.lesson.truth import Demonstration, number, unit
from converter_match.judgement.match.result import MatchResult
from converter_match.physics.arrangement.lockup import locked_points
from converter_match.physics.arrangement.overrun import (
    braking,
    braking_range,
    locked_braking,
    motoring_supply,
    with_overrun,
)
from converter_match.physics.heat.oil import OilCircuit, advance
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from converter_match.units import System

DEMONSTRATIONS = ("oil-clock", "lock-up-shift", "descent")
_CLOCK = np.array([0.0, 5.0, 10.0, 15.0, 20.0, 30.0])
_SHIFTS = np.array([0.5, 0.7, 0.85, 1.0, 1.1])
_DESCENTS = 5


def demonstrations(
    result: MatchResult, machine: Machine | None, *, system: System = "si"
) -> tuple[Demonstration, ...]:
    """Return the demonstrations, in the order of `DEMONSTRATIONS`.

    Parameters
    ----------
    result : MatchResult
        Of a pair with a match at stall and at the coupling point.
    machine : Machine or None
        For its oil.
    system : {"si", "us"}
    """
    return (
        _oil_clock(result, machine, system),
        _lock_up_shift(result, system),
        _descent(result, system),
    )


def _oil_clock(result: MatchResult, machine: Machine | None, system: System) -> Demonstration:
    key, title = "oil-clock", "Oil at stall, against a clock"
    assert result.stall is not None
    heat = result.stall.heat
    capacity = None if machine is None else machine.oil.oil_heat_capacity
    if machine is None or capacity is None:
        return Demonstration(key, title, "No machine with its oil is named, so there is no clock.")
    start = machine.oil.working_temperature
    if start is None:
        return Demonstration(key, title, f"The working temperature of {machine.name} is not known.")
    alone = start + heat * _CLOCK / capacity
    columns = [("oil, taking all of the heat", alone)]
    circuit = OilCircuit.of(machine, temperature_around(result.site), None)
    if circuit is not None and machine.oil.metal_mass is not None:
        with_metal, _ = advance(circuit, start, start, heat, _CLOCK)
        columns.append(("oil with its metal", with_metal))
    inside, _ = known_oil_in_converter(machine.oil, result.converter)
    if inside is not None:
        outlet = [inside.after(heat, start, float(time)) for time in _CLOCK]
        columns.append(("at the converter's outlet", np.array(outlet)))
    limit = stated_oil_limit(machine, result.converter)
    power, degree = unit("power", system), unit("temperature", system)
    end = (
        ""
        if limit is None
        else " The oil alone is at its limit of "
        f"{number(limit, 'temperature', system)} {degree} after "
        f"{max(capacity * (limit - start) / heat, 0.0):.0f} s."
    )
    return Demonstration(
        key,
        title,
        f"{number(heat, 'power', system, '.0f')} {power} go into the oil of: {machine.name}.{end} "
        "Read the clock aloud. A calculation, and no time to hold a machine for: the verb hold "
        "says how long, and the machine maker's procedure goes first.",
        ("s", *(f"{name} ({degree})" for name, _ in columns)),
        tuple(
            (
                f"{time:.0f}",
                *(number(float(values[k]), "temperature", system) for _, values in columns),
            )
            for k, time in enumerate(_CLOCK)
        ),
    )


def _lock_up_shift(result: MatchResult, system: System) -> Demonstration:
    assert result.coupling is not None
    speeds = _SHIFTS * result.coupling.turbine_speed
    opened = match_at_turbine_speed(result.supply, result.converter, speeds)
    locked = locked_points(result.supply, speeds)
    rpm, torque, power = (unit(name, system) for name in ("angular_speed", "torque", "power"))
    rows = tuple(
        (
            number(speed, "angular_speed", system),
            number(opened.engine_speed[k], "angular_speed", system),
            number(locked.engine_speed[k], "angular_speed", system),
            number(opened.turbine_torque[k], "torque", system),
            number(locked.turbine_torque[k], "torque", system),
            number(opened.heat[k], "power", system, ".1f"),
        )
        for k, speed in enumerate(speeds)
    )
    return Demonstration(
        "lock-up-shift",
        "The lock-up shift",
        "The clutch closes at full throttle. The engine falls to the turbine's speed; the torque "
        "is what it gives there. Where that is well below, the shift is felt as a jolt, and the "
        "engine may lug: lock-up belongs past the coupling point.",
        (
            f"turbine ({rpm})",
            f"engine, open ({rpm})",
            f"engine, locked ({rpm})",
            f"torque, open ({torque})",
            f"torque, locked ({torque})",
            f"heat spared ({power})",
        ),
        rows,
    )


def _descent(result: MatchResult, system: System) -> Demonstration:
    key, title = "descent", "Downhill: the turbine drives the impeller"
    try:
        drag = motoring_supply(result.engine)
        over = with_overrun(result.converter, assume=True)
        low, high = braking_range(drag, over)
        speeds = np.linspace(low, high, _DESCENTS + 2)[1:-1]
        opened, locked = braking(drag, over, speeds), locked_braking(drag, speeds)
    except InputError as error:
        return Demonstration(key, title, f"Left out: {error}.")
    rpm, torque, power = (unit(name, system) for name in ("angular_speed", "torque", "power"))
    return Demonstration(
        key,
        title,
        "Fuel off, on a grade. The engine turns slower than the turbine and brakes only with the "
        "drag it has at that lower speed; the oil takes a part as heat. Locked, it turns with the "
        "wheels, and brakes with more. A converter holds no machine on a slope, and hardly retards "
        "it: grades are for brakes and retarder. What the converter does beyond speed ratio 1 is "
        "an assumption where its sheet ends.",
        (
            f"turbine ({rpm})",
            f"engine, open ({rpm})",
            f"retarding, open ({torque})",
            f"retarding, locked ({torque})",
            f"heat, open ({power})",
        ),
        tuple(
            (
                number(speed, "angular_speed", system),
                number(opened.engine_speed[k], "angular_speed", system),
                number(-opened.turbine_torque[k], "torque", system),
                number(-locked.turbine_torque[k], "torque", system),
                number(opened.heat[k], "power", system, ".1f"),
            )
            for k, speed in enumerate(speeds)
        ),
    )
