"""What stands on a web page, line by line."""

from __future__ import annotations

from html.parser import HTMLParser

UNSEEN = ("script", "style", "defs")


class Words(HTMLParser):
    """The texts of a page, one a line; in its scripts nobody reads."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.open.append(tag)
        said = [value for name, value in attrs if name in ("alt", "aria-label") and value]
        self.lines += [f"({one})" for one in said]

    def handle_endtag(self, tag):
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data):
        text = " ".join(data.split())
        if text and not set(UNSEEN) & set(self.open):
            self.lines.append(text)


def words_of(page: str) -> list[str]:
    """Return what stands on a page."""
    reader = Words()
    reader.feed(page)
    return reader.lines
