"""The sentences of the library: what a file is found to be."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

WORDS = Catalogue(
    {
        "can-be-read": ("assumption", "{file}: {kind} {id} can be read"),
        "can-be-read-with": ("assumption", "{file}: {kind} {id} can be read, {size}"),
        "is-odd": ("warning", "odd [{code}] {what}"),
        "is-odd-of": ("warning", "odd [{code}] {whose}: {what}"),
        "nothing-odd": ("assumption", "nothing odd found"),
        "not-judged": (
            "assumption",
            "not judged: there are no rules for odd data in this kind of file",
        ),
    }
)
