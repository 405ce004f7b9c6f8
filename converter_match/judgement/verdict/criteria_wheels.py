"""Criteria that are settled at the wheels and on the routes, on draws."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.verdict.measure import (
    Measures,
    figure_value,
    holds,
    missing,
    reserve,
)
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.reach import Reach
from converter_match.judgement.verdict.view import (
    Criterion,
    Nominal,
    View,
    gears_cooled_on,
    grade_row,
)
from converter_match.judgement.verdict.words import FOUND, grade_words
from converter_match.judgement.verdict.words import missing as lacking
from converter_match.notes import Note, Value
from converter_match.study.criteria import Choice
from converter_match.study.study import Study

_SPEEDS = 400
# Draws are looked at on every eighth of these speeds, and where the data as they stand are worst.
_EVERY = 8


def tractive_effort_kept(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Return the least share of the present effort at any road speed.

    The speeds are those of the present machine as the data say, for every draw.
    """
    assert present is not None
    absent = _absent(own, present)
    if absent:
        return missing(*absent)
    assert present.outcome.tractive is not None
    top = present.outcome.tractive.top_speed.speed
    if top is None:
        return _nothing_to_keep(own, "move on the level")
    speed = np.linspace(0.0, choice["up_to"] * top, _SPEEDS)
    certain, undecided = _effort_band(own, present, speed, choice["least"])
    if undecided:
        return missing(*undecided)
    known = np.flatnonzero(np.isfinite(certain))
    if not known.size:
        return _nothing_to_keep(own, "pull")
    worst = known[np.argmin(certain[known])]
    value = np.array([certain[worst]])
    if own.size > 1:
        rows = np.union1d(known[::_EVERY], [worst])
        value = np.min(_effort_share(own, present, speed[rows]), axis=0)
    said = FOUND.note("effort-share", share=float(value[0]), speed=float(speed[worst]))
    return Measures(value=value, dimension="ratio", least=choice["least"], said=said)


