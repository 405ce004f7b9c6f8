"""What a report says, part by part, before it is a web page or a PDF.

Both are made from these parts, so they cannot say different things.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from matplotlib.figure import Figure

from converter_match.present.drawing.saving import render

PRINT_DPI = 200.0


@dataclass(frozen=True, kw_only=True)
class Paragraph:
    """Running text.

    Parameters
    ----------
    text : str
    look : str
        ``plain``, ``lead`` (large), ``small``, ``caution`` (in a frame).
    """

    text: str
    look: str = "plain"
    kind: str = "paragraph"


@dataclass(frozen=True, kw_only=True)
class Bullets:
    """A list of sentences; numbered where the order matters."""

    items: tuple[str, ...]
    numbered: bool = False
    small: bool = False
    kind: str = "bullets"


@dataclass(frozen=True, kw_only=True)
class Subheading:
    """A heading inside a section."""

    text: str
    kind: str = "heading"


@dataclass(frozen=True, kw_only=True)
class Verdicts:
    """The decision, in a frame.

    Parameters
    ----------
    word : str
        In capitals.
    text : str
    """

    word: str
    text: str
    kind: str = "verdict"


Look = Literal["dark", "shaded", "dashed"]


class MarkedCell(str):
    """A text in a table that is set off, by more than a colour.

    Parameters
    ----------
    text : str
    look : {"dark", "shaded", "dashed"}
    """

    look: Look

    def __new__(cls, text: str, look: Look) -> MarkedCell:
        """Return the text with its look."""
        cell = super().__new__(cls, text)
        cell.look = look
        return cell


@dataclass(frozen=True, kw_only=True)
class ReportTable:
    """A table of texts.

    Parameters
    ----------
    name : str
        Of its CSV file; empty for a table that is only read.
    caption : str
    head : tuple of str
    rows : tuple of tuple of str
        A cell that is to be set off is a `MarkedCell`; a line break in a cell is kept.
    widths : tuple of float
        Shares of the page; equal without.
    left : tuple of bool
        Whether a column is set flush left, as words are, or flush right, as numbers.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    name: str = ""
    widths: tuple[float, ...] = ()
    left: tuple[bool, ...]
    kind: str = "table"

    @property
    def shares(self) -> tuple[float, ...]:
        """Widths of the columns as shares of the page."""
        widths = self.widths or tuple(1.0 for _ in self.head)
        return tuple(width / sum(widths) for width in widths)


@dataclass(frozen=True, kw_only=True, eq=False)
class ReportPicture:
    """A figure with its caption; `name` is that of its files, `width` that on paper [in]."""

    name: str
    figure: Figure
    caption: str
    width: float = 6.1  # two to a page
    kind: str = "picture"

    @cached_property
    def svg(self) -> bytes:
        """The figure as SVG; drawn once."""
        return render(self.figure, "svg")

    @cached_property
    def png(self) -> bytes:
        """The figure as PNG, fine enough for print; drawn once."""
        return render(self.figure, "png", dpi=PRINT_DPI)


@dataclass(frozen=True, kw_only=True)
class SmallTables:
    """Small tables, each as wide as its words, set side by side as far as the page goes."""

    caption: str = ""
    tables: tuple[ReportTable, ...]
    kind: str = "small-tables"


@dataclass(frozen=True, kw_only=True)
class Signature:
    """Lines to be filled in by hand."""

    labels: tuple[str, ...]
    kind: str = "signature"


Part = (
    Paragraph
    | Bullets
    | Subheading
    | Verdicts
    | ReportTable
    | SmallTables
    | ReportPicture
    | Signature
)
Paper = Literal["a4", "letter"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Section:
    """A section; `own_page` begins it on a new page.

    Where `one_page` is set for the first, its pictures give way until it is no longer than a page.
    """

    title: str
    parts: tuple[Part, ...]
    own_page: bool = False
    one_page: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class Report:
    """A whole report.

    Parameters
    ----------
    title, subtitle, footer : str
    sections : tuple of Section
    particulars : tuple of (str, str)
        Label and value, below the title: for whom, about what, when; a value that is empty is
        filled in by hand.
    paper : {"a4", "letter"}
    pages : tuple of (str, str, str)
        Title, place and, where there is no place, why: of pages beside the report.
    """

    title: str
    subtitle: str
    footer: str
    sections: tuple[Section, ...]
    particulars: tuple[tuple[str, str], ...] = ()
    paper: Paper = "a4"
    pages: tuple[tuple[str, str, str], ...] = ()

    @property
    def pictures(self) -> tuple[ReportPicture, ...]:
        """Every figure, in order."""
        return tuple(
            part
            for section in self.sections
            for part in section.parts
            if isinstance(part, ReportPicture)
        )


def table(
    caption: str,
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    name: str = "",
    widths: Sequence[float] = (),
    left: int = 1,
) -> ReportTable:
    """Return a table whose first columns hold words; shorter to write than the class."""
    return ReportTable(
        name=name,
        caption=caption,
        head=tuple(head),
        rows=tuple(tuple(row) for row in rows),
        widths=tuple(widths),
        left=tuple(column < left for column in range(len(head))),
    )
