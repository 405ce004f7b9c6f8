"""The readings that could be taken before a decision on one candidate, and what they would show.

What can be read on the present machine as it stands, and what a test bed or a rig would say of the
parts of the candidate that it does not share with it. A study adds to the list, changes it or takes
from it. Deviations are shares of what would be read; they and the cost classes are common practice,
no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.evidence import worth_words
from converter_match.judgement.evidence.prior import Prior
from converter_match.judgement.evidence.readings import of_reading, readings
from converter_match.judgement.evidence.value import Predicted
from converter_match.judgement.stall.words import joined
from converter_match.judgement.uncertainty.inputs import DrawnInput
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.notes import Note
from converter_match.study.losses import Cost
from converter_match.study.measurement import (
    Measurement,
    check_possible,
)
from converter_match.study.possible import LEAST_DEVIATION, USUAL, PossibleReading
from converter_match.study.study import PRESENT, Combination, Study

_ALONE = {
    "engine-torque": "engine", "fuel-rate": "engine", "k-factor": "converter",
    "torque-ratio": "converter",
}  # fmt: skip
_HOLD = 15.0  # s
_TO = 0.5  # of the top speed
_DAYS = 32452843  # the days of such readings are drawn for themselves


@dataclass(frozen=True, eq=False, kw_only=True)
class Possible:
    """A reading that could be taken, and what it would show in every draw.

    Parameters
    ----------
    item : Measurement
    cost : {"minutes", "hours", "dear"}
    title : Note
        What it is called.
    predicted : Predicted
        Its deviation is that of instrument, repeats and model.
    """

    item: Measurement
    cost: Cost
    title: Note
    predicted: Predicted


Known = dict[tuple[object, ...], Possible | None]
"""Readings by their use; None for one that tells nothing or cannot be predicted."""


def possible_readings(
    study: Study,
    candidate: str,
    outcomes: Mapping[str, Outcome],
    scores: FloatArray,
    *,
    seed: int = 0,
    off: Mapping[str, FloatArray] | None = None,
    known: Known | None = None,
) -> tuple[Possible, ...]:
    """Return the readings that could move what is believed of a candidate.

    Left out is what depends on nothing that has a tolerance, and what was read already.

    Parameters
    ----------
    study : Study
        With tolerances.
    candidate : str
        Id of the combination that is decided on.
    outcomes : mapping of str to Outcome
        Of each combination in the first condition.
    scores : ndarray, shape (n, d)
        Draws of the scores of the parts, as the study has them.
    seed : int
    off : mapping of str to ndarray, shape (n,), optional
        By what share the engine torque of a combination in a test is off that at work, where the
        draws are those of work.
    known : dict, optional
        Readings that were predicted for another candidate; those of this one are added.
    """
    taken = {item.use for item in study.measurements}
    known = {} if known is None else known
    listed = [one for one in _listed(study, candidate, outcomes) if one.item.use not in taken]
    new = [one for one in listed if one.item.use not in known]
    prior = Prior(study, tuple(one.item for one in new))
    size, parts = scores.shape
    days = prior.draw(size, seed + _DAYS)[:, parts:]
    whole = np.concatenate([scores, days], axis=1)
    inputs = prior.inputs(whole)
    for row, one in enumerate(new):
        given = None
        if any(column < parts for column in prior.touched([row])):
            given = _predicted(prior, whole, inputs, row, off or {})
        known[one.item.use] = None if given is None else _possible(study, one, given)
    found = (known[one.item.use] for one in listed)
    return tuple(item for item in found if item is not None)


def _predicted(
    prior: Prior,
    scores: FloatArray,
    inputs: Sequence[DrawnInput],
    row: int,
    off: Mapping[str, FloatArray],
) -> FloatArray | None:
    """Return what one reading would show; None where that cannot be calculated."""
    reading = readings(prior)[row]
    deviations = prior.deviations(scores, inputs, row)
    differs = off.get(reading.item.combination)
    if differs is not None and "engine-torque" in deviations:
        deviations["engine-torque"] = (1.0 + deviations["engine-torque"]) / (1.0 + differs) - 1.0
    try:
        values = of_reading(reading, deviations, scores.shape[0])
    except InputError:
        return None
    return values if np.isfinite(values).any() else None


def _possible(study: Study, one: PossibleReading, values: FloatArray) -> Possible:
    middle = float(np.median(np.abs(values[np.isfinite(values)])))
    item = one.item
    if one.share is not None:
        item = replace(item, deviation=max(one.share * middle, one.least))
    deviation = float(np.hypot(item.noise, item.error_share * middle))
    return Possible(
        item=item,
        cost=one.cost,
        title=title_of(item, study),
        predicted=Predicted(values=values, deviation=deviation),
    )


def usual(item: Measurement) -> PossibleReading:
    """Return a reading with the deviation and the cost class that are usual for it."""
    share, cost = USUAL[item.quantity]
    least = LEAST_DEVIATION.get(item.quantity, 0.0)
    return PossibleReading(item=item, cost=cost, share=share, least=least)


def predicted_reading(
    prior: Prior, scores: FloatArray, inputs: Sequence[DrawnInput], row: int
) -> Possible | None:
    """Return a reading to come, with the usual deviation; None where it cannot be predicted.

    Parameters
    ----------
    prior : Prior
        Of readings without values.
    scores : ndarray, shape (n, d)
    inputs : sequence of DrawnInput
        Of the same scores.
    row : int
        Which reading.
    """
    values = _predicted(prior, scores, inputs, row, {})
    if values is None:
        return None
    return _possible(prior.study, usual(prior.measurements[row]), values)


def title_of(item: Measurement, study: Study) -> Note:
    """Return what a reading is called.

    Parameters
    ----------
    item : Measurement
    study : Study
    """
    on = study.combination(item.combination)
    values: dict[str, str | float] = {
        name: value
        for name in ("gear", "grade", "speed", "engine_speed", "speed_ratio", "duration")
        if (value := getattr(item, name)) not in (None, "")
    }
    part = _ALONE.get(item.quantity, "machine")
    known = worth_words.PRESENT_PARTS if on.id == PRESENT else worth_words.NEW_PARTS
    of = known.get(part, on.name)
    code = "pull-at-speed" if item.quantity == "pull" and item.speed else item.quantity
    say = worth_words.READINGS.note
    parts = [say(code, of=of, **values)]
    if item.pumps == "relief":
        parts.append(say("at-relief"))
    if item.load == "empty" or item.quantity == "weight":
        parts.append(say(item.load))
    if item.surface is not None:
        parts.append(say("other-ground", ground=item.surface.name))
    return parts[0] if len(parts) == 1 else joined(code, *parts)


def _listed(study: Study, candidate: str, outcomes: Mapping[str, Outcome]) -> list[PossibleReading]:
    """Return the study's own readings, and the usual ones beside them."""
    out = {(item.quantity, item.combination) for item in study.not_possible}
    own = list(study.possible)
    known = {one.item.use for one in own}
    surface = study.duty.surface
    for item in _usual(study, candidate, outcomes):
        if item.use in known or (item.quantity, item.combination) in out:
            continue
        try:
            check_possible(item, study.combination(item.combination), surface)
        except InputError:
            continue
        own.append(usual(item))
    return own


