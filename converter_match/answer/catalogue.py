"""The sentences of a room, in one place: so that a wording is changed, or translated, there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

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

    def note(self, code: str, /, **values: Value) -> Note:
        """Return the note of a code with its values."""
        kind, template = self._sentences[code]
        return Note(code, template, kind, tuple(values.items()))

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
