"""Where logs lie: a folder here, or a store that is reached by an address such as ``s3://...``.

A fleet may be partitioned, as tables of many files are by open convention: folders called
``machine=loader-03/day=2031-05-04``, with files of any name inside. Stores are opened by pyarrow,
or by fsspec for the schemes that it alone knows; who may read there is their affair and the
environment's. Nothing is written to a store.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath

MACHINE = "machine"
_DAYS = ("day", "date", "month")
_DAY = re.compile(r"(\d{4})-?(\d{2})(?:-?(\d{2}))?(?:[T ].*)?")
_NO_VALUE = "__HIVE_DEFAULT_PARTITION__"


class Partition(NamedTuple):
    """What the folders of a file say.

    Parameters
    ----------
    machine : str
    day : str
        As ``2031-05-04``, or ``2031-05``.
    """

    machine: str
    day: str


def is_address(path: FilePath) -> bool:
    """Return whether a path is an address of a store, such as ``s3://logs/fleet``.

    Examples
    --------
    >>> is_address("s3://logs/fleet"), is_address("fleet/a.parquet")
    (True, False)
    """
    return "://" in os.fspath(path)


def as_shown(path: FilePath) -> str:
    """Return a path as messages and results show it: of an address neither key nor settings.

    Examples
    --------
    >>> as_shown("s3://key:secret@logs/fleet?region=north")
    's3://logs/fleet'
    >>> as_shown("fleet?/a.parquet")
    'fleet?/a.parquet'
    """
    text = os.fspath(path)
    if not is_address(text):
        return text
    scheme, _, rest = text.partition("://")
    host, slash, folder = rest.partition("?")[0].partition("/")
    return f"{scheme}://{host.rpartition('@')[2]}{slash}{folder}"


@lru_cache(maxsize=8)
def store_of(address: str) -> tuple[Any, str]:
    """Return the file system of an address, and the path in it.

    Parameters
    ----------
    address : str

    Raises
    ------
    InputError
        If there is no such kind of store, or it does not answer.
    ImportError
        If pyarrow is not installed.
    """
    from pyarrow import fs
    from pyarrow.lib import ArrowException

    try:
        found: tuple[Any, str] = fs.FileSystem.from_uri(address)
        return found
    except (ArrowException, OSError, ValueError) as error:
        first = error
    try:
        from fsspec.core import url_to_fs

        if "::" in address:  # chained: one of them could keep copies
            raise ValueError(address)
        other, path = url_to_fs(address)
    except (ImportError, OSError, ValueError):
        raise InputError(
            "no store that can be read",
            source=as_shown(address),
            expected="a folder, or an address as s3://bucket/folder",
            hint=str(first).strip().partition("\n")[0].replace(address, as_shown(address)),
        ) from None
    return fs.PyFileSystem(fs.FSSpecHandler(other)), path


@dataclass(frozen=True)
class StoredFile(os.PathLike[str]):
    """A file in a store: not an address of its own, in which ``%20`` would become a space.

    Parameters
    ----------
    root : str
        Address of the folder that was named.
    below : str
        Path below it.
    """

    root: str
    below: str = ""

    def __fspath__(self) -> str:
        """Return what messages call it."""
        return "/".join(part for part in (as_shown(self.root).rstrip("/"), self.below) if part)

    def __str__(self) -> str:
        return self.__fspath__()

    def open(self) -> Any:
        """Return the file, opened to be read at any place.

        Raises
        ------
        InputError
            If it cannot be opened.
        """
        from pyarrow.lib import ArrowException

        store, path = store_of(self.root)
        try:
            whole = "/".join(part for part in (path.rstrip("/"), self.below) if part)
            return store.open_input_file(whole)
        except (ArrowException, OSError) as error:
            raise InputError(
                f"cannot be opened: {str(error).strip().partition(chr(10))[0]}", source=str(self)
            ) from None


def files_below(root: str) -> list[tuple[FilePath, str]]:
    """Return every file below a folder or address: (path, path below the root).

    Parameters
    ----------
    root : str

    Raises
    ------
    InputError
        If there is no such folder.
    """
    if not is_address(root):
        found = [os.path.join(folder, name) for folder, _, names in os.walk(root) for name in names]
        return [
            (path, os.path.relpath(path, root).replace(os.sep, "/"))
            for path in sorted(found)
            if os.path.isfile(path)
        ]
    try:
        from pyarrow import fs
        from pyarrow.lib import ArrowException
    except ImportError:
        raise InputError(
            "reading from a store needs the package pyarrow",
            source=as_shown(root),
            hint='python -m pip install "converter-match[logs]"',
        ) from None
    store, path = store_of(root)
    try:
        listed = store.get_file_info(fs.FileSelector(path, recursive=True))
    except (ArrowException, OSError) as error:
        raise InputError(
            "no such folder" if isinstance(error, FileNotFoundError) else "cannot be listed",
            source=as_shown(root), expected="a folder of machines' logs",
            hint=str(error).strip().partition("\n")[0],
        ) from None  # fmt: skip
    base = path.strip("/")
    inside = [
        item.path.strip("/")[len(base) :].strip("/")
        for item in listed
        if item.type == fs.FileType.File
    ]
    return [(StoredFile(root, below), below) for below in sorted(inside)]


def is_partitioned(names: Iterable[str]) -> bool:
    """Return whether folders are named by key and value.

    Parameters
    ----------
    names : iterable of str
        Of the folders on top.

    Examples
    --------
    >>> is_partitioned(["machine=a", "machine=b"]), is_partitioned(["a", "b"])
    (True, False)
    """
    return any("=" in name for name in names)


def partition_of(below: str, source: str) -> Partition:
    """Return which machine and day a file belongs to.

    Parameters
    ----------
    below : str
        Path below the root, with ``/`` between.
    source : str
        For messages.

    Raises
    ------
    InputError
        If the folders do not name a machine and a day.

    Examples
    --------
    >>> partition_of("machine=loader%2003/day=2031-05-04/0.parquet", "here")
    Partition(machine='loader 03', day='2031-05-04')
    >>> partition_of("year=2031/month=5/machine=a/day=4/0.parquet", "here").day
    '2031-05-04'
    """
    said = dict(part.split("=", 1) for part in below.split("/")[:-1] if "=" in part)
    named = {key.casefold(): _plain(value) for key, value in said.items()}
    machine, day = named.get(MACHINE), _day(named)
    if not machine or machine == _NO_VALUE or not machine.isprintable():
        raise InputError(
            "the folders do not say which machine it is",
            source=source,
            found=below.rpartition("/")[0] or "no folder",
            expected="folders such as machine=loader-03/day=2031-05-04",
            hint=did_you_mean(MACHINE, named),
        )
    if day is None:
        raise InputError(
            "the folders do not say which day it is",
            source=source,
            found=below.rpartition("/")[0],
            expected="folders such as machine=loader-03/day=2031-05-04, or year=, month=, day=",
        )
    return Partition(machine, day)


def _plain(value: str) -> str:
    """Return a value as it was before it was made fit for a name: ``%20`` is a space."""
    raw = re.sub(
        rb"%([0-9A-Fa-f]{2})", lambda m: bytes([int(m[1], 16)]), value.encode("utf-8", "replace")
    )
    return raw.decode("utf-8", "replace")


def _day(named: dict[str, str]) -> str | None:
    if "year" in named and "month" in named:
        parts = [named["year"], named["month"], *([named["day"]] if "day" in named else [])]
        if not all(part.isascii() and part.isdigit() for part in parts):
            return None
        return _checked("-".join([parts[0].zfill(4), *(p.zfill(2) for p in parts[1:])]))
    text = next((named[key] for key in _DAYS if key in named), "")
    return _checked(text)


def _checked(text: str) -> str | None:
    """Return a date as ``2031-05-04`` or ``2031-05``; None where it is none."""
    from datetime import date

    found = _DAY.fullmatch(text)
    if not found:
        return None
    year, month, day = found.groups()
    try:
        date(int(year), int(month), int(day or 1))
    except ValueError:
        return None
    return "-".join(part for part in (year, month, day) if part)
