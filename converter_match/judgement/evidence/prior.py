"""What is believed before anything is read: scores of parts, and of the days of the readings.

Every score is a standard normal number, independent of all others. Those of parts are the ones that
a study draws (`judgement.uncertainty.inputs`): the error of a type's sheet, the scatter of a unit.
Beside them, each day has the air that was not measured on it, each ground that is not the duty's a
rolling resistance of its own, and each load its payload. Model errors have no scores: they are
normal, and stand with those of the instruments in the covariance of the readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.uncertainty.inputs import DrawnInput, Latents
from converter_match.judgement.uncertainty.sampling import (
    Uncertain,
    further_draws,
    normal_scores,
    probabilities,
    unit_draws,
)
from converter_match.study.doubts import Tolerance
from converter_match.study.measurement import (
    IN_AIR,
    LOAD_SCATTER,
    ON_GROUND,
    WITH_LOAD,
    Measurement,
)
from converter_match.study.parts import rows_of
from converter_match.study.study import Study

_AIR = ("air-temperature", "air-pressure")
_GROUND = "rolling-resistance"
PAYLOAD = "payload"
"""Deviation of the load of a day, share of the payload."""
_MATCH = ("engine-torque", "accessories", "pumps", "k-factor")
_ROAD = (*_MATCH, "torque-ratio", "mass", "rolling-radius")
_OF_PARTS = {
    "stall-speed": _MATCH,
    "temperature-rise": _MATCH,
    "speed-on-grade": _ROAD,
    "top-speed": _ROAD,
    "pull": _ROAD,
    "time-to-speed": _ROAD,
    "engine-torque": ("engine-torque",),
    "fuel-rate": ("engine-torque",),
    "weight": ("mass",),
    "rolling-radius": ("rolling-radius",),
    "k-factor": ("k-factor",),
    "torque-ratio": ("torque-ratio",),
}
_OWN_SEED = 7919  # the days are drawn beside the parts, which stay as they are without readings


@dataclass(frozen=True)
class _Own:
    """A score that only readings have: which quantity, of which day, and of which readings."""

    quantity: str
    which: str
    uncertain: Uncertain
    rows: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Prior:
    """The scores of a study and of readings, not drawn yet.

    Parameters
    ----------
    study : Study
    measurements : tuple of Measurement
        Taken, or such as could be taken.
    """

    study: Study
    measurements: tuple[Measurement, ...]

    @cached_property
    def latents(self) -> Latents:
        """The scores of the parts: the first columns."""
        return Latents.of(self.study)

    @cached_property
    def _own(self) -> tuple[_Own, ...]:
        return _own_scores(self.study, self.measurements)

    @property
    def names(self) -> tuple[tuple[str, str, str], ...]:
        """Quantity, level and which of every column."""
        return (*self.latents.keys, *((own.quantity, "day", own.which) for own in self._own))

    @property
    def size(self) -> int:
        """Number of scores, d."""
        return len(self.names)

    def draw(self, draws: int, seed: int) -> FloatArray:
        """Return scores, shape (n, d); those of the parts are the draws of the study itself.

        Parameters
        ----------
        draws, seed : int
        """
        parts = normal_scores(unit_draws(draws, self.latents.size, seed))
        days = further_draws(draws, self.latents.size, len(self._own), seed + _OWN_SEED)
        return np.concatenate([parts, normal_scores(days)], axis=1)

    def touched(self, rows: Sequence[int] | None = None) -> tuple[int, ...]:
        """Return the columns that some readings, or all, depend on; the others they cannot move.

        Parameters
        ----------
        rows : sequence of int, optional
            Which readings.
        """
        asked = range(len(self.measurements)) if rows is None else rows
        found: set[int] = set()
        for row in asked:
            item = self.measurements[row]
            found |= self.latents.columns(item.combination, _quantities(item))
            found |= {self.latents.size + k for k, own in enumerate(self._own) if row in own.rows}
        return tuple(sorted(found))

    def inputs(self, scores: FloatArray) -> tuple[DrawnInput, ...]:
        """Return the inputs of the study for draws of scores (n, d)."""
        parts = scores[:, : self.latents.size]
        return self.latents.inputs(probabilities(parts), parts)

    def deviations(
        self, scores: FloatArray, inputs: Sequence[DrawnInput], row: int
    ) -> dict[str, FloatArray]:
        """Return the deviations that hold for one reading, by quantity, shape (n,).

        Parameters
        ----------
        scores : ndarray, shape (n, d)
        inputs : sequence of DrawnInput
            For the same scores.
        row : int
            Which reading.
        """
        item = self.measurements[row]
        asked = _quantities(item)
        found = {
            one.quantity: one.deviations
            for one in inputs
            if item.combination in one.combinations and one.quantity in asked
        }
        for k, own in enumerate(self._own):
            if row in own.rows:
                column = probabilities(scores[:, self.latents.size + k])
                found[own.quantity] = own.uncertain.from_unit(column)
        return found

    @cached_property
    def covariance(self) -> FloatArray:
        """Covariance of what readings differ from their predictions by, shape (m, m).

        Instrument and repeats on the diagonal; readings of the same test share a model error.
        """
        given = self.measurements
        size = np.array([np.nan if item.value is None else item.value for item in given])
        return self.covariance_at(size)

    def covariance_at(self, values: FloatArray) -> FloatArray:
        """Return the covariance where readings are about some values, shape (m,)."""
        given = self.measurements
        found = np.diag([item.noise**2 for item in given]) if given else np.zeros((0, 0))
        for i, one in enumerate(given):
            for j, other in enumerate(given):
                if one.use == other.use:
                    shares = one.error_share * other.error_share
                    found[i, j] += shares * values[i] * values[j]
        return np.asarray(found, dtype=np.float64)


def _quantities(item: Measurement) -> tuple[str, ...]:
    """Return the quantities of the study's own parts that a reading depends on."""
    found = _OF_PARTS[item.quantity]
    if item.mass is not None:  # weighed on that day
        found = tuple(name for name in found if name != "mass")
    on_ground = item.quantity in ON_GROUND and item.ground == "duty"
    return (*found, _GROUND) if on_ground else found


