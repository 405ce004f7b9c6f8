"""A combination judged in stages, each by the criteria of a study and dearer than the one before.

A required criterion that fails ends it. What a stage looks at is what a full study looks at, by the
same functions: engine and converter alone, then the wheels, then the routes and everything else.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from converter_match.errors import InputError
from converter_match.judgement.catalogue.field import Field
from converter_match.judgement.uncertainty.inputs import drawn_inputs
from converter_match.judgement.uncertainty.judged import judged
from converter_match.judgement.verdict.assessment import Assessment, assess
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.study.catalogue import Member
from converter_match.study.study import Study

REFUSED = "refused"
"""In place of criteria, where parts cannot be calculated together; the reason stands behind it."""
_HEAT = "continuous-heat"

Fallen = list[str]
"""Required criteria that fail, by name; empty for none."""


def by_match(field: Field, members: Sequence[Member]) -> list[Fallen]:
    """Judge one engine and converter, behind different drivelines, by the match alone.

    Parameters
    ----------
    field : Field
    members : sequence of Member
        Alike but for the driveline, which the match does not depend on.
    """
    asked = field.on_match[members[0].site]
    if not asked.criteria:
        return [[] for _ in members]
    bare = asked.duty.replace(surface=None, routes=())
    try:
        known = _outcomes(field, members[0], asked.replace(duty=bare))
    except InputError as error:
        return [[REFUSED, str(error)] for _ in members]
    fallen = []
    for member in members:
        combination = field.catalogue.combination(member)
        own = tuple(_behind(item, combination.driveline, combination.id) for item in known)
        fallen.append(_fallen(assess(asked, own, field.present[member.site])))
    return fallen


def by_wheels(field: Field, member: Member) -> Fallen:
    """Judge a combination by what needs wheels and no route.

    Parameters
    ----------
    field : Field
    member : Member
    """
    asked = field.on_wheels[member.site]
    try:
        own = _outcomes(field, member, asked.replace(duty=asked.duty.replace(routes=())))
    except InputError as error:
        return [REFUSED, str(error)]
    return _fallen(assess(asked, own, field.present[member.site]))


def by_study(field: Field, member: Member) -> dict[str, Any]:
    """Judge a combination by everything that a study without tolerances looks at.

    Parameters
    ----------
    field : Field
    member : Member

    Returns
    -------
    dict
        ``fallen``, and what is shown of a combination that is kept: verdict, criteria that are not
        met, marginal or not known, and figures in SI, null where not known.
    """
    asked = field.catalogue.studies[member.site]
    try:
        own = _outcomes(field, member, asked)
    except InputError as error:
        return {"fallen": [REFUSED, str(error)]}
    found = assess(asked, own, field.present[member.site])
    return {"fallen": _fallen(found), **_shown(asked, own, found)}


def by_draws(field: Field, member: Member) -> dict[str, Any]:
    """Draw a combination within the tolerances, as a study of it alone would.

    Parameters
    ----------
    field : Field
    member : Member

    Returns
    -------
    dict
        ``probability`` that every required criterion holds in the same draw, null where one is not
        known; ``odds`` of each criterion by name.
    """
    study = field.catalogue.study_of(member)
    own = _outcomes(field, member, study)
    present = field.present[member.site]
    outcomes = [own] if present is None else [present, own]
    inputs = drawn_inputs(study, field.draws, field.seed)
    drawn = judged(study, inputs, field.draws, outcomes, seed=field.seed)
    row = len(outcomes) - 1
    odds = {item.name: item.probability for item in drawn.odds[row]}
    return {"probability": drawn.all_musts(row), "odds": odds}


def _outcomes(field: Field, member: Member, asked: Study) -> tuple[Outcome, ...]:
    combination = field.catalogue.combination(member)
    return tuple(outcome(combination, item, asked.duty) for item in asked.conditions)


def _behind(item: Outcome, driveline: Any, name: str) -> Outcome:
    """Return the outcome of a match alone behind another driveline."""
    combination = item.combination.replace(driveline=driveline, id=name)
    others = tuple(
        replace(one, combination=one.combination.replace(driveline=driveline, id=name))
        for one in item.alternatives
    )
    return replace(item, combination=combination, alternatives=others)


def _fallen(found: Assessment) -> Fallen:
    return [item.choice.name for item in found.failed_musts]


def _shown(asked: Study, own: Sequence[Outcome], found: Assessment) -> dict[str, Any]:
    stall = own[0].match.stall
    times, fuels, works = (list(column) for column in zip(*map(_on_routes, own), strict=True))
    heat = found.finding(_HEAT)
    reserve = None if heat is None or heat.missing else heat.worst.measure.reserve
    return {
        "verdict": str(found.verdict),
        "not_met": [item.choice.name for item in found.failed_shoulds],
        "marginal": [item.choice.name for item in found.marginal],
        "unknown": [item.choice.name for item in found.unknown],
        "missing": list(found.missing),
        "stall_speed": None if stall is None or own[0].missing else stall.engine_speed,
        "route_time": _worst(times),
        "fuel": _worst(fuels),
        "energy": _worst(works),
        "heat_margin": None if reserve is None or not np.isfinite(reserve) else reserve,
    }


def _on_routes(item: Outcome) -> tuple[float | None, float | None, float | None]:
    """Return time [s], fuel [kg] and engine work [J] for all routes; None where one is not run."""
    runs = [run for run in item.routes if run is not None and run.standstill is None]
    if not item.routes or len(runs) < len(item.routes) or item.missing:
        return None, None, None
    fuels = [run.fuel for run in runs]
    known = [fuel for fuel in fuels if fuel is not None]
    return (
        float(sum(run.time for run in runs)),
        float(sum(known)) if len(known) == len(fuels) else None,
        float(sum(float(run.totals.ledger.engine[0]) for run in runs)),
    )


def _worst(values: Sequence[float | None]) -> float | None:
    """Return the greatest over the conditions; None where one is not known."""
    known = [value for value in values if value is not None]
    return max(known) if known and len(known) == len(values) else None


def pairs(members: Sequence[Member]) -> Iterator[tuple[Member, ...]]:
    """Yield members that are alike but for the driveline together, in order."""
    together: list[Member] = []
    for member in members:
        if together and together[-1][:3] != member[:3]:
            yield tuple(together)
            together = []
        together.append(member)
    if together:
        yield tuple(together)
