"""Several files of one machine as one log, and the logs of a fleet in a folder."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.log_columns import stem
from converter_match.library.log_signals import kind_of
from converter_match.library.log_store import (
    Partition,
    as_shown,
    files_below,
    is_address,
    is_partitioned,
    partition_of,
)
from converter_match.library.machine_log import LogTally, MachineLog

_SUFFIXES = (".csv", ".txt", ".parquet", ".pq", ".mf4", ".mdf", ".asc", ".log", ".trc", ".blf")
# A file that does not go on where the last one ended begins so much later [s].
_APART = 3600.0


@dataclass
class LogSeries:
    """Logs of one machine, one after the other.

    Parameters
    ----------
    logs : sequence of MachineLog
    tally : LogTally
        Of all together, when the last piece has been read.
    """

    logs: Sequence[MachineLog]
    tally: LogTally = field(default_factory=LogTally)

    def pieces(self) -> Iterator[Mapping[str, FloatArray]]:
        """Yield columns piece by piece; a clock that begins anew in a later file is set on.

        Raises
        ------
        InputError
            As `MachineLog.pieces`; if the files do not have the same columns.
        """
        self.tally = LogTally()
        last, columns = -np.inf, None
        for log in self.logs:
            shift: float | None = None
            for piece in log.pieces():
                names = set(piece.columns)
                if columns is not None and names != columns:
                    raise InputError(
                        "has other columns than the file before",
                        source=log.source,
                        found=", ".join(sorted(names)),
                        expected=", ".join(sorted(columns)),
                    )
                columns = names
                time = piece.columns["time"]
                if shift is None:
                    begins = float(time[0])
                    shift = 0.0 if begins > last else last + _APART - begins
                last = float(time[-1]) + shift
                yield {**piece.columns, "time": time + shift}
            self._add(log.tally)

    def _add(self, tally: LogTally) -> None:
        own = self.tally
        own.rows += tally.rows
        own.dropped += tally.dropped
        own.gaps += tally.gaps
        own.longest_gap = max(own.longest_gap, tally.longest_gap)
        own.step = tally.step


class LogPart(NamedTuple):
    """Files that are read as one log; a fleet's machine has one part, or one for each day.

    Parameters
    ----------
    day : str
        As ``2031-05-04``, or ``2031-05``; empty where the folders tell none.
    paths : tuple of path-like
        One after the other.
    """

    day: str
    paths: tuple[FilePath, ...]

    @property
    def month(self) -> str | None:
        """As ``2031-05``; None where the day is not known."""
        return self.day[:7] or None

    def stamps(self) -> str | None:
        """Return name, size and time of change of the files; None for those in a store."""
        told = []
        for path in self.paths:
            if is_address(path):
                return None
            found = os.stat(path)
            told.append(f"{os.path.abspath(path)} {found.st_size} {found.st_mtime_ns}")
        return "\n".join(told)


def fleet_files(folder: FilePath) -> dict[str, list[LogPart]]:
    """Return the logs of each machine in a folder: its files, or those in a folder of its own.

    Folders named by key and value (``machine=loader-03/day=2031-05-04``) are partitions: each day
    of a machine is a part.

    Parameters
    ----------
    folder : str or path-like
        Or the address of a store, such as ``s3://logs/fleet``, where the logs are partitioned.

    Raises
    ------
    InputError
        If there is no such folder, no log in it, or a partition names no machine or no day.
    """
    source = os.fspath(folder)
    if is_address(source):
        return _partitions(source)
    root = Path(source)
    if not root.is_dir():
        raise InputError("no such folder", source=str(root), expected="a folder of machines' logs")
    entries = [entry for entry in sorted(root.iterdir()) if not entry.name.startswith(".")]
    if is_partitioned(entry.name for entry in entries if entry.is_dir()):
        return _partitions(source)
    machines: dict[str, list[FilePath]] = {}
    for entry in entries:
        if entry.is_dir():
            files = [path for path in sorted(entry.iterdir()) if _is_log(path)]
            if files:
                machines.setdefault(entry.name, []).extend(files)
        elif _is_log(entry):
            name = Path(stem(entry.name)).stem
            machines.setdefault(entry.name[: len(name)], []).append(entry)
    if not machines:
        raise _no_log(source)
    return {name: [LogPart("", tuple(files))] for name, files in machines.items()}


def _partitions(root: str) -> dict[str, list[LogPart]]:
    """Return the days of each machine, in order."""
    found: dict[Partition, list[FilePath]] = {}
    for path, below in files_below(root):
        # What other programs leave beside the data begins so, by the same convention.
        aside = any(part.startswith((".", "_")) for part in below.split("/"))
        if not aside and stem(below).endswith(_SUFFIXES):
            if is_address(root) and kind_of(below) != "parquet":
                raise InputError(
                    "only Parquet is read from a store", source=str(path), expected="*.parquet"
                )
            found.setdefault(partition_of(below, str(path)), []).append(path)
    if not found:
        raise _no_log(root)
    machines: dict[str, list[LogPart]] = {}
    for machine, day in sorted(found):
        part = LogPart(day, tuple(found[Partition(machine, day)]))
        machines.setdefault(machine, []).append(part)
    return machines


def _no_log(root: str) -> InputError:
    return InputError(
        "no log in the folder", source=as_shown(root), expected=f"files such as *{_SUFFIXES[0]}"
    )


def _is_log(path: Path) -> bool:
    return path.is_file() and stem(path.name).endswith(_SUFFIXES)
