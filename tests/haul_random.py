"""Machines and routes at random, climbs between two gears among them, from a seed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from tests.haul_examples import HAULER, LOADER, earth, parts, road

from converter_match.components.driveline import Driveline
from converter_match.components.route import Route
from converter_match.judgement.haul.haul import prepare
from converter_match.physics.haul.route import Hauler

GRAVITY = 9.80665


@cache
def machine(kind: int) -> Hauler:
    """Return one of a few haulers: two machines, shifts from none to slow ones."""
    match, line, body = parts((HAULER, LOADER)[kind % 2])
    shift_time = (0.0, 0.3, 0.7, 1.2)[kind // 2 % 4]
    changed: Driveline = line.replace(shift_time=shift_time)
    return prepare(match, changed, body, road(0.0))


def kinds() -> int:
    """Return how many there are."""
    return 8


def route(random: np.random.Generator, hauler: Hauler) -> Route:
    """Return a route of up to eight segments; most climbs lie between two gears of the machine.

    There a lower gear accelerates up to its shift speed, and the next one hardly holds it.
    """
    chain = hauler.chain
    count = int(random.integers(1, 9))
    load = str(random.choice(["laden", "empty"]))
    weight = hauler.machine.mass(load) * GRAVITY
    grades = []
    for _ in range(count):
        between = [k for k in range(chain.size) if np.isfinite(chain.up_speed[k])]
        state = int(random.choice(between))
        above = int(chain.up_to[state])
        speed = chain.up_speed[state] * random.uniform(0.9, 1.1)
        place = min(speed / chain.top[above], 1.0) * (chain.force.shape[1] - 1)
        held = float(np.interp(place, np.arange(chain.force.shape[1]), chain.force[above]))
        climb = held / weight - earth().rolling_resistance
        grades.append(
            float(random.choice([climb * random.uniform(0.85, 1.1), random.uniform(-0.12, 0.15)]))
        )
    limits = np.where(
        random.uniform(size=count) < 0.5, np.inf, random.uniform(2.0, 15.0, size=count)
    )
    stops = np.where(random.uniform(size=count) < 0.8, np.nan, random.uniform(0.0, 30.0, count))
    return road(
        np.clip(grades, -0.2, 0.35),
        random.choice([60.0, 150.0, 400.0, 1500.0], size=count) * random.uniform(0.5, 1.5, count),
        limits,
        load,
        stop_time=stops,
    )


def stronger(hauler: Hauler, name: str) -> dict[str, float]:
    """Return factors of a draw that has it easier: more torque, less mass or less resistance."""
    return {
        "torque": {"torque": 1.03},
        "mass": {"mass": 0.97},
        "rolling_resistance": {"rolling_resistance": 0.9},
    }[name]


__all__ = ["kinds", "machine", "replace", "route", "stronger"]
