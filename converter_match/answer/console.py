"""Blocks as text for a console or a log: facts a line each, tables aligned, sentences folded."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from converter_match.answer.block import Block, NoValue
from converter_match.notes import Note
from converter_match.units import System, note_text
from converter_match.units.notes import HELD

NARROWEST = 40
_WIDEST_PROSE = 120
_GAP = "  "  # between the columns of a table
_NARROWEST_WORDS = 12  # of a column of words in several lines
_KINDS = (
    ("Cautions", ("caution",)),
    ("Warnings", ("warning", "limit")),
    ("Assumptions", ("assumption",)),
)


def console(
    blocks: Iterable[Block], notes: Iterable[Note], system: System = "si", width: int | None = None
) -> str:
    """Return blocks and notes as text.

    Parameters
    ----------
    blocks : iterable of Block
    notes : iterable of Note
        Of the whole answer: cautions first, then warnings, then assumptions, each with its code.
        One that a block says already is not said again.
    system : {"si", "us"}
    width : int, optional
        Columns of the console: sentences are folded, and a table that is too wide has its heads in
        two lines and its last columns below. Without it, every sentence and row is one line.

    Examples
    --------
    >>> from converter_match.answer.block import Heading
    >>> speed = Heading("engine_speed", "stall speed", "angular_speed")
    >>> print(console([Block("stall", "At stall", ((speed, 188.5),))], []))
    At stall
      stall speed: 1800 rpm
    """
    shown = tuple(block for block in blocks if block.in_text)
    given = notes_left(shown, notes)
    lines: list[str] = []
    for block in shown:
        said = _block(block, system, width)
        lines += ["", *said] if lines and said and block.title else said
    for title, kinds in _KINDS:
        chosen = [note for note in given if note.kind in kinds]
        if chosen:
            lines += ["", f"{title}:"]
            for note in chosen:
                text = f"  [{note.code}] {note_text(note, system, between=HELD)}"
                lines += folded(text, width)
    return "\n".join(lines)


def _block(block: Block, system: System, width: int | None) -> list[str]:
    lines = folded(block.title, width) if block.title else []
    lines += sentences(block.above, system, width)
    facts = block.shown_facts()
    indent = "  " if block.title else ""
    for head, value in facts:
        unit = not isinstance(value, NoValue)
        lines += folded(f"{indent}{head.words}: {head.text(value, system, unit=unit)}", width)
    columns, rows = block.shown_columns()
    if columns and rows:
        room = None if width is None else max(width, NARROWEST) - len(indent)
        lines += [f"{indent}{line}".rstrip() for line in table_lines(block, system, room)]
    for note in block.items:
        lines += folded(f"{indent}- {note_text(note, system, between=HELD)}", width)
    return lines + sentences(block.below, system, width)


def sentences(notes: Iterable[Note], system: System, width: int | None = None) -> list[str]:
    """Return notes as sentences, a line each, without their codes."""
    return [line for note in notes for line in folded(_sentence(note, system), width)]


def _sentence(note: Note, system: System) -> str:
    return caution_mark(note) + note_text(note, system, between=HELD)


def caution_mark(note: Note) -> str:
    """Return what stands before a caution among the sentences of a block; nothing before others."""
    return "CAUTION: " if note.kind == "caution" else ""


def notes_left(blocks: Iterable[Block], notes: Iterable[Note]) -> tuple[Note, ...]:
    """Return the notes of an answer that none of its blocks says."""
    said = {note for block in blocks for note in (*block.above, *block.items, *block.below)}
    return tuple(note for note in notes if note not in said)


def table_lines(block: Block, system: System, width: int | None = None) -> list[str]:
    """Return the table of a block as aligned lines: heads, units, rows; words flush left."""
    heads, rows = block.shown_columns()
    columns = []
    for i, head in enumerate(heads):
        values = [row[i] for row in rows]
        words = all(isinstance(value, str | Note) or value is None for value in values)
        cells = [head.text(value, system) for value in values]
        columns.append(Column(head.words, head.unit(system), cells, left=i == 0 or words))
    return aligned(columns, width)


@dataclass(frozen=True)
class Column:
    """A column of texts: what it is, its unit, its cells, and on which side they stand."""

    head: str
    unit: str
    cells: Sequence[str]
    left: bool = False

    def lines(self, *, two: bool, units: bool) -> list[str]:
        """Return all its cells, head and unit included, of one width."""
        heads = _halves(self.head, max(map(len, self.cells), default=0)) if two else (self.head,)
        cells = [*heads, *([self.unit] if units else []), *self.cells]
        width = max(map(len, cells))
        return [cell.ljust(width) if self.left else cell.rjust(width) for cell in cells]


def aligned(columns: Sequence[Column], width: int | None = None) -> list[str]:
    """Return columns side by side; where they are too wide, in parts beside the first column."""
    units = any(column.unit for column in columns)
    whole = [column.lines(two=False, units=units) for column in columns]
    if width is None or _wide(whole) <= width:
        return _joined(whole)
    first, *others = (column.lines(two=True, units=units) for column in _narrower(columns, width))
    parts = [[first]]
    for column in others:
        if len(parts[-1]) > 1 and _wide([*parts[-1], column]) > width:
            parts.append([first])
        parts[-1].append(column)
    lines: list[str] = []
    for part in parts:
        lines += [*([""] if lines else []), *_joined(part)]
    return lines


def _narrower(columns: Sequence[Column], width: int) -> Sequence[Column]:
    """Return columns with words folded, where one does not fit even alone beside the first."""
    first, *others = (len(column.lines(two=True, units=True)[0]) for column in columns)
    room = width - len(_GAP)
    numbers = [wide for wide, column in zip(others, columns[1:], strict=True) if not column.left]
    first = min(first, max(room - max(numbers, default=room // 2), _NARROWEST_WORDS))
    for place, column in enumerate(columns):
        if column.left:
            columns = _rows_folded(columns, place, room - first if place else first)
    return columns


def _rows_folded(columns: Sequence[Column], place: int, width: int) -> Sequence[Column]:
    """Return columns with the words of one folded; its row goes on in lines of its own."""
    cells = [
        textwrap.wrap(cell, max(width, _NARROWEST_WORDS), subsequent_indent=" ") or [""]
        for cell in columns[place].cells
    ]
    return [
        replace(
            column,
            cells=[
                line
                for own, words in zip(column.cells, cells, strict=True)
                for line in (words if i == place else [own, *[""] * (len(words) - 1)])
            ],
        )
        for i, column in enumerate(columns)
    ]


def folded(line: str, width: int | None) -> list[str]:
    """Return a line of words in lines no longer than a console is wide, with a hanging indent."""
    if width is None or len(line) <= (width := max(width, NARROWEST)):
        return [line.replace(HELD, " ")]
    words = line.lstrip()
    indent = " " * (len(line) - len(words))
    if not indent or words.startswith(("- ", "[")):
        indent += "  "
    lines = textwrap.wrap(
        line,
        min(width, _WIDEST_PROSE),
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [part.replace(HELD, " ") for part in lines]


def _wide(parts: Sequence[Sequence[str]]) -> int:
    return sum(len(lines[0]) for lines in parts) + len(_GAP) * (len(parts) - 1)


def _joined(parts: Sequence[Sequence[str]]) -> list[str]:
    lines = (_GAP.join(cells).rstrip() for cells in zip(*parts, strict=True))
    return [line for line in lines if line]


def _halves(head: str, needed: int) -> tuple[str, str]:
    """Return a head in two lines, broken where both are shortest; above nothing if it fits."""
    halves = [(head[: at.start()], head[at.end() :]) for at in re.finditer(" ", head)]
    if len(head) <= needed or not halves:
        return "", head
    return min(halves, key=lambda pair: max(map(len, pair)))
