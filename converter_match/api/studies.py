"""Candidates judged: a study run, how sure it is, claims checked, a library ranked."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, overload

from converter_match.api.door import MOST_DRAWS, MOST_SEED, count, part
from converter_match.units import System

if TYPE_CHECKING:
    from converter_match.components.converter import Converter
    from converter_match.judgement.audit.result import AuditResult
    from converter_match.judgement.catalogue.result import Shortlist
    from converter_match.judgement.decision.run import StudyResult
    from converter_match.judgement.evidence.result import EvidenceResult
    from converter_match.judgement.motor.study_result import MotorStudyResult
    from converter_match.judgement.uncertainty.result import UncertaintyResult
    from converter_match.judgement.verdict.ranking import Ranking
    from converter_match.library.kept import KeptResults
    from converter_match.present.report.model import Report
    from converter_match.study.motor_study import MotorStudy
    from converter_match.study.study import Claim, Study
    from converter_match.tasks.workers import Workers

Progress = Callable[[int, int, str], None]


@overload
def run_study(
    study: Study,
    *,
    draws: int | None = None,
    seed: int = 0,
    jobs: int = 1,
    kept: str | os.PathLike[str] | None = "off",
    progress: Progress | None = None,
) -> StudyResult: ...


@overload
def run_study(
    study: MotorStudy,
    *,
    draws: int | None = None,
    seed: int = 0,
    jobs: int = 1,
    kept: str | os.PathLike[str] | None = "off",
    progress: Progress | None = None,
) -> MotorStudyResult: ...


def run_study(
    study: Study | MotorStudy,
    *,
    draws: int | None = None,
    seed: int = 0,
    jobs: int = 1,
    kept: str | os.PathLike[str] | None = "off",
    progress: Progress | None = None,
) -> StudyResult | MotorStudyResult:
    """Judge every candidate of a study against the machine as it stands.

    Parameters
    ----------
    study : Study or MotorStudy
        From `read`.
    draws : int, optional
        Where the study gives tolerances: draws within them, 10 000 without; 0 leaves the
        probabilities out.
    seed : int
        The same seed gives the same draws.
    jobs, kept
        As in `shortlist`.
    progress : callable, optional
        Called with (done, of how many, what).

    Returns
    -------
    StudyResult or MotorStudyResult
        Decision, criteria, figures, probabilities, claims; of motors fewer draws (32 without a
        number), and what does not apply to them. The decision is a proposal: a person signs.

    Raises
    ------
    InputError
        If it is no study, a number is out of range, the folder cannot be used, or its tolerances or
        correlations cannot be drawn.

    Examples
    --------
    >>> import converter_match as cm
    >>> result = cm.run_study(cm.read("quarry-loader-repower"), draws=0)
    >>> len(result.candidates)
    3
    """
    from converter_match.judgement.decision.extras import with_extras
    from converter_match.judgement.decision.run import run_study
    from converter_match.judgement.uncertainty import DRAWS
    from converter_match.study.motor_study import MotorStudy
    from converter_match.study.study import Study

    if isinstance(study, MotorStudy):
        from dataclasses import replace

        from converter_match.judgement.motor.study import run_motor_study
        from converter_match.judgement.motor.study_draws import DRAWS as MOTOR_DRAWS
        from converter_match.judgement.motor.study_draws import MOST_DRAWS as MOST
        from converter_match.judgement.motor.study_draws import draw_motor_study

        number = count(MOTOR_DRAWS if draws is None else draws, "draws", 0, MOST)
        with _sweeping(jobs, kept) as (workers, store):
            drawn = draw_motor_study(study, number, progress, workers, store)
            result_of_motors = run_motor_study(study, progress, workers, store)
        return replace(result_of_motors, draws=drawn)
    asked = part(study, Study, "study")
    number = count(DRAWS if draws is None else draws, "draws", 0, MOST_DRAWS)
    seed = count(seed, "seed", 0, MOST_SEED)
    with _sweeping(jobs, kept) as (workers, store):
        return with_extras(
            run_study(asked, progress, workers, store),
            draws=number, seed=seed, progress=progress, workers=workers, store=store,
        )  # fmt: skip


def uncertainty(
    study: Study, *, draws: int | None = None, seed: int = 0, progress: Progress | None = None
) -> UncertaintyResult:
    """Draw the inputs of a study within their tolerances, and judge every draw.

    Parameters
    ----------
    study : Study
        With tolerances.
    draws : int, optional
        2 to 10 million; 10 000 without.
    seed : int
        The same seed gives the same draws.
    progress : callable, optional
        Called with (done, of how many, what).

    Returns
    -------
    UncertaintyResult
        Intervals, probabilities, and what they depend on: what to measure first.

    Raises
    ------
    InputError
        If it is no study, it has no tolerances, or they cannot be drawn.

    Examples
    --------
    >>> import converter_match as cm
    >>> odds = cm.uncertainty(cm.read("quarry-loader-repower"), draws=64)
    >>> odds.draws
    64
    """
    from converter_match.judgement.uncertainty import DRAWS
    from converter_match.judgement.uncertainty.uncertainty import uncertainty
    from converter_match.study.study import Study

    number = count(DRAWS if draws is None else draws, "draws", 0, MOST_DRAWS)
    seed = count(seed, "seed", 0, MOST_SEED)
    return uncertainty(part(study, Study, "study"), draws=number, seed=seed, progress=progress)


def evidence(
    study: Study, *, draws: int | None = None, seed: int = 0, progress: Progress | None = None
) -> EvidenceResult:
    """Weigh the readings of a study, and judge what they leave possible.

    Parameters
    ----------
    study : Study
        With tolerances and measurements.
    draws : int, optional
        2 to 10 million; 10 000 without.
    seed : int
        The same seed gives the same draws.
    progress : callable, optional
        Called with (done, of how many, what).

    Returns
    -------
    EvidenceResult
        How each reading fits; bands and probabilities before and after, where none contradicts.

    Raises
    ------
    InputError
        If it is no study, has no tolerances or measurements, or one cannot be predicted.

    Examples
    --------
    >>> import converter_match as cm
    >>> read = cm.evidence(cm.read("loader-in-the-yard"), draws=256)
    >>> [item.place for item in read.readings]
    ['fits', 'fits', 'fits']
    """
    from converter_match.errors import InputError
    from converter_match.judgement.evidence.evidence import evidence
    from converter_match.judgement.uncertainty import DRAWS
    from converter_match.study.study import Study

    asked = part(study, Study, "study")
    if not asked.measurements:
        raise InputError(
            "nothing was read: the study has no measurements", source=asked.id,
            field="measurement", expected="at least one [[measurement]]",
        )  # fmt: skip
    number = count(DRAWS if draws is None else draws, "draws", 0, MOST_DRAWS)
    seed = count(seed, "seed", 0, MOST_SEED)
    return evidence(asked, draws=number, seed=seed, progress=progress)


def audit(
    study: Study,
    *claims: Claim | str,
    about: str | None = None,
    by: str = "",
    converters: Iterable[Converter] | None = None,
) -> AuditResult:
    """Check a dealer's figures: which come out, which do not, and what would explain those.

    Parameters
    ----------
    study : Study
    *claims : Claim or str
        Each as in a study, or such as ``"stall speed=1870 rpm; tolerance=1 %"``; the study's own
        without.
    about : str, optional
        Id of the combination that written claims are about; the first candidate without.
    by : str
        Who says so, of written claims.
    converters : iterable of Converter, optional
        Of the same family, whose sheet may have been read instead, beside those that the study
        names.

    Returns
    -------
    AuditResult
        What reproduces a figure is a question to ask, not a proof.

    Raises
    ------
    InputError
        If it is no study, there are no claims, or one is not understood or not above zero.

    Examples
    --------
    >>> import converter_match as cm
    >>> study = cm.read("quarry-loader-repower")
    >>> [each.verdict for each in cm.audit(study).claims]
    ['disagrees', 'agrees', 'agrees']
    >>> cm.audit(study, "stall torque ratio=2.2").fails
    False
    """
    from converter_match.judgement.audit.alternatives import Others
    from converter_match.judgement.audit.audit import audit_study
    from converter_match.library.claim_text import parse_claim
    from converter_match.study.study import Study

    asked = part(study, Study, "study")
    if claims:
        item = asked.candidates[0].id if about is None else asked.combination(about).id
        given = [
            parse_claim(claim, combination=item, by=by) if isinstance(claim, str) else claim
            for claim in claims
        ]
        asked = asked.replace(claims=tuple(given))
    return audit_study(asked, Others(siblings=tuple(converters or ())))


def rank(
    study: Study,
    converters: Iterable[Converter] | None = None,
    *,
    candidate: str | None = None,
    progress: Progress | None = None,
) -> Ranking:
    """Try converters in place of a candidate's own, and rank them by the criteria of a study.

    Parameters
    ----------
    study : Study
    converters : iterable of Converter, optional
        The shipped ones without; the candidate's own is tried as well.
    candidate : str, optional
        Its id; the first candidate without.
    progress : callable, optional
        Called with (done, of how many, what).

    Returns
    -------
    Ranking

    Raises
    ------
    InputError
        If it is no study, or there is no such candidate.

    Examples
    --------
    >>> import converter_match as cm
    >>> few = cm.read("single-stage-345mm-tight", "single-stage-360mm")
    >>> ranking = cm.rank(cm.read("hauler-converter"), few)
    >>> len(ranking.rows)
    3
    """
    from converter_match.judgement.verdict.ranking import rank_library
    from converter_match.library.shipped import read_all
    from converter_match.study.study import Study

    tried = read_all("converters") if converters is None else list(converters)
    return rank_library(part(study, Study, "study"), tried, candidate, progress=progress)


def shortlist(
    catalogue: str | os.PathLike[str],
    *,
    draws: int | None = None,
    seed: int = 0,
    jobs: int = 1,
    kept: str | os.PathLike[str] | None = "off",
    progress: Progress | None = None,
) -> Shortlist:
    """Search a catalogue of parts for what a study would keep.

    Parameters
    ----------
    catalogue : str or path-like
        Catalogue file, or the id of a shipped one.
    draws : int, optional
        Of each combination that is kept; 1000 without, 0 for no probabilities.
    seed : int
        The same seed gives the same draws.
    jobs : int
        Processes; the result is the same to the last bit. A script that asks for more than one
        guards what it does by ``if __name__ == "__main__":``.
    kept : str or path-like, optional
        Folder where results are kept, so that nothing is calculated twice; None for the user's own,
        ``"off"`` for nowhere.
    progress : callable, optional
        Called with (done, of how many, what).

    Returns
    -------
    Shortlist
        What is kept, what no other beats, and why the others are out; no leave to order.

    Raises
    ------
    InputError
        If the catalogue cannot be read, a number is out of range, or the present machine cannot be
        calculated.

    Examples
    --------
    >>> import converter_match as cm
    >>> found = cm.shortlist("quarry-loader-parts", draws=0)
    >>> len(found.kept), found.catalogue.count
    (7, 12)
    """
    from converter_match.judgement.catalogue import DRAWS
    from converter_match.judgement.catalogue.shortlist import shortlist
    from converter_match.library.catalogue_file import read_catalogue

    number = count(DRAWS if draws is None else draws, "draws", 0, MOST_DRAWS)
    seed = count(seed, "seed", 0, MOST_SEED)
    parts = read_catalogue(catalogue)
    with _sweeping(jobs, kept) as (workers, store):
        return shortlist(
            parts, draws=number, seed=seed, workers=workers, store=store, progress=progress
        )


@contextmanager
def _sweeping(
    jobs: int, kept: str | os.PathLike[str] | None
) -> Iterator[tuple[Workers, KeptResults | None]]:
    """Yield so many processes, and where results are kept; None for nowhere."""
    from converter_match.library.kept import kept as kept_in
    from converter_match.tasks.workers import MOST_JOBS, processes

    store = kept_in(None if kept is None else os.fspath(kept))
    with processes(count(jobs, "jobs", 1, MOST_JOBS)) as workers:
        yield workers, store
    if store is not None:
        store.trim()


def report(result: StudyResult, *, system: System = "si") -> Report:
    """Make the report of a study, to be shown section by section; `write` makes a folder of it.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}

    Returns
    -------
    Report
        `section` shows a part of it.

    Raises
    ------
    InputError
        If it is no result of a study.

    Examples
    --------
    >>> import converter_match as cm
    >>> pages = cm.report(cm.run_study(cm.read("hauler-converter"), draws=0))
    >>> pages.sections[0].title
    'The decision'
    """
    from converter_match.judgement.decision.run import StudyResult
    from converter_match.present.report.content import report_of

    return report_of(part(result, StudyResult, "result"), system)
