"""Remarks that are about something: a criterion, a file, a part whose data are odd."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from converter_match.answer.block import Block, Heading
from converter_match.notes import Note


def odd_block(odd: Sequence[tuple[str, Note]]) -> Block:
    """Return what is odd about the data, which comes before what is built on them.

    Parameters
    ----------
    odd : sequence of (str, Note)
        What it is about, and what.
    """
    return Block(
        "odd",
        title="Odd about the data" if odd else "",
        columns=(Heading("part", ""), Heading("message", "")),
        rows=tuple(odd),
        rows_key="",
        items=tuple(said_before(note, where) for where, note in odd),
    )


def said_before(note: Note, title: str) -> Note:
    """Return a note with a title before it."""
    values = (("title", title), *note.values)
    return replace(note, message="{title}: " + note.message, values=values)
