"""JupyterLab that ends with whoever started it, even if that was killed."""

from __future__ import annotations

import os
import signal
import sys
import threading


def main() -> None:
    """Run JupyterLab with the arguments of this process until standard input is closed.

    Whoever starts it holds the other end of that pipe, and writes nothing. The system closes it
    when the holder is gone, in whatever way.
    """
    from jupyterlab.labapp import main as serve

    threading.Thread(target=_end_with_the_holder, daemon=True).start()
    serve()


def _end_with_the_holder() -> None:
    # Past Python's own buffer, whose lock this thread would hold at the end.
    while os.read(sys.stdin.fileno(), 1024):
        pass
    os.kill(os.getpid(), signal.SIGTERM)


if __name__ == "__main__":
    main()
