"""What follows from the criteria: which candidate, why, and what to do before ordering."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import PartOfAnswer
from converter_match.judgement.decision import words
from converter_match.judgement.decision.bolt_on import BoltOnSheet
from converter_match.judgement.decision.comparison import Change, Comparison
from converter_match.judgement.verdict.assessment import Assessment
from converter_match.judgement.verdict.measure import CriterionFinding, Verdict
from converter_match.notes import Note
from converter_match.study.study import PRESENT, Study

Code = Literal["order", "conditional", "not-known", "no"]

_FEW = 4
_CODES: dict[Verdict, Code] = {
    Verdict.PASS: "order",
    Verdict.MARGINAL: "conditional",
    Verdict.NOT_KNOWN: "not-known",
    Verdict.FAIL: "no",
}


@dataclass(frozen=True, kw_only=True, repr=False)
class Decision(PartOfAnswer):
    """The decision that the numbers lead to; to be signed by a person, not by a program.

    Parameters
    ----------
    code : {"order", "conditional", "not-known", "no"}
    combination : str
        Id of the candidate that comes first, also where it cannot be ordered.
    headline : Note
        One sentence.
    reasons : tuple of Note
        Why, in sentences.
    before_ordering : tuple of Note
        What to find out, measure or settle first.
    ranking : tuple of str
        Ids of the candidates, best first.
    """

    code: Code
    combination: str
    headline: Note
    reasons: tuple[Note, ...]
    before_ordering: tuple[Note, ...]
    ranking: tuple[str, ...]

    @property
    def word(self) -> str:
        """What a reader calls the decision."""
        return words.DECISIONS[self.code]

    def blocks(self) -> tuple[Block, ...]:
        """Return the decision, why, and what to do before ordering."""
        facts = (
            (Heading("code", ""), self.code),
            (Heading("kind", ""), words.KINDS[self.code]),
            (Heading("combination", ""), self.combination),
            (Heading("headline", ""), self.headline),
            (Heading("reasons", ""), self.reasons),
            (Heading("before_ordering", ""), self.before_ordering),
            (Heading("ranking", ""), self.ranking),
        )
        return (
            Block("decision", facts=facts, in_text=False),
            Block("", title=f"Decision: {self.word}", above=(self.headline,), in_plain=False),
            Block("", title="Why", items=self.reasons, in_plain=False),
            Block("", title="Before ordering", items=self.before_ordering, in_plain=False),
        )


def decide(
    study: Study,
    assessments: Sequence[Assessment],
    sheets: Sequence[BoltOnSheet],
    comparison: Comparison,
) -> Decision:
    """Return the decision.

    Candidates rank by verdict, then by failed shoulds, interface items that differ, criteria that
    are marginal or not known, and at last by the order of the study.

    Parameters
    ----------
    study : Study
    assessments, sheets : sequence
        One of each combination.
    comparison : Comparison
    """
    by_id = {sheet.combination: sheet for sheet in sheets}

    def order(item: Assessment) -> tuple[int, ...]:
        return (
            item.verdict.severity,
            len(item.failed_musts),
            len(item.failed_shoulds),
            len(by_id[item.combination].of("differs")),
            len(item.unknown) + len(item.marginal),
        )

    candidates = [item for item in assessments if item.combination != PRESENT]
    ranked = sorted(candidates, key=order)
    first = ranked[0]
    sheet = by_id[first.combination]
    differs = sheet.of("differs")
    code = _CODES[first.verdict]
    if differs and code == "order":
        code = "conditional"
    return Decision(
        code=code,
        combination=first.combination,
        headline=_headline(code, first, len(candidates)),
        reasons=_reasons(first, ranked, comparison),
        before_ordering=_before_ordering(first, sheet),
        ranking=tuple(item.combination for item in ranked),
    )


def _headline(code: Code, first: Assessment, count: int) -> Note:
    say = words.HEADLINES.note
    if code != "no":
        return say(code, name=first.name)
    return say("none" if count > 1 else "no", name=first.name, failed=_titles(first.failed_musts))


def _titles(findings: Sequence[CriterionFinding]) -> str:
    return ", ".join(item.spec.title.lower() for item in findings)


def _reasons(
    first: Assessment, ranked: Sequence[Assessment], comparison: Comparison
) -> tuple[Note, ...]:
    say = words.REASONS.note
    reasons = [say("verdict", name=first.name, verdict=first.headline)]
    for item in (*first.failed_musts, *first.failed_shoulds)[:_FEW]:
        spec, measured = item.spec, item.note
        reasons.append(say("not-met", title=spec.title, measured=measured, reason=spec.reason))
    for item in first.marginal[:_FEW]:
        reasons.append(say("marginal", title=item.spec.title, measured=item.note))
    where = comparison.conditions[0]
    judged: tuple[Change, Change] = ("better", "worse")
    for one in judged:
        changes = comparison.changes(first.combination, one, condition=where)
        if changes:
            reasons.append(say(one, condition=where, changes=changes[:_FEW]))
    for other in ranked[1:]:
        titles = _titles(other.failed_musts or other.failed_shoulds)
        said = {"name": other.name, "verdict": other.short}
        reasons.append(
            say("other-not-met", titles=titles, **said) if titles else say("other", **said)
        )
    return tuple(reasons)


def _before_ordering(first: Assessment, sheet: BoltOnSheet) -> tuple[Note, ...]:
    say = words.STEPS.note
    steps = [say("find-out", what=what) for what in first.missing]
    for row in sheet.of("differs"):
        left, right = row.sides
        sides = {"left": left, "first": row.left, "right": right, "second": row.right}
        steps.append(say("settle", item=row.title, **sides))
    unknown = sheet.of("measure before ordering")
    if unknown:
        steps.append(say("measure", items=", ".join(row.title for row in unknown)))
    return (*steps, say("confirm"), say("prove"))
