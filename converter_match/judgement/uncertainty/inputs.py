"""The uncertain inputs of a study, drawn: once for each physical part.

The score of a part, a standard normal number whose probability is read off the distribution of its
tolerance, has two levels: ``sqrt(1 - s) T + sqrt(s) U``, with T the error of the sheet, common to
all units of a type, U the scatter of this unit, and s the share of the variance that is scatter.

Correlated quantities of the same part have correlated T and correlated U. Quantities of different
parts go together by common scores: with R the correlations of the scores and l its least
eigenvalue, ``sqrt(R - l I) G + sqrt(l) (T, U)``, G being common to all combinations. So what is
possible for the quantities is possible for any number of combinations.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.uncertainty.sampling import (
    Uncertain,
    checked_correlation,
    normal_scores,
    probabilities,
    score_correlation,
    unit_draws,
)
from converter_match.study.doubts import Tolerance
from converter_match.study.parts import PART_OF, rows_of, type_ids, units
from converter_match.study.study import Study

_Key = tuple[str, str, str]  # quantity, level, which
_Weights = dict[_Key, float]
_LEAST = 1e-12


@dataclass(frozen=True, eq=False)
class DrawnInput:
    """One uncertain input: a quantity of one physical part.

    Parameters
    ----------
    tolerance : Tolerance
    combinations : tuple of str
        Ids of those that have the part.
    type : str
        Id of the component; empty for site and ground.
    units : ndarray, shape (n,)
        Probability of each draw.
    """

    tolerance: Tolerance
    combinations: tuple[str, ...]
    type: str
    units: FloatArray

    @property
    def quantity(self) -> str:
        """Which quantity it is."""
        return self.tolerance.quantity

    @property
    def uncertain(self) -> Uncertain:
        """Its distribution."""
        own = self.tolerance
        return Uncertain(
            name=own.quantity,
            half_width=own.half_width,
            distribution=own.distribution,
            shift=own.shift,
        )

    @cached_property
    def deviations(self) -> FloatArray:
        """Deviation of each draw: a share of the value, or [K]."""
        return self.uncertain.from_unit(self.units)


@dataclass(frozen=True, eq=False)
class _Part:
    """A physical part, as far as one quantity goes."""

    quantity: str
    number: int
    type: str
    tolerance: Tolerance
    combinations: tuple[str, ...]
    alone: bool = field(default=True)  # no other unit of its type is drawn

    @property
    def levels(self) -> dict[tuple[str, str], float]:
        """Weights of its scores by level and which of that level."""
        if self.alone:
            return {("unit", str(self.number)): 1.0}
        split = self.tolerance.split
        weights = {("type", self.type): 1.0 - split, ("unit", str(self.number)): split}
        return {key: float(np.sqrt(share)) for key, share in weights.items() if share > 0.0}


@dataclass(frozen=True, eq=False)
class Latents:
    """The standard normal scores that the inputs of a study are made of, not drawn yet.

    Parameters
    ----------
    keys : tuple of (str, str, str)
        What each score is of: the quantity; whether it is the error of a type's sheet (``type``),
        the scatter of one unit (``unit``) or common to all (``common``); and which.
    """

    keys: tuple[_Key, ...]
    _parts: tuple[_Part, ...]
    _weights: tuple[_Weights, ...]

    @classmethod
    def of(cls, study: Study) -> Latents:
        """Return those of a study.

        Raises
        ------
        InputError
            If the correlations are such as no numbers can have.
        """
        parts = _parts(study)
        weights = _weights(study, parts)
        keys = dict.fromkeys(key for row in weights for key in row)
        return cls(tuple(keys), tuple(parts), tuple(weights))

    @property
    def size(self) -> int:
        """Number of scores, d."""
        return len(self.keys)

    def columns(self, combination: str, quantities: Iterable[str]) -> set[int]:
        """Return which scores some quantities of a combination's parts are made of."""
        asked, place = set(quantities), {key: k for k, key in enumerate(self.keys)}
        return {
            place[key]
            for part, row in zip(self._parts, self._weights, strict=True)
            if part.quantity in asked and combination in part.combinations
            and part.tolerance.half_width > 0.0
            for key in row
        }  # fmt: skip

    def inputs(self, drawn: FloatArray, scores: FloatArray | None = None) -> tuple[DrawnInput, ...]:
        """Return the inputs for draws of the scores.

        Parameters
        ----------
        drawn : ndarray, shape (n, d)
            Probabilities of the scores.
        scores : ndarray, shape (n, d), optional
            The scores, where they are known already.

        Returns
        -------
        tuple of DrawnInput
            In the order of the tolerances; of each quantity one for each physical part.
        """
        place = {key: k for k, key in enumerate(self.keys)}
        found = []
        for part, row in zip(self._parts, self._weights, strict=True):
            if len(row) == 1:  # of weight one: the probability as it was drawn
                own = drawn[:, place[next(iter(row))]]
            else:
                scores = normal_scores(drawn) if scores is None else scores
                columns = [place[key] for key in row]
                own = probabilities(scores[:, columns] @ np.array(list(row.values())))
            found.append(DrawnInput(part.tolerance, part.combinations, part.type, own))
        return tuple(found)


