"""Text becomes a grid: CSV, TSV, columns divided by bars or spaces, in the usual encodings."""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import replace

from converter_match.errors import InputError
from converter_match.library.files import FilePath, read_bytes
from converter_match.library.intake.grid import MOST_ROWS, Grid, make_grid
from converter_match.library.intake.html_table import html_rows, looks_like_html
from converter_match.library.intake.numerals import Style, is_nothing, parse
from converter_match.library.intake.problem import Problem, note, question

_POINT, _COMMA = Style(".", True, ""), Style(",", True, "")
_BOMS = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8 with byte-order mark"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)
_WORDS = re.compile(r"[^ \t]+(?: [^ \t]+)*")  # a no-break space belongs to its word
_PADDING = re.compile(r"[ \u00a0]{2,}")
_EMPHASIS = re.compile(r"^(\*\*|__|`|\*(?=[^*]))(.+?)\1$")
_RULE = re.compile(r"[\s|:+=_-]*[-=_]{2,}[\s|:+=_-]*")


def read_text_table(path: FilePath, encoding: str | None = None) -> Grid:
    """Return the table in a text file.

    Parameters
    ----------
    path : str or path-like
        CSV, TSV, HTML, Markdown, or text copied from a document.
    encoding : str, optional
        Of the text; without it UTF-8, UTF-16 and Windows-1252 are told apart.

    Returns
    -------
    Grid

    Raises
    ------
    InputError
        If the file cannot be read, is too large, is not text or holds no table.
    """
    source = str(path)
    text, notes = decoded(read_bytes(path, what="a table in text form"), source, encoding)
    return text_grid(text, source, notes)


def text_grid(text: str, source: str, notes: Iterable[Problem] = ()) -> Grid:
    """Return the table in a text, such as the clipboard's.

    Parameters
    ----------
    text : str
    source : str
        What to call it in messages.
    notes : iterable of Problem
        What was noticed in decoding.

    Raises
    ------
    InputError
        If it holds control characters, too much, or no table.
    """
    odd = next((s for s in text if unicodedata.category(s) == "Cc" and s not in "\t\n\r\f"), None)
    if odd is not None:
        raise InputError(
            "is binary, not text",
            source=source,
            found=f"the control character {odd!r} at position {text.index(odd)}",
            expected="a table in text form, or XLSX",
        )
    if looks_like_html(text):
        page = html_rows(text, source)
        notes = [*notes, note("html-table")]
        notes += [question("html-hides", key="html-hides")] if page.hides else []
        return replace(
            make_grid(source, page.rows, notes),
            hidden_rows=page.hidden_rows,
            hidden_columns=page.hidden_columns,
            struck=page.struck,
        )
    lines = text.replace("\r\n", "\n").replace("\r", "\n").replace("\f", "\n")
    if lines.count("\n") > 4 * MOST_ROWS:
        raise InputError(
            "is too large a table",
            source=source,
            found=f"{lines.count(chr(10)) + 1} lines",
            expected=f"at most {MOST_ROWS} rows",
        )
    name, rows = _divided(lines, source)
    grid = make_grid(source, rows, [*notes, note("delimiter", by=name)])
    # Where commas divide the columns and no cell holds one, a point can only be the decimal mark.
    bare = name == "commas" and not any("," in cell for row in rows for cell in row)
    return replace(grid, decimal_point=bare)


def decoded(raw: bytes, source: str, encoding: str | None = None) -> tuple[str, list[Problem]]:
    """Return bytes as text, with a note where they are not plain UTF-8.

    Parameters
    ----------
    raw : bytes
    source : str
    encoding : str, optional
        As the user says; guessed without it.

    Raises
    ------
    InputError
        If they are empty or no text, or not of the encoding.
    """
    if encoding is not None:
        try:
            return raw.decode(encoding), [note("encoding", name=f"{encoding}, as you said")]
        except LookupError:
            raise InputError(
                "no such encoding", source=source, field="--encoding", found=encoding,
                expected="such as utf-8, cp1252, cp1250, cp1251, latin-1, utf-16, shift_jis",
            ) from None  # fmt: skip
        except UnicodeDecodeError as wrong:
            raise InputError(
                f"is not {encoding} text",
                source=source,
                field=f"line {1 + raw[: wrong.start].count(10)}",
                found=f"byte 0x{raw[wrong.start]:02x}",
            ) from None
    if not raw.strip(b" \t\r\n\0"):
        raise InputError("is empty", source=source, expected="a table")
    for mark, encoding, name in _BOMS:
        if raw.startswith(mark):
            try:
                return raw.decode(encoding), [note("encoding", name=name)]
            except UnicodeDecodeError:
                raise InputError(f"begins like {name} but is not", source=source) from None
    for name, zeros in (("utf-16-le", raw[1:2000:2]), ("utf-16-be", raw[:2000:2])):
        if zeros and zeros.count(0) > 0.6 * len(zeros):  # Latin letters in pairs of bytes
            try:
                return raw.decode(name), [note("encoding", sentence="encoding-by-zeros", name=name)]
            except UnicodeDecodeError:
                break
    if b"\0" in raw:
        raise InputError(
            "is binary, not text",
            source=source,
            found=f"a zero byte at position {raw.index(0)}",
            expected="a table in text form, or XLSX",
        )
    try:
        return raw.decode("utf-8"), []
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        try:
            text = raw.decode("cp1252")
        except UnicodeDecodeError:
            raise InputError(
                "is neither UTF-8 nor Windows-1252 text",
                source=source,
                field=f"line {line}",
                found=f"byte 0x{raw[error.start]:02x}",
                hint="save as UTF-8",
            ) from None
        return text, [note("encoding", sentence="encoding-guessed", line=line)]


