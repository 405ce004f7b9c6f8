"""Parts of a report that say how sure it is."""

from __future__ import annotations

from converter_match.judgement.audit.result import AuditedClaim, AuditResult, claimed_amount
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.uncertainty.result import UncertaintyResult
from converter_match.judgement.verdict.measure import amount
from converter_match.present.figures.comparison import letters
from converter_match.present.report.model import (
    Block,
    Paragraph,
    Section,
    table,
)
from converter_match.units import System, note_text, show

SURE = "How sure"
CLAIMS = "What the claims rest on"


def odds(found: UncertaintyResult, combination: str, system: System) -> list[str]:
    """Return what the draws say about one combination, in sentences."""
    drawn = found.of(combination)
    said = []
    if drawn.all_musts is not None:
        said.append(
            f"With the tolerances of the study every must-criterion holds at once in "
            f"{chance(drawn.all_musts)} of {found.draws} draws."
        )
    else:
        held = [
            row for row in drawn.criteria if row.weight == "must" and row.probability is not None
        ]
        if held:
            least = min(held, key=lambda row: row.probability or 0.0)
            said.append(
                f"Of the must-criteria that could be drawn ({len(held)}, with the tolerances of "
                f"the study, {found.draws} draws), the least sure is {least.title.lower()}: it "
                f"holds in {chance(least.probability or 0.0)}."
            )
    doubtful = [
        f"{row.title.lower()} {chance(row.probability)}"
        for row in drawn.criteria
        if row.probability is not None and 0.005 < row.probability < 0.995
    ]
    if doubtful:
        said.append("In doubt (how often it holds): " + ", ".join(doubtful) + ".")
    speed = drawn.figure("stall-speed")
    if speed.low is not None and speed.high is not None:
        said.append(
            f"Stall speed, 95 % of the draws: {amount(speed.low, speed.dimension, system)} to "
            f"{amount(speed.high, speed.dimension, system)} ({speed.condition})."
        )
    if drawn.measure_first:
        first = drawn.measure_first[0]
        said.append(
            f"Measure first: {first.quantity.replace('-', ' ')}, which makes "
            f"{100 * first.share:.0f} % of the doubt about {first.about.lower()}."
        )
    return said


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
    found: UncertaintyResult | None = result.extras.get("uncertainty")
    if found is None:
        return []
    names = letters(result)
    words = ", ".join(_tolerance(*item, system) for item in found.tolerances)
    blocks: list[Block] = [
        Paragraph(text=f"{found.draws} draws (seed {found.seed}) within the tolerances: {words}.")
    ]
    columns = found.combinations
    rows = []
    for choice in result.study.criteria:
        cells = []
        for item in columns:
            held = (row.probability for row in item.criteria if row.name == choice.name)
            probability = next(held, None)
            cells.append("–" if probability is None else chance(probability))
        if any(cell != "–" for cell in cells):
            rows.append((choice.spec.title, choice.weight, *cells))
    head = tuple(names[item.combination] for item in columns)
    blocks.append(
        table(
            "How often each criterion holds, in every condition at once; – where it was not drawn",
            ("criterion", "weight", *head),
            rows,
            widths=(2.6, 0.8, *(1.3 for _ in head)),
            left=2,
        )
    )
    figures = []
    for one in columns[0].figures:
        cells = []
        for item in columns:
            drawn = item.figure(one.name, one.condition)
            if drawn.low is None or drawn.high is None:
                cells.append("–")
                continue
            low, high = (amount(value, one.dimension, system) for value in (drawn.low, drawn.high))
            cells.append(f"{low.rsplit(' ', 1)[0]} to {high}")
        figures.append((one.title, one.condition, *cells))
    blocks.append(
        table(
            "Between these bounds lie 95 % of the draws",
            ("figure", "condition", *head),
            figures,
            widths=(1.9, 2.1, *(1.5 for _ in head)),
            left=2,
        )
    )
    blocks += [Paragraph(text=note_text(note, system), look="small") for note in found.notes]
    return [Section(title=SURE, blocks=tuple(blocks), own_page=True)]


def _tolerance(name: str, width: float, form: str, system: System) -> str:
    if name == "air-temperature":
        number, unit = show(width, "temperature_difference", system)
        band = f"{number:.3g} {unit}"
    else:
        band = f"{100 * width:g} %"
    return f"{name.replace('-', ' ')} ±{band} ({form})"


def claims_said(result: StudyResult, system: System) -> list[str]:
    """Return for each claim that does not agree what to say about it in a sentence."""
    found: AuditResult | None = result.extras.get("audit")
    names = letters(result)
    said = []
    for item in () if found is None else found.claims:
        whom = names[item.claim.combination]
        head = f"Claimed otherwise for {whom}: {item.words(system).splitlines()[0]}"
        if item.verdict == "disagrees":
            why = (
                f"the claim comes out with {item.story.words}"
                if item.story
                else f"none of {item.tried} alternatives tried explains it"
            )
            said.append(f"{head}; {why}. Ask what it rests on.")
        elif item.verdict != "agrees":
            said.append(f"{head}.")
    return said


def claims_sections(result: StudyResult, system: System) -> list[Section]:
    """Return every claim against our figure; nothing where nothing is claimed."""
    found: AuditResult | None = result.extras.get("audit")
    if found is None:
        return []
    names = letters(result)
    rows = []
    for item in found.claims:
        claim = item.claim
        about = claim.quantity.replace("-", " ")
        about += f", gear {claim.gear}" if claim.gear else ""
        about += f", on {100 * claim.grade:g} %" if claim.grade is not None else ""
        ours = "–" if item.ours is None else claimed_amount(item.ours, claim.dimension, system)
        share = "" if item.difference is None else f"{100 * item.difference:+.1f} %"
        rows.append(
            (
                f"{names[claim.combination]}: {about}",
                claim.source or "–",
                item.claimed(system),
                ours,
                share,
                item.verdict,
                item.missing or (item.story.words if item.story else _no_story(item)),
            )
        )
    blocks: list[Block] = [
        table(
            "What others say, and what comes out here from the data given. A remark is a question "
            "to ask, not an accusation.",
            ("claim", "by", "claimed", "ours", "claim less ours", "verdict", "remark"),
            rows,
            widths=(1.7, 1.3, 1.0, 1.0, 0.8, 1.1, 2.3),
            left=7,
        )
    ]
    return [Section(title=CLAIMS, blocks=tuple(blocks))]


def _no_story(item: AuditedClaim) -> str:
    if item.verdict == "agrees":
        return "–"
    return f"none of {item.tried} alternatives tried explains it"
