"""Words set in columns: how wide they are, where lines break, how high a table comes out."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from converter_match.present.drawing.fonts import advance
from converter_match.present.report.model import MarkedCell, ReportTable

TABLE = 7.2
"""Size of letters in a table as wide as the page [pt]; smaller ones are set closer."""
PAD = 0.032
"""Between a cell's edge and its words [in]."""


@lru_cache(maxsize=20_000)
def _width_of(text: str, size: float, bold: bool) -> float:
    """Width of a text [in]; kerning, which narrows it by a hair, is left out."""
    return sum(advance(sign, bold=bold) for sign in text) * size / 72.0


def wrapped(text: str, room: float, size: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines that fit into `room` [in]; a word that does not fit is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        trial = f"{line} {word}" if line else word
        if _width_of(trial, size, bold) <= room:
            line = trial
            continue
        if line:
            lines.append(line)
        line = word
        while _width_of(line, size, bold) > room and len(line) > 1:
            cut = max(1, int(len(line) * room / _width_of(line, size, bold)))
            while cut > 1 and _width_of(line[:cut], size, bold) > room:
                cut -= 1
            lines.append(line[:cut])
            line = line[cut:]
    return [*lines, line] if line or not lines else lines


def natural_widths(table: ReportTable, size: float, room: float, widest: float) -> list[float]:
    """Return widths of columns [in] that hold their words, none above the widest.

    Where they are together wider than the room the widest columns give way, but not below their
    longest word as long as others can.
    """
    widths, words = [], []
    for column, head in enumerate(table.head):
        cells = [row[column] for row in table.rows]
        lines = [
            _width_of(line, size, _is_bold(cell)) for cell in cells for line in cell.split("\n")
        ]
        longest = [_width_of(part, size, _is_bold(cell)) for cell in cells for part in cell.split()]
        heads = [_width_of(part, size, True) for part in head.split()]
        widths.append(min(max([0.0, *lines, *heads]) + 2 * PAD + 0.005, widest))
        words.append(min(max([0.0, *longest, *heads]) + 2 * PAD + 0.005, widest))
    for floors in (words, [0.0] * len(widths)):
        while sum(widths) > room + 1e-9:
            free = [n for n, width in enumerate(widths) if width > floors[n] + 1e-9]
            if not free:
                break
            top = max(widths[n] for n in free)
            least = sum(widths) - room
            gives = [n for n in free if widths[n] > top - 1e-9]
            below = max([widths[n] for n in free if widths[n] <= top - 1e-9], default=0.0)
            cap = max(below, top - least / len(gives))
            for n in gives:
                widths[n] = max(cap, floors[n])
    return widths


def _is_bold(cell: str) -> bool:
    return isinstance(cell, MarkedCell) and cell.look != "dashed"


class SetTable:
    """A table with the widths of its columns [in] and the size of its letters [pt]."""

    def __init__(self, table: ReportTable, widths: Sequence[float], size: float) -> None:
        self.table, self.widths, self.size = table, widths, size
        self.step = size * 1.25 / 72.0
        self.pad = 0.048 if size >= TABLE else 0.033
        self.whole = sum(widths)

    @property
    def caption(self) -> list[str]:
        """Lines above a small table."""
        return wrapped(self.table.caption, self.whole, self.size, bold=True)

    @property
    def tall(self) -> float:
        """Height of the whole with its caption [in]."""
        return self.above + sum(self.height(row) for row in self.table.rows)

    @property
    def above(self) -> float:
        """Height of caption and head [in]."""
        return len(self.caption) * self.step + self.height(self.table.head, head=True)

    def cells(self, row: Sequence[str], *, head: bool = False) -> list[list[str]]:
        """Return the lines of each cell."""
        return [
            [
                line
                for part in cell.split("\n")
                for line in wrapped(part, width - 2 * PAD, self.size, bold=head or _is_bold(cell))
                or [""]
            ]
            for cell, width in zip(row, self.widths, strict=True)
        ]

    def height(self, row: Sequence[str], *, head: bool = False) -> float:
        """Return the height of a row [in]; a head without words has none."""
        if head and not any(row):
            return 0.0
        return max(len(lines) for lines in self.cells(row, head=head)) * self.step + self.pad
