"""Parts of a report that say what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from string import Formatter

from converter_match.judgement.decision.run import StudyResult
from converter_match.notes import Note
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
    # Remark -> its values -> for whom it holds: what differs in values only is said once.
    said: dict[tuple[str, str, str], dict[Note, list[str]]] = {}
    for combination in result.study.combinations:
        for note in result.notes_of(combination.id):
            variants = said.setdefault((note.kind, note.code, note.message), {})
            variants.setdefault(note, []).append(names[combination.id])
    parts: list[Part] = []
    for title, wanted in (
        ("Assumed where data are missing", "assumption"),
        ("Limits that are exceeded", "limit"),
        ("Warnings", "warning"),
        ("Cautions", "caution"),
    ):
        items = tuple(
            remark(variants, system) for (kind, _, _), variants in said.items() if kind == wanted
        )
        if items:
            parts += [Subheading(text=title), Bullets(items=items, small=True)]
    parts += [Subheading(text="Wherever this is used"), Bullets(items=CAUTIONS[1:], small=True)]
    return Section(title="Assumptions and cautions", parts=tuple(parts))


def remark(variants: Mapping[Note, Sequence[str]], system: System) -> str:
    """Return a remark once, with the values of others that say the same behind it.

    Parameters
    ----------
    variants : mapping of Note to sequence of str
        Notes of one message -> for whom each holds.
    system : {"si", "us"}
    """
    (first, whose), *others = variants.items()
    text = note_text(first, system)
    if whose:
        text = f"{text} [{first.code}; {', '.join(whose)}]"
    likewise = [
        f"{', '.join(who)}: {_values(note, first, system)}" if who else _values(note, first, system)
        for note, who in others
    ]
    if not likewise:
        return text
    return f"{text} Likewise{' for' if whose else ':'} {'; '.join(likewise)}."


def _values(note: Note, first: Note, system: System) -> str:
    """Return the values of a remark that are others than those of the first."""
    before = dict(first.values)
    found = [
        note_text(replace(note, message="{" + name + (f":{form}" if form else "") + "}"), system)
        for _, name, form, _ in Formatter().parse(note.message)
        if name and before.get(name) != dict(note.values).get(name)
    ]
    return ", ".join(dict.fromkeys(found))
