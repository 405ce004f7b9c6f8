"""Criteria over draws: the reserve of each, draw by draw; above zero the criterion holds.

The bounds are those of `judgement.verdict.criteria_match` and `judgement.verdict.criteria_wheels`;
only what a
tolerance moves is drawn. What is not drawn here says why.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.verdict.measure import Finding, Verdict, reserve
from converter_match.study.criteria import Choice
from converter_match.study.study import Study

Drawn = FloatArray | str
"""Reserve of each draw, or why there is none."""

_ROUTES = "a route is not driven for every draw"
NOT_DRAWN: Mapping[str, str] = MappingProxyType(
    {
        "tractive-effort-kept": "the effort at every speed is not drawn; see the steepest start",
        "oil-temperature": _ROUTES,
        "route-time-kept": _ROUTES,
        "fuel-kept": _ROUTES,
    }
)
# No tolerance touches what these compare.
CERTAIN = ("converter-input-speed", "governed-overspeed", "engine-braking-kept")


def drawn_reserve(
    study: Study, choice: Choice, own: Sampled, present: Sampled | None, nominal: Finding
) -> Drawn:
    """Return the reserve of a criterion for each draw in one condition, or why there is none.

    Parameters
    ----------
    study : Study
    choice : Choice
    own, present : Sampled
        In the same condition; draw k of both belongs together.
    nominal : Finding
        What the data say without tolerances.
    """
    if nominal.verdict is Verdict.NOT_KNOWN:
        return "not known without tolerances either: " + "; ".join(nominal.missing)
    name = choice.name
    if name in CERTAIN:
        held = nominal.verdict is not Verdict.FAIL
        return np.full(own.size, 1.0 if held else -1.0)
    if name in _ALONE:
        return _ALONE[name](study, choice, own)
    if name == "top-speed-kept":
        return _top_speed(study, choice, own, present)
    if name in _PAIRS:
        if present is None:
            return "there is no present machine to compare with"
        return _PAIRS[name](study, choice, own, present)
    return NOT_DRAWN.get(name, "not drawn")


def _settled(kept: FloatArray, value: FloatArray) -> FloatArray:
    """Return the reserve, with draws that have no answer as not holding."""
    return np.where(np.isfinite(value), kept, -1.0)


def _single(study: Study, choice: Choice, own: Sampled) -> Drawn:
    alone = (own.intersections == 1) & np.isfinite(own.stall_speed)
    return np.where(alone, 1.0, -1.0)


def _window(study: Study, choice: Choice, own: Sampled) -> Drawn:
    limits = study.limits
    least = choice["least"] * own.own.peak_torque_speed
    most = choice["most"] * own.own.combination.engine.rated_speed
    kept = reserve(
        own.stall_speed,
        max(least, limits.stall_speed_least or least),
        min(most, limits.stall_speed_most or most),
    )
    return _settled(kept, own.stall_speed)


def _usable(study: Study, choice: Choice, own: Sampled) -> Drawn:
    if abs(choice["efficiency"] - 0.8) > 1e-9:
        return "the draws look at 80 % efficiency only"
    share = own.usable_share
    if share is None:
        return np.full(own.size, -1.0)
    return _settled(reserve(share, choice["least"]), share)


def _most(value: FloatArray, most: float, limits: tuple[float | None, ...]) -> Drawn:
    known = [limit for limit in limits if limit is not None]
    if not known:
        return "no limit is given"
    return _settled(reserve(value, most=most * min(known)), value)


def _torque(study: Study, choice: Choice, own: Sampled) -> Drawn:
    stated = own.own.match.converter.limits.input_torque
    limits = (stated, study.limits.input_torque)
    return _most(own.highest_input_torque, choice["most"], limits)


def _power(study: Study, choice: Choice, own: Sampled) -> Drawn:
    limits = (own.own.match.converter.limits.input_power, study.limits.input_power)
    return _most(own.highest_input_power, choice["most"], limits)


def _turbine(study: Study, choice: Choice, own: Sampled) -> Drawn:
    line = own.own.combination.driveline
    limits = (None if line is None else line.limits.turbine_torque, study.limits.turbine_torque)
    return _most(own.stall_turbine_torque, choice["most"], limits)


def _heat(study: Study, choice: Choice, own: Sampled) -> Drawn:
    grade, result = study.duty.continuous_grade, own.own.tractive
    if grade is None or result is None:
        return "nothing at the wheels, or no continuous grade"
    state = own.on_grade(grade)
    if state is None:
        return "the machine is not in balance on that grade"
    limits = [study.limits.heat] if study.limits.heat is not None else []
    cooler, oil = result.machine.cooler, result.machine.oil.temperature_limit
    kept = np.full(own.size, np.inf)
    if cooler is not None and oil is not None:
        # A warmer day leaves the cooler less to work with.
        warmer = own.deviations.get("air-temperature", np.zeros(own.size))
        grid = np.linspace(float(np.min(warmer)), float(np.max(warmer)) + 1e-9, 33)
        at = [float(cooler.heat_at(oil - result.air_temperature - rise)) for rise in grid]
        most = choice["most"] * np.interp(warmer, grid, at)
        kept = reserve(state.heat, most=most)
    for limit in limits:
        kept = np.minimum(kept, reserve(state.heat, most=choice["most"] * limit))
    if not np.isfinite(kept).any() and not limits and (cooler is None or oil is None):
        return "no cooler and no limit of heat is given"
    return _settled(kept, state.heat)


def _creep(study: Study, choice: Choice, own: Sampled, present: Sampled) -> Drawn:
    shares = []
    for item in (own, present):
        line, machine = item.own.combination.driveline, item.own.combination.machine
        ratio = 1.0
        if line is not None and machine is not None:
            gear = max(line.forward, key=line.overall_ratio)
            ratio = line.overall_ratio(gear) * line.efficiency(gear) / machine.rolling_radius
        shares.append(item.creep_torque * ratio)
    share = shares[0] / shares[1]
    return _settled(reserve(share, most=choice["most"]), share)


def _start(study: Study, choice: Choice, own: Sampled, present: Sampled) -> Drawn:
    after, before = own.steepest_start(), present.steepest_start()
    if after is None or before is None:
        return "nothing at the wheels"
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(before > 0.0, after / before, np.inf)
    # Effort beyond any grade, before and after: nothing is lost.
    share = np.where(np.isinf(before) & np.isinf(after), 1.0, share)
    return np.where(np.isnan(share), -1.0, reserve(share, choice["least"]))


def _grades(study: Study, choice: Choice, own: Sampled, present: Sampled) -> Drawn:
    kept = np.full(own.size, np.inf)
    looked = False
    for grade in sorted(set(study.duty.grades) - {0.0}):
        before, after = present.on_grade(grade), own.on_grade(grade)
        if before is None:
            continue  # the present machine does not climb it, or not in balance
        if after is None:
            return f"the machine is not in balance on {100 * grade:g} %"
        looked = True
        share = np.where(np.isnan(after.speed), 0.0, after.speed) / before.speed
        # Where the present machine does not climb it there is nothing to keep.
        kept = np.minimum(kept, np.where(np.isnan(before.speed), np.inf,
                                         reserve(share, choice["least"])))  # fmt: skip
    return kept if looked else "the present machine is in balance on no grade of the duty"


def _top_speed(study: Study, choice: Choice, own: Sampled, present: Sampled | None) -> Drawn:
    after = own.on_grade(0.0)
    if after is None:
        return "the machine is not in balance at its top speed"
    least: FloatArray | float | None = study.limits.top_speed_least
    if present is not None:
        before = present.on_grade(0.0)
        if before is None:
            return "the present machine is not in balance at its top speed"
        kept = choice["least"] * np.nan_to_num(before.speed)
        least = kept if least is None else np.maximum(kept, least)
    return _settled(reserve(after.speed, least, study.limits.top_speed_most), after.speed)


_ALONE: Mapping[str, Callable[[Study, Choice, Sampled], Drawn]] = MappingProxyType(
    {
        "single-stable-match": _single,
        "stall-speed-window": _window,
        "rated-power-usable": _usable,
        "converter-input-torque": _torque,
        "converter-input-power": _power,
        "turbine-stall-torque": _turbine,
        "continuous-heat": _heat,
    }
)
_PAIRS: Mapping[str, Callable[[Study, Choice, Sampled, Sampled], Drawn]] = MappingProxyType(
    {"grade-start-kept": _start, "speed-on-grades-kept": _grades, "idle-creep": _creep}
)
