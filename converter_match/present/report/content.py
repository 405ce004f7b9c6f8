"""From the result of a study to the blocks of its report."""

from __future__ import annotations

from collections.abc import Mapping

from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.verdict.measure import CriterionFinding
from converter_match.present.figures.comparison import letters
from converter_match.present.report.compared import (
    bolt_on_section,
    comparison_section,
    details_section,
    figure_sections,
)
from converter_match.present.report.model import (
    Block,
    Bullets,
    Heading,
    Paragraph,
    Report,
    Section,
    Signature,
    Verdicts,
    table,
)
from converter_match.present.report.sources import CAUTIONS, assumptions_section, sources_section
from converter_match.present.report.sure import (
    claims_said,
    claims_sections,
    odds,
    probability_sections,
)
from converter_match.units import System
from converter_match.version import __version__

WORDS: Mapping[str, str] = {
    "pass": "pass",
    "marginal": "marginal",
    "not known": "not known",
    "fail": "FAIL",
}


def report_of(result: StudyResult, system: System = "si") -> Report:
    """Return the report of a study.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}
    """
    study = result.study
    sections = [
        _decision(result, system),
        _criteria(result, system),
        comparison_section(result, system),
        *figure_sections(result, system),
        *probability_sections(result, system),
        *claims_sections(result, system),
        bolt_on_section(result),
        details_section(result, system),
        assumptions_section(result, system),
        sources_section(result, system),
    ]
    return Report(
        title=study.name,
        subtitle=" ".join(study.question.split()),
        footer=f"{study.id}; converter-match {__version__}; source of the study: {study.source}",
        sections=tuple(sections),
    )


def _decision(result: StudyResult, system: System) -> Section:
    decision = result.decided(system)
    blocks: list[Block] = [
        Verdicts(word=decision.kind.upper(), text=decision.headline),
        Heading(text="Why"),
        Bullets(items=decision.reasons),
        Heading(text="How sure"),
        *_sureness(result, system),
        Heading(text="Before ordering"),
        Bullets(items=decision.before_ordering, numbered=True),
        Paragraph(text=CAUTIONS[0], look="caution"),
        Signature(labels=("Decided by", "Date", "Order no.")),
    ]
    return Section(title="The decision", blocks=tuple(blocks))


def _sureness(result: StudyResult, system: System) -> list[Block]:
    first = result.assessment(result.decision.combination)
    said = []
    found = result.extras.get("uncertainty")
    if found is not None:
        said += odds(found, first.combination, system)
    known = len(first.findings) - len(first.unknown)
    said += claims_said(result, system)
    text = f"{known} of {len(first.findings)} criteria could be judged. "
    text += "What is missing stands below." if first.missing else "No datum is missing."
    if found is None:
        text += " The sheets are taken as they are; no probabilities were worked out."
    return [Bullets(items=(*said, text))]


def _criteria(result: StudyResult, system: System) -> Section:
    names = letters(result)
    rows = []
    for choice in result.study.criteria:
        found = [item.finding(choice.name) for item in result.assessments]
        if any(item is not None for item in found):
            cells = ["–" if item is None else WORDS[str(item.verdict)] for item in found]
            rows.append((choice.spec.title, choice.weight, *cells))
    rows.append(("Overall", "", *(WORDS[str(item.verdict)] for item in result.assessments)))
    head = ("criterion", "weight", *(names[item.combination] for item in result.assessments))
    blocks: list[Block] = [
        table(
            "Verdict on every criterion, the worst of all conditions. "
            + "; ".join(f"{names[item.combination]}: {item.name}" for item in result.assessments)
            + ".",
            head,
            rows,
            name="criteria-overview",
            widths=(2.6, 0.8, *(1.1 for _ in result.assessments)),
            left=2,
        )
    ]
    for name in result.decision.ranking:
        item = result.assessment(name)
        blocks.append(Heading(text=f"{names[item.combination]}: {item.name}"))
        blocks.append(Paragraph(text=item.headline))
        # Why each criterion is there is told once, with the candidate that comes first.
        reasons = item.combination == result.decision.combination
        head = ("criterion", "verdict", "found", "why it is asked for")
        blocks.append(
            table(
                "",
                head if reasons else head[:3],
                [_row(found, system)[: 4 if reasons else 3] for found in item.findings],
                widths=(1.5, 0.85, 3.5, 3.0) if reasons else (2.0, 0.85, 6.0),
                left=4,
            )
        )
    for name, why in result.not_applied:
        blocks.append(Paragraph(text=f"Not applied: {name} ({why}).", look="small"))
    return Section(title="The criteria", blocks=tuple(blocks), own_page=True)


def _row(found: CriterionFinding, system: System) -> tuple[str, ...]:
    title = found.spec.title + (" (must)" if found.weight == "must" else "")
    return title, WORDS[str(found.verdict)], found.words(system), found.spec.reason
