"""Tables that a benchmark writes into a page of the docs, between two marks."""

from __future__ import annotations

from pathlib import Path


def write_between(page: Path, name: str, text: str) -> None:
    """Put a text between the marks of its name; refuse a page that has no such place."""
    begins, ends = f"<!-- {name}: begin -->", f"<!-- {name}: end -->"
    before, _, rest = page.read_text(encoding="utf-8").partition(begins)
    _, _, after = rest.partition(ends)
    if not rest or not after:
        raise SystemExit(f"{page.name} has no place for {name!r}: {begins} ... {ends}")
    page.write_text(f"{before}{begins}\n{text}\n{ends}{after}", encoding="utf-8", newline="\n")
