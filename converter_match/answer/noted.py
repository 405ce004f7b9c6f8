"""What every result is: blocks and notes, and what the renderers make of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Self

from converter_match.answer.block import Block
from converter_match.answer.console import console
from converter_match.answer.html import html
from converter_match.answer.plain import plain
from converter_match.errors import InputError, did_you_mean
from converter_match.notes import Note
from converter_match.units import System, note_plain

if TYPE_CHECKING:
    import pandas as pd


class Noted:
    """Something with notes.

    Attributes
    ----------
    notes : tuple of Note
        Assumptions, warnings, exceeded limits and cautions, each with a stable code.
    """

    notes: tuple[Note, ...]

    @property
    def assumptions(self) -> tuple[Note, ...]:
        """What was assumed for missing data."""
        return tuple(note for note in self.notes if note.kind == "assumption")

    @property
    def warnings(self) -> tuple[Note, ...]:
        """Everything that is not an assumption: warnings, exceeded limits, cautions."""
        return tuple(note for note in self.notes if note.kind != "assumption")

    @property
    def fails(self) -> bool:
        """Whether a stated limit is exceeded, or there is no answer that can be used."""
        return any(note.kind == "limit" for note in self.notes)


class Answer(Noted):
    """A result: it says what it knows as blocks and notes, and has no text of its own."""

    def __init_subclass__(cls, **kwargs: Any) -> None:
        """Keep the text of an answer as what `print` shows of it.

        A dataclass writes a list of its fields there, unless its class has something of its own.
        """
        super().__init_subclass__(**kwargs)
        cls.__repr__ = cls.__repr__  # type: ignore[method-assign]

    def blocks(self) -> Sequence[Block]:
        """Return the parts of the answer, in the order in which they are read."""
        raise NotImplementedError

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry: units in the keys, null for what is not known."""
        return plain(self.blocks()) | plain_notes(self.notes)

    def text(self, system: System = "si", width: int | None = None) -> str:
        """Return the answer as text for a console, in a unit system, folded to a width if given."""
        return console(self.blocks(), self.notes, system, width)

    def table(self, name: str) -> Block:
        """Return the block of a name, for its rows.

        Raises
        ------
        InputError
            If the answer has no such block; the nearest one is named.
        """
        named = {block.name: block for block in self.blocks() if block.columns}
        if name not in named:
            raise InputError(
                "no such table",
                found=name,
                expected=" | ".join(named),
                hint=did_you_mean(name, named),
            )
        return named[name]

    def to_frame(self, name: str) -> pd.DataFrame:
        """Return the rows of one block as a pandas table, units in the column names."""
        import pandas as pd

        return pd.DataFrame(list(self.table(name).records()))

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        return html(self.blocks(), self.notes)


class PartOfAnswer(Answer):
    """An answer without notes of its own: those of a study are its combinations' notes."""

    @property
    def notes(self) -> tuple[Note, ...]:  # type: ignore[override]
        """None."""
        return ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry: units in the keys, null for what is not known."""
        return plain(self.blocks())


class AnswerOfPair(Answer):
    """An answer behind which others of the same pair may stand; a dataclass.

    Attributes
    ----------
    beside : tuple of Block
        What else was asked of the pair.
    """

    beside: tuple[Block, ...]

    def with_beside(self, answer: Answer) -> Self:
        """Return the same with another answer of this pair behind it: its blocks and its notes.

        Parameters
        ----------
        answer : Answer
        """
        notes = tuple(dict.fromkeys((*self.notes, *answer.notes)))
        changed: Any = replace(self, beside=(*self.beside, *answer.blocks()), notes=notes)  # type: ignore[type-var]
        return changed  # type: ignore[no-any-return]


def plain_notes(notes: Iterable[Note]) -> dict[str, Any]:
    """Return notes as plain data: what is not an assumption, and what is."""
    given = tuple(notes)
    return {
        "warnings": [note_plain(note) for note in given if note.kind != "assumption"],
        "assumptions": [note_plain(note) for note in given if note.kind == "assumption"],
    }
