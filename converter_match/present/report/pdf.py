"""A report as a PDF on A4 or Letter, made with the library that draws the figures.

Text is set from the top of each page downwards.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import replace
from io import BytesIO
from typing import Any

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from converter_match.present.drawing.style import FAMILY, PALETTE, SLATE, new_figure
from converter_match.present.report.columns import PAD, TABLE, SetTable, natural_widths, wrapped
from converter_match.present.report.model import (
    PRINT_DPI,
    Bullets,
    MarkedCell,
    Paper,
    Paragraph,
    Part,
    Report,
    ReportPicture,
    ReportTable,
    Section,
    Signature,
    SmallTables,
    Subheading,
    Verdicts,
)

# Width and height [in]: ISO 216, and ANSI/ASME Y14.1 size A.
_PAPERS: dict[Paper, tuple[float, float]] = {"a4": (8.27, 11.69), "letter": (8.5, 11.0)}
_LEFT, _RIGHT, _TOP, _BOTTOM = 0.68, 0.68, 0.55, 0.68  # [in]
_LEADING = 1.36
_BODY, _SMALL = 9.2, 7.6
_FINE, _DENSE = 6.9, 6.6  # letters of long lists, and of small tables
_BETWEEN, _BELOW, _WIDEST = 0.13, 0.08, 1.7  # [in]: between tables on a shelf; widest cell there
_HEADING, _LEADS = 0.3, 3  # [in]; lines of a paragraph that lead to what stands below it
_ABOVE, _ENOUGH = 0.7, 1.6  # [in]: kept for a caption above a table; least room to begin a long one
_SMALLEST = 0.8  # of its width, for a picture that fits on a page then
_SMALLER = (
    0.94,
    0.88,
    0.82,
    0.76,
    0.7,
    0.65,
    0.6,
)  # of pictures, until a page holds all that it should


def report_pdf(report: Report) -> bytes:
    """Return a report as the content of a PDF file; the same report gives the same bytes.

    Parameters
    ----------
    report : Report
    """
    flow = _Flow(report)
    flow.title()
    first, *others = report.sections
    flow.section(first)
    for scale in _SMALLER if first.one_page else ():
        if len(flow.pages) == 1:
            break
        flow = _Flow(report, scale)
        flow.title()
        flow.section(first)
    for section in others:
        flow.section(section)
    return flow.finished()


def _height_of(stack: Sequence[SetTable]) -> float:
    """Height of tables one below the other [in]."""
    return sum(grid.tall for grid in stack) + _BELOW * (len(stack) - 1)


def _is_led(block: Part) -> bool:
    """Return whether a paragraph above belongs to a block."""
    if isinstance(block, Paragraph):
        return block.look == "caution"
    return isinstance(block, (ReportPicture, Subheading))


class _Flow:
    """Pages, and how far down the present one is filled; all lengths in inches."""

    def __init__(self, report: Report, scale: float = 1.0) -> None:
        self.report = report
        self.scale = scale
        self.width, self.height = _PAPERS[report.paper]
        self.right = self.width - _RIGHT
        self.room = self.right - _LEFT
        self.pages: list[Figure] = []
        self.pictures = 0
        self.new_page()

    def new_page(self) -> None:
        self.page = new_figure(self.width, self.height)
        self.pages.append(self.page)
        self.y = _TOP

    @property
    def left_over(self) -> float:
        return self.height - _BOTTOM - self.y

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
            x / self.width,
            1 - y / self.height,
            text,
            fontsize=size,
            family=FAMILY,
            parse_math=False,
            **look,
        )

    def line(self, x0: float, x1: float, y: float, width: float, color: str) -> None:
        self.page.add_artist(
            Line2D(
                [x0 / self.width, x1 / self.width],
                [1 - y / self.height] * 2,
                linewidth=width,
                color=color,
            )
        )

    def box(self, x: float, y: float, width: float, height: float, **look: Any) -> None:
        self.page.add_artist(
            Rectangle(
                (x / self.width, 1 - (y + height) / self.height),
                width / self.width,
                height / self.height,
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
        self.lines(wrapped(self.report.title, self.room, 15.0, bold=True), 15.0, weight="bold")
        self.y += 0.03
        if self.report.subtitle:
            self.lines(wrapped(self.report.subtitle, self.room, _BODY), _BODY, color=SLATE)
        if self.report.particulars:
            self.particulars()

    def particulars(self) -> None:
        """Write labels with their values on a line each, as a form has them."""
        self.y += 0.06
        pairs = self.report.particulars
        width = self.room / len(pairs)
        values = [wrapped(value, width - 0.12, _SMALL) or [""] for _, value in pairs]
        step = _SMALL * 1.25 / 72.0
        height = 0.12 + step * max(len(lines) for lines in values)
        for row, ((label, _), lines) in enumerate(zip(pairs, values, strict=True)):
            x = _LEFT + row * width
            self.text(x, self.y, label, 6.4, color=SLATE)
            for number, line in enumerate(lines):
                self.text(x, self.y + 0.11 + number * step, line, _SMALL)
            self.line(x, x + width - 0.12, self.y + height + 0.02, 0.6, SLATE)
        self.y += height + 0.05

    def section(self, section: Section) -> None:
        if section.own_page and self.y > _TOP:
            self.new_page()
        self.gap(0.12)
        self.need(0.4 + self.begins(section.parts))
        self.lines([section.title], 12.5, weight="bold")
        self.line(_LEFT, self.right, self.y + 0.01, 1.4, PALETTE["ink"])
        self.y += 0.10
        draw: dict[type, Callable[[Any], None]] = {
            Paragraph: self.paragraph,
            Bullets: self.bullets,
            Verdicts: self.verdict,
            ReportTable: self.table,
            SmallTables: self.shelf,
            ReportPicture: self.picture,
            Signature: self.signature,
        }
        for row, block in enumerate(section.parts):
            if isinstance(block, Subheading):
                self.heading(block, section.parts[row + 1 :])
            else:
                draw[type(block)](block)

    def heading(self, block: Subheading, below: Sequence[Part]) -> None:
        self.gap(0.08)
        self.need(_HEADING + self.begins(below))
        self.lines(wrapped(block.text, self.room, 10.0, bold=True), 10.0, weight="bold")
        self.y += 0.02

    def paragraph(self, block: Paragraph) -> None:
        size = _SMALL if block.look in ("small", "caution") else _BODY
        color = SLATE if block.look == "small" else PALETTE["ink"]
        indent = 0.14 if block.look == "caution" else 0.0
        lines = wrapped(block.text, self.room - indent, size)
        height = len(lines) * size * _LEADING / 72.0
        if block.look == "caution":
            self.gap(0.06)
            self.need(height + 0.08)
            self.box(_LEFT, self.y - 0.03, 0.06, height + 0.06, color=PALETTE["ink"])
        self.lines(lines, size, indent=indent, color=color)
        self.y += 0.06

    def bullets(self, block: Bullets) -> None:
        size = _FINE if block.small else _BODY
        step = size * _LEADING / 72.0
        for row, item in enumerate(block.items, 1):
            lines = wrapped(item, self.room - 0.22, size)
            self.need(min(len(lines), 4) * step)
            mark = f"{row}." if block.numbered else "•"
            self.text(_LEFT + 0.14, self.y, mark, size, ha="right")
            self.lines(lines, size, indent=0.22)
            self.y += 0.015
        self.y += 0.03

    def verdict(self, block: Verdicts) -> None:
        lines = wrapped(block.text, self.room - 0.3, 10.5)
        height = 0.36 + len(lines) * 10.5 * _LEADING / 72.0
        self.need(height + 0.1)
        self.box(
            _LEFT,
            self.y,
            self.room,
            height,
            facecolor="none",
            edgecolor=PALETTE["ink"],
            linewidth=2.4,
        )
        self.y += 0.09
        self.lines([block.word], 13.5, indent=0.15, weight="bold")
        self.lines(lines, 10.5, indent=0.15)
        self.y += 0.10

    def signature(self, block: Signature) -> None:
        self.gap(0.34)
        self.need(0.3)
        width = self.room / len(block.labels)
        for row, label in enumerate(block.labels):
            x = _LEFT + row * width
            self.line(x, x + width - 0.25, self.y, 0.8, PALETTE["ink"])
            self.text(x, self.y + 0.03, label, _SMALL, color=SLATE)
        self.y += 0.25

    def begins(self, parts: Sequence[Part]) -> float:
        """Height below a title that may not be parted from it [in]."""
        block, below = (parts[0] if parts else None), parts[1:]
        if isinstance(block, Subheading):
            return _HEADING + self.begins(below)
        if isinstance(block, Paragraph) and block.look not in ("small", "caution"):
            lines = len(wrapped(block.text, self.room, _BODY))
            leads = lines <= _LEADS and bool(below) and _is_led(below[0])
            tall = min(lines, _LEADS) * _BODY * _LEADING / 72.0 + 0.06
            return tall + (self.begins(below) if leads else 0.0)
        if isinstance(block, ReportPicture):
            return self.tall(block, above=0.4)
        if isinstance(block, SmallTables):
            widest = self.room if len(block.tables) == 1 else _WIDEST
            widths = natural_widths(block.tables[0], _DENSE, self.room, widest)
            return min(SetTable(block.tables[0], widths, _DENSE).tall + 0.4, _ENOUGH)
        return 0.5

    def tall(self, block: ReportPicture, above: float = 0.0) -> float:
        """Height of a picture with its caption [in], below something that is still to come."""
        width, height = block.figure.get_size_inches()
        return self.broad(block, above) * float(height / width) + self.captioned(block)

    def captioned(self, block: ReportPicture) -> float:
        """Height of what stands around a picture [in]."""
        caption = wrapped(f"Figure {self.pictures + 1}. {block.caption}", self.room, _SMALL)
        return len(caption) * _SMALL * _LEADING / 72.0 + 0.1

    def broad(self, block: ReportPicture, above: float = 0.0) -> float:
        """Width of a picture [in]: a little less than it should be where it fits then."""
        most = min(self.room, block.width)
        if len(self.pages) == 1:
            return most * self.scale
        width, height = block.figure.get_size_inches()
        fits = (self.left_over - above - self.captioned(block) - 0.14) * float(width / height)
        return fits if _SMALLEST * most <= fits < most else most

    def picture(self, block: ReportPicture) -> None:
        self.gap(0.12)
        self.need(self.tall(block))
        width = self.broad(block)
        self.pictures += 1
        caption = wrapped(f"Figure {self.pictures}. {block.caption}", self.room, _SMALL)
        image = imread(BytesIO(block.png))
        height = width * image.shape[0] / image.shape[1]
        ax = self.page.add_axes(
            (
                (_LEFT + (self.room - width) / 2) / self.width,
                1 - (self.y + height) / self.height,
                width / self.width,
                height / self.height,
            )
        )
        ax.imshow(image, aspect="auto", interpolation="none")
        ax.axis("off")
        self.y += height + 0.03
        self.lines(caption, _SMALL, color=SLATE)
        self.y += 0.05

    def table(self, block: ReportTable) -> None:
        grid = SetTable(block, [share * self.room for share in block.shares], TABLE)
        self.gap(0.06)
        caption = wrapped(block.caption, self.room, 8.2, bold=True) if block.caption else []
        self.need(len(caption) * 0.16 + 0.6)
        self.lines(caption, 8.2, weight="bold")
        self.row(grid, block.head, _LEFT, self.y, head=True)
        self.y += grid.height(block.head, head=True)
        for row in block.rows:
            height = grid.height(row)
            if height > self.left_over:
                self.new_page()
                self.row(grid, block.head, _LEFT, self.y, head=True)
                self.y += grid.height(block.head, head=True)
            self.row(grid, row, _LEFT, self.y)
            self.y += height
        self.y += 0.10

    def shelf(self, block: SmallTables) -> None:
        """Set tables side by side, and one below the other where the tallest leaves room."""
        alone = len(block.tables) == 1
        pieces = [piece for table in block.tables for piece in self.pieces(table, alone=alone)]
        above = wrapped(block.caption, self.room, 8.2, bold=True) if block.caption else []
        if above:
            self.gap(0.08)
            self.need(len(above) * 0.16 + 0.1 + pieces[0].tall)
            self.lines(above, 8.2, weight="bold")
        while pieces:
            row = [[pieces.pop(0)]]
            while pieces and self.placed(row, pieces[0]):
                pieces.pop(0)
            self.gap(0.05)
            tall = max(map(_height_of, row))
            self.need(tall)
            x, top = _LEFT, self.y
            for stack in row:
                self.y = top
                for grid in stack:
                    self.piece(grid, x)
                    self.y += grid.tall + _BELOW
                x += max(grid.whole for grid in stack) + _BETWEEN
            self.y = top + tall + 0.05

    def placed(self, row: list[list[SetTable]], grid: SetTable) -> bool:
        """Put a table into a row of stacks, if there is room below the last or beside it."""
        tall = max(map(_height_of, row))
        for stack in row:
            width = max(one.whole for one in stack)
            if grid.whole <= width and _height_of([*stack, grid]) <= tall:
                stack.append(grid)
                return True
        used = sum(max(one.whole for one in stack) + _BETWEEN for stack in row)
        if used + grid.whole <= self.room:
            row.append([grid])
            return True
        return False

    def pieces(self, table: ReportTable, *, alone: bool) -> list[SetTable]:
        """Return a table in pieces that fit on a page, each as wide as its words."""
        widest = self.room if alone else _WIDEST
        whole = SetTable(table, natural_widths(table, _DENSE, self.room, widest), _DENSE)
        page = self.height - _TOP - _BOTTOM - 0.1
        above = whole.above
        # A table of its own goes on over pages; others stay whole where a page holds them.
        room = self.left_over - _ABOVE if alone and self.left_over > _ENOUGH else page
        rows: list[list[tuple[str, ...]]] = [[]]
        filled = above
        for row in table.rows:
            height = whole.height(row)
            if rows[-1] and filled + height > room:
                rows.append([])
                filled, room = above, page
            rows[-1].append(row)
            filled += height
        return [SetTable(replace(table, rows=tuple(some)), whole.widths, _DENSE) for some in rows]

    def piece(self, grid: SetTable, x: float) -> None:
        """Draw a table of a shelf; how far the page is filled stays as it is."""
        y = self.y
        for line in grid.caption:
            self.text(x, y, line, _DENSE, weight="bold")
            y += grid.step
        self.row(grid, grid.table.head, x, y, head=True)
        y += grid.height(grid.table.head, head=True)
        for row in grid.table.rows:
            self.row(grid, row, x, y)
            y += grid.height(row)

    def row(
        self, grid: SetTable, row: Sequence[str], left: float, y: float, *, head: bool = False
    ) -> None:
        """Draw a row of a table with its top at y."""
        height, x = grid.height(row, head=head), left
        columns = zip(grid.cells(row, head=head), grid.widths, grid.table.left, row, strict=True)
        for lines, width, flush, cell in columns:
            look = self.marked(cell, x, y, width, height)
            if head:
                look = {"weight": "bold"}
            top = y + grid.pad / 2 + 0.1 * grid.step  # letters stand in the middle of their line
            if head:
                top += height - grid.pad - grid.step * len(lines)
            for number, line in enumerate(lines):
                place = x + PAD if flush else x + width - PAD
                align = "left" if flush else "right"
                self.text(place, top + number * grid.step, line, grid.size, ha=align, **look)
            x += width
        color, line_width = (PALETTE["ink"], 1.1) if head else (PALETTE["mist"], 0.7)
        self.line(left, left + grid.whole, y + height, line_width, color)

    def marked(self, cell: str, x: float, y: float, width: float, height: float) -> dict[str, Any]:
        """Set off a cell by its ground or its frame; return the look of its words."""
        look = cell.look if isinstance(cell, MarkedCell) else ""
        if look == "dark":
            self.box(x, y, width, height, facecolor=PALETTE["ink"], edgecolor="none")
            return {"color": "white", "weight": "bold"}
        if look == "shaded":
            self.box(x, y, width, height, facecolor="#e3e6ea", edgecolor="none")
            return {"weight": "bold", "style": "italic"}
        if look == "dashed":
            self.box(
                x + 0.01, y + 0.01, width - 0.02, height - 0.02,
                facecolor="none", edgecolor=PALETTE["ink"], linestyle="--", linewidth=0.7,
            )  # fmt: skip
            return {"style": "italic"}
        return {}

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
                    low = self.height - _BOTTOM + 0.12
                    self.line(_LEFT, self.right, low - 0.04, 0.5, SLATE)
                    self.text(_LEFT, low, footer, 6.6, color=SLATE)
                    where = f"{number} / {len(self.pages)}"
                    self.text(self.right, low, where, 6.6, color=SLATE, ha="right")
                    file.savefig(page, dpi=PRINT_DPI)
        return content.getvalue()
