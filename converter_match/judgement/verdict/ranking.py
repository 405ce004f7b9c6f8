"""A library of converters against a study: which of them would suit a candidate better.

Each converter takes the place of the candidate's own, and every criterion of the study is applied
in every condition. What is not known counts against a converter, though less than what fails.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.components.converter import Converter
from converter_match.errors import InputError
from converter_match.judgement.sizing.trials import pareto
from converter_match.judgement.verdict.assessment import Assessment, asked_of, assess
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.judgement.verdict.words import RANKING, VERDICTS
from converter_match.notes import Note
from converter_match.study.study import Combination, Study
from converter_match.tasks.plain import digest
from converter_match.tasks.sweep import Store, sweep
from converter_match.tasks.workers import HERE, Workers


@dataclass(frozen=True, eq=False, kw_only=True)
class Ranked:
    """One converter in a candidate of a study. SI units.

    Parameters
    ----------
    converter : Converter
    assessment : Assessment or None
        None where the converter cannot be matched at all.
    refused : str
        Why it cannot; empty where it can.
    time, fuel, heat : float or None
        Sum over the routes of the study, in its first condition [s], [kg], [J]; None where there is
        no route, or it does not get round.
    stall_torque : float or None
        Of the turbine, in the first condition [N.m].
    best : bool
        Whether no other converter without a failed must is at least as good in time, fuel, heat
        and stall torque together.
    """

    converter: Converter
    assessment: Assessment | None
    refused: str = ""
    time: float | None = None
    fuel: float | None = None
    heat: float | None = None
    stall_torque: float | None = None
    best: bool = False

    @property
    def order(self) -> tuple[float, ...]:
        """What it is ranked by: refused, failed musts, musts not known, failed shoulds, time."""
        if self.assessment is None:
            return (1.0,)
        unknown = [item for item in self.assessment.unknown if item.weight == "must"]
        return (
            0.0,
            float(len(self.assessment.failed_musts)),
            float(len(unknown)),
            float(len(self.assessment.failed_shoulds)),
            float(len(self.assessment.marginal)),
            float("inf") if self.time is None else self.time,
        )

    @property
    def headline(self) -> str:
        """Why it cannot be matched, or what its assessment says."""
        return self.refused or (self.assessment.headline if self.assessment else "")

    def row(self, place: int) -> tuple[Any, ...]:
        """Return the row of a table."""
        verdict = None if self.assessment is None else str(self.assessment.verdict)
        said = "refused" if verdict is None else VERDICTS[verdict]
        figures = (self.time, self.time, self.fuel, self.heat, self.stall_torque)
        return (
            *(place, self.converter.id, self.converter.title, verdict, said, self.headline),
            *figures,
            self.best,
        )


_COLUMNS = (
    Heading("", "place"),
    Heading("converter", "converter"),
    Heading("name", ""),
    Heading("verdict", ""),
    Heading("", "verdict"),
    Heading("headline", ""),
    Heading("route_time", "", "time"),
    Heading("", "time on the routes", "minutes"),
    Heading("fuel", "fuel", "mass", ".1f"),
    Heading("converter_heat", "converter heat", "work"),
    Heading("stall_turbine_torque", "stall turbine torque", "torque"),
    Heading("pareto", "Pareto-optimal"),
)


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class Ranking(Answer):
    """A library against a study, the most suitable converter first.

    Parameters
    ----------
    study, candidate : str
        Ids.
    rows : tuple of Ranked
    notes : tuple of Note
        None: what was found stands in the assessments.
    """

    study: str
    candidate: str
    rows: tuple[Ranked, ...]
    notes: tuple[Note, ...] = ()

    @property
    def winner(self) -> Ranked | None:
        """The first, if every required criterion is met with it or not known; None else."""
        first = self.rows[0]
        return first if first.assessment and not first.assessment.failed_musts else None

    def blocks(self) -> tuple[Block, ...]:
        """Return the ranking as a table, the headlines below."""
        return (
            Block(
                "",
                above=(RANKING.note("ranking", candidate=self.candidate, study=self.study),),
                facts=(
                    (Heading("study", ""), self.study),
                    (Heading("candidate", ""), self.candidate),
                    (Heading("winner", ""), self.winner.converter.id if self.winner else None),
                ),
                columns=_COLUMNS,
                rows=tuple(row.row(place) for place, row in enumerate(self.rows, start=1)),
                rows_key="converters",
                below=(
                    *(
                        RANKING.note("headline", converter=row.converter.id, headline=row.headline)
                        for row in self.rows
                    ),
                    RANKING.note("pareto"),
                ),
            ),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data; there are no notes beside the headlines."""
        return plain(self.blocks())


