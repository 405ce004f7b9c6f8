"""Tables out of HTML, as a mail or a browser gives them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from html.parser import HTMLParser

from converter_match.errors import InputError
from converter_match.library.intake.grid import MOST_COLUMNS, MOST_ROWS, Cell

_SILENT = frozenset({"script", "style", "template", "head"})
_STRUCK = frozenset({"s", "strike", "del"})
# Without content, so that nothing closes them.
_VOID = frozenset({"br", "hr", "img", "input", "col", "wbr", "meta", "link"})
_DEEPEST = 200  # elements around a cell; a page of nothing but open ones has to be read as well
_RAISED = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")


def looks_like_html(text: str) -> bool:
    """Return whether a text is HTML with a table in it.

    Examples
    --------
    >>> looks_like_html("<table><tr><td>1</td></tr></table>"), looks_like_html("a < b")
    (True, False)
    """
    return re.search(r"<table[\s>]", text[:200_000], re.IGNORECASE) is not None


@dataclass(frozen=True)
class HtmlRows:
    """The rows of a page, and what it does not show or shows as taken back.

    Parameters
    ----------
    rows : list of list
    hidden_rows, hidden_columns : tuple of int
        From 0.
    struck : tuple of (int, int)
        Row and column of cells with text that is struck through.
    hides : bool
        Whether a style sheet on the page hides things: it is not known which.
    """

    rows: list[list[Cell]]
    hidden_rows: tuple[int, ...]
    hidden_columns: tuple[int, ...]
    struck: tuple[tuple[int, int], ...]
    hides: bool


def html_rows(text: str, source: str) -> HtmlRows:
    """Return the rows of all tables, with an empty row between two tables.

    A cell that spans several columns stands in its first one, like a merged cell of a spreadsheet;
    one that spans rows, in its first row. Text between tables is kept as rows of one cell.

    Raises
    ------
    InputError
        If there are more rows than a sheet may have.
    """
    reader = _Reader()
    reader.feed(text)
    reader.close()
    if len(reader.rows) > MOST_ROWS:
        raise InputError(
            "is too large a table",
            source=source,
            found=f"{len(reader.rows)} rows",
            expected=f"at most {MOST_ROWS} rows",
        )
    hidden = reader.hidden
    columns = {column for _, column in hidden}
    whole = {
        column
        for column in columns
        if all(
            (number, column) in hidden
            for number, row in enumerate(reader.rows)
            if column < len(row) and row[column] is not None
        )
    }
    rows = {row for row, column in hidden if column not in whole}
    return HtmlRows(
        reader.rows,
        tuple(sorted(rows)),
        tuple(sorted(whole)),
        tuple(sorted(reader.struck)),
        reader.hides,
    )


def _style(attributes: Mapping[str, str | None]) -> tuple[bool, bool]:
    """Return whether an element hides, and strikes through, what stands in it."""
    told = re.sub(r"\s", "", attributes.get("style") or "").casefold()
    hides = re.search(r"display:none|visibility:(?:hidden|collapse)", told) is not None
    strikes = re.search(r"text-decoration[a-z-]*:[^;]*line-through", told) is not None
    return hides or "hidden" in attributes, strikes


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.rows: list[list[Cell]] = []
        self.row: list[Cell] | None = None
        self.words: list[str] | None = None
        self.span = 1
        self.held: dict[int, int] = {}  # column -> rows for which a cell above reaches down
        self.silent = 0
        self.raised = 0
        self.around: list[tuple[str, bool, bool]] = []  # elements: tag, whether it hides, strikes
        self.hidden: set[tuple[int, int]] = set()
        self.struck: set[tuple[int, int]] = set()
        self.hides = False
        self.columns: list[bool] = []  # of the table, whether it hides them

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        hides, strikes = _style(given)
        if tag in ("tr", "td", "th"):  # closed by the next one, whether the page says so or not
            self._leave(("tr",) if tag == "tr" else ("td", "th"))
        if tag == "col":
            self.columns += [hides] * _number(given.get("span"))
        if tag not in _VOID:
            self.around.append((tag, hides, strikes or tag in _STRUCK))
            del self.around[:-_DEEPEST]
        if tag in _SILENT:
            self.silent += 1
        elif tag == "table":
            self.columns = []
            self._end_row()
            self.rows.append([])
            self.held = {}
        elif tag == "tr":
            self._end_row()
            self.row = []
            self._skip_held()
        elif tag in ("td", "th") and self.row is not None:
            self._end_cell()
            self.words = []
            self.span = _number(given.get("colspan"))
            down = _number(given.get("rowspan"))
            if down > 1:
                for column in range(len(self.row), len(self.row) + self.span):
                    self.held[column] = down
        elif tag == "br" and self.words is not None:
            self.words.append(" ")
        elif tag == "sup":
            self.raised += 1

    def handle_endtag(self, tag: str) -> None:
        if tag in _SILENT:
            self.silent = max(self.silent - 1, 0)
        elif tag in ("td", "th"):
            self._end_cell()
        elif tag in ("tr", "table"):
            self._end_row()
        elif tag == "sup":
            self.raised = max(self.raised - 1, 0)
        self._leave((tag,))

    def _leave(self, tags: tuple[str, ...]) -> None:
        """Take the innermost of these elements off, and what was left open in it."""
        for place in range(len(self.around) - 1, -1, -1):
            tag = self.around[place][0]
            if tag in tags:
                del self.around[place:]
                return
            if tag == "table":  # of another table
                return

    def handle_data(self, data: str) -> None:
        if self.silent:
            if self.around and self.around[-1][0] == "style":
                self.hides = self.hides or _style({"style": data})[0]
            return
        if self.words is not None and data.strip():
            self._mark()
        if self.words is not None:
            self.words.append(data.translate(_RAISED) if self.raised else data)
        elif self.row is None and data.strip():
            self.rows.append([" ".join(data.split())])

    def close(self) -> None:
        super().close()
        self._end_row()

    def _end_cell(self) -> None:
        if self.words is None or self.row is None:
            return
        text = " ".join("".join(self.words).split())
        self.row += [text or None, *[None] * (min(self.span, MOST_COLUMNS) - 1)]
        self.words = None
        self._skip_held()

    def _mark(self) -> None:
        """Note of the cell that is being read whether it is hidden or struck through."""
        assert self.row is not None
        place = (len(self.rows), len(self.row))
        aside = self.columns[place[1]] if place[1] < len(self.columns) else False
        if aside or any(hides for _, hides, _ in self.around):
            self.hidden.add(place)
        if any(strikes for _, _, strikes in self.around):
            self.struck.add(place)

    def _skip_held(self) -> None:
        """Leave the places empty into which a cell of a row above reaches."""
        while self.row is not None and self.held.get(len(self.row), 0) > 1:
            self.held[len(self.row)] -= 1
            self.row.append(None)

    def _end_row(self) -> None:
        self._end_cell()
        if self.row is not None:
            self.rows.append(self.row)
        self.row = None


def _number(text: str | None) -> int:
    return (
        min(int(text), MOST_COLUMNS)
        if text is not None and re.fullmatch(r"[1-9]\d{0,2}", text)
        else 1
    )
