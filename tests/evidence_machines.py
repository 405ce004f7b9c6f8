"""Machines that are planted, read, and looked for: how often bands cover them.

Simulation-based calibration (Talts, Betancourt, Simpson, Vehtari and Gelman, "Validating Bayesian
inference algorithms with simulation-based calibration", 2018): of machines drawn from the prior,
read with the doubt that the instruments have, the true value has a rank among the draws of the
posterior that is uniform.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.evidence.conflict import surprise
from converter_match.judgement.evidence.prior import Prior
from converter_match.judgement.evidence.readings import predicted
from converter_match.judgement.evidence.update import update
from converter_match.library.study_file import read_study
from converter_match.study.measurement import Measurement
from converter_match.study.study import Study

RPM = np.pi / 30
TARGETS = (
    "engine torque, present", "K-factor", "torque ratio", "mass", "engine torque, candidate",
    "stall speed, candidate",
)  # fmt: skip
_PARTS = (
    ("engine-torque", "present"), ("k-factor", "new-engine"), ("torque-ratio", "new-engine"),
    ("mass", "new-engine"), ("engine-torque", "new-engine"),
)  # fmt: skip


def yard() -> Study:
    """The shipped study of a loader in the yard, without its readings."""
    return read_study("loader-in-the-yard").replace(measurements=())


def of_yard(count: int, study: Study) -> tuple[Measurement, ...]:
    """Readings on the present machine, as many as asked for, up to five; values to be planted."""
    where = {"combination": "present", "site": study.sites[0], "air_known": (True, True)}
    stall = Measurement(quantity="stall-speed", value=1.0, deviation=12 * RPM, repeats=3,
                        date="2026-05-04", **where)  # fmt: skip
    given = (
        stall,
        Measurement(quantity="weight", combination="present", value=1.0, deviation=40.0,
                    load="empty"),
        Measurement(quantity="pull", value=1.0, deviation=800.0, gear="1", mass=22600.0, **where),
        Measurement(quantity="speed-on-grade", value=1.0, deviation=0.05, gear="2", grade=0.08,
                    date="2026-05-04", **where),
        replace(stall, date="2026-05-11", repeats=1),
    )  # fmt: skip
    return given[:count]


@dataclass(frozen=True, eq=False)
class Planted:
    """What came out of looking for planted machines.

    Parameters
    ----------
    ranks : ndarray, shape (machines, targets)
        Share of the posterior below the true value.
    effective : ndarray, shape (machines,)
        Effective sizes.
    plain : ndarray, shape (machines,)
        What plain weights would have come to.
    missed : int
    """

    ranks: FloatArray
    effective: FloatArray
    plain: FloatArray
    missed: int

    def coverage(self, target: int, level: float) -> float:
        """Share of machines whose true value lies in the central band of a level."""
        off = np.abs(self.ranks[:, target] - 0.5)
        return float(np.mean(off <= 0.5 * level))


def looked_for(
    truth: Prior,
    analysis: Prior,
    *,
    machines: int,
    draws: int,
    seed: int = 1,
    progress: Callable[[int], None] = lambda row: None,
) -> Planted:
    """Plant machines by one prior, and look for them by another: the same, or a misuse of it."""
    rng = np.random.default_rng(seed)
    planted = rng.standard_normal((machines, truth.size))
    true, read = targets(truth, planted), predicted(truth, planted)
    scores = analysis.draw(draws, seed)
    found = predicted(analysis, scores)
    ranks = np.empty((machines, len(TARGETS)))
    effective, plain, missed = np.empty(machines), np.empty(machines), 0
    for row in range(machines):
        noise = np.linalg.cholesky(truth.covariance_at(read[row])) @ rng.standard_normal(
            read.shape[1]
        )
        values = read[row] + noise
        after = update(
            lambda own: predicted(analysis, own), (scores, found), values,
            analysis.covariance_at(values), analysis.touched(), seed=seed + row,
        )  # fmt: skip
        below = targets(analysis, after.scores) < true[row]
        ranks[row] = after.weights @ below
        effective[row], plain[row] = after.effective_size, after.of_prior
        missed += after.missed
        progress(row)
    return Planted(ranks, effective, plain, missed)


def targets(prior: Prior, scores: FloatArray) -> FloatArray:
    """What is looked for, shape (n, targets)."""
    inputs = prior.inputs(scores)
    columns = [
        next(one.deviations for one in inputs if one.quantity == name and item in one.combinations)
        for name, item in _PARTS
    ]
    site = prior.study.sites[0]
    asked = Measurement(quantity="stall-speed", combination="new-engine", deviation=1.0,
                        site=site, air_known=(True, True))  # fmt: skip
    own = Prior(prior.study, (asked,))
    columns.append(predicted(own, scores[:, : own.latents.size])[:, 0])
    return np.stack(columns, axis=1)


def other_tolerances(study: Study, factor: float) -> Study:
    """The same study with every tolerance narrower or wider."""
    given = (replace(item, half_width=factor * item.half_width) for item in study.tolerances)
    return study.replace(tolerances=tuple(given))


def exchange_unit(study: Study) -> Study:
    """The same study with a converter of the same type in the candidate, not the same one."""
    [item] = study.candidates
    other = item.replace(converter=item.converter.replace(name=f"{item.converter.name}, exchange"))
    return study.replace(candidates=(other,))


def without_model_error(items: Sequence[Measurement]) -> tuple[Measurement, ...]:
    """The same readings, the calculation being taken as exact."""
    return tuple(replace(item, model_error=0.0) for item in items)


def found_wrong(prior: Prior, error: float, *, machines: int, draws: int, seed: int = 2) -> float:
    """Share of machines on which a first reading that is wrong by a share contradicts."""
    rng = np.random.default_rng(seed)
    planted = rng.standard_normal((machines, prior.size))
    read = predicted(prior, planted)
    scores = prior.draw(draws, seed)
    found = predicted(prior, scores)
    odd = 0
    for row in range(machines):
        noise = np.linalg.cholesky(prior.covariance_at(read[row])) @ rng.standard_normal(
            read.shape[1]
        )
        values = read[row] + noise
        values[0] *= 1.0 + error * (1 if row % 2 else -1)
        odd += bool(surprise(scores, found, values, prior.covariance_at(values), seed).odd)
    return odd / machines