def rank_library(
    study: Study,
    converters: Iterable[Converter],
    candidate: str | None = None,
    *,
    progress: Callable[[int, int, str], None] | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> Ranking:
    """Try converters in place of a candidate's own, and rank them by the criteria of the study.

    Parameters
    ----------
    study : Study
    converters : iterable of Converter
        The candidate's own is tried as well.
    candidate : str, optional
        Id; the first candidate without.
    progress : callable, optional
        Called with (done, of how many, what).
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        Where what comes of a converter is kept, and taken from the next time.

    Raises
    ------
    InputError
        If there is no such candidate.
    """
    item = study.candidates[0] if candidate is None else study.combination(candidate)
    tried = {item.converter.id: item.converter}
    for converter in converters:
        tried.setdefault(converter.id, converter)
    present = None
    if study.present is not None:
        present = tuple(outcome(study.present, k, study.duty) for k in study.conditions)
    ids = list(tried)

    def told(done: int, total: int, what: str) -> None:
        if progress and done:
            progress(done, total, ids[done - 1])

    keys = None
    if store is not None:
        about = digest(asked_of(study), item, study.present)
        keys = [digest(about, converter) for converter in tried.values()]
    rows = sweep(
        _tried, list(tried.values()), shared=(study, item, present), workers=workers,
        progress=told, store=store, keys=keys, names=ids,
    ).all()  # fmt: skip
    return Ranking(study=study.id, candidate=item.id, rows=_ordered(list(rows)))


def _tried(
    shared: tuple[Study, Combination, tuple[Outcome, ...] | None], converter: Converter
) -> Ranked:
    """Return how a converter does in place of a candidate's own."""
    study, item, present = shared
    changed = item.replace(converter=converter)
    try:
        own = tuple(outcome(changed, k, study.duty) for k in study.conditions)
    except InputError as error:
        return Ranked(converter=converter, assessment=None, refused=str(error))
    return _ranked(converter, assess(study, own, present), own[0])


def _ranked(converter: Converter, assessment: Assessment, own: Outcome) -> Ranked:
    known = () if own.missing else own.routes
    runs = [run for run in known if run is not None and run.standstill is None]
    whole = bool(runs) and len(runs) == len(own.routes)
    fuels = [run.fuel for run in runs]
    return Ranked(
        converter=converter,
        assessment=assessment,
        time=sum(run.time for run in runs) if whole else None,
        fuel=sum(fuel for fuel in fuels if fuel is not None)
        if whole and None not in fuels
        else None,
        heat=sum(float(run.totals.ledger.converter[0]) for run in runs) if whole else None,
        stall_torque=own.match.stall.turbine_torque
        if own.match.stall and not own.missing
        else None,
    )


def _ordered(rows: list[Ranked]) -> tuple[Ranked, ...]:
    fine = [row for row in rows if row.assessment and not row.assessment.failed_musts]
    flags = pareto(
        [[row.time, row.fuel, row.heat, row.stall_torque] for row in fine],
        [False, False, False, True],
    )
    marked = {id(row): flag for row, flag in zip(fine, flags, strict=True)}
    done = [replace(row, best=marked.get(id(row), False)) for row in rows]
    return tuple(sorted(done, key=lambda row: row.order))
