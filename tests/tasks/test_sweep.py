"""Sweeps: the same results in order wherever they are worked out, and nothing done twice."""

import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from converter_match.errors import InputError
from converter_match.library.kept import KeptResults
from converter_match.tasks import piece
from converter_match.tasks.sweep import sweep
from converter_match.tasks.workers import Workers, processes
from tests.tasks import pieces

# Others from the first piece on: a test does not work for two seconds first.
TWO = Workers(jobs=2, patience=0.0)


def test_results_come_in_the_order_of_the_pieces_and_progress_is_told():
    told = []
    found = sweep(
        pieces.times, [3, 1, 2], shared=10, what="work", progress=lambda *said: told.append(said)
    )
    assert found.results == (30, 10, 20)
    assert told == [(0, 3, "work"), (1, 3, "work"), (2, 3, "work"), (3, 3, "work")]


@pytest.mark.slow
def test_two_processes_give_what_one_gives_to_the_last_bit():
    alone = sweep(pieces.draws, range(8), shared=7)
    assert sweep(pieces.draws, range(8), shared=7, workers=TWO).results == alone.results


@pytest.mark.slow
def test_work_that_has_begun_here_goes_on_in_others_with_the_same_results():
    handed_on = Workers(jobs=2, patience=0.1)
    processes = sweep(pieces.parent, range(30), workers=handed_on).results
    assert len(set(processes)) >= 2
    assert processes[0] != processes[-1]
    assert sweep(pieces.parent, range(3), workers=Workers(jobs=2)).results == (processes[0],) * 3


@pytest.mark.slow
def test_processes_stand_from_one_sweep_to_the_next():
    shared = "the same"
    with processes(2, patience=0.0) as workers:
        first, second = (
            set(sweep(pieces.parent, range(20), shared=shared, workers=workers).results)
            for _ in range(2)
        )
        assert second == first
        assert sweep(pieces.one_kills, [1, 2], shared=9, workers=workers).results == (1, 2)


@pytest.mark.slow
def test_each_process_has_one_thread_for_linear_algebra(monkeypatch):
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "7")
    assert set(sweep(pieces.threads, range(4), workers=TWO).results) == {"1"}
    assert sweep(pieces.threads, range(1)).results == ("7",)


def test_an_executor_of_somebody_else_is_used_and_left_open():
    with ThreadPoolExecutor(2) as executor:
        workers = Workers(executor=executor, places=2, patience=0.0)
        assert sweep(pieces.times, range(50), shared=2, workers=workers).results == tuple(
            range(0, 100, 2)
        )
        assert executor.submit(int, "4").result() == 4


def test_one_broken_piece_in_a_thousand_is_named_and_the_rest_is_finished():
    found = sweep(pieces.one_is_broken, range(1000), shared=417)
    assert found.results == (*range(417), None, *range(418, 1000))
    assert [(item.piece, item.why) for item in found.lost] == [(417, "piece 417 is broken")]
    with pytest.raises(ValueError, match="is broken"):
        found.all()


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="holding a process to an amount of memory")
def test_a_worker_that_runs_out_of_memory_says_so_and_the_rest_is_finished():
    found = sweep(pieces.out_of_memory, range(5), shared=3, workers=TWO)
    assert found.results == (10, 10, 10, None, 10)
    said = "out of memory; fewer processes at once, more memory for each, or fewer draws would help"
    assert [(item.piece, item.why) for item in found.lost] == [(3, said)]


@pytest.mark.slow
def test_a_piece_that_kills_its_process_twice_is_named_and_the_rest_is_finished():
    found = sweep(pieces.one_kills, range(12), shared=5, workers=TWO)
    assert found.results == (*range(5), None, *range(6, 12))
    assert [item.piece for item in found.lost] == [5]
    assert "killed, or out of memory" in found.lost[0].why


@pytest.mark.slow
def test_a_piece_whose_process_was_killed_once_is_done_after_all(tmp_path):
    found = sweep(pieces.kills_once, range(8), shared=str(tmp_path), workers=TWO)
    assert found.results == tuple(range(8))
    assert not found.lost


