"""How sure a study is: what its tolerances do to figures and verdicts, and what to measure first.

All combinations and conditions are drawn together: draw k means the same mass, the same air and,
for each combination, the same engine and converter in every condition.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.uncertainty import words
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
from converter_match.judgement.uncertainty.sampling import (
    Uncertain,
    checked_correlation,
    unit_draws,
)
from converter_match.judgement.uncertainty.sensitivity import (
    Sensitivity,
    first_order_from_draws,
    sensitivity,
)
from converter_match.judgement.verdict.assessment import (
    Assessment,
    assess,
    measured,
    not_applied,
)
from converter_match.judgement.verdict.measure import Measures, holds, together
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.notes import Note
from converter_match.study.study import Combination, Condition, Duty, Study

DRAWS = 10_000
_SOBOL_BASE = 1024
Progress = Callable[[int, int, str], None]


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
    inputs = tuple(
        Uncertain(name=item.quantity, half_width=item.half_width, distribution=item.distribution)
        for item in study.tolerances
    )
    if not inputs:
        raise InputError(
            "nothing to draw: the study gives no tolerances",
            source=study.id,
            field="tolerance",
            expected="at least one [[tolerance]]",
        )
    known = (
        tuple(tuple(outcome(c, k, study.duty) for k in study.conditions)
              for c in study.combinations)
        if outcomes is None
        else tuple(outcomes)
    )  # fmt: skip
    columns = _columns(study)
    units = unit_draws(draws, len(columns), seed, _correlation(study, columns))
    combinations = study.combinations
    sampled = [
        [Sampled(own, _deviations(inputs, columns, units, combination.id), draws) for own in row]
        for combination, row in zip(combinations, known, strict=True)
    ]
    reference = None if study.present is None else known[0]
    assessments = [assess(study, row, reference) for row in known]
    present = sampled[0] if study.present is not None else None
    at_wheels = any(item.outcome.tractive is not None for row in sampled for item in row)
    rows = []
    jobs, done = sum(map(len, sampled)), 0
    for k, combination in enumerate(combinations):
        mine = [i for i, (_, owner) in enumerate(columns) if owner in (combination.id, None)]
        names = [columns[i][0] for i in mine]
        figures: list[DrawnFigure] = []
        for item in sampled[k]:
            figures += _figures(item, at_wheels=at_wheels)
            done += 1
            if progress:
                progress(done, jobs, "draws")
        odds, reserves = _odds(study, assessments[k], sampled[k], present)
        ranked = (
            _ranked(sampled[k][0], inputs, units[:, mine], names, seed) if sensitivities else ()
        )
        rows.append(
            CombinationDraws(
                combination=combination.id,
                name=combination.name,
                figures=tuple(figures),
                criteria=odds,
                all_musts=_all_musts(odds, reserves),
                sensitivities=ranked,
                measure_first=_measure_first(odds, reserves, units[:, mine], names),
            )
        )
    return UncertaintyResult(
        study=study.id,
        draws=draws,
        seed=seed,
        tolerances=tuple(
            (item.quantity, item.half_width, item.distribution) for item in study.tolerances
        ),
        combinations=tuple(rows),
        notes=_notes(study, sampled),
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
    inputs = tuple(
        Uncertain(name=one.quantity, half_width=one.half_width, distribution=one.distribution)
        for one in study.tolerances
    )
    columns = _columns(study)
    units = unit_draws(draws, len(columns), seed, _correlation(study, columns))
    deviations = _deviations(inputs, columns, units, item.id)
    return Sampled(outcome(item, condition, duty), deviations, draws)


def _columns(study: Study) -> list[tuple[str, str | None]]:
    """Return what each dimension of the draws is: (quantity, combination; None for all)."""
    columns: list[tuple[str, str | None]] = []
    for item in study.tolerances:
        if item.shared:
            columns.append((item.quantity, None))
        else:
            columns += [(item.quantity, combination.id) for combination in study.combinations]
    return columns


def _correlation(study: Study, columns: list[tuple[str, str | None]]) -> FloatArray | None:
    if not study.correlations:
        return None
    matrix = np.eye(len(columns))
    for pair in study.correlations:
        for i, (name, owner) in enumerate(columns):
            for j, (other, its) in enumerate(columns):
                same = owner == its or owner is None or its is None
                if {name, other} == {pair.first, pair.second} and same and i != j:
                    matrix[i, j] = pair.coefficient
    names = [name if owner is None else f"{name} of {owner}" for name, owner in columns]
    try:
        return checked_correlation(matrix, names)
    except InputError as error:
        raise error.located(source=study.id) from None


def _deviations(
    inputs: Sequence[Uncertain],
    columns: list[tuple[str, str | None]],
    units: FloatArray,
    combination: str,
) -> dict[str, FloatArray]:
    by_name = {item.name: item for item in inputs}
    return {
        name: by_name[name].from_unit(units[:, k])
        for k, (name, owner) in enumerate(columns)
        if owner in (combination, None)
    }


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


def _odds(
    study: Study, assessment: Assessment, own: list[Sampled], present: list[Sampled] | None
) -> tuple[tuple[CriterionOdds, ...], dict[str, FloatArray]]:
    """Return the odds of each criterion, and its reserves over the draws by name.

    A criterion that is not known in some condition is not known, unless it fails in every draw
    elsewhere.
    """
    odds, reserves = [], {}
    for finding in assessment.findings:
        choice = finding.choice
        measures = measured(study, choice, own, present)
        known = [item for item in measures if not item.missing]
        probability, why, unmatched, unknown = (
            None,
            words.NOT_KNOWN.format(missing="; ".join(finding.missing)),
            0.0,
            0.0,
        )
        if known:
            kept = together([item.kept for item in known])
            none = _unmatched(known)
            unmatched = float(np.mean(none))
            unknown = float(np.mean(np.isnan(kept) & ~none))
            matched = kept[~none]
            if not matched.size:
                why = words.NO_MATCH
            elif not finding.missing or not holds(matched).any():
                probability, why, reserves[choice.name] = float(np.mean(holds(matched))), "", kept
        odds.append(
            CriterionOdds(
                name=choice.name,
                title=finding.spec.title,
                weight=finding.weight,
                nominal=str(finding.verdict),
                probability=probability,
                no_match=unmatched,
                unknown=unknown,
                why=why,
            )
        )
    return tuple(odds), reserves


def _unmatched(measures: Sequence[Measures]) -> NDArray[np.bool_]:
    """Return the draws without a match in some condition that fail in no other."""
    none = [item.no_match for item in measures]
    elsewhere = [
        item.kept if without is None else np.where(without, np.inf, item.kept)
        for item, without in zip(measures, none, strict=True)
    ]
    found = np.zeros(elsewhere[0].shape, dtype=bool)
    for without in none:
        if without is not None:
            found |= without
    return np.asarray(found & holds(np.min(elsewhere, axis=0)))


def _all_musts(odds: Sequence[CriterionOdds], reserves: dict[str, FloatArray]) -> float | None:
    """Return the probability that every must holds in the same draw.

    None if one is not known, unless the others already fail in every draw.
    """
    musts = [item for item in odds if item.weight == "must"]
    known = [reserves[item.name] for item in musts if item.probability is not None]
    if not known:
        return None
    share = float(np.mean(holds(together(known))))
    return share if len(known) == len(musts) or share == 0.0 else None


def _measure_first(
    odds: Sequence[CriterionOdds],
    reserves: dict[str, FloatArray],
    units: FloatArray,
    names: Sequence[str],
) -> tuple[MeasureFirst, ...]:
    """Rank inputs by the doubt about verdicts that knowing them would take away.

    The doubt about a criterion is p (1 - p), counted twice for a must; an input is credited with
    its first-order share of the criterion's reserve.
    """
    credit = np.zeros(len(names))
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
    order = np.argsort(-credit).tolist()
    about = ", ".join(sorted(doubts, key=lambda name: -doubts[name])[:3])
    return tuple(
        MeasureFirst(quantity=names[k], share=float(credit[k] / credit.sum()), about=about)
        for k in order
        if credit[k] > 0.0
    )


def _ranked(
    item: Sampled,
    inputs: Sequence[Uncertain],
    units: FloatArray,
    names: Sequence[str],
    seed: int,
) -> tuple[tuple[str, Sensitivity], ...]:
    """Return the sensitivities of each figure in the first condition."""
    by_name = {one.name: one for one in inputs}
    chosen = [by_name[name] for name in names]
    values = np.stack([item.deviations[name] for name in names], axis=1)
    ranking = []
    for name, (_, _, read) in FIGURES.items():
        answers = None if item.outcome.missing else read(item)
        if answers is None:
            continue

        def model(u: FloatArray, read: Callable[[Sampled], Any] = read) -> FloatArray:
            drawn = {one.name: one.from_unit(u[:, k]) for k, one in enumerate(chosen)}
            answer: FloatArray = read(Sampled(item.outcome, drawn, u.shape[0]))
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


def _notes(study: Study, sampled: list[list[Sampled]]) -> tuple[Note, ...]:
    codes = ["loads-scaled-together"]
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
    points = item.matched(0.0).points
    between = points.engine_speed[np.isfinite(points.engine_speed) & ~points.stable]
    drawn = item.stall_speed[np.isfinite(item.stall_speed)]
    if not between.size or not drawn.size:
        return False
    low, high = np.quantile(drawn, [0.025, 0.975])
    return bool(low < np.median(between) < high)
