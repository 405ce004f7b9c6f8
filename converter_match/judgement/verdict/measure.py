"""From figures to verdicts: each criterion, met or not, by how much, and where it is worst.

A criterion gives `Measures` for each condition: a value and the bounds that it has to keep, for
every draw; the study without tolerances is one draw, and its `Measure` the first of them. The
reserve is the share by which the nearer bound is kept; below zero the criterion fails, below the
margin it is marginal. A value that cannot be had is not known: with the missing datum named, or
because engine and converter have no match, which is told by the criterion about the match alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.answer.block import NoValue, Quantity
from converter_match.curves import FloatArray
from converter_match.judgement.verdict.words import ANY, FOUND
from converter_match.notes import Note, Value
from converter_match.study.criteria import Choice, Spec, Weight
from converter_match.units import DIMENSIONS, note_text, si_unit

# A bound that is met exactly is met, whatever the last digit says.
_ROUNDING = 1e-9
TIMES = "times"
"""How many times as much as another: a ratio that nobody gives in percent."""
# A ratio reads in per cent, a route's time in minutes; a force in the digits of its unit.
_AMOUNTS = {"ratio": "weight_share", "time": "minutes", TIMES: None}
_LIGHT = 100.0  # kg: fuel below is said to two places
_FORMS = {
    **dict.fromkeys(("ratio", "weight_share", "time", "velocity"), ".1f"),
    **dict.fromkeys(("force", "specific_fuel", "fuel_rate"), ""),  # the digits of the amount
    TIMES: ".2f",
}


class Verdict(StrEnum):
    """What is said about a criterion."""

    PASS = "pass"
    MARGINAL = "marginal"
    NOT_KNOWN = "not known"
    FAIL = "fail"

    @property
    def severity(self) -> int:
        """0 for a pass, rising with how much it speaks against ordering."""
        return list(Verdict).index(self)


@dataclass(frozen=True, kw_only=True)
class Measure:
    """A criterion in one condition, SI units.

    Parameters
    ----------
    value : float or None
        None where it is not known.
    least, most : float or None
        Bounds that `value` has to keep.
    dimension : str
        Of value and bounds.
    said : Note or None
        What the value is, and where it was found worst.
    missing : tuple of str
        Data without which the value is not known.
    verdict : Verdict or None
        Where the value alone does not settle it.
    absolute : bool
        Whether the margin is a difference and not a share of the bound.
    """

    value: float | None
    dimension: str
    least: float | None = None
    most: float | None = None
    said: Note | None = None
    missing: tuple[str, ...] = ()
    verdict: Verdict | None = None
    absolute: bool = False

    @property
    def reserve(self) -> float | None:
        """Share (or difference) by which the nearer bound is kept; None where not known."""
        if self.value is None or self.missing:
            return None
        return float(reserve(self.value, self.least, self.most, absolute=self.absolute))


@dataclass(frozen=True, kw_only=True, eq=False)
class Measures:
    """A criterion in one condition for every draw; SI units, arrays of shape (n,).

    Parameters
    ----------
    value : ndarray
        NaN where a draw has no answer.
    least, most : ndarray, float or None
        Bounds that `value` has to keep.
    dimension : str
        Of value and bounds.
    said : Note or None
        What the first value is, and where it was found worst.
    missing : tuple of str
        Data without which no value is known.
    passes, marginal, fails : ndarray of bool, or None
        Where something else than the bounds settles it; the last named goes before the others.
    no_match : ndarray of bool, or None
        Where engine and converter do not match, so that there is nothing to hold against a bound.
    unknown : ndarray of bool, or None
        Where the data do not reach; either goes before what settles it.
    absolute : bool
        Whether the margin is a difference and not a share of the bound.
    """

    value: FloatArray
    dimension: str
    least: FloatArray | float | None = None
    most: FloatArray | float | None = None
    said: Note | None = None
    missing: tuple[str, ...] = ()
    passes: NDArray[np.bool_] | None = None
    marginal: NDArray[np.bool_] | None = None
    fails: NDArray[np.bool_] | None = None
    no_match: NDArray[np.bool_] | None = None
    unknown: NDArray[np.bool_] | None = None
    absolute: bool = False

    @property
    def nominal(self) -> Measure:
        """The first draw: the measure of a study without tolerances."""
        if self.missing:
            return Measure(value=None, dimension=self.dimension, missing=self.missing)
        if any(where is not None and where[0] for where in (self.no_match, self.unknown)):
            return Measure(value=None, dimension=self.dimension, said=self.said)
        settled = None
        for where, verdict in (
            (self.fails, Verdict.FAIL),
            (self.marginal, Verdict.MARGINAL),
            (self.passes, Verdict.PASS),
        ):
            if settled is None and where is not None and where[0]:
                settled = verdict
        bounded = settled in (None, Verdict.MARGINAL)
        return Measure(
            value=float(self.value[0]),
            dimension=self.dimension,
            least=_first(self.least) if bounded else None,
            most=_first(self.most) if bounded else None,
            said=self.said,
            verdict=settled,
            absolute=self.absolute,
        )

    @property
    def kept(self) -> FloatArray:
        """Reserve of each draw; zero and above where the criterion holds, NaN where not known."""
        kept = reserve(self.value, self.least, self.most, absolute=self.absolute)
        kept = np.where(np.isnan(self.value), np.nan, kept)
        for where, value in (
            (self.passes, 1.0),
            (self.marginal, 0.0),
            (self.fails, -1.0),
            (self.no_match, np.nan),
            (self.unknown, np.nan),
        ):
            if where is not None:
                kept = np.where(where, value, kept)
        return kept


def holds(kept: FloatArray) -> NDArray[np.bool_]:
    """Return whether a criterion holds, from its reserves; what is not known does not."""
    return np.asarray(kept >= -_ROUNDING)


def together(kept: Sequence[FloatArray]) -> FloatArray:
    """Return the least of several reserves, draw by draw.

    What fails in one fails; what is not known in one, and fails in none, is not known.

    Examples
    --------
    >>> together([np.array([0.1, -0.2, 0.1]), np.array([0.3, np.nan, np.nan])])
    array([ 0.1, -0.2,  nan])
    """
    least = np.min(kept, axis=0)
    known = np.min(np.where(np.isnan(kept), np.inf, kept), axis=0)
    return np.asarray(np.where(known < -_ROUNDING, known, least))


def missing(*what: str) -> Measures:
    """Return a measure that is not known for want of some data."""
    return Measures(value=np.full(1, np.nan), dimension="ratio", missing=what)


def reserve(
    value: ArrayLike,
    least: ArrayLike | None = None,
    most: ArrayLike | None = None,
    *,
    absolute: bool = False,
) -> FloatArray:
    """Return the share by which values keep their bounds; below zero where they do not.

    ``min((value - least) / least, (most - value) / most)``, or the differences themselves.

    Parameters
    ----------
    value : array_like, shape (...)
    least, most : array_like or None
        Bounds; infinite reserve for a bound that is not there.
    absolute : bool
        Differences instead of shares.

    Returns
    -------
    ndarray, shape (...)

    Examples
    --------
    >>> reserve([90.0, 120.0], least=100.0), reserve(95.0, most=100.0)
    (array([-0.1,  0.2]), array(0.05))
    """
    values = np.asarray(value, dtype=np.float64)
    kept = np.full(values.shape, np.inf)
    for bound, sign in ((least, 1.0), (most, -1.0)):
        if bound is not None:
            limit = np.asarray(bound, dtype=np.float64)
            scale = np.ones_like(limit) if absolute else np.where(limit == 0.0, 1.0, np.abs(limit))
            kept = np.minimum(kept, sign * (values - limit) / scale)
    return np.asarray(kept)


def verdict_of(kept: float | None, margin: float) -> Verdict:
    """Return the verdict for a reserve (None: not known) and a margin."""
    if kept is None or np.isnan(kept):
        return Verdict.NOT_KNOWN
    if kept < -_ROUNDING:
        return Verdict.FAIL
    return Verdict.MARGINAL if kept < margin - _ROUNDING else Verdict.PASS


@dataclass(frozen=True, kw_only=True)
class JudgedMeasure:
    """A measure with its verdict and the condition it belongs to."""

    condition: str
    measure: Measure
    verdict: Verdict


@dataclass(frozen=True, kw_only=True)
class CriterionFinding:
    """One criterion for one combination, over all conditions.

    Parameters
    ----------
    choice : Choice
    judged : tuple of JudgedMeasure
        One for each condition.
    """

    choice: Choice
    judged: tuple[JudgedMeasure, ...]

    @property
    def spec(self) -> Spec:
        """The criterion."""
        return self.choice.spec

    @property
    def weight(self) -> Weight:
        """Whether it must or should be met."""
        return self.choice.weight

    @property
    def worst(self) -> JudgedMeasure:
        """The condition that speaks most against the combination."""

        def order(item: JudgedMeasure) -> tuple[int, float]:
            kept = item.measure.reserve
            return item.verdict.severity, 0.0 if kept is None else -kept

        return max(self.judged, key=order)

    @property
    def verdict(self) -> Verdict:
        """The worst verdict; one condition that fails is enough."""
        return self.worst.verdict

    @property
    def missing(self) -> tuple[str, ...]:
        """Data that are missing in any condition, also where another one fails."""
        return tuple(dict.fromkeys(what for item in self.judged for what in item.measure.missing))

    @property
    def note(self) -> Note:
        """What was found, in one sentence, the bounds and what is missing beside it."""
        missing = "; ".join(self.missing)
        worst = self.worst
        if self.verdict is Verdict.NOT_KNOWN and (self.missing or worst.measure.said is None):
            return FOUND.note("not-known", missing=missing)
        said = measure_note(worst.measure)
        if len(self.judged) > 1 and len({item.measure for item in self.judged}) > 1:
            said = said_more(said, " ({condition})", condition=worst.condition)
        if self.missing:
            said = said_more(said, "; not known elsewhere, missing: {missing}", missing=missing)
        return said

    def words(self) -> str:
        """Return what was found, in one sentence in metric trade units."""
        return note_text(self.note, "si")

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "name": self.choice.name,
            "title": self.spec.title,
            "reason": self.spec.reason,
            "weight": self.weight,
            "thresholds": dict(self.choice.thresholds),
            "verdict": str(self.verdict),
            "words": self.words(),
            "missing": list(self.missing),
            "limited_to": list(self.choice.conditions),
            "conditions": [
                {
                    "condition": item.condition,
                    "verdict": str(item.verdict),
                    "value": _finite(item.measure.value),
                    "least": _finite(item.measure.least),
                    "most": _finite(item.measure.most),
                    "dimension": item.measure.dimension,
                    "unit": unit_of(item.measure.dimension),
                    "reserve": _finite(item.measure.reserve),
                    "words": note_text(measure_note(item.measure), "si"),
                    "missing": list(item.measure.missing),
                }
                for item in self.judged
            ],
        }


def judge(choice: Choice, measures: Sequence[tuple[str, Measure]]) -> CriterionFinding:
    """Return the finding of a criterion from its measures, one (condition, measure) each.

    Parameters
    ----------
    choice : Choice
        Its ``margin`` tells a pass from a marginal.
    measures : sequence of (str, Measure)
        At least one.
    """
    margin = dict(choice.thresholds).get("margin", 0.0)
    judged = tuple(
        JudgedMeasure(
            condition=name,
            measure=measure,
            verdict=(
                Verdict.NOT_KNOWN
                if measure.missing
                else measure.verdict or verdict_of(measure.reserve, margin)
            ),
        )
        for name, measure in measures
    )
    return CriterionFinding(choice=choice, judged=judged)


def measure_note(measure: Measure) -> Note:
    """Return a measure as a sentence: what, how much, and the bounds."""
    if measure.said is None:
        return FOUND.note("nothing-said")
    bounds = {
        name: figure_value(value, measure.dimension)
        for name, value in (("min", measure.least or None), ("max", measure.most))
        if value is not None
    }
    required = "-".join(["required", *bounds])
    return FOUND.note(required, said=measure.said, **bounds) if bounds else measure.said


def said_more(note: Note, template: str, **values: Value) -> Note:
    """Return a note with more behind it."""
    return replace(note, message=note.message + template, values=(*note.values, *values.items()))


def figure_value(value: float, dimension: str, change: float | None = None) -> Quantity | NoValue:
    """Return a figure of a study [SI] as it is shown; a share without bound is any.

    Parameters
    ----------
    value : float
    dimension : str
    change : float, optional
        Against the present machine, as a share of its figure.

    Examples
    --------
    >>> figure_value(0.953, "ratio")
    Quantity(value=0.953, amount='weight_share', form='.1f', change=None)
    """
    if np.isinf(value):
        return NoValue(ANY)
    if dimension == "count":
        return Quantity(value, None, ".0f")
    if dimension == "mass":  # of fuel
        return Quantity(value, "mass", ".2f" if value < _LIGHT else ".1f", change)
    form = _FORMS.get(dimension, ".0f")
    return Quantity(value, _AMOUNTS.get(dimension, dimension), form, change)


def unit_of(dimension: str) -> str:
    """Return the SI unit of a dimension; 1 for a pure number."""
    return si_unit(dimension) if dimension in DIMENSIONS else "1"


def _first(bound: FloatArray | float | None) -> float | None:
    return None if bound is None else float(np.ravel(bound)[0])


def _finite(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)
