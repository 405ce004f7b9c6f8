"""The log of stall tests: a CSV file that only grows, and that no crash can hurt.

Rows are added under a lock. The new content, the old with the rows behind it, is written to a file
beside the log, forced to the disk, and put in the log's place in one step: at every instant there
is either the old log or the new one, whole. The old rows are carried over byte for byte. How the
table is read and written stands in `library.stall_log_table`.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from converter_match.errors import InputError
from converter_match.library.atomic import cannot
from converter_match.library.files import FilePath, read_bytes
from converter_match.library.names import refuse_device
from converter_match.library.stall_log_table import (
    COLUMNS,
    NEW_LOG,
    LogRow,
    StallLog,
    parse_log,
)

SIZE_LIMIT = 50_000_000
# The next test of a fleet is not so long in coming.
_AHEAD = timedelta(days=366)
_LEFT_OVER = re.compile(r"\.\d+\.part")


def read_log(path: FilePath) -> tuple[LogRow, ...]:
    """Read a log, every row of which has to be right; in the order of their times.

    Parameters
    ----------
    path : str or path-like

    Raises
    ------
    InputError
        Naming file, line and column: no file, empty, missing columns, a cell that cannot be used.
    """
    log = read_stall_log(path)
    if log.set_aside:
        raise log.set_aside[0]
    return log.rows


def read_stall_log(path: FilePath) -> StallLog:
    """Read a log; rows that cannot be used are set aside and named.

    Parameters
    ----------
    path : str or path-like

    Raises
    ------
    InputError
        If there is no such file, or it is no log of stall tests at all.
    """
    return parse_log(read_bytes(path, SIZE_LIMIT, "a log of stall tests"), os.fspath(path))


def append_rows(path: FilePath, rows: Sequence[LogRow], *, late: bool = False) -> StallLog:
    """Add rows to a log, all or none; the file is begun where there is none.

    Each value goes under its heading, in the manner in which the file is written.

    Parameters
    ----------
    path : str or path-like
    rows : sequence of LogRow
    late : bool
        Whether their time was stated by a person: then a test may be entered after later ones of
        the same machine. A time of the clock may not go back.

    Returns
    -------
    StallLog
        The log as it was before.

    Raises
    ------
    InputError
        If the file is not such a log or cannot be written, or the clock goes back for a machine.
        Nothing is added then.
    """
    refuse_device(path, source=os.fspath(path))  # Windows follows no link of a device
    source = os.path.realpath(os.fspath(path))
    if os.path.isdir(source):
        raise InputError("is a folder", source=os.fspath(path), expected="the name of a file")
    if not rows:
        return NEW_LOG
    try:
        with _locked(source):
            _remove_left_over(source)
            there = os.path.exists(source)
            old = read_bytes(source, SIZE_LIMIT, "a log of stall tests") if there else b""
            # An empty file is no log of ours: one is begun with its head and a first row at once.
            log = parse_log(old, os.fspath(path)) if there else NEW_LOG
            if not late:
                _check_clock(log, rows, os.fspath(path))
            head = "" if old else ",".join(COLUMNS) + log.newline
            joint = b"" if not old or old.endswith(b"\n") else log.newline.encode()
            _replace(source, old + joint + (head + log.written(rows)).encode("utf-8"))
    except OSError as error:
        raise cannot(error, os.fspath(path)) from None
    return log


def _check_clock(log: StallLog, rows: Sequence[LogRow], source: str) -> None:
    known = [
        (row, line)
        for row, line in zip(log.rows, log.lines, strict=True)
        if not _mistyped(row.time, log.rows, min(new.time for new in rows))
    ]
    latest = {row.machine: (row.time, line) for row, line in known}
    for row in rows:
        before = latest.get(row.machine)
        if before is not None and row.time < before[0]:
            place = f", line {before[1]}" if before[1] else ""
            raise InputError(
                "the clock goes back; nothing was added",
                source=source,
                field=f"machine {row.machine}{place}",
                found=row.time.isoformat(timespec="seconds"),
                expected=f"{before[0].isoformat(timespec='seconds')} or later, the test before it",
                hint="is the clock right, and the time of that line? a test entered late is added "
                "with its own time (--date)",
            )
        latest[row.machine] = (row.time, 0)


def _mistyped(time: datetime, logged: Sequence[LogRow], now: datetime) -> bool:
    """Return whether a time stands so far ahead of all others that it is a slip of the pen.

    So does every time of a log if the clock has fallen back for want of a battery: but then no test
    lies before it, or others less than a year after it.
    """
    if time <= now or not any(row.time <= now for row in logged):
        return False
    return min(row.time for row in logged if row.time > now) - now > _AHEAD


def _remove_left_over(target: str) -> None:
    """Remove what a process that was killed has left: under the lock nobody writes them."""
    folder, name = os.path.split(target)
    for other in os.listdir(folder or "."):
        if other.startswith(name) and _LEFT_OVER.fullmatch(other[len(name) :]):
            with contextlib.suppress(OSError):
                os.unlink(os.path.join(folder, other))


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
