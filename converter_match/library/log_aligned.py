"""Signals with times of their own beside the engine speed, as they come: no signal is held whole.

Each signal has its last value at or before a moment of the engine speed, as it was logged, and none
where that is older than ten of the signal's usual steps and than two seconds. What has been put
beside an engine speed is let go but for the last value of each signal.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from converter_match.curves import FloatArray

FIRST = "engine speed"
"""The signal by whose moments the others go."""
# A value is as good as new for so many of its own usual steps, and at least so long [s].
_STEPS, _AT_LEAST = 10.0, 2.0
# So many steps say what is usual.
_ENOUGH = 500
# Moments of the engine speed that are put together at a time: a signal a hundred times as fast is
# then five million values.
_AT_ONCE = 50_000

Timed = tuple[FloatArray, FloatArray]
"""Times [s] and values of a signal."""


class Signal:
    """One signal on its way: what has come and not yet been used.

    Parameters
    ----------
    time, value : ndarray, shape (n,)
        [s], rising; empty to begin with.
    """

    def __init__(self) -> None:
        self.time: FloatArray = np.zeros(0)
        self.value: FloatArray = np.zeros(0)
        self._steps: FloatArray = np.zeros(0)

    def add(self, time: FloatArray, value: FloatArray) -> None:
        """Take in what comes next.

        Parameters
        ----------
        time, value : ndarray, shape (n,)
        """
        if time.size > 1 and np.any(np.diff(time) < 0):
            order = np.argsort(time, kind="stable")
            time, value = time[order], value[order]
        if self._steps.size < _ENOUGH:
            steps = np.diff(np.concatenate([self.time[-1:], time]))
            self._steps = np.concatenate([self._steps, steps[steps > 0][:_ENOUGH]])
        self.time = np.concatenate([self.time, time])
        self.value = np.concatenate([self.value, value])

    def as_of(self, moments: FloatArray) -> FloatArray:
        """Return the values at moments that rise, NaN where none is fresh; shape of `moments`.

        Parameters
        ----------
        moments : ndarray, shape (n,)
            [s].
        """
        if not self.time.size:
            return np.full(moments.shape, np.nan)
        at = np.searchsorted(self.time, moments, side="right") - 1
        known = at >= 0
        at = np.maximum(at, 0)
        usual = float(np.median(self._steps)) if self._steps.size else 0.0
        fresh = known & (moments - self.time[at] <= max(_STEPS * usual, _AT_LEAST))
        return np.where(fresh, self.value[at], np.nan)

    def forget(self, moment: float) -> None:
        """Let go what comes before the last value at or before a moment [s]."""
        first = max(int(np.searchsorted(self.time, moment, side="right")) - 1, 0)
        # Copies: a view would hold what it was cut from.
        self.time, self.value = self.time[first:].copy(), self.value[first:].copy()


def aligned(
    streams: Mapping[str, Iterator[Timed]], rows: int = _AT_ONCE
) -> Iterator[dict[str, FloatArray]]:
    """Yield signals as of the moments of the engine speed, in pieces.

    Parameters
    ----------
    streams : mapping
        What it is for us -> pieces of the signal, one after the other; each signal is asked for its
        next piece when that is needed.
    rows : int
        Of a piece, at most.

    Examples
    --------
    >>> streams = {"engine speed": iter([(np.array([0.0, 1, 2]), np.array([10.0, 11, 12]))]),
    ...            "oil temperature": iter([(np.array([0.5]), np.array([350.0]))])}
    >>> next(aligned(streams))["oil temperature"]
    array([ nan, 350., 350.])
    """
    signals = {role: Signal() for role in streams if role != FIRST}
    for time, value in streams[FIRST]:
        if time.size > 1 and np.any(np.diff(time) < 0):
            order = np.argsort(time, kind="stable")
            time, value = time[order], value[order]
        for begin in range(0, time.size, rows):
            moments = time[begin : begin + rows]
            for role, signal in signals.items():
                while not signal.time.size or signal.time[-1] <= moments[-1]:
                    more = next(streams[role], None)
                    if more is None:
                        break
                    signal.add(*more)
            yield {"time": moments, FIRST: value[begin : begin + rows]} | {
                role: signal.as_of(moments) for role, signal in signals.items()
            }
            for signal in signals.values():
                signal.forget(float(moments[-1]))


def aligned_as_they_come(
    pieces: Iterator[Mapping[str, Timed]], roles: Mapping[str, object]
) -> Iterator[dict[str, FloatArray]]:
    """Yield signals that come mixed, in the order of their times, as of those of the engine speed.

    Parameters
    ----------
    pieces : iterator of mapping
        What it is for us -> times [s] and values, of one stretch of time after the other.
    roles : mapping
        Of all signals.
    """
    signals = {role: Signal() for role in roles if role != FIRST}
    for piece in pieces:
        for role, signal in signals.items():
            if role in piece:
                signal.add(*piece[role])
        if FIRST not in piece or not piece[FIRST][0].size:
            continue
        time, value = piece[FIRST]
        order = np.argsort(time, kind="stable")
        time = time[order]
        yield {"time": time, FIRST: value[order]} | {
            role: signal.as_of(time) for role, signal in signals.items()
        }
        for signal in signals.values():
            signal.forget(float(time[-1]))
