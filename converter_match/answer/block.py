"""Blocks: facts, a table and sentences, in SI, with what a reader has to know of each."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np

from converter_match.notes import Note
from converter_match.units import System, amount, in_plain, note_text, shown_text, trimmed
from converter_match.units.amounts import shown


@dataclass(frozen=True)
class NoValue:
    """A fact that has no value: plain data have null there, text says why.

    Parameters
    ----------
    words : str
    """

    words: str


class Estimate(NamedTuple):
    """A value with its band.

    In plain data an object of the three; in text the value, and the band in brackets.

    Parameters
    ----------
    value, low, high : float
        SI.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Quantity:
    """A value with an amount of its own, where the rows of one column are of different kinds.

    Parameters
    ----------
    value : float, or tuple of float
        SI; two values are a range.
    amount : str, optional
        One of `units.AMOUNTS`; None for a pure number.
    form : str
        Number format.
    change : float, optional
        Against another value, as a share of it; said behind the value.
    """

    value: float | tuple[float, ...]
    amount: str | None = None
    form: str = ""
    change: float | None = None


@dataclass(frozen=True)
class Heading:
    """What a column or a fact is.

    Parameters
    ----------
    key : str
        In plain data, where the unit is appended; empty for what stands in text only.
    words : str
        In text; empty for what stands in plain data only.
    amount : str, optional
        One of `units.AMOUNTS`: decides the units. None for a pure number, a word or a truth value.
    form : str
        Number format; without one, the digits of the amount (three places for a pure number).
    choices : mapping of str to str, optional
        What a reader calls the values, where they are a closed set: plain data hold the value.
    """

    key: str
    words: str
    amount: str | None = None
    form: str = ""
    choices: Mapping[str, str] | None = field(default=None, hash=False)

    @property
    def plain_key(self) -> str:
        """Key with the unit's suffix."""
        return self.key + (amount(self.amount).suffix if self.amount else "")

    def plain(self, value: Any) -> Any:
        """Return the value in the unit of plain data; None where there is none.

        A tuple, a list or an array becomes a list of such values, a dictionary and an `Estimate`
        an object of them, a note its words.
        """
        if isinstance(value, NoValue):
            return None
        if isinstance(value, Note):
            return note_text(value, "si")
        if isinstance(value, Estimate):
            value = value._asdict()
        if isinstance(value, dict):
            return {key: self.plain(item) for key, item in value.items()}
        if isinstance(value, Quantity):
            return replace(self, amount=value.amount).plain(value.value)
        if isinstance(value, tuple | list | np.ndarray):
            return [self.plain(item) for item in value]
        if isinstance(value, np.bool_):
            return bool(value)
        if value is None or isinstance(value, str | bool | int):
            if isinstance(value, int) and not isinstance(value, bool) and self.amount:
                return in_plain(value, self.amount)
            return value
        if self.amount:
            return in_plain(value, self.amount)
        number = float(value)
        return number if math.isfinite(number) else None

    def text(self, value: Any, system: System, *, unit: bool = False) -> str:
        """Return the value in trade units; the unit behind it only if asked for."""
        if isinstance(value, NoValue):
            return value.words
        if isinstance(value, Note):
            return note_text(value, system)
        if isinstance(value, Estimate):
            middle, low, high = (self.text(part, system) for part in value)
            return f"{middle} ({low} to {high}) {self.unit(system) if unit else ''}".rstrip()
        if isinstance(value, Quantity):
            own = replace(self, amount=value.amount, form=value.form)
            text = own.text(value.value, system, unit=True)
            if value.change is None:
                return text
            return f"{text} ({shown_text(value.change, 'share', system, '+.0f')})"
        if isinstance(value, tuple | list):
            parts = [self.text(item, system) for item in value]
            between = ", " if all(isinstance(item, str | Note) for item in value) else " .. "
            return f"{between.join(parts)} {self.unit(system) if unit else ''}".rstrip()
        if value is None:
            return "-"
        if isinstance(value, bool | np.bool_):
            return "yes" if value else "no"
        if isinstance(value, str):
            return (self.choices or {}).get(value, value) or "-"
        number = float(value)
        if not math.isfinite(number):
            return "-"
        if self.amount:
            return shown_text(number, self.amount, system, self.form, unit=unit)
        if isinstance(value, int | np.integer) and not self.form:
            return str(value)
        text = format(trimmed(number), self.form or ".3f")
        return text.removeprefix("-") if float(text) == 0.0 else text

    def unit(self, system: System) -> str:
        """Return the unit that `text` leaves out; empty where there is none."""
        return shown(0.0, self.amount, system)[1] if self.amount else ""

    def said(self, words: str) -> Heading:
        """Return the same under other words."""
        return replace(self, words=words)

    def keyed(self, key: str) -> Heading:
        """Return the same under another key in plain data."""
        return replace(self, key=key)


