"""A log as text: its marks, its times, its long form, and the cell that is not a number."""

from __future__ import annotations

import codecs
import csv
import re
import warnings
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Any

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.delimited import delimiter_of
from converter_match.library.files import ordinary
from converter_match.library.log_aligned import Timed, aligned, aligned_as_they_come
from converter_match.library.log_columns import EPOCH, ISO, own_name, split_heading
from converter_match.library.log_words import EXPECTED, is_word
from converter_match.units import to_si

if TYPE_CHECKING:
    from pandas import DataFrame

SIZE_LIMIT = 2_000_000_000  # months of shifts at ten rows a second
LONGEST_HEAD = 10_000
# Of the long form: rows read at a time, and values that are held where they have to be sorted.
_ROWS_AT_ONCE, _MOST_HELD = 200_000, 20_000_000
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d")
Reader = Callable[[Mapping[str, str], int], Iterator[dict[str, FloatArray]]]


def opened(source: str) -> IO[str]:
    """Return a log as text, unpacked where it is packed.

    Parameters
    ----------
    source : str

    Raises
    ------
    InputError
        If it is no ordinary file of modest size, or cannot be opened.
    """
    ordinary(source, SIZE_LIMIT, "a log")
    try:
        encoding = encoding_of(source)
        if _is_packed(source):
            import gzip

            return gzip.open(source, "rt", encoding=encoding, errors="replace", newline="")
        return open(source, encoding=encoding, errors="replace", newline="")
    except OSError as error:
        raise InputError(f"cannot be opened: {error.strerror}", source=source) from None


def _is_packed(source: str) -> bool:
    return source.casefold().endswith(".gz")


def encoding_of(source: str) -> str:
    """Return how the letters of a log are written: by its byte-order mark, else UTF-8.

    Parameters
    ----------
    source : str
    """
    import gzip

    with gzip.open(source) if _is_packed(source) else open(source, "rb") as file:
        begin = file.read(2)
    return "utf-16" if begin in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE) else "utf-8-sig"


def marks_of(source: str, head: int) -> tuple[str, str]:
    """Return delimiter and decimal mark, from the head and the first number with decimals.

    Parameters
    ----------
    source : str
    head : int
        Line of the head, from 1.
    """
    with opened(source) as file:
        delimiter = ","
        for number, line in enumerate(file, start=1):
            if number == head:
                delimiter = delimiter_of(line)
            if number >= head and delimiter == ",":
                break
            if number > head and ("," in line or "." in line):
                return delimiter, "," if "," in line else "."
    return delimiter, "."


def begins_iso(source: str, head: int, place: int) -> bool:
    """Return whether the first cell of a column is a date.

    Parameters
    ----------
    source : str
    head, place : int
        Line of the head, from 1; place of the column, from 0.
    """
    with opened(source) as file:
        for number, line in enumerate(file, start=1):
            if number > head and line.strip() and not line.startswith("#"):
                cells = next(csv.reader([line], delimiter=delimiter_of(line)), [])
                return len(cells) > place and bool(_DATE.match(cells[place].strip()))
    return False


def times_of(cells: Any, unit: str) -> FloatArray:
    """Return times as texts in seconds; NaN where one is none.

    Parameters
    ----------
    cells : Series of str
    unit : str
        Of time, one of `EPOCH`, or `ISO`.
    """
    import pandas as pd

    if unit != ISO:
        plain = np.asarray(pd.to_numeric(cells, errors="coerce"), dtype=np.float64)
        return np.asarray(plain * EPOCH[unit] if unit in EPOCH else to_si(plain, unit, "time"))
    stamps = pd.to_datetime(cells, utc=True, format="ISO8601", errors="coerce")
    seconds = (stamps - pd.Timestamp(0, tz="UTC")).dt.total_seconds()
    return np.asarray(seconds, dtype=np.float64)


def is_long(source: str) -> bool:
    """Return whether it is a table of signal, time and value, a row for each value.

    Parameters
    ----------
    source : str
    """
    with opened(source) as file:
        head = file.readline(LONGEST_HEAD)
    names = {own_name(split_heading(cell).name) for cell in head.split(delimiter_of(head))}
    return names in ({"signal", "time", "value"}, {"signal", "time", "value", "unit"})


@dataclass(frozen=True)
class LongForm:
    """A table of signal, time and value: how it is written.

    Parameters
    ----------
    source : str
    names : tuple of str
        Of its columns.
    time_unit : str
        One of `EPOCH`, `ISO`, or a unit of time.
    delimiter, decimal : str
    """

    source: str
    names: tuple[str, ...]
    time_unit: str
    delimiter: str
    decimal: str

    def frames(self) -> Iterator[DataFrame]:
        """Yield rows in pieces: ``signal``, ``time`` [s], ``value``, and ``unit`` if it is there.

        Raises
        ------
        InputError
            Naming line and column of a cell that is no time or no number.
        """
        import pandas as pd

        before = 1
        with pd.read_csv(
            self.source, header=None, names=list(self.names), sep=self.delimiter, skiprows=1,
            dtype=str, encoding=encoding_of(self.source), keep_default_na=False,
            chunksize=_ROWS_AT_ONCE,
        ) as reader:  # fmt: skip
            for frame in reader:
                texts = {
                    name: frame[name].str.replace(self.decimal, ".") for name in ("time", "value")
                }
                numbers = {
                    "time": times_of(texts["time"], self.time_unit),
                    "value": np.asarray(pd.to_numeric(texts["value"], errors="coerce"), float),
                }
                for name, values in numbers.items():
                    bad = np.flatnonzero(~np.isfinite(values))
                    if bad.size:
                        raise InputError(
                            "not a number" if name == "value" else "not a time",
                            source=self.source,
                            field=f"line {before + int(bad[0]) + 1}, {name}",
                            found=str(frame[name].iloc[int(bad[0])]),
                            expected="a number (in the long form gears and lock-up as well)"
                            if name == "value"
                            else "a time in one form throughout",
                        )
                before += len(frame)
                yield frame.assign(**numbers)

    def pieces(self, chosen: Mapping[str, str]) -> Iterator[dict[str, Timed]]:
        """Yield times [s] and values of the chosen signals (what they are for us -> name)."""
        for frame in self.frames():
            rows = frame.groupby("signal", sort=False).indices
            time, value = (frame[name].to_numpy() for name in ("time", "value"))
            yield {
                role: (time[rows[name]], value[rows[name]])
                for role, name in chosen.items()
                if name in rows
            }


