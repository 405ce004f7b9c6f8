"""What draws of a study come to: intervals, probabilities, and what they depend on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.uncertainty.sensitivity import Sensitivity
from converter_match.judgement.uncertainty.words import NOTES, OF_PRESENT, TITLES
from converter_match.judgement.verdict.measure import unit_of
from converter_match.judgement.verdict.words import REQUIREMENTS, VERDICTS
from converter_match.notes import Note
from converter_match.study.doubts import Tolerance
from converter_match.units import note_plain

_BINS = 41
_FORMS = {"power": ".0f"}
_ODDS = (
    Heading("", "criterion"),
    Heading("", "requirement"),
    Heading("", "without tolerances"),
    Heading("", "holds in", "weight_share"),
)


def _at_wheels(read: Callable[[Sampled], FloatArray]) -> Callable[[Sampled], FloatArray | None]:
    return lambda item: None if item.outcome.tractive is None else read(item)


FIGURES: Mapping[str, tuple[str, str, Callable[[Sampled], FloatArray | None]]] = MappingProxyType(
    {
        "stall-speed": ("stall speed", "angular_speed", lambda item: item.stall_speed),
        "stall-turbine-torque": (
            "turbine torque at stall", "torque", lambda item: item.stall_turbine_torque,
        ),
        "stall-heat": ("heat at stall", "power", lambda item: item.stall_heat),
        "coupling-engine-speed": (
            "engine speed at the coupling point", "angular_speed",
            lambda item: item.coupling_speed,
        ),
        "speed-at-80": (
            "engine speed at 80 % efficiency", "angular_speed", lambda item: item.speed_at(0.8),
        ),
        "steepest-grade": (
            "startability", "weight_share", _at_wheels(lambda item: item.steepest_start),
        ),
        "top-speed": (
            "top speed on the level", "velocity", _at_wheels(lambda item: item.speed_on(0.0)),
        ),
    }
)  # fmt: skip
"""Figures that are drawn: title, dimension, and where they come from."""
AT_WHEELS = ("steepest-grade", "top-speed")
"""Those of them that need wheels."""


@dataclass(frozen=True, eq=False, kw_only=True)
class DrawnFigure:
    """One figure of one combination in one condition, over the draws. SI units.

    Parameters
    ----------
    name, title, dimension, condition : str
    low, middle, high : float or None
        2.5 %, 50 % and 97.5 % of the draws; None where there is no answer in any draw.
    missing : float
        Share of the draws without an answer (no stall match, a grade that is not climbed).
    edges, counts : ndarray
        Histogram of the draws.
    """

    name: str
    title: str
    dimension: str
    condition: str
    low: float | None
    middle: float | None
    high: float | None
    missing: float
    edges: FloatArray
    counts: FloatArray

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, SI."""
        return {
            "name": self.name,
            "title": self.title,
            "dimension": self.dimension,
            "unit": unit_of(self.dimension),
            "condition": self.condition,
            "percent_2_5": self.low,
            "percent_50": self.middle,
            "percent_97_5": self.high,
            "share_without_answer": self.missing,
        }

    @property
    def fact(self) -> tuple[Heading, tuple[float, ...] | NoValue]:
        """What it is, with the ends and the middle of its interval."""
        words = TITLES["figure"].format(title=self.title, condition=self.condition)
        if self.low is None or self.middle is None or self.high is None:
            return Heading("", words), NoValue(TITLES["no-answer"])
        if self.missing > 0.0:
            words = TITLES["figure-missing"].format(
                title=self.title, condition=self.condition, missing=f"{100 * self.missing:.1f}"
            )
        ends = self.low, self.middle, self.high
        return Heading("", words, self.dimension, _FORMS.get(self.dimension, "")), ends


def interval(
    name: str, title: str, dimension: str, condition: str, values: FloatArray
) -> DrawnFigure:
    """Return the interval and histogram of drawn values, shape (n,)."""
    known = values[np.isfinite(values)]
    low, middle, high = (
        (float(v) for v in np.quantile(known, [0.025, 0.5, 0.975])) if known.size else [None] * 3
    )
    edges = counts = np.empty(0)
    if known.size:
        # Values that are alike but for rounding have one bin.
        span = float(np.ptp(known))
        flat = span <= 1e-9 * max(abs(float(known[0])), 1e-300)
        made, edges = np.histogram(known, bins=1 if flat else _BINS)
        counts = made.astype(np.float64)
    return DrawnFigure(
        name=name,
        title=title,
        dimension=dimension,
        condition=condition,
        low=low,
        middle=middle,
        high=high,
        missing=1.0 - known.size / values.size,
        edges=np.asarray(edges, dtype=np.float64),
        counts=np.asarray(counts, dtype=np.float64),
    )


