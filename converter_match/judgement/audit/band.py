"""How well our own figure is known: its 95 % band within the tolerances of the study."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.audit.figures import CONVERSION_RANGE
from converter_match.judgement.uncertainty import DRAWS
from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.uncertainty.uncertainty import drawn
from converter_match.study.study import Claim, Combination, Condition, Duty, Study

_INSIDE = (0.025, 0.975)
_GRID = 81


def band(
    study: Study, claim: Claim, reading: str = "", *, draws: int = DRAWS, seed: int = 0
) -> tuple[float, float] | None:
    """Return what 95 % of the draws of our figure lie between, SI.

    None where the study gives no tolerances, or they do not move this figure.

    Parameters
    ----------
    study : Study
    claim : Claim
        One of its own, or about one of its combinations.
    reading : str
        As in `figures.figure`.
    draws, seed : int
        As in `uncertainty`.

    Raises
    ------
    InputError
        If the tolerances cannot be drawn.
    """
    read = _READ.get(reading or claim.quantity)
    item = _in_gear(study.combination(claim.combination), claim.gear)
    if not study.tolerances or read is None or item is None or (claim.grade or 0.0) < 0.0:
        return None
    site = next((one for one in study.sites if one.id == claim.site), None)
    condition = Condition(site=site, hydraulic_torque=claim.hydraulic_torque)
    duty = Duty(
        surface=study.duty.surface,
        load=claim.load or study.duty.load,
        grades=(0.0, claim.grade or 0.0),
    )
    sampled = drawn(study, item, condition, duty, draws=draws, seed=seed)
    if claim.quantity in _AT_WHEELS and sampled.outcome.tractive is None:
        return None
    values = read(sampled, claim)
    if values is None:
        return None
    known = values[np.isfinite(values)]
    if not known.size or float(np.ptp(known)) == 0.0:
        return None
    low, high = np.quantile(known, _INSIDE)
    return float(low), float(high)


def _in_gear(item: Combination, gear: str | None) -> Combination | None:
    """Return a combination in one forward gear alone; None for a gear in reverse."""
    if gear is None or item.driveline is None:
        return item
    chosen = item.driveline.gear(gear)
    if chosen.direction != "forward":
        return None
    return item.replace(driveline=item.driveline.replace(gears=(chosen,)))


def _coupling_turbine(draws: Sampled, claim: Claim) -> FloatArray | None:
    nu, speed = draws.outcome.match.converter.coupling, draws.coupling_speed
    return None if nu is None or speed is None else np.asarray(nu * speed)


def _conversion_range(draws: Sampled, claim: Claim) -> FloatArray:
    """Best efficiency below the coupling point; a grid with the best by the data on it."""
    converter = draws.outcome.match.converter
    end = converter.coupling or 1.0
    best = converter.best_efficiency(0.0, end)[0]
    grid = np.union1d(np.linspace(0.5 * best, end, _GRID), [best])
    return np.asarray(np.max([nu * draws.torque_ratio(nu) for nu in grid.tolist()], axis=0))


_READ: Mapping[str, Callable[[Sampled, Claim], FloatArray | None]] = MappingProxyType(
    {
        "stall-speed": lambda draws, claim: draws.stall_speed,
        "stall-input-torque": lambda draws, claim: draws.input_torque(0.0, draws.stall_speed),
        "stall-turbine-torque": lambda draws, claim: draws.stall_turbine_torque,
        "stall-torque-ratio": lambda draws, claim: draws.torque_ratio(0.0),
        # At 1 rad/s the torque is the capacity.
        "stall-k-factor": lambda draws, claim: draws.input_torque(0.0, np.ones(draws.size)) ** -0.5,
        "stall-heat": lambda draws, claim: draws.stall_heat,
        "coupling-engine-speed": lambda draws, claim: draws.coupling_speed,
        "coupling-turbine-speed": _coupling_turbine,
        CONVERSION_RANGE: _conversion_range,
        "tractive-effort": lambda draws, claim: draws.effort(np.array([claim.speed or 0.0]))[0],
        "steepest-grade": lambda draws, claim: draws.steepest_start,
        "speed-on-grade": lambda draws, claim: draws.speed_on(claim.grade or 0.0),
        "top-speed": lambda draws, claim: draws.speed_on(0.0),
    }
)
_AT_WHEELS = ("tractive-effort", "steepest-grade", "speed-on-grade", "top-speed")
