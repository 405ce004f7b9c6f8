"""Blocks as a notebook shows them: tables with the unit below the head, sentences, notes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from converter_match.answer.block import Block, NoValue
from converter_match.answer.console import caution_mark, notes_left
from converter_match.notes import Note
from converter_match.units import System, note_text


def html(blocks: Iterable[Block], notes: Iterable[Note], system: System = "si") -> str:
    """Return blocks and notes as HTML.

    Parameters
    ----------
    blocks : iterable of Block
    notes : iterable of Note
    system : {"si", "us"}

    Examples
    --------
    >>> from converter_match.answer.block import Heading
    >>> html([Block("a", "Stall", ((Heading("t", "torque", "torque"), 800.0),))], [])
    '<p><b>Stall</b></p><ul><li>torque: 800 N·m</li></ul>'
    """
    shown = tuple(block for block in blocks if block.in_text)
    parts = [_block(block, system) for block in shown]
    listed = "".join(
        f"<li><b>{escape(note.kind)}</b> [{escape(note.code)}] "
        f"{escape(note_text(note, system))}</li>"
        for note in notes_left(shown, notes)
    )
    return "".join(parts) + (f"<ul>{listed}</ul>" if listed else "")


def _block(block: Block, system: System) -> str:
    parts = [f"<p><b>{escape(block.title)}</b></p>"] if block.title else []
    parts += [_sentence(note, system) for note in block.above]
    facts = "".join(
        f"<li>{escape(head.words)}: "
        f"{escape(head.text(value, system, unit=not isinstance(value, NoValue)))}</li>"
        for head, value in block.shown_facts()
    )
    parts += [f"<ul>{facts}</ul>"] if facts else []
    columns, rows = block.shown_columns()
    if columns and rows:
        units = [head.unit(system) for head in columns]
        cells = [
            [head.text(value, system) for head, value in zip(columns, row, strict=True)]
            for row in rows
        ]
        parts.append(table([head.words for head in columns], units, cells))
    items = "".join(f"<li>{escape(note_text(note, system))}</li>" for note in block.items)
    parts += [f"<ul>{items}</ul>"] if items else []
    parts += [_sentence(note, system) for note in block.below]
    return "".join(parts)


def _sentence(note: Note, system: System) -> str:
    return f"<p>{caution_mark(note)}{escape(note_text(note, system))}</p>"


def table(head: Sequence[str], units: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table of texts: the first column to the left, the others to the right."""
    lines = [_row("th", head)]
    if any(units):
        lines.append(_row("td", units))
    body = "".join(_row("td", row) for row in rows)
    return f"<table><thead>{''.join(lines)}</thead><tbody>{body}</tbody></table>"


def _row(kind: str, cells: Sequence[str]) -> str:
    return "<tr>{}</tr>".format(
        "".join(
            f'<{kind} style="text-align:{"left" if i == 0 else "right"}">{escape(cell)}</{kind}>'
            for i, cell in enumerate(cells)
        )
    )
