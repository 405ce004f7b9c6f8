"""Criteria that are settled at the wheels and on the routes."""

from __future__ import annotations

import numpy as np

from converter_match.judgement.verdict.measure import Measure, Verdict, missing
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.study.criteria import Choice
from converter_match.study.study import Study

_SPEEDS = 400


def tractive_effort_kept(study: Study, choice: Choice, own: Outcome, present: Outcome) -> Measure:
    """Return the least share of the present effort at any road speed."""
    lacking = _lacking(own, present)
    if lacking:
        return missing(*lacking)
    assert own.tractive is not None
    assert present.tractive is not None
    top = present.tractive.top_speed.speed
    if top is None:
        return _present_cannot("move on the level")
    speed, before, after = effort_pair(own.tractive, present.tractive, choice["up_to"] * top)
    share = np.where(np.isnan(after), 0.0, after) / before
    known = np.isfinite(share)
    if not known.any():
        return _present_cannot("pull")
    row = int(np.flatnonzero(known)[np.argmin(share[known])])
    return Measure(
        value=float(share[row]),
        dimension="ratio",
        least=choice["least"],
        words="{value} of the present effort where it is least, at {speed}",
        speed=float(speed[row]),
    )


def effort_pair(
    own: TractiveResult, present: TractiveResult, top: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return road speeds [m/s] up to `top`, and the present and the new effort there [N].

    What the ground does not take is not counted. NaN where no gear pulls.
    """
    speed = np.linspace(0.0, top, _SPEEDS)

    def at(result: TractiveResult) -> np.ndarray:
        cover = result.envelope
        return np.interp(speed, cover.speed, cover.force, right=np.nan)

    return speed, at(present), at(own)


def grade_start_kept(study: Study, choice: Choice, own: Outcome, present: Outcome) -> Measure:
    """Return the steepest grade to start on as a share of the present one."""
    lacking = _lacking(own, present)
    if lacking:
        return missing(*lacking)
    grades = []
    for item in (present, own):
        assert item.tractive is not None
        row = item.tractive.steepest_start
        grades.append(0.0 if row is None or row.steepest_start is None else row.steepest_start)
    if grades[0] <= 0.0:
        return _present_cannot("start on any grade")
    return Measure(
        value=grades[1] / grades[0],
        dimension="ratio",
        least=choice["least"],
        words=f"{{value}} of the present grade: starts on {100 * grades[1]:.0f} %, before "
        f"{100 * grades[0]:.0f} %",
    )


def speed_on_grades_kept(study: Study, choice: Choice, own: Outcome, present: Outcome) -> Measure:
    """Return the least share of the present speed on any grade of the duty."""
    lacking = _lacking(own, present)
    if lacking:
        return missing(*lacking)
    shares: list[tuple[float, float]] = []
    for grade in sorted(set(study.duty.grades) - {0.0}):
        before, after = speed_on(present, grade), speed_on(own, grade)
        if before is not None:
            shares.append(((after or 0.0) / before, grade))
    if not shares:
        return _present_cannot("climb any grade of the duty")
    share, grade = min(shares)
    climbs = "" if share else ", which it does not climb"
    return Measure(
        value=share,
        dimension="ratio",
        least=choice["least"],
        words=f"{{value}} of the present speed where it is least, on {100 * grade:g} %{climbs}",
    )


def speed_on(item: Outcome, grade: float) -> float | None:
    """Return the fastest speed on a grade that was looked at [m/s]; None where it does not move."""
    assert item.tractive is not None
    return next(row.speed for row in item.tractive.grades if row.grade == grade)


def top_speed_kept(study: Study, choice: Choice, own: Outcome, present: Outcome | None) -> Measure:
    """Compare the top speed with the present one and with the study's limits."""
    lacking = _lacking(own, *([] if present is None else [present]))
    if lacking:
        return missing(*lacking)
    assert own.tractive is not None
    least = study.limits.top_speed_least
    if present is not None:
        assert present.tractive is not None
        before = choice["least"] * (present.tractive.top_speed.speed or 0.0)
        least = before if least is None else max(before, least)
    return Measure(
        value=own.tractive.top_speed.speed or 0.0,
        dimension="velocity",
        least=least,
        most=study.limits.top_speed_most,
        words="top speed {value}",
    )


def continuous_heat(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare the heat on the continuous grade with what the cooler carries away."""
    grade = study.duty.continuous_grade
    lacking = list(own.missing_at_wheels)
    if grade is None:
        lacking.append("the grade to be climbed without end (duty.continuous_grade)")
    capacity = None if own.tractive is None else own.tractive.cooler_capacity
    limits = [limit for limit in (capacity, study.limits.heat) if limit is not None]
    if own.tractive is not None and not limits:
        machine = own.tractive.machine
        if machine.cooler is None:
            lacking.append(f"cooler of the machine {machine.id!r} (or limits.heat)")
        if machine.oil.temperature_limit is None:
            lacking.append(f"oil temperature limit of the machine {machine.id!r}")
    if lacking:
        return missing(*lacking)
    assert own.tractive is not None
    assert grade is not None
    row = next(row for row in own.tractive.grades if row.grade == grade)
    if row.speed is None:
        return Measure(
            value=0.0,
            dimension="power",
            verdict=Verdict.FAIL,
            words=f"it does not climb {100 * grade:g} %: {row.limited_by}",
        )
    if row.heat is None:
        return missing(f"heat at part throttle (the speed limiter holds it on {100 * grade:g} %)")
    most = choice["most"] * min(limits)
    measure = Measure(
        value=row.heat,
        dimension="power",
        most=most,
        words=f"{{value}} into the oil on {100 * grade:g} % in gear {row.gear}",
    )
    slower = [
        gear.gear
        for gear in own.tractive.gears
        if gear.direction == "forward"
        and gear.steepest_cooled is not None
        and gear.steepest_cooled >= grade
    ]
    if row.heat > most and slower and most >= choice["most"] * (capacity or np.inf):
        return Measure(
            value=row.heat,
            dimension="power",
            most=most,
            verdict=Verdict.MARGINAL,
            words=f"{measure.words}, its fastest; cool only in gear {' or '.join(slower)}",
        )
    return measure


def idle_creep(study: Study, choice: Choice, own: Outcome, present: Outcome) -> Measure:
    """Compare the push at idle in the lowest gear; turbine torque where there are no wheels."""
    held = []
    for whose, item in (("today's engine", present), ("the engine", own)):
        if item.match.idle is None:
            held.append(f"a match at idle: {whose} cannot hold the converter in gear there")
    if held:
        return missing(*held)
    both = [creep_effort(item) for item in (present, own)]
    if None in both:
        both = [item.match.idle.turbine_torque if item.match.idle else None
                for item in (present, own)]  # fmt: skip
    assert both[0] is not None
    assert both[1] is not None
    return Measure(
        value=both[1] / both[0],
        dimension="ratio",
        most=choice["most"],
        words="{value} of the present push in gear at low idle",
    )


def creep_effort(item: Outcome) -> float | None:
    """Return the push at the wheels at low idle in the lowest forward gear [N]."""
    line, machine, idle = item.combination.driveline, item.combination.machine, item.match.idle
    if line is None or machine is None or idle is None:
        return None
    gear = max(line.forward, key=line.overall_ratio)
    ratio = line.overall_ratio(gear) * line.efficiency(gear)
    return idle.turbine_torque * ratio / machine.rolling_radius


def oil_temperature(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare the hottest oil on any route with the lowest oil temperature limit."""
    lacking = [why for why in own.missing_on_routes if why]
    machine = own.combination.machine
    limits = [own.match.converter.limits.oil_temperature, study.limits.oil_temperature]
    limits += [None if machine is None else machine.oil.temperature_limit]
    known = [limit for limit in limits if limit is not None]
    if not known:
        lacking.append("oil temperature limit of converter, machine or study")
    hottest = []
    for run in own.routes:
        if run is None:
            continue
        if run.totals.hottest is None:
            lacking.append(f"cooler and oil of the machine {run.hauler.machine.id!r}")
        else:
            hottest.append((float(run.totals.hottest[0]), run.route.name))
    if lacking:
        return missing(*dict.fromkeys(lacking))
    value, name = max(hottest)
    return Measure(
        value=value,
        dimension="temperature",
        most=min(known),
        absolute=True,
        words=f"oil up to {{value}} on {name}",
    )


def route_time_kept(study: Study, choice: Choice, own: Outcome, present: Outcome) -> Measure:
    """Return the greatest share of the present time for any route."""
    return _on_routes(choice, own, present, "time")


def fuel_kept(study: Study, choice: Choice, own: Outcome, present: Outcome) -> Measure:
    """Return the greatest share of the present fuel for any route."""
    return _on_routes(choice, own, present, "fuel")


def _on_routes(choice: Choice, own: Outcome, present: Outcome, what: str) -> Measure:
    lacking = [why for item in (present, own) for why in item.missing_on_routes if why]
    shares: list[tuple[float, str]] = []
    neither = []
    for before, after in zip(present.routes, own.routes, strict=True):
        if before is None or after is None:
            continue
        name = after.route.name
        if after.standstill is not None and before.standstill is None:
            return Measure(
                value=0.0,
                dimension="ratio",
                verdict=Verdict.FAIL,
                words=f"it does not get round {name}: it stands in segment "
                f"{after.standstill.segment}",
            )
        if before.standstill is not None:
            neither.append(name)  # nothing to keep
            continue
        values = [getattr(run, what) for run in (before, after)]
        for run, value in zip((before, after), values, strict=True):
            if value is None:
                lacking.append(f"fuel data of the engine {run.match.engine.id!r}")
        if None not in values:
            shares.append((values[1] / values[0], name))
    if lacking:
        return missing(*dict.fromkeys(lacking))
    if not shares:
        return _present_cannot("get round any route")
    share, name = max(shares)
    return Measure(
        value=share,
        dimension="ratio",
        most=choice["most"],
        words=f"{{value}} of the present {what} on {name}"
        + "".join(f"; not on {other}, which today's does not get round" for other in neither),
    )


def _lacking(*items: Outcome) -> tuple[str, ...]:
    return tuple(dict.fromkeys(why for item in items for why in item.missing_at_wheels))


def _present_cannot(what: str) -> Measure:
    return Measure(
        value=1.0,
        dimension="ratio",
        verdict=Verdict.PASS,
        words=f"the present machine does not {what} here: nothing to keep",
    )
