"""Run a study: every combination in every condition, judged, compared, decided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from converter_match.answer.block import Block, Heading, row_of
from converter_match.answer.noted import PartOfAnswer
from converter_match.answer.remarks import odd_block, said_before
from converter_match.errors import InputError
from converter_match.judgement.audit.result import AuditResult
from converter_match.judgement.decision import words
from converter_match.judgement.decision.bolt_on import BoltOnSheet, bolt_on_sheet
from converter_match.judgement.decision.comparison import Comparison, compare
from converter_match.judgement.decision.decision import Decision, decide
from converter_match.judgement.decision.thresholds import (
    DecidingThreshold,
    deciding_thresholds,
    threshold_block,
)
from converter_match.judgement.evidence.next_reading import NextReadings
from converter_match.judgement.evidence.result import EvidenceResult
from converter_match.judgement.uncertainty.result import UncertaintyResult
from converter_match.judgement.verdict.assessment import Assessment, assess, not_applied
from converter_match.judgement.verdict.measure import Verdict
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.judgement.verdict.words import REQUIREMENTS, VERDICTS
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import OUTSIDE_VALIDITY
from converter_match.study.study import PRESENT, Study
from converter_match.tasks.plain import digest
from converter_match.tasks.sweep import Progress, Store, sweep
from converter_match.tasks.workers import HERE, Workers
from converter_match.version import __version__


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class StudyResult(PartOfAnswer):
    """Everything that a study comes to.

    Parameters
    ----------
    study : Study
    outcomes : tuple of tuple of Outcome
        One tuple for each combination, the present machine first where there is one; in it one
        outcome for each condition of the study.
    assessments : tuple of Assessment
        One for each combination.
    sheets : tuple of BoltOnSheet
        One for each combination.
    comparison : Comparison
    uncertainty : UncertaintyResult or None
        How sure the study is, where it gives tolerances; `with_extras` works it out.
    audit : AuditResult or None
        Whether the claims hold, where it gives some.
    evidence : EvidenceResult or None
        What its readings make of it, where it gives some.
    measure_next : NextReadings or None
        Which reading to take before deciding, where it gives tolerances; None where readings
        contradict what is believed.
    """

    study: Study
    outcomes: tuple[tuple[Outcome, ...], ...]
    assessments: tuple[Assessment, ...]
    sheets: tuple[BoltOnSheet, ...]
    comparison: Comparison
    uncertainty: UncertaintyResult | None = None
    audit: AuditResult | None = None
    evidence: EvidenceResult | None = None
    measure_next: NextReadings | None = None

    @property
    def sure(self) -> UncertaintyResult | None:
        """How sure it is by all that is known: after the readings, where they count."""
        if self.evidence is not None and self.evidence.posterior is not None:
            return self.evidence.posterior
        return self.uncertainty

    @cached_property
    def decision(self) -> Decision:
        """The decision, by all that the result holds."""
        return decide(
            self.study,
            self.assessments,
            self.sheets,
            self.comparison,
            self.sure,
            self.evidence,
            outside={
                row[0].combination.id
                for row in self.outcomes
                if any(note.code == OUTSIDE_VALIDITY for item in row for note in item.notes)
            },
        )

    @cached_property
    def thresholds(self) -> tuple[DecidingThreshold, ...]:
        """Every threshold that a verdict rests on, the nearest first."""
        return deciding_thresholds(self.assessments, self.sure)

    @property
    def fails(self) -> bool:
        """Whether a must-criterion fails for any candidate."""
        return any(
            item.verdict is Verdict.FAIL for item in self.assessments if item.combination != PRESENT
        )

    @property
    def candidates(self) -> tuple[Assessment, ...]:
        """The assessments of the candidates."""
        return tuple(item for item in self.assessments if item.combination != PRESENT)

    def assessment(self, combination: str) -> Assessment:
        """Return the assessment of a combination.

        Raises
        ------
        InputError
            If there is none of that id.
        """
        self.study.combination(combination)
        return next(item for item in self.assessments if item.combination == combination)

    def outcome(self, combination: str, condition: int = 0) -> Outcome:
        """Return what a combination does in a condition, counted from 0.

        Raises
        ------
        InputError
            If there is no such combination or condition.
        """
        self.study.combination(combination)
        items = next(row for row in self.outcomes if row[0].combination.id == combination)
        if not 0 <= condition < len(items):
            raise InputError(
                "there is no such condition",
                field="condition",
                found=condition,
                expected=f"0 to {len(items) - 1}",
            )
        return items[condition]

    @property
    def not_applied(self) -> tuple[tuple[str, str], ...]:
        """Criteria that say nothing in this study, and why."""
        pairs = ((item.name, not_applied(self.study, item)) for item in self.study.criteria)
        return tuple((name, why) for name, why in pairs if why)

    def notes_of(self, combination: str) -> tuple[Note, ...]:
        """Return the notes of a combination over all conditions, each code and text once."""
        items = next(row for row in self.outcomes if row[0].combination.id == combination)
        once: dict[tuple[str, str], Note] = {}
        odd = tuple(said_before(note, where) for where, note in self.study.odd)
        for notes in (odd, *(item.notes for item in items)):
            for note in notes:
                # The same remark with other numbers in another condition is told once.
                once.setdefault((note.code, note.message), note)
        return tuple(once.values())

    def blocks(self) -> Sequence[Block]:
        """Return decision, criteria and differences, and whether the claims hold."""
        study = self.study
        top = ((Heading("schema", ""), _SCHEMA), (Heading("version", ""), __version__))
        said = (
            (Heading("id", ""), study.id),
            (Heading("name", ""), study.name),
            (Heading("source", ""), study.source),
            (Heading("question", ""), study.question.strip()),
        )
        conditions = (Heading("conditions", ""), tuple(item.name for item in study.conditions))
        first, *others = self.comparison.conditions
        below = (
            (words.CHANGES.note("other-conditions", conditions="; ".join(others)),)
            if others
            else ()
        )
        return (
            Block("", title=study.name, in_plain=False),
            Block("", facts=top, in_text=False),
            Block("study", facts=said, in_text=False),
            self.inputs(),
            Block("", facts=(conditions,), in_text=False),
            *self.decision.blocks(),
            Block("", facts=((Heading("fails", ""), self.fails),), in_text=False),
            *(self.measure_next.about(self.decision.ranking) if self.measure_next else ()),
            odd_block(self.study.odd),
            self.criteria(),
            threshold_block(self.thresholds),
            *(
                replace(block, in_plain=False)
                for block in (self.evidence.blocks() if self.evidence else ())
            ),
            *([] if self.evidence is None else [self.evidence.said()]),
            *(block for block in self.comparison.blocks() if block.in_plain),
            replace(self.comparison.condition_table(first), below=below),
            self._not_applied(),
            *(
                replace(block, in_plain=False)
                for block in (self.audit.read() if self.audit else ())
            ),
        )

    def inputs(self) -> Block:
        """Return the files that went in, with their checksums."""
        rows = tuple(row_of(item, _INPUTS) for item in self.study.inputs)
        return Block("inputs", columns=_INPUTS, rows=rows, rows_key="", in_text=False)

    def criteria(self, names: Mapping[str, str] | None = None) -> Block:
        """Return the verdict on every criterion, a column for each combination.

        Parameters
        ----------
        names : mapping of str to str, optional
            Combination id -> head of its column; the id by default.
        """
        ids = [item.combination for item in self.assessments]
        heads = (Heading(name, (names or {}).get(name, name), choices=VERDICTS) for name in ids)
        rows: list[tuple[Any, ...]] = []
        for choice in self.study.criteria:
            findings = [item.finding(choice.name) for item in self.assessments]
            if any(findings):
                verdicts = (None if item is None else item.verdict for item in findings)
                rows.append((choice.spec.title, choice.weight, *verdicts))
        rows.append(("Overall", None, *(item.verdict for item in self.assessments)))
        return Block(
            "", title="Criteria", columns=(*_CRITERIA, *heads), rows=tuple(rows), in_plain=False
        )

    def _not_applied(self) -> Block:
        columns = (Heading("name", ""), Heading("why", ""))
        return Block(
            "criteria_not_applied",
            title="Not applied" if self.not_applied else "",
            columns=columns,
            rows=self.not_applied,
            rows_key="",
            items=tuple(
                words.CHANGES.note("not-applied", name=name, why=why)
                for name, why in self.not_applied
            ),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data that JSON can carry.

        Blocks hold one table each; a study holds the whole results of other rooms, by combination.
        """
        doubts = {
            "uncertainty": self.uncertainty, "audit": self.audit, "evidence": self.evidence,
        }  # fmt: skip
        return {
            **super().to_dict(),
            "combinations": [
                {
                    **assessment.to_dict(),
                    "bolt_on": [row.to_dict() for row in sheet.rows],
                    "results": [_outcome(item) for item in items],
                }
                for assessment, sheet, items in zip(
                    self.assessments, self.sheets, self.outcomes, strict=True
                )
            ],
            **{name: item.to_dict() for name, item in doubts.items() if item is not None},
            **({} if self.measure_next is None else {"measure_next": self.measure_next.plain()}),
        }


