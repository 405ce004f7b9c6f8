"""What a study asks for beyond verdicts: how sure they are, and whether the claims hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from converter_match.components.converter import Converter
from converter_match.judgement.decision.run import StudyResult
from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.study.study import Study

DRAWS = 4_000
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
        With ``uncertainty`` among its extras where the study has tolerances, and ``audit`` where
        it has claims.

    Raises
    ------
    InputError
        If tolerances or correlations cannot be drawn.
    """
    extras: dict[str, Any] = dict(result.extras)
    study = result.study
    if study.tolerances and draws:
        from converter_match.judgement.uncertainty.uncertainty import uncertainty

        extras["uncertainty"] = uncertainty(
            study, result.outcomes, draws=draws, seed=seed, progress=progress
        )
    if study.claims:
        from converter_match.judgement.audit.audit import audit_study

        extras["audit"] = audit_study(study, _sisters(study))
    return replace(result, extras=extras)


def _sisters(study: Study) -> list[Converter]:
    """Return the shipped converters and those of the study: whose sheet may have been read."""
    found = {item.converter.id: item.converter for item in study.combinations}
    for path in shipped("converters").values():
        converter = read_converter(path)
        found.setdefault(converter.id, converter)
    return list(found.values())
