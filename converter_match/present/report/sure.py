"""Parts of a report that say how sure it is."""

from __future__ import annotations

from dataclasses import replace

from converter_match.answer.block import Block, Heading, NoValue, Quantity
from converter_match.answer.catalogue import Catalogue
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.uncertainty.result import UncertaintyResult
from converter_match.judgement.verdict.measure import figure_value
from converter_match.judgement.verdict.words import REQUIREMENTS
from converter_match.notes import Note
from converter_match.present.figures.comparison import letters
from converter_match.present.report.blocks import parts_of, report_table
from converter_match.present.report.model import Paragraph, Part, Section
from converter_match.study.doubts import Tolerance
from converter_match.units import System, note_text, shown_text

SURE = "Confidence"
CLAIMS = "Basis of the claims"


_ODDS = Catalogue(
    {
        "all": (
            "warning",
            "With the tolerances of the study every required criterion is met at once in {chance} "
            "of {draws:.0f} draws.",
        ),
        "least": (
            "warning",
            "Of the required criteria that could be drawn ({count:.0f}, with the tolerances of the "
            "study, {draws:.0f} draws), the least sure is {title}: it is met in {chance}.",
        ),
        "doubtful": ("warning", "Uncertain (how often it is met): {criteria}."),
        "stall-speed": (
            "warning",
            "Stall speed, 95 % of the draws: {low} to {high} ({condition}).",
        ),
        "measure-first": (
            "warning",
            "Measure first: {quantity}, which makes {share:share .0f} of the uncertainty of "
            "{about}.",
        ),
    }
)


def odds(sure: UncertaintyResult, combination: str) -> tuple[Note, ...]:
    """Return what the draws say about one combination, in sentences."""
    drawn, say = sure.of(combination), _ODDS.note
    notes = []
    held = [row for row in drawn.criteria if row.weight == "must" and row.probability is not None]
    if drawn.all_musts is not None:
        notes.append(say("all", chance=chance(drawn.all_musts), draws=sure.draws))
    elif held:
        least = min(held, key=lambda row: row.probability or 0.0)
        likely = chance(least.probability or 0.0)
        title = least.title.lower()
        notes.append(say("least", count=len(held), draws=sure.draws, title=title, chance=likely))
    doubtful = [
        f"{row.title.lower()} {chance(row.probability)}"
        for row in drawn.criteria
        if row.probability is not None and 0.005 < row.probability < 0.995
    ]
    if doubtful:
        notes.append(say("doubtful", criteria=", ".join(doubtful)))
    speed = drawn.figure("stall-speed")
    if speed.low is not None and speed.high is not None:
        low, high = (figure_value(value, speed.dimension) for value in (speed.low, speed.high))
        notes.append(say("stall-speed", low=low, high=high, condition=speed.condition))
    if drawn.measure_first:
        first = drawn.measure_first[0]
        quantity, about = first.words, first.about.lower()
        notes.append(say("measure-first", quantity=quantity, share=first.share, about=about))
    return tuple(notes)


def chance(probability: float) -> str:
    """Return a probability in words that claim no more than draws can know.

    Examples
    --------
    >>> chance(1.0), chance(0.834), chance(0.0)
    ('more than 99 %', '83 %', 'less than 1 %')
    """
    if probability > 0.99:
        return "more than 99 %"
    return "less than 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"


def probability_sections(result: StudyResult, system: System) -> list[Section]:
    """Return how often criteria hold; nothing where nothing was drawn."""
    sure = result.uncertainty
    if sure is None:
        return []
    words = ", ".join(_tolerance(item, system) for item in sure.tolerances)
    names = letters(result)
    heads = tuple(Heading(item.combination, names[item.combination]) for item in sure.combinations)
    criteria, figures = _odds_table(result, sure, heads), _interval_table(sure, heads)
    parts: list[Part] = [
        Paragraph(text=f"{sure.draws} draws (seed {sure.seed}) within the tolerances: {words}."),
        report_table(criteria, system, widths=(2.4, 1.15, *(1.3 for _ in heads))),
        report_table(figures, system, widths=(1.9, 2.1, *(1.5 for _ in heads))),
        *(Paragraph(text=note_text(note, system), look="small") for note in sure.notes),
    ]
    return [Section(title=SURE, parts=tuple(parts), own_page=True)]


def _odds_table(result: StudyResult, sure: UncertaintyResult, heads: tuple[Heading, ...]) -> Block:
    rows = []
    for choice in result.study.criteria:
        chances = []
        for item in sure.combinations:
            held = (row.probability for row in item.criteria if row.name == choice.name)
            probability = next(held, None)
            chances.append(None if probability is None else chance(probability))
        if any(chances):
            rows.append((choice.spec.title, choice.weight, *chances))
    return Block(
        "",
        title="How often each criterion is met, in every condition at once; – where it was not "
        "drawn",
        columns=(
            Heading("criterion", "criterion"),
            Heading("weight", "requirement", choices=REQUIREMENTS),
            *heads,
        ),
        rows=tuple(rows),
    )


def _interval_table(sure: UncertaintyResult, heads: tuple[Heading, ...]) -> Block:
    rows = []
    for one in sure.combinations[0].figures:
        intervals = []
        for item in sure.combinations:
            drawn = item.figure(one.name, one.condition)
            intervals.append(_interval(drawn.low, drawn.high, one.dimension))
        rows.append((one.title, one.condition, *intervals))
    return Block(
        "",
        title="Between these bounds lie 95 % of the draws",
        columns=(Heading("figure", "figure"), Heading("condition", "condition"), *heads),
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


def _tolerance(item: Tolerance, system: System) -> str:
    amount = "temperature_difference" if item.quantity == "air-temperature" else "share"
    name = item.quantity.replace("-", " ") + (f" of {item.of}" if item.of else "")
    shift = shown_text(item.shift, amount, system, "+.3g") + " " if item.shift else ""
    band = shown_text(item.half_width, amount, system, ".3g")
    return f"{name} {shift}±{band} ({item.distribution})"


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
