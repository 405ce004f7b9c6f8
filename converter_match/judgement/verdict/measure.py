"""From figures to verdicts: each criterion, met or not, by how much, and where it is worst.

A criterion gives one `Measure` for each condition: a value and the bounds that it has to keep. The
reserve is the share by which the nearer bound is kept; below zero the criterion fails, below the
margin it is marginal. A value that cannot be had is not known, with the missing datum named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from converter_match.curves import FloatArray
from converter_match.study.criteria import Choice, Spec, Weight
from converter_match.units import System, show


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
    words : str
        What the value is, and where it was found worst, with places ``{value}`` and ``{speed}``.
    speed : float or None
        Road speed at which it was found worst [m/s].
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
    words: str = ""
    speed: float | None = None
    missing: tuple[str, ...] = ()
    verdict: Verdict | None = None
    absolute: bool = False

    @property
    def reserve(self) -> float | None:
        """Share (or difference) by which the nearer bound is kept; None where not known."""
        if self.value is None or self.missing:
            return None
        return float(reserve(self.value, self.least, self.most, absolute=self.absolute))


def missing(*what: str) -> Measure:
    """Return a measure that is not known for want of some data."""
    return Measure(value=None, dimension="ratio", missing=what)


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
    # A bound that is met exactly is met, whatever the last digit says.
    if kept < -1e-9:
        return Verdict.FAIL
    return Verdict.MARGINAL if kept < margin - 1e-9 else Verdict.PASS


@dataclass(frozen=True, kw_only=True)
class Judged:
    """A measure with its verdict and the condition it belongs to."""

    condition: str
    measure: Measure
    verdict: Verdict


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One criterion for one combination, over all conditions.

    Parameters
    ----------
    choice : Choice
    judged : tuple of Judged
        One for each condition.
    """

    choice: Choice
    judged: tuple[Judged, ...]

    @property
    def spec(self) -> Spec:
        """The criterion."""
        return self.choice.spec

    @property
    def weight(self) -> Weight:
        """Whether it must or should be met."""
        return self.choice.weight

    @property
    def worst(self) -> Judged:
        """The condition that speaks most against the combination."""

        def order(item: Judged) -> tuple[int, float]:
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

    def words(self, system: System = "si") -> str:
        """Return what was found, in one sentence."""
        worst = self.worst
        text = measure_words(worst.measure, system)
        if self.verdict is Verdict.NOT_KNOWN:
            return "not known; missing: " + "; ".join(self.missing)
        if len(self.judged) > 1 and len({item.measure for item in self.judged}) > 1:
            text += f" ({worst.condition})"
        if self.missing:
            text += "; not known elsewhere, missing: " + "; ".join(self.missing)
        return text

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
            "conditions": [
                {
                    "condition": item.condition,
                    "verdict": str(item.verdict),
                    "value": _finite(item.measure.value),
                    "least": _finite(item.measure.least),
                    "most": _finite(item.measure.most),
                    "dimension": item.measure.dimension,
                    "unit": "SI",
                    "reserve": _finite(item.measure.reserve),
                    "words": measure_words(item.measure, "si"),
                    "missing": list(item.measure.missing),
                }
                for item in self.judged
            ],
        }


def judge(choice: Choice, measures: Sequence[tuple[str, Measure]]) -> Finding:
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
        Judged(
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
    return Finding(choice=choice, judged=judged)


def measure_words(measure: Measure, system: System) -> str:
    """Return a measure in words: what, how much, and the bounds."""
    if measure.value is None:
        return measure.words
    text = measure.words.format(
        value=amount(measure.value, measure.dimension, system),
        speed=amount(measure.speed or 0.0, "velocity", system),
    )
    bounds = []
    if measure.least is not None:
        bounds.append(f"at least {amount(measure.least, measure.dimension, system)}")
    if measure.most is not None:
        bounds.append(f"at most {amount(measure.most, measure.dimension, system)}")
    return f"{text}; asked for: {' and '.join(bounds)}" if bounds else text


def amount(value: float, dimension: str, system: System) -> str:
    """Return a quantity in trade units, rounded for reading.

    Examples
    --------
    >>> amount(0.953, "ratio", "si"), amount(1520.0, "torque", "us")
    ('95.3 %', '1121 lbf·ft')
    """
    if dimension in ("ratio", "weight_share"):
        return "any" if np.isinf(value) else f"{100.0 * value:.1f} %"
    if dimension == "count":
        return f"{value:.0f}"
    if dimension == "time":
        return f"{value / 60.0:.1f} min"
    number, unit = show(value, dimension, system)
    digits = {"velocity": 1, "force": 1 if system == "si" else 0, "mass": 1}.get(dimension, 0)
    if dimension == "mass" and value < 100.0:
        digits = 2
    return f"{number:.{digits}f} {unit}"


def _finite(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)
