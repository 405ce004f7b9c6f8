"""Who works: this process, the processes of a pool, or somebody's executor."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from converter_match.errors import InputError
from converter_match.tasks import piece
from converter_match.tasks.piece import Sealed

Done = Callable[[int, Any, Exception | None], None]
"""Called with (which piece, its result, or the error that it ended with)."""

MOST_JOBS = 1024
"""Processes that are asked for at most."""
PATIENCE = 2.0
"""Seconds of work in this process before others are started, which takes about as long."""
# Pieces handed out at a time to each worker: enough that none waits, few enough to be told apart
# when one of them brings its worker down.
_AHEAD = 2
_VAIN = 3  # pieces lost with their processes, and none done: it is not the pieces
_TICK = 1.0  # s between two looks at whether anybody is there


MORE_ROOM = "fewer processes at once, more memory for each, or fewer draws would help"
"""What to do about a piece that is too large for a worker."""


class WorkerDied(RuntimeError):
    """A piece whose worker died each time that it was tried."""


@dataclass(frozen=True)
class Workers:
    """Where pieces of work go.

    Parameters
    ----------
    jobs : int
        Processes; 1 is this process alone. Without an executor.
    executor : concurrent.futures.Executor, optional
        Somebody else's: it is used, and left open.
    places : int
        How many pieces the executor works on at a time.
    hold : callable, optional
        Turns what all pieces share into what is handed to each of them, so that it travels once.
    check : callable, optional
        Called now and then while nothing ends; raises where nobody is left to work.
    patience : float
        Seconds of work in this process first.
    standing : Standing, optional
        Processes that stand between sweeps (`processes`).
    said_of : callable, optional
        Turns an error of the executor's own into one that says what became of a piece.

    Raises
    ------
    InputError
        If there is not at least one job.
    """

    jobs: int = 1
    executor: Executor | None = None
    places: int = 1
    hold: Callable[[Sealed], Any] | None = None
    check: Callable[[], None] | None = None
    patience: float = PATIENCE
    standing: Standing | None = None
    said_of: Callable[[Exception], Exception] | None = None

    def __post_init__(self) -> None:
        if self.jobs < 1:
            raise InputError("out of range", field="jobs", found=self.jobs, expected="1 or more")

    @property
    def alone(self) -> bool:
        """Whether all is done in this process."""
        return self.executor is None and self.jobs == 1

    def is_time(self, shared: object, seconds: float) -> bool:
        """Whether others are worth their start after some seconds of work in this process."""
        up = self.standing is not None and self.standing.serves(shared)
        return not self.alone and (up or seconds >= self.patience)

    def run(
        self,
        function: piece.Function,
        pieces: Sequence[Any],
        open_: Sequence[int],
        shared: Sealed,
        as_bytes: bool,
        done: Done,
    ) -> None:
        """Work on some pieces, and tell what comes of each.

        Parameters
        ----------
        function : callable
        pieces : sequence
        open_ : sequence of int
            Which of them.
        shared : Sealed
            What all share.
        as_bytes : bool
            Whether results are wanted as bytes, to be kept.
        done : callable
        """
        asked = piece.facts()
        if self.executor is None:
            standing = Standing() if self.standing is None else self.standing
            jobs = self.jobs if self.standing is not None else min(self.jobs, len(open_))
            try:
                _Pooled(function, pieces, shared, as_bytes, done, jobs, standing).run(deque(open_))
            finally:
                if self.standing is None:
                    standing.close()
            return
        held = shared if self.hold is None else self.hold(shared)
        executor, said_of = self.executor, self.said_of

        def ended(k: int, result: Any, error: Exception | None) -> None:
            done(k, result, error if error is None or said_of is None else said_of(error))

        def submit(k: int) -> Future[Any]:
            return executor.submit(piece.work, function, held, Sealed(pieces[k]), asked, as_bytes)

        running: dict[Future[Any], int] = {}
        waiting = deque(open_)
        try:
            broken = _drive(submit, waiting, _AHEAD * self.places, running, ended, self.check)
        except BaseException:
            for future in running:
                future.cancel()
            raise
        for k in (*broken, *waiting):
            done(k, None, WorkerDied("the executor broke down, and takes no more"))


@contextmanager
def _ctrl_c_not_passed_on() -> Iterator[None]:
    """Let a process that starts inside never hear of ctrl-C, which is heeded here afterwards.

    Starting one takes until it has read what it is given: a request to stop is put off, not lost.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _drive(
    submit: Callable[[int], Future[Any]],
    waiting: deque[int],
    ahead: int,
    running: dict[Future[Any], int],
    done: Done,
    check: Callable[[], None] | None = None,
) -> list[int]:
    """Keep workers busy until all is done; return the pieces that were out when they broke down."""
    broken: list[int] = []
    while (waiting and not broken) or running:
        while waiting and len(running) < ahead and not broken:
            k = waiting.popleft()
            try:
                running[submit(k)] = k
            except (BrokenExecutor, RuntimeError):
                waiting.appendleft(k)
                broken = [] if running else [waiting.popleft()]
                break
        ended, _ = wait(running, timeout=_TICK, return_when=FIRST_COMPLETED)
        if not ended and check is not None:
            check()
        for future in ended:
            k = running.pop(future)
            try:
                result = future.result()
            except BrokenExecutor:
                broken.append(k)
            except CancelledError as error:
                done(k, None, WorkerDied(f"given up by the executor {error}".rstrip()))
            except Exception as error:  # named with the piece; the others are still worth having
                done(k, None, error)
            else:
                done(k, result, None)
    return sorted(broken)