Facts = tuple[tuple[Heading, Any], ...]


@dataclass(frozen=True, eq=False)
class Block:
    """One part of an answer.

    In text: the title, the sentences above, the facts, the table, the list, the sentences below. In
    plain data: the facts by key in the object `name`, the rows as a list of objects.

    Parameters
    ----------
    name : str
        Key in plain data, with dots for an object in an object; empty for the top.
    title : str
        Empty for none.
    facts : tuple of (Heading, value), or None
        SI values, or a `NoValue`. None: there is no such thing; plain data say null.
    columns : tuple of Heading
    rows : tuple of tuple
        SI values, one for each column.
    rows_key : str
        Where the rows stand in the object; empty if the object *is* the list of rows.
    items : tuple of Note
        A list of sentences, in text only.
    above, below : tuple of Note
        Sentences in text, not among the notes of the answer.
    notes : tuple of Note
        That come with this part; they are printed with those of the whole answer.
    in_text, in_plain : bool
        Whether the block stands there.
    detail : object
        What is behind it, for figures.
    """

    name: str
    title: str = ""
    facts: Facts | None = ()
    columns: tuple[Heading, ...] = ()
    rows: tuple[tuple[Any, ...], ...] = ()
    rows_key: str = "rows"
    items: tuple[Note, ...] = ()
    above: tuple[Note, ...] = ()
    below: tuple[Note, ...] = ()
    notes: tuple[Note, ...] = ()
    in_text: bool = True
    in_plain: bool = True
    detail: object = None

    def shown_facts(self) -> Facts:
        """Return the facts that stand in text."""
        return tuple((head, value) for head, value in self.facts or () if head.words)

    def shown_columns(self) -> tuple[tuple[Heading, ...], tuple[tuple[Any, ...], ...]]:
        """Return the columns that stand in text, and their rows."""
        chosen = [i for i, head in enumerate(self.columns) if head.words]
        return (
            tuple(self.columns[i] for i in chosen),
            tuple(tuple(row[i] for i in chosen) for row in self.rows),
        )

    def records(self) -> Iterator[dict[str, Any]]:
        """Yield the rows as plain data, units in the keys."""
        kept = [(i, head.plain_key, head) for i, head in enumerate(self.columns) if head.key]
        for row in self.rows:
            yield {key: head.plain(row[i]) for i, key, head in kept}


def facts_of(thing: object, headings: Sequence[Heading]) -> Facts:
    """Return the attributes of an object that headings name, beside them."""
    return tuple((head, getattr(thing, head.key)) for head in headings)


def row_of(thing: object, headings: Sequence[Heading]) -> tuple[Any, ...]:
    """Return the attributes of an object that headings name, as a row."""
    return tuple(getattr(thing, head.key) for head in headings)


def rows_of_arrays(*columns: np.ndarray) -> tuple[tuple[object, ...], ...]:
    """Return the rows of a table from its columns, as plain numbers and truth values."""
    return tuple(
        tuple(bool(value) if isinstance(value, np.bool_) else float(value) for value in row)
        for row in zip(*columns, strict=True)
    )
