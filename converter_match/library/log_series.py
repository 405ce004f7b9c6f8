"""Several files of one machine as one log, and the logs of a fleet in a folder."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.log_columns import stem
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


def fleet_files(folder: FilePath) -> dict[str, list[Path]]:
    """Return the logs of each machine in a folder: its files, or those in a folder of its own.

    Parameters
    ----------
    folder : str or path-like

    Raises
    ------
    InputError
        If there is no such folder, or no log in it.
    """
    root = Path(os.fspath(folder))
    if not root.is_dir():
        raise InputError("no such folder", source=str(root), expected="a folder of machines' logs")
    machines: dict[str, list[Path]] = {}
    for entry in sorted(root.iterdir()):
        if entry.name.startswith("."):
            continue
        if entry.is_dir():
            files = [path for path in sorted(entry.iterdir()) if _is_log(path)]
            if files:
                machines.setdefault(entry.name, []).extend(files)
        elif _is_log(entry):
            name = Path(stem(entry.name)).stem
            machines.setdefault(entry.name[: len(name)], []).append(entry)
    if not machines:
        raise InputError(
            "no log in the folder", source=str(root), expected=f"files such as *{_SUFFIXES[0]}"
        )
    return machines


def _is_log(path: Path) -> bool:
    return path.is_file() and stem(path.name).endswith(_SUFFIXES)
