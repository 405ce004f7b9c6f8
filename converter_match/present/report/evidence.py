"""The part of a report that says what was read, and what it made of what was believed."""

from __future__ import annotations

from converter_match.judgement.decision.run import StudyResult
from converter_match.present.drawing.style import figure_of
from converter_match.present.figures.comparison import letters
from converter_match.present.figures.evidence import evidence_figure
from converter_match.present.report.blocks import bullets, parts_of
from converter_match.present.report.model import Paragraph, Part, ReportPicture, Section
from converter_match.units import System, note_text

READINGS = "Readings"


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
    parts: list[Part] = []
    for note in read.contradictions:
        parts.append(Paragraph(text=note_text(note, system), look="lead"))
    for block in read.blocks():
        if block.in_text:
            parts += parts_of(block, system, widths=_widths(len(block.shown_columns()[0])))
    if read.accepted:
        page = evidence_figure(read, names=letters(result), font_scale=1.3)
        caption = (
            "Before (wide, pale) and after the readings (narrow, dark): 95 % of the draws, as "
            "change against the middle before."
        )
        picture = ReportPicture(name="readings", figure=figure_of(page), caption=caption)
        parts.append(picture)
    assumed = [note for note in read.notes if note not in read.contradictions]
    parts.append(bullets(assumed, system, small=True))
    return [Section(title=READINGS, parts=tuple(parts))]


def _widths(columns: int) -> tuple[float, ...]:
    """Return shares of the page: words stand in the first two columns."""
    return (1.8, 1.8, *(1.1 for _ in range(columns - 2)))
