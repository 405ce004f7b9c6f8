"""Options of verbs that work out much: how many processes, a cluster, what is kept."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from converter_match.errors import InputError

if TYPE_CHECKING:
    from converter_match.library.kept import KeptResults
    from converter_match.tasks.workers import Workers

JOBS = "CONVERTER_MATCH_JOBS"
"""Environment variable: processes where ``--jobs`` is not given."""


def add_sweeping(parser: argparse.ArgumentParser) -> None:
    """Add ``--jobs``, ``--cluster``, ``--kept`` and ``--fresh``."""
    group = parser.add_argument_group(
        "workers", "Whoever works, the result is the same to the last bit."
    )
    group.add_argument(
        "--jobs",
        metavar="N",
        type=int,
        help="processes (default: CONVERTER_MATCH_JOBS, or one for each core; 1: no others)",
    )
    group.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="scheduler of a cluster that runs already, as tcp://host:8786 (extra 'cluster', "
        "docs/scale.md)",
    )
    group.add_argument(
        "--kept",
        metavar="FOLDER",
        help="where results are kept, so that nothing is calculated twice; off: nowhere (default: "
        "the user's cache, or CONVERTER_MATCH_KEPT)",
    )
    group.add_argument(
        "--fresh", action="store_true", help="calculate everything anew, whatever is kept"
    )


def _usual_jobs() -> int | None:
    from converter_match.tasks.workers import MOST_JOBS

    named = os.environ.get(JOBS)
    if not named:
        return None
    if not named.isascii() or not named.isdigit():
        raise InputError("not a number", source=JOBS, found=named, expected=f"1 to {MOST_JOBS}")
    return int(named)


@contextmanager
def sweeping_from(args: argparse.Namespace) -> Iterator[tuple[Workers, KeptResults | None]]:
    """Yield the workers that were asked for, and where results are kept; None for nowhere.

    Afterwards old results are let go, and what went wrong with them is said on standard error: the
    answer does not hang on it.

    Raises
    ------
    InputError
        If a number is out of range, options contradict each other, or a cluster or a folder cannot
        be used.
    """
    from converter_match.library.kept import kept

    try:
        store = kept(args.kept, fresh=args.fresh)
    except InputError as error:
        raise error.located(field="--kept") from None
    with _workers_from(args) as workers:
        yield workers, store
    if store is not None:
        store.trim()
        _say_kept(store)


@contextmanager
def _workers_from(args: argparse.Namespace) -> Iterator[Workers]:
    from converter_match.tasks.workers import MOST_JOBS, cores, processes

    jobs = _usual_jobs() if args.jobs is None else args.jobs
    if jobs is not None and not 1 <= jobs <= MOST_JOBS:
        raise InputError(
            "out of range",
            source=JOBS if args.jobs is None else "--jobs",
            found=jobs,
            expected=f"1 to {MOST_JOBS}",
        )
    if args.cluster is None:
        with processes(jobs or cores()) as workers:
            yield workers
        return
    if args.jobs is not None:
        raise InputError(
            "a cluster has its own workers", source="--jobs", found=args.jobs,
            expected="either --jobs or --cluster",
        )  # fmt: skip
    from converter_match.tasks.cluster import cluster

    with cluster(args.cluster) as workers:
        yield workers


def _say_kept(store: KeptResults) -> None:
    if store.spoilt:
        said = f"{store.spoilt} results that were kept are damaged, and were calculated again"
        print(f"converter-match: {said}", file=sys.stderr)
    if store.unkept:
        said = f"{store.unkept} results could not be kept in {store.folder}: is the disk full?"
        print(f"converter-match: {said}", file=sys.stderr)
