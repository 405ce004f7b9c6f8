"""A table on a picture becomes a grid of cells, each beside the place it was read from.

Nothing of it is taken unasked: the table as a whole has to be agreed to, against its snippets, and
every cell that is in doubt by itself. The keys to agree with hold what was read, so that a yes to
one reading is none to another.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from converter_match.errors import InputError, did_you_mean
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.grid import Cell, Grid, make_grid
from converter_match.library.intake.image_file import Image
from converter_match.library.intake.ocr import Word
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.words import said

_NUMBER = re.compile(r"[-+−]?(?:\d[\d \u00a0]*)?[.,]?\d+\s*%?")
# What stands for what in print; only where a number is due.
_TAKEN_FOR = str.maketrans(
    {"O": "0", "o": "0", "Q": "0", "D": "0", "l": "1", "I": "1", "|": "1", "i": "1", "S": "5",
     "s": "5", "B": "8", "Z": "2", "z": "2", "·": ".", "。": ".", "，": ",", "：": ".", ":": "."}
)  # fmt: skip
_SURE = 0.9
"""Below it a cell is asked about by itself."""
_SAME_LINE = 0.55  # of the height of a word
_MARGIN = 3  # pixels around a snippet
_USUAL = 0.7  # of the cells of a column: their number of decimals is the usual one
_FEWEST = 3  # numbers that make a column
_INK = 60  # by how much something on paper is darker than the paper


class CellReader(Protocol):
    """Reads one cell by itself: `ocr.Reader`."""

    def cell(self, snippet: Image) -> tuple[str, float]:
        """Return the text and how sure it is."""


@dataclass(frozen=True)
class ScanCell:
    """One cell as it was read.

    Parameters
    ----------
    row, column : int
        In the table that was made of the picture, from 1.
    text : str
        Proposed: as read, letters that stand where a number is due as digits.
    read : str
        As read in the whole picture; empty where nothing was.
    again : str
        As read by itself.
    sure : float
        The lower of what the machine gives for both, 0 to 1.
    box : (int, int, int, int)
        Left, top, right, bottom of its snippet [pixel].
    doubts : tuple of str
        Why it has to be looked at by itself.
    """

    row: int
    column: int
    text: str
    read: str
    again: str
    sure: float
    box: tuple[int, int, int, int]
    doubts: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """How the cell is told apart, such as R4C2."""
        return f"R{self.row}C{self.column}"

    @property
    def key(self) -> str:
        """What to confirm, if it is right as proposed."""
        return f"cell:{self.name}={self.text}"


@dataclass(frozen=True, eq=False)
class Scan:
    """A table as it was read off a picture.

    Parameters
    ----------
    source : str
    image : ndarray of uint8, shape (height, width, 3)
        Straightened.
    cells : tuple of ScanCell
        By row and column.
    """

    source: str
    image: Image
    cells: tuple[ScanCell, ...]

    @property
    def key(self) -> str:
        """What to confirm, if all cells that are not in doubt by themselves are right."""
        told = "\n".join(f"{cell.name}={cell.text}" for cell in self.cells)
        return f"scan:{hashlib.sha256(told.encode('utf-8')).hexdigest()[:8]}"

    def snippet(self, cell: ScanCell) -> Image:
        """Return the piece of the picture that a cell was read from."""
        left, top, right, bottom = cell.box
        return self.image[top:bottom, left:right]

    def text_of(self, cell: ScanCell, answers: Answers) -> str:
        """Return what stands in a cell: as corrected, or as proposed."""
        return corrections(answers).get(cell.name, cell.text)

    def grid(self, answers: Answers) -> Grid:
        """Return the grid, with what has to be agreed to.

        Parameters
        ----------
        answers : Answers
            Cells that were corrected are taken as corrected and not asked about.

        Raises
        ------
        InputError
            If a cell is corrected that the table has not, or there are no cells.
        """
        told = corrections(answers)
        names = [cell.name for cell in self.cells]
        for name in told:
            if name not in names:
                raise InputError(
                    "there is no such cell in the table that was read", source=self.source,
                    field="--cell", found=name, expected="such as R4C2: row 4, column 2",
                    hint=did_you_mean(name, names),
                )  # fmt: skip
        if not self.cells:
            raise InputError("no words were read on the picture", source=self.source)
        height = max(cell.row for cell in self.cells)
        width = max(cell.column for cell in self.cells)
        rows: list[list[Cell]] = [[None] * width for _ in range(height)]
        for cell in self.cells:
            rows[cell.row - 1][cell.column - 1] = told.get(cell.name, cell.text) or None
        problems = [self._asked_of_all(answers)]
        problems += [
            question(
                "scan-doubt", f"row {cell.row}, column {cell.column}", key=cell.key,
                answer=f"to correct: --cell {cell.name}=TEXT", text=cell.text or said("cell-blank"),
                why="; ".join(cell.doubts),
            )
            for cell in self.cells
            if cell.doubts and cell.name not in told
        ]  # fmt: skip
        problems += [
            note("scan-corrected", f"row {cell.row}, column {cell.column}", carried=True,
                 read=cell.read, text=told[cell.name])
            for cell in self.cells
            if cell.name in told and told[cell.name] != cell.read
        ]  # fmt: skip
        return make_grid(self.source, rows, problems)

    def _asked_of_all(self, answers: Answers) -> Problem:
        told = corrections(answers)
        doubtful = sum(1 for cell in self.cells if cell.doubts and cell.name not in told)
        answer = "to see them: --snippets FILE.html; to correct one: --cell R4C2=TEXT"
        return question(
            "scan-unconfirmed", key=self.key, answer=answer, count=len(self.cells),
            doubtful=doubtful,
        )  # fmt: skip


def corrections(answers: Answers) -> Mapping[str, str]:
    """Return the cells that were corrected, their names in one spelling."""
    return {name.strip().upper(): text for name, text in answers.cells.items()}


def scan_of(source: str, image: Image, words: Sequence[Word], reader: CellReader) -> Scan:
    """Return the table that the words on a picture make.

    Words on one height are a row. Columns are where numbers stand below each other; words go to
    the column they lie over, and lines without one are text. Every cell is read again by itself,
    also where a row has none and there is something on the paper.

    Parameters
    ----------
    source : str
    image : ndarray of uint8, shape (height, width, 3)
    words : sequence of Word
    reader : CellReader

    Raises
    ------
    InputError
        If no columns of numbers were found.
    """
    lines = _lines(words)
    spans = _columns(words)
    if not spans:
        raise InputError(
            "no columns of numbers were read on the picture", source=source,
            found=f"{len(words)} words", expected="a table, printed, and not too small",
            hint="a larger picture of the table alone is read better",
        )  # fmt: skip
    placed = [_placed(line, spans) for line in lines]
    numeric = [sum(_is_number(_joined(w)) for w in row.values()) >= max(1, len(spans) // 2)
               for row in placed]  # fmt: skip
    cells: list[ScanCell] = []
    for number, (line, row) in enumerate(zip(lines, placed, strict=True), start=1):
        top, bottom = min(w.box[1] for w in line), max(w.box[3] for w in line)
        for column in range(len(spans)):
            own = row.get(column, [])
            if not own and not numeric[number - 1]:
                continue
            left, right = _reach(own, spans, column)
            box = _within(image, (left, top, right, bottom))
            if not own and not _inked(image, box):
                continue
            cells.append(_read_again(number, column + 1, own, box, image, reader,
                                     digits=numeric[number - 1]))  # fmt: skip
    data = [number for number, is_data in enumerate(numeric, start=1) if is_data]
    return Scan(source, image, tuple(_with_doubts(cells, data, len(spans))))


def _lines(words: Sequence[Word]) -> list[list[Word]]:
    """Return the words by lines from top to bottom, each from left to right."""
    lines: list[list[Word]] = []
    for word in sorted(words, key=lambda each: each.middle[1]):
        if lines:
            middle = float(np.mean([each.middle[1] for each in lines[-1]]))
            height = float(np.median([each.height for each in lines[-1]]))
            if abs(word.middle[1] - middle) < _SAME_LINE * max(height, word.height):
                lines[-1].append(word)
                continue
        lines.append([word])
    return [sorted(line, key=lambda each: each.box[0]) for line in lines]


def _columns(words: Sequence[Word]) -> list[tuple[float, float]]:
    """Return where numbers stand below each other: left and right of each column."""
    spans: list[list[float]] = []
    numbers = [word for word in words if _is_number(word.text)]
    for word in sorted(numbers, key=lambda each: each.box[0]):
        left, _, right, _ = word.box
        if spans and left < spans[-1][1]:
            spans[-1][1] = max(spans[-1][1], right)
            spans[-1][2] += 1
        else:
            spans.append([left, right, 1])
    return [(left, right) for left, right, count in spans if count >= _FEWEST]


def _placed(line: Sequence[Word], spans: Sequence[tuple[float, float]]) -> dict[int, list[Word]]:
    """Return the words of a line by the column that they lie over, or else the nearest."""
    row: dict[int, list[Word]] = {}
    for word in line:
        left, _, right, _ = word.box
        shared = [min(right, b) - max(left, a) for a, b in spans]
        row.setdefault(int(np.argmax(shared)), []).append(word)
    return row


def _reach(
    own: Sequence[Word], spans: Sequence[tuple[float, float]], column: int
) -> tuple[float, float]:
    if own:
        return min(word.box[0] for word in own), max(word.box[2] for word in own)
    return spans[column]


def _within(image: Image, box: tuple[float, float, float, float]) -> tuple[int, int, int, int]:
    height, width = image.shape[:2]
    left, top, right, bottom = box
    return (
        max(int(left) - _MARGIN, 0),
        max(int(top) - _MARGIN, 0),
        min(int(np.ceil(right)) + _MARGIN, width),
        min(int(np.ceil(bottom)) + _MARGIN, height),
    )


def _inked(image: Image, box: tuple[int, int, int, int]) -> bool:
    """Return whether there is something on the paper."""
    left, top, right, bottom = box
    piece = image[top:bottom, left:right].astype(np.int16).mean(axis=2)
    return bool(piece.size) and bool(np.percentile(piece, 95) - piece.min() > _INK)


def _joined(words: Iterable[Word]) -> str:
    return " ".join(word.text.strip() for word in words)


def _is_number(text: str) -> bool:
    digits = sum(each.isdigit() for each in text)
    taken = text.strip().translate(_TAKEN_FOR)
    return digits >= 1 and _NUMBER.fullmatch(taken) is not None


def _as_number(text: str) -> str:
    """Return a text as the number that it may stand for; as it is where it stands for none."""
    taken = text.strip().translate(_TAKEN_FOR)
    taken = re.sub(r"\s*([.,])\s*", r"\1", taken)
    return taken if _NUMBER.fullmatch(taken) else text.strip()


def _read_again(
    row: int,
    column: int,
    own: Sequence[Word],
    box: tuple[int, int, int, int],
    image: Image,
    reader: CellReader,
    *,
    digits: bool,
) -> ScanCell:
    """Read a cell by itself, and say what does not agree."""
    left, top, right, bottom = box
    again, sure = reader.cell(image[top:bottom, left:right])
    read = _joined(own)
    text = read or again
    doubts = []
    if not read:
        doubts.append(said("scan-missed"))
    if digits:
        text, second = _as_number(text), _as_number(again)
        if _NUMBER.fullmatch(text) is None:
            doubts.append(said("scan-no-number"))
        elif text != (read or again).strip():
            doubts.append(said("scan-letters", read=read or again))
    else:
        second = again
    if read and _bare(second) != _bare(text):
        doubts.append(said("scan-differs", again=again))
    sure = min([sure, *(word.sure for word in own)])
    if sure < _SURE:
        doubts.append(said("scan-unsure", sure=100.0 * sure))
    return ScanCell(row, column, text, read, again, sure, box, tuple(doubts))


def _bare(text: str) -> str:
    """Return a text without what print and machine set differently: spaces and capitals."""
    return re.sub(r"\s", "", text).casefold()


def _with_doubts(cells: Sequence[ScanCell], data: Sequence[int], width: int) -> list[ScanCell]:
    """Add the doubts that the rest of a column gives: another number of decimals, gaps."""
    usual: dict[int, int] = {}
    for column in range(1, width + 1):
        counts = Counter(
            _decimals(c.text) for c in cells if c.column == column and c.row in data
        )  # fmt: skip
        if counts:
            most, often = counts.most_common(1)[0]
            if often >= _USUAL * sum(counts.values()):
                usual[column] = most
    found = []
    for cell in cells:
        more = cell.doubts
        own = _decimals(cell.text)
        if cell.row in data and cell.column in usual and own != usual[cell.column]:
            more += (said("scan-decimals", own=own, usual=usual[cell.column]),)
        found.append(replace(cell, doubts=more))
    return found


def _decimals(text: str) -> int:
    parts = re.split(r"[.,]", text.strip().rstrip("% "))
    return len(parts[-1]) if len(parts) > 1 else 0
