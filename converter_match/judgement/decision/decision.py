"""What follows from the criteria: which candidate, why, and what to do before ordering."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from converter_match.judgement.decision.bolt_on import BoltOnSheet
from converter_match.judgement.decision.comparison import Comparison
from converter_match.judgement.verdict.assessment import Assessment
from converter_match.judgement.verdict.measure import Verdict
from converter_match.study.study import PRESENT, Study
from converter_match.units import System

Kind = Literal["can be ordered", "only with reservations", "not decided", "do not order"]

_FEW = 4
_KIND: dict[Verdict, Kind] = {
    Verdict.PASS: "can be ordered",
    Verdict.MARGINAL: "only with reservations",
    Verdict.NOT_KNOWN: "not decided",
    Verdict.FAIL: "do not order",
}


@dataclass(frozen=True, kw_only=True)
class Decision:
    """The decision that the numbers lead to; to be signed by a person, not by a program.

    Parameters
    ----------
    kind : str
    combination : str
        Id of the candidate that comes first, also where it cannot be ordered.
    headline : str
        One sentence.
    reasons : tuple of str
        Why, in sentences.
    before_ordering : tuple of str
        What to find out, measure or settle first.
    ranking : tuple of str
        Ids of the candidates, best first.
    """

    kind: Kind
    combination: str
    headline: str
    reasons: tuple[str, ...]
    before_ordering: tuple[str, ...]
    ranking: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "kind": self.kind,
            "combination": self.combination,
            "headline": self.headline,
            "reasons": list(self.reasons),
            "before_ordering": list(self.before_ordering),
            "ranking": list(self.ranking),
        }


def decide(
    study: Study,
    assessments: Sequence[Assessment],
    sheets: Sequence[BoltOnSheet],
    comparison: Comparison,
    system: System = "si",
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
    system : {"si", "us"}
        Units of the reasons.
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
    kind = _KIND[first.verdict]
    if differs and kind == "can be ordered":
        kind = "only with reservations"
    return Decision(
        kind=kind,
        combination=first.combination,
        headline=_headline(kind, first, len(candidates)),
        reasons=_reasons(first, ranked, comparison, system),
        before_ordering=_before_ordering(first, sheet),
        ranking=tuple(item.combination for item in ranked),
    )


def _headline(kind: Kind, first: Assessment, count: int) -> str:
    name = first.name
    if kind == "can be ordered":
        return f"{name} can be ordered: every criterion is met."
    if kind == "only with reservations":
        return f"{name} can be ordered once the reservations below are accepted or settled."
    if kind == "not decided":
        return f"{name} comes first, but data that decide about it are missing."
    none = "None of the candidates" if count > 1 else name
    failed = ", ".join(item.spec.title.lower() for item in first.failed_musts)
    nearest = (
        f" The nearest, {name}, fails on: {failed}." if count > 1 else f" It fails on: {failed}."
    )
    return f"{none} can be ordered as described.{nearest}"


def _reasons(
    first: Assessment, ranked: Sequence[Assessment], comparison: Comparison, system: System
) -> tuple[str, ...]:
    reasons = [f"{first.name}: {first.headline}"]
    failed = (*first.failed_musts, *first.failed_shoulds)
    for item in failed[:_FEW]:
        reasons.append(f"{item.spec.title}: {item.words(system)}. {item.spec.reason}")
    for item in first.marginal[:_FEW]:
        reasons.append(f"{item.spec.title} is marginal: {item.words(system)}.")
    where = comparison.conditions[0]
    for word in ("better", "worse"):
        said = comparison.words(first.combination, word, system, condition=where)
        if said:
            reasons.append(f"{word.capitalize()} than today ({where}): {'; '.join(said[:_FEW])}.")
    for other in ranked[1 : 1 + _FEW]:
        # What failed for those that are left out is said where all criteria stand.
        why = other.failed_musts or other.failed_shoulds
        titles = ", ".join(item.spec.title.lower() for item in why)
        reasons.append(f"{other.name}: {other.short}" + (f" Fails: {titles}." if titles else ""))
    if len(ranked) > 1 + _FEW:
        reasons.append(f"And {len(ranked) - 1 - _FEW} more candidates behind these.")
    return tuple(reasons)


def _before_ordering(first: Assessment, sheet: BoltOnSheet) -> tuple[str, ...]:
    steps = [f"Find out: {what}." for what in first.missing]
    for row in sheet.of("differs"):
        left, right = row.sides
        steps.append(
            f"Settle the {row.title}: {left} {row.left!r}, {right} {row.right!r}. Where the two do "
            "not mean the same, it does not bolt on without an adapter or another part."
        )
    unknown = sheet.of("measure before ordering")
    if unknown:
        steps.append("Measure, on both sides: " + ", ".join(row.title for row in unknown) + ".")
    steps.append(
        "Have the engine maker confirm the torque curve as installed (gross or net, which "
        "accessories), and the converter maker the characteristic at your oil."
    )
    steps.append(
        "After installation: prove brakes and run a stall test by the machine maker's procedure."
    )
    return tuple(steps)
