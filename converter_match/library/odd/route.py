"""What is odd about a route."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.components.route import Route
from converter_match.library.odd.columns import column_oddities
from converter_match.library.odd.shares import grade_oddities
from converter_match.notes import Note


def oddities(route: Route) -> Iterator[Note]:
    """Yield what is odd about a route.

    Parameters
    ----------
    route : Route

    Yields
    ------
    Note
    """
    yield from grade_oddities("the steepest grade of the route", route.grade.tolist())
    yield from column_oddities(
        "route",
        {
            "length": route.length.tolist(),
            "grade": route.grade.tolist(),
            "speed limit": route.speed_limit.tolist(),
            "stop": route.stop_time.tolist(),
        },
    )
