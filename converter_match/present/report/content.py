"""From the result of a study to the parts of its report."""

from __future__ import annotations

from converter_match.answer.block import Heading
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.verdict.measure import CriterionFinding, figure_value
from converter_match.judgement.verdict.words import REQUIREMENTS, VERDICTS
from converter_match.present.figures.comparison import letters
from converter_match.present.report.blocks import bullets, marked
from converter_match.present.report.compared import (
    bolt_on_section,
    comparison_section,
    details_section,
    figure_sections,
)
from converter_match.present.report.evidence import evidence_sections
from converter_match.present.report.first_page import first_page, particulars
from converter_match.present.report.inputs import inputs_section
from converter_match.present.report.model import (
    Bullets,
    Paragraph,
    Part,
    Report,
    Section,
    Subheading,
    table,
)
from converter_match.present.report.sources import assumptions_section
from converter_match.present.report.sure import claims_said, claims_sections, probability_sections
from converter_match.units import System, note_text
from converter_match.version import __version__

_NONE = "–"
_ON_PAGE_ONE = ("probability", "no-probability", "readings-count")


def report_of(result: StudyResult, system: System = "si") -> Report:
    """Return the report of a study.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}
        US units are printed on Letter paper, others on A4.
    """
    study = result.study
    sections = [
        first_page(result, system),
        _reasons(result, system),
        _criteria(result, system),
        comparison_section(result, system),
        *figure_sections(result, system),
        *probability_sections(result, system),
        *evidence_sections(result, system),
        *claims_sections(result, system),
        bolt_on_section(result),
        details_section(result, system),
        assumptions_section(result, system),
        inputs_section(result, system),
    ]
    return Report(
        title=study.name,
        subtitle=" ".join(study.question.split()),
        footer=f"{study.id}; converter-match {__version__}; source of the study: {study.source}",
        sections=tuple(sections),
        particulars=particulars(study),
        paper="letter" if system == "us" else "a4",
    )


def _reasons(result: StudyResult, system: System) -> Section:
    decision = result.decision
    # The probability stands on page one.
    reasons = [note for note in decision.reasons if note.code not in _ON_PAGE_ONE]
    parts: list[Part] = [bullets(reasons, system)]
    said = claims_said(result)
    if said:
        parts += [Subheading(text="Claims"), bullets(said, system)]
    parts += [
        Subheading(text="Before ordering"),
        bullets(decision.before_ordering, system, numbered=True),
    ]
    return Section(title="Why", parts=tuple(parts), own_page=True)


def _criteria(result: StudyResult, system: System) -> Section:
    names = letters(result)
    rows = []
    for choice in result.study.criteria:
        findings = [item.finding(choice.name) for item in result.assessments]
        if any(findings):
            cells = [_cell(item, system) for item in findings]
            rows.append((f"{choice.spec.title}, {REQUIREMENTS[choice.weight]}", *cells))
    overall = [marked(VERDICTS[item.verdict], str(item.verdict)) for item in result.assessments]
    rows.append(("Overall", *overall))
    heads = [names[item.combination] for item in result.assessments]
    parts: list[Part] = [
        table(
            "Verdict, value and what is required, in the worst of all conditions",
            ("criterion", *heads),
            rows,
            name="criteria-overview",
            widths=(1.9, *(1.3 for _ in heads)),
            left=1 + len(heads),
        )
    ]
    parts += _said(result, system)
    for name, why in result.not_applied:
        parts.append(Paragraph(text=f"Not applied: {name} ({why}).", look="small"))
    return Section(title="The criteria", parts=tuple(parts))


def _cell(finding: CriterionFinding | None, system: System) -> str:
    """Return verdict, value and bounds of one criterion."""
    if finding is None:
        return _NONE
    lines, measure = [VERDICTS[finding.verdict]], finding.worst.measure

    def text(value: float) -> str:
        return Heading("", "").text(figure_value(value, measure.dimension), system)

    if measure.value is not None and not measure.missing:
        bounds = [
            f"{word} {text(bound)}"
            for word, bound in (("min.", measure.least), ("max.", measure.most))
            if bound is not None
        ]
        lines[0] += f": {text(measure.value)}"
        lines += [", ".join(bounds)] if bounds else []
    return marked("\n".join(lines), str(finding.verdict))


def _said(result: StudyResult, system: System) -> list[Part]:
    """Return what lies behind every verdict that is no pass, with those for whom it holds.

    What is said of the candidate that comes first stands among the reasons.
    """
    names = letters(result)
    said: dict[str, list[str]] = {}
    for choice in result.study.criteria:
        for item in result.assessments:
            finding = item.finding(choice.name)
            first = item.combination == result.decision.combination
            told = first and finding in (*item.failed_musts, *item.failed_shoulds, *item.marginal)
            if finding is not None and str(finding.verdict) != "pass" and not told:
                text = f"{finding.spec.title}: {note_text(finding.note, system)}"
                said.setdefault(text, []).append(names[item.combination])
    if not said:
        return []
    items = tuple(f"{', '.join(who)}: {text}" for text, who in said.items())
    title = "What is not met, marginal or not known, and not among the reasons"
    return [Subheading(text=title), Bullets(items=items, small=True)]
