"""A machine's own log, read in pieces: time, speeds, torque; units in the head, any length.

Only the piece being read is in memory. What the head says is checked against what the numbers can
be, so that a column in another unit, or two that changed places, is named and not believed.
"""

from __future__ import annotations

import csv
import math
import os
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import IO, TYPE_CHECKING

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.library.delimited import delimiter_of
from converter_match.library.files import FilePath, ordinary
from converter_match.library.log_sense import LogSense
from converter_match.library.recognise import other_kind_hint
from converter_match.units import dimensions_of, to_si

if TYPE_CHECKING:
    from pandas import DataFrame

# Name -> dimension. A torque may also be a share of a reference torque.
COLUMNS: Mapping[str, str] = {
    "time": "time",
    "engine speed": "angular_speed",
    "turbine speed": "angular_speed",
    "engine torque": "torque",
    "turbine torque": "torque",
    "oil temperature": "temperature",
    "grade": "weight_share",
    "friction torque": "torque",
    "pump torque": "torque",
    "gear": "ratio",
    "lock-up": "ratio",
}
# Numbers of a gear (0 neutral, below zero reverse), and 0 or 1: they have no unit.
_BARE = ("gear", "lock-up")
REQUIRED = ("time", "engine speed", "turbine speed", "engine torque")
SIZE_LIMIT = 2_000_000_000  # months of shifts at ten rows a second
_PIECE = 200_000
_LONGEST_HEAD = 10_000
# A step in time longer than this many usual ones, and than this, is a gap [s].
_GAP_STEPS, _GAP = 10.0, 2.0


@dataclass(frozen=True, eq=False)
class LogPiece:
    """Rows that follow one another, SI units; rows without a number are left out.

    Parameters
    ----------
    columns : dict
        Name -> ndarray, shape (n,).
    """

    columns: Mapping[str, FloatArray]


@dataclass
class LogTally:
    """What was seen on the way; complete when the last piece has been read.

    Parameters
    ----------
    rows : int
        Data rows in the file.
    dropped : int
        Rows with an empty cell.
    gaps : int
        Steps in time much longer than usual.
    longest_gap : float
        [s].
    step : float
        Usual step [s].
    """

    rows: int = 0
    dropped: int = 0
    gaps: int = 0
    longest_gap: float = 0.0
    step: float = math.nan


