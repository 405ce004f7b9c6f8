"""A file appears whole or not at all, and takes nobody's place without being asked."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import stat
import time
import uuid
from collections.abc import Iterator, Sequence
from contextvars import ContextVar
from dataclasses import dataclass

from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.names import refuse_device

_ABANDONED = 3600.0  # s; nothing that is written here takes nearly so long


def write_text(text: str, path: FilePath, *, overwrite: bool = False) -> None:
    """Write a text to a file, whole or not at all.

    Parameters
    ----------
    text : str
        Written as UTF-8 with LF line ends.
    path : str or path-like
        The file; its folder must be there.
    overwrite : bool
        Whether a file that is there may be replaced.

    Raises
    ------
    InputError
        If a file is there and `overwrite` is not given, or it cannot be written.
    """
    try:
        raw = text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise InputError(f"cannot be written: {error}", source=os.fspath(path)) from None
    write_bytes(raw, path, overwrite=overwrite)


def write_bytes(raw: bytes, path: FilePath, *, overwrite: bool = False) -> None:
    """Write bytes to a file, whole or not at all; as `write_text`.

    Inside `all_or_none` it takes its name when all else is written as well.
    """
    source = os.fspath(path)
    if not can_be_a_name(source):
        raise InputError("is no name that a file can have", source=repr(source))
    refuse_device(source, source=source)
    target = os.path.realpath(source)  # a link stays a link
    refuse_what_is_no_file(target, source=source)
    if os.path.lexists(source) and not overwrite:
        raise _there_already(source)
    clear_drafts(target)
    # Never the name of a draft that a killed process left: process numbers come again.
    draft = _Draft(f"{target}.{uuid.uuid4().hex[:12]}.part", target, source, overwrite)
    try:
        with open(draft.path, "xb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        _drop(draft.path)
        raise cannot(error, source) from None
    except BaseException:  # interrupted: leave nothing half-written
        _drop(draft.path)
        raise
    waiting = _WAITING.get()
    if waiting is None:
        _put_in_place([draft])
    else:
        waiting.append(draft)


@contextlib.contextmanager
def all_or_none() -> Iterator[None]:
    """Let every file that is written inside take its name at the end, or none of them.

    Raises
    ------
    InputError
        If a file of that name has come up meanwhile. Then none of the files is there.
    """
    waiting: list[_Draft] = []
    before = _WAITING.set(waiting)
    try:
        yield
        _put_in_place(waiting)
    finally:
        _WAITING.reset(before)
        for draft in waiting:
            _drop(draft.path)


@dataclass(frozen=True)
class _Draft:
    """What is written and has not its name yet."""

    path: str
    target: str
    source: str  # as it was asked for
    overwrite: bool


_WAITING: ContextVar[list[_Draft] | None] = ContextVar("waiting", default=None)


def _put_in_place(drafts: Sequence[_Draft]) -> None:
    """Give drafts their names; new ones first, since only they can find their name taken."""
    new: list[str] = []
    try:
        for draft in sorted(drafts, key=lambda draft: draft.overwrite):
            if draft.overwrite:
                os.replace(draft.path, draft.target)
                continue
            try:
                os.link(draft.path, draft.target)  # unlike a rename fails where somebody was first
            except FileExistsError:
                raise _there_already(draft.source) from None
            except OSError:  # a file system without hard links
                if os.path.lexists(draft.target):
                    raise _there_already(draft.source) from None
                os.rename(draft.path, draft.target)
            new.append(draft.target)
    except OSError as error:
        for target in new:
            _drop(target)
        raise cannot(error, draft.source) from None
    except BaseException:
        for target in new:
            _drop(target)
        raise
    finally:
        for draft in drafts:
            _drop(draft.path)


def refuse_what_is_no_file(target: FilePath, *, source: str, field: str | None = None) -> None:
    """Refuse to write where there is something that is no file: a folder, a device, a pipe.

    Raises
    ------
    InputError
        If there is.
    """
    try:
        kind = os.stat(target).st_mode
    except (OSError, ValueError):  # nothing there, or nothing that can be looked at
        return
    if not stat.S_ISREG(kind):
        what = "a folder" if stat.S_ISDIR(kind) else "a device, a pipe or a socket"
        raise InputError(f"is {what}", source=source, field=field, expected="the name of a file")


def _there_already(source: str) -> InputError:
    return InputError(
        "is there already",
        source=source,
        expected="a new name",
        hint="nothing is overwritten without being asked",
    )


def cannot(error: OSError, source: str) -> InputError:
    """Return the error for a file that the system did not let be written."""
    why = error.strerror.lower() if error.strerror else error
    held = isinstance(error, PermissionError) and os.path.exists(source)
    hint = "is it open in another program?" if held else None  # Windows lets nobody replace it then
    return InputError(f"cannot be written: {why}", source=source, hint=hint)


def can_be_a_name(text: str) -> bool:
    r"""Tell whether the system could be asked for a file of that name at all.

    Examples
    --------
    >>> can_be_a_name("pièce 1.toml"), can_be_a_name("a\0b"), can_be_a_name("\ud800")
    (True, False, False)
    """
    try:
        return b"\0" not in os.fsencode(text)
    except UnicodeEncodeError:  # half of a character
        return False


def clear_drafts(target: FilePath) -> None:
    """Remove what a killed process (kill -9, power cut) left of its drafts of a target.

    Parameters
    ----------
    target : str or path-like
        File or folder that is about to be written. Only drafts of this very name are looked at,
        and only those that nobody has touched for so long that whoever wrote them is gone. One
        that cannot be removed stays.
    """
    folder, name = os.path.split(os.path.abspath(target))
    draft = re.compile(rf"\.?{re.escape(name)}\.[0-9a-f]{{12,32}}\.part")
    with contextlib.suppress(OSError, ValueError), os.scandir(folder) as entries:
        for entry in entries:
            if draft.fullmatch(entry.name) is None:
                continue
            with contextlib.suppress(OSError):
                if time.time() - entry.stat(follow_symlinks=False).st_mtime < _ABANDONED:
                    continue
                if entry.is_dir(follow_symlinks=False):
                    shutil.rmtree(entry.path, ignore_errors=True)
                else:
                    os.unlink(entry.path)


def _drop(path: str) -> None:
    with contextlib.suppress(OSError):  # where nothing can be written, nothing can be removed
        os.unlink(path)


def exchange(one: FilePath, other: FilePath) -> bool:
    """Let two files or folders change names in one step, where the system has such a step.

    Two renames, one after the other, leave neither old nor new in place if the process is killed
    between them.

    Parameters
    ----------
    one, other : str or path-like
        In the same file system; both are there.

    Returns
    -------
    bool
        Whether it was done; if not, nothing has changed.
    """
    import ctypes

    try:
        system = ctypes.CDLL(None, use_errno=True)
    except (OSError, TypeError):  # another kind of operating system
        return False
    names = os.fsencode(os.path.abspath(one)), os.fsencode(os.path.abspath(other))
    if hasattr(system, "renameat2"):  # Linux: RENAME_EXCHANGE, paths relative to the present folder
        here, swap = -100, 2
        return bool(system.renameat2(here, names[0], here, names[1], ctypes.c_uint(swap)) == 0)
    if hasattr(system, "renamex_np"):  # macOS: RENAME_SWAP
        return bool(system.renamex_np(names[0], names[1], ctypes.c_uint(2)) == 0)
    return False