def _effort_band(
    own: View, present: View, speed: FloatArray, least: float
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the share of effort that is certain at each speed, and what leaves it undecided.

    Undecided: the share asked for is not certain, and not excluded, because a sheet ends.
    """
    low, high = [], []
    for item in (own, present):
        known = Nominal(item.outcome).effort(speed)[:, 0]
        least_effort, greatest = item.reach.effort(speed, known)
        low.append(least_effort)
        high.append(greatest)
    with np.errstate(divide="ignore", invalid="ignore"):
        certain, possible = low[0] / high[1], high[0] / low[1]
    # Where the present machine has no effort there is nothing to keep.
    certain[high[1] <= 0.0], possible[high[1] <= 0.0] = np.nan, np.nan
    if np.nanmin(certain, initial=np.inf) >= least or np.nanmin(possible, initial=np.inf) < least:
        # A failure is told by the speeds at which it is certain.
        open_at = (certain < least) & (possible >= least)
        return np.where(open_at, np.nan, np.where(certain < least, possible, certain)), ()
    open_at = (certain < least) & (possible >= least)
    sides = [item for k, item in enumerate((own, present)) if np.any(open_at & (low[k] < high[k]))]
    return certain, tuple(dict.fromkeys(why for item in sides for why in item.reach.sheet_end))


def _effort_share(own: View, present: View, speed: FloatArray) -> FloatArray:
    """Return effort over present effort at road speeds.

    A speed that is not reached has none; NaN where it is a sheet that does not reach.
    """
    after = own.effort(speed)
    if not own.reach.ends:
        after = np.nan_to_num(after)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(after / present.effort(speed))


def grade_start_kept(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Return the steepest grade to start on as a share of the present one."""
    assert present is not None
    absent = _absent(own, present, ranges=lambda reach: reach.at_stall)
    if absent:
        return missing(*absent)
    if not Nominal(present.outcome).steepest_start[0] > 0.0:
        return _nothing_to_keep(own, "start on any grade")
    after, before = (np.fmax(item.steepest_start, 0.0) for item in (own, present))
    none = before <= 0.0
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(none, 1.0, after / before)
    # Effort beyond any grade, before and after: nothing is lost.
    share = np.where(np.isinf(before) & np.isinf(after), 1.0, share)
    return Measures(
        value=share,
        dimension="ratio",
        least=choice["least"],
        said=_start_said(float(share[0]), float(after[0]), float(before[0])),
        passes=none,
    )


def _start_said(share: float, own: float, present: float) -> Note:
    said = {"own": figure_value(own, "grade"), "present": figure_value(present, "grade")}
    if np.isinf(share):
        return FOUND.note("grade-start-any", present=said["present"])
    return FOUND.note("grade-start-share", share=figure_value(share, "ratio"), **said)


def speed_on_grades_kept(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Return the least share of the present speed on any grade of the duty."""
    assert present is not None
    absent = _absent(own, present)
    if absent:
        return missing(*absent)
    grades = sorted(set(study.duty.grades) - {0.0})
    climbed = [grade for grade in grades if speed_on(present.outcome, grade) is not None]
    if not climbed:
        return _nothing_to_keep(own, "climb any grade of the duty")
    before = np.stack([present.speed_on(grade) for grade in climbed])
    after = np.nan_to_num(np.stack([own.speed_on(grade) for grade in climbed]))
    # Where a draw of the present machine does not climb it there is nothing to keep.
    shares = np.where(np.isnan(before), np.inf, after / before)
    room, room_before = (
        np.array([[_headroom(item, grade)] for grade in climbed]) for item in (own, present)
    )
    kept, lost = shares / room_before >= choice["least"], shares * room < choice["least"]
    unknown = ~kept.all(axis=0) & ~lost.any(axis=0)
    if unknown[0]:
        return missing(*_sheet_ends((own, room), (present, room_before)))
    share = np.min(shares, axis=0)
    at = climbed[int(np.argmin(shares[:, 0]))]
    said = FOUND.note(
        "grade-speed-share" if share[0] else "grade-not-climbed",
        share=float(share[0]),
        grade=grade_words(at),
    )
    return Measures(
        value=share, dimension="ratio", least=choice["least"], said=said, unknown=unknown
    )


def speed_on(item: Outcome, grade: float) -> float | None:
    """Return the fastest speed on a grade that was looked at [m/s]; None where it does not move."""
    return grade_row(item, grade).speed


def _headroom(item: View, grade: float) -> float:
    """Return how many times faster a machine may be on a grade than its sheet shows; 1 for not."""
    known = speed_on(item.outcome, grade)
    return item.reach.fastest(grade, known) / known if known else 1.0


def _sheet_ends(*sides: tuple[View, FloatArray | float]) -> tuple[str, ...]:
    """Return what is missing of those machines that may be faster than their sheets show."""
    named = (item.reach.sheet_end for item, room in sides if np.any(np.asarray(room) > 1.0))
    return tuple(dict.fromkeys(why for names in named for why in names))


def top_speed_kept(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the top speed with the present one and with the study's limits."""
    sides = [own] if present is None else [own, present]
    absent = _absent(*sides)
    if absent:
        return missing(*absent)
    value, limits, room = np.nan_to_num(own.speed_on(0.0)), study.limits, _headroom(own, 0.0)
    least: FloatArray | float | None = limits.top_speed_least
    surely = least
    room_before = 1.0
    if present is not None:
        before = choice["least"] * np.nan_to_num(present.speed_on(0.0))
        room_before = _headroom(present, 0.0)
        surely = np.maximum(room_before * before, least or 0.0)
        least = before if least is None else np.maximum(before, least)
    most = limits.top_speed_most
    kept = holds(reserve(value, surely)) & holds(reserve(room * value, None, most))
    lost = ~holds(reserve(room * value, least)) | ~holds(reserve(value, None, most))
    unknown = ~kept & ~lost
    if unknown[0]:
        return missing(*_sheet_ends((own, room), (present or own, room_before)))
    return Measures(
        value=value,
        dimension="velocity",
        least=least,
        most=most,
        said=FOUND.note("top-speed", speed=float(value[0])),
        unknown=unknown,
    )


def continuous_heat(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the heat on the continuous grade with what the cooler carries away."""
    grade, wheels = study.duty.continuous_grade, own.outcome.tractive
    absent = list(own.outcome.missing_at_wheels)
    if grade is None:
        absent.append(lacking("continuous-grade"))
    capacity = own.cooler_capacity
    if wheels is not None and capacity is None and study.limits.heat is None:
        if wheels.machine.cooler is None:
            absent.append(lacking("cooler", id=wheels.machine.id))
        if wheels.machine.oil.temperature_limit is None:
            absent.append(lacking("machine-oil-limit", id=wheels.machine.id))
    if grade is None or absent:
        return missing(*absent)
    row, words = grade_row(own.outcome, grade), grade_words(grade)
    reach = own.reach
    absent += reach.at_wheels
    if row.speed is not None and reach.fastest(grade, row.speed) > row.speed:
        absent += reach.sheet_end
    if absent:
        return missing(*dict.fromkeys(absent))
    if row.speed is not None and row.heat is None:
        return missing(lacking("part-throttle-heat", grade=words))
    limits = [limit for limit in (capacity, study.limits.heat) if limit is not None]
    most = choice["most"] * np.min(np.broadcast_arrays(*limits, np.full(own.size, np.inf)), axis=0)
    value, stands = own.heat_on(grade), np.isnan(own.speed_on(grade))
    hot = np.zeros(own.size, dtype=bool) if capacity is None else value > most
    cool = hot & False
    if capacity is not None and hot.any():
        # A lower gear helps where the cooler, not a limit of the study, is what it exceeds.
        cool = hot & (most >= choice["most"] * capacity) & own.cooled_on(grade)
    said = FOUND.note("heat-grade-not-climbed", grade=words, limited_by=row.limited_by)
    if row.gear is not None and row.heat is not None:
        about: dict[str, Value] = {"heat": float(value[0]), "grade": words, "gear": row.gear}
        said = FOUND.note("heat-on-grade", **about)
        if cool[0]:
            gears = " or ".join(gears_cooled_on(own.outcome, grade))
            said = FOUND.note("heat-cool-in-lower-gear", **about, slower=gears)
    return Measures(
        value=np.where(stands, 0.0, value),
        dimension="power",
        most=most,
        said=said,
        marginal=cool,
        fails=stands,
    )


def idle_creep(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the creep effort in the lowest gear; turbine torque where there are no wheels."""
    assert present is not None
    held = [
        why
        for whose, item in (("the present engine", present), ("the engine", own))
        for why in item.reach.at_idle
        or ([] if item.outcome.match.idle else [lacking("idle-match", whose=whose)])
    ]
    if held:
        return missing(*held)
    levers = [_creep_lever(item.outcome) for item in (own, present)]
    lever = 1.0 if levers[0] is None or levers[1] is None else levers[0] / levers[1]
    share = own.idle_torque / present.idle_torque * lever
    return Measures(
        value=share,
        dimension="ratio",
        most=choice["most"],
        said=FOUND.note("creep-share", share=float(share[0])),
    )


def creep_effort(item: Outcome) -> float | None:
    """Return the effort at the wheels at low idle in the lowest forward gear [N]."""
    lever, idle = _creep_lever(item), item.match.idle
    return None if lever is None or idle is None else idle.turbine_torque * lever


def _creep_lever(item: Outcome) -> float | None:
    """Return effort over turbine torque in the lowest forward gear [1/m]; None without wheels."""
    line, machine = item.combination.driveline, item.combination.machine
    if line is None or machine is None:
        return None
    gear = max(line.forward, key=line.overall_ratio)
    return line.overall_ratio(gear) * line.efficiency(gear) / machine.rolling_radius


def oil_temperature(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the maximum oil temperature on any route with the lowest oil temperature limit."""
    outcome = own.outcome
    absent = [why for why in outcome.missing_on_routes if why]
    absent += own.reach.everywhere
    machine = outcome.combination.machine
    limits = [outcome.match.converter.limits.oil_temperature, study.limits.oil_temperature]
    limits += [None if machine is None else machine.oil.temperature_limit]
    known = [limit for limit in limits if limit is not None]
    if not known:
        absent.append(lacking("oil-limit"))
    runs = [run for run in outcome.routes if run is not None]
    absent += [
        lacking("cooler-and-oil", id=run.hauler.machine.id)
        for run in runs
        if run.totals.hottest is None
    ]
    if absent:
        return missing(*dict.fromkeys(absent))
    hottest = own.hottest_oil
    value = np.max(hottest, axis=0)
    name = runs[int(np.argmax(hottest[:, 0]))].route.name
    return Measures(
        value=value,
        dimension="temperature",
        most=min(known),
        absolute=True,
        said=FOUND.note("hottest-oil", oil=float(value[0]), route=name),
    )


def route_time_kept(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Return the greatest share of the present time for any route."""
    assert present is not None
    return _on_routes(study, choice, own, present, "time")


def fuel_kept(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Return the greatest share of the present fuel for any route."""
    assert present is not None
    return _on_routes(study, choice, own, present, "fuel")


def _on_routes(study: Study, choice: Choice, own: View, present: View, what: str) -> Measures:
    both = present.outcome, own.outcome
    absent = [why for item in both for why in item.missing_on_routes if why]
    unread = [why for item in (present, own) for why in item.reach.everywhere]
    if what == "fuel":
        unread += [why for item in (present, own) for why in item.reach.fuel]
    if unread:
        return missing(*dict.fromkeys((*absent, *unread)))
    neither, stopped = [], None
    for before, after in zip(*(item.routes for item in both), strict=True):
        if before is None or after is None:
            continue
        if before.standstill is not None:
            neither.append(after.route.name)  # nothing to keep
            continue
        if after.standstill is not None:
            stopped = stopped or after
            continue
        if what == "fuel":
            absent += [
                lacking("fuel", id=run.match.engine.id)
                for run in (before, after)
                if run.fuel is None
            ]
    if absent and stopped is None:
        return missing(*dict.fromkeys(absent))
    if stopped is None and not Nominal(present.outcome).completes.any():
        return _nothing_to_keep(own, "complete any route")
    compared = present.completes
    fails = np.any(compared & ~own.completes, axis=0)
    with np.errstate(invalid="ignore"):
        shares = (own.route_fuel / present.route_fuel if what == "fuel"
                  else own.route_time / present.route_time)  # fmt: skip
    shares = np.where(compared & own.completes, shares, -np.inf)
    value = np.max(shares, axis=0)
    route = study.duty.routes[int(np.argmax(shares[:, 0]))].name
    about: dict[str, Value] = {"share": float(value[0]), "what": what, "route": route}
    said = FOUND.note("route-share", **about)
    if neither:
        said = FOUND.note("route-share-not-all", **about, others=", ".join(neither))
    if stopped is not None and stopped.standstill is not None:
        segment = str(stopped.standstill.segment)
        said = FOUND.note("does-not-complete-route", route=stopped.route.name, segment=segment)
    return Measures(
        value=np.where(fails, 0.0, value),
        dimension="ratio",
        most=choice["most"],
        said=said,
        passes=np.asarray(~compared.any(axis=0)),
        fails=fails,
    )


CRITERIA: Mapping[str, Criterion] = MappingProxyType(
    {
        "tractive-effort-kept": tractive_effort_kept,
        "grade-start-kept": grade_start_kept,
        "speed-on-grades-kept": speed_on_grades_kept,
        "top-speed-kept": top_speed_kept,
        "continuous-heat": continuous_heat,
        "oil-temperature": oil_temperature,
        "route-time-kept": route_time_kept,
        "fuel-kept": fuel_kept,
        "idle-creep": idle_creep,
    }
)


def _absent(
    *items: View, ranges: Callable[[Reach], tuple[str, ...]] = lambda reach: reach.at_wheels
) -> tuple[str, ...]:
    """Return why there is nothing at the wheels, and which ranges of the data are missing there."""
    return tuple(
        dict.fromkeys(
            why for item in items for why in (*item.outcome.missing_at_wheels, *ranges(item.reach))
        )
    )


def _nothing_to_keep(own: View, what: str) -> Measures:
    return Measures(
        value=np.ones(own.size),
        dimension="ratio",
        said=FOUND.note("nothing-to-keep", what=what),
        passes=np.ones(own.size, dtype=bool),
    )
