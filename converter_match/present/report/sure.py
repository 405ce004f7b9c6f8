"""Parts of a report that say how sure it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from converter_match.answer.block import Block, Heading, NoValue, Quantity
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.uncertainty.result import UncertaintyResult
from converter_match.judgement.verdict.measure import figure_value
from converter_match.judgement.verdict.words import REQUIREMENTS
from converter_match.notes import Note
from converter_match.present.figures.comparison import letters
from converter_match.present.report.blocks import parts_of, report_table
from converter_match.present.report.first_page import chance
from converter_match.present.report.model import Bullets, Paragraph, Part, Section, SmallTables
from converter_match.present.report.sources import remark
from converter_match.units import System, note_text

SURE = "Confidence"
_MEASURED = (0.3, 3.0, 0.7, 1.0, 0.7, 0.8, 0.7)
CLAIMS = "Basis of the claims"


def probability_sections(result: StudyResult, system: System) -> list[Section]:
    """Return how often criteria hold; nothing where nothing was drawn."""
    sure = result.uncertainty
    if sure is None:
        return []
    names = letters(result)
    heads = tuple(Heading(item.combination, names[item.combination]) for item in sure.combinations)
    numbers = {item.name: f"({row})" for row, item in enumerate(result.study.conditions, 1)}
    listed = "; ".join(f"{number} {name}" for name, number in numbers.items())
    first = "" if result.evidence is None else " This is before the readings, which follow."
    parts: list[Part] = [
        Paragraph(
            text=f"{sure.draws} draws (seed {sure.seed}) within the tolerances of the study; those "
            f"stand with what was typed, at the end.{first}"
        ),
        *_odds_parts(result, sure, heads, system),
        SmallTables(
            caption=f"Between these bounds lie 95 % of the draws. {listed}.",
            tables=(report_table(_interval_table(sure, heads, numbers), system),),
        ),
        *_know_better(result, system),
        Bullets(items=_remarks(sure, system), small=True),
    ]
    return [Section(title=SURE, parts=tuple(parts))]


def _remarks(sure: UncertaintyResult, system: System) -> tuple[str, ...]:
    """Return the notes, each message once."""
    messages: dict[str, dict[Note, tuple[str, ...]]] = {}
    for note in sure.notes:
        messages.setdefault(note.message, {})[note] = ()
    return tuple(remark(variants, system) for variants in messages.values())


def _know_better(result: StudyResult, system: System) -> list[Part]:
    """Return the readings for the first candidate, and what to measure for the others."""
    if result.measure_next is None:
        return []
    first = result.measure_next.of(result.decision.combination)
    parts: list[Part] = []
    if first is not None and first.readings:  # what follows from them stands on page one
        block = replace(first.block(), above=(), below=first.notes)
        parts += parts_of(block, system, widths=_MEASURED)
    others = [item for item in result.measure_next.candidates if item is not first]
    said = tuple(note_text(item.note, system) for item in others)
    return [*parts, Bullets(items=said, small=True)] if said else parts


def _odds_parts(
    result: StudyResult, sure: UncertaintyResult, heads: tuple[Heading, ...], system: System
) -> list[Part]:
    """Return how often criteria are met, and in one sentence those that always are."""
    rows, certain = [], []
    for choice in result.study.criteria:
        chances = []
        for item in sure.combinations:
            held = (row.probability for row in item.criteria if row.name == choice.name)
            probability = next(held, None)
            chances.append(None if probability is None else chance(probability))
        known = {said for said in chances if said is not None}
        if known == {chance(1.0)}:
            certain.append(choice.spec.title.lower())
        elif known:
            rows.append((choice.spec.title, choice.weight, *chances))
    columns = (
        Heading("criterion", "criterion"),
        Heading("weight", "requirement", choices=REQUIREMENTS),
        *heads,
    )
    title = "How often a criterion is met, in every condition at once; – where it was not drawn"
    block = Block("", title=title, columns=columns, rows=tuple(rows))
    parts: list[Part] = []
    if rows:
        parts.append(report_table(block, system, widths=(2.4, 1.15, *(1.3 for _ in heads))))
    if certain:
        text = f"Met in {chance(1.0)} by all for which it was drawn: {', '.join(certain)}."
        parts.append(Paragraph(text=text, look="small"))
    return parts


def _interval_table(
    sure: UncertaintyResult, heads: tuple[Heading, ...], numbers: Mapping[str, str]
) -> Block:
    drawn = [{(one.name, one.condition): one for one in item.figures} for item in sure.combinations]
    every = {key: one for figures in reversed(drawn) for key, one in figures.items()}
    order = list(dict.fromkeys(name for figures in drawn for name, _ in figures))
    rows = []
    for name, condition in sorted(every, key=lambda key: order.index(key[0])):
        one = every[name, condition]
        found = (figures.get((name, condition)) for figures in drawn)
        intervals = [None if i is None else _interval(i.low, i.high, i.dimension) for i in found]
        rows.append((one.title, numbers[condition], *intervals))
    return Block(
        "",
        columns=(Heading("figure", "figure"), Heading("condition", "at"), *heads),
        rows=tuple(rows),
    )


def _interval(
    low: float | None, high: float | None, dimension: str
) -> Quantity | tuple[Quantity | NoValue, ...] | None:
    if low is None or high is None:
        return None
    lowest, highest = figure_value(low, dimension), figure_value(high, dimension)
    if isinstance(lowest, Quantity) and isinstance(highest, Quantity):
        return replace(lowest, value=(low, high))  # one unit behind both
    return lowest, highest


def claims_said(result: StudyResult) -> tuple[Note, ...]:
    """Return for each claim that does not agree what to say about it in a sentence."""
    names = letters(result)
    claims = result.audit.claims if result.audit is not None else ()
    notes = (item.sentence(names[item.claim.combination]) for item in claims)
    return tuple(note for note in notes if note is not None)


def claims_sections(result: StudyResult, system: System) -> list[Section]:
    """Return every claim against our figure; nothing where nothing is claimed."""
    if result.audit is None:
        return []
    table, *remarks = result.audit.read(letters(result))
    parts: list[Part] = [
        Paragraph(
            text="What others say, and what is calculated here from the data given. A remark is a "
            "question to ask, not an accusation."
        ),
        report_table(table, system, widths=(1.8, 1.5, 1.1, 1.0, 1.1, 1.1, 1.1, 1.1)),
    ]
    for block in remarks:
        parts += parts_of(block, system)
    notes = (Paragraph(text=note_text(note, system), look="small") for note in result.audit.notes)
    return [Section(title=CLAIMS, parts=(*parts, *notes))]
