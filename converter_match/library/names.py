"""Names of files that mean something else on another system: devices, servers, streams.

What is written here goes to whoever orders, most likely on another kind of computer. So a name is
judged alike wherever the program runs, but for what only the system at hand can spoil.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import PureWindowsPath

from converter_match.errors import InputError

_Name = str | os.PathLike[str]

# Windows opens a device where a file has one of these names, whatever its suffix, in whatever
# folder; the raised digits count as well. (Microsoft, "Naming Files, Paths, and Namespaces"; from
# memory.)
_DEVICES = re.compile(
    r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³]) *([.:].*)?", re.IGNORECASE
)
# Two slashes of either kind begin a server's name on Windows and a device's; ``file://`` and its
# like are addresses.
_FAR = re.compile(r"\s*([\\/]{2}|[a-z][a-z0-9+.-]+:[\\/]{2}|file:)", re.IGNORECASE)


def is_device(name: _Name) -> bool:
    """Tell whether the last part of a name is that of a device on Windows.

    Examples
    --------
    >>> [is_device(name) for name in ("aux.csv", "out/NUL", "com10.csv", "auxiliary.csv")]
    [True, True, False, False]
    """
    return _DEVICES.fullmatch(PureWindowsPath(os.fspath(name)).name) is not None


def is_far(written: str) -> bool:
    r"""Tell whether a name inside a file leads to another computer, or to a device.

    Examples
    --------
    >>> [is_far(name) for name in (r"\\server\engine.toml", "//server/a", "file:a", "C:/a", "a/b")]
    [True, True, True, False, False]
    """
    return _FAR.match(written) is not None


def refuse_far(written: str, **where: str) -> None:
    """Refuse a name inside a file that leads to another computer.

    Looking whether such a file is there is enough for some systems to tell that computer who asks.

    Raises
    ------
    InputError
        With `where`, the source and field, if it does.
    """
    if is_far(written):
        raise InputError(
            "leads to another computer",
            **where,
            found=written,
            expected="a file on this one: beside this file, or by its path",
            hint="copy the file here; a file that somebody sends must not make this program call",
        )


def refuse_device(
    name: _Name, *, source: str, field: str | None = None, system: str = sys.platform
) -> None:
    """Refuse to write under a name that would lose what is written.

    Parameters
    ----------
    name : str or path-like
        As it was asked for.
    source : str
    field : str, optional
        The option that asks for it.
    system : str
        As `sys.platform` has it: a colon writes beside the file on Windows only, where nobody sees
        it, and a last point or space is dropped there.

    Raises
    ------
    InputError
        If it is the name of a device on Windows, on whatever system.
    """
    if is_device(name):
        raise InputError(
            "is the name of a device on Windows, whatever its ending",
            source=source,
            field=field,
            expected="another name",
            hint="there, such a file can be neither written nor opened, nor unpacked from a mail",
        )
    last = PureWindowsPath(os.fspath(name)).name
    if system == "win32" and last.strip(".") and (":" in last or last.endswith((".", " "))):
        raise InputError(
            "is no name that a file keeps on Windows",
            source=source,
            field=field,
            expected="a name without a colon, and without a point or space at its end",
        )
