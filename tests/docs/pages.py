"""What stands on a page to be tried out: its commands, their output, its Python."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
_FENCE = re.compile(r"^```(?P<kind>[^\n]*)\n(?P<text>.*?)^```$", re.MULTILINE | re.DOTALL)
_STATUS = re.compile(r"#.*\bexit status (\d)")


@dataclass(frozen=True)
class Block:
    """A fenced block of a page."""

    page: Path
    line: int
    kind: str
    text: str


@dataclass(frozen=True)
class Command:
    """A command as it is printed, the exit status that is due, and lines of output in order."""

    place: str
    words: tuple[str, ...]
    status: int
    output: tuple[str, ...] = ()


def blocks(page: Path) -> Iterator[Block]:
    """Yield the fenced blocks of a page."""
    text = page.read_text(encoding="utf-8")
    for found in _FENCE.finditer(text):
        line = text.count("\n", 0, found.start()) + 1
        yield Block(page, line, found["kind"].strip(), found["text"])


def commands(page: Path) -> list[Command]:
    """Return the commands of ours on a page, in order."""
    found = []
    for block in blocks(page):
        if block.kind == "sh":
            pieces = [(line, "") for line in _whole_lines(block.text)]
        elif block.kind == "console":
            pieces = [
                (_whole_lines(part)[0], "\n".join(_whole_lines(part)[1:]))
                for part in re.split(r"^\$ ", block.text, flags=re.MULTILINE)[1:]
            ]
        else:
            continue
        for line, output in pieces:
            command = _command(f"{page.name}:{block.line}", line, output)
            if command is not None:
                found.append(command)
    return found


def _whole_lines(text: str) -> list[str]:
    """Return the lines, those that end in a backslash put together."""
    return text.replace("\\\n", " ").splitlines()


def _command(place: str, line: str, output: str) -> Command | None:
    words = tuple(shlex.split(line, comments=True))
    if words[:1] != ("converter-match",):
        return None
    status = _STATUS.search(line)
    lines = tuple(" ".join(text.split()) for text in output.splitlines())
    return Command(
        f"{place}: {' '.join(line.split())}",
        words[1:],
        int(status[1]) if status else 0,
        tuple(text for text in lines if text not in ("", "...")),
    )
