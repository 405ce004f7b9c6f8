"""What is odd about a surface's numbers."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.components.surface import QUANTITIES, Surface
from converter_match.library.schema.spans import asked_of
from converter_match.notes import Note


def oddities(surface: Surface) -> Iterator[Note]:
    """Yield what is odd about a surface.

    Parameters
    ----------
    surface : Surface

    Yields
    ------
    Note
    """
    yield from asked_of(
        "surfaces",
        {f"surface.{key}": getattr(surface, key) for key in QUANTITIES.values()},
    )
