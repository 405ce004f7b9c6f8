"""What both kinds of sheet share: the head of the file, facts, rows that are not complete."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import Any

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.intake.columns import Gathered
from converter_match.library.intake.facts import fact_si, option_of
from converter_match.library.intake.grid import cell_text
from converter_match.library.intake.problem import Problem, Rejected, error, note, question
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.words import said
from converter_match.library.toml_text import Inline


@dataclass
class Reading:
    """What a sheet comes to: the file that could be written, and what was found on the way.

    Parameters
    ----------
    data : dict or None
        Content of the component's file; None where something that it needs is missing.
    table : SheetTable
        The columns and rows that are used.
    problems : list of Problem
    rejected : list of Rejected
    residuals : dict
        Column -> (original, smoothed), where smoothing was asked for.
    """

    data: dict[str, Any] | None
    table: SheetTable
    problems: list[Problem]
    rejected: list[Rejected] = field(default_factory=list)
    residuals: dict[str, tuple[FloatArray, FloatArray]] = field(default_factory=dict)


def head(
    schema: str, source: str, facts: Mapping[str, str], problems: list[Problem]
) -> dict[str, Any]:
    """Return the head of the file; what the user does not say is taken from the file's name."""
    file = source.split(", sheet ")[0]
    base = PurePath(file.replace("\\", "/")).name or "sheet"
    stem = base.rsplit(".", 1)[0]
    slug = re.sub(r"[^a-z0-9]+", "-", stem.casefold()).strip("-") or "sheet"
    found = {"schema": schema}
    for key, fallback in (("id", slug), ("name", stem), ("source", f"read from {base}")):
        if key in facts:
            found[key] = facts[key]
        else:
            found[key] = fallback
            problems.append(
                note(f"{key}-from-file-name", sentence="from-file-name", fact=key, value=fallback)
            )
    return found


def quantity(name: str, facts: Mapping[str, str], problems: list[Problem]) -> Inline | None:
    """Return a fact as it stands in a file; None if it is not given or cannot be taken."""
    if name not in facts:
        return None
    try:
        number, unit, _ = fact_si(name, facts[name])
    except InputError as refusal:
        problems.append(error(f"fact-{name}", sentence="as-said", what=refusal))
        return None
    return Inline(unit=unit, value=number) if unit else Inline(value=number)


def needed(name: str, what: str, facts: Mapping[str, str], problems: list[Problem]) -> str | None:
    """Return a fact that the file cannot do without, or ask for it."""
    if name in facts:
        return facts[name]
    problems.append(
        question(f"{name}-missing", sentence="not-on-sheet", what=what, answer=option_of(name))
    )
    return None


def complete_rows(
    gathered: Gathered, table: SheetTable, required: list[SheetColumn]
) -> tuple[SheetTable, list[Problem]]:
    """Return the rows in which every required column has a number; the others are listed."""
    problems: list[Problem] = []
    keep = []
    for index in range(len(table.rows)):
        empty = [column.heading for column in required if np.isnan(column.values[index])]
        if not empty:
            keep.append(index)
            continue
        number = table.rows[index]
        why = said("cell-is-empty" if len(empty) == 1 else "cells-are-empty",
                   column=" and ".join(empty))  # fmt: skip
        shown = " | ".join(
            cell_text(float(column.values[index]))
            for column in table.columns
            if np.isfinite(column.values[index])
        )
        gathered.rejected.append(Rejected(number, shown, why, table.row_word))
        where = f"{table.row_word} {number}"
        problems.append(question("row-rejected", where, key=f"row:{number}", why=why))
    return table.take(keep), problems


def too_few_rows(table: SheetTable) -> Problem:
    """Return the error that says so."""
    count = len(table.rows)
    return error("too-few-rows", rows=f"{count} row{'' if count == 1 else 's'}")


def numbers(values: FloatArray) -> list[float]:
    """Return a column as it goes into a file."""
    return [float(value) for value in values]


def original(
    name: str, unit: str, at_name: str, at_unit: str, at: FloatArray, values: FloatArray
) -> dict[str, Any]:
    """Return the table that keeps a column as it came, beside the one that replaced it."""
    table: dict[str, Any] = {"column": name}
    if unit:
        table["unit"] = unit
    table["at"] = at_name
    if at_unit:
        table["at_unit"] = at_unit
    table["positions"] = numbers(at)
    table["values"] = numbers(values)
    return table
