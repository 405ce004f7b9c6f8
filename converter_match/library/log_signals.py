"""Logs that are no plain table: columns in Parquet, channels in MDF 4, signals of a CAN trace.

The libraries that read them are an extra (``converter-match[logs]``) and are imported when such a
file is opened. Signals of different rates are put beside the engine speed as of its moments: each
with its last value, as long as that is not too old (`library.log_aligned`). Whatever the format,
only the stretch that is being read is in memory.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Protocol

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.files import FilePath, ordinary
from converter_match.library.log_aligned import Timed, aligned, aligned_as_they_come
from converter_match.library.log_columns import stem
from converter_match.library.log_store import StoredFile, as_shown, is_address
from converter_match.library.log_words import EXPECTED, numbers_of

SIZE_LIMIT = 60_000_000_000
_J1939_MASK = 0x03FFFF00  # data page, format and specific of a parameter group; no source address
# Of a measurement file in memory at a time, for each channel; values of a trace likewise.
_FRAGMENT, _VALUES = 4_000_000, 200_000


class SignalLog(Protocol):
    """A log by signals."""

    @property
    def signals(self) -> Mapping[str, str]:
        """Name -> unit, empty where the file gives none."""

    @property
    def timed(self) -> bool:
        """Whether each signal has its own times."""

    def read(self, chosen: Mapping[str, str], rows: int) -> Iterator[dict[str, FloatArray]]:
        """Yield the chosen signals (what they are for us -> name) in pieces, times in seconds."""


def kind_of(path: FilePath) -> str:
    """Return ``table``, ``parquet``, ``mdf`` or ``can``, by the suffix.

    Examples
    --------
    >>> kind_of("a.csv.gz"), kind_of("b.MF4"), kind_of("c.asc")
    ('table', 'mdf', 'can')
    """
    suffix = stem(path).rpartition(".")[2]
    kinds = {"parquet": "parquet", "pq": "parquet", "mf4": "mdf", "mdf": "mdf", "asc": "can",
             "log": "can", "trc": "can", "blf": "can"}  # fmt: skip
    return kinds.get(suffix, "table")


def open_signals(path: FilePath, database: FilePath | None = None) -> SignalLog:
    """Open a log that is no plain table.

    Parameters
    ----------
    path : str or path-like
    database : str or path-like, optional
        Of the signals (DBC and the like), for a CAN trace.

    Raises
    ------
    InputError
        If there is no such file, it cannot be read, or the library for it is not installed.
    """
    kind = kind_of(path)
    if is_address(path):
        if kind != "parquet":
            raise InputError(
                "only Parquet is read from a store", source=as_shown(path), expected="*.parquet"
            )
        stored = path if isinstance(path, StoredFile) else StoredFile(os.fspath(path))
    else:
        stored = None
    source = os.fspath(stored) if stored else ordinary(path, SIZE_LIMIT, "a log")
    try:
        if kind == "parquet":
            return ParquetLog(source, stored)
        if kind == "mdf":
            return MdfLog(source)
        return CanLog(source, database)
    except ImportError as error:
        raise InputError(
            f"reading such a log needs the package {error.name}",
            source=source,
            hint='python -m pip install "converter-match[logs]"',
        ) from None


class ParquetLog:
    """Columns of a Parquet file, read in pieces.

    Parameters
    ----------
    source : str
    stored : StoredFile, optional
        Where it lies in a store.

    Raises
    ------
    InputError
        If it is no such file.
    """

    timed = False

    def __init__(self, source: str, stored: StoredFile | None = None) -> None:
        import pyarrow.parquet as pq
        from pyarrow.lib import ArrowException

        self._source = source
        try:
            # Read as a stream: otherwise the packed columns of every row group stay in memory.
            file = source if stored is None else stored.open()
            self._file = pq.ParquetFile(file, buffer_size=1_000_000, pre_buffer=False)
        except (ArrowException, OSError) as error:
            raise _unreadable(source, "a Parquet file", error) from None
        self._schema = self._file.schema_arrow

    @property
    def signals(self) -> Mapping[str, str]:
        """Name -> unit of the field's metadata, of its heading, or none."""
        units = {}
        for item in self._schema:
            meta = item.metadata or {}
            units[item.name] = meta.get(b"unit", b"").decode("utf-8", "replace")
        return units

    def read(self, chosen: Mapping[str, str], rows: int) -> Iterator[dict[str, FloatArray]]:
        """Yield pieces; only the chosen columns are read."""
        from pyarrow.lib import ArrowException

        names = list(dict.fromkeys(chosen.values()))
        try:
            # Group by group: one iterator over all of them keeps what it has passed.
            for group in range(self._file.num_row_groups):
                for batch in self._file.iter_batches(
                    batch_size=rows, row_groups=[group], columns=names, use_threads=True
                ):
                    yield {
                        role: _numbers(batch.column(names.index(name)), self._source, name, role)
                        for role, name in chosen.items()
                    }
        except (ArrowException, OSError) as error:
            raise _unreadable(self._source, "a Parquet file", error) from None