class Standing:
    """A pool of processes that stands between sweeps: starting one takes a second or two."""

    def __init__(self) -> None:
        self._pool: ProcessPoolExecutor | None = None
        self._for: tuple[object, int] = (None, 0)

    def serves(self, shared: object) -> bool:
        """Whether processes are up that were given what is shared."""
        return self._pool is not None and self._for[0] is shared

    def pool(self, shared: Sealed, jobs: int) -> ProcessPoolExecutor:
        """Return a pool of so many processes that were given what is shared."""
        if self._pool is not None and self.serves(shared.content) and self._for[1] == jobs:
            return self._pool
        self.close()
        # Spawned: a fork would copy threads and locks of whatever else runs in this process.
        self._pool = ProcessPoolExecutor(
            jobs,
            mp_context=multiprocessing.get_context("spawn"),
            initializer=piece.begin,
            initargs=(shared,),
        )
        self._for = shared.content, jobs
        return self._pool

    def close(self) -> None:
        """End the processes when they are done."""
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = None

    def kill(self) -> None:
        """End the processes at once: what they are at is of no use to anybody."""
        if self._pool is None:
            return
        running = list((getattr(self._pool, "_processes", None) or {}).values())
        self._pool.shutdown(wait=False, cancel_futures=True)
        for process in running:
            process.kill()
        self._pool = None


@dataclass
class _Pooled:
    """Some pieces, worked on by a pool that is built anew when one of its processes dies."""

    function: piece.Function
    pieces: Sequence[Any]
    shared: Sealed
    as_bytes: bool
    done: Done
    jobs: int
    standing: Standing
    ended: int = 0

    def run(self, waiting: deque[int]) -> None:
        """Work on pieces; those that were out when a process died are tried again, one by one.

        Raises
        ------
        InputError
            If no process ever gets as far as a result.
        """
        vain = 0
        while waiting:
            for k in self._together(waiting, self.jobs):
                if not self._together(deque([k]), 1):
                    continue
                vain += 1
                if not self.ended and vain == _VAIN:
                    raise InputError(
                        "processes do not start, or die at once",
                        field="jobs",
                        found=self.jobs,
                        expected="1, for this process alone",
                    )
                why = f"its process died twice: killed, or out of memory; {MORE_ROOM}"
                self.done(k, None, WorkerDied(why))

    def _together(self, waiting: deque[int], jobs: int) -> list[int]:
        """Return the pieces that were out when a process died; none where all went well."""
        asked = piece.facts()
        pool = self.standing.pool(self.shared, jobs)

        def submit(k: int) -> Future[Any]:
            work = (self.function, None, Sealed(self.pieces[k]), asked, self.as_bytes)
            with _ctrl_c_not_passed_on():
                return pool.submit(piece.work, *work)

        running: dict[Future[Any], int] = {}
        try:
            with piece.one_thread_each():
                broken = _drive(submit, waiting, _AHEAD * jobs, running, self._ended)
        except BaseException:
            self.standing.kill()
            raise
        if broken:
            self.standing.close()
        return broken

    def _ended(self, k: int, result: Any, error: Exception | None) -> None:
        self.ended += 1
        self.done(k, result, error)


@contextmanager
def processes(jobs: int, patience: float = PATIENCE) -> Iterator[Workers]:
    """Yield workers whose processes stand from their first sweep to the end.

    Parameters
    ----------
    jobs : int
    patience : float
        Seconds of work in this process before they are started.
    """
    standing = Standing()
    try:
        yield Workers(jobs=jobs, patience=patience, standing=standing)
    except BaseException:
        standing.kill()
        raise
    finally:
        standing.close()


HERE = Workers()
"""This process alone."""
