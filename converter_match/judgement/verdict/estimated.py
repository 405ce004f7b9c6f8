"""Verdicts that rest on an estimated converter: judged with everything that it may be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from converter_match.components.converter import Converter
from converter_match.judgement.verdict.measure import CriterionFinding, JudgedMeasure, Verdict
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.words import missing

Outcomes = tuple[Outcome, ...]


def pairs(own: Outcomes, present: Outcomes | None) -> Iterator[tuple[Outcomes, Outcomes | None]]:
    """Yield a combination and the present machine, as data and as each estimate may be as well.

    The first pair is the middle. Where both have the same converter, it is the same one in each
    pair; else every one of the first meets every one of the second.
    """
    mine = _each(own)
    if present is None:
        yield from ((one, None) for one in mine)
    elif present[0].combination.converter == own[0].combination.converter:
        yield from zip(mine, _each(present), strict=True)
    else:
        theirs = _each(present)
        yield from ((one, other) for one in mine for other in theirs)


def _each(outcomes: Outcomes) -> list[Outcomes]:
    return list(zip(*((item, *item.alternatives) for item in outcomes), strict=True))


def estimated(*outcomes: Outcomes | None) -> tuple[str, ...]:
    """Return the ids of the converters that are estimates, each once."""
    known = [items[0].combination.converter for items in outcomes if items]
    return tuple(dict.fromkeys(item.id for item in known if item.estimated))


def alternative(*outcomes: Outcomes | None) -> tuple[Converter, ...]:
    """Return the converters that may be others as well: estimates, and those read in a band."""
    known = [items[0].combination.converter for items in outcomes if items]
    return tuple(dict.fromkeys(item for item in known if item.alternatives))


def over_all(
    findings: Sequence[CriterionFinding], converters: Sequence[Converter]
) -> CriterionFinding:
    """Return one finding from those with everything that an estimated converter may be.

    What does not come out the same for all of them is not known where it fails for one, and
    marginal where it is met by all.

    Parameters
    ----------
    findings : sequence of CriterionFinding
        The middle first.
    converters : sequence of Converter
        Those that may be others as well.
    """
    lacking = " and ".join(
        missing("converter-band" if item.banded else "converter-by-stall", id=repr(item.id))
        for item in converters
    )
    rows = zip(*(item.judged for item in findings), strict=True)
    return replace(findings[0], judged=tuple(_together(row, lacking) for row in rows))


def _together(row: Sequence[JudgedMeasure], lacking: str) -> JudgedMeasure:
    middle, verdicts = row[0], {item.verdict for item in row}
    if len(verdicts) == 1:
        return middle
    if verdicts <= {Verdict.PASS, Verdict.MARGINAL}:
        return next(item for item in row if item.verdict is Verdict.MARGINAL)
    known = dict.fromkeys((lacking, *(what for item in row for what in item.measure.missing)))
    return replace(
        middle,
        measure=replace(middle.measure, missing=tuple(known)),
        verdict=Verdict.NOT_KNOWN,
    )
