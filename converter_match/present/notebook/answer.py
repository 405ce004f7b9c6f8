"""An answer, or some parts of it, as a notebook shows it in a unit system."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.answer.block import Block
from converter_match.answer.console import console
from converter_match.answer.html import html
from converter_match.answer.noted import Answer
from converter_match.errors import InputError, did_you_mean
from converter_match.notes import Note
from converter_match.units import System, display_unit


@dataclass(frozen=True)
class ShownAnswer:
    """Blocks and notes in a unit system: tables in a notebook, text at a console.

    Parameters
    ----------
    blocks : tuple of Block
    notes : tuple of Note
    system : {"si", "us"}
    """

    blocks: tuple[Block, ...]
    notes: tuple[Note, ...]
    system: System = "si"

    def _repr_html_(self) -> str:
        return html(self.blocks, self.notes, self.system)

    def __repr__(self) -> str:
        return console(self.blocks, self.notes, self.system)


def show(answer: Answer, *names: str, notes: bool = True, system: System = "si") -> ShownAnswer:
    """Show a result, or some parts of it, in a unit system.

    Parameters
    ----------
    answer : Answer
        Any result.
    *names : str
        Its parts, each by its name or its title; all of them without.
    notes : bool
        Whether assumptions, warnings and cautions stand below.
    system : {"si", "us"}

    Returns
    -------
    ShownAnswer
        Tables where it is the last line of a notebook's cell, text where it is printed.

    Raises
    ------
    InputError
        If it is no result, or has no such part (the nearest is named).

    Examples
    --------
    >>> import converter_match as cm
    >>> parts = cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight", "stator-taken-out")
    >>> shown = cm.show(cm.arrange(*parts), "stator", notes=False)
    >>> [block.name for block in shown.blocks]
    ['arrangement.parts.stator']
    """
    display_unit("force", system)  # says what is expected
    said = [block for block in result(answer).blocks() if block.in_text]
    parts = {block.title: block for block in said if block.title}
    parts |= {block.name.rpartition(".")[2]: block for block in said if block.name}
    for name in names:
        if name not in parts:
            raise InputError(
                "the result has no such part",
                found=name,
                expected=" | ".join(parts),
                hint=did_you_mean(name, parts),
            )
    chosen = [parts[name] for name in names] if names else said
    return ShownAnswer(tuple(chosen), answer.notes if notes else (), system)


def result(answer: object) -> Answer:
    """Return an answer, or refuse what is none.

    Raises
    ------
    InputError
    """
    if isinstance(answer, Answer):
        return answer
    raise InputError(
        "not a result", found=type(answer).__name__, expected="what cm.solve and the like return"
    )
