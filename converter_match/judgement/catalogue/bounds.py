"""What can be told of a combination from stall alone: bounds that a full study cannot undo.

At stall the match of one engine with every converter in every size is one call of the solver. Each
bound excludes only what the criterion of the same name fails in any case: the torque at stall is no
more than the highest torque anywhere, and what the data leave open is left to the study. By `SLACK`
nothing hangs on the last digits of a scaled capacity.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.engine import Engine
from converter_match.components.torque_peak import speeds_near_peak
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.catalogue.field import Field, musts
from converter_match.judgement.catalogue.stall import Stall
from converter_match.judgement.verdict.pumps import pump_load
from converter_match.judgement.verdict.reach import gaps
from converter_match.physics.engine.site_correction import site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.match_set import MatchSet, OperatingPoints
from converter_match.physics.match.solver import match
from converter_match.study.criteria import Choice
from converter_match.study.study import Condition, Study

SLACK = 1e-6
"""Share by which a bound has to be missed, and by which a capacity may be off."""
_EITHER_SIDE = np.array([1.0 - SLACK, 1.0, 1.0 + SLACK])[:, np.newaxis]


BOUNDS = (
    "single-stable-match",
    "stall-speed-window",
    "converter-input-torque",
    "converter-input-power",
    "converter-input-speed",
    "turbine-stall-torque",
    "governed-overspeed",
)
"""Criteria with a bound, in the order of the bits in which they are told."""


def excluded_by_bounds(field: Field, engine: int) -> NDArray[np.uint8]:
    """Return which required criteria an engine fails with certainty, with every other part.

    Parameters
    ----------
    field : Field
    engine : int
        Which of the catalogue.

    Returns
    -------
    ndarray of uint8, shape (sites, sizes, drivelines)
        Bit k stands for `BOUNDS[k]`.
    """
    catalogue, stall = field.catalogue, field.stall
    shape = len(catalogue.studies), len(catalogue.sizes), len(catalogue.drivelines)
    found = np.zeros(shape, dtype=np.uint8)
    for row, study in enumerate(catalogue.studies):
        chosen = [item for item in musts(study) if item.name in BOUNDS]
        for k, condition in enumerate(study.conditions):
            here = _Here(field, study, catalogue.engines[engine], stall, condition)
            for choice in chosen:
                if k in study.looked_at(choice):
                    bit = np.uint8(1 << BOUNDS.index(choice.name))
                    found[row] |= np.where(_FAILS[choice.name](here, choice), bit, np.uint8(0))
    return found


@dataclass(frozen=True, eq=False)
class _Here:
    """One engine in one condition, beside every size (s) and driveline (d)."""

    field: Field
    study: Study
    engine: Engine
    stall: Stall
    condition: Condition

    @cached_property
    def supply(self) -> TorqueSupply | None:
        """What reaches the impeller; None where something is missing, so that nothing is told."""
        try:
            one = self.study.candidates[0].replace(engine=self.engine)
            load = pump_load(one, self.condition)
            effect = site_effect(load.engine, self.condition.site)
            if load.missing:
                return None
            return engine_supply(
                load.engine,
                torque_factor=effect.torque_factor,
                hydraulic_torque=load.hydraulic_torque,
            )
        except InputError:
            return None

    @cached_property
    def running(self) -> bool:
        """Whether the torque is known wherever the engine runs; else it is left to the study."""
        engine = self.engine
        rows = gaps(engine.speed, engine.low_idle, engine.rated_speed)
        return self.supply is not None and not rows

    @cached_property
    def matches(self) -> MatchSet:
        """At stall, (r, 3, s): with a capacity just below, as it is, and just above."""
        assert self.supply is not None
        return match(self.supply, self.stall, 0.0, capacity_factor=_EITHER_SIDE)

    @cached_property
    def settled(self) -> NDArray[np.bool_]:
        """Whether the engine surely settles at stall, coming up from idle, (s,)."""
        return np.asarray(np.isfinite(self.matches.from_idle().engine_speed).all(axis=0))

    def highest(self, values: FloatArray) -> FloatArray:
        """Return what the highest of some values (r, 3, s) at a stable match is at least, (s,)."""
        points = self.matches.points
        stable = np.where(points.found & points.stable, values, -np.inf)
        return np.asarray(stable.max(axis=0).min(axis=0) * (1.0 - SLACK))

    @property
    def driven(self) -> FloatArray:
        """Turbine torque and speed that each driveline takes, infinite without a limit, (2, d)."""
        limits = [None if d is None else d.limits for d in self.field.catalogue.drivelines]
        torque = [_or_none(None if one is None else one.turbine_torque) for one in limits]
        speed = [_or_none(None if one is None else one.turbine_speed) for one in limits]
        return np.array([torque, speed])


_UNTOLD = np.zeros((1, 1), dtype=bool)


def _single_stable_match(here: _Here, choice: Choice) -> NDArray[np.bool_]:
    if not here.running:
        return _UNTOLD
    alone = (here.matches.count == 1) & np.isfinite(here.matches.from_idle().engine_speed)
    return _sized(here.stall.certain & ~alone.any(axis=0))


def _stall_speed_window(here: _Here, choice: Choice) -> NDArray[np.bool_]:
    if not here.running:
        return _UNTOLD
    engine, limits = here.engine, here.study.limits
    least = choice["least"] * speeds_near_peak(engine)[0]
    most = choice["most"] * engine.rated_speed
    least = max(least, limits.stall_speed_least or least)
    most = min(most, limits.stall_speed_most or most)
    speed = here.matches.from_idle().engine_speed
    below = (speed < least * (1.0 - SLACK)).all(axis=0)
    above = (speed > most * (1.0 + SLACK)).all(axis=0)
    return _sized(here.stall.certain & here.settled & (below | above))


def _input_torque(here: _Here, choice: Choice) -> NDArray[np.bool_]:
    return _above(here, choice, "input_torque", lambda points: points.input_torque)


def _input_power(here: _Here, choice: Choice) -> NDArray[np.bool_]:
    return _above(here, choice, "input_power", lambda points: points.input_power)


def _above(
    here: _Here, choice: Choice, name: str, read: Callable[[OperatingPoints], FloatArray]
) -> NDArray[np.bool_]:
    if not here.running:
        return _UNTOLD
    limit = np.minimum(getattr(here.stall, name), _or_none(getattr(here.study.limits, name)))
    highest = here.highest(read(here.matches.points))
    return _sized(here.stall.certain & here.settled & (highest > _far(choice["most"] * limit)))


def _input_speed(here: _Here, choice: Choice) -> NDArray[np.bool_]:
    if here.supply is None:
        return _UNTOLD
    limit = np.minimum(here.stall.input_speed, _or_none(here.study.limits.input_speed))
    fails = here.engine.high_idle > _far(choice["most"] * limit)
    return _sized(here.stall.known & fails)


def _turbine_torque(here: _Here, choice: Choice) -> NDArray[np.bool_]:
    if not here.running:
        return _UNTOLD
    limit = np.minimum(here.driven[0], _or_none(here.study.limits.turbine_torque))
    highest = here.highest(here.matches.points.turbine_torque)
    sure = _sized(here.stall.certain & here.settled)
    return np.asarray(sure & (_sized(highest) > _far(choice["most"] * limit)))


def _governed(here: _Here, choice: Choice) -> NDArray[np.bool_]:
    limits = here.study.limits
    own = min(_or_none(limits.turbine_speed), _or_none(limits.engine_speed))
    limit = np.minimum(here.driven[1], own)
    fails = here.engine.high_idle > _far(choice["most"] * limit)
    return np.asarray(_sized(here.stall.known) & fails)


_FAILS: Mapping[str, Callable[[_Here, Choice], NDArray[np.bool_]]] = MappingProxyType(
    {
        "single-stable-match": _single_stable_match,
        "stall-speed-window": _stall_speed_window,
        "converter-input-torque": _input_torque,
        "converter-input-power": _input_power,
        "converter-input-speed": _input_speed,
        "turbine-stall-torque": _turbine_torque,
        "governed-overspeed": _governed,
    }
)


def _sized(values: ArrayLike) -> NDArray[Any]:
    """Return values of each size (s,) beside every driveline, (s, 1)."""
    return np.asarray(values)[:, np.newaxis]


def _or_none(limit: float | None) -> float:
    return np.inf if limit is None else limit


def _far(limit: ArrayLike) -> FloatArray:
    """Return a limit by how much it has to be exceeded for certain."""
    return np.asarray(np.asarray(limit) * (1.0 + SLACK))
