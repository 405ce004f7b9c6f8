"""Rows brought into order: sorted, repeated points told, nothing dropped silently."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from converter_match.curves import FloatArray
from converter_match.library.intake.problem import Problem, error, note, question
from converter_match.library.intake.table import SheetColumn, SheetTable

# 40 CFR 1037.570 averages repeats; more apart than this, one of them is another point or a slip
# (common practice, no source).
REPEAT_TOLERANCE = 0.03
_FEWEST_IN_ORDER = 5


def in_order(table: SheetTable, leading: SheetColumn) -> tuple[SheetTable, list[Problem]]:
    """Return the table sorted by its leading column, with repeated points brought together.

    Parameters
    ----------
    table : SheetTable
    leading : SheetColumn
        The column that has to increase; one of the table.

    Returns
    -------
    table : SheetTable
        Rows that repeat a point are replaced by their mean, under the number of the first.
    problems : list of Problem
        Notes on mixed order and exact repeats; a question for repeats that differ a little, an
        error for those that differ much.
    """
    problems: list[Problem] = []
    x = leading.values
    order = np.argsort(x, kind="stable").tolist()
    steps = np.diff(x)
    if x.size > 1 and np.all(steps <= 0) and np.any(steps < 0):
        problems.append(note("rows-reversed"))
    elif np.any(steps < 0):
        problems.append(note("rows-sorted", column=leading.heading))
        problems += _one_out_of_order(table, leading)
    table = table.take(order)
    groups: list[list[int]] = []
    sorted_x = x[order]
    for index in range(sorted_x.size):
        same = groups and np.isclose(
            sorted_x[index], sorted_x[groups[-1][0]], rtol=1e-9, atol=1e-12
        )
        if same:
            groups[-1].append(index)
        else:
            groups.append([index])
    if all(len(group) == 1 for group in groups):
        return table, problems
    for group in groups:
        if len(group) > 1:
            problems.append(_on_repeat(table, leading, group))
    firsts = [group[0] for group in groups]
    columns = tuple(
        replace(
            each,
            values=_means(each, groups),
            tolerance=None if each.tolerance is None else each.tolerance[firsts],
        )
        for each in table.columns
    )
    rows = tuple(table.rows[group[0]] for group in groups)
    return replace(table, columns=columns, rows=rows), problems


def _one_out_of_order(table: SheetTable, leading: SheetColumn) -> list[Problem]:
    """Ask about the row without which all others would be in order: a wrong digit, perhaps."""
    x = leading.values
    if x.size < _FEWEST_IN_ORDER:
        return []
    alone = []
    for row in range(x.size):
        steps = np.diff(np.delete(x, row))
        if np.all(steps > 0) or np.all(steps < 0):
            alone.append(row)
    return [
        question("row-out-of-order", " and ".join(table.row(row) for row in alone),
                 key=f"order:{table.rows[alone[0]]}",
                 answer=f"to answer: --leave-out {table.rows[alone[0]]}",
                 column=leading.heading, value=f"{x[alone[0]]:.6g}")
    ] if alone else []  # fmt: skip


def _means(column: SheetColumn, groups: list[list[int]]) -> FloatArray:
    means = []
    for group in groups:
        values = column.values[group]
        known = values[~np.isnan(values)]
        means.append(
            float(f"{known.mean():.12g}")
            if known.size > 1
            else float(known[0])
            if known.size
            else np.nan
        )
    return np.array(means, dtype=np.float64)


def _on_repeat(table: SheetTable, leading: SheetColumn, group: list[int]) -> Problem:
    rows = " and ".join(str(table.rows[index]) for index in group)
    worst, values_of = 0.0, ""
    for column in table.columns:
        values = column.values[group]
        values = values[np.isfinite(values)]
        if column is leading or values.size < 2:
            continue
        spread = float(np.ptp(values)) / max(float(np.abs(values).max()), 1e-300)
        if spread > worst:
            worst = spread
            listed = ", ".join(f"{value:.6g}" for value in values)
            values_of = f"{column.heading} {listed}"
    at = f"{leading.heading} {np.sort(leading.values)[group[0]]:.6g}"
    where = f"{table.row_word}s {rows}"
    if worst <= 1e-9:
        return note("point-repeated", where, at=at)
    if worst <= REPEAT_TOLERANCE:
        return question(
            "point-repeated-differs",
            where,
            key=f"repeat:{table.rows[group[0]]}",
            answer="to answer: --leave-out ROW",
            at=at,
            values=values_of,
            apart=100 * worst,
        )
    return error("point-contradicts", where, answer="to correct: --leave-out ROW", at=at,
                 values=values_of, apart=100 * worst)  # fmt: skip
