"""Cells become columns of numbers: roles settled, units settled, unusable rows named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from converter_match.components.capacity_forms import AT_TORQUE, FORMS
from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.library.intake.answers import (
    Answers,
    chosen_for,
    names_column,
    unit_in_our_words,
)
from converter_match.library.intake.grid import Unusable, cell_text
from converter_match.library.intake.headings import ColumnHeading, capacity_form_of
from converter_match.library.intake.layout import Layout
from converter_match.library.intake.marks import between_rows, further_tables, marked
from converter_match.library.intake.numerals import (
    Numeral,
    Style,
    holds_number,
    is_nothing,
    parse,
    parse_range,
    style_of,
)
from converter_match.library.intake.problem import Problem, Rejected, error, note, question
from converter_match.library.intake.qualifiers import qualified, scaled
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.vocabulary import (
    ROLES,
    ROLES_OF,
    WHOSE,
    folded,
    near_words,
)
from converter_match.library.intake.words import said
from converter_match.units import dimensions_of, to_si

_GREATEST = 1e9
"""No number on a sheet of this trade is as large, in any unit."""
_SHOWN = 6
_WITH_BAND = ("torque_ratio", "efficiency", *FORMS, "torque", "power")  # files keep their error
_LEADING = {
    "converter": ("speed_ratio", "slip", "turbine_speed"),
    "engine": ("speed",),
    "motor": ("speed",),
}


@dataclass
class Gathered:
    """A table in the making."""

    table: SheetTable
    problems: list[Problem] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def gather(layout: Layout, answers: Answers) -> Gathered:
    """Return the columns that are understood over the rows that can be used.

    Parameters
    ----------
    layout : Layout
    answers : Answers

    Returns
    -------
    Gathered
        Units may still be missing; rows are in the order of the sheet.

    Raises
    ------
    InputError
        For an answer about a column or row that the sheet has not.
    """
    problems: list[Problem] = list(layout.grid.notes)
    if not layout.style.sure:
        answer = "to answer: --decimal point|comma"
        why = layout.style.reason
        problems.append(question("decimal-mark", key="decimal", answer=answer, why=why))
    elif layout.style.decimal == ",":
        problems.append(note("decimal-comma", what=layout.style.reason))
    if layout.grid.turned:
        problems.append(note("turned"))
    _check_answers(layout, answers)
    chosen = [
        found
        for number, heading in enumerate(layout.headings)
        if (found := _column(number, heading, layout, answers, problems)) is not None
    ]
    columns, rows, rejected = _numbers(chosen, layout, answers, problems)
    problems += qualified(columns, layout, answers)
    problems += marked(columns, rows, layout, answers)
    problems += [*further_tables(layout, answers), *between_rows(layout, answers)]
    remarks = [f"{layout.grid.place(row)}: {layout.grid.shown(row)}" for row in layout.remark_rows]
    word = "column" if layout.grid.turned else "row"
    table = SheetTable(layout.grid.source, layout.kind, tuple(columns), tuple(rows), word)
    return Gathered(table, problems, rejected, remarks)


def _check_answers(layout: Layout, answers: Answers) -> None:
    headings = [heading.text for heading in layout.headings]
    asked = (
        ("--column", list(answers.columns)),
        ("--unit", list(answers.units)),
        ("--ignore", list(answers.ignore)),
        ("--factor", list(answers.factors)),
    )
    for option, keys in asked:
        for key in keys:
            if not any(names_column(key, n, text) for n, text in enumerate(headings)):
                listed = ", ".join(f"{n + 1} {text!r}" for n, text in enumerate(headings) if text)
                raise InputError(
                    "there is no such column",
                    source=layout.grid.source,
                    field=option,
                    found=key,
                    expected=f"a number or a heading: {listed}",
                )
    for key, role in answers.columns.items():
        if role not in ROLES:
            raise InputError(
                "a column cannot be this",
                source=layout.grid.source,
                field=f"--column {key}",
                found=role,
                expected=", ".join(ROLES_OF[layout.kind]),
                hint=did_you_mean(role, ROLES),
            )
    for row in answers.leave_out:
        if row - 1 not in layout.data_rows:
            raise InputError(
                "there is no row of numbers here",
                source=layout.grid.source,
                field="--leave-out",
                found=row,
                expected=", ".join(str(each + 1) for each in layout.data_rows[:20]),
            )


def _column(
    number: int, heading: ColumnHeading, layout: Layout, answers: Answers, problems: list[Problem]
) -> SheetColumn | None:
    """Return the column with its role and what is known of its unit; None if it is not used."""
    text = heading.text
    place = layout.grid.place(column=number) + (f" ({text!r})" if text else "")
    numeric = any(_holds_number(layout, row, number) for row in layout.data_rows)
    if any(names_column(key, number, text) for key in answers.ignore):
        problems.append(note("column-ignored", place))
        return None
    role = chosen_for(answers.columns, number, text)
    if role is None and heading.meaning is not None:
        role = heading.meaning.role
    if role is None and numeric and text:
        whose = WHOSE.get(folded(heading.name), ()) if layout.kind == "converter" else ()
        if whose:
            ways = [f"--column {number + 1}={each}" for each in whose]
            answer = f"to answer: {', or '.join(ways)}, or --ignore {number + 1}"
            problems.append(question("heading-whose", place, answer=answer, name=heading.name))
            return None
        near = near_words(text, layout.kind, heading.unit)
        near = near or near_words(heading.name, layout.kind, heading.unit)
        if near:
            word, guess = next(iter(near.items()))
            key = f"column:{number + 1}"
            answer = f"to answer: --column {number + 1}=ROLE, or --ignore {number + 1}"
            problems.append(
                question("heading-misspelt", place, key=key, answer=answer, word=word, role=guess)
            )
            if not answers.agreed(key):
                return None
            role = guess
    if role is None:
        if numeric or text:
            why = "column-not-recognised" if text else "column-without-heading"
            hint = said("column-to-use", number=number + 1) if numeric else ""
            problems.append(note("column-not-used", place, sentence=why, hint=hint))
        return None
    if not numeric:
        problems.append(note("column-empty", place))
        return None
    unit, unit_from = heading.unit, "heading" if heading.unit else ""
    told = chosen_for(answers.units, number, text)
    if told is not None:
        unit, unit_from = unit_in_our_words(told, answers), "you"
    elif heading.refused:
        answer = f"to answer: --unit {number + 1}=UNIT"
        problems.append(question("unit-refused", place, answer=answer, why=heading.refused))
        unit, unit_from = "", ""
    share = {100.0: "percent", 1000.0: "per mille"}.get(heading.factor)
    if share and ROLES[role] == "ratio" and not unit:
        unit, unit_from = share, "heading"
    if role == "capacity":
        form = capacity_form_of(unit) if unit else None
        if form is None:
            answer = f"to answer: --unit {number + 1}=UNIT, or --column {number + 1}=k_factor"
            problems.append(question("capacity-form", place, answer=answer))
            return None
        role = form
    label = heading.meaning.rest if heading.meaning is not None else ""
    reference = heading.torque if role in AT_TORQUE else heading.speed
    if heading.unclear and reference == heading.speed is not None:
        reference = _unclear_reference(number, place, heading, answers, problems)
    return SheetColumn(
        number=number + 1,
        heading=text,
        role=role,
        values=np.empty(0),
        unit=unit,
        unit_from=unit_from,
        label=label,
        reference=reference,
    )


def _unclear_reference(
    number: int, place: str, heading: ColumnHeading, answers: Answers, problems: list[Problem]
) -> tuple[float, str] | None:
    """Propose thousands for a speed such as "1,700 rpm" beside decimal commas."""
    if "reference_speed" in answers.facts or heading.speed is None:
        return None
    value, unit = heading.speed[0] * 1000.0, heading.speed[1]
    problems.append(
        question(
            "reference-unclear",
            place,
            key=f"reference:{number + 1}",
            answer="to answer: --reference-speed ...",
            text=heading.unclear,
            meant=f"{value:.12g} {unit}",
        )
    )
    return value, unit


def _holds_number(layout: Layout, row: int, column: int) -> bool:
    cell = layout.grid.rows[row][column]
    return isinstance(cell, float) or (isinstance(cell, str) and holds_number(cell, layout.style))


def _numbers(
    chosen: list[SheetColumn], layout: Layout, answers: Answers, problems: list[Problem]
) -> tuple[list[SheetColumn], list[int], list[Rejected]]:
    """Read the cells of the chosen columns; a row with damage in one of them is not used."""
    kept: list[list[float]] = []
    widths: list[dict[int, float]] = []
    rows: list[int] = []
    rejected: list[Rejected] = []
    units: list[set[str]] = [set() for _ in chosen]
    word = "column" if layout.grid.turned else "row"
    styles = _own_styles(chosen, layout)
    for row in layout.data_rows:
        shown = layout.grid.shown(row)
        if row + 1 in answers.leave_out:
            rejected.append(Rejected(row + 1, shown, said("row-left-out"), word))
            continue
        width: dict[int, float] = {}
        values, damage = _row_values(row, chosen, layout, answers, units, problems, width, styles)
        if damage:
            key = f"row:{row + 1}"
            rejected.append(Rejected(row + 1, shown, damage, word))
            where = layout.grid.place(row)
            problems.append(question("row-rejected", where, key=key, why=damage))
            continue
        kept.append(values)
        widths.append(width)
        rows.append(row + 1)
    for index, style in styles.items():
        what = style.reason
        problems.append(note("decimal-of-column", chosen[index].place, what=what))
    array = np.array(kept, dtype=np.float64).reshape(len(kept), len(chosen))
    columns = []
    for index, column in enumerate(chosen):
        found = replace(column, values=array[:, index], tolerance=_tolerance(widths, index))
        found = scaled(found, layout.headings[column.number - 1], answers, problems)
        if found.tolerance is not None:
            spans = zip(rows, found.values, found.tolerance, strict=True)
            said_of = [f"{word} {at}: {v:.6g} ± {w:.2g}" for at, v, w in spans if w > 0.0]
            ranges = ", ".join(said_of[:_SHOWN])
            key = f"range:{column.number}"
            sentence = "cells-are-a-band" if column.role in _WITH_BAND else "cells-are-ranges"
            problems.append(
                question("cells-are-ranges", column.place, sentence=sentence, key=key, rows=ranges)
            )
        columns.append(_with_cell_units(found, units[index], answers, problems))
    return columns, rows, rejected


def _own_styles(chosen: list[SheetColumn], layout: Layout) -> dict[int, Style]:
    """Return the columns whose numbers have another decimal mark than the rest of the sheet."""
    found = {}
    for index, column in enumerate(chosen):
        cells = [layout.grid.rows[row][column.number - 1] for row in layout.data_rows]
        own = style_of(cell for cell in cells if isinstance(cell, str))
        telling = own.sure and own.reason != style_of(()).reason
        marked = sum(isinstance(cell, str) and own.decimal in cell for cell in cells)
        if telling and own.decimal != layout.style.decimal and marked > 0.5 * len(cells):
            found[index] = own
    return found


def _tolerance(widths: list[dict[int, float]], index: int) -> FloatArray | None:
    """Return half the width of every range in a column; None where it holds no range."""
    if not any(index in width for width in widths):
        return None
    return np.array([width.get(index, 0.0) for width in widths])


def _row_values(
    row: int,
    chosen: list[SheetColumn],
    layout: Layout,
    answers: Answers,
    units: list[set[str]],
    problems: list[Problem],
    widths: dict[int, float],
    styles: Mapping[int, Style],
) -> tuple[list[float], str]:
    values: list[float] = []
    damage: list[str] = []
    leading = _LEADING[layout.kind]
    for index, column in enumerate(chosen):
        cell = layout.grid.rows[row][column.number - 1]
        value = float("nan")
        if isinstance(cell, float):
            value = cell
            units[index].add("")
        elif isinstance(cell, Unusable):
            damage.append(said("cell-is", column=column.heading, cell=cell.text, what=cell.why))
        elif column.role == "speed_ratio" and cell is not None and cell.casefold() == "stall":
            value = 0.0
            where = layout.grid.place(row, column.number - 1)
            problems.append(note("stall-is-zero", where))
        elif cell is not None and not is_nothing(cell):
            style = styles.get(index, layout.style)
            numeral = parse(cell, style)
            if numeral is not None and numeral.unit:
                known = dimensions_of(unit_in_our_words(numeral.unit, answers))
                numeral = numeral if known else None  # 1.0O is no number with the unit O
            ends = parse_range(cell, style) if numeral is None else None
            if ends is not None:
                numeral, widths[index] = ends
            if numeral is None or (np.isinf(numeral.value) and column.role != "k_factor"):
                text = cell_text(cell)
                damage.append(said("cell-is-no-number", column=column.heading, cell=text))
            else:
                value = numeral.value
                units[index].add(numeral.unit)
                _remark_on(numeral, cell, layout.grid.place(row, column.number - 1), problems)
        elif column.role in leading:
            damage.append(said("cell-is-empty", column=column.heading))
        if np.isfinite(value) and abs(value) > _GREATEST:
            damage.append(said("cell-is-too-large", column=column.heading, value=value))
        values.append(value)
    if not damage and np.isnan(values).sum() == len(values):
        damage.append(said("row-without-number"))
    return values, "; ".join(damage)


def _remark_on(numeral: Numeral, cell: str, where: str, problems: list[Problem]) -> None:
    if numeral.mark:
        value, mark = numeral.value, numeral.mark
        problems.append(note("footnote-mark", where, cell=cell, value=value, mark=mark))
    if numeral.mixed:
        problems.append(note("decimal-mixed", where, cell=cell, value=numeral.value))


def _with_cell_units(
    column: SheetColumn, found: set[str], answers: Answers, problems: list[Problem]
) -> SheetColumn:
    """Take the unit that stands behind the numbers, where the heading has none."""
    units = {unit_in_our_words(unit, answers) for unit in found if unit}
    if units:
        if len(units) > 1 or (len(found) > 1 and column.unit not in units):
            listed = ", ".join(sorted(repr(unit) for unit in found))
            problems.append(error("units-mixed", column.place, units=listed))
            return column
        unit = units.pop()
        if column.unit and column.unit_from != "you":
            if not _same_unit(unit, column.unit, column.dimension):
                answer = f"to answer: --unit {column.number}=UNIT"
                problems.append(
                    question("units-differ", column.place, answer=answer, head=column.unit,
                             cells=unit)
                )  # fmt: skip
        elif not column.unit:
            column = replace(column, unit=unit, unit_from="cells")
    if column.unit and column.dimension:
        try:
            to_si(1.0, column.unit, column.dimension)
        except InputError as refusal:
            answer = f"to answer: --unit {column.number}=UNIT"
            if not any(each.where.startswith(f"column {column.number} ") for each in problems
                       if each.code == "unit-refused"):  # fmt: skip
                problems.append(question("unit-refused", column.place, answer=answer, why=refusal))
            return replace(column, unit="", unit_from="")
    return column


def _same_unit(one: str, other: str, dimension: str) -> bool:
    if not {dimension} <= set(dimensions_of(one)) & set(dimensions_of(other)):
        return one == other
    return bool(to_si(1.0, one, dimension) == to_si(1.0, other, dimension))
