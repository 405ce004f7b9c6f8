"""A cluster of two workers that the test starts: the same results, also when one is killed."""

import os
import signal
import threading
import time

import pytest

from converter_match.errors import InputError, WorkLost
from converter_match.tasks import piece
from converter_match.tasks.cluster import cluster
from converter_match.tasks.sweep import sweep
from tests.clusters import two_workers
from tests.tasks import pieces

distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def address():
    """The address of a scheduler with two workers, each a process of its own."""
    with two_workers() as scheduler:
        yield scheduler


def test_a_cluster_gives_what_one_process_gives_to_the_last_bit(address):
    alone = sweep(pieces.draws, range(8), shared=7)
    with cluster(address) as workers:
        assert workers.places == 2
        assert sweep(pieces.draws, range(8), shared=7, workers=workers).results == alone.results


def test_a_run_whose_worker_is_killed_is_completed_with_the_same_results(address, tmp_path):
    marks = tmp_path / "marks"
    marks.mkdir()
    with distributed.Client(address, set_as_default=False) as client:
        victim = next(iter(client.run(os.getpid).values()))

    def kill():
        while len(list(marks.iterdir())) < 8:
            time.sleep(0.02)
        os.kill(victim, signal.SIGKILL)

    killer = threading.Thread(target=kill, daemon=True)
    with cluster(address) as workers:
        killer.start()
        found = sweep(pieces.noted, range(40), shared=str(marks), workers=workers)
    killer.join()
    assert not found.lost
    assert found.results == tuple([k, k / 3.0] for k in range(40))


def test_one_broken_piece_is_named_and_the_rest_is_finished(address):
    with cluster(address) as workers:
        found = sweep(pieces.one_is_broken, range(30), shared=11, workers=workers)
    assert [(item.piece, item.why) for item in found.lost] == [(11, "piece 11 is broken")]
    assert found.results == (*range(11), None, *range(12, 30))


def test_a_piece_too_large_for_the_workers_is_named_with_what_would_help_and_the_rest_is_finished():
    """Each of them is ended by its nanny, at 95 % of its limit, and started anew."""
    with two_workers(memory_limit="700MB") as scheduler, cluster(scheduler) as workers:
        found = sweep(pieces.too_large, range(8), shared=5, workers=workers, names="abcdefgh")
    assert found.results == (*range(5), None, *range(6, 8))
    assert [(item.piece, item.name) for item in found.lost] == [(5, "f")]
    assert "brought down 4 workers one after another: out of memory" in found.lost[0].why
    with pytest.raises(WorkLost, match=r"not calculated: f: .* more memory for each"):
        found.all()


def test_workers_with_other_versions_are_refused_before_anything_is_done(address, monkeypatch):
    own = piece.facts()
    monkeypatch.setattr(piece, "facts", lambda: own | {"numpy": "1.0"})
    with pytest.raises(InputError, match=r"numpy .*expected numpy 1\.0"), cluster(address):
        pass


def test_a_scheduler_without_workers_is_said():
    with (
        distributed.LocalCluster(n_workers=0, dashboard_address=":0", host="127.0.0.1") as empty,
        pytest.raises(InputError, match="no workers"),
        cluster(empty.scheduler_address, wait=1.0),
    ):
        pass


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "127.0.0.1:1", "no such thing", ""])
def test_a_scheduler_that_does_not_answer_is_said_with_its_address(address):
    with pytest.raises(InputError, match="no scheduler answers") as told, cluster(address, wait=1):
        pass
    assert told.value.source == "--cluster"
    assert told.value.found == address
