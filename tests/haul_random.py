"""Machines and routes at random, climbs between two gears among them, from a seed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from converter_match.components.route import Route
from converter_match.constants import GRAVITY
from converter_match.curves import FloatArray
from converter_match.judgement.haul.haul import prepare
from converter_match.physics.haul.loads import Draws
from converter_match.physics.haul.route import Hauler, RouteTotals, run_each
from converter_match.physics.haul.speed_profile import LONGEST_STEP
from tests.haul_examples import HAULER, LOADER, earth, parts, road

KINDS = 16
"""Machines to choose from; the second half has downshifts that no file gives."""


@cache
def machine(kind: int) -> Hauler:
    """Return one of a few haulers: two machines, shifts from none to slow ones.

    The shipped drivelines give a hysteresis, which fixes the downshifts; without it they are the
    tool's own.
    """
    match, line, body = parts((HAULER, LOADER)[kind % 2])
    shift_time = (0.0, 0.3, 0.7, 1.2)[kind // 2 % 4]
    changed = line.replace(shift_time=shift_time)
    if kind >= KINDS // 2:
        changed = changed.replace(shift_hysteresis=None)
    return prepare(match, changed, body, road(0.0))


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


EASIER = {
    "3 % more torque": {"torque": 1.03},
    "3 % less mass": {"mass": 0.97},
    "10 % less rolling resistance": {"rolling_resistance": 0.9},
}
"""Factors of draws that have it easier."""


@dataclass(frozen=True)
class Compared:
    """A route driven with the default step and a finer one; as it is, and by the draws of `EASIER`.

    Parameters
    ----------
    arrives : bool
        Whether all draws complete it, with both steps.
    differs : bool
        Whether a draw ends in another segment with the finer step.
    time, fuel : ndarray, shape (4,)
        What the default step is off, as a share.
    grams : ndarray, shape (4,)
        What its fuel is off [g].
    alike : ndarray of bool, shape (4,)
        Whether both steps change gear equally often.
    slower : ndarray, shape (3,)
        By how much the draws of `EASIER` are slower than the machine as it is, as a share.
    hunts : ndarray of bool, shape (3,)
        Whether the gearbox is named as hunting, with the draw or without.
    costs : ndarray, shape (3,)
        What the hysteresis costs the draws of `EASIER`, as a share of the time.
    own_rule : bool
        Whether gear changes down are the tool's own.
    """

    arrives: bool
    differs: bool
    time: FloatArray
    fuel: FloatArray
    grams: FloatArray
    alike: NDArray[np.bool_]
    slower: FloatArray
    hunts: NDArray[np.bool_]
    costs: FloatArray
    own_rule: bool


def compared(count: int, seed: int, *, finer: float = 10.0) -> list[Compared]:
    """Drive routes at random with both steps, those of a machine all in one march.

    With a step that is `finer` by one there is only one.
    """
    random = np.random.default_rng(seed)
    ways = [(k % KINDS, route(random, machine(k % KINDS))) for k in range(count)]
    names = ("mass", "torque", "rolling_resistance")
    draws = Draws.of(
        **{name: [1.0, *(easier.get(name, 1.0) for easier in EASIER.values())] for name in names}
    )
    pairs = []
    for kind in range(KINDS):
        hauler = machine(kind)
        runs = [(hauler, way, draws) for k, way in ways if k == kind]
        if runs:
            usual = fine = run_each(runs)
            if finer != 1.0:
                fine = run_each(runs, longest_step=LONGEST_STEP / finer)
            own_rule = bool(hauler.chain.down_assumed.any())
            pairs += [_pair(*both, own_rule) for both in zip(usual, fine, strict=True)]
    return pairs


def _pair(usual: RouteTotals, fine: RouteTotals, own_rule: bool) -> Compared:
    hunts = usual.hunts > 0
    assert usual.fuel is not None
    assert fine.fuel is not None
    return Compared(
        arrives=bool(np.all((usual.stuck_segment < 0) & (fine.stuck_segment < 0))),
        differs=bool(np.any(usual.stuck_segment != fine.stuck_segment)),
        time=usual.time / fine.time - 1.0,
        fuel=usual.fuel / fine.fuel - 1.0,
        grams=1e3 * (usual.fuel - fine.fuel),
        alike=usual.shifts == fine.shifts,
        slower=usual.time[1:] / usual.time[0] - 1.0,
        hunts=hunts[1:] | hunts[0],
        costs=(usual.hysteresis_costs / usual.time)[1:],
        own_rule=own_rule,
    )
