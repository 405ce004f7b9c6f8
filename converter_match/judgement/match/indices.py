"""The table of averages over the working range."""

from __future__ import annotations

from collections.abc import Sequence

from converter_match.answer.block import Block, Heading, row_of
from converter_match.judgement.match import words
from converter_match.physics.match.indices import MatchingIndices

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