def _own_scores(study: Study, measurements: Sequence[Measurement]) -> tuple[_Own, ...]:
    found: dict[tuple[str, str], tuple[Uncertain, list[int]]] = {}

    def add(quantity: str, which: str, uncertain: Uncertain, row: int) -> None:
        found.setdefault((quantity, which), (uncertain, []))[1].append(row)

    for row, item in enumerate(measurements):
        day = item.date or f"reading {row + 1}"
        if item.quantity in IN_AIR:
            place = "" if item.site is None else item.site.id
            for quantity, known in zip(_AIR, item.air_known, strict=True):
                given = None if known else _tolerance(study, item, quantity)
                if given is not None:
                    add(quantity, f"{day}, {place}".rstrip(", "), given, row)
        if item.surface is not None:
            given = _tolerance(study, item, _GROUND)
            if given is not None:
                add(_GROUND, item.surface.name, given, row)
        laden = item.load == "laden" and item.quantity in WITH_LOAD
        if laden and item.mass is None and _payload(study, item) > 0.0:
            scatter = Uncertain(name=PAYLOAD, half_width=2.0 * LOAD_SCATTER, distribution="normal")
            add(PAYLOAD, f"{day}, {item.combination}", scatter, row)
    return tuple(_Own(*key, uncertain, tuple(rows)) for key, (uncertain, rows) in found.items())


def _payload(study: Study, item: Measurement) -> float:
    machine = study.combination(item.combination).machine
    return 0.0 if machine is None else machine.payload


def _tolerance(study: Study, item: Measurement, quantity: str) -> Uncertain | None:
    """Return how uncertain a quantity of a day is: as the study has it for its own."""
    if not any(one.quantity == quantity for one in study.tolerances):
        return None
    rows = rows_of(study.tolerances, study.combinations, study.same_parts, quantity)
    ids = [one.id for one in study.combinations]
    given: Tolerance | None = rows[ids.index(item.combination)]
    if given is None or given.half_width == 0.0:
        return None
    return Uncertain(
        name=quantity,
        half_width=given.half_width,
        distribution=given.distribution,
        shift=given.shift,
    )


def prior_of(study: Study, measurements: Sequence[Measurement] | None = None) -> Prior:
    """Return the prior of a study for its own readings, or for others.

    Parameters
    ----------
    study : Study
        With tolerances.
    measurements : sequence of Measurement, optional

    Raises
    ------
    InputError
        If the study gives no tolerances: then there is nothing that a reading could move.
    """
    if not study.tolerances:
        raise InputError(
            "nothing that a reading could move: the study gives no tolerances",
            source=study.id, field="tolerance", expected="at least one [[tolerance]]",
        )  # fmt: skip
    return Prior(study, tuple(study.measurements if measurements is None else measurements))
