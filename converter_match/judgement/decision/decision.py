"""What follows from the criteria: which candidate, why, and what to do before ordering."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from converter_match.answer.block import Block, Heading, row_of
from converter_match.answer.noted import PartOfAnswer
from converter_match.judgement.decision import words
from converter_match.judgement.decision.bolt_on import BoltOnSheet
from converter_match.judgement.decision.comparison import Change, Comparison
from converter_match.judgement.evidence.result import EvidenceResult
from converter_match.judgement.uncertainty.result import UncertaintyResult
from converter_match.judgement.verdict.assessment import Assessment
from converter_match.judgement.verdict.measure import CriterionFinding, Verdict
from converter_match.notes import Note
from converter_match.study.names import whose_in_doubt
from converter_match.study.study import PRESENT, DecisionRule, Study

Code = Literal["order", "conditional", "not-known", "no"]

_FEW = 4
_ROUNDING = 1e-9
_CODES: tuple[Code, ...] = ("order", "conditional", "not-known", "no")  # by `Verdict.severity`


@dataclass(frozen=True, kw_only=True)
class CandidateDecision:
    """What is to be said of one candidate.

    Parameters
    ----------
    combination, name : str
    code : {"order", "conditional", "not-known", "no"}
    probability : float or None
        That all required criteria hold together; None where that was not drawn.
    """

    combination: str
    name: str
    code: Code
    probability: float | None


@dataclass(frozen=True, kw_only=True, repr=False)
class Decision(PartOfAnswer):
    """The decision that the numbers lead to; to be signed by a person, not by a program.

    Parameters
    ----------
    headline : Note
        One sentence.
    reasons : tuple of Note
        Why, in sentences.
    before_ordering : tuple of Note
        What to find out, measure or settle first.
    rule : Note
        How it was made.
    candidates : tuple of CandidateDecision
        Best first; the first is the one that is decided on, also where it cannot be ordered.
    """

    headline: Note
    reasons: tuple[Note, ...]
    before_ordering: tuple[Note, ...]
    rule: Note
    candidates: tuple[CandidateDecision, ...]

    @property
    def code(self) -> Code:
        """Of the first candidate: ``order``, ``conditional``, ``not-known`` or ``no``."""
        return self.candidates[0].code

    @property
    def combination(self) -> str:
        """Id of the first candidate."""
        return self.candidates[0].combination

    @property
    def probability(self) -> float | None:
        """That all required criteria of the first hold together; None where it was not drawn."""
        return self.candidates[0].probability

    @property
    def ranking(self) -> tuple[str, ...]:
        """Ids of the candidates, best first."""
        return tuple(item.combination for item in self.candidates)

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
            (Heading("probability", ""), self.probability),
            (Heading("headline", ""), self.headline),
            (Heading("rule", ""), self.rule),
            (Heading("reasons", ""), self.reasons),
            (Heading("before_ordering", ""), self.before_ordering),
            (Heading("ranking", ""), self.ranking),
        )
        return (
            Block("decision", facts=facts, in_text=False),
            Block("", title=f"Decision: {self.word}", above=(self.headline,), in_plain=False),
            Block("", title="Why", items=self.reasons, below=(self.rule,), in_plain=False),
            Block(
                "decision",
                title="Candidates, the best first",
                columns=_CANDIDATE,
                rows=tuple(
                    (*row_of(item, _CANDIDATE[:3]), item.probability, item.probability)
                    for item in self.candidates
                ),
                rows_key="candidates",
            ),
            Block("", title="Before ordering", items=self.before_ordering, in_plain=False),
        )


_CANDIDATE = (
    Heading("combination", ""),
    Heading("name", "candidate"),
    Heading("code", "decision", choices=words.DECISIONS),
    Heading("probability", ""),
    Heading("", "all required hold in", "weight_share", ".1f"),
)


def decide(
    study: Study,
    assessments: Sequence[Assessment],
    sheets: Sequence[BoltOnSheet],
    comparison: Comparison,
    uncertainty: UncertaintyResult | None = None,
    evidence: EvidenceResult | None = None,
    outside: Collection[str] = (),
) -> Decision:
    """Return the decision, made once with everything that is known.

    Candidates rank by what is to be said of them, then by failed musts, the probability of all
    musts where it is less than asked for, failed shoulds, interface items that differ, criteria
    that are marginal or not known, the probability in whole per cent, and at last by the order of
    the study.

    Parameters
    ----------
    study : Study
    assessments, sheets : sequence
        One of each combination.
    comparison : Comparison
    uncertainty : UncertaintyResult, optional
        What the draws come to, where the study gives tolerances: after the readings, where they
        count.
    evidence : EvidenceResult, optional
        What the readings come to. Where they contradict what is believed, or nothing can be made
        of them, nothing can be ordered until that is settled.
    outside : collection of str
        Ids of candidates whose engine is corrected for a site beyond what the formula holds for.
    """
    unsettled = not (evidence.accepted if evidence is not None else not study.measurements)
    by_id = {sheet.combination: sheet for sheet in sheets}
    rule = study.rule
    chances = {
        item.combination: None if uncertainty is None else _chance(uncertainty, item)
        for item in assessments
    }

    def order(item: Assessment) -> tuple[float, ...]:
        chance = chances[item.combination]
        known = 1.0 if chance is None else round(chance, 2)
        return (
            _severity(item, chance, rule),
            len(item.failed_musts),
            -min(known, rule.order_probability),
            len(item.failed_shoulds),
            len(by_id[item.combination].of("differs")),
            len(item.unknown) + len(item.marginal),
            -known,
        )

    ranked = sorted((item for item in assessments if item.combination != PRESENT), key=order)
    first = ranked[0]
    sheet = by_id[first.combination]
    candidates = tuple(
        CandidateDecision(
            combination=item.combination,
            name=item.name,
            code=code_of(
                item,
                chances[item.combination],
                by_id[item.combination],
                rule,
                unsettled=unsettled or bool(_doubts(study, item.combination, outside)),
            ),
            probability=chances[item.combination],
        )
        for item in ranked
    )
    doubt = (
        _doubt(study, candidates[0], uncertainty),
        *_read(study, candidates[0], evidence),
        *_in_doubt(_doubts(study, first.combination, outside)),
    )
    reasons = _reasons(first, ranked, comparison, doubt)
    return Decision(
        headline=_headline(candidates, first, rule),
        reasons=reasons,
        before_ordering=(
            *_settle_readings(study, evidence),
            *_settle_data(_doubts(study, first.combination, outside)),
            *_before_ordering(first, sheet, drawn=uncertainty is not None),
        ),
        rule=_rule(rule, drawn=uncertainty is not None, read=evidence is not None),
        candidates=candidates,
    )


def code_of(
    item: Assessment,
    probability: float | None,
    sheet: BoltOnSheet,
    rule: DecisionRule,
    *,
    unsettled: bool = False,
) -> Code:
    """Return what is to be said of a candidate.

    Parameters
    ----------
    item : Assessment
    probability : float or None
        That all required criteria hold together; None where it was not drawn.
    sheet : BoltOnSheet
    rule : DecisionRule
    unsettled : bool
        Whether there are readings that nothing can be made of, or data that are in doubt.
    """
    code = _CODES[_severity(item, probability, rule)]
    reserved = bool(sheet.of("differs")) or bool(item.estimated) or unsettled
    return "conditional" if code == "order" and reserved else code


def _severity(item: Assessment, probability: float | None, rule: DecisionRule) -> int:
    """Return how much verdicts and draws speak against a candidate, as `Verdict.severity`."""
    doubt, sure = Verdict.PASS, 1.0 if probability is None else probability + _ROUNDING
    if sure < rule.order_probability:
        doubt = Verdict.MARGINAL
    if sure < rule.reject_probability:
        # Draws are made around the middle of an estimate, which is no reason to reject.
        doubt = Verdict.NOT_KNOWN if item.estimated else Verdict.FAIL
    return max(item.verdict.severity, doubt.severity)


def _chance(uncertainty: UncertaintyResult, item: Assessment) -> float | None:
    """Return the probability of all required criteria; certain where none is required."""
    if not any(finding.weight == "must" for finding in item.findings):
        return 1.0
    return uncertainty.of(item.combination).all_musts


def _rule(rule: DecisionRule, *, drawn: bool, read: bool) -> Note:
    if not drawn:
        return words.RULE.note("rule-no-draws")
    code = "rule-with-readings" if read else "rule"
    return words.RULE.note(code, reject=rule.reject_probability, order=rule.order_probability)


def _doubt(study: Study, first: CandidateDecision, uncertainty: UncertaintyResult | None) -> Note:
    """Say how sure it is, or why nothing is said of that."""
    say = words.REASONS.note
    if first.probability is not None and uncertainty is not None:
        draws = float(uncertainty.draws)
        return say("probability", name=first.name, probability=first.probability, draws=draws)
    if uncertainty is not None:
        return say("no-probability", why=words.NOT_ALL_DRAWN)
    return say("no-probability", why=words.NO_DRAWS if study.tolerances else words.NO_TOLERANCES)


def _read(
    study: Study, first: CandidateDecision, evidence: EvidenceResult | None
) -> tuple[Note, ...]:
    """Say what the readings have changed, or that nothing can be made of them."""
    say = words.REASONS.note
    if evidence is None:
        return (say("readings-not-weighed"),) if study.measurements else ()
    if not evidence.accepted:
        odd = tuple(note for item in evidence.readings for note in item.points_to[:1])
        return (say("readings-unsettled", why=odd or evidence.contradictions),)
    odds = next(
        row for row in evidence.odds
        if row.combination == first.combination and not row.criterion
    )  # fmt: skip
    if odds.before is None or odds.after is None:
        return ()
    return (say("readings-count", before=odds.before, after=odds.after),)


def _settle_readings(study: Study, evidence: EvidenceResult | None) -> tuple[Note, ...]:
    """Return what is to be done about readings that nothing can be made of."""
    if evidence is None or evidence.accepted:
        return ()
    odd = [item for item in evidence.readings if item.points_to]
    titles = [item.title for item in odd] or [item.title for item in evidence.readings]
    return (words.STEPS.note("settle-readings", titles=titles),)


def _doubts(study: Study, combination: str, outside: Collection[str]) -> tuple[str, ...]:
    """Return what of a combination's data is in doubt, each once."""
    whose = whose_in_doubt(study.doubts, (combination, PRESENT))
    return (*whose, words.CORRECTED_TOO_FAR) if combination in outside else whose