def _divided(text: str, source: str) -> tuple[str, list[list[str]]]:
    """Return the rows, divided in the way that makes the most whole numbers of them."""
    best: tuple[float, str, list[list[str]]] | None = None
    for name, divide in _WAYS:
        try:
            rows = divide(text)
        except csv.Error as error:
            raise InputError(f"cannot be divided into cells: {error}", source=source) from None
        score = sum(_share_of_numbers(row) for row in rows)
        if best is None or score > best[0] * 1.05 + 1e-9:
            best = (score, name, rows)
    assert best is not None
    return best[1], best[2]


def _share_of_numbers(row: list[str]) -> float:
    filled = [cell for cell in row if not is_nothing(cell)]
    numbers = sum(1 for cell in filled if parse(cell, _POINT) or parse(cell, _COMMA))
    return (numbers / len(filled)) ** 2 if numbers >= 2 else 0.0


def _by_sign(sign: str) -> Callable[[str], list[list[str]]]:
    def divide(text: str) -> list[list[str]]:
        lines = text.splitlines(keepends=True)
        rows = [row for row in csv.reader(lines, delimiter=sign, skipinitialspace=True)]
        return [_without_frame(row) if sign == "|" else row for row in rows]

    return divide


def _without_frame(row: list[str]) -> list[str]:
    if all(_RULE.fullmatch(cell) or not cell.strip() for cell in row) and row:
        return []
    row = row[1:] if row and not row[0].strip() else row
    row = row[:-1] if row and not row[-1].strip() else row
    # Markdown sets words apart by signs that belong to no number and no unit.
    return [_EMPHASIS.sub(r"\2", cell.strip()) for cell in row]


def _by_pattern(pattern: str) -> Callable[[str], list[list[str]]]:
    def divide(text: str) -> list[list[str]]:
        return [
            [] if _RULE.fullmatch(line) else re.split(pattern, line.strip())
            for line in text.splitlines()
        ]

    return divide


def _by_place(text: str) -> list[list[str]]:
    """Divide where two or more spaces stand, and put each word under the column it stands over.

    Text copied from a document keeps its columns by place only: a merged heading has nothing to its
    left but spaces.
    """
    lines = [
        _PADDING.sub(lambda found: " " * len(found[0]), line.expandtabs())
        for line in text.splitlines()
    ]
    words = [
        [] if _RULE.fullmatch(line) else [(m.start(), m.end(), m[0]) for m in _WORDS.finditer(line)]
        for line in lines
    ]
    full = [row for row in words if _share_of_numbers([cell for _, _, cell in row])]
    if not full:
        return [[cell for _, _, cell in row] for row in words]
    counts = [len(row) for row in full]
    width = max(set(counts), key=counts.count)
    spans = [
        (min(row[n][0] for row in full if len(row) == width),
         max(row[n][1] for row in full if len(row) == width))
        for n in range(width)
    ]  # fmt: skip
    divided: list[list[str]] = []
    for row in words:
        if len(row) >= width:
            divided.append([cell for _, _, cell in row])
            continue
        cells = [""] * width
        for start, end, cell in row:
            place = _column_under(start, end, spans)
            cells[place] = f"{cells[place]} {cell}".strip()
        divided.append(cells)
    return divided


def _column_under(start: int, end: int, spans: list[tuple[int, int]]) -> int:
    """Return the first column that a word stands over by a quarter; else the nearest."""
    for place, (left, right) in enumerate(spans):
        if min(end, right) - max(start, left) >= 0.25 * (right - left):
            return place
    middle = 0.5 * (start + end)
    gaps = [abs(middle - 0.5 * (left + right)) for left, right in spans]
    return gaps.index(min(gaps))


_WAYS: tuple[tuple[str, Callable[[str], list[list[str]]]], ...] = (
    ("tabs", _by_sign("\t")),
    ("semicolons", _by_sign(";")),
    ("bars", _by_sign("|")),
    ("commas", _by_sign(",")),
    ("two or more spaces", _by_place),
    ("spaces", _by_pattern(r"[ \t]+")),
)
