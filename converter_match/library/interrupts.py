"""Requests to stop (ctrl-C, SIGTERM), held back where heeding them would leave something behind."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any


class Stops:
    """Requests to stop while something is written.

    A signal is heeded between any two steps of Python, also between the making of a folder and the
    first line that would clear it away, or in the midst of clearing. So a request is only noted,
    but for the stretch in `heeded`, where it is a KeyboardInterrupt as usual.
    """

    def __init__(self) -> None:
        self._asked = self._heeding = False

    def note(self, number: int, frame: FrameType | None) -> None:
        """Handle a signal."""
        self._asked = True
        if self._heeding:
            self._heeding = False  # once: what is being cleared away meanwhile has to get done
            raise KeyboardInterrupt

    def heed(self) -> None:
        """Stop here if that was asked for.

        Raises
        ------
        KeyboardInterrupt
        """
        if self._asked:
            raise KeyboardInterrupt

    @contextmanager
    def heeded(self) -> Iterator[None]:
        """Let requests interrupt what is done inside, those noted before among them.

        Raises
        ------
        KeyboardInterrupt
            At the end at the latest, should something inside have swallowed it.
        """
        self._heeding = True
        try:
            self.heed()
            yield
        finally:
            self._heeding = False
        self.heed()


@contextmanager
def holding_stops() -> Iterator[Stops]:
    """Hold back ctrl-C and SIGTERM, and heed them at the end.

    Outside the main thread, where Python heeds no signals, and where ctrl-C is nobody's or
    somebody else's to handle, things stay as they are.

    Yields
    ------
    Stops

    Raises
    ------
    KeyboardInterrupt
        At the end, if there was a request that was not heeded inside.
    """
    stops = Stops()
    if threading.current_thread() is not threading.main_thread():
        yield stops
        return
    ours = [signal.SIGTERM]
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        ours.append(signal.SIGINT)
    before: dict[signal.Signals, Any] = {}
    try:
        for number in ours:
            before[number] = signal.getsignal(number)
            signal.signal(number, stops.note)
        yield stops
    finally:
        # Ctrl-C last: until then it is noted only, and cannot keep SIGTERM from its own handler.
        for number, handler in before.items():
            signal.signal(number, handler)
    stops.heed()