@dataclass(frozen=True, kw_only=True)
class CriterionOdds:
    """The probability that a criterion holds, in every condition at once.

    Parameters
    ----------
    name, title, weight : str
    nominal : str
        Verdict without tolerances.
    probability : float or None
        Of the draws with a match, where the criterion asks for one.
    no_match : float
        Share of all draws in which engine and converter do not match, and which count under
        single-stable-match instead.
    unknown : float
        Share of all draws that run off the data; they do not count as holding.
    why : str
        Why it was not drawn; empty where it was.
    """

    name: str
    title: str
    weight: str
    nominal: str
    probability: float | None
    no_match: float = 0.0
    unknown: float = 0.0
    why: str

    @property
    def row(self) -> tuple[str, str, str, float | None]:
        """Title, requirement, verdict without tolerances, probability."""
        return self.title, REQUIREMENTS[self.weight], VERDICTS[self.nominal], self.probability

    @property
    def note(self) -> Note:
        """Why it was not drawn."""
        return NOTES.note("not-drawn", title=self.title, why=self.why)

    @property
    def unmatched(self) -> Note:
        """In how many draws there is no match to judge."""
        return NOTES.note("draws-without-match", title=self.title, share=self.no_match)

    @property
    def off_the_data(self) -> Note:
        """How many draws run off the data."""
        return NOTES.note("draws-off-the-data", title=self.title, share=self.unknown)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "name": self.name,
            "weight": self.weight,
            "verdict": self.nominal,
            "probability": self.probability,
            "not_drawn_because": self.why or None,
            "share_without_match": self.no_match,
            "share_not_known": self.unknown,
        }


@dataclass(frozen=True, kw_only=True)
class MeasureFirst:
    """An input that is worth measuring.

    Parameters
    ----------
    quantity : str
    of : str
        ``present`` for a part of the present machine that the combination does not have as well.
    share : float
        Of the uncertainty of verdicts that knowing it would take away, all inputs making 1.
    about : str
        The criteria most in doubt.
    """

    quantity: str
    of: str = ""
    share: float
    about: str

    @property
    def words(self) -> str:
        """What it is called."""
        name = self.quantity.replace("-", " ")
        return OF_PRESENT.format(quantity=name) if self.of else name

    @property
    def note(self) -> Note:
        """What to measure first, and what for."""
        quantity = self.words
        return NOTES.note("measure-first", quantity=quantity, share=self.share, about=self.about)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "quantity": self.quantity,
            "of": self.of or None,
            "share": self.share,
            "about": self.about,
        }


