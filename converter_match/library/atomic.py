"""A file appears whole or not at all, and takes nobody's place without being asked."""

from __future__ import annotations

import os
import uuid

from converter_match.errors import InputError
from converter_match.library.files import FilePath


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
    """Write bytes to a file, whole or not at all; as `write_text`."""
    source = os.fspath(path)
    if os.path.isdir(source):
        raise InputError("is a folder", source=source, expected="the name of a file")
    if os.path.lexists(source) and not overwrite:
        raise InputError(
            "is there already",
            source=source,
            expected="a new name",
            hint="nothing is overwritten without being asked",
        )
    target = os.path.realpath(source)  # a link stays a link
    # Never the name of a draft that a killed process left: process numbers come again.
    draft = f"{target}.{uuid.uuid4().hex[:12]}.part"
    try:
        with open(draft, "xb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, target)
    except OSError as error:
        _drop(draft)
        why = error.strerror.lower() if error.strerror else error
        raise InputError(f"cannot be written: {why}", source=source) from None
    except BaseException:  # interrupted: leave nothing half-written
        _drop(draft)
        raise


def _drop(path: str) -> None:
    if os.path.exists(path):
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
