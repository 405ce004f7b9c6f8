"""Some columns of a result as a table for a notebook, or some facts of several side by side.

A block of an answer knows what its figures are: words, unit and digits come from its headings. A
figure goes by its key in plain data, with or without its unit. Where that is for scripts only, as a
code is, a reader sees what the heading behind it says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from converter_match.answer.block import Heading
from converter_match.answer.console import Column, aligned
from converter_match.answer.html import table as html_table
from converter_match.answer.noted import Answer
from converter_match.errors import InputError, did_you_mean
from converter_match.present.notebook.answer import result
from converter_match.units import System, display_unit


class NotebookTable:
    """A table as a notebook shows it; numbers stand to the right.

    Parameters
    ----------
    head, units : tuple of str
    rows : tuple of tuple of str
    """

    def __init__(
        self, head: tuple[str, ...], units: tuple[str, ...], rows: tuple[tuple[str, ...], ...]
    ) -> None:
        self.head, self.units, self.rows = head, units, rows

    def _repr_html_(self) -> str:
        return html_table(self.head, self.units, self.rows)

    def __repr__(self) -> str:
        cells = zip(*self.rows, strict=True)
        columns = zip(self.head, self.units, cells, strict=True)
        return "\n".join(
            aligned(
                [
                    Column(head, unit, own, left=i == 0)
                    for i, (head, unit, own) in enumerate(columns)
                ]
            )
        )


def table(
    answer: Answer, name: str, columns: Sequence[str] = (), *, system: System = "si"
) -> NotebookTable:
    """Show some columns of a table of a result.

    Parameters
    ----------
    answer : Answer
        Any result.
    name : str
        Which of its tables, such as ``gears``.
    columns : sequence of str
        Their keys, in the order wanted; all that stand in the result's text where none is named.
        A unit in a key (``fuel_kg``) need not be given where there is one of that key.
    system : {"si", "us"}
        In whose units figures are shown.

    Returns
    -------
    NotebookTable
        With the unit below each head.

    Raises
    ------
    InputError
        If it is no result, it has no such table or column (the nearest one is named), the table is
        empty, or there is no such unit system.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-9l-240kw", "single-stage-390mm-full-range"))
    >>> line, truck = cm.read("six-speed-hauler", "articulated-hauler-25t")
    >>> wheels = cm.tractive(match, line, truck, "firm smooth earth", grades=["0 %", "8 %"])
    >>> cm.table(wheels, "grades", ["grade", "gear", "speed"])
    grade  gear  speed
    %             km/h
    0         6   43.0
    8         3   13.5
    """
    _require_known(system)
    block = result(answer).table(name)
    if not block.rows:
        raise InputError("the table is empty", found=name)
    places = _places(block.columns)
    for key in columns:
        _require(key, places)
    chosen = [places[key] for key in columns]
    if not columns:
        chosen = [place for place, head in enumerate(block.columns) if head.words]
    heads = [block.columns[place] for place in chosen]
    return NotebookTable(
        tuple(_said(head) for head in heads),
        tuple(head.unit(system) for head in heads),
        tuple(
            tuple(
                _cell(head, row[place], system) for head, place in zip(heads, chosen, strict=True)
            )
            for row in block.rows
        ),
    )


def beside(
    cases: Mapping[str, Answer], name: str, keys: Sequence[str], *, system: System = "si"
) -> NotebookTable:
    """Show some figures of several results side by side.

    Parameters
    ----------
    cases : mapping of str to Answer
        What each column is called, and whose figures stand in it.
    name : str
        Which of their parts, such as ``cycle``.
    keys : sequence of str
        Of the figures, a row each.
    system : {"si", "us"}
        In whose units figures are shown.

    Returns
    -------
    NotebookTable

    Raises
    ------
    InputError
        If there are no cases, one is no result or has no such figure (the nearest one is named), or
        there is no such unit system.

    Examples
    --------
    >>> import converter_match as cm
    >>> line, truck = cm.read("six-speed-hauler", "articulated-hauler-25t")
    >>> engine, converter = cm.read("six-cylinder-9l-240kw", "single-stage-390mm-full-range")
    >>> other = cm.read("six-cylinder-7l-185kw")
    >>> runs = {
    ...     part.id[-5:]: cm.haul(cm.solve(part, converter), line, truck, "quarry-to-crusher")
    ...     for part in (engine, other)
    ... }
    >>> cm.beside(runs, "cycle", ["payload", "gear_changes"])
                 240kw  185kw
    payload       25.0   25.0  t
    gear shifts     24     26
    """
    _require_known(system)
    if not cases:
        raise InputError("a table needs cases", field="cases")
    facts = [_facts(case, name) for case in cases.values()]
    rows = []
    for key in keys:
        for known in facts:
            _require(key, known)
        head = facts[0][key][0]
        cells = (_cell(own, value, system) for own, value in (known[key] for known in facts))
        rows.append((_said(head), *cells, head.unit(system)))
    head_row = ("", *cases, "")
    return NotebookTable(head_row, ("",) * len(head_row), tuple(rows))


def _facts(answer: object, name: str) -> dict[str, tuple[Heading, Any]]:
    """Return the facts of a part of a result, by their keys."""
    given = result(answer).blocks()
    parts = {block.name: None for block in given if block.facts}
    if name not in parts:
        raise InputError(
            "no such part of the result",
            found=name,
            expected=" | ".join(part for part in parts if part),
            hint=did_you_mean(name, parts),
        )
    facts = [fact for block in given if block.name == name for fact in block.facts or ()]
    return {key: facts[place] for key, place in _places([head for head, _ in facts]).items()}


def _places(heads: Sequence[Heading]) -> dict[str, int]:
    """Return where a reader sees what has a key, by the key with its unit and, if one, without."""
    places: dict[str, int] = {}
    keys = [head.key for head in heads]
    for place, head in enumerate(heads):
        if not head.key:
            continue
        behind = heads[place + 1] if place + 1 < len(heads) else head
        seen = place + 1 if not head.words and not behind.key and behind.words else place
        places[head.plain_key] = seen
        if keys.count(head.key) == 1:
            places[head.key] = seen
    return places


def _said(head: Heading) -> str:
    return head.words or head.key.replace("_", " ")


def _cell(head: Heading, value: Any, system: System) -> str:
    text = head.text(value, system)
    return "–" if text == "-" else text


def _require(key: str, known: Mapping[str, Any]) -> None:
    if key not in known:
        raise InputError(
            "no such figure", found=key, expected=" | ".join(known), hint=did_you_mean(key, known)
        )


def _require_known(system: System) -> None:
    display_unit("force", system)  # says what is expected
