"""Run a study: every combination in every condition, judged, compared, decided."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from converter_match.errors import InputError
from converter_match.judgement.decision.bolt_on import BoltOnSheet, bolt_on_sheet
from converter_match.judgement.decision.comparison import Comparison, compare
from converter_match.judgement.decision.decision import Decision, decide
from converter_match.judgement.decision.text import text_of
from converter_match.judgement.verdict.assessment import Assessment, assess, not_applied
from converter_match.judgement.verdict.measure import Verdict
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.notes import Note
from converter_match.study.study import PRESENT, Study
from converter_match.units import System

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, eq=False, kw_only=True)
class StudyResult:
    """Everything that a study found.

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
    decision : Decision
    extras : mapping
        Further results by name (``uncertainty``, ``audit``), each with ``to_dict()``.
    """

    study: Study
    outcomes: tuple[tuple[Outcome, ...], ...]
    assessments: tuple[Assessment, ...]
    sheets: tuple[BoltOnSheet, ...]
    comparison: Comparison
    decision: Decision
    extras: Mapping[str, Any] = field(default_factory=dict)

    def decided(self, system: System) -> Decision:
        """Return the decision with its reasons in a unit system."""
        if system == "si":
            return self.decision
        return decide(self.study, self.assessments, self.sheets, self.comparison, system)

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

    def notes(self, combination: str) -> tuple[Note, ...]:
        """Return the notes of a combination over all conditions, each code and text once."""
        items = next(row for row in self.outcomes if row[0].combination.id == combination)
        found: dict[tuple[str, str], Note] = {}
        for item in items:
            for note in item.notes:
                # The same remark with other numbers in another condition is told once.
                found.setdefault((note.code, note.message), note)
        return tuple(found.values())

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data that JSON can carry."""
        from converter_match.version import __version__

        study = self.study
        return {
            "schema": "converter-match/study-result/1",
            "version": __version__,
            "study": {
                "id": study.id,
                "name": study.name,
                "source": study.source,
                "question": study.question.strip(),
            },
            "inputs": [vars(item) for item in study.inputs],
            "conditions": [item.name for item in study.conditions],
            "decision": self.decision.to_dict(),
            "fails": self.fails,
            "combinations": [
                {
                    **assessment.to_dict(),
                    "bolt_on": sheet.to_dict()["items"],
                    "results": [
                        {
                            "condition": item.condition.name,
                            "match": _short((item.arranged or item.match).to_dict()),
                            "tractive": (
                                None if item.tractive is None else _short(item.tractive.to_dict())
                            ),
                            "routes": [
                                None if run is None else _short(run.to_dict())
                                for run in item.routes
                            ],
                            "missing": [
                                *item.missing_at_wheels,
                                *(why for why in item.missing_on_routes if why),
                            ],
                        }
                        for item in items
                    ],
                }
                for assessment, sheet, items in zip(
                    self.assessments, self.sheets, self.outcomes, strict=True
                )
            ],
            "comparison": self.comparison.to_dict(),
            "criteria_not_applied": [{"name": name, "why": why} for name, why in self.not_applied],
            **{name: item.to_dict() for name, item in self.extras.items()},
        }

    def text(self, system: System = "si") -> str:
        """Return decision, criteria and differences, readable in a log."""
        return text_of(self, system)

    def __repr__(self) -> str:
        return self.text()


# Whole curves, which `solve` and `tractive` give for one combination; a study has many.
_CURVES = ("points", "gradeability", "equilibria")


def _short(found: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in found.items() if key not in _CURVES}


def run_study(study: Study, progress: Progress | None = None) -> StudyResult:
    """Work out every combination of a study in every condition and judge it.

    Parameters
    ----------
    study : Study
    progress : callable, optional
        Called with (done, all, what comes next).

    Returns
    -------
    StudyResult

    Raises
    ------
    InputError
        If an engine and a converter cannot be matched at all; the message names the combination.
    """
    conditions = study.conditions
    total = len(study.combinations) * len(conditions)
    outcomes = []
    done = 0
    for combination in study.combinations:
        row = []
        for condition in conditions:
            if progress is not None:
                progress(done, total, f"{combination.name}: {condition.name}")
            try:
                row.append(outcome(combination, condition, study.duty))
            except InputError as error:
                where = f"{study.id}: {combination.id}"
                raise error.located(source=where) from None
            done += 1
        outcomes.append(tuple(row))
    if progress is not None:
        progress(total, total, "judging")
    present = outcomes[0] if study.present is not None else None
    assessments = tuple(assess(study, items, present) for items in outcomes)
    sheets = tuple(bolt_on_sheet(combination) for combination in study.combinations)
    comparison = compare(study, outcomes)
    return StudyResult(
        study=study,
        outcomes=tuple(outcomes),
        assessments=assessments,
        sheets=sheets,
        comparison=comparison,
        decision=decide(study, assessments, sheets, comparison),
    )
