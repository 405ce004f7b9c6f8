"""Parts of a report that say what it rests on."""

from __future__ import annotations

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.verdict.words import REQUIREMENTS
from converter_match.present.figures.comparison import letters
from converter_match.present.report.blocks import report_table
from converter_match.present.report.model import (
    Bullets,
    Part,
    Section,
    Subheading,
)
from converter_match.study.criteria import Threshold
from converter_match.units import System, note_text
from converter_match.version import __version__

CAUTIONS = (
    "The figures are calculated from the data given. They do not know your machine, and a figure "
    "on paper does not make a test safe. The machine maker's procedure, local codes and site rules "
    "come first; the work belongs to people who are trained, and where the law asks for it "
    "licensed, to do it.",
    "Stall test: the machine can move. Open level ground, nobody in front of, behind or under it, "
    "wheels chocked, brakes tested first, short holds, oil temperature watched, time in neutral to "
    "cool between holds.",
    "Hot oil: a stalled converter turns the engine's whole power into heat. Let it cool before "
    "anything is opened.",
    "Towing: with the engine off a charge pump driven by the converter gives no oil. Do not tow "
    "with driven wheels on the ground unless the machine maker's instructions allow it.",
    "Grades: a converter does not hold a machine on a slope. Calculated gradeability is no "
    "permission to work there.",
)


def assumptions_section(result: StudyResult, system: System) -> Section:
    """Return every assumption, warning and caution."""
    names = letters(result)
    whose: dict[tuple[str, str, str], list[str]] = {}
    for combination in result.study.combinations:
        for note in result.notes_of(combination.id):
            key = (note.kind, note.code, note_text(note, system))
            whose.setdefault(key, []).append(names[combination.id])
    parts: list[Part] = []
    for title, kinds in (
        ("Assumed where data are missing", ("assumption",)),
        ("Limits that are exceeded", ("limit",)),
        ("Warnings", ("warning",)),
        ("Cautions", ("caution",)),
    ):
        items = tuple(
            f"{text} [{code}; {', '.join(who)}]"
            for (kind, code, text), who in whose.items()
            if kind in kinds
        )
        if items:
            parts += [Subheading(text=title), Bullets(items=items, small=True)]
    parts += [Subheading(text="Wherever this is used"), Bullets(items=CAUTIONS, small=True)]
    return Section(title="Assumptions and cautions", parts=tuple(parts), own_page=True)


def sources_section(result: StudyResult, system: System) -> Section:
    """Return sources, input files with checksums, and thresholds."""
    study = result.study
    seen: dict[str, str] = {}
    for combination in study.combinations:
        components = (
            combination.engine,
            combination.converter,
            combination.arrangement,
            combination.driveline,
            combination.machine,
        )
        for part in components:
            if part is not None:
                seen[f"{type(part).__name__.lower()} {part.id}: {part.name}"] = part.source
    for site in study.sites:
        seen[f"site {site.id}: {site.name}"] = site.source
    for route in study.duty.routes:
        seen[f"route {route.id}: {route.name}"] = route.source
    if study.duty.surface is not None:
        seen[f"surface: {study.duty.surface.name}"] = study.duty.surface.source
    sources = Block("", columns=_SOURCE, rows=tuple(seen.items()))
    parts: list[Part] = [report_table(sources, system, caption="Sources of the data")]
    if study.inputs:
        caption = (
            f"Files that went in, with the SHA-256 of their bytes; converter-match {__version__}"
        )
        widths = (1.5, 2.1, 3.9)
        parts.append(report_table(result.inputs(), system, caption=caption, widths=widths))
    rows = tuple(
        (choice.name, choice.weight, item.name, _threshold(choice[item.name], item), item.words)
        for choice in study.criteria
        for item in choice.spec.thresholds
    )
    thresholds = Block(
        "",
        title="Thresholds of this study (common practice, no single source; a study changes them)",
        columns=_THRESHOLD,
        rows=rows,
    )
    parts.append(report_table(thresholds, system, widths=(1.7, 1.0, 0.9, 0.7, 3.2)))
    return Section(title="Sources and inputs", parts=tuple(parts), own_page=True)


_SOURCE = (Heading("what", "what"), Heading("source", "source"))
_THRESHOLD = (
    Heading("criterion", "criterion"),
    Heading("weight", "requirement", choices=REQUIREMENTS),
    Heading("threshold", "threshold"),
    Heading("value", "value"),
    Heading("words", "what it is"),
)


def _threshold(value: float, item: Threshold) -> Quantity:
    if item.dimension == "temperature_difference":
        return Quantity(value, "temperature_difference", ".3g")
    return Quantity(value, "share", "g")
