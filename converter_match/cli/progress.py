"""How far a long calculation has come, at a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable

_LINE = "{bar:24} {n_fmt}/{total_fmt}, {remaining} left: {desc}"
Progress = Callable[[int, int, str], None]


def progress_bar() -> Progress:
    """Return what shows the progress on standard error; nothing where that is no terminal.

    Returns
    -------
    callable
        Called with (done, of how many, what); a bar that is full is taken away.
    """
    if not sys.stderr.isatty():
        return lambda done, total, what: None
    from tqdm import tqdm  # a tenth of a second to import

    bar = tqdm(
        total=1, leave=False, file=sys.stderr, dynamic_ncols=True, delay=1e-9, bar_format=_LINE
    )

    def show(done: int, total: int, what: str) -> None:
        if bar.total != total or done < bar.n:
            bar.reset(total)
        bar.set_description_str(what, refresh=False)
        bar.update(done - bar.n)
        bar.clear() if done >= total else bar.refresh()

    return show
