"""A plug-in of pytest for `mutation.py`: which functions the tests of each file reach.

With `MUTANT_UNDER_TEST=stats` every changed function tells mutmut that it was called. What is
called while a file is collected, or by a fixture that several tests share, counts for its file.
Each process writes what it saw into the folder that `REACH` names.
"""

from __future__ import annotations

import json
import os
from collections import defaultdict
from collections.abc import Generator
from pathlib import Path
from time import process_time
from typing import Any

import pytest
from mutmut.configuration import config
from mutmut.state import state

from benchmarks.mutation_tried import REACH

functions: dict[str, set[str]] = defaultdict(set)
seconds: dict[str, float] = defaultdict(float)


def pytest_configure() -> None:
    """Let mutmut read its settings, which stand a folder above the changed package."""
    here = Path.cwd()
    os.chdir(here.parent)
    config()
    os.chdir(here)


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector: pytest.Collector) -> Generator[None, Any, Any]:
    """Count for a file what its import calls."""
    answer = yield
    if isinstance(collector, pytest.Module):
        functions[file_of(collector.nodeid)] |= taken()
    return answer


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, Any, Any]:
    """Count for a file what a test and its fixtures call, and the time that they take."""
    start = process_time()
    answer = yield
    seconds[file_of(item.nodeid)] += process_time() - start
    functions[file_of(item.nodeid)] |= taken()
    return answer


def pytest_sessionfinish() -> None:
    """Write what this process ran."""
    seen = {
        file: {"seconds": round(spent, 3), "functions": sorted(functions[file])}
        for file, spent in seconds.items()
    }
    (Path(os.environ[REACH]) / f"{os.getpid()}.json").write_text(json.dumps(seen), encoding="utf-8")


def file_of(nodeid: str) -> str:
    return nodeid.partition("::")[0]


def taken() -> set[str]:
    """Return what was called since the last time."""
    found = set(state()._stats)
    state()._stats.clear()
    return found