def drawn_inputs(study: Study, draws: int, seed: int) -> tuple[DrawnInput, ...]:
    """Draw every uncertain input of a study.

    Parameters
    ----------
    study : Study
    draws, seed : int

    Returns
    -------
    tuple of DrawnInput
        As `Latents.inputs` returns them.

    Raises
    ------
    InputError
        If the correlations are such as no numbers can have.
    """
    latents = Latents.of(study)
    return latents.inputs(unit_draws(draws, latents.size, seed))


def _parts(study: Study) -> list[_Part]:
    found = []
    combinations = study.combinations
    for quantity in dict.fromkeys(item.quantity for item in study.tolerances):
        kind = PART_OF[quantity]
        rows = rows_of(study.tolerances, combinations, study.same_parts, quantity)
        number = units(combinations, study.same_parts, kind)
        types = type_ids(combinations, kind)
        if any(row is not None and row.shared for row in rows):
            number, types = [0] * len(rows), [""] * len(rows)
        for one in dict.fromkeys(number):
            places = [k for k, own in enumerate(number) if own == one]
            row = rows[places[0]]
            if row is not None:
                of_type = {n for n, own in zip(number, types, strict=True) if own == types[one]}
                ids = tuple(combinations[k].id for k in places)
                found.append(_Part(quantity, one, types[one], row, ids, len(of_type) == 1))
    return found


def _weights(study: Study, parts: Sequence[_Part]) -> list[_Weights]:
    """Return what the score of each part is made of."""
    quantities = list(dict.fromkeys(part.quantity for part in parts))
    matrix = np.eye(len(quantities))
    for pair in study.correlations:
        i, j = (quantities.index(name) for name in (pair.first, pair.second))
        matrix[i, j] = matrix[j, i] = pair.coefficient
    try:
        scores = score_correlation(checked_correlation(matrix, quantities))
    except InputError as error:
        raise error.located(source=study.id) from None
    mixed = {}
    for group in _groups(scores):
        names = [quantities[k] for k in group]
        mixed.update(_mixed(names, scores[np.ix_(group, group)], parts))
    return [
        {
            key: weight
            for key, weight in _of_part(part, *mixed[part.quantity]).items()
            if abs(weight) > _LEAST
        }
        for part in parts
    ]


def _groups(matrix: FloatArray) -> list[list[int]]:
    """Return the rows that hang together."""
    left, found = list(range(matrix.shape[0])), []
    while left:
        group = [left.pop(0)]
        for k in group:
            joined = [j for j in left if matrix[k, j] != 0.0]
            left = [j for j in left if j not in joined]
            group += joined
        found.append(sorted(group))
    return found


def _mixed(
    names: list[str], scores: FloatArray, parts: Sequence[_Part]
) -> dict[str, tuple[Mapping[str, float], Mapping[str, float]]]:
    """Return, by quantity, the weights of scores of its own part and of common scores.

    Both are by the quantity that the score is drawn for.
    """
    if len(names) == 1:
        return {names[0]: ({names[0]: 1.0}, {})}
    values, vectors = np.linalg.eigh(scores)
    values = np.maximum(values, 0.0)
    if len({_structure(name, parts) for name in names}) == 1:
        root = vectors * np.sqrt(values)
        root /= np.linalg.norm(root, axis=1, keepdims=True)
        return {
            name: (dict(zip(names, row.tolist(), strict=True)), {})
            for name, row in zip(names, root, strict=True)
        }
    least = float(values[0])
    root = vectors * np.sqrt(values - least)
    size = np.sqrt(np.sum(root**2, axis=1, keepdims=True) + least)
    root /= size
    return {
        name: ({name: float(np.sqrt(least) / size[k, 0])},
               dict(zip(names, root[k].tolist(), strict=True)))
        for k, name in enumerate(names)
    }  # fmt: skip


def _structure(quantity: str, parts: Sequence[_Part]) -> tuple[object, ...]:
    """Return what tells which parts a quantity has, and how their scores are made up."""
    own = [part for part in parts if part.quantity == quantity]
    return tuple((part.number, part.combinations, tuple(part.levels.items())) for part in own)


def _of_part(
    part: _Part, own: Mapping[str, float], common: Mapping[str, float]
) -> dict[_Key, float]:
    weights: dict[_Key, float] = {(name, "common", ""): share for name, share in common.items()}
    for name, share in own.items():
        for (level, which), weight in part.levels.items():
            weights[name, level, which] = share * weight
    return weights
