"""What is odd about a short cycle."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.components.route import ShortCycle
from converter_match.library.odd.columns import column_oddities
from converter_match.notes import Note

_COLUMNS = ("distance", "time", "speed limit", "grade", "hydraulic power", "speed")


def oddities(cycle: ShortCycle) -> Iterator[Note]:
    """Yield what is odd about a short cycle.

    Parameters
    ----------
    cycle : ShortCycle

    Yields
    ------
    Note
    """
    yield from column_oddities(
        "cycle",
        {
            head: [getattr(phase, head.replace(" ", "_")) for phase in cycle.phases]
            for head in _COLUMNS
        },
    )
