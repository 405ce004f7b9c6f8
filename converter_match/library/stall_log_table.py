"""The table of a log of stall tests, as it was written or as a spreadsheet has saved it since.

Columns are told by their headings, wherever they stand; columns of somebody's own are carried
along. One row that cannot be used is set aside and named, and the others are read: a typo in one
row keeps nobody from the rest.
"""

from __future__ import annotations

import csv
import io
import math
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from converter_match.components.base import require_choice
from converter_match.components.reading import BRAKES, TESTS
from converter_match.errors import InputError
from converter_match.library.delimited import MARK, with_point

COLUMNS = (
    "time",
    "machine",
    "engine",
    "converter",
    "test",
    "gear",
    "brakes",
    "engine_speed_rpm",
    "oil_temperature_degc",
    "expected_low_rpm",
    "expected_high_rpm",
    "coverage",
    "place",
    "finding",
    "share",
)
_MAY_BE_EMPTY = (
    "gear",
    "oil_temperature_degc",
    "expected_low_rpm",
    "expected_high_rpm",
    "finding",
    "share",
)
_SHARES = ("coverage", "share")
_DELIMITERS = (",", ";", "\t")
LONGEST_NAME = 80
# Control characters of both sets, ends of lines and paragraphs.
_NOT_IN_A_NAME = ("Cc", "Zl", "Zp")
# A test dated beyond was typed wrong: it would be the last of its machine for ever.
_YEARS = (1950, 2099)
_SPEEDS = (200.0, 8000.0)  # rpm, of any engine here
_DAY_AND_MONTH = re.compile(
    r"(?P<a>\d{1,2})(?P<sign>[./-])(?P<b>\d{1,2})(?P=sign)(?P<year>\d{4})"
    r"(?:[ ,T]+(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2}))?"
    r"\s*(?P<half>[ap]\.?m\.?)?)?",
    re.IGNORECASE,
)
Order = Literal["day", "month", ""]


def tidy_name(text: str) -> str:
    r"""Return a name as a table can hold it: no control characters, no more letters than a line.

    Parameters
    ----------
    text : str

    Examples
    --------
    >>> tidy_name("loader\x85 4")
    'loader 4'
    """
    plain = "".join(" " if unicodedata.category(c) in _NOT_IN_A_NAME else c for c in text)
    if plain != text:
        plain = " ".join(plain.split())
    return plain if len(plain) <= LONGEST_NAME else plain[: LONGEST_NAME - 1].rstrip() + "…"


@dataclass(frozen=True, kw_only=True)
class LogRow:
    """One reading as it stands in the log.

    Parameters
    ----------
    time : datetime
        With its time zone.
    machine, engine, converter : str
        Names or ids.
    test, gear, brakes, place : str
    engine_speed_rpm : float
    expected_low_rpm, expected_high_rpm : float or None
        None where a healthy machine cannot accelerate from idle in that test.
    coverage : float
    oil_temperature_degc, share : float, optional
    finding : str
        Code of the most likely finding of the whole test.

    Raises
    ------
    InputError
        Naming the field.
    """

    time: datetime
    machine: str
    engine: str
    converter: str
    test: str
    gear: str
    brakes: str
    engine_speed_rpm: float
    oil_temperature_degc: float | None
    expected_low_rpm: float | None
    expected_high_rpm: float | None
    coverage: float
    place: str
    finding: str
    share: float | None

    def __post_init__(self) -> None:
        if self.time.tzinfo is None:
            raise InputError("a time without its zone", field="time", found=self.time.isoformat())
        for name in ("machine", "engine", "converter", "gear", "finding"):
            text = getattr(self, name)
            if tidy_name(text) != text or text[:1] in tuple("=+-@"):
                raise InputError(
                    "not a name for a table: a spreadsheet would take it for something else",
                    field=name,
                    found=tidy_name(text),
                    expected=f"one line of at most {LONGEST_NAME} letters that does not begin "
                    "with = + - @",
                )
        if not _YEARS[0] <= self.time.year <= _YEARS[1]:
            raise InputError(
                "not the year of a stall test", field="time", found=self.time.isoformat(),
                expected=f"{_YEARS[0]} to {_YEARS[1]}",
            )  # fmt: skip
        if not self.machine.strip():
            raise InputError("the machine needs a name", field="machine", found=self.machine)
        require_choice(self.test, "test", TESTS)
        require_choice(self.brakes, "brakes", BRAKES)
        for name in ("engine_speed_rpm", "expected_low_rpm", "expected_high_rpm"):
            speed = getattr(self, name)
            if speed is not None and not _SPEEDS[0] <= speed <= _SPEEDS[1]:
                raise InputError(
                    "no engine of this kind runs at that speed",
                    field=name,
                    found=f"{speed:.7g}",
                    expected=f"{_SPEEDS[0]:.0f} to {_SPEEDS[1]:.0f} rpm",
                    hint="a point or a comma for thousands?" if speed < _SPEEDS[0] else None,
                )
        for name in _SHARES:
            share = getattr(self, name)
            if share is not None and not 0.0 <= share <= 1.0:
                raise InputError("not a share", field=name, found=f"{share:.7g}", expected="0 to 1")


