"""Workers of a cluster that runs already, reached by the address of its scheduler."""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from converter_match.errors import InputError
from converter_match.tasks import piece
from converter_match.tasks.piece import Sealed
from converter_match.tasks.workers import MORE_ROOM, WorkerDied, Workers

OPTION = "--cluster"
WAIT = 10.0
"""Seconds for a scheduler to answer, and for a first worker to be there."""
# So long may a cluster be without any worker: one that died is usually started anew by its nanny.
_EMPTY = 30.0


@contextmanager
def cluster(address: str, *, wait: float = WAIT, empty: float = _EMPTY) -> Iterator[Workers]:
    """Connect to a cluster, see that its workers would compute the same, and yield them.

    A piece whose worker is lost is given to another by the scheduler. Whoever can reach a scheduler
    can run code on its workers: use one in a network that you trust, or with TLS.

    Parameters
    ----------
    address : str
        Of the scheduler, as ``tcp://host:8786``.
    wait : float
        Seconds for it to answer, and for a first worker.
    empty : float
        Seconds that it may be without any worker in the midst of work.

    Yields
    ------
    Workers

    Raises
    ------
    InputError
        If `distributed` is not installed, no scheduler answers, it has no workers, or they have
        another package, Python, numpy or scipy than this session.
    """
    try:
        from distributed import Client
    except ImportError:
        raise InputError(
            "needs the extra 'cluster'",
            source=OPTION,
            found=address,
            hint='install it with: python -m pip install "converter-match[cluster]"',
        ) from None
    try:
        if not address.strip():  # nothing named would start a cluster
            raise ValueError("no address")
        client: Any = Client(address, timeout=wait, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TypeError, ImportError) as error:  # TimeoutError is an OSError
        raise InputError(
            "no scheduler answers",
            source=OPTION,
            found=address,
            expected="the address of a running one, as tcp://host:8786",
            hint=_first_line(error),
        ) from None
    try:
        _see_workers(client, address, wait)
        with client.get_executor(pure=False) as executor:
            yield Workers(
                executor=executor,
                places=sum(client.nthreads().values()),
                hold=lambda shared: _held(client, shared),
                check=_watch(client, address, empty),
                patience=0.0,
                said_of=_said_of,
            )
    finally:
        client.close(timeout=wait)


def _see_workers(client: Any, address: str, wait: float) -> None:
    """Refuse a cluster without workers, or with workers that would compute something else."""
    try:
        client.wait_for_workers(1, timeout=wait)
    except TimeoutError:
        raise _none_there(address) from None
    try:
        told = client.run(_facts_there)
    except ModuleNotFoundError as error:
        raise InputError(
            f"the workers cannot do this work: {error}",
            source=OPTION,
            found=address,
            expected="converter-match installed where the workers run, as here",
        ) from None
    own = piece.facts()
    wrong = {
        worker: [f"{k} {theirs.get(k, 'none')}" for k in own if theirs.get(k) != own[k]]
        for worker, theirs in told.items()
    }
    bad = {worker: names for worker, names in wrong.items() if names}
    if bad:
        worker, names = next(iter(bad.items()))
        named = [name.split()[0] for name in names]
        others = f", and {len(bad) - 1} more" if len(bad) > 1 else ""
        raise InputError(
            "workers with other versions would give other results",
            source=OPTION,
            found=f"{worker}: {', '.join(names)}{others}",
            expected=", ".join(f"{name} {own[name]}" for name in named),
        )


def _facts_there() -> dict[str, str]:
    return piece.facts()


def _held(client: Any, shared: Sealed) -> Any:
    """Return what all pieces share as something that travels to each worker once.

    It is the result of a piece of its own: a worker that was lost, with the only copy, is no loss.
    """
    return client.submit(_as_it_is, shared, key=f"shared-{uuid.uuid4().hex}")


def _as_it_is(shared: Sealed) -> Sealed:
    return shared


def _watch(client: Any, address: str, empty: float) -> Callable[[], None]:
    """Return what raises where nobody has been there to work for too long."""
    seen = time.monotonic()

    def check() -> None:
        nonlocal seen
        if client.status != "running":
            raise InputError(
                "the scheduler is gone",
                source=OPTION,
                found=address,
                hint="what was done is kept: start it, and run the same again",
            )
        if client.nthreads():
            seen = time.monotonic()
        elif time.monotonic() - seen > empty:
            raise _none_there(address)

    return check


def _said_of(error: Exception) -> Exception:
    """Return what became of a piece whose workers died, or were ended by their nannies."""
    from distributed.scheduler import KilledWorker

    if not isinstance(error, KilledWorker):
        return error
    tries = error.allowed_failures + 1
    return WorkerDied(
        f"it brought down {tries} workers one after another: out of memory, or killed; {MORE_ROOM}"
    )


def _none_there(address: str) -> InputError:
    return InputError(
        "the scheduler has no workers",
        source=OPTION,
        found=address,
        expected="at least one worker started with its address",
    )


def _first_line(error: Exception) -> str:
    return str(error).strip().partition("\n")[0]
