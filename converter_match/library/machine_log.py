"""A machine's own log, read in pieces: time, speeds, torque; units in the head, any length.

Only the piece being read is in memory. What the head says is checked against what the numbers can
be, so that a column in another unit, or two that changed places, is named and not believed.
"""

from __future__ import annotations

import csv
import math
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.library.delimited import delimiter_of
from converter_match.library.files import FilePath
from converter_match.library.log_columns import (
    BARE,
    COLUMNS,
    EPOCH,
    ISO,
    REQUIRED,
    ColumnMap,
    Taken,
    check_unit,
    is_share,
    own_name,
    split_heading,
    taken_from,
)
from converter_match.library.log_sense import LogSense
from converter_match.library.log_signals import kind_of, open_signals
from converter_match.library.log_text import (
    LONGEST_HEAD,
    Reader,
    bad_cell,
    begins_iso,
    encoding_of,
    is_long,
    long_signals,
    marks_of,
    opened,
    strictly,
    times_of,
)
from converter_match.library.log_words import numbers_of
from converter_match.library.recognise import other_kind_hint
from converter_match.units import to_si

_PIECE = 200_000
# A step in time longer than this many usual ones, and than this, is a gap [s].
_GAP_STEPS, _GAP = 10.0, 2.0
_LEFT_OUT = "#"
# Numbers beyond these are none of a machine, whatever the unit; of time, nanoseconds since 1970
# are the largest.
_LARGEST, _LATEST = 1e12, 1e19
_Raw = tuple[dict[str, str], dict[str, FloatArray], FloatArray]


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
    columns : mapping, optional
        Which column or signal is what, where the headings are not ours.
    database : path-like, optional
        Of the signals of a CAN trace.
    tally : LogTally
    taken : dict
        Which column or signal was taken for what.
    """

    path: FilePath
    reference_torque: float | None = None
    peak_torque: float | None = None
    columns: ColumnMap = field(default_factory=dict)
    database: FilePath | None = None
    tally: LogTally = field(default_factory=LogTally)
    taken: dict[str, Taken] = field(default_factory=dict)

    @property
    def source(self) -> str:
        """The path as given."""
        return os.fspath(self.path)

    @property
    def in_shares(self) -> bool:
        """Whether the head gives a torque as a share of a reference torque, such as percent."""
        return any(is_share(name, unit) for name, unit in self.units.items())

    @property
    def units(self) -> dict[str, str]:
        """The unit of each column or signal that is used, as the head has it.

        Raises
        ------
        InputError
            As `pieces`, for the head.
        """
        as_if = replace(self, reference_torque=1.0)
        if kind_of(self.path) != "table":
            log = open_signals(self.path, self.database)
            taken = taken_from(log.signals, self.columns, source=self.source, timed=log.timed)
            return {role: unit for role, (_, unit) in taken.items()}
        if is_long(self.source):
            taken = taken_from(
                long_signals(self.source)[0], self.columns, source=self.source, timed=True
            )
            return {role: unit for role, (_, unit) in taken.items()}
        return as_if._head()[1]

    def pieces(self, rows: int = _PIECE) -> Iterator[LogPiece]:
        """Yield the log in pieces of at most `rows`.

        Raises
        ------
        InputError
            Naming file, line and column: no file, empty, missing or unknown columns, units that
            are missing or cannot be right, a cell that is not a number, a clock that goes back.
        """
        self.tally = LogTally()
        self.taken = {}
        last_time = -math.inf
        sense: LogSense | None = None
        for units, raw, line in self._raw(rows):
            if sense is None:
                peak = self.peak_torque or self.reference_torque
                sense = LogSense(self.source, units, peak)
            self.tally.rows += line.size
            self._refuse_overflow(raw, line)
            whole = np.all([np.isfinite(values) for values in raw.values()], axis=0)
            self.tally.dropped += int((~whole).sum())
            if not whole.any():
                continue
            all_of_it = bool(whole.all())
            columns = {
                name: self._in_si(values if all_of_it else values[whole], name, units[name])
                for name, values in raw.items()
            }
            last_time = self._check_clock(columns["time"], line[whole], last_time, units["time"])
            sense.see(columns)
            yield LogPiece(columns)
        if sense is None or self.tally.rows == self.tally.dropped:
            raise InputError("the log has a head and no usable rows", source=self.source)
        sense.finish()

    def _raw(self, rows: int) -> Iterator[_Raw]:
        """Yield units, columns as they stand in the file, and the place of each row."""
        if kind_of(self.path) != "table":
            log = open_signals(self.path, self.database)
            yield from self._signals(log.signals, log.timed, log.read, rows)
        elif is_long(self.source):
            signals, read = long_signals(self.source)
            yield from self._signals(signals, True, read, rows)
        else:
            yield from self._table(rows)

    def _signals(
        self,
        signals: Mapping[str, str],
        timed: bool,
        read: Reader,
        rows: int,
    ) -> Iterator[_Raw]:
        taken = taken_from(signals, self.columns, source=self.source, timed=timed)
        units = {}
        for role, (name, unit) in taken.items():
            own = unit or ("s" if role == "time" else "")
            check_unit(role, own, source=self.source, field=name,
                       reference=self.reference_torque is not None)  # fmt: skip
            units[role] = own
        self.taken = taken
        if timed:
            units["time"] = "s"
        first = 0
        for raw in read({role: name for role, (name, _) in taken.items()}, rows):
            count = raw["time"].size
            yield units, raw, np.arange(first + 1.0, first + count + 1.0)
            first += count

    def _table(self, rows: int) -> Iterator[_Raw]:
        import pandas as pd  # slow to import

        names, units, lines_before = self._head()
        delimiter, decimal = marks_of(self.source, lines_before)
        kept = [name for name in names if not name.startswith(_LEFT_OUT)]
        iso = units["time"] == ISO
        reader = pd.read_csv(
            self.source,
            header=None,
            names=list(names),
            usecols=kept if len(kept) < len(names) else None,
            sep=delimiter,
            decimal=decimal,
            encoding=encoding_of(self.source),
            skiprows=lines_before,
            dtype={name: _kind(name, iso) for name in kept},
            chunksize=rows,
            skip_blank_lines=True,
            comment="#",
            index_col=False,
        )
        first = 0
        try:
            with reader:
                for frame in strictly(reader):
                    raw = {name: _plain(name, frame[name]) for name in kept if name != "time"}
                    raw["time"] = times_of(frame["time"], ISO) if iso else frame["time"].to_numpy()
                    self._refuse_no_time(raw["time"], frame["time"], lines_before + first)
                    line = np.asarray(lines_before + first + np.arange(1.0, len(frame) + 1.0))
                    first += len(frame)
                    yield units, {name: raw[name] for name in kept}, line
        except pd.errors.EmptyDataError:
            pass
        except (ValueError, pd.errors.ParserError, pd.errors.ParserWarning) as error:
            if isinstance(error, InputError):
                raise
            raise bad_cell(self.source, names, lines_before, error) from None

    def _refuse_no_time(self, time: FloatArray, cells: Any, before: int) -> None:
        bad = np.flatnonzero(~np.isfinite(time) & np.asarray(cells.notna()))
        if bad.size:
            raise InputError(
                "not a time", source=self.source, field=f"line {before + int(bad[0]) + 1}, time",
                found=str(cells.iloc[int(bad[0])]),
                expected="ISO 8601, such as 2031-05-04T13:30:00.1Z",
            )  # fmt: skip

    def _refuse_overflow(self, raw: Mapping[str, FloatArray], line: FloatArray) -> None:
        for name, values in raw.items():
            limit = _LATEST if name == "time" else _LARGEST
            bad = np.flatnonzero(np.isfinite(values) & (np.abs(values) > limit))
            if bad.size:
                raise InputError(
                    "no machine has such a value",
                    source=self.source,
                    field=f"line {line[bad[0]]:.0f}, {name}",
                    found=f"{float(values[bad[0]]):.4g}",
                    expected=f"at most {limit:.0e} in size",
                    hint="the recorder's mark for no value? leave the cell empty",
                )

    # --- head --------------------------------------------------------------------------------

    def _head(self) -> tuple[tuple[str, ...], dict[str, str], int]:
        with opened(self.source) as file:
            # Never more of a line than a head may have: a file of one line is read no further.
            lines = iter(lambda: file.readline(LONGEST_HEAD + 1), "")
            text = enumerate(lines, start=1)
            told = ((n, line) for n, line in text if line.strip() and line.lstrip()[0] != "#")
            number, line = next(told, (0, ""))
        if number == 0:
            raise InputError("is empty", source=self.source, expected=_wanted())
        if "\0" in line or len(line) > LONGEST_HEAD:
            raise InputError(
                "is not a text table", source=self.source, expected=_wanted(),
                hint="letters of two bytes without their mark? save it as CSV in UTF-8"
                if "\0" in line else None,
            )  # fmt: skip
        cells = next(csv.reader([line], delimiter=delimiter_of(line)))
        names: list[str] = []
        units: dict[str, str] = {}
        where = f"line {number}"
        for cell in cells:
            found = self._column(cell, where, number, len(names))
            if found is None:
                names.append(f"{_LEFT_OUT}{len(names)}")
                continue
            name, unit = found
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

    def _column(self, cell: str, where: str, number: int, place: int) -> tuple[str, str] | None:
        """Return what a heading is, and its unit; None for one that a map leaves out."""
        taken = split_heading(cell)
        known = self.source_hint
        if self.columns:
            roles = [r for r, t in self.columns.items() if t.name in (cell.strip(), taken.name)]
            if not roles:
                return None
            name, unit = roles[0], self.columns[roles[0]].unit or taken.unit
        else:
            name, unit = own_name(taken.name), taken.unit
        if name not in COLUMNS:
            raise InputError(
                "unknown column",
                source=self.source,
                field=where,
                found=cell.strip(),
                expected=", ".join(COLUMNS),
                hint=known or did_you_mean(name, COLUMNS),
            )
        if name == "time" and not unit and begins_iso(self.source, number, place):
            unit = ISO
        if not unit and name in BARE:
            return name, "1"
        if not unit:
            raise InputError(
                "the column names no unit",
                source=self.source,
                field=where,
                found=cell.strip(),
                expected=f"{name} [unit]",
                hint=known,
            )
        check_unit(name, unit, source=self.source, field=where,
                   reference=self.reference_torque is not None)  # fmt: skip
        return name, unit

    @property
    def source_hint(self) -> str | None:
        """What other kind of file it may be."""
        return other_kind_hint(self.source, COLUMNS)

    def _in_si(self, values: FloatArray, name: str, unit: str) -> FloatArray:
        if name in BARE or (name == "time" and unit == ISO):
            return values
        if name == "time" and unit in EPOCH:
            return np.asarray(values * EPOCH[unit])
        if is_share(name, unit):
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


def _kind(name: str, iso: bool) -> Any:
    if name in BARE:
        return "category"
    return str if iso and name == "time" else np.float64


def _plain(name: str, cells: Any) -> FloatArray:
    """Return a column of a table as numbers.

    Raises
    ------
    ValueError
        If a word says no gear and no state of a lock-up clutch.
    """
    if name not in BARE:
        return np.asarray(cells.to_numpy())
    known, none = numbers_of(name, cells.cat.categories)
    if none is not None:
        raise ValueError(none)
    return np.asarray(np.append(known, np.nan)[cells.cat.codes.to_numpy()])


def _wanted() -> str:
    return (
        "a head such as time [s],engine speed [rpm],turbine speed [rpm],engine torque [N.m],"
        "oil temperature [degC]"
    )
