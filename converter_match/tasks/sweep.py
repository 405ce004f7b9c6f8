"""A function over many pieces of work: results in order, lost ones named, nothing done twice."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from converter_match.errors import WorkLost
from converter_match.tasks.piece import Function, Sealed, facts
from converter_match.tasks.plain import Unreadable, from_bytes, to_bytes
from converter_match.tasks.workers import HERE, MORE_ROOM, Done, WorkerDied, Workers

Progress = Callable[[int, int, str], None]


class Store(Protocol):
    """Where results are kept, by a key that says everything they depend on."""

    def get(self, key: str) -> bytes | None:
        """Return what is kept under a key; None for nothing."""

    def put(self, key: str, value: bytes) -> None:
        """Keep a result, or leave it where it cannot be kept."""


@dataclass(frozen=True)
class Lost:
    """A piece without a result.

    Parameters
    ----------
    piece : int
        Which, counted from 0.
    error : Exception
        What went wrong.
    name : str
        What it is, in words.
    """

    piece: int
    error: Exception
    name: str = ""

    @property
    def why(self) -> str:
        """What went wrong, in one line."""
        if isinstance(self.error, MemoryError):
            return f"out of memory; {MORE_ROOM}"
        text = " ".join(str(self.error).split())
        kind = type(self.error).__name__
        said = isinstance(self.error, ValueError | RuntimeError) and text
        return text if said else f"{kind}: {text}"


# No fault of a piece: on another machine it would be done.
_NO_FAULT = (MemoryError, WorkerDied)


@dataclass(frozen=True)
class Swept:
    """What came of a sweep.

    Parameters
    ----------
    results : tuple
        One for each piece, in order; None where it is lost.
    lost : tuple of Lost
        In the order of the pieces.
    kept : int
        How many of the results were there already.
    """

    results: tuple[Any, ...]
    lost: tuple[Lost, ...] = ()
    kept: int = 0

    def all(self) -> tuple[Any, ...]:
        """Return the results where all of them are wanted.

        Raises
        ------
        WorkLost
            Where nothing is wrong but that workers died or had too little memory; it names the
            pieces.
        Exception
            That of the first piece that is lost for another reason.
        """
        wrong = [item for item in self.lost if not isinstance(item.error, _NO_FAULT)]
        if wrong:
            raise wrong[0].error
        if self.lost:
            first, others = self.lost[0], len(self.lost) - 1
            more = f" (and {others} more)" if others else ""
            name = first.name or f"piece {first.piece + 1}"
            raise WorkLost(f"not calculated: {name}{more}: {first.why}")
        return self.results


def sweep(
    function: Function,
    pieces: Sequence[Any],
    *,
    shared: Any = None,
    workers: Workers = HERE,
    store: Store | None = None,
    keys: Sequence[str] | None = None,
    progress: Progress | None = None,
    what: str | Sequence[str] = "",
    names: Sequence[str] | None = None,
) -> Swept:
    """Work on every piece, wherever the workers are, and return the results in order.

    What fails for one piece is no matter of the others: it is named, and they are finished. Ctrl-C
    ends the workers; what was kept by then is not done again the next time.

    Parameters
    ----------
    function : callable
        ``function(shared, piece)``, found by its name in another process. With a store its results
        are such as `plain.to_bytes` writes, and what is returned is what is read back from that,
        kept or not.
    pieces : sequence
        Cut by the work alone: results may not depend on how many workers there are.
    shared : object
        What all pieces need; sent once a process.
    workers : Workers
        By default this process alone.
    store : Store, optional
        Results are taken from it and kept in it.
    keys : sequence of str, optional
        For each piece, what its result depends on beside function and versions; with a store.
    progress : callable, optional
        Called with (done, of how many, what).
    what : str or sequence of str
        What is being done, for the progress; or what comes next, and what at the end.
    names : sequence of str, optional
        What each piece is, for what is said of those that are lost.

    Returns
    -------
    Swept

    Examples
    --------
    >>> sweep(pow, [1, 2, 3], shared=2).results
    (2, 4, 8)
    """
    results: list[Any] = [None] * len(pieces)
    lost: dict[int, Exception] = {}
    places = [_place(function, key) for key in keys] if store and keys is not None else []
    open_: list[int] = []
    for k in range(len(pieces)):
        found = store.get(places[k]) if store and places else None
        if found is not None:
            try:
                results[k] = from_bytes(found)
                continue
            except Unreadable:  # by somebody else's hand: what was kept here can be read
                pass
        open_.append(k)
    kept = len(pieces) - len(open_)
    count = kept

    def told() -> None:
        if progress:
            progress(count, len(pieces), what if isinstance(what, str) else what[count])

    def done(k: int, result: Any, error: Exception | None) -> None:
        nonlocal count
        count += 1
        if error is not None:
            lost[k] = error
        elif places:
            assert store is not None
            store.put(places[k], result)
            results[k] = from_bytes(result)
        else:
            results[k] = result
        told()

    told()
    left = _alone(function, pieces, shared, open_, workers, bool(places), done)
    if left:
        workers.run(function, pieces, left, Sealed(shared), bool(places), done)
    named = [Lost(k, lost[k], "" if names is None else names[k]) for k in sorted(lost)]
    return Swept(tuple(results), tuple(named), kept)


def _alone(
    function: Function,
    pieces: Sequence[Any],
    shared: Any,
    open_: Sequence[int],
    workers: Workers,
    as_bytes: bool,
    done: Done,
) -> list[int]:
    """Work in this process for as long as others are not worth their start; return what is left."""
    begun = time.monotonic()
    for place, k in enumerate(open_):
        if workers.is_time(shared, time.monotonic() - begun):
            return list(open_[place:])
        try:
            result = function(shared, pieces[k])
        except Exception as error:  # named with the piece; the others are still worth having
            done(k, None, error)
        else:
            done(k, to_bytes(result) if as_bytes else result, None)
    return []


def _place(function: Function, key: str) -> str:
    """Return where a result is kept: a digest of all that it depends on."""
    told = [function.__module__, function.__qualname__, *map("=".join, facts().items()), key]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()
