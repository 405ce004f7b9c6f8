"""What a study asks for beyond verdicts: how sure they are, by its readings too, and claims."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.uncertainty import DRAWS

Progress = Callable[[int, int, str], None]


def with_extras(
    result: StudyResult, *, draws: int = DRAWS, seed: int = 0, progress: Progress | None = None
) -> StudyResult:
    """Return the result with what its study gives tolerances and claims for.

    Parameters
    ----------
    result : StudyResult
    draws : int
        Draws within the tolerances; 0 leaves the uncertainty out.
    seed : int
    progress : callable, optional

    Returns
    -------
    StudyResult
        With `uncertainty` where the study has tolerances, `evidence` where it has readings as well,
        and `audit` where it has claims.

    Raises
    ------
    InputError
        If tolerances or correlations cannot be drawn.
    """
    study = result.study
    if study.tolerances and draws:
        from converter_match.judgement.uncertainty.inputs import drawn_inputs
        from converter_match.judgement.uncertainty.judged import judged
        from converter_match.judgement.uncertainty.uncertainty import result_of

        inputs = drawn_inputs(study, draws, seed)
        drawn = judged(study, inputs, draws, result.outcomes, seed=seed, progress=progress)
        result = replace(result, uncertainty=result_of(drawn, seed=seed))
        if study.measurements:
            from converter_match.judgement.evidence.evidence import evidence

            read = evidence(study, drawn, draws=draws, seed=seed, progress=progress)
            result = replace(result, evidence=read)
    if study.claims:
        from converter_match.judgement.audit.audit import audit_study

        result = replace(result, audit=audit_study(study, draws=draws or DRAWS, seed=seed))
    return result
