"""The part of a report that says what was read, and what it made of what was believed."""

from __future__ import annotations

from converter_match.judgement.decision.run import StudyResult
from converter_match.present.figures.comparison import letters
from converter_match.present.figures.evidence import evidence_figure
from converter_match.present.report.blocks import bullets, parts_of
from converter_match.present.report.model import Paragraph, Part, ReportPicture, Section
from converter_match.units import System, note_text

READINGS = "Readings"
_WIDTHS = {
    "reading": 2.6, "of": 0.7, "figure": 2.6, "criterion": 2.4, "input": 2.6,
    "expected (95 %)": 1.5,
    "before": 1.6, "after": 1.6, "error found in half of the cases": 1.3,
    "off the data, before .. after": 1.5, "standard deviation, before .. after": 1.5,
    "outcome": 1.8,
}  # fmt: skip
"""Head of a column -> share of the page."""


def evidence_sections(result: StudyResult, system: System) -> list[Section]:
    """Return the readings with what they changed; nothing where nothing was read.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}
    """
    read = result.evidence
    if read is None:
        return []
    names = letters(result)
    parts: list[Part] = []
    for note in read.contradictions:
        parts.append(Paragraph(text=note_text(note, system), look="lead"))
    for block in read.named(names).blocks():
        if block.in_text:
            heads = [column.words for column in block.shown_columns()[0]]
            parts += parts_of(block, system, widths=[_WIDTHS.get(head, 1.0) for head in heads])
    if read.accepted:
        page = evidence_figure(read, names=names, font_scale=1.3)
        caption = (
            "Before (wide, pale) and after the readings (narrow, dark): 95 % of the draws, as "
            "change against the middle before."
        )
        picture = ReportPicture(name="readings", figure=page, caption=caption)
        parts.append(picture)
    assumed = [note for note in read.notes if note not in read.contradictions]
    parts.append(bullets(assumed, system, small=True))
    return [Section(title=READINGS, parts=tuple(parts))]
