"""The report of a motor study: decision, requirements, figures side by side, what was assumed."""

from __future__ import annotations

import re
from collections.abc import Sequence

from converter_match.answer.block import Block
from converter_match.answer.remarks import odd_block
from converter_match.judgement.motor.study_result import JudgedMotor, MotorStudyResult
from converter_match.present.figures.motor import motor_figure
from converter_match.present.figures.motor_route import motor_route_figure
from converter_match.present.figures.motor_tractive import motor_tractive_figure
from converter_match.present.report.blocks import bullets, parts_of
from converter_match.present.report.model import (
    Paragraph,
    Part,
    Report,
    ReportPicture,
    Section,
    Signature,
    Subheading,
    Verdicts,
)
from converter_match.units import System, note_text
from converter_match.version import __version__

_LONGEST = 60

_SIGNED = ("Decided by", "Date", "Signature")


def motor_study_report(result: MotorStudyResult, system: System = "si") -> Report:
    """Return the report of a motor study.

    Parameters
    ----------
    result : MotorStudyResult
    system : {"si", "us"}
        US units are printed on Letter paper, others on A4.
    """
    study = result.study
    return Report(
        title=study.name,
        subtitle=" ".join(study.question.split()),
        footer=f"{study.id}; converter-match {__version__}; source of the study: {study.source}",
        sections=(
            _decision(result, system),
            *_drawn(result, system),
            Section(title="Figures", parts=tuple(_pictures(result, system)), own_page=True),
            _not_applied(result, system),
            _said(result, system),
        ),
        paper="letter" if system == "us" else "a4",
    )


def _decision(result: MotorStudyResult, system: System) -> Section:
    reasons = [note_text(note, system) for note in result.reasons]
    cautions = [note for note in result.notes if note.kind == "caution"][:1]
    parts: list[Part] = [
        Verdicts(word=result.word, text=reasons[0]),
        *(Paragraph(text=text) for text in reasons[1:]),
        *(Paragraph(text=note_text(note, system), look="caution") for note in cautions),
        *_wide(result.criteria(), system),
        *_wide(result.figures(), system),
        Signature(labels=_SIGNED),
    ]
    return Section(title="Decision", parts=tuple(parts))


def _drawn(result: MotorStudyResult, system: System) -> tuple[Section, ...]:
    """Return how sure the verdicts are; nothing where nothing was drawn."""
    parts = [part for block in result.drawn() for part in _wide(block, system)]
    if not parts:
        return ()
    made = next(note for note in result.notes if note.code == "draws-made")
    said = Paragraph(text=note_text(made, system), look="small")
    return (Section(title="Uncertainty", parts=(*parts, said), own_page=True),)


def _wide(block: Block, system: System) -> list[Part]:
    """Return a table whose first column is the widest."""
    columns = len(block.shown_columns()[0])
    return parts_of(block, system, widths=(2.6, *(1.0,) * (columns - 1)))


def _pictures(result: MotorStudyResult, system: System) -> list[Part]:
    parts: list[Part] = []
    files = _file_names([item.candidate.id for item in result.candidates])
    for item, own in zip(result.candidates, files, strict=True):
        name = item.candidate.name
        parts.append(Subheading(text=name))
        parts += _of(item, own, system)
    return parts


def _file_names(ids: Sequence[str]) -> tuple[str, ...]:
    """Return what the files of each candidate begin with: an id may be any line of text.

    Nothing of a path, no two that differ in capitals only, no device of any system.
    """
    found: list[str] = []
    for id in ids:
        plain = re.sub(r"[^a-z0-9]+", "-", id.casefold()).strip("-")[:_LONGEST] or "candidate"
        names = (plain, *(f"{plain}-{number}" for number in range(2, len(ids) + 2)))
        found.append(next(name for name in names if name not in found))
    return tuple(found)


def _of(item: JudgedMotor, own: str, system: System) -> list[Part]:
    """Return the pictures of a candidate, in files whose names begin with `own`."""
    from converter_match.judgement.motor.solve import solve_with

    name = item.candidate.name
    setup, converter = item.wheels.drive.setup, item.wheels.drive.converter
    parts: list[Part] = []
    if converter is not None:
        figure = motor_figure(solve_with(setup, converter), system=system)
        caption = f"{name}: where motor and converter run together."
        parts.append(ReportPicture(name=f"{own}-match", figure=figure, caption=caption))
    figure = motor_tractive_figure(item.wheels, system=system)
    caption = f"{name}: tractive effort for a time and for good, and the grades."
    parts.append(ReportPicture(name=f"{own}-effort", figure=figure, caption=caption))
    for number, route in enumerate(item.routes, 1):
        figure = motor_route_figure(route, system=system)
        caption = f"{name}: {route.route.name}, speed and electric power."
        parts.append(ReportPicture(name=f"{own}-route-{number}", figure=figure, caption=caption))
    return parts


def _not_applied(result: MotorStudyResult, system: System) -> Section:
    return Section(
        title="What is not asked of a motor", parts=tuple(parts_of(result.not_applied(), system))
    )


def _said(result: MotorStudyResult, system: System) -> Section:
    parts: list[Part] = []
    odd = odd_block(result.study.odd)
    if odd.items:
        parts += [Subheading(text=odd.title), bullets(odd.items, system, small=True)]
    for title, kind in (("Cautions", "caution"), ("Warnings", "warning"),
                        ("Assumptions", "assumption")):  # fmt: skip
        notes = [note for note in result.notes if note.kind == kind]
        if notes:
            parts += [Subheading(text=title), bullets(notes, system, small=True)]
    rows = [f"{item.role}: {item.path} (SHA-256 {item.sha256[:16]}...)" for item in
            result.study.inputs]  # fmt: skip
    parts += [Subheading(text="Files read"), *(Paragraph(text=row, look="small") for row in rows)]
    return Section(title="Cautions, warnings, assumptions", parts=tuple(parts), own_page=True)
