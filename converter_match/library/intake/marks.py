"""What a spreadsheet does not show, or shows as taken back; and further tables on the sheet."""

from __future__ import annotations

import re
from collections.abc import Sequence

from converter_match.library.intake.answers import Answers
from converter_match.library.intake.layout import Layout
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.table import SheetColumn

_SHOWN = 8
_PAGE = re.compile(
    r"[-–( ]*(?:page|p\.|seite|blatt|pagina|página|folha)? ?"
    r"\d+(?: ?(?:of|/|von|de|sur) ?\d+)?[-–) ]*"
)


def marked(
    columns: Sequence[SheetColumn], rows: Sequence[int], layout: Layout, answers: Answers
) -> list[Problem]:
    """Return questions about used rows and columns that are hidden or struck through.

    Parameters
    ----------
    columns : sequence of SheetColumn
        Those that are used.
    rows : sequence of int
        Numbers of the rows that are used.
    layout : Layout
    answers : Answers
        A row that is left out, or a column that is told or ignored, is not asked about.
    """
    problems = []
    grid = layout.grid
    word = "column" if grid.turned else "row"
    hidden = [row for row in rows if row - 1 in grid.hidden_rows]
    if hidden:
        answer = "to answer: " + " ".join(f"--leave-out {row}" for row in hidden[:_SHOWN])
        problems.append(
            question("hidden-rows", key="hidden-rows", answer=answer, word=word,
                     rows=_listed(hidden))
        )  # fmt: skip
    told = set(answers.columns)
    unseen = [c for c in columns if c.number - 1 in grid.hidden_columns and c.key not in told]
    if unseen:
        answer = "to answer: " + " ".join(f"--ignore {column.key}" for column in unseen)
        places = ", ".join(column.place for column in unseen)
        problems.append(question("hidden-columns", places, key="hidden-columns", answer=answer))
    used = {column.number - 1 for column in columns}
    struck = sorted({row + 1 for row, column in grid.struck if column in used} & set(rows))
    for row in struck:
        problems.append(
            question("struck-through", grid.place(row - 1), key=f"struck:{row}",
                     answer=f"to answer: --leave-out {row}", row=grid.shown(row - 1))
        )  # fmt: skip
    return problems


def further_tables(layout: Layout, answers: Answers) -> list[Problem]:
    """Return what is said of a second table, and of the same headings on a new page."""
    problems = []
    if layout.repeats:
        places = ", ".join(layout.grid.place(row) for row in layout.repeats)
        problems.append(
            question("heading-repeated", places, key="joined", answer="to answer: --table 1")
        )
    if layout.second_table is not None:
        place = layout.grid.place(layout.second_table)
        if answers.table is not None:
            problems.append(note("table-chosen", place, table=answers.table))
        else:
            problems.append(
                question("second-table", place, key="second-table",
                         answer="to answer: --table 1 or --table 2")
            )  # fmt: skip
    return problems


def between_rows(layout: Layout, answers: Answers) -> list[Problem]:
    """Ask about every line of words among the rows: what stands below it may be another table.

    The number of a page says nothing, and a line that stands above the table as well nothing new.
    """
    grid = layout.grid
    data = [row for row in layout.data_rows if row + 1 not in answers.leave_out]
    if not data:
        return []
    above = {_plain(grid.shown(row)) for row in layout.remark_rows if row < data[0]}
    problems = []
    for row in layout.remark_rows:
        text = grid.shown(row)
        if not data[0] < row < data[-1] or _plain(text) in above or _PAGE.fullmatch(_plain(text)):
            continue
        below = [each + 1 for each in data if each > row]
        answer = "to answer: " + " ".join(f"--leave-out {each}" for each in below[:_SHOWN])
        problems.append(
            question("line-among-rows", grid.place(row), key=f"between:{row + 1}", answer=answer,
                     text=text)
        )  # fmt: skip
    return problems


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _listed(rows: Sequence[int]) -> str:
    more = ", ..." if len(rows) > _SHOWN else ""
    return ", ".join(str(row) for row in rows[:_SHOWN]) + more
