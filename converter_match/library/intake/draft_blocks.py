"""A draft as blocks: the columns, the rows in the sheet's own units, and what is to be said."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Heading
from converter_match.curves import FloatArray
from converter_match.library.intake.problem import Problem, Rejected
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.words import UNIT_FROM, WORDS
from converter_match.notes import Note

_SHOWN_ROWS = 60
_COLUMN = tuple(
    Heading(key, "")
    for key in ("column", "heading", "role", "unit", "unit_from", "values", "tolerance")
)
_PROBLEM = tuple(
    Heading(key, "") for key in ("severity", "code", "message", "where", "confirm", "answer")
)
_REJECTED = tuple(Heading(key, "") for key in ("row", "cells", "why"))


def columns_block(table: SheetTable | None, source: str, kind: str) -> Block:
    """Return the columns as plain data, and a sentence for each in text."""
    columns = table.columns if table is not None else ()
    article = "an" if kind[0] in "aeiou" else "a"
    return Block(
        "columns",
        columns=_COLUMN,
        rows=tuple(
            (
                column.number,
                column.heading,
                column.role,
                column.unit,
                column.unit_from,
                column.values,
                column.tolerance,
            )
            for column in columns
        ),
        rows_key="",
        above=(WORDS.note("read-as", source=source, article=article, kind=kind),)
        if table is not None
        else (),
        items=tuple(_said(column) for column in columns),
    )


def _said(column: SheetColumn) -> Note:
    unit = column.unit or ("a ratio" if column.dimension == "ratio" else "unit not known")
    at = f", at {column.reference[0]:g} {column.reference[1]}" if column.reference else ""
    return WORDS.note(
        "column-read",
        column=column.place,
        role=column.role.replace("_", " "),
        unit=unit,
        why=UNIT_FROM.get(column.unit_from, ""),
        at=at,
    )


def read_block(table: SheetTable, residuals: Mapping[str, tuple[FloatArray, FloatArray]]) -> Block:
    """Return the rows as they were read, in text: in the units of the sheet."""
    word = table.row_word
    heads = [Heading(word, word)]
    values: list[FloatArray | tuple[int, ...]] = [table.rows]
    for column in table.columns:
        name = _short(column.role)
        heads.append(Heading(column.role, f"{name} [{column.unit or '-'}]", form=".6g"))
        values.append(column.values)
    for column in table.columns:
        if column.tolerance is not None:
            name = f"± {_short(column.role)} [{column.unit or '-'}]"
            heads.append(Heading(f"{column.role}_tolerance", name, form=".2g"))
            values.append(column.tolerance)
    for role, (before, after) in residuals.items():
        scale = float(np.abs(before).max()) or 1.0
        heads.append(Heading(f"{role}_moved", f"{role} moved [%]", form="+.2f"))
        values.append(100 * (after - before) / scale)
    more = len(table.rows) - _SHOWN_ROWS
    return Block(
        "read",
        columns=tuple(heads),
        rows=tuple(zip(*(_some(each) for each in values), strict=True)),
        below=(WORDS.note("more-rows", count=more),) if more > 0 else (),
        in_plain=False,
    )


def _some(values: FloatArray | tuple[int, ...]) -> list[float | int | None]:
    """Return the values that are shown; None for a cell without a number."""
    listed = values.tolist() if isinstance(values, np.ndarray) else list(values)
    return [value if math.isfinite(value) else None for value in listed[:_SHOWN_ROWS]]


def _short(role: str) -> str:
    return role.replace("_", " ").replace("coefficient", "coeff.")


def problems_block(problems: Iterable[Problem]) -> Block:
    """Return the problems as plain data."""
    rows: list[tuple[Any, ...]] = [
        (
            each.severity,
            each.code,
            each.message,
            each.where,
            each.key if each.is_open else "",
            each.answer if each.is_open else "",
        )
        for each in problems
    ]
    return Block("problems", columns=_PROBLEM, rows=tuple(rows), rows_key="", in_text=False)


def rejected_block(rejected: Iterable[Rejected]) -> Block:
    """Return the rows that are not used, as plain data and as a list."""
    given = tuple(rejected)
    return Block(
        "rejected",
        "Rows not used" if given else "",
        columns=_REJECTED,
        rows=tuple((each.row, each.cells, each.why) for each in given),
        rows_key="",
        items=tuple(Note("row-not-used", each.text()) for each in given),
    )


def listed(title: str, lines: Iterable[tuple[str, str]]) -> Block:
    """Return sentences under a title, each a code and its words; nothing at all without any."""
    items = tuple(Note(code, text) for code, text in lines)
    return Block("", title if items else "", items=items, in_plain=False)
