"""Parts of a report that say what it rests on."""

from __future__ import annotations

from converter_match.judgement.decision.run import StudyResult
from converter_match.present.figures.comparison import letters
from converter_match.present.report.model import (
    Bullets,
    Part,
    Section,
    Subheading,
)
from converter_match.units import System, note_text

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
    parts += [Subheading(text="Wherever this is used"), Bullets(items=CAUTIONS[1:], small=True)]
    return Section(title="Assumptions and cautions", parts=tuple(parts))
