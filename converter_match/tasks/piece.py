"""What a worker does: one piece of work, with the package and libraries that were asked for."""

from __future__ import annotations

import hashlib
import os
import platform
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from converter_match.tasks.plain import to_bytes
from converter_match.version import __version__

Function = Callable[[Any, Any], Any]
"""Work on one piece: ``function(shared, piece)``, importable by its name."""

_LIBRARIES = ("numpy", "scipy")
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
_GIVEN: list[Sealed] = []  # of a process of a pool: what all pieces share


class Mismatch(RuntimeError):
    """A worker whose package or libraries are not those of the session that asks."""


@cache
def facts() -> dict[str, str]:
    """Return what results may hang on: versions, and a digest of the package's own sources.

    The version alone would not tell a checkout that was edited from one that was not.
    """
    root = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256()
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes())
    found = {"converter-match": __version__, "sources": digest.hexdigest()[:16]}
    found["python"] = ".".join(map(str, sys.version_info[:2]))
    found["machine"] = platform.machine()
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:  # found on a path, without its metadata
            found[name] = "not known"
    return found


def differing(asked: dict[str, str]) -> str:
    """Return in what this process differs from what is asked for, as text; empty for nothing."""
    own = facts()
    names = [name for name in own if own[name] != asked.get(name)]
    return ", ".join(f"{name} {own[name]} in place of {asked.get(name, 'none')}" for name in names)


@dataclass(frozen=True)
class Sealed:
    """Something that travels as it is: an executor that looks into lists and tuples sees nothing.

    Parameters
    ----------
    content : object
    """

    content: Any


def work(
    function: Function,
    shared: Sealed | None,
    piece: Sealed,
    asked: dict[str, str],
    as_bytes: bool,
) -> Any:
    """Work on one piece in another process, and return what comes of it.

    Parameters
    ----------
    function : callable
    shared : Sealed or None
        What all pieces share; None where the process was given it when it began.
    piece : Sealed
    asked : dict of str to str
        `facts` of the session that asks.
    as_bytes : bool
        Whether the result is wanted as `plain.to_bytes` writes it, to be kept.

    Raises
    ------
    Mismatch
        If this process would work with another package or other libraries.
    """
    wrong = differing(asked)
    if wrong:
        raise Mismatch(f"the worker on {platform.node()} has {wrong}")
    result = function((_GIVEN[0] if shared is None else shared).content, piece.content)
    return to_bytes(result) if as_bytes else result


def begin(shared: Sealed) -> None:
    """Make a process of a pool ready, and let it end with its parent.

    Parameters
    ----------
    shared : Sealed
        What all pieces share.
    """
    _GIVEN[:] = [shared]
    threading.Thread(target=_end_with_parent, daemon=True).start()


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Let processes that begin inside use one thread for linear algebra: there is one a core."""
    before = {name: os.environ.get(name) for name in _THREADS}
    os.environ.update(dict.fromkeys(_THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _end_with_parent() -> None:
    """End this process when its parent is gone, be it killed: nobody else would end it."""
    from multiprocessing import parent_process
    from multiprocessing.connection import wait

    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
