"""A sheet as a grid of cells, before anybody asks what they mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from converter_match.errors import InputError
from converter_match.library.intake.problem import Problem

MOST_ROWS = 5000
MOST_COLUMNS = 100
LONGEST_CELL = 2000
"""A dealer's sheet has tens of rows; a hundred times as many is another kind of file."""


@dataclass(frozen=True)
class Unusable:
    """A cell that holds something that is neither a number nor a text.

    Parameters
    ----------
    text : str
        As shown.
    why : str
        What it is.
    """

    text: str
    why: str


Cell = str | float | Unusable | None


@dataclass(frozen=True)
class Grid:
    """The cells of one sheet.

    Parameters
    ----------
    source : str
        The file, and the sheet in it.
    rows : tuple of tuple
        All of one length; None is an empty cell.
    notes : tuple of Problem
        What happened on the way in.
    turned : bool
        Whether rows and columns were exchanged after reading.
    decimal_point : bool
        Whether the form of the file leaves no room for decimal commas.
    hidden_rows, hidden_columns : tuple of int
        Not shown by the spreadsheet, from 0.
    struck : tuple of (int, int)
        Row and column of cells that are struck through.
    """

    source: str
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[Problem, ...] = field(default=())
    turned: bool = False
    decimal_point: bool = False
    hidden_rows: tuple[int, ...] = ()
    hidden_columns: tuple[int, ...] = ()
    struck: tuple[tuple[int, int], ...] = ()

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.rows[0]) if self.rows else 0

    def turn(self) -> Grid:
        """Return the grid with rows and columns exchanged."""
        return replace(
            self,
            rows=tuple(zip(*self.rows, strict=True)),
            turned=not self.turned,
            hidden_rows=self.hidden_columns,
            hidden_columns=self.hidden_rows,
            struck=tuple((column, row) for row, column in self.struck),
        )

    def place(self, row: int | None = None, column: int | None = None) -> str:
        """Name a place as it is in the file; `row` and `column` count from 0."""
        words = ("column", "row") if self.turned else ("row", "column")
        parts = [
            f"{word} {number + 1}"
            for word, number in zip(words, (row, column), strict=True)
            if number is not None
        ]
        return ", ".join(reversed(parts) if self.turned else parts)

    def shown(self, row: int) -> str:
        """Return a row as one line of text."""
        return " | ".join(cell_text(cell) for cell in self.rows[row] if cell is not None)


def cell_text(cell: Cell) -> str:
    """Return a cell as a person sees it."""
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.12g}"
    return cell.text if isinstance(cell, Unusable) else cell


def make_grid(source: str, rows: Sequence[Sequence[Cell]], notes: Sequence[Problem] = ()) -> Grid:
    """Return a grid of equal rows, without empty columns at the right and rows at the end.

    Raises
    ------
    InputError
        If there is nothing in it, or too much.
    """
    filled = [
        [_tidy(cell, source, r, c) for c, cell in enumerate(row)] for r, row in enumerate(rows)
    ]
    while filled and all(cell is None for cell in filled[-1]):
        filled.pop()
    width = max(
        (1 + max((c for c, cell in enumerate(row) if cell is not None), default=-1))
        for row in filled or [[]]
    )
    if not filled or not width:
        raise InputError("holds no cells", source=source, expected="a table with a heading row")
    if len(filled) > MOST_ROWS or width > MOST_COLUMNS:
        raise InputError(
            "is too large a table",
            source=source,
            found=f"{len(filled)} rows, {width} columns",
            expected=f"at most {MOST_ROWS} rows and {MOST_COLUMNS} columns",
            hint="save the rows you need as a sheet of their own",
        )
    padded = tuple(tuple([*row[:width], *[None] * (width - len(row))]) for row in filled)
    return Grid(source, padded, tuple(notes))


def _tidy(cell: Cell, source: str, row: int, column: int) -> Cell:
    if not isinstance(cell, str):
        return cell
    if len(cell) > LONGEST_CELL:
        raise InputError(
            "a cell is too long",
            source=source,
            field=f"row {row + 1}, column {column + 1}",
            found=f"{len(cell)} characters",
            expected=f"at most {LONGEST_CELL}",
        )
    text = " ".join(cell.replace("\ufeff", "").replace("\u00ad", "").split("\n")).strip()
    return text or None
