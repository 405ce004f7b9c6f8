"""A report as a PDF on A4, made with the library that draws the figures: nothing else is needed.

Text is set from the top of each page downwards. The margins leave room for Letter, so that printing
there without scaling loses nothing.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from functools import lru_cache
from io import BytesIO
from typing import Any

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from converter_match.present.drawing.fonts import advance
from converter_match.present.drawing.style import FAMILY, PALETTE, SLATE, new_figure
from converter_match.present.report.model import (
    PRINT_DPI,
    Bullets,
    MarkedCell,
    Paragraph,
    Report,
    ReportPicture,
    ReportTable,
    Section,
    Signature,
    Subheading,
    Verdicts,
)

# [in]; a Letter page is 11.0 high and 8.5 wide.
_WIDTH, _HEIGHT = 8.27, 11.69
_LEFT, _RIGHT, _TOP, _BOTTOM = 0.68, 0.68, 0.62, 1.05
_ROOM = _WIDTH - _LEFT - _RIGHT
_LEADING = 1.36
_BODY, _SMALL, _TABLE = 9.2, 7.8, 7.2


def report_pdf(report: Report) -> bytes:
    """Return a report as the content of a PDF file; the same report gives the same bytes.

    Parameters
    ----------
    report : Report
    """
    flow = _Flow(report)
    draw: dict[type, Callable[[Any], None]] = {
        Paragraph: flow.paragraph,
        Bullets: flow.bullets,
        Subheading: flow.heading,
        Verdicts: flow.verdict,
        ReportTable: flow.table,
        ReportPicture: flow.picture,
        Signature: flow.signature,
    }
    flow.title()
    for section in report.sections:
        flow.section(section)
        for block in section.parts:
            draw[type(block)](block)
    return flow.finished()


@lru_cache(maxsize=20_000)
def _width_of(text: str, size: float, bold: bool) -> float:
    """Width of a text [in]; kerning, which narrows it by a hair, is left out."""
    return sum(advance(sign, bold=bold) for sign in text) * size / 72.0


def wrapped(text: str, room: float, size: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines that fit into `room` [in]; a word that does not fit is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        trial = f"{line} {word}" if line else word
        if _width_of(trial, size, bold) <= room:
            line = trial
            continue
        if line:
            lines.append(line)
        line = word
        while _width_of(line, size, bold) > room and len(line) > 1:
            cut = max(1, int(len(line) * room / _width_of(line, size, bold)))
            while cut > 1 and _width_of(line[:cut], size, bold) > room:
                cut -= 1
            lines.append(line[:cut])
            line = line[cut:]
    return [*lines, line] if line or not lines else lines


class _Flow:
    """Pages, and how far down the present one is filled; all lengths in inches."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self.pages: list[Figure] = []
        self.pictures = 0
        self.new_page()

    def new_page(self) -> None:
        self.page = new_figure(_WIDTH, _HEIGHT)
        self.pages.append(self.page)
        self.y = _TOP

    @property
    def left_over(self) -> float:
        return _HEIGHT - _BOTTOM - self.y

    def need(self, height: float) -> None:
        """Begin a new page if there is not so much room."""
        if height > self.left_over and self.y > _TOP:
            self.new_page()

    def gap(self, height: float) -> None:
        if self.y > _TOP:
            self.y += height

    def text(self, x: float, y: float, text: str, size: float, **look: Any) -> None:
        """Write one line with its top at y, x from the left edge of the page."""
        look = {"color": PALETTE["ink"], "ha": "left", "va": "top"} | look
        self.page.text(
            x / _WIDTH,
            1 - y / _HEIGHT,
            text,
            fontsize=size,
            family=FAMILY,
            parse_math=False,
            **look,
        )

    def line(self, x0: float, x1: float, y: float, width: float, color: str) -> None:
        self.page.add_artist(
            Line2D([x0 / _WIDTH, x1 / _WIDTH], [1 - y / _HEIGHT] * 2, linewidth=width, color=color)
        )

    def box(self, x: float, y: float, width: float, height: float, **look: Any) -> None:
        self.page.add_artist(
            Rectangle(
                (x / _WIDTH, 1 - (y + height) / _HEIGHT),
                width / _WIDTH,
                height / _HEIGHT,
                transform=self.page.transFigure,
                **look,
            )
        )

    def lines(self, lines: Sequence[str], size: float, *, indent: float = 0.0, **look: Any) -> None:
        """Write lines one below the other, over as many pages as it takes."""
        step = size * _LEADING / 72.0
        for line in lines:
            self.need(step)
            self.text(_LEFT + indent, self.y, line, size, **look)
            self.y += step

    def title(self) -> None:
        self.lines(wrapped(self.report.title, _ROOM, 15.0, bold=True), 15.0, weight="bold")
        self.y += 0.03
        if self.report.subtitle:
            self.lines(wrapped(self.report.subtitle, _ROOM, _BODY), _BODY, color=SLATE)

    def section(self, section: Section) -> None:
        if section.own_page and self.y > _TOP:
            self.new_page()
        self.gap(0.12)
        self.need(0.9)
        self.lines([section.title], 12.5, weight="bold")
        self.line(_LEFT, _WIDTH - _RIGHT, self.y + 0.01, 1.4, PALETTE["ink"])
        self.y += 0.10

    def heading(self, block: Subheading) -> None:
        self.gap(0.08)
        self.need(0.55)
        self.lines(wrapped(block.text, _ROOM, 10.0, bold=True), 10.0, weight="bold")
        self.y += 0.02

    def paragraph(self, block: Paragraph) -> None:
        size = _SMALL if block.look in ("small", "caution") else _BODY
        color = SLATE if block.look == "small" else PALETTE["ink"]
        indent = 0.14 if block.look == "caution" else 0.0
        lines = wrapped(block.text, _ROOM - indent, size)
        height = len(lines) * size * _LEADING / 72.0
        if block.look == "caution":
            self.gap(0.06)
            self.need(height + 0.08)
            self.box(_LEFT, self.y - 0.03, 0.06, height + 0.06, color=PALETTE["ink"])
        self.lines(lines, size, indent=indent, color=color)
        self.y += 0.06

    def bullets(self, block: Bullets) -> None:
        size = _SMALL if block.small else _BODY
        step = size * _LEADING / 72.0
        for row, item in enumerate(block.items, 1):
            lines = wrapped(item, _ROOM - 0.22, size)
            self.need(min(len(lines), 4) * step)
            mark = f"{row}." if block.numbered else "•"
            self.text(_LEFT + 0.14, self.y, mark, size, ha="right")
            self.lines(lines, size, indent=0.22)
            self.y += 0.025
        self.y += 0.03

    def verdict(self, block: Verdicts) -> None:
        lines = wrapped(block.text, _ROOM - 0.3, 10.5)
        height = 0.36 + len(lines) * 10.5 * _LEADING / 72.0
        self.need(height + 0.1)
        self.box(
            _LEFT, self.y, _ROOM, height, facecolor="none", edgecolor=PALETTE["ink"], linewidth=2.4
        )
        self.y += 0.09
        self.lines([block.word], 13.5, indent=0.15, weight="bold")
        self.lines(lines, 10.5, indent=0.15)
        self.y += 0.10

    def signature(self, block: Signature) -> None:
        self.gap(0.40)
        self.need(0.3)
        width = _ROOM / len(block.labels)
        for row, label in enumerate(block.labels):
            x = _LEFT + row * width
            self.line(x, x + width - 0.25, self.y, 0.8, PALETTE["ink"])
            self.text(x, self.y + 0.03, label, _SMALL, color=SLATE)
        self.y += 0.25

    def picture(self, block: ReportPicture) -> None:
        self.pictures += 1
        caption = wrapped(f"Figure {self.pictures}. {block.caption}", _ROOM, _SMALL)
        image = imread(BytesIO(block.png))
        width = min(_ROOM, 6.1)  # two to a page
        height = width * image.shape[0] / image.shape[1]
        below = len(caption) * _SMALL * _LEADING / 72.0
        self.gap(0.12)
        self.need(height + below + 0.1)
        ax = self.page.add_axes(
            (
                (_LEFT + (_ROOM - width) / 2) / _WIDTH,
                1 - (self.y + height) / _HEIGHT,
                width / _WIDTH,
                height / _HEIGHT,
            )
        )
        ax.imshow(image, aspect="auto", interpolation="none")
        ax.axis("off")
        self.y += height + 0.03
        self.lines(caption, _SMALL, color=SLATE)
        self.y += 0.05

    def table(self, block: ReportTable) -> None:
        widths = [share * _ROOM for share in block.shares]
        self.gap(0.06)
        caption = wrapped(block.caption, _ROOM, 8.2, bold=True) if block.caption else []
        self.need(len(caption) * 0.16 + 0.9)
        self.lines(caption, 8.2, weight="bold")
        self._row(block.head, widths, block.left, head=True)
        for row in block.rows:
            height = self._height(row, widths)
            if height > self.left_over:
                self.new_page()
                self._row(block.head, widths, block.left, head=True)
            self._row(row, widths, block.left)
        self.y += 0.10

    def _cells(self, row: Sequence[str], widths: Sequence[float], bold: bool) -> list[list[str]]:
        return [
            wrapped(cell, width - 0.09, _TABLE, bold=bold) if cell else [""]
            for cell, width in zip(row, widths, strict=True)
        ]

    def _height(self, row: Sequence[str], widths: Sequence[float], bold: bool = False) -> float:
        tallest = max(len(cell) for cell in self._cells(row, widths, bold))
        return tallest * _TABLE * 1.25 / 72.0 + 0.06

    def _row(
        self,
        row: Sequence[str],
        widths: Sequence[float],
        left: Sequence[bool],
        *,
        head: bool = False,
    ) -> None:
        cells = self._cells(row, widths, head)
        height = self._height(row, widths, head)
        step = _TABLE * 1.25 / 72.0
        x = _LEFT
        for column, (lines, width) in enumerate(zip(cells, widths, strict=True)):
            cell = row[column]
            marked = cell.look if isinstance(cell, MarkedCell) else ""
            flush = left[column]
            look: dict[str, Any] = {"weight": "bold"} if head else {}
            if marked == "dark":
                self.box(x, self.y, width, height, facecolor=PALETTE["ink"], edgecolor="none")
                look = {"color": "white", "weight": "bold"}
            elif marked == "shaded":
                self.box(x, self.y, width, height, facecolor="#e3e6ea", edgecolor="none")
                look = {"weight": "bold", "style": "italic"}
            elif marked == "dashed":
                self.box(
                    x + 0.01, self.y + 0.01, width - 0.02, height - 0.02,
                    facecolor="none", edgecolor=PALETTE["ink"], linestyle="--", linewidth=0.7,
                )  # fmt: skip
                look = {"style": "italic"}
            top = self.y + 0.03 + ((height - 0.06) - step * len(lines) if head else 0.0)
            for number, line in enumerate(lines):
                place = x + 0.04 if flush else x + width - 0.04
                align = "left" if flush else "right"
                self.text(place, top + number * step, line, _TABLE, ha=align, **look)
            x += width
        self.y += height
        color, width = (PALETTE["ink"], 1.1) if head else (PALETTE["mist"], 0.7)
        self.line(_LEFT, _WIDTH - _RIGHT, self.y, width, color)

    def finished(self) -> bytes:
        """Return the file, its pages numbered."""
        content = BytesIO()
        title = self.report.title
        # No date and no version: nothing that differs between two runs.
        metadata = {"CreationDate": None, "Creator": None, "Producer": None, "Title": title}
        footer = textwrap.shorten(self.report.footer, 130, placeholder=" ...")
        with rc_context({"pdf.fonttype": 42, "pdf.compression": 6}):
            with PdfPages(content, metadata=metadata) as file:
                for number, page in enumerate(self.pages, 1):
                    self.page = page
                    low = _HEIGHT - _BOTTOM + 0.12
                    self.line(_LEFT, _WIDTH - _RIGHT, low - 0.04, 0.5, SLATE)
                    self.text(_LEFT, low, footer, 6.6, color=SLATE)
                    where = f"{number} / {len(self.pages)}"
                    self.text(_WIDTH - _RIGHT, low, where, 6.6, color=SLATE, ha="right")
                    file.savefig(page, dpi=PRINT_DPI)
        return content.getvalue()
