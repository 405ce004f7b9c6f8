"""A log as text: its marks, its times, its long form, and the cell that is not a number."""

from __future__ import annotations

import csv
import re
import warnings
from collections.abc import Callable, Iterator, Mapping
from typing import IO, TYPE_CHECKING, Any

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.delimited import delimiter_of
from converter_match.library.files import ordinary
from converter_match.library.log_columns import EPOCH, ISO, own_name, split_heading
from converter_match.library.log_signals import aligned
from converter_match.units import to_si

if TYPE_CHECKING:
    from pandas import DataFrame

SIZE_LIMIT = 2_000_000_000  # months of shifts at ten rows a second
LONGEST_HEAD = 10_000
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
        if source.casefold().endswith(".gz"):
            import gzip

            return gzip.open(source, "rt", encoding="utf-8-sig", errors="replace", newline="")
        return open(source, encoding="utf-8-sig", errors="replace", newline="")
    except OSError as error:
        raise InputError(f"cannot be opened: {error.strerror}", source=source) from None


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


def long_signals(source: str) -> tuple[dict[str, str], Reader]:
    """Return the signals of a table in the long form with their units, and what reads them.

    Parameters
    ----------
    source : str

    Raises
    ------
    InputError
        Naming line and column of a cell that is no time or no number.
    """
    import pandas as pd

    with opened(source) as file:
        head = file.readline(LONGEST_HEAD)
    delimiter, decimal = delimiter_of(head), marks_of(source, 1)[1]
    cells = [split_heading(cell) for cell in next(csv.reader([head], delimiter=delimiter))]
    names = [own_name(cell.name) for cell in cells]
    frame = pd.read_csv(
        source, header=None, names=names, sep=delimiter, skiprows=1, dtype=str,
        encoding="utf-8-sig", keep_default_na=False,
    )  # fmt: skip
    unit = cells[names.index("time")].unit
    first = str(frame["time"].iloc[0]) if len(frame) else ""
    texts = {name: frame[name].str.replace(decimal, ".") for name in ("time", "value")}
    numbers = {
        "time": times_of(texts["time"], unit or (ISO if _DATE.match(first) else "s")),
        "value": np.asarray(pd.to_numeric(texts["value"], errors="coerce"), dtype=np.float64),
    }
    for name, values in numbers.items():
        bad = np.flatnonzero(~np.isfinite(values))
        if bad.size:
            raise InputError(
                "not a number" if name == "value" else "not a time",
                source=source,
                field=f"line {int(bad[0]) + 2}, {name}",
                found=str(frame[name].iloc[int(bad[0])]),
                expected="a number" if name == "value" else "a time in one form throughout",
            )
    units = {}
    if "unit" in names:
        units = dict(zip(frame["signal"], frame["unit"], strict=True))
    groups = frame.groupby("signal", sort=False).indices
    time, value = numbers["time"], numbers["value"]

    def read(chosen: Mapping[str, str], rows: int) -> Iterator[dict[str, FloatArray]]:
        parts = {role: (time[groups[name]], value[groups[name]]) for role, name in chosen.items()}
        yield from aligned(parts, rows)

    return {str(name): str(units.get(name, "")) for name in groups}, read


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
