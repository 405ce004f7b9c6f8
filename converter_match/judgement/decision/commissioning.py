"""What the ordered machine should read on its commissioning day, by all that a study knows."""

from __future__ import annotations

from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.evidence.acceptance import Acceptance, acceptance
from converter_match.judgement.evidence.prior import prior_of
from converter_match.judgement.uncertainty import DRAWS
from converter_match.study.study import PRESENT


def acceptance_of(
    result: StudyResult, candidate: str | None = None, *, site: Site | None = None
) -> Acceptance:
    """Return what a stall test and a grade run of a candidate should read.

    Parameters
    ----------
    result : StudyResult
        With its draws; those after the readings of the study, where it has some.
    candidate : str, optional
        Id of what was ordered; the first candidate of the decision without.
    site : Site, optional
        Where it is commissioned; the first site of the study without.

    Raises
    ------
    InputError
        If there is no such candidate, the study has no tolerances, its readings contradict what is
        believed, or the machine can do no stall test.
    """
    study = result.study
    chosen = result.decision.combination if candidate is None else candidate
    ids = [item.id for item in study.candidates]
    if chosen not in ids:
        raise InputError(
            "there is no such candidate to be accepted", source=study.id, field="candidate",
            found="the present machine" if chosen == PRESENT else chosen,
            expected=" | ".join(ids),
        )  # fmt: skip
    sure, read = result.uncertainty, result.evidence
    draws, seed = (DRAWS, 0) if sure is None else (sure.draws, sure.seed)
    if study.measurements:
        if read is None or read.after is None:
            raise InputError(
                "the readings of the study are not settled, so nothing follows from them",
                source=study.id, field="measurement",
                expected="readings that were weighed and do not contradict",
            )  # fmt: skip
        scores = read.after.scores
    else:
        scores = prior_of(study, ()).draw(draws, seed)
    return acceptance(study, chosen, result.outcome(chosen), scores, site=site, seed=seed)
