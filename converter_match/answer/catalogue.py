"""The sentences of a room, in one place: so that a wording is changed, or translated, there.

A sentence may hold others: the place ``{name}`` of a value that is a note, or several notes, is
taken by their sentences, with their values typed as they were. A `Quantity` brings its amount.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from string import Formatter

from converter_match.answer.block import NoValue, Quantity
from converter_match.notes import Kind, Note, Value


class Catalogue(Mapping[str, tuple[Kind, str]]):
    """Note templates by code.

    Parameters
    ----------
    sentences : mapping of str to (kind, template)
        The template has a place for each value: ``{name}`` for a text, ``{name:amount form}`` for
        an SI number.

    Examples
    --------
    >>> words = Catalogue({"hot-oil": ("warning", "The oil reaches {t:temperature .0f}.")})
    >>> words.note("hot-oil", t=398.15).values
    (('t', 398.15),)
    """

    def __init__(self, sentences: Mapping[str, tuple[Kind, str]]) -> None:
        self._sentences = dict(sentences)

    def note(
        self, code: str, /, **values: Value | Quantity | NoValue | Note | Sequence[Note]
    ) -> Note:
        """Return the note of a code with its values; several notes are set off by semicolons.

        Raises
        ------
        TypeError
            If the sentence has a place for which no value is given: a reader would see its name.
        """
        kind, template = self._sentences[code]
        lacking = {place for _, place, _, _ in Formatter().parse(template) if place} - {*values}
        if lacking:
            raise TypeError(f"note {code!r} needs {', '.join(sorted(lacking))}")
        typed: dict[str, Value] = {}
        for name, value in values.items():
            if isinstance(value, str | float | int):
                typed[name] = value
                continue
            if isinstance(value, NoValue):
                typed[name] = value.words
                continue
            if isinstance(value, Quantity):
                value = _said(value)
            notes = (value,) if isinstance(value, Note) else tuple(value)
            parts = []
            for row, note in enumerate(notes):
                text, own = _within(note, f"{name}_{row}" if len(notes) > 1 else name)
                parts.append(text)
                typed |= own
            template = template.replace(f"{{{name}}}", "; ".join(parts))
        return Note(code, template, kind, tuple(typed.items()))

    def __getitem__(self, code: str) -> tuple[Kind, str]:
        return self._sentences[code]

    def __iter__(self) -> Iterator[str]:
        return iter(self._sentences)

    def __len__(self) -> int:
        return len(self._sentences)


def alike(kind: Kind, templates: Mapping[str, str]) -> dict[str, tuple[Kind, str]]:
    """Return note templates by code that are all of one kind.

    Parameters
    ----------
    kind : str
    templates : mapping of str to str

    Examples
    --------
    >>> alike("warning", {"odd": "This is odd."})
    {'odd': ('warning', 'This is odd.')}
    """
    return {code: (kind, template) for code, template in templates.items()}


def _said(shown: Quantity) -> Note:
    """Return a value as a sentence of its own, without a full stop."""
    form = f"{shown.amount or ''} {shown.form}".strip()
    many = isinstance(shown.value, tuple)
    numbers = shown.value if isinstance(shown.value, tuple) else (shown.value,)
    values = {f"value{row}" if many else "value": number for row, number in enumerate(numbers)}
    text = " to ".join(f"{{{name}{':' if form else ''}{form}}}" for name in values)
    if shown.change is not None:
        text += " ({change:share +.0f})"
        values["change"] = shown.change
    return Note("value", text, values=tuple(values.items()))


def _within(note: Note, name: str) -> tuple[str, dict[str, Value]]:
    """Return the sentence of a note and its values, under names that are its own in another one."""
    if not note.values:
        return f"{{{name}}}", {name: note.message}
    values = dict(note.values)
    text = ""
    for words, place, form, _ in Formatter().parse(note.message):
        text += words.replace("{", "{{").replace("}", "}}")
        if place is not None:
            text += f"{{{name}_{place}{':' if form else ''}{form}}}"
    return text, {f"{name}_{key}": value for key, value in values.items()}
