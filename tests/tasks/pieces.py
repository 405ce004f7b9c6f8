"""Work for the tests of sweeps, found by its name in other processes."""

import os
import signal
import time
from pathlib import Path

import numpy as np


def times(shared, piece):
    return shared * piece


def draws(shared, piece):
    """Some linear algebra on draws of a piece's own: what threads and order could change."""
    made = np.random.default_rng(np.random.SeedSequence(shared).spawn(piece + 1)[piece])
    table = made.normal(size=(60, 60))
    return np.linalg.solve(table, table.sum(axis=1)).tolist()


def noted(shared, piece):
    """Leave a mark each time that a piece is worked on; a folder is what all share."""
    folder = Path(shared)
    (folder / f"{piece}-{time.monotonic_ns()}").touch()
    time.sleep(0.05)
    return [piece, piece / 3.0]


def worked_on(folder):
    """Return how often each piece was worked on."""
    names = [int(path.name.partition("-")[0]) for path in folder.iterdir()]
    return {piece: names.count(piece) for piece in sorted(set(names))}


def one_is_broken(shared, piece):
    if piece == shared:
        raise ValueError(f"piece {piece}\n is broken")
    return piece


def one_kills(shared, piece):
    """Kill the process that works, as the system does when it runs out of memory."""
    if piece == shared:
        os.kill(os.getpid(), signal.SIGKILL)
    return piece


def kills_once(shared, piece):
    mark = Path(shared) / "killed"
    if piece == 3 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return piece


def threads(shared, piece):
    return os.environ.get("OPENBLAS_NUM_THREADS")


def out_of_memory(shared, piece):
    """Take ten times the memory that this process may have, where the piece says so."""
    import resource  # not on every system

    before = resource.getrlimit(resource.RLIMIT_AS)
    most = 4_000_000_000
    resource.setrlimit(resource.RLIMIT_AS, (most, before[1]))
    try:
        return int(np.zeros(10 * most if piece == shared else 10, dtype=np.uint8).size)
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)


def too_large(shared, piece):
    """Hold more memory than a worker may have for long enough to be found out, for one piece."""
    if piece == shared:
        held = np.ones(150_000_000)
        time.sleep(20.0)
        return float(held[-1])
    return piece


def parent(shared, piece):
    time.sleep(0.02)
    return os.getpid()