@dataclass
class MachineLog:
    """A log that can be read once, piece by piece.

    Parameters
    ----------
    path : path-like
    reference_torque : float, optional
        What 100 % is [N.m]; needed where the torque is in percent.
    peak_torque : float, optional
        Of the engine, where known [N.m]: a torque column far from it is refused.
    tally : LogTally
    """

    path: FilePath
    reference_torque: float | None = None
    peak_torque: float | None = None
    tally: LogTally = field(default_factory=LogTally)

    @property
    def source(self) -> str:
        """The path as given."""
        return os.fspath(self.path)

    @property
    def in_shares(self) -> bool:
        """Whether the head gives a torque as a share of a reference torque, such as percent.

        Raises
        ------
        InputError
            As `pieces`, for the head.
        """
        _, units, _ = replace(self, reference_torque=1.0)._head()
        return any(_is_share(name, unit) for name, unit in units.items())

    def pieces(self, rows: int = _PIECE) -> Iterator[LogPiece]:
        """Yield the log in pieces of at most `rows`.

        Raises
        ------
        InputError
            Naming file, line and column: no file, empty, missing or unknown columns, units that
            are missing or cannot be right, a cell that is not a number, a clock that goes back.
        """
        import pandas as pd  # slow to import

        names, units, lines_before = self._head()
        delimiter, decimal = self._marks(lines_before)
        reader = pd.read_csv(
            self.source,
            header=None,
            names=list(names),
            sep=delimiter,
            decimal=decimal,
            skiprows=lines_before,
            dtype=np.float64,
            chunksize=rows,
            skip_blank_lines=True,
            comment="#",
            index_col=False,
        )
        self.tally = LogTally()
        last_time = -math.inf
        sense = LogSense(self.source, units, self.peak_torque or self.reference_torque)
        try:
            with reader:
                for frame in _strictly(reader):
                    values = frame.to_numpy()
                    first = self.tally.rows
                    self.tally.rows += len(values)
                    whole = np.isfinite(values).all(axis=1)
                    self.tally.dropped += int((~whole).sum())
                    kept = np.flatnonzero(whole)
                    columns = {
                        name: self._in_si(values[kept, k], name, units[name])
                        for k, name in enumerate(names)
                    }
                    if not kept.size:
                        continue
                    line = np.asarray(lines_before + first + kept + 1.0)
                    last_time = self._check_clock(columns["time"], line, last_time, units["time"])
                    sense.see(columns)
                    yield LogPiece(columns)
        except pd.errors.EmptyDataError:
            pass
        except (ValueError, pd.errors.ParserError, pd.errors.ParserWarning) as error:
            if isinstance(error, InputError):
                raise
            raise self._bad_cell(names, lines_before, error) from None
        if self.tally.rows == self.tally.dropped:
            raise InputError("the log has a head and no usable rows", source=self.source)
        sense.finish()

    # --- head --------------------------------------------------------------------------------

    def _head(self) -> tuple[tuple[str, ...], dict[str, str], int]:
        with self._opened() as file:
            # Never more of a line than a head may have: a file of one line is read no further.
            lines = iter(lambda: file.readline(_LONGEST_HEAD + 1), "")
            text = enumerate(lines, start=1)
            told = ((n, line) for n, line in text if line.strip() and line.lstrip()[0] != "#")
            number, line = next(told, (0, ""))
        if number == 0:
            raise InputError("is empty", source=self.source, expected=_wanted())
        if "\0" in line or len(line) > _LONGEST_HEAD:
            raise InputError("is not a text table", source=self.source, expected=_wanted())
        cells = next(csv.reader([line], delimiter=delimiter_of(line)))
        names, units = [], {}
        where = f"line {number}"
        for cell in cells:
            name, unit = self._column(cell, where)
            if name in units:
                raise InputError(
                    "the column appears twice", source=self.source, field=where, found=name
                )
            names.append(name)
            units[name] = unit
        missing = [name for name in REQUIRED if name not in units]
        if missing:
            raise InputError(
                f"missing column{'s' if len(missing) > 1 else ''}: {', '.join(missing)}",
                source=self.source,
                field=where,
                found=", ".join(cell.strip() for cell in cells),
                expected=_wanted(),
            )
        return tuple(names), units, number

    def _marks(self, head: int) -> tuple[str, str]:
        """Return delimiter and decimal mark, from the head and the first number with decimals."""
        with self._opened() as file:
            delimiter = ","
            for number, line in enumerate(file, start=1):
                if number == head:
                    delimiter = delimiter_of(line)
                if number >= head and delimiter == ",":
                    break
                if number > head and ("," in line or "." in line):
                    return delimiter, "," if "," in line else "."
        return delimiter, "."

    def _opened(self) -> IO[str]:
        source = ordinary(self.source, SIZE_LIMIT, "a log")
        try:
            return open(source, encoding="utf-8-sig", errors="replace", newline="")
        except OSError as error:
            raise InputError(f"cannot be opened: {error.strerror}", source=source) from None

    def _column(self, cell: str, where: str) -> tuple[str, str]:
        text, _, rest = cell.partition("[")
        name = " ".join(text.replace("_", " ").casefold().split())
        unit = rest.rpartition("]")[0].strip()
        if name not in COLUMNS:
            raise InputError(
                "unknown column",
                source=self.source,
                field=where,
                found=cell.strip(),
                expected=", ".join(COLUMNS),
                hint=other_kind_hint(self.source, COLUMNS) or did_you_mean(name, COLUMNS),
            )
        if not unit and name in _BARE:
            return name, "1"
        if not unit:
            raise InputError(
                "the column names no unit",
                source=self.source,
                field=where,
                found=cell.strip(),
                expected=f"{name} [unit]",
                hint=other_kind_hint(self.source, COLUMNS),
            )
        if _is_share(name, unit):
            if self.reference_torque is None:
                raise InputError(
                    "a torque in percent needs the torque that is 100 percent",
                    source=self.source,
                    field=f"{where}, {name}",
                    found=unit,
                    expected="a reference torque (--reference-torque)",
                )
            return name, unit
        to_si(1.0, unit, COLUMNS[name], source=self.source, field=f"{where}, {name}")
        return name, unit

    def _in_si(self, values: FloatArray, name: str, unit: str) -> FloatArray:
        if _is_share(name, unit):
            return np.asarray(to_si(values, unit, "ratio")) * float(self.reference_torque or 0.0)
        return np.asarray(to_si(values, unit, COLUMNS[name]))

    # --- what the numbers say ------------------------------------------------------------------

    def _check_clock(self, time: FloatArray, line: FloatArray, last: float, unit: str) -> float:
        steps = np.diff(time, prepend=last if math.isfinite(last) else time[0])
        back = np.flatnonzero(steps < 0)
        if back.size:
            at = int(back[0])
            before = last if at == 0 else float(time[at - 1])
            raise InputError(
                "the clock goes back",
                source=self.source,
                field=f"line {line[at]:.0f}, time",
                found=f"{float(time[at]):.6g} s after {before:.6g} s",
                expected="times that rise",
                hint="cut the log there and read the parts on their own",
            )
        moving = steps[steps > 0]
        if not math.isfinite(self.tally.step) and moving.size:
            usual = float(np.median(moving))
            if not 1e-4 <= usual <= 1.0:
                raise InputError(
                    "the steps in time cannot be right, or are too long to see a steady state",
                    source=self.source,
                    field="time",
                    found=f"steps of {usual:.4g} s, head says [{unit}]",
                    expected="0.1 ms to 1 s",
                    hint="milliseconds?" if usual > 1.0 else "is the unit right?",
                )
            self.tally.step = usual
        gap = max(_GAP_STEPS * self.tally.step, _GAP) if math.isfinite(self.tally.step) else _GAP
        jumps = steps[steps > gap]
        self.tally.gaps += jumps.size
        if jumps.size:
            self.tally.longest_gap = max(self.tally.longest_gap, float(jumps.max()))
        return float(time[-1])

    def _bad_cell(self, names: tuple[str, ...], before: int, error: Exception) -> InputError:
        """Find the cell that is not a number: a second, slower look at the file."""
        delimiter, decimal = self._marks(before)
        with self._opened() as file:
            for number, line in enumerate(file, start=1):
                if number <= before or not line.strip() or line.lstrip().startswith("#"):
                    continue
                cells = line.rstrip("\r\n").split(delimiter)
                if len(cells) > len(names):
                    return InputError(
                        "another number of cells than the head has",
                        source=self.source,
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
                            source=self.source,
                            field=f"line {number}, {name}",
                            found=cell,
                            expected="a number, or nothing where none was recorded",
                        )
        return InputError(f"is not a table of numbers: {error}", source=self.source)


def _is_share(name: str, unit: str) -> bool:
    """Whether a column is a torque as a share of a reference torque."""
    return name.endswith("torque") and "ratio" in dimensions_of(unit)


def _strictly(frames: Iterator[DataFrame]) -> Iterator[DataFrame]:
    """Yield frames; what the parser would only warn of, cells that it loses, is an error."""
    import pandas as pd

    while True:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            frame = next(frames, None)
        if frame is None:
            return
        yield frame


def _wanted() -> str:
    return (
        "a head such as time [s],engine speed [rpm],turbine speed [rpm],engine torque [N.m],"
        "oil temperature [degC]"
    )