def _in_doubt(whose: Sequence[str]) -> tuple[Note, ...]:
    return (words.REASONS.note("data-in-doubt", whose=", ".join(whose)),) if whose else ()


def _settle_data(whose: Sequence[str]) -> tuple[Note, ...]:
    """Return what is to be done about data that are in doubt."""
    return (words.STEPS.note("settle-data", whose=", ".join(whose)),) if whose else ()


def _headline(
    candidates: Sequence[CandidateDecision], first: Assessment, rule: DecisionRule
) -> Note:
    say, decided = words.HEADLINES.note, candidates[0]
    chance, code = decided.probability, decided.code
    several = "none" if len(candidates) > 1 else "no"
    if code == "no" and first.failed_musts:
        return say(several, name=first.name, failed=_titles(first.failed_musts))
    if chance is not None and code == "no":
        return say(f"{several}-unlikely", name=first.name, probability=chance)
    if chance is not None and code == "conditional" and chance < rule.order_probability:
        return say("doubtful", name=first.name, probability=chance)
    return say(code, name=first.name)


def _titles(findings: Sequence[CriterionFinding]) -> str:
    return ", ".join(item.spec.title.lower() for item in findings)


def _reasons(
    first: Assessment,
    ranked: Sequence[Assessment],
    comparison: Comparison,
    doubt: Sequence[Note],
) -> tuple[Note, ...]:
    say = words.REASONS.note
    reasons = [say("verdict", name=first.name, verdict=first.headline), *doubt]
    if first.estimated:
        reasons.append(say("estimated", converters=", ".join(first.estimated)))
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


def _before_ordering(first: Assessment, sheet: BoltOnSheet, *, drawn: bool) -> tuple[Note, ...]:
    say = words.STEPS.note
    steps = [say("find-out", what=what) for what in first.missing]
    if first.estimated:
        steps.append(say("characteristic", converters=", ".join(first.estimated)))
    steps += [] if drawn else [say("tolerances")]
    for row in sheet.of("differs"):
        left, right = row.sides
        sides = {"left": left, "first": row.left, "right": right, "second": row.right}
        steps.append(say("settle", item=row.title, **sides))
    unknown = sheet.of("measure before ordering")
    if unknown:
        steps.append(say("measure", items=", ".join(row.title for row in unknown)))
    return (*steps, say("confirm"), say("prove"))
