"""Files that are written one after the other beside the bench, while its controls go on answering.

Drawing a page takes a second or two. A kernel that is busy so long hears a press on *save* before
the last letters of the name that was typed meanwhile: a quick second save was lost, or went under
the first one's name. Here what was asked for is taken down at the press and done in its turn.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

Writing = Callable[[], list[Path]]


@dataclass(eq=False)
class Exports:
    """A queue of files to write, in the order of the presses.

    Where no event loop runs, as in a script, each is written at once.

    Parameters
    ----------
    changed : callable
        Called when one was added or is done.
    """

    changed: Callable[[], None]
    waiting: list[str] = field(default_factory=list)
    last: str = ""
    _worker: ThreadPoolExecutor | None = None

    def put(self, name: str, write: Writing, done: Callable[[Writing], str]) -> None:
        """Add a file.

        Parameters
        ----------
        name : str
            What it is called while it waits.
        write : callable
            Writes and returns the files.
        done : callable
            Given a function that returns the files, or raises what writing them raised; returns
            what came of it in words.
        """
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self.last = done(write)
            self.changed()
            return
        if self._worker is None:
            self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="bench-export")
        self.waiting.append(name)
        future = self._worker.submit(write)

        def ended() -> None:
            self.waiting.remove(name)
            self.last = ""
            try:
                self.last = done(future.result)
            finally:
                self.changed()

        future.add_done_callback(lambda _: loop.call_soon_threadsafe(ended))
        self.changed()

    def words(self) -> str:
        """Return what is being written, or what came of the last one."""
        if not self.waiting:
            return self.last
        first, *rest = self.waiting
        return f"writing {first} …" + (f" then {', '.join(rest)}" if rest else "")

    def finish(self) -> None:
        """Wait until everything is written."""
        if self._worker is not None:
            self._worker.shutdown(wait=True)
            self._worker = None
