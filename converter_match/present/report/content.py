"""From the result of a study to the parts of its report."""

from __future__ import annotations

from typing import Any

from converter_match.answer.block import Block, Heading
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.verdict.measure import CriterionFinding
from converter_match.judgement.verdict.words import VERDICTS
from converter_match.present.figures.comparison import letters
from converter_match.present.report.blocks import bullets, report_table
from converter_match.present.report.compared import (
    bolt_on_section,
    comparison_section,
    details_section,
    figure_sections,
)
from converter_match.present.report.model import (
    Bullets,
    Paragraph,
    Part,
    Report,
    Section,
    Signature,
    Subheading,
    Verdicts,
)
from converter_match.present.report.sources import CAUTIONS, assumptions_section, sources_section
from converter_match.present.report.sure import (
    claims_said,
    claims_sections,
    odds,
    probability_sections,
)
from converter_match.units import System, note_text
from converter_match.version import __version__


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
    decision = result.decision
    parts: list[Part] = [
        Verdicts(word=decision.word.upper(), text=note_text(decision.headline, system)),
        Subheading(text="Why"),
        bullets(decision.reasons, system),
        Subheading(text="Confidence"),
        Bullets(items=_sureness(result, system)),
        Subheading(text="Before ordering"),
        bullets(decision.before_ordering, system, numbered=True),
        Paragraph(text=CAUTIONS[0], look="caution"),
        Signature(labels=("Decided by", "Date", "Order no.")),
    ]
    return Section(title="The decision", parts=tuple(parts))


def _sureness(result: StudyResult, system: System) -> tuple[str, ...]:
    first = result.assessment(result.decision.combination)
    notes = () if result.uncertainty is None else odds(result.uncertainty, first.combination)
    said = [note_text(note, system) for note in (*notes, *claims_said(result))]
    known = len(first.findings) - len(first.unknown)
    text = f"{known} of {len(first.findings)} criteria could be judged. "
    text += "What is missing stands below." if first.missing else "No datum is missing."
    if result.uncertainty is None:
        text += " The sheets are taken as they are; no probabilities were calculated."
    return (*said, text)


def _criteria(result: StudyResult, system: System) -> Section:
    names = letters(result)
    caption = "Verdict on every criterion, the worst of all conditions. {}.".format(
        "; ".join(f"{names[item.combination]}: {item.name}" for item in result.assessments)
    )
    widths = (2.5, 1.15, *(1.1 for _ in result.assessments))
    overview = report_table(
        result.criteria(names), system, caption=caption, name="criteria-overview", widths=widths
    )
    parts: list[Part] = [overview]
    for name in result.decision.ranking:
        item = result.assessment(name)
        parts.append(Subheading(text=f"{names[item.combination]}: {item.name}"))
        parts.append(Paragraph(text=item.headline))
        # Why each criterion is there is told once, with the candidate that comes first.
        reasons = item.combination == result.decision.combination
        columns, widths = (4, (1.5, 0.85, 3.5, 3.0)) if reasons else (3, (2.0, 0.85, 6.0))
        rows = tuple(_row(finding)[:columns] for finding in item.findings)
        table = Block("", columns=_FINDING[:columns], rows=rows)
        parts.append(report_table(table, system, widths=widths))
    for name, why in result.not_applied:
        parts.append(Paragraph(text=f"Not applied: {name} ({why}).", look="small"))
    return Section(title="The criteria", parts=tuple(parts), own_page=True)


_FINDING = (
    Heading("criterion", "criterion"),
    Heading("verdict", "verdict", choices=VERDICTS),
    Heading("measured", "found"),
    Heading("reason", "reason"),
)


def _row(finding: CriterionFinding) -> tuple[Any, ...]:
    title = finding.spec.title + (" (mandatory)" if finding.weight == "must" else "")
    return title, finding.verdict, finding.note, finding.spec.reason
