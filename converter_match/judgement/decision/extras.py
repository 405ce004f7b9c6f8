"""What a study asks for beyond verdicts: how sure they are, by its readings too, and claims."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.uncertainty import DRAWS
from converter_match.tasks.sweep import Store
from converter_match.tasks.workers import HERE, Workers

Progress = Callable[[int, int, str], None]


def with_extras(
    result: StudyResult,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    progress: Progress | None = None,
    ranked: bool = True,
    workers: Workers = HERE,
    store: Store | None = None,
) -> StudyResult:
    """Return the result with what its study gives tolerances and claims for.

    Parameters
    ----------
    result : StudyResult
    draws : int
        Draws within the tolerances; 0 leaves the uncertainty out.
    seed : int
    progress : callable, optional
    ranked : bool
        Whether to rank what to measure next as well.
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        Where what draws and claims come to is kept, and taken from the next time.

    Returns
    -------
    StudyResult
        With `uncertainty` and `measure_next` where the study has tolerances, `evidence` where it
        has readings as well, and `audit` where it has claims.

    Raises
    ------
    InputError
        If tolerances or correlations cannot be drawn.
    """
    study = result.study
    if study.tolerances and draws:
        from converter_match.judgement.evidence.prior import prior_of
        from converter_match.judgement.evidence.ranking import next_readings
        from converter_match.judgement.evidence.result import DrawsAfter
        from converter_match.judgement.uncertainty.judged import judged
        from converter_match.judgement.uncertainty.uncertainty import result_of

        prior = prior_of(study, ())
        scores = prior.draw(draws, seed)
        drawn = judged(
            study, prior.inputs(scores), draws, result.outcomes, seed=seed, progress=progress,
            workers=workers, store=store,
        )  # fmt: skip
        result = replace(result, uncertainty=result_of(drawn, seed=seed))
        after: DrawsAfter | None = DrawsAfter(judged=drawn, scores=scores, alike=None)
        if study.measurements:
            from converter_match.judgement.evidence.evidence import evidence

            read = evidence(
                study, drawn, draws=draws, seed=seed, progress=progress, workers=workers,
                store=store,
            )  # fmt: skip
            result, after = replace(result, evidence=read), read.after
        if ranked and after is not None:
            result = replace(result, measure_next=next_readings(after, result.outcomes, seed=seed))
    if study.claims:
        from converter_match.judgement.audit.audit import audit_study

        told = audit_study(study, draws=draws or DRAWS, seed=seed, workers=workers, store=store)
        result = replace(result, audit=told)
    return result
