"""The stall sheet as a PDF page, drawn with the library that draws the figures.

The page is A4 wide and Letter high, so that it prints whole on either paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from converter_match.present.drawing import style
from converter_match.present.report.columns import wrapped
from converter_match.present.stall.content import Sheet

# [in]: A4 is 8.27 wide, Letter 11.0 high.
_WIDTH, _HEIGHT = 8.27, 11.0
_LEFT, _RIGHT, _TOP = 0.55, 0.5, 0.42
_ROOM = _WIDTH - _LEFT - _RIGHT
_BODY, _SMALL, _HEAD = 7.8, 7.0, 9.0
_LEADING = 1.3
_ROW = 0.19
_LAST = _HEIGHT - 0.4
# A full sheet is set smaller until all of it is on the page: a caution that runs off is none.
_SCALES = (1.0, 0.97, 0.94, 0.91, 0.88, 0.85, 0.82, 0.79, 0.76)


class _Page:
    """A page filled from the top; lengths in inches, sizes of type before they are scaled."""

    def __init__(self, scale: float = 1.0) -> None:
        self.figure = style.new_figure(_WIDTH, _HEIGHT)
        self.y = _TOP
        self.scale = scale

    def line(self, text: str, x: float, y: float, size: float, *, bold: bool = False,
             color: str = style.PALETTE["ink"]) -> None:  # fmt: skip
        look = style.words(size * self.scale, color, weight="bold" if bold else "normal")
        self.figure.text(x / _WIDTH, 1 - y / _HEIGHT, text, va="top", ha="left", **look)

    def width(self, text: str, size: float, bold: bool) -> float:
        """Return the width of a text."""
        look = style.words(size * self.scale, weight="bold" if bold else "normal")
        artist = self.figure.text(0, 0, text, **look)
        width = artist.get_window_extent().width / self.figure.dpi
        artist.remove()
        return float(width)

    def text(self, text: str, x: float, y: float, room: float, size: float, *, bold: bool = False,
             color: str = style.PALETTE["ink"]) -> float:  # fmt: skip
        """Write wrapped text; return where the next line begins."""
        step = size * self.scale * _LEADING / 72
        for part in wrapped(text, room, size * self.scale, bold=bold):
            self.line(part, x, y, size, bold=bold, color=color)
            y += step
        return y

    def items(
        self, items: Sequence[str], x: float, y: float, room: float, *, numbered: bool = False
    ) -> float:
        """Write a list; return where it ends."""
        for number, item in enumerate(items, start=1):
            self.line(f"{number}." if numbered else "•", x, y, _BODY)
            y = self.text(item, x + 0.16, y, room - 0.16, _BODY) + 0.012
        return y

    def head(self, text: str, x: float, y: float) -> float:
        """Write a heading; return where the text under it begins."""
        self.line(text, x, y, _HEAD, bold=True)
        return y + _HEAD * self.scale * _LEADING / 72 + 0.01

    def rule(self, x0: float, x1: float, y: float, width: float = 0.6) -> None:
        """Draw a horizontal line."""
        self.figure.add_artist(
            Line2D(
                [x0 / _WIDTH, x1 / _WIDTH], [1 - y / _HEIGHT] * 2, color=style.PALETTE["ink"],
                linewidth=width,
            )
        )  # fmt: skip

    def box(self, x: float, y: float, width: float, height: float, line: float) -> None:
        """Draw a frame."""
        self.figure.add_artist(
            Rectangle(
                (x / _WIDTH, 1 - (y + height) / _HEIGHT), width / _WIDTH, height / _HEIGHT,
                facecolor="none", edgecolor=style.PALETTE["ink"], linewidth=line,
            )
        )  # fmt: skip

    def pairs(self, pairs: Sequence[tuple[str, str]], y: float) -> float:
        """Write names and values side by side; return where they end."""
        indent = max(self.width(name, _BODY, False) for name, _ in pairs) + 0.15
        for name, value in pairs:
            self.line(name, _LEFT, y, _BODY, color=style.SLATE)
            y = self.text(value, _LEFT + indent, y, _ROOM - indent, _BODY, bold=True) + 0.02
        return y


def sheet_figure(sheet: Sheet) -> Figure:
    """Return the sheet as a figure of page size, ready to be saved as PDF.

    Parameters
    ----------
    sheet : Sheet
    """
    for scale in _SCALES:
        page, last = _laid_out(sheet, scale)
        if last <= _LAST:
            break
    return page.figure


def _laid_out(sheet: Sheet, scale: float) -> tuple[_Page, float]:
    """Return the page, and where its last line ends."""
    page = _Page(scale)
    page.figure.set_label(sheet.title)
    page.line(sheet.title, _LEFT, page.y, 14, bold=True)
    top = page.y + 0.3
    y = page.head(sheet.cautions.title, _LEFT + 0.1, top + 0.06)
    y = page.items(sheet.items(sheet.cautions), _LEFT + 0.1, y, _ROOM - 0.2)
    page.box(_LEFT, top, _ROOM, y + 0.04 - top, 1.8)
    y = page.pairs(sheet.pairs(sheet.subject), y + 0.14)
    half = 0.5 * _ROOM - 0.1
    right = _LEFT + half + 0.2
    below = page.head(sheet.prepare.title, _LEFT, y + 0.06)
    page.head(sheet.steps.title, right, y + 0.06)
    ends = (
        page.items(sheet.items(sheet.prepare), _LEFT, below, half),
        page.items(sheet.items(sheet.steps), right, below, half, numbered=True),
    )
    y = max(ends)
    if sheet.relief.above:
        y = page.head(sheet.relief.title, _LEFT, y + 0.05)
        y = page.items(sheet.items(sheet.relief), _LEFT, y, _ROOM, numbered=True)
    y = page.head(sheet.stop.title, _LEFT, y + 0.05)
    y = page.items(sheet.items(sheet.stop), _LEFT, y, _ROOM)
    y = page.head(sheet.expected.title, _LEFT, y + 0.05)
    y = page.pairs(sheet.pairs(sheet.expected), y)
    y = page.head("Record", _LEFT, y + 0.05)
    y = _table(page, sheet, y)
    y = _blanks(page, sheet.blanks, y + 0.08)
    y = page.text(sheet.footer, _LEFT, y + 0.06, _ROOM, _SMALL, color=style.SLATE)
    return page, y


def _table(page: _Page, sheet: Sheet, y: float) -> float:
    first, gear, pull, last = 1.32, 0.5, 0.8, 0.7
    middle = (_ROOM - first - gear - pull - last) / (len(sheet.columns) - 4)
    edges = [_LEFT, _LEFT + first, _LEFT + first + gear, _LEFT + first + gear + pull]
    for _ in sheet.columns[3:-1]:
        edges.append(edges[-1] + middle)
    edges.append(_LEFT + _ROOM)
    for name, x in zip(sheet.columns, edges[:-1], strict=True):
        page.line(name, x + 0.03, y, _SMALL, bold=True)
    scale, height = page.scale, _ROW * page.scale
    y += _SMALL * scale * _LEADING / 72 + 0.04
    for row in sheet.rows:
        for cell, x in zip(row.cells, edges, strict=False):
            page.line(cell, x + 0.04, y + 0.045 * scale, _SMALL)
            if row.struck:
                page.rule(
                    x + 0.03, x + 0.05 + page.width(cell, _SMALL, False), y + 0.1 * scale, 1.1
                )
        filled = edges[: len(row.cells) + 1]
        for x0, x1 in pairwise([*filled, edges[-1]] if row.struck else edges):
            page.box(x0, y, x1 - x0, height, 0.5)
        if row.struck:
            page.line(row.struck, filled[-1] + 0.04, y + 0.045 * scale, _SMALL, bold=True)
        y += height
    return y


def _blanks(page: _Page, names: Sequence[str], y: float) -> float:
    width = _ROOM / 3
    for number, name in enumerate(names):
        x = _LEFT + (number % 3) * width
        line = y + 0.24 * (number // 3)
        page.line(name, x, line, _BODY)
        page.rule(x + page.width(name, _BODY, False) + 0.08, x + width - 0.15, line + 0.15)
    return y + 0.24 * ((len(names) + 2) // 3)
