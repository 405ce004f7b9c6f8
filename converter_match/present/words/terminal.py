"""Text that fits the terminal: long lines folded, wide tables made narrower or continued below.

The texts of results are laid out for a file or a notebook, with one line a note and tables as wide
as they need. A terminal breaks such lines in the middle of a word, and a table becomes unreadable.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

# A number and what follows it: a unit, or a word that may be one.
_NUMBER_AND_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|°[CF]|K|kPa|kN|N·m|N|kW|hp|rpm|km/h|mph|km|mm|mi|m|ft|lbf·ft|lbf|lb|kg"
    r"|t|h|min|s|kJ|MJ|L|L/h|L/t|t/h|m/s²|J/\S+|kg/\S+)(?![\w/·]))"
)
NARROWEST = 40
_WIDEST_PROSE = 120
_GAP = "  "  # at least between the columns of a table
_CELLS = re.compile(r"\S(?:.*?\S)??(?=\s{2,}|$)")
_FEWEST_CELLS = 3


def fitted(text: str, width: int) -> str:
    """Return a text with no line longer than a terminal is wide, where that can be done.

    Parameters
    ----------
    text : str
        Prose, notes and tables whose columns stand two spaces apart.
    width : int
        Columns of the terminal; taken as `NARROWEST` at least.

    Returns
    -------
    str
        The same words. Prose and notes are folded with a hanging indent. In a table that is too
        wide the heads stand in two lines; columns that do not fit even so follow below, beside the
        first column again.

    Examples
    --------
    >>> print(fitted("[code] a note that goes on for longer than the line is wide", 40))
    [code] a note that goes on for longer
      than the line is wide
    """
    width = max(width, NARROWEST)
    done: list[str] = []
    rows: list[str] = []
    for line in [*_unfolded(text.split("\n")), ""]:
        if _is_row(line, within=bool(rows)):
            rows.append(line)
            continue
        done += _table(rows, width)
        rows = []
        done += _folded(line, min(width, _WIDEST_PROSE))
    return "\n".join(done[:-1])


def _is_row(line: str, *, within: bool) -> bool:
    """Whether a line is one of a table; its second one may have few units, far to the right."""
    cells = len(_CELLS.findall(line))
    return cells >= _FEWEST_CELLS or (within and cells > 0 and line.startswith(6 * " "))


def _unfolded(lines: Sequence[str]) -> list[str]:
    """Join the lines of an item of a list, which was folded for another width."""
    joined: list[str] = []
    hanging: str | None = None
    for line in lines:
        if hanging is not None and line.startswith(hanging) and line[len(hanging) :][:1].strip():
            joined[-1] += " " + line.strip()
            continue
        joined.append(line)
        indent = line[: len(line) - len(line.lstrip())]
        hanging = f"{indent}  " if line.lstrip().startswith("- ") else None
    return joined


def _folded(line: str, width: int) -> list[str]:
    if len(line) <= width:
        return [line]
    words = line.lstrip()
    indent = " " * (len(line) - len(words))
    if not indent or words.startswith(("- ", "[")):
        indent += "  "
    lines = textwrap.wrap(
        _NUMBER_AND_UNIT.sub("\N{NO-BREAK SPACE}", line),
        width,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [part.replace("\N{NO-BREAK SPACE}", " ") for part in lines]


@dataclass
class _Column:
    """A column of a table: its cells, and on which side they stand."""

    cells: list[str]
    left: bool

    @property
    def width(self) -> int:
        return max(map(len, self.cells))

    def shown(self, row: int) -> str:
        cell = self.cells[row]
        return cell.ljust(self.width) if self.left else cell.rjust(self.width)


def _table(lines: Sequence[str], width: int) -> list[str]:
    if not lines or max(map(len, lines)) <= width:
        return list(lines)
    columns = _columns(lines)
    if len(lines) < 2 or len(columns) < _FEWEST_CELLS:
        return [part for line in lines for part in _folded(line, width)]
    for column in columns:
        _head_in_two(column)
    first, *others = columns
    parts, used = [[first]], first.width
    for column in others:
        wide = len(_GAP) + column.width
        if used + wide > width and len(parts[-1]) > 1:
            parts.append([first])
            used = first.width
        parts[-1].append(column)
        used += wide
    said: list[str] = []
    for part in parts:
        rows = (
            _GAP.join(column.shown(row) for column in part).rstrip()
            for row in range(len(lines) + 1)
        )
        said += [*([""] if said else []), *(row for row in rows if row)]
    return said


def _columns(lines: Sequence[str]) -> list[_Column]:
    """Return the columns: between them two characters are blank in every line."""
    longest = max(map(len, lines))
    free = "".join(
        " " if all(line[at : at + 1] in ("", " ") for line in lines) else "x"
        for at in range(longest)
    )
    found = []
    for number, place in enumerate(re.finditer(r"x(?:.*?x)??(?=\s{2,}|$)", free)):
        start = 0 if number == 0 else place.start()
        cells = [line[start : place.end()] for line in lines]
        left = number == 0 or all(cell[:1].strip() for cell in cells if cell.strip())
        found.append(_Column([cell.rstrip() if number == 0 else cell.strip() for cell in cells],
                             left))  # fmt: skip
    return found


def _head_in_two(column: _Column) -> None:
    """Give every column a second line of its head, the place where a wide one is broken."""
    head, *body = column.cells
    needed = max(map(len, body))
    halves = [(head[:at], head[at + 1 :]) for at, mark in enumerate(head) if mark == " "]
    two = ("", head)
    if len(head) > needed and halves:
        two = min(halves, key=lambda pair: max(map(len, pair)))
    column.cells = [*two, *body]
