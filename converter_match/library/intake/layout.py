"""Where the headings of a sheet are, its rows, and what stands around them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from converter_match.errors import InputError
from converter_match.library.intake.answers import Answers, Kind
from converter_match.library.intake.grid import Cell, Grid, Unusable, cell_text
from converter_match.library.intake.headings import ColumnHeading, read_heading
from converter_match.library.intake.numerals import Style, holds_number, is_nothing, parse, style_of
from converter_match.library.intake.vocabulary import (
    ROLES_OF,
    fact_of,
    meaning_of,
)

_MOST_HEADING_ROWS = 5
_TELL_CONVERTER = ("speed_ratio", "torque_ratio", "k_factor", "performance_coefficient", "slip")
_TELL_MOTOR = ("continuous", "regenerative")
# An engine has intermittent and continuous ratings too: only these words make a motor of it.
_MOTOR = re.compile(r"\b(?:motors?|electric|regen\w*|recuperation|s[12]|inverter|battery)\b", re.I)


@dataclass(frozen=True)
class Layout:
    """The parts of a sheet.

    Parameters
    ----------
    grid : Grid
        Perhaps turned, so that quantities stand in columns.
    kind : {"converter", "engine", "motor"}
    style : Style
        How numbers are written.
    headings : tuple of ColumnHeading
        One a column.
    data_rows : tuple of int
        Rows with numbers, from 0.
    remark_rows : tuple of int
        Rows with words only, above and below.
    second_table : int or None
        Row at which another table begins.
    repeats : tuple of int
        Rows at which the same headings stand again, as on a new page.
    """

    grid: Grid
    kind: Kind
    style: Style
    headings: tuple[ColumnHeading, ...]
    data_rows: tuple[int, ...]
    remark_rows: tuple[int, ...]
    second_table: int | None = field(default=None)
    repeats: tuple[int, ...] = ()


def lay_out(grid: Grid, answers: Answers) -> Layout:
    """Find headings and rows of a sheet.

    Parameters
    ----------
    grid : Grid
    answers : Answers

    Returns
    -------
    Layout

    Raises
    ------
    InputError
        If no row of headings, or no row of numbers, is found.
    """
    if answers.table is not None and answers.table > 1:
        grid = _from_table(grid, answers)
    best: tuple[int, Kind, Grid, int] | None = None
    kinds = (answers.kind,) if answers.kind else _kinds(grid)
    for turned in (grid, grid.turn()):
        style = _style(turned, answers)
        for kind in kinds:
            row, score = _heading_row(turned, kind, style, answers)
            if score and (best is None or score > best[0]):
                best = (score, kind, turned, row)
    if best is None:
        raise InputError(
            "no row of headings was recognised",
            source=grid.source,
            expected="headings such as 'speed ratio', 'torque ratio', 'K-factor', or 'rpm', "
            "'torque', 'power'",
            hint="headings in other words: give a mapping file (--map), or --column 1=speed_ratio",
        )
    _, kind, grid, main = best
    style = _style(grid, answers)
    data = _first_data_row(grid, main, style)
    if data is None:
        raise InputError(
            "no rows of numbers below the headings", source=grid.source, field=grid.place(main)
        )
    top = _top_of_headings(grid, main, kind, style, answers)
    block = range(top, data)
    headings = tuple(read_heading(texts, kind, style, answers) for texts in _stacked(grid, block))
    below = _rows_below(grid, data, kind, style, answers, block)
    above = tuple(row for row in range(top) if any(cell is not None for cell in grid.rows[row]))
    return Layout(
        grid, kind, style, headings, below.data, above + below.remarks, below.second, below.repeats
    )


def _kinds(grid: Grid) -> tuple[Kind, ...]:
    """Return what a sheet may be about, by its words."""
    texts = (cell for row in grid.rows for cell in row if isinstance(cell, str))
    motor = any(_MOTOR.search(text) for text in texts)
    return ("converter", "engine", "motor") if motor else ("converter", "engine")


def _from_table(grid: Grid, answers: Answers) -> Grid:
    """Return the grid without the tables before the one that was chosen; its remarks stay."""
    wanted = answers.table or 1
    first = replace(answers, table=1)
    for number in range(1, wanted):
        layout = lay_out(grid, first)
        if layout.second_table is None or layout.grid.turned:
            raise InputError(
                "there is no such table on the sheet",
                source=grid.source,
                field="--table",
                found=wanted,
                expected=f"1 to {number}" if number > 1 else "1: there is only one",
            )
        kept = set(layout.remark_rows)
        empty: tuple[Cell, ...] = (None,) * grid.width
        rows = [
            cells if row in kept or row >= layout.second_table else empty
            for row, cells in enumerate(grid.rows)
        ]
        grid = replace(grid, rows=tuple(rows))
    return grid


def is_number(cell: Cell, style: Style) -> bool:
    """Return whether a cell holds a number."""
    if isinstance(cell, float):
        return True
    return isinstance(cell, str) and holds_number(cell, style)


def _style(grid: Grid, answers: Answers) -> Style:
    texts = (cell for row in grid.rows for cell in row if isinstance(cell, str))
    style = style_of(texts, answers.decimal)
    return style_of((), ".") if grid.decimal_point and not style.sure else style


def _heading_row(grid: Grid, kind: Kind, style: Style, answers: Answers) -> tuple[int, int]:
    """Return (row, score) of the row that looks most like headings; score 0 if none does."""
    best = (0, 0)
    told = _told_columns(answers, kind)
    for row, cells in enumerate(grid.rows):
        if _first_data_row(grid, row, style) is None or _bare_numbers(cells, style) >= 2:
            continue
        roles = []
        for cell in cells:
            if not isinstance(cell, str) or is_number(cell, style):
                continue
            meaning = read_heading([cell], kind, style, answers).meaning
            if meaning:
                roles.append(meaning.role)
        distinct = set(roles) | told
        telling = sum(2 for role in distinct if role in (*_TELL_CONVERTER, *_TELL_MOTOR))
        score = 2 * len(distinct) + telling if len(distinct) >= 2 else 0
        if score > best[1]:
            best = (row, score)
    if not best[1] and told:
        best = _row_above_numbers(grid, style, len(told))
    return best


def _told_columns(answers: Answers, kind: Kind) -> set[str]:
    roles = ROLES_OF[kind]
    return {role for role in answers.columns.values() if role in roles}


def _row_above_numbers(grid: Grid, style: Style, score: int) -> tuple[int, int]:
    """Without known headings: the last row of words before the numbers."""
    for row in range(len(grid.rows) - 1):
        if _numbers(grid.rows[row], style) < 2 <= _numbers(grid.rows[row + 1], style):
            return row, score
    return 0, 0


def _numbers(cells: tuple[Cell, ...], style: Style) -> int:
    return sum(is_number(cell, style) for cell in cells)


def _bare_numbers(cells: tuple[Cell, ...], style: Style) -> int:
    """Count numbers without a unit: '1500 rpm' may stand in a row of headings."""
    return sum(
        isinstance(cell, float)
        or (isinstance(cell, str) and (found := parse(cell, style)) is not None and not found.unit)
        for cell in cells
    )


def _first_data_row(grid: Grid, heading: int, style: Style) -> int | None:
    for row in range(heading + 1, min(heading + 1 + _MOST_HEADING_ROWS, len(grid.rows))):
        if _numbers(grid.rows[row], style) >= 2:
            return row
    return None


def _top_of_headings(grid: Grid, main: int, kind: Kind, style: Style, answers: Answers) -> int:
    """Go up from the main heading row over rows that belong to it: merged cells, group names."""
    top = main
    while top > 0 and main - top < _MOST_HEADING_ROWS:
        cells = [cell for cell in grid.rows[top - 1] if cell is not None]
        if not cells or _numbers(grid.rows[top - 1], style) >= 2:
            break
        if len(cells) == 1:
            found = read_heading([cell_text(cells[0])], kind, style, answers)
            if found.speed is None and (found.meaning is None or not found.meaning.exact):
                break  # a title: words that name no column
        if any(_is_fact(grid.rows[top - 1], column, kind, answers) for column in range(grid.width)):
            break
        top -= 1
    return top


def _is_fact(cells: tuple[Cell, ...], column: int, kind: Kind, answers: Answers) -> bool:
    cell = cells[column]
    if not isinstance(cell, str):
        return False
    label = cell.split(":")[0].split("=")[0]
    named = fact_of(label, kind, answers.words)
    has_value = ":" in cell or "=" in cell
    beside = cells[column + 1] if column + 1 < len(cells) else None
    return (
        named is not None
        and (has_value or beside is not None)
        and not (
            beside is not None
            and isinstance(beside, str)
            and meaning_of(beside, kind, answers.words)
        )
    )


def _stacked(grid: Grid, block: range) -> list[list[str]]:
    """Return the heading texts of each column; a merged cell stands above each it covers.

    Spreadsheets keep a merged cell in its first place and leave the others empty. In a row above
    the last row of headings an empty cell with something to its left is taken for one of those.
    """
    columns: list[list[str]] = [[] for _ in range(grid.width)]
    for row in block:
        carried = ""
        for column, cell in enumerate(grid.rows[row]):
            text = cell_text(cell)
            below = any(
                grid.rows[lower][column] is not None for lower in range(row + 1, block.stop)
            )
            first = all(grid.rows[upper][column] is None for upper in range(block.start, row))
            if text:
                carried = text
            elif first and below and row < block.stop - 1:
                text = carried
            columns[column].append(text)
    return columns


@dataclass
class _Below:
    """The rows below the headings, sorted by what they are."""

    data: tuple[int, ...] = ()
    remarks: tuple[int, ...] = ()
    second: int | None = None
    repeats: tuple[int, ...] = ()


def _rows_below(
    grid: Grid, first: int, kind: Kind, style: Style, answers: Answers, block: range
) -> _Below:
    found = _Below()
    heads = {_plain(grid, row) for row in block}
    for row in range(first, len(grid.rows)):
        cells = grid.rows[row]
        filled = [cell for cell in cells if cell is not None]
        if not filled:
            continue
        again = _plain(grid, row) in heads and not _numbers(cells, style)
        if again and _first_data_row(grid, row, style) is not None:
            if answers.table == 1 or not _goes_on(grid, found.data, row, style):
                found.second = row
                return found
            if row - 1 not in found.repeats:
                found.repeats += (row,)
            continue
        if _is_heading_row(grid, row, kind, style, answers):
            found.second = row
            return found
        numbers = _numbers(cells, style)
        facts = any(_is_fact(cells, column, kind, answers) for column in range(grid.width))
        odd = sum(isinstance(cell, Unusable) for cell in filled)
        if (numbers or odd) and not facts and (numbers + odd >= 2 or _could_be_row(cells, style)):
            found.data += (row,)
        elif all(isinstance(cell, str) and is_nothing(cell) for cell in filled):
            continue
        else:
            found.remarks += (row,)
    return found


def _goes_on(grid: Grid, before: Sequence[int], heading: int, style: Style) -> bool:
    """Return whether the rows below a repeated heading go on where those above it ended."""
    after = _first_data_row(grid, heading, style)
    if after is None or len(before) < 2:
        return False
    for column in range(grid.width):
        read = [_as_float(grid.rows[row][column], style) for row in (*before[-2:], after)]
        if None not in read:
            first, last, following = (value for value in read if value is not None)
            return (last - first) * (following - last) > 0
    return False


def _as_float(cell: Cell, style: Style) -> float | None:
    if isinstance(cell, float):
        return cell
    number = parse(cell, style) if isinstance(cell, str) else None
    return None if number is None else number.value


def _plain(grid: Grid, row: int) -> tuple[str, ...]:
    return tuple(" ".join(cell_text(cell).casefold().split()) for cell in grid.rows[row])


def _is_heading_row(grid: Grid, row: int, kind: Kind, style: Style, answers: Answers) -> bool:
    roles = {
        meaning.role
        for cell in grid.rows[row]
        if isinstance(cell, str) and not is_number(cell, style)
        if (meaning := read_heading([cell], kind, style, answers).meaning) and meaning.exact
    }
    return len(roles) >= 2 and _first_data_row(grid, row, style) is not None


def _could_be_row(cells: tuple[Cell, ...], style: Style) -> bool:
    """One number in a row of several cells is a row with damage; beside one word it is a remark."""
    filled = [cell for cell in cells if cell is not None]
    return len(filled) >= 3 or (len(filled) == 1 and isinstance(filled[0], float))
