"""How each reading fits what was to be expected of it, and what one that does not points to."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import numpy as np

from converter_match.constants import GRAVITY
from converter_match.curves import FloatArray
from converter_match.judgement.evidence import words
from converter_match.judgement.evidence.conflict import LEAST_P, Surprise
from converter_match.judgement.evidence.prior import PAYLOAD, Prior
from converter_match.judgement.evidence.readings import WARM_OIL
from converter_match.judgement.evidence.result import WeighedReading, reading_value
from converter_match.judgement.uncertainty.sampling import normal_scores
from converter_match.notes import Note
from converter_match.study.measurement import (
    IN_AIR,
    LOAD_SCATTER,
    PRACTICE,
    WORK_ERROR,
    Measurement,
)
from converter_match.study.study import Study

_WOULD_TAKE = 2  # so many inputs are named that could explain a reading alone
_LEAST_WEIGHT = 0.1  # an input that explains less of a reading's doubt explains no contradiction
_RARE = 1e-4  # what draws cannot tell from never
_CONFUSED: Mapping[str, tuple[tuple[str, str, float], ...]] = MappingProxyType(
    {
        "velocity": (("mph", "km/h", 1 / 1.609344), ("km/h", "mph", 1.609344)),
        "mass": (
            ("short ton", "t", 1 / 0.90718474), ("t", "short ton", 0.90718474),
            ("lb", "kg", 1 / 0.45359237), ("kg", "lb", 0.45359237),
        ),
        "force": (("lbf", "N", 1 / 4.4482216), ("kgf", "N", 1 / GRAVITY), ("N", "lbf", 4.4482216)),
        "torque": (("lbf*ft", "N*m", 1 / 1.3558179), ("N*m", "lbf*ft", 1.3558179)),
        "temperature_difference": (("degF", "K", 1.8), ("K", "degF", 1 / 1.8)),
    }
)  # fmt: skip
"""Dimension -> (what it was read in, what it was written in, value / right value). The factors are
those of NIST SP 811, appendix B."""


def weighed_readings(prior: Prior, off: Surprise, scores: FloatArray) -> tuple[WeighedReading, ...]:
    """Return every reading beside what was to be expected of it.

    Parameters
    ----------
    prior : Prior
    off : Surprise
    scores : ndarray, shape (n, d)
        The draws that it rests on.
    """
    names = {item.id: item.name for item in prior.study.combinations}
    count, odd = len(prior.measurements), off.odd
    critical = _critical(LEAST_P / count)
    rows = []
    for k, item in enumerate(prior.measurements):
        known = bool(np.isfinite(off.p[k]))
        middle = float(off.middle[k]) if known else None
        place = "fits" if k not in odd else "contradicts" if known else "not-possible"
        spread = (float(off.high[k]) - float(off.low[k])) / (2 * 1.959964) if known else math.inf
        rows.append(
            WeighedReading(
                item=item,
                title=title_of(item),
                name=names[item.combination],
                low=float(off.low[k]) if known else None,
                middle=middle,
                high=float(off.high[k]) if known else None,
                p=float(off.p[k]) if known else None,
                off=float(off.apart[k]),
                off_given_others=float(off.given_others[k]),
                half_seen=critical * spread / (item.value or 1.0),
                place=place,
                points_to=() if k not in odd else _points_to(prior, off, k, scores),
            )
        )
    return tuple(rows)


def _critical(p: float) -> float:
    """Return how many standard deviations out a reading of two-sided probability p lies."""
    return -float(normal_scores(np.array([0.5 * p]))[0])


def title_of(item: Measurement) -> Note:
    """Return what was read, and how, as a sentence without a full stop."""
    say = words.SETTINGS.note
    how = []
    if item.gear:
        how.append(say("gear", gear=item.gear))
    if item.grade:
        how.append(say("grade", grade=item.grade))
    if item.speed is not None:
        to = "to-speed" if item.quantity == "time-to-speed" else "speed"
        how.append(say(to, speed=item.speed))
    if item.engine_speed is not None:
        how.append(say("engine-speed", speed=item.engine_speed))
    if item.speed_ratio is not None:
        how.append(say("speed-ratio", ratio=f"{item.speed_ratio:.3g}"))
    if item.duration is not None:
        how.append(say("duration", time=item.duration))
    if item.pumps == "relief":
        how.append(say("relief"))
    if item.quantity == "weight":
        how.append(say("load", load=item.load))
    if item.surface is not None:
        how.append(say("other-ground", ground=item.surface.name))
    if item.date:
        how.append(say("date", date=item.date))
    title = item.kind.title
    if not how:
        return words.SETTINGS.note("plain", title=title)
    return words.SETTINGS.note("with", title=title, how=how)


def _points_to(prior: Prior, off: Surprise, k: int, scores: FloatArray) -> tuple[Note, ...]:
    """Return in what way a reading contradicts, and what that points to."""
    item, say = prior.measurements[k], words.CONTRADICTIONS.note
    dimension, value = item.kind.dimension, item.value or 0.0
    names = {one.id: one.name for one in prior.study.combinations}
    what: dict[str, Any] = {
        "title": title_of(item),
        "name": names[item.combination],
        "value": reading_value(value, dimension),
    }
    if not np.isfinite(off.p[k]):
        return (say("not-possible", **what), words.ANYWAY.note("anyway"))
    alone = off.p[k] < LEAST_P / len(prior.measurements)
    if alone:
        low, high = (reading_value(float(end), dimension) for end in (off.low[k], off.high[k]))
        found = [say("contradicts", low=low, high=high, p=max(float(off.p[k]), _RARE), **what)]
    else:
        apart = abs(float(off.given_others[k]))
        found = [say("contradicts-others", off=apart, p=off.joint, **what)]
    direction = off.apart[k] if alone else off.given_others[k]
    side = words.SIDES[bool(direction > 0.0)]
    found.append(words.POINTS_TO.note(f"{item.quantity}-{side}"))
    found += _would_take(prior, off, k, scores, names)
    found += _units(item, off, k)
    return (*found, words.ANYWAY.note("anyway"))


def _would_take(
    prior: Prior, off: Surprise, k: int, scores: FloatArray, names: Mapping[str, str]
) -> list[Note]:
    """Return how far single inputs would have to lie out to explain a reading."""
    found = []
    moved = off.scores[k]
    for item in prior.inputs(scores):
        own = normal_scores(item.units)
        # How far the input goes with the reading: by the scores that it is made of.
        loads = own @ (scores - scores.mean(axis=0)) / own.size
        weight = float(loads @ moved)
        if abs(weight) >= _LEAST_WEIGHT:
            needed = float(off.apart[k]) / weight
            found.append((abs(needed), needed, item))
    found.sort(key=lambda one: one[0])
    return [
        words.CONTRADICTIONS.note(
            "would-take",
            quantity=item.quantity.replace("-", " "),
            names="; ".join(names[name] for name in item.combinations),
            off=size,
            side=words.SIDES[needed > 0.0],
        )
        for size, needed, item in found[:_WOULD_TAKE]
    ]


def _units(item: Measurement, off: Surprise, k: int) -> list[Note]:
    """Return which units may have been confused, where the reading is that far off."""
    low, middle, high = (float(end[k]) for end in (off.low, off.middle, off.high))
    value = item.value or 0.0
    return [
        words.CONTRADICTIONS.note("unit", factor=value / middle, read=read, written=written)
        for read, written, factor in _CONFUSED.get(item.kind.dimension, ())
        if low <= value / factor <= high
    ]


def reading_notes(prior: Prior, found: FloatArray) -> tuple[Note, ...]:
    """Return what was assumed of the readings.

    Parameters
    ----------
    prior : Prior
    found : ndarray, shape (n, m)
        Predictions.
    """
    study, say = prior.study, words.NOTES.note
    names = {item.id: item.name for item in study.combinations}
    notes = []
    for k, item in enumerate(prior.measurements):
        title = item.kind.title
        titled = title[:1].upper() + title[1:]
        if item.error_share > 0.0:
            basis = item.kind.basis if item.model_error is None else words.AS_GIVEN
            notes.append(say("model-error", title=titled, share=item.error_share, basis=basis))
        where = {"title": titled, "name": names[item.combination]}
        if item.quantity in IN_AIR:
            if item.site is None:
                notes.append(say("reference-air", **where))
            if item.oil_temperature is None:
                code = "oil-as-on-sheet"
                if item.quantity == "temperature-rise":
                    notes.append(say("hold-from-warm-oil", start=WARM_OIL, **where))
                else:
                    notes.append(say(code, **where))
        known = found[np.isfinite(found[:, k]), k]
        if known.size and float(np.ptp(known)) <= 1e-9 * abs(float(known[0])):
            notes.append(say("teaches-nothing", **where))
    notes += _shared_notes(study, prior)
    return tuple(dict.fromkeys(notes))


def _shared_notes(study: Study, prior: Prior) -> list[Note]:
    notes = []
    if any(quantity == PAYLOAD for quantity, _, _ in prior.names):
        notes.append(words.NOTES.note("load-scatter", share=LOAD_SCATTER))
    if study.work_error > 0.0:
        basis = PRACTICE if study.work_error == WORK_ERROR else words.AS_GIVEN
        notes.append(words.NOTES.note("work-error", share=study.work_error, basis=basis))
    return notes
