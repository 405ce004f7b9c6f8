"""What is odd about the numbers of a table: routes, short cycles, duties."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

from converter_match.library.schema.spans import asked_of
from converter_match.notes import Note


def column_oddities(kind: str, columns: Mapping[str, Iterable[float]]) -> Iterator[Note]:
    """Yield what is odd about the columns of a table: of each, the first row that is unusual.

    Parameters
    ----------
    kind : {"route", "cycle", "duty"}
    columns : mapping of str to iterable of float
        SI values by the head of the column; what is not finite is an empty cell.
    """
    for head, values in columns.items():
        for row, value in enumerate(values, 1):
            known = {head: float(value)} if math.isfinite(value) else {}
            asked = tuple(asked_of(kind, known, f" (row {row})"))
            if asked:
                yield from asked
                break