@dataclass(frozen=True, eq=False, kw_only=True)
class CombinationDraws:
    """The draws of one combination.

    Parameters
    ----------
    combination, name : str
    figures : tuple of DrawnFigure
        Condition by condition.
    criteria : tuple of CriterionOdds
    all_musts : float or None
        Probability that all required criteria hold in the same draw; None if one is not known and
        the others hold in some draw.
    sensitivities : tuple of (str, Sensitivity)
        For each figure, in the first condition.
    measure_first : tuple of MeasureFirst
        Empty where nothing is in doubt.
    """

    combination: str
    name: str
    figures: tuple[DrawnFigure, ...]
    criteria: tuple[CriterionOdds, ...]
    all_musts: float | None
    sensitivities: tuple[tuple[str, Sensitivity], ...]
    measure_first: tuple[MeasureFirst, ...]

    def figure(self, name: str, condition: str | None = None) -> DrawnFigure:
        """Return a figure by its name; in the first condition, or the one named.

        Raises
        ------
        InputError
            If there is none; the nearest names are given.
        """
        for item in self.figures:
            if item.name == name and condition in (None, item.condition):
                return item
        names = list(dict.fromkeys(item.name for item in self.figures))
        raise InputError(
            "no such figure was drawn", field="figure", found=name,
            expected=" | ".join(names), hint=did_you_mean(name, names),
        )  # fmt: skip

    def block(self) -> Block:
        """Return intervals, odds and what to measure first."""
        first = self.measure_first[:1]
        return Block(
            self.combination,
            title=self.name,
            facts=tuple(item.fact for item in self.figures),
            columns=_ODDS,
            rows=tuple(item.row for item in self.criteria),
            below=(
                *(item.note for item in self.criteria if item.probability is None),
                *(item.unmatched for item in self.criteria if item.no_match > 0.0),
                *(item.off_the_data for item in self.criteria if item.unknown > 0.0),
                *([] if self.all_musts is None else [self._joint(self.all_musts)]),
                *(item.note for item in first),
            ),
        )

    @staticmethod
    def _joint(probability: float) -> Note:
        return NOTES.note("all-required", probability=probability)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "combination": self.combination,
            "name": self.name,
            "figures": [item.to_dict() for item in self.figures],
            "criteria": [item.to_dict() for item in self.criteria],
            "probability_that_all_musts_hold": self.all_musts,
            "sensitivities": [
                {
                    "figure": name,
                    "method": item.method,
                    "linear_share": item.linear,
                    "standard_deviation_si": item.deviation,
                    "shares": [
                        {"quantity": one.name, "first": one.first, "total": one.total}
                        for one in item.shares
                    ],
                }
                for name, item in self.sensitivities
            ],
            "measure_first": [item.to_dict() for item in self.measure_first],
        }


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class UncertaintyResult(Answer):
    """How sure a study is.

    Parameters
    ----------
    study : str
        Its id.
    draws, seed : int
    tolerances : tuple of Tolerance
        As the study gives them.
    combinations : tuple of CombinationDraws
    notes : tuple of Note
    """

    study: str
    draws: int
    seed: int
    tolerances: tuple[Tolerance, ...]
    combinations: tuple[CombinationDraws, ...]
    notes: tuple[Note, ...]

    def of(self, combination: str) -> CombinationDraws:
        """Return the draws of a combination by its id.

        Raises
        ------
        InputError
            If there is none.
        """
        for item in self.combinations:
            if item.combination == combination:
                return item
        names = [item.combination for item in self.combinations]
        raise InputError(
            "there is no such combination", field="combination", found=combination,
            expected=" | ".join(names), hint=did_you_mean(combination, names),
        )  # fmt: skip

    def answers(self, names: Sequence[str], condition: str) -> bool:
        """Whether any of some figures has an answer in a condition, for any combination."""
        return any(
            one.low is not None
            for item in self.combinations
            for one in item.figures
            if one.name in names and one.condition == condition
        )

    def probability(self, combination: str, criterion: str) -> float | None:
        """Return the probability that a criterion holds; None where it was not drawn.

        Raises
        ------
        InputError
            If there is no such combination, or the criterion is not applied to it.
        """
        rows = {item.name: item for item in self.of(combination).criteria}
        if criterion not in rows:
            raise InputError(
                "this criterion is not applied", field="criterion", found=criterion,
                expected=" | ".join(rows), hint=did_you_mean(criterion, rows),
            )  # fmt: skip
        return rows[criterion].probability

    def blocks(self) -> tuple[Block, ...]:
        """Return the draws, and for each combination its intervals, odds and what to measure."""
        made = NOTES.note("draws", draws=float(self.draws), seed=float(self.seed))
        return (Block("", above=(made,)), *(item.block() for item in self.combinations))

    def to_dict(self) -> dict[str, Any]:
        """Return plain data: combinations hold several lists, which no block of rows does."""
        return {
            "draws": self.draws,
            "seed": self.seed,
            "tolerances": [
                {
                    "quantity": item.quantity,
                    "half_width": item.half_width,
                    "distribution": item.distribution,
                    "shift": item.shift,
                    "of": item.of,
                    "shared": item.shared,
                    "scatter": item.split,
                    "scatter_assumed": item.scatter is None,
                }
                for item in self.tolerances
            ],
            "combinations": [item.to_dict() for item in self.combinations],
            "notes": [note_plain(note) for note in self.notes],
        }