def test_what_is_kept_is_not_worked_out_again(tmp_path):
    marks = tmp_path / "marks"
    marks.mkdir()
    store = KeptResults(tmp_path / "kept")
    keys = [f"piece {k}" for k in range(3)]
    first = sweep(pieces.noted, range(3), shared=str(marks), store=store, keys=keys)
    assert first.kept == 0
    again = sweep(pieces.noted, range(4), shared=str(marks), store=store, keys=[*keys, "piece 3"])
    assert again.kept == 3
    assert again.results[:3] == first.results
    assert pieces.worked_on(marks) == {0: 1, 1: 1, 2: 1, 3: 1}


def test_what_another_version_has_found_is_never_served(tmp_path, monkeypatch):
    store = KeptResults(tmp_path / "kept")
    assert sweep(pieces.times, [2], shared=3, store=store, keys=["a"]).kept == 0
    assert sweep(pieces.times, [2], shared=3, store=store, keys=["a"]).kept == 1
    own = piece.facts()
    for name in own:
        monkeypatch.setattr("converter_match.tasks.sweep.facts", lambda n=name: own | {n: "other"})
        assert sweep(pieces.times, [2], shared=3, store=store, keys=["a"]).kept == 0, name


def test_another_function_has_results_of_its_own(tmp_path):
    store = KeptResults(tmp_path / "kept")
    sweep(pieces.times, [2], shared=3, store=store, keys=["a"])
    assert sweep(pieces.one_is_broken, [2], shared=3, store=store, keys=["a"]).results == (2,)


def test_a_lost_piece_is_tried_again_the_next_time(tmp_path):
    store = KeptResults(tmp_path / "kept")
    keys = ["a", "b"]
    assert sweep(pieces.one_is_broken, [1, 2], shared=1, store=store, keys=keys).lost
    assert sweep(pieces.one_is_broken, [1, 2], shared=9, store=store, keys=keys).results == (1, 2)


def test_a_worker_with_other_versions_refuses_to_work():
    asked = piece.facts() | {"numpy": "1.0"}
    with pytest.raises(piece.Mismatch, match=r"numpy .* in place of 1\.0"):
        piece.work(pieces.times, piece.Sealed(1), piece.Sealed(2), asked, False)


@pytest.mark.parametrize("jobs", [0, -1])
def test_there_has_to_be_somebody_to_work(jobs):
    with pytest.raises(InputError, match="1 or more"):
        Workers(jobs=jobs)


RUN = """
import sys
from pathlib import Path
from converter_match.library.kept import KeptResults
from converter_match.tasks.sweep import sweep
from converter_match.tasks.workers import Workers, processes
from tests.tasks import pieces

if __name__ == "__main__":
    folder = Path(sys.argv[1])
    keys = [f"piece {k}" for k in range(40)]
    sweep(pieces.noted, range(40), shared=str(folder / "marks"), store=KeptResults(folder / "kept"),
          keys=keys, workers=Workers(jobs=2, patience=0.0))
"""


@pytest.mark.slow
def test_a_run_that_was_killed_goes_on_where_it_stopped(tmp_path):
    marks = tmp_path / "marks"
    marks.mkdir()
    script = tmp_path / "run.py"
    script.write_text(RUN)
    run = subprocess.Popen(
        [sys.executable, str(script), str(tmp_path)], env=_environment(), stderr=subprocess.DEVNULL
    )
    while len(list(marks.iterdir())) < 10:
        assert run.poll() is None
        time.sleep(0.05)
    run.kill()
    run.wait()
    # Its processes end with it: nobody leaves marks any more.
    time.sleep(1.0)
    before = pieces.worked_on(marks)
    time.sleep(0.3)
    assert pieces.worked_on(marks) == before
    store = KeptResults(tmp_path / "kept")
    keys = [f"piece {k}" for k in range(40)]
    found = sweep(pieces.noted, range(40), shared=str(marks), store=store, keys=keys)
    assert found.results == tuple([k, k / 3.0] for k in range(40))
    # Done twice is only what was being done when it was killed.
    assert sum(pieces.worked_on(marks).values()) - 40 == len(before) - found.kept
    assert found.kept >= 4


def _environment():
    import os
    from pathlib import Path

    return os.environ | {"PYTHONPATH": str(Path(__file__).resolve().parents[2])}
