"""What to measure next, for every candidate of a study whose draws were judged."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.evidence.next_reading import NextReading, NextReadings, next_reading
from converter_match.judgement.evidence.possible import Known, Possible, possible_readings
from converter_match.judgement.evidence.result import DrawsAfter
from converter_match.judgement.evidence.value import perfect_information
from converter_match.judgement.uncertainty.sampling import normal_scores, unit_draws
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.study.study import PRESENT, Study

FEWEST = 400
"""Fewer draws do not tell what a reading is worth, nor that it is worth nothing."""
_TESTS = 49979687  # how tests differ from work is drawn for itself


def next_readings(
    given: DrawsAfter, outcomes: Sequence[tuple[Outcome, ...]], *, seed: int = 0
) -> NextReadings:
    """Return what to measure next for each candidate, in terms of the decision on it.

    A candidate of which a required criterion could not be drawn is left out; of fewer than `FEWEST`
    draws nothing is said.

    Parameters
    ----------
    given : DrawsAfter
        The draws of the study, after its readings where it has some.
    outcomes : sequence of tuple of Outcome
        One tuple for each combination, the first condition first.
    seed : int
    """
    judged, scores, alike = given.judged, given.scores, given.alike
    study, losses = judged.study, judged.study.known_losses
    if judged.size < FEWEST:
        return NextReadings(candidates=())
    first = {row[0].combination.id: row[0] for row in outcomes}
    off = {} if study.measurements else _tests(study, judged.size, seed)
    known: Known = {}
    found: list[NextReading] = []
    for row, item in enumerate(study.combinations):
        holds = None if item.id == PRESENT else judged.musts_hold(row)
        if holds is None:
            continue
        gain = losses.gain(holds)
        readings: tuple[Possible, ...] = ()
        if not losses.nil(perfect_information(gain)):
            readings = possible_readings(
                study, item.id, first, scores, seed=seed, off=off, known=known
            )
        found.append(
            next_reading(
                holds, readings, losses, combination=item.id, name=item.name, seed=seed, alike=alike
            )
        )
    return NextReadings(candidates=tuple(found))


def _tests(study: Study, size: int, seed: int) -> dict[str, FloatArray]:
    """Return by what share the engine torque of a test is off that at work, by combination.

    Where a study has no readings yet its tolerances are those of work, and it is the test that
    differs from it.
    """
    names = [item.id for item in study.combinations]
    scores = normal_scores(unit_draws(size, len(names), seed + _TESTS))
    order = np.random.default_rng(seed + _TESTS).permutation(size)
    return {name: study.work_error * scores[order, k] for k, name in enumerate(names)}
