"""Weigh the readings of a study: first whether they contradict, then what they make of it.

What was measured is set beside what was to be expected of it before anything else. Only readings
that do not contradict change what is believed; then every draw from the posterior is judged like
every other draw (`judgement.uncertainty.judged`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.evidence import words
from converter_match.judgement.evidence.conflict import Surprise, surprise
from converter_match.judgement.evidence.fit import reading_notes, weighed_readings
from converter_match.judgement.evidence.moved import figures_of, moved_figures, moved_odds
from converter_match.judgement.evidence.prior import Prior, prior_of
from converter_match.judgement.evidence.readings import predicted
from converter_match.judgement.evidence.result import DrawsAfter, EvidenceResult, PartLearned
from converter_match.judgement.evidence.update import LEAST_EFFECTIVE, Updated, update
from converter_match.judgement.uncertainty import DRAWS
from converter_match.judgement.uncertainty.inputs import DrawnInput, drawn_inputs
from converter_match.judgement.uncertainty.judged import Judged, judged
from converter_match.judgement.uncertainty.uncertainty import result_of
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.notes import Note
from converter_match.study.study import Study
from converter_match.tasks.sweep import Progress, Store
from converter_match.tasks.workers import HERE, Workers

_FRESH_SEED = 49979687
_FEWEST = 4096  # draws of the update: of few, none would be left
_SHARPER = 0.05  # less of the standard deviation is hardly known better
_LOOKED_AT = 64  # draws that are predicted again without the scores that no reading depends on
_SAME = 1e-6
_OFF = 5.0  # standard errors by which an untouched input may have moved


@dataclass(frozen=True, eq=False)
class Weighed:
    """Readings weighed on draws, before anything is judged by them.

    Parameters
    ----------
    prior : Prior
    scores : ndarray, shape (n, d)
        Draws of the study; where those are few, more of the same sequence.
    found : ndarray, shape (n, m)
        What the readings should have been.
    surprise : Surprise
    updated : Updated or None
        None where the readings contradict.
    inputs : tuple of DrawnInput
        Draws after the readings, of equal weight, as many as asked for; those of the study where
        there is no update.
    after : ndarray, shape (n, d)
        Scores that they are made from.
    refused : {"", "conflict", "few", "missed", "leak"}
    """

    prior: Prior
    scores: FloatArray
    found: FloatArray
    surprise: Surprise
    updated: Updated | None
    inputs: tuple[DrawnInput, ...]
    after: FloatArray
    refused: str


def weighed(study: Study, *, draws: int = DRAWS, seed: int = 0) -> Weighed:
    """Weigh the readings of a study on its draws.

    Parameters
    ----------
    study : Study
        With tolerances and readings.
    draws, seed : int

    Raises
    ------
    InputError
        If there is nothing that a reading could move, or one cannot be predicted.
    """
    prior = prior_of(study)
    scores = prior.draw(max(draws, _FEWEST), seed)
    inputs = prior.inputs(scores[:draws])
    found = predicted(prior, scores)
    values = np.array([item.value for item in prior.measurements], dtype=np.float64)
    off = surprise(scores, found, values, prior.covariance, seed)
    if off.odd:
        return Weighed(prior, scores, found, off, None, inputs, scores[:draws], "conflict")
    touched = prior.touched()
    if not _only_touched(prior, scores, found, touched):
        return Weighed(prior, scores, found, off, None, inputs, scores[:draws], "leak")
    updated = update(
        lambda own: predicted(prior, own), (scores, found), values, prior.covariance, touched,
        seed=seed,
    )  # fmt: skip
    if not updated.usable:
        refused = "missed" if updated.missed else "few"
        return Weighed(prior, scores, found, off, updated, inputs, scores[:draws], refused)
    fresh = prior.draw(draws, seed + _FRESH_SEED)
    after = updated.resampled(fresh, seed)
    return Weighed(prior, scores, found, off, updated, prior.inputs(after), after, "")


def evidence(
    study: Study,
    before: Judged | None = None,
    outcomes: Sequence[tuple[Outcome, ...]] | None = None,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    progress: Progress | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> EvidenceResult:
    """Weigh the readings of a study, and judge what they leave possible.

    Parameters
    ----------
    study : Study
        With tolerances and readings.
    before : Judged, optional
        The draws of the study, judged, of as many draws and the same seed; worked out without.
    outcomes : sequence of tuple of Outcome, optional
        One tuple for each combination, as a study run has them; worked out without.
    draws : int
        2 to 10 million.
    seed : int
        The same seed gives the same draws.
    progress : callable, optional
        Called with (done, of how many, what).
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        As for `judged`.

    Returns
    -------
    EvidenceResult

    Raises
    ------
    InputError
        If there is nothing that a reading could move, or one cannot be predicted.
    """
    if before is None:
        before = judged(study, drawn_inputs(study, draws, seed), draws, outcomes, seed=seed,
                        progress=progress, workers=workers, store=store)  # fmt: skip
    found = weighed(study, draws=draws, seed=seed)
    columns = set(found.prior.touched())
    refused, after = found.refused, None
    moved = _untouched_moved(found, columns)
    if not refused and moved:
        refused = "leak"
    if not refused:
        known = [tuple(item.outcome for item in row) for row in before.sampled]
        after = judged(
            study, found.inputs, draws, known, seed=seed, progress=progress, workers=workers,
            store=store,
        )  # fmt: skip
    readings = weighed_readings(found.prior, found.surprise, found.scores)
    updated = found.updated
    return EvidenceResult(
        study=study.id,
        draws=draws,
        seed=seed,
        readings=readings,
        joint=found.surprise.joint,
        refused=refused,
        effective_size=0.0 if updated is None else updated.effective_size,
        plain_size=0.0 if updated is None else updated.of_prior,
        posterior=None if after is None else result_of(after, seed=seed, sensitivities=False),
        figures=() if after is None else moved_figures(figures_of(before), figures_of(after)),
        odds=moved_odds(before, after),
        parts=_parts(found, columns, after is not None),
        notes=(*_refusal(found, refused, moved), *reading_notes(found.prior, found.found)),
        after=None if after is None else _after(found, after),
    )


def _after(found: Weighed, judged: Judged) -> DrawsAfter:
    parts = found.prior.latents.size
    column = next(iter(found.prior.touched()), None)
    alike = None
    if column is not None:
        alike = np.unique(found.after[:, column], return_inverse=True)[1]
    return DrawsAfter(judged=judged, scores=found.after[:, :parts], alike=alike)


def _only_touched(
    prior: Prior, scores: FloatArray, found: FloatArray, touched: Sequence[int]
) -> bool:
    """Return whether predictions stay the same without the scores that they are not to touch."""
    few = scores[:_LOOKED_AT]
    alone = np.zeros_like(few)
    columns = list(touched)
    alone[:, columns] = few[:, columns]
    again, before = predicted(prior, alone), predicted(prior, few)
    return bool(np.allclose(again, before, rtol=_SAME, equal_nan=True)) and found.shape[0] > 0


def _untouched_moved(found: Weighed, columns: set[int]) -> tuple[str, ...]:
    """Return inputs that no reading touches and whose draws differ from those of the study."""
    if found.updated is None or found.refused:
        return ()
    limit = _OFF / np.sqrt(found.updated.effective_size)
    moved = []
    before = found.prior.inputs(found.scores)
    for item, was in zip(found.inputs, before, strict=True):
        if _touches(found.prior, item, columns) or was.uncertain.deviation == 0.0:
            continue
        unit = float(np.std(was.deviations))
        shift = abs(float(np.mean(item.deviations) - np.mean(was.deviations))) / unit
        spread = abs(float(np.std(item.deviations)) / unit - 1.0)
        if max(shift, spread) > limit:
            moved.append(item.quantity)
    return tuple(moved)


def _touches(prior: Prior, item: DrawnInput, columns: set[int]) -> bool:
    """Return whether any score of an input is one that readings depend on."""
    return bool(prior.latents.columns(item.combinations[0], (item.quantity,)) & columns)


def _parts(found: Weighed, columns: set[int], known: bool) -> tuple[PartLearned, ...]:
    """Return what became of every input; as before where nothing is made of the readings."""
    names = {item.id: item.name for item in found.prior.study.combinations}
    rows = []
    for item, was in zip(found.inputs, found.prior.inputs(found.scores), strict=True):
        before = float(np.mean(was.deviations)), float(np.std(was.deviations))
        after = float(np.mean(item.deviations)), float(np.std(item.deviations))
        learned = "untouched"
        if _touches(found.prior, item, columns):
            learned = "sharpened" if after[1] < (1.0 - _SHARPER) * before[1] else "touched"
        rows.append(
            PartLearned(
                quantity=item.quantity,
                combinations=item.combinations,
                names="; ".join(names[name] for name in item.combinations),
                before=before,
                after=after if known else before,
                learned=learned,
            )
        )
    return tuple(rows)


def _refusal(found: Weighed, refused: str, moved: Sequence[str]) -> tuple[Note, ...]:
    """Return why nothing is made of the readings."""
    say = words.CONTRADICTIONS.note
    if refused == "conflict":
        return (say("until"),)
    if refused == "few":
        assert found.updated is not None
        size = found.updated.effective_size
        return (say("few", effective=size, least=LEAST_EFFECTIVE),)
    if refused == "leak":
        return (say("leak", inputs=", ".join(moved) or "predictions"),)
    return (say("missed"),) if refused == "missed" else ()
