"""A cluster of two workers on this machine, each a process of its own."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest


@contextmanager
def two_workers(**more: Any) -> Iterator[str]:
    """Yield the address of its scheduler; skip where the extra is not there."""
    distributed = pytest.importorskip("distributed")
    for name in ("distributed", "distributed.nanny", "distributed.scheduler", "distributed.worker"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", host="127.0.0.1",
        **more,
    ) as running:  # fmt: skip
        yield running.scheduler_address