def _numbers(column: Any, source: str, name: str, role: str) -> FloatArray:
    import pyarrow as pa

    kind = column.type
    texts = pa.types.is_dictionary(kind) or pa.types.is_string(kind)
    if role in EXPECTED and (texts or pa.types.is_large_string(kind)):
        return _from_words(role, column.to_pylist(), source, name)
    if pa.types.is_timestamp(kind):
        whole = column.cast(pa.timestamp("us"), safe=False).cast(pa.int64())
        return np.asarray(whole.to_numpy(zero_copy_only=False), dtype=np.float64) * 1e-6
    if pa.types.is_dictionary(kind) or not (
        pa.types.is_floating(kind) or pa.types.is_integer(kind) or pa.types.is_boolean(kind)
        or pa.types.is_decimal(kind)
    ):  # fmt: skip
        raise InputError(
            "not a column of numbers", source=source, field=name, found=str(kind),
            expected="numbers, or times",
        )  # fmt: skip
    values = column.cast("double") if column.type != pa.float64() else column
    return np.asarray(values.to_numpy(zero_copy_only=False), dtype=np.float64)


class MdfLog:
    """Channels of a measurement file (ASAM MDF 4).

    Parameters
    ----------
    source : str

    Raises
    ------
    InputError
        If it is no such file.
    """

    timed = True

    def __init__(self, source: str) -> None:
        import asammdf

        self._source = source
        try:
            self._file = asammdf.MDF(source)
        except Exception as error:  # the library raises many kinds
            raise _unreadable(source, "an MDF 4 file", error) from None

    @property
    def signals(self) -> Mapping[str, str]:
        """Name -> unit of the channel."""
        units: dict[str, str] = {}
        for group in self._file.groups:
            for channel in group.channels:
                units.setdefault(channel.name, (channel.unit or "").strip())
        return units

    def read(self, chosen: Mapping[str, str], rows: int) -> Iterator[dict[str, FloatArray]]:
        """Yield pieces, put beside one another as of the engine speed's moments."""
        self._file.configure(read_fragment_size=_FRAGMENT)
        streams = {role: self._pieces(name, role) for role, name in chosen.items()}
        yield from aligned(streams, rows)

    def _pieces(self, name: str, role: str) -> Iterator[Timed]:
        group, index = self._file.channels_db[name][0]  # the first of that name
        try:
            for part in self._file.iter_get(name, group=group, index=index):
                values = np.asarray(part.samples)
                if role in EXPECTED and values.dtype.kind in "SUO":
                    values = _from_words(role, values, self._source, name)
                if values.dtype.kind not in "fiub":
                    raise InputError(
                        "not a channel of numbers", source=self._source, field=name,
                        expected="numbers",
                    )  # fmt: skip
                yield np.asarray(part.timestamps, float), values.astype(np.float64)
        except InputError:
            raise
        except Exception as error:  # the library raises many kinds
            raise _unreadable(self._source, "an MDF 4 file", error) from None


