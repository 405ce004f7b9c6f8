"""What a machine comes to from rest on a grade, as rows and as a table."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.answer.block import Block, row_of
from converter_match.judgement.wheels.headings import REACHED


@dataclass(frozen=True)
class ReachedRow:
    """What the machine comes to from rest on a long grade, SI units; None where it does not.

    Parameters
    ----------
    grade : float
        Rise / run.
    gear, drive, speed : str, str, float or None
        Where it settles by the gearbox's own shifts.
    fastest_gear, fastest_drive, fastest_speed : str, str, float or None
        The fastest that it can hold, however it comes there.
    """

    grade: float
    gear: str | None
    drive: str | None
    speed: float | None
    fastest_gear: str | None
    fastest_drive: str | None
    fastest_speed: float | None

    @property
    def falls_short(self) -> bool:
        """Whether it could hold a higher speed than it comes to, by a percent or more."""
        if self.fastest_speed is None:
            return False
        return self.speed is None or self.speed < 0.99 * self.fastest_speed


def from_rest_block(rows: tuple[ReachedRow, ...]) -> Block:
    """Return what is reached from rest; in text only where that is not the fastest.

    Parameters
    ----------
    rows : tuple of ReachedRow
    """
    short = any(row.falls_short for row in rows)
    return Block(
        "from_rest",
        title="From rest, by the gearbox's own shifts" if short else "",
        columns=REACHED,
        rows=tuple(row_of(row, REACHED) for row in rows),
        rows_key="",
        in_text=short,
    )
