"""Every draw of a study judged: which criteria hold in it, and by how much.

Draws are common to all combinations and conditions: draw k means the same mass and the same air,
and each physical part is the same wherever it stands (`inputs`). Where a study has readings, work
differs from a test by an error of its own, that of the engine torque at work, drawn for each
combination.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.judgement.uncertainty import words
from converter_match.judgement.uncertainty.inputs import DrawnInput, Latents
from converter_match.judgement.uncertainty.result import FIGURES, CriterionOdds
from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.uncertainty.sampling import further_draws, normal_scores
from converter_match.judgement.verdict.assessment import (
    CRITERIA,
    Assessment,
    asked_of,
    assess,
    measured,
    not_applied,
)
from converter_match.judgement.verdict.measure import Measures, holds, together
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.study.study import PRESENT, Study
from converter_match.tasks.plain import digest
from converter_match.tasks.sweep import Progress, Store, sweep
from converter_match.tasks.workers import HERE, Workers

Row = tuple[Sampled, ...]
# Answers in each condition, odds, and reserves by name of the criterion.
_Found = tuple[list[dict[str, Any]], tuple[CriterionOdds, ...], dict[str, FloatArray]]
_WORK_SEED = 15485863
_MOST_KEPT = 100_000  # draws: a combination in a condition is some 30 MB of these


@dataclass(frozen=True, eq=False)
class Judged:
    """Draws of every combination of a study, judged. Lists are in the order of the combinations.

    Parameters
    ----------
    study : Study
    inputs : tuple of DrawnInput
    size : int
        Number of draws, n.
    sampled : tuple of tuple of Sampled
        One for each condition.
    odds : tuple of tuple of CriterionOdds
    reserves : tuple of dict of str to ndarray, shape (n,)
        By name of the criterion, where it was drawn: zero and more where it holds.
    """

    study: Study
    inputs: tuple[DrawnInput, ...]
    size: int
    sampled: tuple[tuple[Sampled, ...], ...]
    odds: tuple[tuple[CriterionOdds, ...], ...]
    reserves: tuple[Mapping[str, FloatArray], ...]

    def holds(self, row: int, criterion: str) -> NDArray[np.bool_] | None:
        """Return in which draws a criterion holds, shape (n,); None where it was not drawn.

        Parameters
        ----------
        row : int
            Which combination.
        criterion : str
        """
        kept = self.reserves[row].get(criterion)
        return None if kept is None or kept.size != self.size else holds(kept)

    def musts_hold(self, row: int) -> NDArray[np.bool_] | None:
        """Return in which draws every must holds, shape (n,); None where one is not known.

        Parameters
        ----------
        row : int
            Which combination.
        """
        musts = [item for item in self.odds[row] if item.weight == "must"]
        known = [self.reserves[row][item.name] for item in musts if item.probability is not None]
        if not known:
            return None
        found = holds(together(known))
        return found if len(known) == len(musts) or not found.any() else None

    def all_musts(self, row: int) -> float | None:
        """Return the probability that every must holds in the same draw.

        None if one is not known, unless the others already fail in every draw.

        Parameters
        ----------
        row : int
            Which combination.
        """
        found = self.musts_hold(row)
        return None if found is None else float(np.mean(found))


def judged(
    study: Study,
    inputs: Sequence[DrawnInput],
    size: int,
    outcomes: Sequence[tuple[Outcome, ...]] | None = None,
    *,
    seed: int = 0,
    progress: Progress | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> Judged:
    """Judge every draw of a study.

    Parameters
    ----------
    study : Study
    inputs : sequence of DrawnInput
        As `inputs.drawn_inputs` returns them.
    size : int
        Number of draws, n.
    outcomes : sequence of tuple of Outcome, optional
        One tuple for each combination, as a study run has them; worked out without.
    seed : int
        Of the draws.
    progress : callable, optional
        Called with (done, of how many, what).
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        Where what the draws of a combination come to is kept, and taken from the next time; of more
        than 100 000 draws it is not.
    """
    combinations = study.combinations
    known = (
        tuple(tuple(outcome(c, k, study.duty) for k in study.conditions) for c in combinations)
        if outcomes is None
        else tuple(outcomes)
    )
    work = work_errors(study, size, seed)
    ids = [item.id for item in combinations]
    total = len(ids)

    def told(done: int, of: int, what: str) -> None:
        if progress and (done or study.present is None):
            progress(done + total - of, total, what)

    rows = [
        tuple(Sampled(item, at_work(inputs, work, name), size) for item in row)
        for name, row in zip(ids, known, strict=True)
    ]
    keys = None if store is None or size > _MOST_KEPT else _keys(study, rows)
    named = [f"the draws of {item.name}" for item in combinations]
    found: list[_Found] = []
    reference = present = None
    if study.present is not None:  # first, since all others are compared with it
        reference = known[0]
        found += sweep(
            _judged_row, [0], shared=(study, rows, reference, rows[0]), store=store, keys=keys,
            names=named,
        ).all()  # fmt: skip
        present = rows[0] = _told(rows[0], found[0][0])
        if progress:
            progress(1, total, "draws")
    shared = study, rows, reference, present
    first = len(found)
    found += sweep(
        _judged_row, range(first, total), shared=shared, workers=workers, progress=told,
        what="draws", store=store, keys=None if keys is None else keys[first:],
        names=named[first:],
    ).all()  # fmt: skip
    return Judged(
        study=study,
        inputs=tuple(inputs),
        size=size,
        sampled=tuple(_told(row, item[0]) for row, item in zip(rows, found, strict=True)),
        odds=tuple(odds for _, odds, _ in found),
        reserves=tuple(reserves for _, _, reserves in found),
    )


def _judged_row(
    shared: tuple[Study, list[Row], tuple[Outcome, ...] | None, Row | None], row: int
) -> _Found:
    """Judge the draws of one combination; what was worked out on the way comes with it.

    So does what is read off every combination afterwards, and off the present machine by others.
    """
    study, rows, reference, present = shared
    views = rows[row]
    own = tuple(item.outcome for item in views)
    odds, reserves = _odds(study, assess(study, own, reference), views, present)
    if own[0].combination.id == PRESENT:
        _compared(study, views)
    for item in views:
        if not item.outcome.missing:
            for _, _, read in FIGURES.values():
                read(item)
    return [item.answers() for item in views], odds, reserves


def _compared(study: Study, present: Row) -> None:
    """Have the present machine work out what others are compared with."""
    for choice in study.criteria:
        if choice.spec.compares and not not_applied(study, choice):
            for row in study.looked_at(choice):
                if not present[row].outcome.missing:
                    CRITERIA[choice.name](study, choice, present[row], present[row])


def _told(row: Row, answers: Sequence[Mapping[str, Any]]) -> Row:
    return tuple(item.with_answers(known) for item, known in zip(row, answers, strict=True))


def _keys(study: Study, rows: Sequence[Row]) -> list[str]:
    """Return what the draws of each combination depend on, beside versions."""
    made = [
        [(item.outcome.combination, item.outcome.condition, item.deviations) for item in row]
        for row in rows
    ]
    present = None if study.present is None else digest(made[0])
    return [digest(asked_of(study), row[0].size, own, present)
            for row, own in zip(rows, made, strict=True)]  # fmt: skip


def work_errors(study: Study, size: int, seed: int) -> dict[str, FloatArray]:
    """Return by what share the engine torque at work is off what the engine gives in a test.

    By combination, shape (n,); empty for a study without readings, whose tolerances are those of
    work.

    Parameters
    ----------
    study : Study
    size, seed : int
    """
    if not study.measurements or study.work_error == 0.0:
        return {}
    names = [item.id for item in study.combinations]
    parts = Latents.of(study).size
    scores = normal_scores(further_draws(size, parts, len(names), seed + _WORK_SEED))
    return {name: study.work_error * scores[:, k] for k, name in enumerate(names)}


def at_work(
    inputs: Sequence[DrawnInput], work: Mapping[str, FloatArray], combination: str
) -> dict[str, FloatArray]:
    """Return the deviations of a combination at work, by quantity, shape (n,).

    Parameters
    ----------
    inputs : sequence of DrawnInput
    work : mapping of str to ndarray, shape (n,)
        As `work_errors` returns it.
    combination : str
    """
    found = {one.quantity: one.deviations for one in inputs if combination in one.combinations}
    if combination in work:
        torque = found.get("engine-torque", np.zeros(1))
        found["engine-torque"] = (1.0 + torque) * (1.0 + work[combination]) - 1.0
    return found


def _odds(
    study: Study, assessment: Assessment, own: Sequence[Sampled], present: Sequence[Sampled] | None
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
