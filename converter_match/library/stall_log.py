"""The log of stall tests: a CSV file that only grows, and that no crash can hurt.

Rows are added under a lock. The new content, the old with the rows behind it, is written to a file
beside the log, forced to the disk, and put in the log's place in one step: at every instant there
is either the old log or the new one, whole. The old rows are carried over byte for byte.
"""

from __future__ import annotations

import contextlib
import csv
import io
import math
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from converter_match.errors import InputError
from converter_match.library.delimited import MARK, delimiter_of, with_point
from converter_match.library.files import FilePath, read_bytes

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
SIZE_LIMIT = 50_000_000


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
            if any(ord(letter) < 32 for letter in text) or text[:1] in tuple("=+-@"):
                raise InputError(
                    "not a name for a table: a spreadsheet would take it for something else",
                    field=name,
                    found=text,
                    expected="one line that does not begin with = + - @",
                )
        if not self.machine.strip():
            raise InputError("the machine needs a name", field="machine", found=self.machine)

    def cells(self) -> list[str]:
        """Return the row as texts in the order of `COLUMNS`."""
        return [_cell(getattr(self, name)) for name in COLUMNS]


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def read_log(path: FilePath) -> tuple[LogRow, ...]:
    """Read a log.

    Raises
    ------
    InputError
        Naming file, line and column: no file, empty, missing columns, a cell that cannot be used,
        a time that goes back for a machine.
    """
    source = os.fspath(path)
    return _parsed(read_bytes(path, SIZE_LIMIT, "a log of stall tests"), source)


def append_rows(path: FilePath, rows: Sequence[LogRow]) -> None:
    """Add rows to a log, all or none; the file is begun where there is none.

    Parameters
    ----------
    path : str or path-like
    rows : sequence of LogRow

    Raises
    ------
    InputError
        If the file is not such a log or cannot be written, or the time of a machine would go back.
        Nothing is added then.
    """
    source = os.path.realpath(os.fspath(path))
    if os.path.isdir(source):
        raise InputError("is a folder", source=os.fspath(path), expected="the name of a file")
    if not rows:
        return
    try:
        with _locked(source):
            there = os.path.exists(source)
            old = read_bytes(source, SIZE_LIMIT, "a log of stall tests") if there else b""
            # An empty file is no log of ours: one is begun with its head and a first row at once.
            present = _parsed(old, os.fspath(path)) if there else ()
            _refuse_semicolons(old, os.fspath(path))
            _check_clock([*present, *rows], os.fspath(path), first_new=len(present))
            text = io.StringIO(newline="")
            writer = csv.writer(text, lineterminator="\n")
            if not old:
                writer.writerow(COLUMNS)
            writer.writerows(row.cells() for row in rows)
            joint = b"" if not old or old.endswith(b"\n") else b"\n"
            _replace(source, old + joint + text.getvalue().encode("utf-8"))
    except OSError as error:
        raise InputError(
            f"cannot be written: {error.strerror or error}", source=os.fspath(path)
        ) from None


def _refuse_semicolons(old: bytes, source: str) -> None:
    """Refuse to add rows with commas to a table that was saved with semicolons."""
    if delimiter_of(old.partition(b"\n")[0].decode("utf-8")) == ";":
        raise InputError(
            "has been saved with semicolons; nothing was added",
            source=source,
            expected="a log whose cells are separated by commas",
            hint="it can be read as it is; to go on with it, save it with commas",
        )


def _replace(target: str, content: bytes) -> None:
    draft = f"{target}.{os.getpid()}.part"
    try:
        with open(draft, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if os.path.exists(target):
            os.chmod(draft, os.stat(target).st_mode & 0o777)
        os.replace(draft, target)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(draft)
        raise
    _sync_folder(os.path.dirname(target) or ".")


def _sync_folder(folder: str) -> None:
    """Force the change of name to the disk, where the system lets one open a folder."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def _locked(target: str) -> Iterator[None]:
    """Hold a lock beside the log; the system lets go of it when a process dies."""
    folder, name = os.path.split(target)
    with open(os.path.join(folder, f".{name}.lock"), "a+b") as file:
        try:
            import fcntl
        except ImportError:  # pragma: no cover - another operating system
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined,unused-ignore]
            try:
                yield
            finally:
                file.seek(0)
                msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)  # type: ignore[attr-defined,unused-ignore]
            return
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _parsed(raw: bytes, source: str) -> tuple[LogRow, ...]:
    try:
        text = raw.decode("utf-8").removeprefix(MARK)
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text", source=source) from None
    delimiter = delimiter_of(text.partition("\n")[0])
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        head = next(reader, None)
        if head is None:
            raise InputError(
                "is empty; nothing was added",
                source=source,
                expected=f"a head: {','.join(COLUMNS)}",
                hint="remove the file, or name a new one: a log is begun where there is none",
            )
        missing = [name for name in COLUMNS if name not in head]
        if missing:
            raise InputError(
                "not a log of stall tests: columns are missing",
                source=source,
                field="line 1",
                found=", ".join(head),
                expected=", ".join(missing),
            )
        rows = []
        for cells in reader:
            where = f"line {reader.line_num}"
            if not cells:
                continue
            if len(cells) != len(head):
                raise InputError(
                    "another number of cells than the head has",
                    source=source, field=where, found=len(cells), expected=str(len(head)),
                )  # fmt: skip
            rows.append(_row(dict(zip(head, cells, strict=True)), source, where, delimiter))
    except csv.Error as error:
        raise InputError(f"is not a table: {error}", source=source) from None
    _check_clock(rows, source)
    return tuple(rows)


def _row(cells: dict[str, str], source: str, where: str, delimiter: str) -> LogRow:
    for name in COLUMNS:
        if not cells[name] and name not in _MAY_BE_EMPTY:
            raise InputError("empty", source=source, field=f"{where}, {name}")

    def number(name: str) -> float:
        return _number(with_point(cells[name], delimiter), source, f"{where}, {name}")

    def number_if_known(name: str) -> float | None:
        return number(name) if cells[name] else None

    try:
        return LogRow(
            time=parse_time(cells["time"], source=source, field=f"{where}, time"),
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
        raise error.located(source=f"{source}: {where}") from None


def _number(text: str, source: str, field: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError("not a number", source=source, field=field, found=text)
    return value


def parse_time(text: str, *, source: str, field: str) -> datetime:
    """Return a time written as ISO 8601; without a zone it is taken as UTC.

    Raises
    ------
    InputError
    """
    try:
        time = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(
            "not a time",
            source=source,
            field=field,
            found=text,
            expected="ISO 8601, such as 2031-05-04T13:30:00+00:00",
        ) from None
    return time if time.tzinfo else time.replace(tzinfo=UTC)


def _check_clock(rows: Sequence[LogRow], source: str, first_new: int = 0) -> None:
    latest: dict[str, datetime] = {}
    for number, row in enumerate(rows):
        before = latest.get(row.machine)
        if before is not None and row.time < before:
            raise InputError(
                "the clock goes back"
                + ("; nothing was added" if first_new and number >= first_new else ""),
                source=source,
                field=f"machine {row.machine}",
                found=row.time.isoformat(timespec="seconds"),
                expected=f"{before.isoformat(timespec='seconds')} or later, the test before it",
                hint="is the clock right? the tests of a machine are added in their order",
            )
        latest[row.machine] = row.time