@dataclass(frozen=True, eq=False)
class StallLog:
    """A log of stall tests as it was found.

    Parameters
    ----------
    rows : tuple of LogRow
        Rows that can be used, in the order of their times.
    lines : tuple of int
        The line of the file on which each of them ends.
    set_aside : tuple of InputError
        One for each row that cannot be used: file, line, column, what was expected.
    head : tuple of str
        Headings as they stand in the file, columns of somebody's own among them.
    delimiter, decimal, newline : str
        How the file separates its cells, writes its decimals and ends its lines.
    """

    rows: tuple[LogRow, ...]
    lines: tuple[int, ...]
    set_aside: tuple[InputError, ...]
    head: tuple[str, ...]
    delimiter: str = ","
    decimal: str = "."
    newline: str = "\n"

    def written(self, rows: Iterable[LogRow]) -> str:
        """Return rows as lines of this file: each cell under its heading, others left empty.

        Parameters
        ----------
        rows : iterable of LogRow
        """
        text = io.StringIO(newline="")
        writer = csv.writer(text, delimiter=self.delimiter, lineterminator=self.newline)
        names = [_plain(cell) for cell in self.head]
        for row in rows:
            writer.writerow(
                [_cell(getattr(row, name), self.decimal) if name in COLUMNS else ""
                 for name in names]
            )  # fmt: skip
        return text.getvalue()


NEW_LOG = StallLog((), (), (), COLUMNS)
"""A log that is still to be begun."""


def _plain(heading: str) -> str:
    return heading.strip().casefold()


def _cell(value: object, decimal: str) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    return f"{value:.7g}".replace(".", decimal) if isinstance(value, float) else str(value)


def parse_log(raw: bytes, source: str) -> StallLog:
    """Return the log that a file holds.

    Parameters
    ----------
    raw : bytes
    source : str
        Named in messages.

    Raises
    ------
    InputError
        If it is no such log at all: empty, not text, headings that are missing or stand there
        twice.

    Notes
    -----
    Read are a byte-order mark, cells quoted or not, commas, semicolons or tabs between them, a
    decimal comma where the comma is not the delimiter, rows of empty cells, empty cells left out at
    the end of a row, per cent signs, times in ISO 8601 (without a zone: UTC), and dates with the
    day first or the month first where the column tells which.
    """
    text = _text(raw, source)
    first = text.partition("\n")[0]
    delimiter = max(_DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        head = tuple(next(reader, ()))
        _check_head(head, source)
        cells = [(reader.line_num, row) for row in reader]
    except csv.Error as error:
        raise InputError(f"is not a table: {error}", source=source) from None
    names = [_plain(cell) for cell in head]
    filled = [(line, row) for line, row in cells if any(cell.strip() for cell in row)]
    at = names.index("time")
    order = _order([row[at] for _, row in filled if len(row) > at])
    rows: list[tuple[LogRow, int]] = []
    aside: list[InputError] = []
    for line, row in filled:
        try:
            where = f"line {line}"
            rows.append((_row(_named(names, row, where), where, delimiter, order), line))
        except InputError as error:
            aside.append(error.located(source=source))
    rows.sort(key=lambda pair: pair[0].time)
    commas = [
        cell
        for _, row in filled
        for name, cell in zip(names, row, strict=False)
        if name.endswith(("_rpm", "_degc", *_SHARES)) and "," in cell
    ]
    return StallLog(
        tuple(row for row, _ in rows),
        tuple(line for _, line in rows),
        tuple(aside),
        head,
        delimiter,
        "," if commas and delimiter != "," else ".",
        "\r\n" if "\r\n" in text else "\n",
    )


def _text(raw: bytes, source: str) -> str:
    try:
        return raw.decode("utf-8").removeprefix(MARK)
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            "is not UTF-8 text; nothing was added",
            source=source,
            field=f"line {line}",
            expected="a table saved as CSV in UTF-8",
        ) from None


def _check_head(head: Sequence[str], source: str) -> None:
    if not any(cell.strip() for cell in head):
        raise InputError(
            "is empty; nothing was added",
            source=source,
            expected=f"a head: {','.join(COLUMNS)}",
            hint="remove the file, or name a new one: a log is begun where there is none",
        )
    names = [_plain(cell) for cell in head]
    missing = [name for name in COLUMNS if name not in names]
    if missing:
        raise InputError(
            "not a log of stall tests: columns are missing",
            source=source,
            field="line 1",
            found=", ".join(head),
            expected=", ".join(missing),
        )
    twice = [name for name in COLUMNS if names.count(name) > 1]
    if twice:
        raise InputError(
            "a heading stands there twice", source=source, field="line 1", found=", ".join(twice),
            expected="each heading once",
        )  # fmt: skip


