"""Blocks of an answer as parts of a report: its tables, lists and sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from converter_match.answer.block import Block, Heading
from converter_match.notes import Note
from converter_match.present.report.model import (
    Bullets,
    Look,
    MarkedCell,
    Paragraph,
    Part,
    ReportTable,
    Subheading,
)
from converter_match.units import System, note_text

_NOTHING = "–"
# Values of closed sets that are set off in a table, by more than a colour.
_LOOKS: Mapping[str, Look] = MappingProxyType(
    {
        "fail": "dark",
        "marginal": "shaded",
        "differs": "shaded",
        "not known": "dashed",
        "measure before ordering": "dashed",
    }
)


def report_table(
    block: Block,
    system: System,
    *,
    caption: str | None = None,
    name: str = "",
    widths: Sequence[float] = (),
) -> ReportTable:
    """Return the table of a block for a report.

    Parameters
    ----------
    block : Block
    system : {"si", "us"}
    caption : str, optional
        Instead of the block's title.
    name : str
        Of the table.
    widths : sequence of float
        Shares of the page; equal without.
    """
    columns, rows = block.shown_columns()
    return ReportTable(
        name=name,
        caption=block.title if caption is None else caption,
        head=tuple(_head(column, system) for column in columns),
        rows=tuple(
            tuple(_cell(column, value, system) for column, value in zip(columns, row, strict=True))
            for row in rows
        ),
        widths=tuple(widths),
        left=tuple(_is_words(rows, column) for column in range(len(columns))),
    )


def parts_of(block: Block, system: System, *, widths: Sequence[float] = ()) -> list[Part]:
    """Return everything of a block that is read.

    Parameters
    ----------
    block : Block
    system : {"si", "us"}
    widths : sequence of float
        Of its table.
    """
    parts: list[Part] = []
    columns, rows = block.shown_columns()
    is_table = bool(columns and rows)
    if block.title and not is_table:
        parts.append(Subheading(text=block.title))
    parts += [Paragraph(text=note_text(note, system)) for note in block.above]
    if is_table:
        parts.append(report_table(block, system, widths=widths))
    if block.items:
        parts.append(bullets(block.items, system))
    parts += [Paragraph(text=note_text(note, system), look="small") for note in block.below]
    return parts


def bullets(
    notes: Sequence[Note], system: System, *, numbered: bool = False, small: bool = False
) -> Bullets:
    """Return notes as a list of sentences."""
    items = tuple(note_text(note, system) for note in notes)
    return Bullets(items=items, numbered=numbered, small=small)


def _head(column: Heading, system: System) -> str:
    unit = column.unit(system)
    return f"{column.words} ({unit})" if unit else column.words


def _cell(column: Heading, value: Any, system: System) -> str:
    if value is None or value == "":
        return _NOTHING
    text = column.text(value, system)
    return marked(text, str(value)) if column.choices else text


def marked(text: str, value: str) -> str:
    """Return a cell set off as its value of a closed set is: a verdict, a status."""
    look = _LOOKS.get(value)
    return text if look is None else MarkedCell(text, look)


def _is_words(rows: Sequence[Sequence[Any]], column: int) -> bool:
    cells = (row[column] for row in rows if row[column] is not None)
    return all(isinstance(cell, str | Note) for cell in cells)