class CanLog:
    """Signals of a CAN trace, by a signal database.

    Parameters
    ----------
    source : str
    database : str or path-like, optional

    Raises
    ------
    InputError
        If there is no database, or one of the files is none.
    """

    timed = True

    def __init__(self, source: str, database: FilePath | None) -> None:
        import can  # noqa: F401  # not there is said at once
        import cantools

        self._source = source
        if database is None:
            raise InputError(
                "a CAN trace needs the database of its signals", source=source,
                expected="--database FILE (.dbc, .kcd, .sym, .arxml)",
            )  # fmt: skip
        named = ordinary(database, 100_000_000, "a signal database")
        try:
            loaded: Any = cantools.database.load_file(named)
        except Exception as error:  # the library raises many kinds
            raise _unreadable(named, "a signal database", error) from None
        self._messages = tuple(loaded.messages)
        self._of = {
            signal.name: message for message in self._messages for signal in message.signals
        }

    @property
    def signals(self) -> Mapping[str, str]:
        """Name -> unit in the database."""
        return {
            signal.name: (signal.unit or "").strip()
            for message in self._messages
            for signal in message.signals
        }

    def read(self, chosen: Mapping[str, str], rows: int) -> Iterator[dict[str, FloatArray]]:
        """Yield pieces, put beside one another as of the engine speed's moments."""
        missing = set(chosen)
        yield from aligned_as_they_come(self._pieces(chosen, missing), chosen)
        if missing:
            raise InputError(
                "the trace has no frame of a signal that is needed", source=self._source,
                field=", ".join(chosen[role] for role in chosen if role in missing), found="none",
                expected="frames as the database has them",
            )  # fmt: skip

    def _pieces(
        self, chosen: Mapping[str, str], missing: set[str]
    ) -> Iterator[Mapping[str, Timed]]:
        """Yield what the signals are in one stretch of the trace after the other."""
        import can

        wanted: dict[int, Any] = {_key(self._of[name]): self._of[name] for name in chosen.values()}
        groups = any(_is_j1939(message) for message in wanted.values())
        seen: dict[str, tuple[list[float], list[float]]] = {role: ([], []) for role in chosen}
        count = 0
        try:
            with can.LogReader(self._source) as trace:
                for frame in trace:
                    known = wanted.get(frame.arbitration_id)
                    if known is None and groups and frame.is_extended_id:
                        known = wanted.get(frame.arbitration_id & _J1939_MASK)
                    if known is None or len(frame.data) < known.length:
                        continue
                    told = known.decode(bytes(frame.data), decode_choices=False)
                    for role, name in chosen.items():
                        if name in told:
                            seen[role][0].append(frame.timestamp)
                            seen[role][1].append(float(told[name]))
                            missing.discard(role)
                            count += 1
                    if count >= _VALUES:
                        yield {role: (np.array(t), np.array(v)) for role, (t, v) in seen.items()}
                        seen, count = {role: ([], []) for role in chosen}, 0
        except Exception as error:  # the readers raise many kinds
            raise _unreadable(self._source, "a CAN trace", error) from None
        yield {role: (np.array(t), np.array(v)) for role, (t, v) in seen.items()}


def _is_j1939(message: Any) -> bool:
    return bool(message.is_extended_frame) and message.protocol == "j1939"


def _key(message: Any) -> int:
    number = int(message.frame_id)
    return number & _J1939_MASK if _is_j1939(message) else number


def _from_words(role: str, words: Iterable[object], source: str, name: str) -> FloatArray:
    numbers, none = numbers_of(role, words)
    if none is not None:
        raise InputError(
            f"not a {role}", source=source, field=name, found=none, expected=EXPECTED[role]
        )
    return numbers


def _unreadable(source: str, what: str, error: Exception) -> InputError:
    said = " ".join(str(error).split())
    return InputError(
        "cannot be read", source=source, found=said[:120] or type(error).__name__, expected=what
    )
