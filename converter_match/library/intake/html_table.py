"""Tables out of HTML, as a mail or a browser gives them."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from converter_match.errors import InputError
from converter_match.library.intake.grid import MOST_COLUMNS, MOST_ROWS, Cell

_SILENT = frozenset({"script", "style", "template", "head"})
_RAISED = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")


def looks_like_html(text: str) -> bool:
    """Return whether a text is HTML with a table in it.

    Examples
    --------
    >>> looks_like_html("<table><tr><td>1</td></tr></table>"), looks_like_html("a < b")
    (True, False)
    """
    return re.search(r"<table[\s>]", text[:200_000], re.IGNORECASE) is not None


def html_rows(text: str, source: str) -> list[list[Cell]]:
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
    return reader.rows


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

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in _SILENT:
            self.silent += 1
        elif tag == "table":
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

    def handle_data(self, data: str) -> None:
        if self.silent:
            return
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