def _named(names: Sequence[str], row: Sequence[str], where: str) -> dict[str, str]:
    """Return the cells of a row by heading; a spreadsheet leaves empty ones at its end out."""
    kept = list(row)
    while len(kept) > len(names) and not kept[-1].strip():
        kept.pop()
    if len(kept) > len(names):
        raise InputError(
            "another number of cells than the head has",
            field=where, found=len(kept), expected=str(len(names)),
            hint="a comma inside a cell that is not quoted?",
        )  # fmt: skip
    kept += [""] * (len(names) - len(kept))
    return {name: cell.strip() for name, cell in zip(names, kept, strict=True)}


def _row(cells: dict[str, str], where: str, delimiter: str, order: Order) -> LogRow:
    for name in COLUMNS:
        if not cells[name] and name not in _MAY_BE_EMPTY:
            raise InputError("empty", field=f"{where}, {name}", expected="a value")

    def number(name: str) -> float:
        return _number(with_point(cells[name], delimiter), f"{where}, {name}", name in _SHARES)

    def number_if_known(name: str) -> float | None:
        return number(name) if cells[name] else None

    try:
        return LogRow(
            time=parse_time(cells["time"], field=f"{where}, time", order=order),
            machine=cells["machine"],
            engine=cells["engine"],
            converter=cells["converter"],
            test=cells["test"],
            gear=cells["gear"],
            brakes=cells["brakes"],
            engine_speed_rpm=number("engine_speed_rpm"),
            oil_temperature_degc=number_if_known("oil_temperature_degc"),
            expected_low_rpm=number_if_known("expected_low_rpm"),
            expected_high_rpm=number_if_known("expected_high_rpm"),
            coverage=number("coverage"),
            place=cells["place"],
            finding=cells["finding"],
            share=number_if_known("share"),
        )
    except InputError as error:
        inside = error.field is not None and not error.field.startswith("line ")
        raise (error.changed(field=f"{where}, {error.field}") if inside else error) from None


def _number(text: str, field: str, share: bool) -> float:
    percent = share and text.endswith("%")
    try:
        value = float(text.removesuffix("%")) / 100.0 if percent else float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError("not a number", field=field, found=text, expected="such as 1750 or 1750.5")
    return value


def _order(times: Iterable[str]) -> Order:
    """Return which comes first in a column of dates with slashes or hyphens, if any row tells."""
    found = [match for text in times if (match := _DAY_AND_MONTH.fullmatch(text.strip()))]
    slashed = [match for match in found if match["sign"] != "."]
    day = any(int(match["a"]) > 12 for match in slashed)
    month = any(int(match["b"]) > 12 for match in slashed)
    if day == month:
        return ""
    return "day" if day else "month"


def parse_time(text: str, *, source: str | None = None, field: str, order: Order = "") -> datetime:
    """Return a time; without a zone it is taken as UTC.

    Parameters
    ----------
    text : str
        ISO 8601, or day, month and year as spreadsheets write them: with points the day is first.
    source, field : str
        For messages.
    order : {"day", "month", ""}
        Which comes first where slashes or hyphens stand between, as far as it is known.

    Raises
    ------
    InputError
        If it is no time, or day and month cannot be told apart.

    Examples
    --------
    >>> parse_time("04.05.2031 13:30", field="time").isoformat()
    '2031-05-04T13:30:00+00:00'
    >>> parse_time("5/17/2031 1:30 PM", field="time").isoformat()
    '2031-05-17T13:30:00+00:00'
    """
    try:
        time = datetime.fromisoformat(text)
    except ValueError:
        try:
            time = _written_out(text, order)
        except ValueError as error:
            raise InputError(
                str(error) if str(error) == _AMBIGUOUS else "not a time",
                source=source,
                field=field,
                found=text,
                expected="ISO 8601, such as 2031-05-04T13:30:00+00:00",
            ) from None
    return time if time.tzinfo else time.replace(tzinfo=UTC)


_AMBIGUOUS = "day and month cannot be told apart"


def _written_out(text: str, order: Order) -> datetime:
    match = _DAY_AND_MONTH.fullmatch(text.strip())
    if match is None:
        raise ValueError(text)
    a, b, year = (int(match[key]) for key in ("a", "b", "year"))
    if match["sign"] == ".":
        order = "day"
    elif a > 12 or b > 12 or a == b:
        order = "day" if a > 12 else "month"
    if not order:
        raise ValueError(_AMBIGUOUS)
    day, month = (a, b) if order == "day" else (b, a)
    hour = int(match["hour"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            raise ValueError(text)
        hour = hour % 12 + (12 if match["half"][0].casefold() == "p" else 0)
    return datetime(year, month, day, hour, int(match["minute"] or 0), int(match["second"] or 0))