def _usual(study: Study, candidate: str, outcomes: Mapping[str, Outcome]) -> Iterator[Measurement]:
    item = study.combination(candidate)
    if study.present is not None:
        yield from _on_machine(study, outcomes[PRESENT])
        yield from _on_bench(study.present, None)
    yield from _on_bench(item, study.present)


def _reading(on: str, quantity: str, **settings: object) -> Measurement:
    """Return a reading; its deviation follows from what it would show."""
    return Measurement(quantity=quantity, combination=on, deviation=1.0, **settings)  # type: ignore[arg-type]


def _on_machine(study: Study, item: Outcome) -> Iterator[Measurement]:
    """Yield what can be read on a machine as it stands, in the air of the first site."""
    on, wheels = item.combination.id, item.tractive
    given = {"load": study.duty.load}
    here = {"site": study.sites[0], "air_known": (True, True)} if study.sites else {}
    yield _reading(on, "stall-speed", **here)
    yield _reading(on, "stall-speed", pumps="relief", **here)
    yield _reading(on, "temperature-rise", duration=_HOLD, **here)
    if item.combination.machine is not None:
        yield _reading(on, "weight", **given)
        yield _reading(on, "rolling-radius")
    if wheels is None or study.duty.surface is None:
        return
    lowest = wheels.driveline.forward[0].name
    yield _reading(on, "pull", gear=lowest, **given, **here)
    steepest = [row for row in wheels.grades if row.grade > 0.0 and row.gear is not None]
    if steepest:
        row = max(steepest, key=lambda one: one.grade)
        settings = {"gear": row.gear, "grade": row.grade}
        yield _reading(on, "speed-on-grade", **settings, **given, **here)
    level = next((row for row in wheels.grades if row.grade == 0.0), None)
    if level is not None and level.speed is not None:
        yield _reading(on, "top-speed", **given, **here)
        yield _reading(on, "time-to-speed", speed=_TO * level.speed, **given, **here)


def _on_bench(item: Combination, present: Combination | None) -> Iterator[Measurement]:
    """Yield what a test bed and a rig would say of the parts that the present machine has not."""
    if present is None or item.engine is not present.engine:
        speed, _ = item.engine.peak_torque
        yield _reading(item.id, "engine-torque", engine_speed=speed)
    if present is None or item.converter is not present.converter:
        yield _reading(item.id, "k-factor", speed_ratio=0.0)
        yield _reading(item.id, "torque-ratio", speed_ratio=0.0)
