"""How sure a study is: what its tolerances do to figures and verdicts, and what to measure first.

All combinations and conditions are drawn together: draw k means the same mass and the same air, and
each physical part is the same wherever it stands (`inputs`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.uncertainty import DRAWS, words
from converter_match.judgement.uncertainty.inputs import DrawnInput, drawn_inputs
from converter_match.judgement.uncertainty.judged import (
    Judged,
    at_work,
    judged,
    work_errors,
)
from converter_match.judgement.uncertainty.notes import input_notes
from converter_match.judgement.uncertainty.result import (
    AT_WHEELS,
    FIGURES,
    CombinationDraws,
    CriterionOdds,
    DrawnFigure,
    MeasureFirst,
    UncertaintyResult,
    interval,
)
from converter_match.judgement.uncertainty.routes import DRIVEN
from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.uncertainty.sensitivity import (
    Sensitivity,
    first_order_from_draws,
    sensitivity,
)
from converter_match.judgement.verdict.assessment import not_applied
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.notes import Note
from converter_match.study.study import PRESENT, Combination, Condition, Duty, Study
from converter_match.tasks.sweep import Progress

_SOBOL_BASE = 1024


def uncertainty(
    study: Study,
    outcomes: Sequence[tuple[Outcome, ...]] | None = None,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    sensitivities: bool = True,
    progress: Progress | None = None,
) -> UncertaintyResult:
    """Draw the inputs of a study within their tolerances and judge every draw.

    Parameters
    ----------
    study : Study
        With its tolerances and correlations.
    outcomes : sequence of tuple of Outcome, optional
        One tuple for each combination, as a study run has them; worked out without.
    draws : int
        2 to 10 million.
    seed : int
        The same seed gives the same draws.
    sensitivities : bool
        Whether to rank what the figures depend on as well.
    progress : callable, optional
        Called with (done, of how many, what).

    Returns
    -------
    UncertaintyResult

    Raises
    ------
    InputError
        If the study has no tolerances, or correlations that no numbers can have.
    """
    if not study.tolerances:
        raise InputError(
            "nothing to draw: the study gives no tolerances",
            source=study.id,
            field="tolerance",
            expected="at least one [[tolerance]]",
        )
    inputs = drawn_inputs(study, draws, seed)
    found = judged(study, inputs, draws, outcomes, seed=seed, progress=progress)
    return result_of(found, seed=seed, sensitivities=sensitivities)


def result_of(found: Judged, *, seed: int = 0, sensitivities: bool = True) -> UncertaintyResult:
    """Return what draws come to that have been judged.

    Parameters
    ----------
    found : Judged
    seed : int
        Of the draws.
    sensitivities : bool
        Whether to rank what the figures depend on as well.
    """
    study, inputs = found.study, found.inputs
    own = {k.id: [one for one in inputs if k.id in one.combinations] for k in study.combinations}
    at_wheels = any(item.outcome.tractive is not None for row in found.sampled for item in row)
    rows = []
    for k, combination in enumerate(study.combinations):
        mine, sampled, odds = own[combination.id], found.sampled[k], found.odds[k]
        figures = [one for item in sampled for one in _figures(item, at_wheels=at_wheels)]
        with_present = study.present is not None
        others = [one for one in own[PRESENT] if one not in mine] if with_present else []
        rows.append(
            CombinationDraws(
                combination=combination.id,
                name=combination.name,
                figures=tuple(figures),
                criteria=odds,
                all_musts=found.all_musts(k),
                sensitivities=_ranked(sampled[0], mine, seed) if sensitivities else (),
                measure_first=_measure_first(odds, found.reserves[k], mine, others),
            )
        )
    return UncertaintyResult(
        study=study.id,
        draws=found.size,
        seed=seed,
        tolerances=study.tolerances,
        combinations=tuple(rows),
        notes=(*input_notes(study, inputs), *_notes(study, found.sampled)),
    )


def drawn(
    study: Study,
    item: Combination,
    condition: Condition,
    duty: Duty,
    *,
    draws: int = DRAWS,
    seed: int = 0,
) -> Sampled:
    """Return the draws of one combination of a study, the same as in `uncertainty`.

    Parameters
    ----------
    study : Study
        With its tolerances and correlations.
    item : Combination
        By its id one of the study; it may be in fewer gears.
    condition : Condition
        Any; it need not be one of the study.
    duty : Duty
        Ground, load and grades to be looked at.
    draws, seed : int

    Raises
    ------
    InputError
        As `uncertainty`.
    """
    inputs, work = drawn_inputs(study, draws, seed), work_errors(study, draws, seed)
    deviations = at_work(inputs, work, item.id)
    return Sampled(outcome(item, condition, duty), deviations, draws)


def _figures(item: Sampled, *, at_wheels: bool) -> list[DrawnFigure]:
    """Return the intervals of every figure in one condition, without answer where it has none.

    A figure at the wheels is left out where no machine of the study has wheels.
    """
    figures = []
    for name, (title, dimension, read) in FIGURES.items():
        values = None if item.outcome.missing else read(item)
        if values is not None or at_wheels or name not in AT_WHEELS:
            values = np.full(item.size, np.nan) if values is None else values
            condition = item.outcome.condition.name
            figures.append(interval(name, title, dimension, condition, values))
    return figures


def _measure_first(
    odds: Sequence[CriterionOdds],
    reserves: Mapping[str, FloatArray],
    own: Sequence[DrawnInput],
    present: Sequence[DrawnInput],
) -> tuple[MeasureFirst, ...]:
    """Rank inputs by the doubt about verdicts that knowing them would take away.

    The doubt about a criterion is p (1 - p), counted twice for a must; an input is credited with
    its first-order share of the criterion's reserve. Inputs of the present machine count as well:
    criteria compare with it.
    """
    inputs = [*own, *present]
    units = np.stack([item.units for item in inputs], axis=1) if inputs else np.empty((0, 0))
    credit = np.zeros(len(inputs))
    doubts: dict[str, float] = {}
    for item in odds:
        if item.probability is None or item.name not in reserves:
            continue
        doubt = item.probability * (1.0 - item.probability)
        if doubt <= 0.0:
            continue
        doubt *= 2.0 if item.weight == "must" else 1.0
        doubts[item.title] = doubt
        kept = reserves[item.name]
        finite = np.isfinite(kept)
        credit += doubt * np.maximum(first_order_from_draws(units[finite], kept[finite]), 0.0)
    if not doubts or not credit.any():
        return ()
    order = np.argsort(-credit, kind="stable").tolist()
    about = ", ".join(sorted(doubts, key=lambda name: -doubts[name])[:3])
    return tuple(
        MeasureFirst(
            quantity=inputs[k].quantity,
            of=PRESENT if k >= len(own) else "",
            share=float(credit[k] / credit.sum()),
            about=about,
        )
        for k in order
        if credit[k] > 0.0
    )


def _ranked(
    item: Sampled, inputs: Sequence[DrawnInput], seed: int
) -> tuple[tuple[str, Sensitivity], ...]:
    """Return the sensitivities of each figure in the first condition."""
    names = [one.quantity for one in inputs]
    chosen = [one.uncertain for one in inputs]
    columns = [item.deviations[name] for name in names]
    values = np.stack(columns, axis=1) if columns else np.empty((item.size, 0))
    known: dict[bytes, Sampled] = {}  # every figure asks for the same draws
    ranking = []
    for name, (_, _, read) in FIGURES.items():
        answers = None if item.outcome.missing else read(item)
        if answers is None:
            continue

        def model(u: FloatArray, read: Callable[[Sampled], Any] = read) -> FloatArray:
            if u.tobytes() not in known:
                drawn = {one.name: one.from_unit(u[:, k]) for k, one in enumerate(chosen)}
                known[u.tobytes()] = Sampled(item.outcome, drawn, u.shape[0])
            answer: FloatArray = read(known[u.tobytes()])
            return answer

        shares = sensitivity(
            names,
            [one.deviation for one in chosen],
            [one.half_width for one in chosen],
            values,
            answers,
            model,
            draws=_SOBOL_BASE,
            seed=seed,
        )
        ranking.append((name, shares))
    return tuple(ranking)


def _notes(study: Study, sampled: Sequence[Sequence[Sampled]]) -> tuple[Note, ...]:
    given = {item.quantity for item in study.tolerances}
    codes = ["pumps-drawn-apart" if "pumps" in given else "loads-scaled-together"]
    if any(item.quantity == "torque-ratio" for item in study.tolerances):
        codes.append("torque-ratio-fades")
    if study.correlations:
        codes.append("shares-as-independent")
    if any(item.outcome.tractive is not None for row in sampled for item in row):
        codes.append("effort-by-response")
    notes = [words.NOTES.note(code) for code in codes]
    if any(item.spec.on_routes and not not_applied(study, item) for item in study.criteria):
        count = float(min(DRIVEN, sampled[0][0].size))
        doubt = max(item.route_doubt for row in sampled for item in row)
        notes.append(words.NOTES.note("routes-by-driven-draws", count=count, doubt=doubt))
    for item in (item for row in sampled for item in row):
        several = float(np.mean(item.stall_matches > 1))
        if several > 0.0:
            notes.append(
                words.NOTES.note(
                    "stall-speed-may-jump",
                    name=item.outcome.combination.name,
                    condition=item.outcome.condition.name,
                    several=several,
                    interval=words.SPANS_THE_JUMP if _spans_the_jump(item) else words.ONE_SIDE,
                )
            )
        notes += item.notes
    return tuple(dict.fromkeys(notes))


def _spans_the_jump(item: Sampled) -> bool:
    """Return whether the interval of the stall speed reaches over speeds no draw settles at.

    Those lie about the unstable matches: torques agree there, and the least change drives the
    engine away.
    """
    points = item.stall.points
    between = points.engine_speed[np.isfinite(points.engine_speed) & ~points.stable]
    drawn = item.stall_speed[np.isfinite(item.stall_speed)]
    if not between.size or not drawn.size:
        return False
    low, high = np.quantile(drawn, [0.025, 0.975])
    return bool(low < np.median(between) < high)
