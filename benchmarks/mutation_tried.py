"""Run tests over single changes, for `mutation.py`: in the folder of the changed package.

Reads ``[name, files of tests, seconds]`` of each change from standard input as JSON, and writes the
exit code of each as JSON. Every change has a process of its own, forked from this one, which has
loaded what the tests load of other packages; what they load of ours they load themselves, changed.
"""

from __future__ import annotations

import importlib
import json
import os
import signal
import sys
import time

LOADED = """
    scipy.optimize scipy.interpolate scipy.integrate scipy.stats pandas matplotlib.figure
    matplotlib.backends.backend_agg pydantic jinja2 pint openpyxl pytest
"""
TIMEOUT = 36
REACH = "CONVERTER_MATCH_REACH"
"""Names the folder into which `mutation_reach` writes."""
_TICK = 0.02  # s between two looks at a child


def main() -> None:
    changes = json.load(sys.stdin)
    options = sys.argv[1:]
    for name in LOADED.split():
        importlib.import_module(name)
    print(json.dumps({name: tried(name, options + files, limit) for name, files, limit in changes}))


def tried(name: str, arguments: list[str], limit: float) -> int:
    """Return how the tests end over one change, or `TIMEOUT` after so many seconds."""
    child = os.fork()
    if child == 0:
        run(name, arguments)
    end = time.monotonic() + limit
    while time.monotonic() < end:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        time.sleep(_TICK)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return TIMEOUT


def run(name: str, arguments: list[str]) -> None:
    """Be the process of one change."""
    os.setsid()  # whatever the tests start ends with them
    silent = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(silent, stream)
    os.environ["MUTANT_UNDER_TEST"] = name
    code = 3
    try:
        import pytest

        code = int(pytest.main(["-x", "-q", "-n0", "-p", "no:cacheprovider", *arguments]))
    finally:
        os._exit(code)


if __name__ == "__main__":
    main()