def _long_form(source: str) -> LongForm:
    with opened(source) as file:
        head, first = file.readline(LONGEST_HEAD), file.readline(LONGEST_HEAD)
    delimiter = delimiter_of(head)
    cells = [split_heading(cell) for cell in next(csv.reader([head], delimiter=delimiter))]
    names = tuple(own_name(cell.name) for cell in cells)
    at = names.index("time")
    row = next(csv.reader([first], delimiter=delimiter), [])
    iso = len(row) > at and bool(_DATE.match(row[at]))
    unit = cells[at].unit or (ISO if iso else "s")
    return LongForm(source, names, unit, delimiter, marks_of(source, 1)[1])


def long_signals(source: str) -> tuple[dict[str, str], Reader]:
    """Return the signals of a table in the long form with their units, and what reads them.

    Parameters
    ----------
    source : str

    Raises
    ------
    InputError
        Naming line and column of a cell that is no time or no number; from the reader, if the rows
        are not in the order of their times and more than can be held and sorted.

    Notes
    -----
    Read twice: for what is in it, and for the values. Rows in the order of their times pass through
    in pieces.
    """
    table = _long_form(source)
    units: dict[str, str] = {}
    count: dict[str, int] = {}
    ordered, last = True, -np.inf
    for frame in table.frames():
        time = frame["time"].to_numpy()
        ordered &= bool(time[0] >= last and np.all(np.diff(time) >= 0))
        last = float(time[-1])
        for name, rows in frame.groupby("signal", sort=False).indices.items():
            key = str(name)
            count[key] = count.get(key, 0) + len(rows)
            units.setdefault(key, str(frame["unit"].iloc[rows[0]]) if "unit" in frame else "")

    def read(chosen: Mapping[str, str], rows: int) -> Iterator[dict[str, FloatArray]]:
        if ordered:
            yield from aligned_as_they_come(table.pieces(chosen), chosen)
            return
        held = sum(count[name] for name in chosen.values())
        if held > _MOST_HELD:
            raise InputError(
                "the rows are not in the order of their times, and too many to be sorted here",
                source=source, field="time", found=f"{held} values",
                expected=f"times that rise, or at most {_MOST_HELD} values of the signals used",
                hint="sort the file by its time column first",
            )  # fmt: skip
        parts: dict[str, list[Timed]] = {role: [] for role in chosen}
        for piece in table.pieces(chosen):
            for role, timed in piece.items():
                parts[role].append(timed)
        yield from aligned({role: iter([_sorted(part)]) for role, part in parts.items()}, rows)

    return units, read


def _sorted(parts: list[Timed]) -> Timed:
    time, value = (np.concatenate([part[k] for part in parts]) for k in (0, 1))
    order = np.argsort(time, kind="stable")
    return time[order], value[order]


def bad_cell(source: str, names: tuple[str, ...], before: int, error: Exception) -> InputError:
    """Return what is wrong with a table, the cell that is not a number found by a slower look.

    Parameters
    ----------
    source : str
    names : tuple of str
        Of the columns.
    before : int
        Lines up to the head.
    error : Exception
        What the parser said.
    """
    delimiter, decimal = marks_of(source, before)
    with opened(source) as file:
        for number, line in enumerate(file, start=1):
            if number <= before or not line.strip() or line.lstrip().startswith("#"):
                continue
            cells = line.rstrip("\r\n").split(delimiter)
            if len(cells) > len(names):
                return InputError(
                    "another number of cells than the head has",
                    source=source,
                    field=f"line {number}",
                    found=f"{len(cells)} cells",
                    expected=str(len(names)),
                    hint="decimal commas? write 1.5",
                )
            for name, cell in zip(names, cells, strict=False):
                if name in EXPECTED:
                    cell = cell.strip().strip('"')
                    if not is_word(name, cell):
                        return InputError(
                            f"not a {name}" if name == "gear" else "no state of a lock-up clutch",
                            source=source,
                            field=f"line {number}, {name}",
                            found=cell,
                            expected=EXPECTED[name],
                        )
                    continue
                try:
                    float(cell.replace(decimal, ".") or "nan")
                except ValueError:
                    return InputError(
                        "not a number",
                        source=source,
                        field=f"line {number}, {name}",
                        found=cell,
                        expected="a number, or nothing where none was recorded",
                    )
    return InputError(f"is not a table of numbers: {error}", source=source)


def strictly(frames: Iterator[DataFrame]) -> Iterator[DataFrame]:
    """Yield frames; what the parser would only warn of, cells that it loses, is an error.

    Parameters
    ----------
    frames : iterator of DataFrame
    """
    import pandas as pd

    while True:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            frame = next(frames, None)
        if frame is None:
            return
        yield frame
