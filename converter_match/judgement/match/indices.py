"""Averages over the working range: where it lies, what they come to, and their table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Block, Heading, row_of
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.curves import FloatArray
from converter_match.judgement.match import words
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.indices import MatchingIndices, matching_indices

INDEX_LEVELS = (0.75, 0.8)

INDICES = (
    Heading("level", "efficiency from", "share"),
    Heading("low_speed", "turbine from", "angular_speed"),
    Heading("high_speed", "to", "angular_speed"),
    Heading("span", "span", None, ".2f"),
    Heading("mean_output_power", "mean output", "power"),
    Heading("mean_efficiency", "mean efficiency"),
    Heading("mean_specific_fuel", "mean fuel over output", "specific_fuel"),
)
"""What is said of a working range."""


def index_block(indices: Sequence[MatchingIndices]) -> Block:
    """Return the table, one row for each level of efficiency.

    Parameters
    ----------
    indices : sequence of MatchingIndices
    """
    return Block(
        "indices",
        title=words.INDICES if indices else "",
        columns=INDICES,
        rows=tuple(row_of(item, INDICES) for item in indices),
        rows_key="",
    )


def working_indices(
    engine: Engine, supply: TorqueSupply, converter: Converter, governed: float | None
) -> tuple[MatchingIndices, ...]:
    """Return the indices of the first working range of each level, up to the governed limit.

    Parameters
    ----------
    engine : Engine
        For its fuel.
    supply : TorqueSupply
    converter : Converter
    governed : float or None
        Speed ratio of the governed limit; None where there is none.
    """
    fuel = fuel_law(engine)
    answers = []
    for level in INDEX_LEVELS:
        for low, high in stretches_above(converter, level)[:1]:
            end = high if governed is None else min(high, max(governed, low))
            answers.append(matching_indices(supply, converter, low, end, level, fuel))
    return tuple(item for item in answers if item is not None)


def stretches_above(converter: Converter, level: float) -> list[tuple[float, float]]:
    """Return the stretches of speed ratio on which the efficiency is above a level.

    Parameters
    ----------
    converter : Converter
    level : float
    """
    end = min(converter.domain[1], 1.0)
    edges = np.unique(np.concatenate([[0.0], converter.efficiency_crossings(level), [end]]))
    middles = 0.5 * (edges[1:] + edges[:-1])
    return _runs(edges, converter.efficiency_at(middles) > level)


def _runs(edges: FloatArray, above: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Join neighbouring stretches that are above into runs."""
    runs: list[tuple[float, float]] = []
    for low, high, inside in zip(edges[:-1], edges[1:], above, strict=True):
        if not inside:
            continue
        if runs and runs[-1][1] == low:
            runs[-1] = (runs[-1][0], float(high))
        else:
            runs.append((float(low), float(high)))
    return runs
