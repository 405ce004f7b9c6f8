"""Every threshold that a verdict rests on, with how far the value is from it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.judgement.decision.words import BOUNDS, NEAREST_FIRST
from converter_match.judgement.uncertainty.result import UncertaintyResult
from converter_match.judgement.verdict.assessment import Assessment
from converter_match.judgement.verdict.measure import (
    CriterionFinding,
    Verdict,
    figure_value,
    reserve,
    unit_of,
)
from converter_match.judgement.verdict.words import VERDICTS
from converter_match.study.study import PRESENT

# A reserve that is a difference of temperatures is set beside shares as if a kelvin were a per
# cent: oil at its limit is some 100 K above the air (common practice, no source).
_KELVIN = 0.01


@dataclass(frozen=True, kw_only=True)
class DecidingThreshold:
    """A bound of one criterion for one combination, in the condition that decides. SI units.

    Parameters
    ----------
    criterion, title, combination, condition : str
    bound : {"least", "most"}
        The nearer of the two.
    value, threshold, reserve : float
        Reserve: share of the threshold by which it is kept, below zero where it is not; a
        difference where `absolute`.
    dimension : str
        Of value and threshold.
    absolute : bool
    verdict : Verdict
    probability : float or None
        That the criterion holds; None where it was not drawn.
    """

    criterion: str
    title: str
    combination: str
    condition: str
    bound: str
    value: float
    threshold: float
    reserve: float
    dimension: str
    absolute: bool
    verdict: Verdict
    probability: float | None

    @property
    def nearness(self) -> float:
        """What the table is sorted by."""
        return abs(self.reserve) * (_KELVIN if self.dimension == "temperature" else 1.0)

    @property
    def row(self) -> tuple[object, ...]:
        """For `_COLUMNS`."""
        asked = figure_value(self.threshold, self.dimension)
        kept = Quantity(self.reserve, "weight_share", "+.1f")
        if self.dimension == "temperature":
            kept = Quantity(self.reserve, "temperature_difference", "+.0f")
        return (
            *(self.criterion, self.title, self.combination, self.condition),
            *(self.value, figure_value(self.value, self.dimension)),
            *(self.bound, self.threshold, BOUNDS.note(self.bound, value=asked)),
            *(self.dimension, unit_of(self.dimension), self.reserve, kept),
            *(self.verdict, self.probability, self.probability),
        )


_COLUMNS = (
    Heading("criterion", ""),
    Heading("title", "criterion"),
    Heading("combination", "combination"),
    Heading("condition", "condition"),
    Heading("value", ""),
    Heading("", "value"),
    Heading("bound", ""),
    Heading("threshold", ""),
    Heading("", "threshold"),
    Heading("dimension", ""),
    Heading("unit", ""),
    Heading("reserve", ""),
    Heading("", "reserve"),
    Heading("verdict", "verdict", choices=VERDICTS),
    Heading("probability", ""),
    Heading("", "holds in", "weight_share", ".1f"),
)


def deciding_thresholds(
    assessments: Sequence[Assessment], uncertainty: UncertaintyResult | None = None
) -> tuple[DecidingThreshold, ...]:
    """Return the threshold of every criterion of the candidates that has one, the nearest first.

    Parameters
    ----------
    assessments : sequence of Assessment
    uncertainty : UncertaintyResult, optional
    """
    found = []
    for item in assessments:
        if item.combination == PRESENT:
            continue
        chances = {}
        if uncertainty is not None:
            odds = uncertainty.of(item.combination).criteria
            chances = {row.name: row.probability for row in odds}
        for finding in item.findings:
            one = _deciding(item.combination, finding, chances.get(finding.choice.name))
            found += [] if one is None else [one]
    return tuple(sorted(found, key=lambda one: one.nearness))


def _deciding(
    combination: str, finding: CriterionFinding, probability: float | None
) -> DecidingThreshold | None:
    worst = finding.worst
    measure = worst.measure
    if measure.value is None or measure.missing:
        return None
    # A margin is all that is asked for where a bound of zero would say nothing.
    margin = dict(finding.choice.thresholds).get("margin", 0.0)
    least = margin if measure.least == 0.0 else measure.least
    bounds = {"least": (least, None), "most": (None, measure.most)}
    kept = {
        name: float(reserve(measure.value, *pair, absolute=measure.absolute))
        for name, pair in bounds.items()
    }
    bound = min(kept, key=lambda name: kept[name])
    threshold = least if bound == "least" else measure.most
    if threshold is None or not math.isfinite(kept[bound]):
        return None
    return DecidingThreshold(
        criterion=finding.choice.name,
        title=finding.spec.title,
        combination=combination,
        condition=worst.condition,
        bound=bound,
        value=measure.value,
        threshold=threshold,
        reserve=kept[bound],
        dimension=measure.dimension,
        absolute=measure.absolute,
        verdict=worst.verdict,
        probability=probability,
    )


def threshold_block(rows: Sequence[DecidingThreshold]) -> Block:
    """Return the table of the thresholds."""
    return Block(
        "thresholds",
        title=NEAREST_FIRST if rows else "",
        columns=_COLUMNS,
        rows=tuple(item.row for item in rows),
        rows_key="",
    )