_SCHEMA = "converter-match/study-result/1"
_INPUTS = (Heading("role", "read as"), Heading("path", "file"), Heading("sha256", "SHA-256"))
_CRITERIA = (
    Heading("criterion", "criterion"),
    Heading("weight", "requirement", choices=REQUIREMENTS),
)
# Whole curves, which `solve` and `tractive` give for one combination; a study has many.
_CURVES = ("points", "gradeability", "equilibria")


def _short(whole: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in whole.items() if key not in _CURVES}


def _outcome(item: Outcome) -> dict[str, Any]:
    unknown = bool(item.missing)
    return {
        "condition": item.condition.name,
        "site": item.condition.ids[0],
        "pumps": item.condition.pumps,
        "pump_torque_from": None if item.pumps.missing else item.pumps.source,
        "match": None if unknown else _short((item.arranged or item.match).to_dict()),
        "tractive": (None if unknown or item.tractive is None else _short(item.tractive.to_dict())),
        "routes": [
            None if unknown or run is None else _short(run.to_dict()) for run in item.routes
        ],
        "missing": [
            *item.missing,
            *item.missing_at_wheels,
            *(why for why in item.missing_on_routes if why),
        ],
    }


def run_study(
    study: Study,
    progress: Progress | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> StudyResult:
    """Work out every combination of a study in every condition and judge it.

    Parameters
    ----------
    study : Study
    progress : callable, optional
        Called with (done, all, what comes next).
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        Where what a combination does in a condition is kept, and taken from the next time.

    Returns
    -------
    StudyResult

    Raises
    ------
    InputError
        If an engine and a converter cannot be matched at all; the message names the combination.
    """
    count = len(study.conditions)
    places = [(k, row) for k in range(len(study.combinations)) for row in range(count)]
    named = [f"{study.combinations[k].name}: {study.conditions[row].name}" for k, row in places]
    keys = None
    if store is not None:
        keys = [digest(study.combinations[k], study.conditions[row], study.duty)
                for k, row in places]  # fmt: skip
    found = sweep(
        _looked_at, places, shared=study, workers=workers, progress=progress,
        what=[*named, "judging"], store=store, keys=keys, names=named,
    ).all()  # fmt: skip
    outcomes = [found[start : start + count] for start in range(0, len(found), count)]
    present = outcomes[0] if study.present is not None else None
    assessments = tuple(assess(study, items, present) for items in outcomes)
    sheets = tuple(bolt_on_sheet(combination) for combination in study.combinations)
    return StudyResult(
        study=study,
        outcomes=tuple(outcomes),
        assessments=assessments,
        sheets=sheets,
        comparison=compare(study, outcomes),
    )


def _looked_at(study: Study, place: tuple[int, int]) -> Outcome:
    """Return what one combination does in one condition."""
    combination, condition = study.combinations[place[0]], study.conditions[place[1]]
    try:
        return outcome(combination, condition, study.duty)
    except InputError as error:
        raise error.located(source=f"{study.id}: {combination.id}") from None
