"""What is odd about shares: 0.08 percent, where 8 percent or 0.08 was meant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from converter_match.library.odd.words import SHARES
from converter_match.notes import Note

# Common practice, no source: roads drain at half a percent and more. A rolling resistance that is
# too low is questioned where a machine rolls on it.
TINY_GRADE = 0.005


def grade_oddities(what: str, grades: Iterable[float]) -> Iterator[Note]:
    """Yield what is odd about grades (rise / run): the steepest of them is hardly one.

    Parameters
    ----------
    what : str
        What they are called.
    grades : iterable of float
        Those that are level say nothing.
    """
    steepest = max((abs(grade) for grade in grades), default=0.0)
    if 0.0 < steepest < TINY_GRADE:
        yield SHARES.note("grade-tiny", what=what, grade=steepest)
