"""Parts of a report that say what it rests on."""

from __future__ import annotations

from converter_match.judgement.decision.run import StudyResult
from converter_match.present.figures.comparison import letters
from converter_match.present.report.model import (
    Block,
    Bullets,
    Heading,
    Section,
    table,
)
from converter_match.units import System, note_text, show
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
    told: dict[tuple[str, str, str], list[str]] = {}
    for combination in result.study.combinations:
        for note in result.notes(combination.id):
            key = (note.kind, note.code, note_text(note, system))
            told.setdefault(key, []).append(names[combination.id])
    blocks: list[Block] = []
    for title, kinds in (
        ("Assumed where data are missing", ("assumption",)),
        ("Limits that are exceeded", ("limit",)),
        ("Warnings", ("warning",)),
        ("Cautions", ("caution",)),
    ):
        items = tuple(
            f"{text} [{code}; {', '.join(who)}]"
            for (kind, code, text), who in told.items()
            if kind in kinds
        )
        if items:
            blocks += [Heading(text=title), Bullets(items=items, small=True)]
    blocks += [Heading(text="Wherever this is used"), Bullets(items=CAUTIONS, small=True)]
    return Section(title="Assumptions and cautions", blocks=tuple(blocks), own_page=True)


def sources_section(result: StudyResult, system: System) -> Section:
    """Return sources, input files with checksums, and thresholds."""
    study = result.study
    seen: dict[str, str] = {}
    for combination in study.combinations:
        parts = (
            combination.engine,
            combination.converter,
            combination.arrangement,
            combination.driveline,
            combination.machine,
        )
        for part in parts:
            if part is not None:
                seen[f"{type(part).__name__.lower()} {part.id}: {part.name}"] = part.source
    for site in study.sites:
        seen[f"site {site.id}: {site.name}"] = site.source
    for route in study.duty.routes:
        seen[f"route {route.id}: {route.name}"] = route.source
    if study.duty.surface is not None:
        seen[f"surface: {study.duty.surface.name}"] = study.duty.surface.source
    blocks: list[Block] = [
        table("Where the numbers come from", ("what", "source"), list(seen.items()), left=2)
    ]
    if study.inputs:
        blocks.append(
            table(
                f"Files that went in, with the SHA-256 of their bytes; converter-match "
                f"{__version__}",
                ("read as", "file", "SHA-256"),
                [(item.role, item.path, item.sha256) for item in study.inputs],
                widths=(1.5, 2.1, 3.9),
                left=3,
            )
        )
    thresholds = [
        (choice.name, choice.weight, item.name,
         _threshold(choice[item.name], item.dimension, system), item.words)
        for choice in study.criteria
        for item in choice.spec.thresholds
    ]  # fmt: skip
    blocks.append(
        table(
            "Thresholds of this study (common practice, no single source; a study changes them)",
            ("criterion", "weight", "threshold", "value", "what it is"),
            thresholds,
            widths=(1.8, 0.7, 0.9, 0.7, 3.4),
            left=5,
        )
    )
    return Section(title="Sources and inputs", blocks=tuple(blocks), own_page=True)


def _threshold(value: float, dimension: str, system: System) -> str:
    if dimension == "temperature_difference":
        number, unit = show(value, dimension, system)
        return f"{number:.3g} {unit}"
    return f"{100 * value:g} %"
