"""Functions of plain numbers, run as machine code: made at the first call and kept for later ones.

numba makes machine code of them, and keeps it beside their source, or in the user's cache where
that cannot be written to. To make it takes some seconds, so whoever sits at a terminal is told.
numba itself is half a second to import: import this where a march in small steps begins.
"""

from __future__ import annotations

import hashlib
import inspect
import multiprocessing
import sys
from collections.abc import Callable, Sequence
from threading import Timer
from types import ModuleType
from typing import Any, Generic, ParamSpec, TypeVar

import numba

from converter_match.version import __version__

P = ParamSpec("P")
R = TypeVar("R")

PATIENCE = 2.0
"""Seconds that pass before anything is said."""


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Return a function for use inside a `MachineCode` one; it is made and kept together with that.

    Parameters
    ----------
    function : callable
        Of numbers, records and arrays.
    """
    made: Callable[P, R] = numba.njit(function)
    return made


class MachineCode(Generic[P, R]):
    """A function that becomes machine code when it is first called, or is read from where that is.

    Parameters
    ----------
    of_source : callable
        Returns the function, given the number of its source; the function has to use that number.
        numba asks whether what it kept still holds by the text of the function's own file and by
        the values from around it that the function uses, and would miss a change of what it calls
        in other files.
    sources : sequence of module
        All whose text the result depends on.
    """

    def __init__(
        self, of_source: Callable[[int], Callable[P, R]], sources: Sequence[ModuleType]
    ) -> None:
        self.sources = tuple(sources)
        # This module too: it says how things are compiled.
        modules = [sys.modules[__name__], *sources]
        text = "".join([__version__, *map(_text, modules)])
        self.source = int.from_bytes(hashlib.sha256(text.encode()).digest()[:7], "big")
        self._function = of_source(self.source)
        self._made: Callable[P, R] | None = None

    def __call__(self, *arguments: P.args, **named: P.kwargs) -> R:
        """Call the function; every call has arguments of the same types, none of them named."""
        if self._made is None:
            self._made = _ready(self._function, arguments)
        return self._made(*arguments, **named)


def _text(module: ModuleType) -> str:
    try:
        return inspect.getsource(module)
    except OSError:  # shipped without; then the version tells
        return ""


def _ready(function: Callable[P, R], arguments: tuple[Any, ...]) -> Any:
    """Return a function that runs at once with arguments of these types."""
    if numba.config.DISABLE_JIT:
        return function
    types = tuple(numba.typeof(value) for value in arguments)
    timer = Timer(PATIENCE, _say)
    timer.start()
    try:
        try:
            return _read_or_made(function, types)
        except Exception:
            # There is no place to keep it, or none left there. If it is the function itself that
            # is wrong, this says so again.
            made = numba.njit(function)
            made.compile(types)
            return made
    finally:
        timer.cancel()


def _read_or_made(function: Callable[P, R], types: tuple[Any, ...]) -> Any:
    made = numba.njit(cache=True)(function)
    try:
        made.compile(types)
    except Exception:
        if made.signatures:  # it is made, and could not be kept
            return made
        made.recompile()  # what was kept cannot be read: it is forgotten
        made.compile(types)
    return made


def _say() -> None:
    if sys.stderr.isatty() and multiprocessing.parent_process() is None:
        print(
            "compiling for this computer, some seconds; what comes of it is kept where it can be",
            file=sys.stderr,
        )
