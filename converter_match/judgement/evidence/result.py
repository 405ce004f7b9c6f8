"""What readings come to: how they fit, and what was believed before and after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Block, Facts, Heading, Quantity
from converter_match.answer.noted import Answer
from converter_match.curves import FloatArray
from converter_match.judgement.evidence import words
from converter_match.judgement.uncertainty.judged import Judged
from converter_match.judgement.uncertainty.result import DrawnFigure, UncertaintyResult
from converter_match.judgement.verdict.measure import figure_value, unit_of
from converter_match.judgement.verdict.words import REQUIREMENTS
from converter_match.notes import Note
from converter_match.study.doubts import TOLERANCE_DIMENSIONS
from converter_match.study.measurement import Measurement

_SEEN = 0.005  # a smaller change of a probability is not shown


_FORMS: Mapping[str, tuple[str | None, str]] = MappingProxyType(
    {
        "velocity": ("velocity", ".2f"),
        "force": ("force", ""),
        "time": ("time", ".1f"),
        "length": ("length", ".0f"),
        "temperature_difference": ("temperature_difference", ".1f"),
        "fuel_rate": ("fuel_rate", ".2f"),
        "k_factor": ("k_factor", ".2f"),
        "ratio": (None, ".3f"),
    }
)


def reading_value(value: float | tuple[float, ...], dimension: str) -> Quantity:
    """Return a reading [SI] as it is shown, or a band of it.

    Examples
    --------
    >>> reading_value(2.1, "ratio")
    Quantity(value=2.1, amount=None, form='.3f', change=None)
    """
    amount, form = _FORMS.get(dimension, (dimension, ".0f"))
    return Quantity(value, amount, form)


@dataclass(frozen=True, kw_only=True)
class WeighedReading:
    """A reading and what was to be expected of it. SI units.

    Parameters
    ----------
    item : Measurement
    title : Note
        What was read, and how.
    name : str
        Of the combination.
    low, middle, high : float or None
        2.5, 50 and 97.5 % of what was to be expected, instrument included; None where no draw has
        an answer.
    p : float or None
        How often it would lie as far out.
    off, off_given_others : float
        Standard deviations from its mean, by the prior and given the other readings.
    half_seen : float
        An error of this share of the reading is found in half of the cases.
    place : {"fits", "contradicts", "not-possible"}
    points_to : tuple of Note
        Where it contradicts: how, and what that points to.
    """

    item: Measurement
    title: Note
    name: str
    low: float | None
    middle: float | None
    high: float | None
    p: float | None
    off: float
    off_given_others: float
    half_seen: float
    place: str
    points_to: tuple[Note, ...] = ()

    @property
    def row(self) -> tuple[object, ...]:
        """For `_READINGS`."""
        item, dimension = self.item, self.item.kind.dimension
        expected = None
        if self.low is not None and self.high is not None:
            expected = reading_value((self.low, self.high), dimension)
        value = item.value or 0.0
        return (
            item.quantity, item.combination, item.given, value, dimension, unit_of(dimension),
            item.noise, item.error_share, item.date, item.source,
            self.title, self.name, reading_value(value, dimension), expected,
            self.low, self.middle, self.high, self.p, self.p, self.off, self.off_given_others,
            self.half_seen, self.half_seen, self.place, self.points_to,
        )  # fmt: skip


_READINGS = (
    Heading("quantity", ""),
    Heading("combination", ""),
    Heading("given", ""),
    Heading("value", ""),
    Heading("dimension", ""),
    Heading("unit", ""),
    Heading("deviation", ""),
    Heading("model_error_share", ""),
    Heading("date", ""),
    Heading("source", ""),
    Heading("", "reading"),
    Heading("", "of"),
    Heading("", "read"),
    Heading("", "expected (95 %)"),
    Heading("expected_percent_2_5", ""),
    Heading("expected_percent_50", ""),
    Heading("expected_percent_97_5", ""),
    Heading("p", ""),
    Heading("", "as far out in", "weight_share", ".1f"),
    Heading("standard_deviations_off", ""),
    Heading("standard_deviations_off_given_the_others", ""),
    Heading("error_found_in_half_of_the_cases", ""),
    Heading("", "error found in half of the cases", "weight_share", ".1f"),
    Heading("place", "fit", choices=words.PLACES),
    Heading("points_to", ""),
)


@dataclass(frozen=True, kw_only=True)
class BeforeAfter:
    """A figure of one combination in one condition, before and after the readings.

    Parameters
    ----------
    combination, name : str
        Id and name.
    before, after : DrawnFigure
    """

    combination: str
    name: str
    before: DrawnFigure
    after: DrawnFigure

    @property
    def row(self) -> tuple[object, ...]:
        """For `_FIGURES`."""
        before, after = self.before, self.after
        return (
            self.combination, self.name, before.name, before.title, before.condition,
            before.dimension, unit_of(before.dimension),
            before.low, before.middle, before.high, _band(before),
            after.low, after.middle, after.high, _band(after),
            before.missing, after.missing,
        )  # fmt: skip


def _band(figure: DrawnFigure) -> Quantity | tuple[object, ...] | None:
    if figure.low is None or figure.middle is None or figure.high is None:
        return None
    ends = (figure.low, figure.middle, figure.high)
    shown = figure_value(figure.middle, figure.dimension)
    if isinstance(shown, Quantity):
        return Quantity(ends, shown.amount, shown.form)
    return tuple(figure_value(end, figure.dimension) for end in ends)


_FIGURES = (
    Heading("combination", ""),
    Heading("", "of"),
    Heading("name", ""),
    Heading("title", "figure"),
    Heading("condition", ""),
    Heading("dimension", ""),
    Heading("unit", ""),
    Heading("before_percent_2_5", ""),
    Heading("before_percent_50", ""),
    Heading("before_percent_97_5", ""),
    Heading("", "before"),
    Heading("after_percent_2_5", ""),
    Heading("after_percent_50", ""),
    Heading("after_percent_97_5", ""),
    Heading("", "after"),
    Heading("before_share_without_answer", ""),
    Heading("after_share_without_answer", ""),
)


@dataclass(frozen=True, kw_only=True)
class OddsMoved:
    """The probability of a criterion, or of all that are required, before and after.

    Parameters
    ----------
    combination, name : str
        Id and name.
    criterion, title, weight : str
        Empty criterion: all that are required.
    before, after : float or None
    asked : float or None
        What the decision asks for.
    """

    combination: str
    name: str
    criterion: str
    title: str
    weight: str
    before: float | None
    after: float | None
    asked: float | None = None

    @property
    def shows(self) -> bool:
        """Whether it is worth a line in text."""
        if not self.criterion:
            return True
        if self.before is None or self.after is None:
            return False
        return abs(self.after - self.before) >= _SEEN

    @property
    def row(self) -> tuple[object, ...]:
        """For `_ODDS`."""
        return (
            self.combination, self.name, self.criterion or None, self.title, self.weight,
            self.before, self.before, self.after, self.after, self.asked, self.asked,
        )  # fmt: skip


_ODDS = (
    Heading("combination", ""),
    Heading("", "of"),
    Heading("criterion", ""),
    Heading("title", "criterion"),
    Heading("weight", "requirement", choices=REQUIREMENTS),
    Heading("before", ""),
    Heading("", "before", "weight_share", ".1f"),
    Heading("after", ""),
    Heading("", "after", "weight_share", ".1f"),
    Heading("asked_for", ""),
    Heading("", "asked for", "weight_share", ".0f"),
)


@dataclass(frozen=True, kw_only=True)
class PartLearned:
    """An input before and after the readings: mean and standard deviation of its deviation.

    Parameters
    ----------
    quantity : str
    combinations : tuple of str
        Ids of those that have the part.
    names : str
        Their names.
    before, after : tuple of float
        Mean and standard deviation, share of the value or [K].
    learned : {"sharpened", "touched", "untouched"}
    """

    quantity: str
    combinations: tuple[str, ...]
    names: str
    before: tuple[float, float]
    after: tuple[float, float]
    learned: str

    @property
    def words(self) -> str:
        """What it is called."""
        return f"{self.quantity.replace('-', ' ')} ({self.names})"

    @property
    def row(self) -> tuple[object, ...]:
        """For `_PARTS`."""
        relative = TOLERANCE_DIMENSIONS[self.quantity] == "ratio"
        amount = "weight_share" if relative else "temperature_difference"
        middle = [Quantity(pair[0], amount, "+.1f") for pair in (self.before, self.after)]
        wide = [Quantity(pair[1], amount, ".1f") for pair in (self.before, self.after)]
        return (
            self.quantity, self.combinations, self.words, *self.before, *self.after,
            (middle[0], middle[1]), (wide[0], wide[1]), self.learned,
        )  # fmt: skip


_PARTS = (
    Heading("quantity", ""),
    Heading("combinations", ""),
    Heading("", "input"),
    Heading("before_mean", ""),
    Heading("before_standard_deviation", ""),
    Heading("after_mean", ""),
    Heading("after_standard_deviation", ""),
    Heading("", "off the data, before .. after"),
    Heading("", "standard deviation, before .. after"),
    Heading("learned", "outcome", choices=words.LEARNED),
)


@dataclass(frozen=True, eq=False, kw_only=True)
class DrawsAfter:
    """The draws after the readings, for whatever rests on them.

    Parameters
    ----------
    judged : Judged
    scores : ndarray, shape (n, d)
        Of the parts.
    alike : ndarray of int, shape (n,), or None
        Draws that were picked from the same one have the same number.
    """

    judged: Judged
    scores: FloatArray
    alike: NDArray[np.intp] | None


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class EvidenceResult(Answer):
    """What the readings of a study come to.

    Parameters
    ----------
    study : str
        Its id.
    draws, seed : int
    readings : tuple of WeighedReading
    joint : float
        How often all readings together would lie as far out.
    refused : {"", "conflict", "few", "missed", "leak"}
        Why nothing is made of them; empty where they count.
    effective_size, plain_size : float
        Of the draws after the readings, and what plain weights would have come to.
    posterior : UncertaintyResult or None
        How sure the study is after the readings; None where nothing is made of them.
    figures : tuple of BeforeAfter
    odds : tuple of OddsMoved
    parts : tuple of PartLearned
    notes : tuple of Note
    after : DrawsAfter or None
        None where nothing is made of the readings.
    """

    study: str
    draws: int
    seed: int
    readings: tuple[WeighedReading, ...]
    joint: float
    refused: str
    effective_size: float
    plain_size: float
    posterior: UncertaintyResult | None
    figures: tuple[BeforeAfter, ...]
    odds: tuple[OddsMoved, ...]
    parts: tuple[PartLearned, ...]
    notes: tuple[Note, ...]
    after: DrawsAfter | None = None

    @property
    def accepted(self) -> bool:
        """Whether the readings count."""
        return self.posterior is not None

    @property
    def untouched(self) -> tuple[PartLearned, ...]:
        """Inputs that no reading touches."""
        return tuple(item for item in self.parts if item.learned == "untouched")

    @property
    def contradictions(self) -> tuple[Note, ...]:
        """What stands against the readings; empty where they count."""
        return tuple(note for note in self.notes if note.code in words.CONTRADICTIONS)

    def named(self, names: Mapping[str, str]) -> EvidenceResult:
        """Return the same with other names of the combinations.

        Parameters
        ----------
        names : mapping of str to str
            Id -> what to call it.
        """
        return replace(
            self,
            readings=tuple(
                replace(item, name=names[item.item.combination]) for item in self.readings
            ),
            figures=tuple(replace(item, name=names[item.combination]) for item in self.figures),
            odds=tuple(replace(item, name=names[item.combination]) for item in self.odds),
            parts=tuple(
                replace(item, names=", ".join(names[one] for one in item.combinations))
                for item in self.parts
            ),
        )

    def blocks(self) -> tuple[Block, ...]:
        """Return how readings fit; before and after, where they count."""
        facts: Facts = (
            (Heading("draws", ""), self.draws),
            (Heading("seed", ""), self.seed),
            (Heading("accepted", ""), self.accepted),
            (Heading("refused_because", ""), self.refused or None),
            (Heading("joint_p", ""), self.joint),
            (Heading("effective_size", ""), self.effective_size if self.accepted else None),
            (Heading("plain_effective_size", ""), self.plain_size if self.accepted else None),
        )
        first = self.figures[0].before.condition if self.figures else ""
        shown = [item for item in self.figures if item.before.condition == first]
        odd = tuple(note for item in self.readings for note in item.points_to)
        fit = (words.NOTES.note("joint", p=self.joint),) if len(self.readings) > 1 else ()
        blocks = [
            Block("", facts=facts, in_text=False),
            Block(
                "readings", title=words.TITLES["readings"], columns=_READINGS,
                rows=tuple(item.row for item in self.readings), rows_key="",
                items=odd, below=(*fit, words.NOTES.note("cannot-see")),
            ),
            Block(
                "figures", columns=_FIGURES, rows=tuple(item.row for item in self.figures),
                rows_key="", in_text=False,
            ),
            Block(
                "criteria", columns=_ODDS, rows=tuple(item.row for item in self.odds),
                rows_key="", in_text=False,
            ),
            Block(
                "parts", columns=_PARTS, rows=tuple(item.row for item in self.parts),
                rows_key="", in_text=False,
            ),
        ]  # fmt: skip
        if self.accepted:
            blocks += self._moved(tuple(shown), first)
        return tuple(blocks)

    def said(self) -> Block:
        """Return what was assumed of the readings, and why they do not count, as it is read."""
        return Block("", title=words.TITLES["assumed"], items=self.notes, in_plain=False)

    def _moved(self, shown: tuple[BeforeAfter, ...], condition: str) -> list[Block]:
        """Return the tables of before and after, as they are read."""
        odds = tuple(item.row for item in self.odds if item.shows)
        parts = tuple(item.row for item in self.parts if item.learned != "untouched")
        untouched = "; ".join(item.words for item in self.untouched)
        below = (words.NOTES.note("untouched", inputs=untouched),) if untouched else ()
        weighed = words.NOTES.note(
            "weighed", draws=self.draws, effective=self.effective_size, plain=self.plain_size
        )
        figures = f"{words.TITLES['figures']} ({condition})"
        return [
            Block("", title=figures, columns=_FIGURES, rows=tuple(item.row for item in shown),
                  below=(weighed,), in_plain=False),
            Block("", title=words.TITLES["odds"], columns=_ODDS, rows=odds,
                  below=(words.NOTES.note("counts"),), in_plain=False),
            Block("", title=words.TITLES["parts"], columns=_PARTS, rows=parts, below=below,
                  in_plain=False),
        ]  # fmt: skip
