"""From readings to ranked findings: how likely each makes them, and the next cheapest check.

Scoring. Each finding of `stall_hypotheses` is a small model of the machine with one unknown of its
own. Machines are drawn within the tolerances (normal errors, stated half widths) and solved for the
speed they would show at every reading; the likelihood of the finding is the mean over the draws of
the product of normal densities of the readings about those speeds. Shares are likelihood times
weight, over all findings; one that fits only for a narrow part of what it allows counts for less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.components.converter import Converter
from converter_match.components.reading import StallReading
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.stall import words
from converter_match.judgement.stall.band import Band, combined_bands, place_in
from converter_match.judgement.stall.checks import next_check
from converter_match.judgement.stall.draws import (
    log_likelihoods,
    log_mean,
    normal_draws,
    uniform_draws,
    weighted_quantiles,
)
from converter_match.judgement.stall.hypotheses import hypotheses
from converter_match.judgement.stall.hypothesis import Hypothesis
from converter_match.judgement.stall.inversion import Together, invert, together
from converter_match.judgement.stall.notes import setup_notes
from converter_match.judgement.stall.result import (
    JudgedReading,
    StallDiagnosis,
    StallFinding,
    label_of,
    repeat_words,
)
from converter_match.judgement.stall.setup import StallSetup
from converter_match.judgement.stall.whole_test import bands_of_test
from converter_match.notes import Note

_FEWEST_SHOWN = 1e-4
# The best finding leaves so much that one set of readings in a thousand would.
_RARE = 1e-3


def diagnose(
    setup: StallSetup, readings: Sequence[StallReading], library: Sequence[Converter] = ()
) -> StallDiagnosis:
    """Return findings for the readings of one machine, most likely first.

    Parameters
    ----------
    setup : StallSetup
    readings : sequence of StallReading
        All of one machine in one state; repeated holds are further readings.
    library : sequence of Converter
        Converters that may have been fitted instead.

    Raises
    ------
    InputError
        If there is no reading, or one cannot be of this machine; its place in the list is named.
    """
    if not readings:
        raise InputError("no reading to judge", field="reading", expected="at least one reading")
    checked = []
    for row, reading in enumerate(readings, start=1):
        try:
            checked.append(setup.checked(reading))
        except InputError as error:
            raise InputError(
                error.problem,
                source=error.source or f"reading {row}",
                field=error.field,
                found=error.found,
                expected=error.expected,
                hint=error.hint,
            ) from None
    bands = bands_of_test(setup, checked)
    judged = tuple(
        _judged(setup, reading, band) for reading, band in zip(checked, bands, strict=True)
    )
    valid = [reading for reading in checked if reading.valid]
    notes: list[Note] = [words.STALL_TEST, words.TOWING, *setup_notes(setup, checked)]
    if len(valid) < len(checked):
        notes.append(_void_note(len(checked) - len(valid)))
    if len(valid) > 1:
        notes.append(words.note("bands-of-whole-test", coverage=setup.coverage, count=len(valid)))
    if not valid:
        return StallDiagnosis(
            setup, judged, (_void_finding(),), None, next_check([("brakes-give-way", 1.0)]),
            tuple(notes),
        )  # fmt: skip
    candidates = hypotheses(setup, valid, library)
    healthy = [_settled(setup, reading, None, np.zeros(0)) for reading in valid]
    scored = [_score(setup, item, valid, healthy) for item in candidates]
    findings, poor = _ranked(setup, scored, len(valid))
    if poor:
        notes.append(words.note("nothing-explains-them"))
    if setup.converter.stator == "one-way" and not any(
        f.family == "stator-seized" for f in findings
    ):
        notes.append(words.note("stator-seized-not-seen"))
    both = together(setup, valid)
    if both is not None and not both.fits:
        notes.append(_misfit_note(both, judged))
    notes.append(_weights_note(candidates))
    done = [*_done(valid), *_not_to_be_done(setup, judged)]
    return StallDiagnosis(
        setup,
        judged,
        findings,
        both,
        next_check([(f.family, f.share) for f in findings], done),
        tuple(notes),
    )


def _done(valid: Sequence[StallReading]) -> list[str]:
    done = []
    if len({r.test for r in valid} - {"road", "governed"}) > 1:
        done.append("combined")
    if any(r.test == "road" for r in valid):
        done.append("road")
    if len({r.gear for r in valid if r.gear}) > 1:
        done.append("other-gear")
    if any(r.test == "governed" for r in valid):
        done.append("governed")
    if len(valid) > 2:
        done.append("repeat")
    return done


def _not_to_be_done(setup: StallSetup, judged: Sequence[JudgedReading]) -> list[str]:
    """Return the checks that want a test in which a healthy machine cannot accelerate from idle."""
    if any(_in_gear(item.reading) and item.band.ends is None for item in judged):
        return ["watch-wheels", "other-gear", "repeat", "combined"]
    if any(band.ends is None for band in combined_bands(setup).values()):
        return ["combined"]
    return []


def _in_gear(reading: StallReading) -> bool:
    return reading.test in ("converter", "both")


def _judged(setup: StallSetup, reading: StallReading, band: Band) -> JudgedReading:
    if not reading.valid:
        return JudgedReading(reading, band, "void", None)
    speed = reading.engine_speed
    published = None
    if setup.published is not None and reading.test == "converter":
        published = place_in(speed, *setup.published)
    return JudgedReading(reading, band, band.place(speed), invert(setup, reading), published)


@dataclass(frozen=True, eq=False)
class _Scored:
    hypothesis: Hypothesis
    logs: FloatArray
    unknown: FloatArray
    predicted: FloatArray
    misfit: float


def _settled(
    setup: StallSetup, reading: StallReading, item: Hypothesis | None, unknown: FloatArray
) -> FloatArray:
    """Return what drawn machines settle at in a reading, sound but for what an item says."""
    normal = normal_draws()
    torque, capacity = setup.factors(normal)
    load = setup.extra_load(reading, reading.engine_speed, normal[4])
    if item is not None:
        torque = torque * item.torque(unknown, reading)
        capacity = capacity * item.capacity(unknown, reading)
        load = load + item.load(unknown, reading)
    return setup.settled(
        reading, torque, capacity, load=load, shift=setup.governor_shift(normal[6]),
        about=reading.engine_speed,
    )  # fmt: skip


def _score(
    setup: StallSetup,
    item: Hypothesis,
    readings: Sequence[StallReading],
    healthy: Sequence[FloatArray],
) -> _Scored:
    unknown = item.unknown(uniform_draws()[-1])
    rows = []
    for reading, as_healthy in zip(readings, healthy, strict=True):
        settled = as_healthy
        if not item.leaves_alone(reading):
            settled = _settled(setup, reading, item, unknown)
        rows.append(settled * item.shown(unknown, reading) if item.touches(reading) else settled)
    predicted = np.array(rows)
    read = np.array([reading.engine_speed for reading in readings])
    sigma = setup.reading_sigma()
    logs = log_likelihoods(read, predicted, sigma)
    misfit = float((((read[:, np.newaxis] - predicted) / sigma) ** 2).sum(axis=0).min())
    return _Scored(item, logs, unknown, predicted, misfit)


def _ranked(
    setup: StallSetup, scored: Sequence[_Scored], count: int
) -> tuple[tuple[StallFinding, ...], bool]:
    from scipy.stats import chi2

    scores = np.array([log_mean(s.logs) + np.log(s.hypothesis.weight) for s in scored])
    poor = bool(min(s.misfit for s in scored) > chi2.isf(_RARE, count))
    top = float(scores.max())
    shares = np.exp(scores - top) if np.isfinite(top) else np.ones(scores.size)
    shares = shares / shares.sum()
    findings = [_finding(setup, s, float(share)) for s, share in zip(scored, shares, strict=True)]
    # Of other converters the one that fits best is named first: a file before a size made to fit.
    others = sorted(
        (f for f in findings if f.family == "wrong-converter"), key=lambda f: -f.log_likelihood
    )
    rest = [f for f in findings if f.family != "wrong-converter"]
    if others:
        rest.append(_joined(others))
    return tuple(sorted(rest, key=lambda f: -f.share)), poor


def _joined(others: Sequence[StallFinding]) -> StallFinding:
    """Return one finding for all library entries, with the best of them named."""
    best = others[0]
    entries = tuple(
        (f.code.partition(":")[2], f.share) for f in others[:3] if f.share > 5 * _FEWEST_SHOWN
    )
    weight = sum(f.weight for f in others)
    return StallFinding(
        code="wrong-converter",
        what=words.note("wrong-converter"),
        share=sum(f.share for f in others),
        weight=weight,
        log_likelihood=best.log_likelihood,
        would_read=best.would_read,
        would_read_span=best.would_read_span,
        fits=best.fits,
        detail=None if entries else words.note("no-library-entry"),
        entries=entries,
    )


def _finding(setup: StallSetup, item: _Scored, share: float) -> StallFinding:
    hypothesis = item.hypothesis
    unknown = None
    # Where it does not fit at all, the least bad of its draws says nothing.
    if hypothesis.unknown_name and share > _FEWEST_SHOWN:
        middle, low, high = weighted_quantiles(item.unknown, item.logs, np.array([0.5, 0.05, 0.95]))
        unknown = (float(middle), float(low), float(high))
    before = [_spread(row, setup.stuck(row), None) for row in item.predicted]
    fits: tuple[tuple[float, float, float] | None, ...] | None = None
    if share > _FEWEST_SHOWN:
        fits = tuple(_spread(row, setup.stuck(row), item.logs) for row in item.predicted)
    return StallFinding(
        code=hypothesis.code,
        what=hypothesis.what,
        share=share,
        weight=hypothesis.weight,
        log_likelihood=log_mean(item.logs),
        unknown_name=hypothesis.unknown_name,
        unknown=unknown,
        would_read=tuple(None if span is None else span[0] for span in before),
        would_read_span=tuple(None if span is None else span[1:] for span in before),
        fits=None if fits is None else tuple(None if s is None else s[1:] for s in fits),
        detail=hypothesis.detail,
    )


def _spread(
    speeds: FloatArray, stuck: NDArray[np.bool_], logs: FloatArray | None
) -> tuple[float, float, float] | None:
    """Return median, 5 and 95 % of the draws that accelerate from idle; None where most do not.

    Each draw counts alike, or by the likelihood whose logarithm is given.
    """
    weight = np.ones(speeds.size) if logs is None else np.exp(logs - logs.max())
    if weight[stuck].sum() > 0.5 * weight.sum():
        return None
    shares, up = np.array([0.5, 0.05, 0.95]), ~stuck
    if logs is None:
        middle, low, high = np.quantile(speeds[up], shares)
    else:
        middle, low, high = weighted_quantiles(speeds[up], logs[up], shares)
    return float(middle), float(low), float(high)


def _void_finding() -> StallFinding:
    return StallFinding(
        "brakes-give-way",
        words.note("brakes-let-go-first"),
        share=1.0,
        weight=1.0,
        log_likelihood=0.0,
    )


def _void_note(count: int) -> Note:
    return words.note("brakes-let-go", which="A reading" if count == 1 else f"{count} readings")


def _misfit_note(both: Together, judged: Sequence[JudgedReading]) -> Note:
    return words.note(
        "readings-do-not-fit",
        misfit=both.separated.misfit,
        limit=both.largest or 0.0,
        action=repeat_words(both.worst, judged).capitalize(),
        worst=label_of(both.worst),
    )


def _weights_note(candidates: Sequence[Hypothesis]) -> Note:
    by_family: dict[str, float] = {}
    for item in candidates:
        by_family[item.family] = by_family.get(item.family, 0.0) + item.weight
    listed = ", ".join(f"{family} {weight:g}" for family, weight in by_family.items())
    return words.note("weights-assumed", weights=listed)
