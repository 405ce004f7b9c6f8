"""Decimal commas: ``1,5`` is one number to its writer and two to a TOML reader."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from converter_match.errors import InputError
from converter_match.library.paths import hinted, steps

_SCALAR = re.compile(r"=\s*([+-]?\d+),(\d+)")
# No number of TOML begins like 07, so here the comma breaks the syntax of a list as well.
_LEADING_ZERO = re.compile(r"(?<![\d.,])([+-]?\d+),(0\d+)")
_NUMERIC_ARRAY = re.compile(r"\[([\d\s.,eE+-]+)\]")
_PAIR = re.compile(r"[+-]?\d+,\d+")


@dataclass(frozen=True)
class Suspect:
    """An array that may hold decimal commas.

    Parameters
    ----------
    line : int
        Where the array begins, from 1.
    sample : str
        The first pair in question, as written.
    numbers : int
        How many numbers TOML reads there.
    spaced : bool
        Whether other commas of the array are followed by a space, as between numbers: then
        there is hardly a doubt.
    """

    line: int
    sample: str
    numbers: int
    spaced: bool

    def hint(self) -> str:
        """Return what to say about it."""
        return f"line {self.line}: is {self.sample} a decimal comma? {_write(self.sample)}"


def syntax_comma_hint(line: str) -> str | None:
    """Return a hint if a decimal comma breaks a line: ``value = 1,5`` or ``[2,07, ...]``."""
    found = _SCALAR.search(line) or _LEADING_ZERO.search(line)
    return f"decimal comma? {_write(f'{found[1]},{found[2]}')}" if found else None


def suspects(text: str) -> Iterator[Suspect]:
    """Yield the arrays of a text in which a comma without a space stands between digits.

    ``[1,5, 2,0]`` is one; so is ``[1,5,2,0]``, which may as well be four whole numbers written
    closely. ``[1.5,2.5]`` is none.

    Parameters
    ----------
    text : str
        TOML text.

    Yields
    ------
    Suspect
    """
    for array in _NUMERIC_ARRAY.finditer(text):
        inside = array[1].strip().rstrip(",")
        chunks = [chunk.strip() for chunk in re.split(r",\s+", inside)]
        pairs = [chunk for chunk in chunks if _PAIR.fullmatch(chunk)]
        alone = [chunk for chunk in chunks if "," not in chunk]
        spaced = bool(pairs) and len(pairs) + len(alone) == len(chunks) > 1
        first = None if "." in inside else _PAIR.search(inside)
        if not spaced and first is None:
            continue
        yield Suspect(
            line=text.count("\n", 0, array.start()) + 1,
            sample=pairs[0] if spaced or first is None else first[0],
            numbers=inside.count(",") + 1,
            spaced=spaced,
        )


def with_comma_hint(error: InputError, data: Any, text: str) -> InputError:
    """Return the error, with a hint if it is about rows and the file has decimal commas in rows.

    Parameters
    ----------
    error : InputError
    data : dict
        What the file holds.
    text : str
        As it was written.
    """
    column = _column_at(data, error.field or "")
    if column is None:
        return error
    doubled = any(
        len(column) == 2 * len(other) or 2 * len(column) == len(other) for other in _columns(data)
    )
    for suspect in suspects(text):
        if suspect.spaced or doubled:
            return hinted(error, suspect.hint())
    return error


def _write(sample: str) -> str:
    whole, fraction = sample.split(",")
    if len(fraction) == 3 and whole.lstrip("+-0"):
        return f"write {whole}.{fraction}; or a thousands separator? write {whole}{fraction}"
    return f"write {whole}.{fraction}"


def _columns(data: Any) -> list[list[Any]]:
    if isinstance(data, dict):
        return [column for value in data.values() for column in _columns(value)]
    if isinstance(data, list):
        if data and all(isinstance(item, int | float) for item in data):
            return [data]
        return [column for value in data for column in _columns(value)]
    return []


def _column_at(data: Any, field: str) -> list[Any] | None:
    """Return the list of numbers that a field names or lies in."""
    here: Any = data
    for step in (*steps(field), "values"):
        if isinstance(here, dict) and step in here:
            here = here[step]
        elif isinstance(here, list) and isinstance(step, int) and step < len(here):
            if not isinstance(here[step], dict | list):
                return here
            here = here[step]
    return here if isinstance(here, list) and here else None
